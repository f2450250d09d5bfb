"""Headroom: one box, one road, every verdict by hand; the body on real profiles against rolling it point by point."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from tests.builders import machine
from tests.unit.checks.overhead_cases import ACROSS, LEVEL, LINE, answer, box, case_under, part_of, rows_of
from travel.checks.outcome import judge
from travel.checks.tops import levels, tops_of
from travel.domain.machine import Load, Machine
from travel.domain.verdict import Verdict
from travel.mechanics.headroom import height_over_profile
from travel.mechanics.passing import height_passing_under
from travel.mechanics.wire_clearance import lowest_clearance_over_profile

CLEAR, CAUTION, UNKNOWN, BLOCKED = Verdict.CLEAR, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED
BEAM = {"id": "b", "kind": "structure", "xy": ACROSS}


def under(clearance: float | None = 4.0, name: str = "under_overheads", **more: Any) -> Any:
    fields = {key: more.pop(key) for key in list(more) if key.startswith(("clearance", "bar_", "half_"))}
    return answer(case_under([BEAM | {"clearance_m": clearance} | fields], **more), name)


# The box stands 3.00 m high, known to 0.05; the clearance is known to 0.05; thin below 0.15 of air after both.
@pytest.mark.parametrize(
    ("clearance", "expected"),
    [
        (4.00, CLEAR),  # 1.00 − 0.10 = 0.90
        (3.26, CLEAR),  # 0.26 − 0.10 = 0.16
        (3.20, CAUTION),  # 0.20 − 0.10 = 0.10 < 0.15
        (3.05, UNKNOWN),  # 0.05 − 0.10 < 0
        (2.95, UNKNOWN),  # −0.05 + 0.10 > 0
        (2.85, BLOCKED),  # −0.15 + 0.10 < 0
    ],
)
def test_each_verdict(clearance: float, expected: Verdict) -> None:
    verdict, numbers, _ = under(clearance)
    assert verdict == expected
    assert numbers["demand"] == pytest.approx(3.0, abs=1e-9)
    assert numbers["tolerance"] == pytest.approx(0.10)


def test_a_sign_is_rounded_down_already_and_only_the_machine_keeps_its_band() -> None:
    assert under(3.06, clearance_m_method="sign")[1]["tolerance"] == pytest.approx(0.05)
    posted = case_under(limits=[{"id": "s", "kind": "posted", "xy": (30.0, 0.0), "height_m": 3.06}])
    verdict, numbers, _ = answer(posted, "under_signs")
    assert verdict == CAUTION  # 0.06 − 0.05 = 0.01
    assert numbers["tolerance"] == pytest.approx(0.05)


def test_over_a_regraded_road_nothing_measured_before_holds() -> None:
    regraded = {"grade_pct": 0.0, "regraded": True}
    assert under(9.0)[0] == CLEAR
    assert under(9.0, **regraded)[::2] == (UNKNOWN, {"clearance_m after regrading"})
    wire = case_under([LINE | {"xy": ACROSS, "clearance_m": 5.0}], **regraded)
    assert answer(wire, "distance_to_wires")[0] == UNKNOWN


def test_a_signed_height_told_is_unknown_and_a_limit_without_height_says_nothing() -> None:
    row = {"id": "s", "kind": "posted", "xy": (30.0, 0.0), "height_m": 5.0, "height_m_method": "told"}
    assert answer(case_under(limits=[row]), "under_signs")[0] == UNKNOWN
    assert answer(case_under(limits=[row | {"height_m": None}]), "under_signs")[0] == CLEAR


@pytest.mark.parametrize("method", ["told", "assumed"])
def test_told_and_assumed_are_unknown(method: str) -> None:
    assert under(9.0, clearance_m_method=method)[::2] == (UNKNOWN, {"clearance_m told"})


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"clearance": None}, "clearance_m"),
        ({"cross_slope_pct": None}, "cross_slope_pct"),
        ({"xyz": [(0, 0), (60, 0)]}, "grade"),
        ({"cross_slope_pct_method": "told"}, "cross_slope_pct told"),
        ({"xyz": [(0, 0), (60, 0)], "grade_pct": 1.0, "grade_pct_method": "assumed"}, "grade_pct told"),
    ],
)
def test_each_missing_value_is_unknown(change: dict[str, Any], name: str) -> None:
    verdict, _, missing = under(**{"clearance": 9.0} | change)
    assert verdict == UNKNOWN
    assert name in missing


def test_slope_tilt_and_bounce_by_hand() -> None:
    # grade 10 %: 3 √1.01 = 3.01496
    assert under(xyz=[(0, 0, 0), (60, 0, 6.0)])[1]["demand"] == pytest.approx(3.0 * math.sqrt(1.01), abs=1e-4)
    # without heights the given grade counts
    assert under(xyz=[(0, 0), (60, 0)], grade_pct=10.0)[1]["demand"] == pytest.approx(3.0 * math.sqrt(1.01))
    # 5 % across: 1.2 · 0.05 / √1.0025 = 0.0599
    assert under(cross_slope_pct=-5.0)[1]["demand"] == pytest.approx(3.0599, abs=1e-4)
    # bump 0.10 under the front axle lifts the nose, 1.6 m ahead of it: lever (3.2 + 1.6)/3.2 = 1.5; twice for the
    # overshoot: 0.30 (the tail has (3.2 + 1.4)/3.2 = 1.4375)
    assert under(roughness_m=0.10)[1]["demand"] == pytest.approx(3.30)


def test_a_road_whose_bumps_were_not_measured_takes_the_rulebooks_least() -> None:
    # 0.05 m on gravel, 0.02 m on asphalt: 3 + 0.05 · 2 · 1.5, 3 + 0.02 · 2 · 1.5
    assert under(roughness_m=None)[1]["demand"] == pytest.approx(3.15)
    assert under(roughness_m=None, surface="asphalt")[1]["demand"] == pytest.approx(3.06)
    # a told one never makes it smaller, but may make it larger
    assert under(roughness_m=0.01, roughness_m_method="told")[1]["demand"] == pytest.approx(3.15)
    assert under(roughness_m=0.08, roughness_m_method="told")[1]["demand"] == pytest.approx(3.24)


def profile(kind: str) -> np.ndarray:
    x = np.linspace(0.0, 60.0, 121)
    if kind == "crest":
        return np.column_stack((x, 0 * x, 0.10 * np.minimum(x, 30.0) - 0.08 * np.maximum(x - 30.0, 0.0)))
    if kind == "sag":
        return np.column_stack((x, 0 * x, -0.10 * np.minimum(x, 31.3) + 0.12 * np.maximum(x - 31.3, 0.0)))
    if kind == "kerb":
        return np.column_stack((x, 0 * x, np.interp(x, [0, 30, 30.5, 60], [0, 0, 0.15, 0.15])))
    return np.column_stack((x, 0 * x, np.random.default_rng(5).normal(0.0, 0.02, len(x))))


@pytest.mark.parametrize("kind", ["crest", "sag", "kerb", "rough"])
@pytest.mark.parametrize("outline", [[[1.6, 3.0], [-4.6, 3.0]], [[2.9, 1.6], [0.4, 3.1], [-1.2, 3.1], [-4.6, 2.4]]])
def test_body_on_a_profile_is_never_lower_than_rolled_and_hardly_higher(kind: str, outline: Any) -> None:
    line = profile(kind)
    sheet = box(attitudes__0__top_xz_m=outline)
    case = case_under(xyz=[tuple(p) for p in line], sheet=sheet)
    pieces, body = case.survey.pieces, case.body
    inner = np.flatnonzero((pieces.from_m > 9.0) & (pieces.to_m < 51.0))
    tops = tops_of(case, inner)
    found = tops.height_m.max(axis=1)
    x, z = line[:, 0], line[:, 2]
    for piece, height in zip(inner, found, strict=True):
        front = np.arange(pieces.from_m[piece], pieces.to_m[piece], 0.01)
        rolled = []
        for along, up in zip(*_fine(outline), strict=True):
            rolled.append(height_over_profile(x, z, front - body.wheelbase_m, body.wheelbase_m, along + 3.2, up))
            rolled.append(height_over_profile(-x[::-1], z[::-1], -front - 3.2, 3.2, along + 3.2, up))
        most = float(np.max(rolled))
        assert most - 1e-3 <= height <= most + 0.06


def _fine(outline: Any) -> tuple[np.ndarray, np.ndarray]:
    points = np.array(sorted(outline))
    x = np.linspace(points[0, 0], points[-1, 0], 30)
    return x, np.interp(x, points[:, 0], points[:, 1])


def test_a_crest_lifts_the_tail() -> None:
    # tail 1.4 m behind the rear axle, grades + 10 % and − 10 %: at most 1.4 · 0.2 = 0.28 above the even road,
    # with the body leaning on a chord between them
    line = [(0, 0, 0), (30, 0, 3.0), (60, 0, 0.0)]
    demand = under(9.0, xyz=line)[1]["demand"]
    assert 3.25 < demand < 3.35


@pytest.mark.parametrize("drawn", [1, -1])
def test_a_road_without_heights_at_its_end_leaves_the_rest_of_a_road_known(drawn: int) -> None:
    rest = {"id": "rest", "xy": [(60, 0), (120, 0)], "width_m": 6.0, "surface": "compacted_gravel"}
    pipe = {"id": "p", "kind": "pipe", "xy": ACROSS, "clearance_m": 6.0}
    found, numbers, missing = answer(case_under([pipe], xyz=LEVEL[::drawn], roads=[rest]), "under_overheads")
    assert (found, missing) == (Verdict.CLEAR, set())
    assert numbers["demand"] == pytest.approx(3.0, abs=0.15)


def test_working_gives_the_demand() -> None:
    case = case_under([BEAM | {"clearance_m": 4.0}], xyz=[tuple(p) for p in profile("rough")], roughness_m=0.03,
                      cross_slope_pct=4.0, sheet=Machine.model_validate(machine()))  # fmt: skip
    for name in ("under_overheads", "under_bar"):
        part = part_of(name)
        outcome = part.check(rows_of(case, part, grid=False), case)
        assert np.allclose(height_passing_under(**outcome.terms), outcome.demand, atol=1e-12)


def test_boxes_cover_the_widths_above_them() -> None:
    body = case_under(sheet=Machine.model_validate(machine())).body
    level, half = levels(body)
    # widths 2.4 at 0 and 1.5, 2.0 at 3.1: the box up to 1.5 is 2.4 wide, the one up to 3.1 as wide as at 1.5
    assert level.tolist() == [1.5, 3.1]
    assert half.tolist() == [1.2, 1.2]


def test_a_load_on_the_forks_counts() -> None:
    content = machine()
    content["attitudes"].append(content["attitudes"][0] | {"name": "forks"})
    load = Load.model_validate({"format": 1, "name": "frame", "mass_kg": 800.0, "size_xyz_m": (1.2, 3.0, 3.4),
                                "how": "forks", "x_m": 2.2, "y_m": 0.0, "z_m": 2.2,
                                "cg_in_load_xyz_m": (0.6, 1.5, 1.7)})  # fmt: skip
    # top of the load 2.2 + 1.7 = 3.9 m
    case = case_under([BEAM | {"clearance_m": 3.7}], sheet=Machine.model_validate(content), load=load)
    verdict, numbers, _ = answer(case, "under_overheads")
    assert verdict == BLOCKED  # 3.7 − 3.9 + 0.10 < 0
    assert numbers["demand"] == pytest.approx(3.9)
    lost = case_under([BEAM | {"clearance_m": 9.0}], sheet=Machine.model_validate(content),
                      load=load.model_copy(update={"x_m": None}))  # fmt: skip
    assert answer(lost, "under_overheads")[::2] == (UNKNOWN, {"load.x_m"})


def test_taller_is_never_better_and_more_room_never_worse() -> None:
    sheets = [box(attitudes__0__top_xz_m=[[1.6, h], [-4.6, h]]) for h in (2.6, 3.0, 3.3, 3.5, 4.0)]
    heights = [int(under(3.6, sheet=sheet)[0]) for sheet in sheets]
    assert heights == sorted(heights)
    assert heights[0] == CLEAR
    assert heights[-1] == BLOCKED
    rooms = [int(under(c)[0]) for c in (2.5, 2.95, 3.05, 3.2, 3.5, 8.0)]
    assert rooms == sorted(rooms, reverse=True)


# -- spans


def span(**more: Any) -> dict[str, Any]:
    return LINE | {"clearance_m": None, "attach_a_m": 10.0, "attach_b_m": 12.0, "xy": ACROSS, "sag_max_m": 2.0} | more


def test_height_of_a_span_over_a_level_road_by_hand() -> None:
    # Mid-span is over the road: 11 − 2 = 9; over the 6 m of road the lowest is 1.5 … 2.4 m towards A:
    # at t from the middle: 9 + 2 t' + 8 t'² with t' = −0.0375 (3 m of 80): 9 − 0.075 + 0.01125 = 8.936
    verdict, numbers, missing = answer(case_under([span()]), "under_overheads")
    assert (verdict, missing) == (CLEAR, set())
    assert numbers["capacity"] == pytest.approx(8.936, abs=0.03)
    assert numbers["capacity"] <= 8.936


@pytest.mark.parametrize("grade", [0.0, 0.12, -0.15])
@pytest.mark.parametrize("turn", [0.3, 0.9, 1.57, 2.2])
def test_height_of_a_span_over_a_sloping_road_against_a_numeric_minimum(grade: float, turn: float) -> None:
    half = 60.0 * np.array([math.cos(turn), math.sin(turn)])
    middle = np.array([30.0, 0.0])
    ends = np.array([middle - half, middle + half])
    case = case_under(
        [span(xy=[tuple(p) for p in ends], attach_a_m=14.0, attach_b_m=17.0, sag_max_m=3.0)],
        xyz=[(0, 0, 0), (60, 0, 60 * grade)], width_m=6.0,
    )  # fmt: skip
    # the wire over the road's 6 m: its height over the plane of the road, walked finely
    t = np.linspace(0.0, 1.0, 200_001)
    x, y = (ends[0, k] + t * (ends[1, k] - ends[0, k]) for k in (0, 1))
    wire = 14.0 + 3.0 * t - 12.0 * t * (1 - t)
    on = (np.abs(y) <= 3.0) & (x > 0.5) & (x < 59.5)
    least = float((wire - grade * x)[on].min())
    _, numbers, _ = answer(case, "under_overheads")
    assert least - 0.12 <= numbers["capacity"] <= least + 1e-6


def test_a_span_along_the_road_against_the_formula_for_any_ground() -> None:
    line = [(0, 0, 0), (20, 0, 2.0), (40, 0, 1.0), (60, 0, 3.0)]
    case = case_under([span(xy=[(0, 0), (60, 0)], attach_a_m=11.0, attach_b_m=13.0, sag_max_m=1.5)], xyz=line)
    x, _, z = np.array(line).T
    least = lowest_clearance_over_profile(11.0, 13.0, 1.5, 60.0, x, z)
    found = answer(case, "under_overheads")[1]["capacity"]
    assert least - 0.05 <= found <= least + 1e-6


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"attach_a_m": None}, "attach_a_m"),
        ({"attach_b_m": None}, "attach_b_m"),
        ({"attach_a_m_method": "told"}, "attach_a_m told"),
        ({"sag_max_m": None, "sag_m": None}, "sag_max_m"),
        ({"sag_max_m_method": "assumed"}, "sag_max_m told"),
        ({"xy": [(30, -40), (30, 0), (31, 40)]}, "geometry"),
    ],
)
def test_what_a_span_lacks_is_named(change: dict[str, Any], name: str) -> None:
    verdict, _, missing = answer(case_under([span(**change)]), "under_overheads")
    assert verdict == UNKNOWN
    assert name in missing


def test_a_span_needs_the_height_of_the_road() -> None:
    flat = case_under([span()], xyz=[(0, 0), (60, 0)], grade_pct=0.0)
    assert answer(flat, "under_overheads")[::2] == (UNKNOWN, {"roads.z"})
    # a measured clearance stands in
    both = case_under([span(clearance_m=8.0)], xyz=[(0, 0), (60, 0)], grade_pct=0.0)
    verdict, numbers, _ = answer(both, "under_overheads")
    assert verdict == CLEAR
    assert numbers["capacity"] == pytest.approx(7.0)  # 8 less the owner's 2 m of sag against 1 m when measured


# -- passages


def test_the_bar_as_set_counts_and_a_passage_under_a_line_is_a_control() -> None:
    line = LINE | {"xy": ACROSS, "clearance_m": 8.0}
    verdict, numbers, _ = answer(case_under([line | {"bar_height_m": 4.5}]), "under_bar")
    assert (verdict, numbers["capacity"]) == (CAUTION, 4.5)
    case, part = case_under([line]), part_of("under_bar")
    assert part.check(rows_of(case, part), case).control == "fenced-passage"
    # 2.8 m bar, box 3 m: blocked; told: unknown
    assert answer(case_under([line | {"bar_height_m": 2.8}]), "under_bar")[0] == BLOCKED
    told = line | {"bar_height_m": 4.5, "bar_height_m_method": "told"}
    assert answer(case_under([told]), "under_bar")[::2] == (UNKNOWN, {"bar_height_m told"})


def test_a_bar_set_higher_than_line_and_owner_leave_is_told_as_what_they_leave() -> None:
    # 8.0 − 3.0 (owner) − 0.05 (survey) = 4.95; under a gantry the bar alone counts
    line = LINE | {"xy": ACROSS, "clearance_m": 8.0, "bar_height_m": 5.6}
    verdict, numbers, _ = answer(case_under([line]), "under_bar")
    assert (verdict, numbers["capacity"]) == (CAUTION, pytest.approx(4.95))
    gantry = {"id": "g", "kind": "structure", "xy": ACROSS, "clearance_m": 6.0, "bar_height_m": 5.6}
    verdict, numbers, _ = answer(case_under([gantry]), "under_bar")
    assert (verdict, numbers["capacity"]) == (CLEAR, 5.6)


def test_without_a_bar_the_highest_that_line_and_owner_leave() -> None:
    # 8.0 − 3.0 (owner) − 0.05 (survey) = 4.95
    line = LINE | {"xy": ACROSS, "clearance_m": 8.0}
    verdict, numbers, _ = answer(case_under([line]), "under_bar")
    assert verdict == CAUTION
    assert numbers["capacity"] == pytest.approx(4.95)
    # far above (20 ft from the machine) no passage is asked for; no room for the machine: the distance says so
    assert answer(case_under([line | {"clearance_m": 9.3}]), "under_bar")[0] == CLEAR
    assert answer(case_under([line | {"clearance_m": 5.5}]), "under_bar")[0] == CLEAR


def test_a_bar_over_a_plain_structure_is_headroom_and_no_control() -> None:
    assert under(5.0, bar_height_m=4.2, name="under_bar")[0] == CLEAR
    assert under(5.0, bar_height_m=2.8, name="under_bar")[0] == BLOCKED


@pytest.mark.parametrize("name", ["under_overheads", "under_signs", "under_bar"])
def test_cell_by_cell_is_the_grid(name: str) -> None:
    case = case_under(
        [BEAM | {"clearance_m": 3.2}, LINE | {"xy": [(10, -40), (20, 40)]}, span(id="s")],
        limits=[{"id": "s", "kind": "posted", "xy": (40.0, 0.0), "height_m": 3.2}],
        xyz=[tuple(p) for p in profile("rough")],
    )
    part = part_of(name)
    grid, cells = (rows_of(case, part, grid) for grid in (True, False))
    shape = (len(case.configurations), 2, grid.piece.size)
    assert grid.piece.size
    spread = np.broadcast_to(judge(part.check(grid, case)), shape).T.ravel()
    assert np.array_equal(np.broadcast_to(judge(part.check(cells, case)), spread.shape), spread)


@pytest.mark.parametrize("rise", [6.0, -6.0])
@pytest.mark.parametrize("drawn", [1, -1])
def test_a_sag_or_crest_where_a_third_road_meets_is_that_of_a_road_alone(rise: float, drawn: int) -> None:
    road = {"width_m": 6.0, "surface": "compacted_gravel", "cross_slope_pct": 0.0, "roughness_m": 0.0}
    on = road | {"id": "on", "xyz": [(30, 0, rise), (60, 0, 0)][::drawn]}
    side = road | {"id": "side", "xyz": [(30, 0, rise), (30, 40, rise)]}
    for x in (28.5, 30.5, 33.0):
        pipe = {"id": "p", "kind": "pipe", "xy": [(x, -9), (x, 9)], "clearance_m": 5.0}
        first = ((0.0, 0.0, 0.0), (30.0, 0.0, rise))
        alone, met = (case_under([pipe], xyz=first, roads=roads) for roads in ([on], [on, side]))
        for name in ("r", "on"):
            wanted, found = (answer(case, "under_overheads", road=name)[1]["demand"] for case in (alone, met))
            assert found == pytest.approx(wanted, abs=0.03)  # what may be missed at a kink hangs on where it is read
            assert wanted > (3.25 if rise < 0 else 3.2)
