"""Clearance under the belly on roads: against plain rolling of point wheels, a hump by hand, bumps, missing heights."""

from __future__ import annotations

import numpy as np
import pytest

from tests.builders import machine
from tests.memory_site import make_site, make_terrain
from tests.planning import MILD, case_of, sheet
from travel.checks import Case, answers_for, underbody
from travel.checks.knots import slopes_round
from travel.checks.underbody import clearances
from travel.domain.verdict import Verdict
from travel.mechanics.ramp_angles import crest_clearance

Points = list[tuple[float, float, float]]


def road(points: Points, **more: object) -> dict[str, object]:
    return {"id": "r1", "xy": points, "width_m": 6.0, "surface": "asphalt", "cross_slope_pct": 0.0} | more


def case(points: Points, machine_changes: dict[str, object] | None = None, **more: object) -> Case:
    places = [{"id": "a", "xy": points[0][:2], "kind": "gate"}, {"id": "b", "xy": points[-1][:2], "kind": "pick_point"}]
    site = make_site([road(points, **{"roughness_m": 0.0} | more)], places)
    return case_of(site, machine=sheet(**(machine_changes or {})), weather=MILD)


def slow(case: Case, x: np.ndarray, z: np.ndarray, at: float) -> float:
    """Roll point wheels by bisection and take the least plumb gap at dense points: shares nothing with the engine."""
    body = case.body
    base = body.wheelbase_m
    least = np.inf
    order = np.argsort(body.under_xz_m[:, 0])
    px = np.linspace(body.under_xz_m[order[0], 0], body.under_xz_m[order[-1], 0], 400)
    pz = np.interp(px, *body.under_xz_m[order].T)
    for facing in (1.0, -1.0):
        low, high = 0.0, base
        front = np.interp(at, x, z)
        for _ in range(60):
            run = (low + high) / 2
            short = np.hypot(run, front - np.interp(at - facing * run, x, z)) < base
            low, high = (run, high) if short else (low, run)
        rise = front - np.interp(at - facing * run, x, z)
        cos, sin = run / base, rise / base
        wx, wz = at + facing * (px * cos - pz * sin), front + px * sin + pz * cos
        least = min(least, float((wz - np.interp(wx, x, z)).min()))
    return least


def test_even_road_leaves_the_belly_as_it_stands() -> None:
    for end in (0.0, 8.0):
        found = case([(0, 0, 0), (80, 0, end)])
        assert clearances(found)[0] == pytest.approx(found.body.under_xz_m[:, 1].min(), abs=1e-9)


def test_where_the_terrain_ends_nothing_is_known_and_no_arithmetic_stumbles() -> None:
    """Heights to 43 m: a body 6.2 m long that comes near it has ground under it that nobody knows."""
    places = [{"id": "a", "xy": (0, 0), "kind": "gate"}, {"id": "b", "xy": (80, 0), "kind": "pick_point"}]
    grid = make_terrain(
        lambda x, y: np.where(x < 43.0, np.sin(x), np.nan), west=-10, south=-10, columns=100, rows=20, cell_m=1.0
    )
    one = {"id": "r1", "xy": [(0, 0), (80, 0)], "width_m": 6.0, "surface": "asphalt", "roughness_m": 0.0}
    found = case_of(make_site([one], places, terrain=grid), machine=sheet(), weather=MILD)
    clear, pieces = clearances(found)[0], found.survey.pieces
    assert np.isnan(clear[pieces.to_m > 43.0 - found.body.length_m + found.body.wheelbase_m]).all()
    assert np.isfinite(clear[pieces.to_m < 30.0]).all()


def test_a_crest_is_as_in_the_closed_form() -> None:
    flat = {
        "attitudes__0__under_xz_m": [[0.5, 0.45], [-3.7, 0.45]],
        "attitudes__0__top_xz_m": [[0.5, 1.2], [-3.7, 2.4]],
    }
    found = case([(0, 0, 0), (40, 0, 6.0), (80, 0, 0)], flat)
    change = 2 * np.arctan(0.15)
    wanted = crest_clearance(0.45, 3.2, 0.66, change) / np.cos(change / 2)  # the gap at the crest is plumb there
    tight = float(clearances(found)[0].min())
    assert tight == pytest.approx(wanted * np.cos(change / 2), abs=0.003)


@pytest.mark.parametrize("seed", range(4))
def test_against_plain_rolling(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x = np.concatenate(([0.0], np.cumsum(rng.uniform(1.5, 6.0, 14))))
    z = np.cumsum(rng.normal(0.0, 0.25, 15))
    tiny = {f"axles__{axle}__loaded_radius_m": 0.101 for axle in (0, 1)}
    found = case([(float(a), 0.0, float(b)) for a, b in zip(x, z, strict=True)], tiny)
    pieces = found.survey.pieces
    middle = (pieces.from_m > 12.0) & (pieces.to_m < x[-1] - 12.0)
    clear = clearances(found)[0]
    assert middle.sum() >= 3
    for piece in np.flatnonzero(middle):
        at = np.linspace(pieces.cell_from_m[piece], pieces.cell_to_m[piece], 40)
        plain = min(slow(found, x, z, float(place)) for place in at)
        # point wheels stand a little lower in hollows than tyres of 10 cm: no better than 1 cm below, and never above
        assert clear[piece] <= plain + 0.012
        if clear[piece] < 0.2:
            assert clear[piece] == pytest.approx(plain, abs=0.06)


def test_a_hump_blocks_a_bump_adds_and_a_missing_profile_is_unknown() -> None:
    hump = [(0.0, 0.0, 0.0), (30.0, 0.0, 0.0), (31.5, 0.0, 0.75), (33.0, 0.0, 0.0), (70.0, 0.0, 0.0)]
    found = case(hump)
    assert clearances(found)[0].min() < 0.0
    verdict = verdicts(found)
    assert verdict.max() == Verdict.BLOCKED
    assert verdict.min() == Verdict.CLEAR
    rough = case([(0, 0, 0), (60, 0, 0)], roughness_m=0.12)
    smooth = case([(0, 0, 0), (60, 0, 0)])
    assert np.allclose(clearances(smooth)[0] - clearances(rough)[0], 0.12)
    assert (verdicts(case([(0, 0), (60, 0)])) == Verdict.UNKNOWN).all()  # type: ignore[list-item]


def verdicts(found: Case) -> np.ndarray:
    piece = np.arange(len(found.survey.pieces))
    sense, config = np.ones(len(piece), dtype=np.int64), np.zeros(len(piece), dtype=np.int64)
    (answer,) = answers_for(found, piece, sense, config, only=frozenset({"underbody"}))
    return np.asarray(answer.verdict)


@pytest.mark.parametrize("seed", range(6))
def test_the_bound_is_never_above_the_rolled_clearance(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x = np.concatenate(([0.0], np.cumsum(rng.uniform(2.0, 8.0, 40))))
    z = np.cumsum(rng.normal(0.0, 0.05 * (1 + seed), 41))
    found = case([(float(a), 0.0, float(b)) for a, b in zip(x, z, strict=True)])
    survey, pieces = found.survey, found.survey.pieces
    rows = np.arange(len(pieces))
    run = survey.heights.run[survey.fabric.course.row_at(pieces.chain, (pieces.cell_from_m + pieces.cell_to_m) / 2)]
    first, last, low, high, _ = slopes_round(survey, rows, run, found.body.length_m + found.body.wheelbase_m)
    bound = underbody._bound(found.body, low, high)
    assert (bound <= underbody._exact(found, rows, run, first, last) + 1e-9).all()


def test_more_than_two_axles_is_outside_what_holds() -> None:
    content = machine()
    third = dict(content["axles"][1]) | {"name": "third", "x_m": -4.4}
    content["axles"] = [*content["axles"], third]
    from travel.domain.machine import Machine

    found = case([(0, 0, 0), (60, 0, 0)])
    other = case_of(found.survey.site, machine=Machine.model_validate(content), weather=MILD)
    assert (verdicts(other) == Verdict.UNKNOWN).all()


FORKS: list[list[tuple[float, float, float]]] = [[], [(40, 0, 0), (40, 60, 0)], [(40, 60, 0), (40, 0, 0)]]


def crest(rise_m: float, turned: tuple[bool, bool], fork: list[tuple[float, float, float]]) -> Case:
    ways = [(0, 0, 0), (40, 0, rise_m)], [(40, 0, rise_m), (80, 0, 0)]
    lines = [way[::-1] if back else way for way, back in zip(ways, turned, strict=True)]
    lines += [[(x, y, rise_m) for x, y, _ in fork]] if fork else []
    places = [{"id": "p", "xy": (0, 0), "kind": "gate"}]
    roads = [
        {"id": f"r{k}", "xyz": xyz, "width_m": 6.0, "surface": "asphalt", "roughness_m": 0.0}
        for k, xyz in enumerate(lines)
    ]
    return case_of(make_site(roads, places), machine=sheet(), weather=MILD)


@pytest.mark.parametrize("rise_m", [3.0, 7.0, 10.0, -8.0])
@pytest.mark.parametrize("turned", [(False, False), (True, False), (False, True), (True, True)])
def test_a_crest_where_a_third_road_meets_is_rolled_as_one_on_a_road(rise_m: float, turned: tuple[bool, bool]) -> None:
    alone, *met = (crest(rise_m, turned, fork) for fork in FORKS)
    wanted = clearances(alone)[0]
    for found in met:
        here = found.survey.pieces.road < 2
        verdict = verdicts(found)[here]
        assert (verdict == verdicts(alone)).all()
        rolled = wanted < 0.2  # elsewhere a bound is enough
        assert clearances(found)[0][here][rolled] == pytest.approx(wanted[rolled], abs=0.002)
        assert (clearances(found)[0][here] <= wanted + 0.002).all() or not rolled.any()


def test_a_road_without_heights_straight_on_leaves_the_last_piece_before_it_known() -> None:
    found = crest(4.0, (False, False), FORKS[1])
    roads = [
        {"id": "a", "xyz": [(0, 0, 0), (40, 0, 4)], "width_m": 6.0, "surface": "asphalt", "roughness_m": 0.0},
        {"id": "b", "xy": [(40, 0), (80, 0)], "width_m": 6.0, "surface": "asphalt", "roughness_m": 0.0},
        {"id": "c", "xyz": [(40, 0, 4), (40, 60, 4)], "width_m": 6.0, "surface": "asphalt", "roughness_m": 0.0},
    ]
    blind = case_of(make_site(roads, [{"id": "p", "xy": (0, 0), "kind": "gate"}]), machine=sheet(), weather=MILD)
    assert np.isfinite(clearances(blind)[0][blind.survey.pieces.road != 1]).all()
    assert np.isnan(clearances(blind)[0][blind.survey.pieces.road == 1]).all()
    assert clearances(found)[0].min() < clearances(blind)[0][blind.survey.pieces.road == 0].min()


@pytest.mark.parametrize("seed", [65, 71])  # where chainages of the two chains differ by rounding at the node
def test_a_step_where_three_roads_meet_leaves_the_belly_what_it_has_before_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    far, on = rng.uniform(40, 60), rng.uniform(30, 50)
    lines = [
        [(0, -90, 2.0), (on, -97.1, 0.3)],
        [(0, 0, 2.0), (far, 0, 0.3)],
        [(far + on, 4, 0.1), (far, 0, 0.02)],
        [(far, 0, 0.3), (far, 40, 0.3)],
    ]
    rows = [
        {"id": f"r{k}", "xyz": xyz, "width_m": 6.0, "surface": "asphalt", "roughness_m": 0.0}
        for k, xyz in enumerate(lines)
    ]
    found = case_of(make_site(rows), machine=sheet(), weather=MILD)
    clear, pieces = clearances(found)[0], found.survey.pieces
    before = (pieces.road == 1) & (pieces.to_m < far - 4.0)
    assert clear[before] == pytest.approx(0.45, abs=0.02)  # the wheels stand before the step, the tail hangs over it
