"""Overturning, steered wheels, cross slope, twist and bends, with numbers by hand and against contact forces."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.checks.upright_cases import (
    AGAINST,
    ALONG,
    FORWARD,
    REVERSE,
    case_on,
    cells,
    forks,
    hook,
    missing,
    on_grid,
    outcome_of,
    road_case,
    sheet,
    value,
    verdict,
)
from tests.unit.test_stability_rigid_body import _demand, _largest_scale
from travel.checks.answers import at
from travel.checks.outcome import judge
from travel.checks.registry import parts
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.mechanics.formula import catalogue
from travel.mechanics.upright import twist_taken_up

MINE = ("tip", "steer-load", "side-slope", "twist", "curve-speed")
STILL = {"axles__0__squash_m": 0.0, "axles__1__squash_m": 0.0, "brakes__service_mps2": 0.0001}
FIXED = {"axles__0__oscillating": False, "axles__1__oscillating": False}


def test_tip_by_hand():
    """Tip line pivot to right front wheel: length sqrt(3.2² + 0.975²) = 3.34524; pivot point at the axle, 0.66 up.

    reach 0.975 × 1.6 / 3.34524 = 0.46633; lever along 1.2 × 0.975 / 3.34524 = 0.34975;
    lever across (3.2 × (1.2 − 0.66) + 0.66 × 1.6) / 3.34524 = 0.83223.
    Cross slope 6 %, brake 3.5 m/s²: 0.35690 × sqrt(1 + 0.06²) = 0.35754.
    Bump 0.04 m: along 0.04 / 3.2 = 0.0125, across 0.04 / 1.95 = 0.020513. Tyres 2 × 0.03 m: along 0.06 / 3.2 = 0.01875,
    across 0.06 / 1.95 = 0.030769, times the share used along and across: s = r (d + b + g s) = r (d + b) / (1 − g r).
    Forward, over the front axle, r = 1.2 / 1.6: 0.75 × 0.37004 / (1 − 0.01875 × 0.75) = 0.28149.
    In reverse, over the pivot line: along r = 0.34975 / 0.46633 = 0.75, 0.28149 as before; across r = 1.78464:
    1.78464 × 0.080513 / (1 − 0.054912) = 0.15204; together 0.43353.
    """
    case = road_case(cross_slope_pct=6.0)
    assert value(case, "tip", "demand") == pytest.approx(0.28149, abs=2e-5)
    assert value(case, "tip", "demand", config=REVERSE) == pytest.approx(0.43353, abs=2e-5)
    assert value(case, "tip", "capacity") == 0.7
    assert verdict(case, "tip") == Verdict.CLEAR


@pytest.mark.parametrize(
    ("cross_pct", "expected"),
    [(6.0, Verdict.CLEAR), (30.0, Verdict.CAUTION), (33.0, Verdict.UNKNOWN), (45.0, Verdict.BLOCKED)],
)
def test_tip_verdicts(cross_pct: float, expected: Verdict):
    """Share 1.78464 (c + 0.020513) / 0.945088 + 0.75 × 0.0125 / 0.985938: 0.615 at 30 %, 0.671 at 33 %, 0.898 at 45 %,
    half-band 0.05 to 0.07; 0.7 allowed, caution 0.05."""
    assert verdict(road_case(cross_slope_pct=cross_pct), "tip") == expected


def test_tip_tolerance_by_hand():
    """28 %, pivot line: across 1.78464 × 0.300513 / 0.945088 = 0.56747; along 0.75 × 0.0125 / 0.985938 = 0.00951;
    together 0.57698.
    Ground: sqrt((0.75 × 0.01)² + (1.78464 × 0.01)²) = 0.019358. Centre of gravity 0.02 / 0.46633 = 0.042888: nearer
    × 0.57698 = 0.024746, higher × 0.28 × sqrt(1 − (0.34975 / 1.2)²) = 0.011487; together 0.027282. In all 0.04664."""
    case = road_case(cross_slope_pct=28.0)
    assert value(case, "tip", "demand") == pytest.approx(0.57698, abs=2e-5)
    assert value(case, "tip", "tolerance") == pytest.approx(0.04664, abs=2e-5)


@pytest.mark.parametrize(
    ("swings", "pivot_m", "degrees"),
    [(False, 0.6, 39.81), (True, 0.6, 32.01), (True, 0.0, 26.57)],
    ids=["rigid", "pivot at 0.6 m", "pivot on the ground"],
)
def test_side_tip_angle_of_the_derived_rows(swings: bool, pivot_m: float, degrees: float):
    """Track 2.0, wheelbase 3.0, height 1.2, 1.2 m behind the rigid axle: the share is the slope over that tangent."""
    machine = sheet(
        **STILL,
        axles__0__track_m=2.0,
        axles__1__track_m=2.0,
        axles__1__x_m=-3.0,
        axles__1__pivot_height_m=pivot_m,
        axles__0__oscillating=False,
        axles__1__oscillating=swings,
        attitudes__0__cg_x_m=-1.2,
    )
    case = road_case(machine, cross_slope_pct=20.0, roughness_m=0.0)
    assert np.degrees(np.arctan(0.20 / value(case, "tip", "demand"))) == pytest.approx(degrees, abs=0.01)


def test_tip_share_against_balanced_contact_forces():
    """At every slope, in every sense and gear, the share is one over the largest scale of balanced contact forces."""
    rng = np.random.default_rng(41)
    slopes = rng.uniform(-30.0, 30.0, (12, 2))
    roads = [
        {"id": f"r{i}", "xy": [(0, 20 * i), (10, 20 * i)], "width_m": 5.0, "surface": "asphalt", "roughness_m": 0.0,
         "grade_pct": grade, "cross_slope_pct": cross}
        for i, (grade, cross) in enumerate(slopes)
    ]  # fmt: skip
    machine = sheet(axles__0__squash_m=0.0, axles__1__squash_m=0.0, attitudes__0__cg_y_m=0.07)
    case = case_on(roads, machine)
    base = np.array([[0.0, 0.975, 0.0], [-3.2, 0.0, 0.66], [0.0, -0.975, 0.0]])
    cg, shares = np.array([-1.6, 0.07, 1.2]), on_grid(case, outcome_of(case, "tip").demand)
    for piece, road in enumerate(case.survey.pieces.road):
        grade, cross = slopes[road] / 100.0
        for way, sense in ((ALONG, 1), (AGAINST, -1)):
            for config, ahead in ((FORWARD, 1), (REVERSE, -1)):
                faces = sense * ahead
                scales = [
                    _largest_scale(*_demand(faces * grade, faces * cross, -ahead * brake, 0.0), cg, base)
                    for brake in (0.0, 3.5)
                ]
                assert shares[piece, way, config] == pytest.approx(1.0 / min(scales), rel=1e-6)


def test_tyres_settle_as_springs_do():
    """Two wheels on springs that go down 50 mm under the weight each carries: body tilt and load found by stepping."""
    squash, track, height, cross = 0.05, 1.95, 1.2, 0.12
    share = 0.0
    for _ in range(200):
        down, up = squash * (1.0 + share), squash * (1.0 - share)
        share = (cross + (down - up) / track) * height / (track / 2)
    machine = sheet(**STILL | {"axles__0__squash_m": squash, "axles__1__squash_m": squash} | FIXED)
    case = road_case(machine, cross_slope_pct=12.0, roughness_m=0.0)
    assert value(case, "tip", "demand") == pytest.approx(share, rel=1e-9)


def test_up_differs_from_down_and_against_from_along():
    """With one axle that swings the machine stands worse with the pivot downhill."""
    case = road_case(grade_pct=20.0, cross_slope_pct=10.0)
    up, down = (value(case, "tip", "demand", way) for way in (ALONG, AGAINST))
    assert up != pytest.approx(down)
    turned = road_case(grade_pct=-20.0, cross_slope_pct=-10.0)
    assert value(turned, "tip", "demand", ALONG) == pytest.approx(down)
    assert value(turned, "tip", "demand", AGAINST) == pytest.approx(up)


def test_lock_is_not_credited_while_moving():
    locked = road_case(sheet(axles__1__locked_by="a valve"), cross_slope_pct=20.0)
    assert value(locked, "tip", "demand") == value(road_case(cross_slope_pct=20.0), "tip", "demand")


def test_tip_of_a_machine_that_does_not_stand_is_blocked():
    assert verdict(road_case(sheet(attitudes__0__cg_x_m=0.2)), "tip") == Verdict.BLOCKED


def test_load_on_the_hook_counts_at_the_head_and_brakes_gently():
    """cg of the loaded machine: x (−1.6 × 14 000 + 3.4 × 1 300) / 15 300 = −1.17516, z (1.2 × 14 000 + 5 × 1 300)
    / 15 300 = 1.52288. Over the front axle, r = 1.29589: 1.29589 × (1.0 / 9.80665 + 0.0125) / (1 − 0.01875 × 1.29589)
    = 0.15204."""
    assert value(road_case(load=hook()), "tip", "demand") == pytest.approx(0.15204, abs=2e-5)


@pytest.mark.parametrize(
    ("worse", "better"),
    [
        ({"cross_slope_pct": 20.0}, {"cross_slope_pct": 19.0}),
        ({"cross_slope_pct": -20.0}, {"cross_slope_pct": -19.0}),
        ({"roughness_m": 0.1}, {"roughness_m": 0.0}),
    ],
)
def test_tip_grows_with_a_worse_road(worse: dict[str, float], better: dict[str, float]):
    first, second = (on_grid(c, outcome_of(c, "tip").demand) for c in (road_case(**worse), road_case(**better)))
    assert (first > second).all()


@pytest.mark.parametrize(
    "worse",
    [
        {"attitudes__0__cg_z_m": 1.3},
        {"axles__0__squash_m": 0.05},
        {"axles__0__track_m": 1.8},
        {"brakes__service_mps2": 4.5},
        {"axles__1__loaded_radius_m": 0.5},
    ],
)
def test_tip_grows_with_a_worse_machine(worse: dict[str, float]):
    slope = {"grade_pct": 8.0, "cross_slope_pct": 12.0}
    first, second = (
        on_grid(c, outcome_of(c, "tip").demand) for c in (road_case(sheet(**worse), **slope), road_case(**slope))
    )
    assert (first >= second - 1e-12).all()
    assert (first > second).any()


def test_terms_put_through_the_formula_give_the_numbers():
    roads = [
        {"id": f"r{i}", "xy": [(0, 30 * i), (12, 30 * i), (16, 30 * i + 9)], "width_m": 5.0, "surface": "firm_earth",
         "roughness_m": 0.05, "grade_pct": 5.0 * i - 10.0, "cross_slope_pct": 4.0 - 3.0 * i}
        for i in range(5)
    ]  # fmt: skip
    case = case_on(roads, steering=("front", "all"))
    rows = cells(case)
    for part in (p for p in parts() if p.rule in MINE):
        rule, outcome = case.rulebook.rules[part.rule], part.check(rows, case)
        applies = np.broadcast_to(outcome.applies, rows.piece.shape)
        assert applies.any()
        for formula, terms, expected in (
            (rule.formula, outcome.terms, outcome.demand),
            (rule.capacity_formula, outcome.capacity_terms, outcome.capacity),
        ):
            if formula:
                for row in np.flatnonzero(applies):
                    given = {name: float(at(column, row)) for name, column in terms.items()}
                    assert catalogue()[formula](**given) == pytest.approx(at(expected, row), rel=1e-12)


def test_list_of_cells_equals_grid():
    roads = [
        {"id": "a", "xy": [(0, 0), (30, 0), (38, 8)], "width_m": 5.0, "surface": "clay", "roughness_m": 0.05,
         "grade_pct": -9.0, "cross_slope_pct": 4.0},
        {"id": "b", "xy": [(38, 8), (38, 40)], "width_m": 5.0, "surface": "asphalt", "roughness_m": 0.01,
         "grade_pct": 14.0, "cross_slope_pct": -5.0},
    ]  # fmt: skip
    case = case_on(roads, load=forks(), steering=("front", "all"))
    for part in (p for p in parts() if p.rule in MINE):
        grid, rows = outcome_of(case, part.rule), part.check(cells(case), case)
        np.testing.assert_array_equal(
            on_grid(case, judge(grid)).ravel(), np.broadcast_to(judge(rows), cells(case).piece.shape)
        )
        for name in ("demand", "capacity", "tolerance"):
            first, second = on_grid(case, getattr(grid, name)).ravel(), getattr(rows, name)
            use = on_grid(case, grid.applies).ravel()
            np.testing.assert_array_equal(first[use], np.broadcast_to(second, first.shape)[use])


ROAD_LACKS = [
    ("tip", {"cross_slope_pct": None}, "cross_slope_pct"),
    ("tip", {"grade_pct": None}, "grade"),
    ("tip", {"roughness_m": None}, "roughness_m"),
    ("tip", {"roughness_m_method": "told"}, "roughness_m told"),
    ("tip", {"cross_slope_pct_method": "assumed"}, "cross_slope_pct told"),
    ("tip", {"grade_pct_method": "told"}, "grade_pct told"),
    ("steer-load", {"grade_pct": None}, "grade"),
    ("steer-load", {"cross_slope_pct": None}, "cross_slope_pct"),
    ("side-slope", {"cross_slope_pct": None}, "cross_slope_pct"),
    ("twist", {"cross_slope_pct": None}, "cross_slope_pct"),
    ("twist", {"roughness_m": None}, "roughness_m"),
]


@pytest.mark.parametrize(("rule", "road", "name"), ROAD_LACKS)
def test_a_missing_value_of_the_road_is_unknown(rule: str, road: dict[str, object], name: str):
    case = road_case(**road)
    assert name in missing(case, rule)
    assert verdict(case, rule) == Verdict.UNKNOWN


RIGID = FIXED | {"axles__1__stop_deg": None, "axles__1__pivot_height_m": None}
SHEET_LACKS = [
    ("tip", {"axles__0__squash_m": None}, "machine.axles.squash_m"),
    ("tip", {"axles__1__pivot_height_m": None}, "machine.axles.pivot_height_m"),
    ("tip", {"axles__0__oscillating": True, "axles__0__pivot_height_m": 0.6}, "machine.axles.oscillating"),
    ("tip", {"brakes__service_mps2": None}, "machine.brakes.service_mps2"),
    ("steer-load", {"axles__0__steered": False, "axles__1__steered": False}, "machine.axles.steered"),
    ("side-slope", {"limits__cross_slope_pct": None}, "machine.limits.cross_slope_pct"),
    ("twist", {"axles__1__stop_deg": None}, "machine.axles.stop_deg"),
    ("twist", RIGID | {"axles__0__squash_m": None, "axles__1__squash_m": None}, "machine.axles.squash_m"),
]


@pytest.mark.parametrize(("rule", "changes", "name"), SHEET_LACKS)
def test_a_missing_value_of_the_sheet_is_unknown(rule: str, changes: dict[str, object], name: str):
    case = road_case(sheet(**changes))
    assert name in missing(case, rule)
    assert verdict(case, rule) == Verdict.UNKNOWN


@pytest.mark.parametrize(
    ("load", "name"),
    [
        (forks(x_m=None), "load.x_m"),
        (forks(y_m=None), "load.y_m"),
        (forks(z_m=None), "load.z_m"),
        (hook(radius_m=None), "load.radius_m"),
        (hook(head_height_m=None), "load.head_height_m"),
        (hook(rigging_kg=None), "load.rigging_kg"),
        (forks(how="deck"), "load.how forks or hook"),
    ],
)
@pytest.mark.parametrize("rule", ["tip", "steer-load"])
def test_a_load_that_cannot_be_placed_is_unknown(load: object, name: str, rule: str):
    case = road_case(load=load)
    assert name in missing(case, rule)
    assert verdict(case, rule) == Verdict.UNKNOWN


def test_carrying_permission_is_never_the_stowed_one():
    assert verdict(road_case(load=forks()), "side-slope") == Verdict.UNKNOWN


def test_steered_wheels_by_hand():
    """Half the weight in front, wheelbase 3.2, height 1.2: 25 % uphill 0.5 − 1.2 × 0.25 / 3.2 = 0.40625, down 0.59375;
    all-wheel steering also needs the rear: 0.40625 both ways."""
    case = road_case(grade_pct=25.0, steering=("front", "all"))
    assert [value(case, "steer-load", "capacity", way) for way in (ALONG, AGAINST)] == pytest.approx([0.40625, 0.59375])
    all_wheels = 3 + FORWARD
    assert [value(case, "steer-load", "capacity", way, all_wheels) for way in (ALONG, AGAINST)] == pytest.approx(
        [0.40625, 0.40625]
    )


@pytest.mark.parametrize(
    ("front_kg", "expected"),
    [(5000.0, Verdict.CLEAR), (3300.0, Verdict.CAUTION), (2900.0, Verdict.UNKNOWN), (2000.0, Verdict.BLOCKED)],
)
def test_steered_wheels_verdicts(front_kg: float, expected: Verdict):
    """Level; shares 0.357, 0.236, 0.207 and 0.143 against 0.20; half-band (1.2 × 0.01 + 0.02) / 3.2 = 0.010."""
    changes = {"axles__0__load_kg": front_kg, "axles__1__load_kg": 14000.0 - front_kg}
    assert verdict(road_case(sheet(**changes)), "steer-load") == expected


@pytest.mark.parametrize(
    ("cross_pct", "expected"),
    [(5.0, Verdict.CLEAR), (-6.5, Verdict.CAUTION), (7.5, Verdict.UNKNOWN), (-9.5, Verdict.BLOCKED)],
)
def test_side_slope_verdicts(cross_pct: float, expected: Verdict):
    """Permitted 8 %, half-band 1 %, caution 1 %: 8 − 6.5 − 1 = 0.5; 8 − 7.5 − 1 < 0; 8 − 9.5 + 1 < 0."""
    assert verdict(road_case(cross_slope_pct=cross_pct), "side-slope") == expected


def _twisting(change_pct: float, **changes: object):
    roads = [
        {"id": name, "xy": [(x, 0), (x + 10, 0)], "width_m": 5.0, "surface": "asphalt", "roughness_m": 0.04,
         "grade_pct": 0.0, "cross_slope_pct": cross}
        for name, x, cross in (("a", 0, change_pct / 2), ("b", 10, -change_pct / 2))
    ]  # fmt: skip
    return case_on(roads, sheet(**changes))


@pytest.mark.parametrize(
    ("change_pct", "expected"),
    [(8.0, Verdict.CLEAR), (10.0, Verdict.CAUTION), (12.0, Verdict.UNKNOWN), (16.0, Verdict.BLOCKED)],
)
def test_twist_verdicts(change_pct: float, expected: Verdict):
    """2 atan(dc / 2) + atan(0.04 / 1.95) = 1.175° more: 5.76°, 6.90°, 8.04°, 10.32° against 8°, half-band 0.81°."""
    case = _twisting(change_pct)
    near = int(np.argmin(np.abs(case.survey.pieces.x_m - case.survey.pieces.x_m.mean())))
    assert verdict(case, "twist", piece=near) == expected
    by_hand = 2 * np.degrees(np.arctan(change_pct / 200)) + np.degrees(np.arctan(0.04 / 1.95))
    assert np.degrees(value(case, "twist", "demand", piece=near)) == pytest.approx(by_hand)


def test_twist_of_a_rigid_machine_is_taken_by_its_tyres():
    """Four equal wheels, 30 mm, track 1.95: 4 × 0.03 / 1.95 = 3.526°; a wheel of half the load halves it."""
    case = _twisting(1.0, **RIGID)
    assert np.degrees(value(case, "twist", "capacity")) == pytest.approx(3.526, abs=1e-3)
    uneven = _twisting(1.0, **RIGID, axles__0__load_kg=4000.0, axles__1__load_kg=8000.0)
    assert np.degrees(value(uneven, "twist", "capacity")) == pytest.approx(1.763, abs=1e-3)


def test_twist_taken_by_tyres_against_four_springs():
    """A stiff frame on four springs of one stiffness, unequal loads: the first wheel to lift sets the twist."""
    squash, track, loads = 0.03, 2.0, np.array([3000.0, 3000.0, 4500.0, 4500.0])
    at = np.array([[0.0, 1.0], [0.0, -1.0], [-3.0, 1.0], [-3.0, -1.0]])
    stiffness = loads.max() / squash  # the softest reading of the sheet: the heaviest wheel goes down 30 mm
    shape = np.array([1.0, -1.0, -1.0, 1.0])
    plane = np.column_stack([np.ones(4), at])

    def least_load(twist: float) -> float:
        ground = shape * twist * track / 4.0  # front tilted by half the twist one way, rear the other way
        free = ground - plane @ np.linalg.lstsq(plane, ground, rcond=None)[0]
        return float((loads + stiffness * free).min())

    taken = twist_taken_up(0.0, squash, 3000.0 / 4500.0, track)
    assert least_load(float(taken)) == pytest.approx(0.0, abs=1e-6)


BEND = [(20 * np.sin(a), 20 - 20 * np.cos(a)) for a in np.radians(np.arange(0, 90.1, 0.5))]


def test_speed_in_a_bend_by_hand():
    """R 20 m: side friction 0.31 on 1 % of adverse fall (the half-band): sqrt(9.80665 × 20 × 0.30 / 1.0031) = 7.659.
    Overturning, the centre of gravity 0.02 m nearer and higher and 1 % of grade: (0.7 × 0.44633 − 0.035625 × 0.35558)
    / 0.85136 − 0.042051 = 0.31005: 7.66 m/s, hardly more."""
    case = road_case(xy=BEND, surface="asphalt")
    middle = len(case.survey.pieces) // 2
    assert value(case, "curve-speed", "cap_mps", piece=middle) == pytest.approx(7.659, rel=0.005)
    assert verdict(case, "curve-speed", piece=middle) == Verdict.CLEAR


def test_speed_in_a_bend_of_a_tall_machine_is_set_by_overturning():
    """Height 2.0: lever across (3.2 × 1.34 + 0.66 × 1.6) / 3.34524 = 1.59749, lever along 0.58292; 0.02 m nearer and
    higher 1.61662 and 0.58875, 1 % of grade: (0.7 × 0.44633 − 0.035625 × 0.58875) / 1.61662 − 0.042051 = 0.13824:
    sqrt(196.133 × 0.12824 / 1.00138) = 5.012."""
    case = road_case(sheet(attitudes__0__cg_z_m=2.0), xy=BEND, surface="asphalt")
    assert value(case, "curve-speed", "cap_mps", piece=len(case.survey.pieces) // 2) == pytest.approx(5.012, rel=0.005)


def test_speed_in_a_bend_takes_the_band_of_the_centre_of_gravity_on_the_bad_side():
    def cap(band_m: float) -> float:
        case = road_case(
            sheet(attitudes__0__cg_z_m=2.0, attitudes__0__cg_tolerance_m=band_m), xy=BEND, surface="asphalt"
        )
        return value(case, "curve-speed", "cap_mps", piece=len(case.survey.pieces) // 2)

    moved = sheet(attitudes__0__cg_z_m=2.1, attitudes__0__cg_y_m=0.1, attitudes__0__cg_tolerance_m=0.0)
    case = road_case(moved, xy=BEND, surface="asphalt")
    really = value(case, "curve-speed", "cap_mps", piece=len(case.survey.pieces) // 2)
    assert cap(0.1) < really < cap(0.05) < cap(0.0)


def test_speed_in_a_bend_is_silent_on_the_straight():
    assert not np.any(outcome_of(road_case(), "curve-speed").applies)


@pytest.mark.parametrize(
    ("road", "weather", "name"),
    [
        ({"cross_slope_pct": None}, {}, "cross_slope_pct"),
        ({"grade_pct": None}, {}, "grade"),
        ({"roughness_m": None}, {}, "roughness_m"),
        ({"surface": None}, {}, "surface"),
        ({}, {"ground": None}, "weather.ground"),
    ],
)
def test_speed_in_a_bend_without_a_value_is_unknown(road: dict[str, object], weather: dict[str, object], name: str):
    case = road_case(xy=BEND, weather=Weather(**{"ground": "dry"} | weather), **road)
    assert name in missing(case, "curve-speed")
    assert verdict(case, "curve-speed", piece=len(case.survey.pieces) // 2) == Verdict.UNKNOWN


def test_a_bend_no_speed_can_be_driven_round_is_blocked():
    """45 % of cross slope falling outwards: it slides and tips at rest."""
    case = road_case(xy=BEND, cross_slope_pct=45.0)
    assert verdict(case, "curve-speed", piece=len(case.survey.pieces) // 2) == Verdict.BLOCKED


def test_speed_in_a_bend_falls_with_slopes_and_with_the_bend():
    def cap(xy: object = BEND, **road: float) -> float:
        case = road_case(xy=xy, **road)
        return value(case, "curve-speed", "cap_mps", piece=len(case.survey.pieces) // 2)

    tighter = [(x / 2, y / 2) for x, y in BEND]
    assert cap() > cap(cross_slope_pct=3.0) > cap(cross_slope_pct=6.0)
    assert cap(cross_slope_pct=3.0) == cap(cross_slope_pct=-3.0)
    assert cap() > cap(tighter)
    assert cap() >= cap(grade_pct=20.0)


def _axles(*places: tuple[float, bool]):
    """Give a machine with axles at these places, swinging or not."""
    first, second = sheet().axles
    made = tuple(
        (second if swings else first).model_copy(
            update={"x_m": x, "load_kg": 14000.0 / len(places), "oscillating": swings}
        )
        for x, swings in places
    )
    return sheet().model_copy(update={"axles": made})


@pytest.mark.parametrize(
    ("places", "expected"),
    [
        (((0.0, False), (-3.2, True)), [(-3.2, 0.0, 0.66), (0.0, -0.975, 0.0), (0.0, 0.975, 0.0)]),
        (
            ((0.0, False), (-3.2, False)),
            [(-3.2, -0.975, 0.0), (0.0, -0.975, 0.0), (0.0, 0.975, 0.0), (-3.2, 0.975, 0.0)],
        ),
        (
            ((0.0, True), (-3.0, False), (-4.2, False)),
            [(-4.2, -0.975, 0.0), (-3.0, -0.975, 0.0), (0.0, 0.0, 0.66), (-3.0, 0.975, 0.0), (-4.2, 0.975, 0.0)],
        ),
    ],
    ids=["rear swings", "rigid", "front of three swings"],
)
def test_support_polygon(places: tuple[tuple[float, bool], ...], expected: list[tuple[float, float, float]]):
    body = road_case(_axles(*places)).body
    np.testing.assert_allclose(body.supports_m, expected)
    assert len(body.tip_lines) == len(expected)
    assert all(line.reach_m > 0 for line in body.tip_lines)


def test_points_inside_the_base_do_not_count():
    """A swinging axle between two rigid ones carries no corner of the base."""
    body = road_case(_axles((0.0, False), (-1.5, True), (-3.2, False))).body
    assert len(body.supports_m) == 4
