"""What holds for every rule of motion: missing values, worse inputs, grid and list alike; the tables behind them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.checks.motion_cases import (
    AGAINST,
    ALONG,
    HIGH,
    LOW,
    MINE,
    RULEBOOK,
    missing,
    on_grid,
    on_list,
    outcome_of,
    road_case,
    sheet,
    value,
    verdict,
)
from travel.checks.answers import at
from travel.checks.mud import distance_to, mud_carried
from travel.checks.outcome import judge
from travel.checks.wheels import grip
from travel.domain.machine import Load
from travel.domain.verdict import Verdict
from travel.mechanics.formula import catalogue
from travel.rulebook import resolve

UNKNOWN, BLOCKED = Verdict.UNKNOWN, Verdict.BLOCKED
BY_GRIP = ("restart", "grip", "slide", "hold", "stopping")
SURFACES = RULEBOOK.vocabulary.words("surface")
GROUNDS = RULEBOOK.vocabulary.words("ground")


# --- missing ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rules", "of", "road", "named"),
    [
        (MINE, {}, {"grade_pct": None}, "grade"),
        (BY_GRIP, {}, {"cross_slope_pct": None}, "cross_slope_pct"),
        ((*BY_GRIP, "pull"), {}, {"surface": None}, "surface"),
        ((*BY_GRIP, "pull"), {}, {"ground": None}, "weather.ground"),
        (("pull", "retard"), {"gears__0__pull_kn": None}, {}, "machine.gears.pull_kn"),
        (("restart",), {"gears__0__pull_kn": [[1.0, 90.0], [8.0, 40.0]]}, {}, "machine.gears.pull_kn at 0 km/h"),
        (("hold",), {"brakes__parking_grade_pct": None}, {}, "machine.brakes.parking_grade_pct"),
        (("stopping",), {"brakes__service_mps2": None}, {}, "machine.brakes.service_mps2"),
        (("retard",), {"retarding": None}, {}, "machine.retarding.power_kw"),
        (("hold",), {}, {"cross_slope_pct_method": "told"}, "cross_slope_pct told"),
        (("hold",), {}, {"grade_pct_method": "assumed"}, "grade_pct told"),
    ],
)
def test_a_missing_value_is_named_and_unknown(
    rules: tuple[str, ...], of: dict[str, Any], road: dict[str, Any], named: str
):
    case = road_case(sheet(**of), **{"grade_pct": 8.0} | road)
    for rule in rules:
        assert named in missing(case, rule), rule
        assert verdict(case, rule, AGAINST if rule == "retard" else ALONG) == UNKNOWN, rule


def test_nothing_is_missing_where_all_is_known():
    case = road_case(grade_pct=8.0)
    for rule in MINE:
        assert missing(case, rule) == set()
        assert verdict(case, rule, AGAINST) < UNKNOWN


def test_a_surface_without_a_coefficient_is_unknown():
    """Taken out of the book: neither the surface nor the weather is to blame."""
    rows = tuple(row for row in RULEBOOK.limits if row.id != "grip.coefficient" or row.when.get("surface") != "sand")
    case = road_case(surface="sand", rulebook=replace(RULEBOOK, limits=rows))
    assert "rulebook.grip.coefficient" in missing(case, "grip")
    assert verdict(case, "grip") == UNKNOWN


def test_load_without_its_centre_of_gravity_is_unknown():
    own = {"format": 1, "name": "pallet", "mass_kg": 1500.0, "size_xyz_m": (1.2, 1.0, 1.0), "how": "forks"}
    of = sheet()
    attitude = of.attitudes[0].model_copy(update={"name": "forks"})
    carrying = of.model_copy(update={"attitudes": (*of.attitudes, attitude)})
    placed = road_case(carrying, load=Load.model_validate(own | {"x_m": 1.8, "y_m": 0.0, "z_m": 1.0}), grade_pct=5.0)
    lacking = road_case(carrying, load=Load.model_validate(own | {"x_m": 1.8, "y_m": 0.0}), grade_pct=5.0)
    for rule in BY_GRIP:
        assert verdict(placed, rule) < UNKNOWN
        assert verdict(lacking, rule) == UNKNOWN
        assert "load.z_m" in missing(lacking, rule)


def test_load_takes_from_the_brakes_stated_for_the_stowed_machine():
    """14 000 of 15 500 kg: sin(atan 0.30) × 14 / 15.5 = 0.259540 holds 26.875 %."""
    of = sheet(axles__1__parking_braked=True)
    attitude = of.attitudes[0].model_copy(update={"name": "forks"})
    carrying = of.model_copy(update={"attitudes": (*of.attitudes, attitude)})
    pallet = {"format": 1, "name": "pallet", "mass_kg": 1500.0, "size_xyz_m": (1.2, 1.0, 1.0), "how": "forks"}
    load = Load.model_validate(pallet | {"x_m": 1.8, "y_m": 0.0, "z_m": 1.0})
    case = road_case(carrying, load=load, surface="concrete", grade_pct=5.0)
    sine = 0.3 / np.hypot(1.0, 0.3) * 14.0 / 15.5
    assert value(case, "hold", "capacity") == pytest.approx(sine / np.sqrt(1 - sine**2))


# --- worse input, never a better answer ------------------------------------------------------------------------

PLAIN = {"grade_pct": 8.0, "cross_slope_pct": 2.0, "sight_m": 25.0}
STEPS = (1.0, 5.0, 15.0)


def _worst(case: Any, rule: str, way: int) -> tuple[int, float]:
    """Give verdict and sure margin of the low gear."""
    answer = outcome_of(case, rule)
    margin = np.asarray(answer.capacity) - answer.demand - answer.tolerance
    return int(verdict(case, rule, way)), float(on_grid(case, margin)[0, way, LOW])


@pytest.mark.parametrize("rule", MINE)
@settings(max_examples=25, deadline=None)
@given(
    grade=st.floats(-30.0, 30.0),
    cross=st.floats(0.0, 12.0),
    more=st.floats(0.1, 10.0),
    surface=st.sampled_from(("concrete", "compacted_gravel", "clay")),
    axles=st.sampled_from(("both", "front", "rear")),
)
def test_steeper_is_never_better(rule: str, grade: float, cross: float, more: float, surface: str, axles: str):
    """Steeper the way it goes already, or steeper across, for any set of driven and braked wheels."""
    off = {"both": {}, "front": {1: False}, "rear": {0: False}}[axles]
    keys = ("driven", "braked", "parking_braked")
    of = sheet(**{f"axles__{i}__{key}": i not in off for i in (0, 1) for key in keys})
    road = {"surface": surface, "sight_m": 25.0}
    plain = road_case(of, grade_pct=grade, cross_slope_pct=cross, **road)
    steep = road_case(of, grade_pct=grade + (-more if grade < 0.0 else more), cross_slope_pct=cross, **road)
    tilted = road_case(of, grade_pct=grade, cross_slope_pct=cross + more, **road)
    for way in (ALONG, AGAINST):
        before = _worst(plain, rule, way)
        assert _worst(tilted, rule, way)[0] >= before[0]
        if rule in ("slide", "hold") or (grade < 0) == ((way == ALONG) == (rule in ("stopping", "retard"))):
            assert _worst(steep, rule, way)[0] >= before[0]


@pytest.mark.parametrize(
    ("rules", "change"),
    [
        (("pull", "restart", "hold", "stopping", "retard"), {"attitudes__0__mass_tolerance_kg": 1500.0}),
        (("pull",), {"gears__0__pull_kn": [[0.0, 60.0], [8.0, 30.0]]}),
        (("restart",), {"gears__0__pull_kn": [[0.0, 25.0], [8.0, 20.0]]}),
        (("restart", "grip"), {"axles__1__driven": False}),
        (("stopping",), {"axles__1__braked": False}),
        (("stopping",), {"brakes__service_mps2": 1.5}),
        (("stopping",), {"brakes__lag_s": 2.0}),
        (("hold",), {"brakes__parking_grade_pct": 5.0}),
        (("retard", "stopping"), {"retarding": {"kind": "hydrostatic", "power_kw": 5.0}}),
    ],
)
def test_a_weaker_sheet_is_never_better(rules: tuple[str, ...], change: dict[str, Any]):
    for rule in rules:
        way = AGAINST if rule in ("stopping", "retard") else ALONG
        own = {"axles__1__parking_braked": True}
        road = PLAIN | {"surface": "concrete"} if rule == "hold" else PLAIN
        before = _worst(road_case(sheet(**own), **road), rule, way)
        after = _worst(road_case(sheet(**own | change), **road), rule, way)
        assert after[1] < before[1]
        assert after[0] >= before[0]


@pytest.mark.parametrize(("rules", "change"), [(("stopping",), {"sight_m": 12.0}), (BY_GRIP, {"ground": "mud"})])
def test_a_worse_road_is_never_better(rules: tuple[str, ...], change: dict[str, Any]):
    for rule in rules:
        way = AGAINST if rule == "stopping" else ALONG
        weak = sheet(axles__1__parking_braked=True)
        before, after = (
            _worst(road_case(weak, **PLAIN), rule, way),
            _worst(road_case(weak, **PLAIN | change), rule, way),
        )
        assert after[1] < before[1]
        assert after[0] >= before[0]


# --- grid and list, formulas and their numbers -----------------------------------------------------------------

MIXED = [
    {"id": "a", "xyz": [(0, 0, 100), (30, 0, 104), (60, 0, 99), (90, 0, 99)], "surface": "clay", "cross_slope_pct": 3.0,
     "width_m": 5.0, "sight_m": 15.0},
    {"id": "b", "xyz": [(90, 0, 99), (200, 0, 121), (300, 0, 120)], "surface": "concrete", "cross_slope_pct": -2.0,
     "width_m": 5.0},
    {"id": "c", "xyz": [(90, 0, 99), (90, 60, 90)], "surface": "sand", "width_m": 5.0, "sight_m": 9.0},
]  # fmt: skip
SOME = {"front": {"axles__1__driven": False, "axles__0__braked": False}, "all": {}}


@pytest.mark.parametrize("rule", MINE)
@pytest.mark.parametrize("axles", SOME)
@pytest.mark.parametrize("ground", ["damp", "wet", "hard_ice"])
def test_rows_and_columns_say_the_same(rule: str, axles: str, ground: str):
    case = road_case(sheet(**SOME[axles]), roads=MIXED, ground=ground)
    rows, listed = on_list(case, rule)
    grid = outcome_of(case, rule)
    shape = rows.piece.shape
    np.testing.assert_array_equal(np.broadcast_to(judge(listed), shape), on_grid(case, judge(grid)).ravel())
    for name in ("demand", "capacity", "tolerance", "cap_mps"):
        if getattr(grid, name) is not None:
            column = np.broadcast_to(getattr(listed, name), shape)
            np.testing.assert_allclose(column, on_grid(case, getattr(grid, name)).ravel(), rtol=1e-12)


@pytest.mark.parametrize("rule", MINE)
@pytest.mark.parametrize("axles", SOME)
def test_numbers_put_through_the_formulas_give_demand_and_capacity(rule: str, axles: str):
    case = road_case(sheet(**SOME[axles]), roads=MIXED, ground="damp")
    rows, answer = on_list(case, rule)
    words = RULEBOOK.rules[rule]
    assert words.formula or words.capacity_formula
    for formula, terms, name in (
        (words.formula, answer.terms, "demand"),
        (words.capacity_formula, answer.capacity_terms, "capacity"),
    ):
        assert bool(formula) == bool(terms)
        for row in range(0, len(rows.piece), 7) if formula else ():
            single = {key: float(at(column, row)) for key, column in terms.items()}
            given = float(at(np.broadcast_to(getattr(answer, name), rows.piece.shape), row))
            assert float(catalogue()[formula](**single)) == pytest.approx(given, rel=1e-12, nan_ok=True)


# --- tables ----------------------------------------------------------------------------------------------------


def test_every_surface_in_every_weather_has_its_coefficients():
    for surface in SURFACES:
        for ground in GROUNDS:
            for limit in ("grip.coefficient", "pull.rolling", "retard.rolling"):
                assert resolve(RULEBOOK, limit, surface=surface, ground=ground) is not None, (limit, surface, ground)


def test_wetter_is_never_better():
    """But for sand, which the tables put higher when wet."""
    for surface in SURFACES:
        mu = [_value("grip.coefficient", surface, ground) for ground in ("dry", "damp", "wet", "mud")]
        rolling = [_value("pull.rolling", surface, ground) for ground in ("dry", "damp", "wet", "mud")]
        assert rolling == sorted(rolling), surface
        if surface != "sand":
            assert mu == sorted(mu, reverse=True), surface


def test_rolling_helps_less_than_it_hinders():
    for surface in SURFACES:
        for ground in GROUNDS:
            assert _value("retard.rolling", surface, ground) < _value("pull.rolling", surface, ground)


@pytest.mark.parametrize(
    ("surface", "ground", "strictest", "sources"),
    [
        ("asphalt", "dry", 0.65, {"noon-1994", "traction-table", "tyre-note"}),
        ("concrete", "dry", 0.75, {"noon-1994", "traction-table", "tyre-note", "nunnally", "peurifoy", "fm-5-434"}),
        ("concrete", "wet", 0.40, {"noon-1994", "traction-table", "tyre-note", "nunnally"}),
        ("grass", "wet", 0.20, {"noon-1994"}),
        ("sand", "dry", 0.20, {"nunnally", "peurifoy", "fm-5-434", "traction-table"}),
    ],
)
def test_sources_that_disagree_stand_side_by_side(surface: str, ground: str, strictest: float, sources: set[str]):
    rows = [row for row in RULEBOOK.limits if row.id == "grip.coefficient"
            and dict(row.when) == {"surface": surface, "ground": ground}]  # fmt: skip
    assert {row.source for row in rows} == sources
    assert _value("grip.coefficient", surface, ground) == min(row.value for row in rows) == strictest


def test_the_earthmoving_table_in_pounds_per_ton():
    """40, 65, 100, 150, 220 to 400 lb for a short ton of 2 000 lb."""
    read = {row.value for row in RULEBOOK.limits if row.id == "pull.rolling" and row.source == "cem-530"}
    assert read == {round(pounds / 2000, 4) for pounds in (40, 65, 100, 150, 220, 400)}


def _value(limit: str, surface: str, ground: str) -> float:
    found = resolve(RULEBOOK, limit, surface=surface, ground=ground)
    assert found is not None
    return found.value


# --- mud -------------------------------------------------------------------------------------------------------

FLAT = {"width_m": 5.0, "grade_pct": 0.0, "cross_slope_pct": 0.0}
LANE = [
    FLAT | {"id": "soft", "xy": [(0, 0), (50, 0)], "surface": "clay"},
    FLAT | {"id": "near", "xy": [(50, 0), (110, 0)], "surface": "concrete"},
    FLAT | {"id": "far", "xy": [(110, 0), (110, 200)], "surface": "asphalt"},
]


def test_mud_is_carried_onto_paved_roads():
    """100 m from the clay: the concrete (50 to 110 m) and the first 40 m of the asphalt; wet 0.40 becomes 0.25."""
    case = road_case(roads=LANE, ground="wet")
    rows, _ = on_list(case, "slide")
    mu, pieces = grip(rows, case).values, case.survey.pieces
    piece = rows.piece
    far = (pieces.road[piece] == 2) & (pieces.from_m[piece] > 40.0)
    np.testing.assert_allclose(mu[pieces.road[piece] == 0], 0.15)
    np.testing.assert_allclose(mu[pieces.road[piece] == 1], 0.25)
    np.testing.assert_allclose(mu[far], 0.40)
    np.testing.assert_allclose(mu[(pieces.road[piece] == 2) & ~far], 0.25)
    assert grip(rows, case).rows[int(grip(rows, case).row[pieces.road[piece] == 1][0])].when["ground"] == "mud"


@pytest.mark.parametrize(
    ("surface", "patch", "x"),
    [
        ("concrete", "clay", (0.0, 20.0)),  # gives mud where the road does not
        ("clay", "concrete", (-10.0, 60.0)),  # a slab on clay: the road beside it gives mud as before
        ("clay", "compacted_gravel", (60.0, 70.0)),  # gravel on the concrete, which takes mud as before
    ],
)
def test_ground_laid_on_a_road_keeps_no_mud_away(surface: str, patch: str, x: tuple[float, float]):
    """Wheels may stand on either: the concrete of ``near``, within 100 m, grips no better than muddy all along."""
    ring = [(x[0], -3.0), (x[1], -3.0), (x[1], 3.0), (x[0], 3.0)]
    case = road_case(roads=[{**LANE[0], "surface": surface}, *LANE[1:]], ground="wet",
                     laid=[{"id": "g", "surface": patch, "polygon": ring}])  # fmt: skip
    rows, _ = on_list(case, "slide")
    assert np.all(grip(rows, case).values[case.survey.pieces.road[rows.piece] == 1] <= 0.25)


@pytest.mark.parametrize(("beside_m", "slippery"), [(1.5, True), (1.6, False)])
@pytest.mark.parametrize("width_m", [2.9, 5.0])
def test_ground_beside_a_narrow_road_counts_as_far_as_a_wheel_may_stand(
    beside_m: float, slippery: bool, width_m: float
):
    """Wheel and wander reach 1.45 m, band 0.1: clay from 1.5 m on may lie under it, even if the road ends at 1.45."""
    ring = [(-5.0, beside_m), (20.0, beside_m), (20.0, 4.0), (-5.0, 4.0)]
    case = road_case(
        surface="sand", width_m=width_m, ground="wet", laid=[{"id": "g", "surface": "clay", "polygon": ring}]
    )
    clean = road_case(surface="sand", width_m=width_m, ground="wet")
    mu, without = (grip(on_list(of, "slide")[0], of).values for of in (case, clean))
    assert np.all((mu < without) == slippery)


@pytest.mark.parametrize("ground", ["dry", "damp", "hard_ice"])
def test_ground_that_gives_no_mud_leaves_the_pavement_clean(ground: str):
    assert mud_carried(road_case(roads=LANE, ground=ground)) is None


def test_distance_along_the_roads_against_a_plain_search():
    """On a net with a ring and a dead end, from one piece to all, by walking from piece to piece."""
    ring = [
        {"id": "n", "xy": [(0, 0), (40, 0), (40, 30)], "width_m": 5.0},
        {"id": "s", "xy": [(40, 30), (0, 30), (0, 0)], "width_m": 5.0},
        {"id": "d", "xy": [(40, 0), (97, 0)], "width_m": 5.0},
    ]
    survey = road_case(roads=ring).survey
    chosen = np.zeros(len(survey.pieces), dtype=bool)
    chosen[[2, len(survey.pieces) - 1]] = True
    np.testing.assert_allclose(distance_to(survey, chosen), _walked(survey, chosen), atol=1e-6)


def _walked(survey: Any, chosen: np.ndarray) -> np.ndarray:
    """Give gaps between pieces through shared ends, by repeated passes over all pairs of neighbours."""
    pieces, lines = survey.pieces, survey
    ends = [
        [tuple(np.round(lines.xy(int(r), float(a), float(b))[k], 3)) for k in (0, -1)]
        for r, a, b in zip(pieces.road, pieces.from_m, pieces.to_m, strict=True)
    ]
    at_end = {point: np.inf for pair in ends for point in pair}
    for pair, is_chosen in zip(ends, chosen, strict=True):
        at_end |= dict.fromkeys(pair, 0.0) if is_chosen else {}
    for _ in range(len(ends)):
        for (a, b), length in zip(ends, pieces.length_m, strict=True):
            at_end[a], at_end[b] = min(at_end[a], at_end[b] + length), min(at_end[b], at_end[a] + length)
    return np.array([0.0 if c else min(at_end[a], at_end[b]) for (a, b), c in zip(ends, chosen, strict=True)])


def test_high_gear_is_weaker_than_low():
    case = road_case(grade_pct=18.0)
    assert value(case, "pull", "capacity", config=HIGH) < value(case, "pull", "capacity", config=LOW)
    assert verdict(road_case(grade_pct=45.0), "restart", config=HIGH) == BLOCKED
