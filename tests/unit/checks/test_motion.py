"""Pull, restart, grip, slide and hold by hand: 14 t, weight 137 293 N, half of it on each axle, both driven.

Bands of the survey: 1 % of grade, 1 % of cross slope; of the mass 200 kg (1.4286 %). Dry rolled gravel: grip 0.35 and
rolling resistance 0.0325; downhill 0.012 counts.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.unit.checks.motion_cases import (
    AGAINST,
    ALONG,
    HIGH,
    LOW,
    REVERSE,
    WEIGHT_N,
    on_list,
    outcome_of,
    road_case,
    sheet,
    value,
    verdict,
)
from travel.domain.verdict import Verdict

CLEAR, CAUTION, UNKNOWN, BLOCKED = Verdict.CLEAR, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED
KMH = 1 / 3.6


# --- pull ------------------------------------------------------------------------------------------------------


def test_pull_by_hand():
    """10 % up: 137 293.1 × (0.10 + 0.0325) / sqrt(1.01) = 18 101.0 N. With 11 %: 19 447.1 N: tolerance
    19 447.1 − 18 101.0 + 0.0142857 × 19 447.1 = 1 623.9 N. The low gear at 1 km/h: 90 − 50 / 8 = 83.75 kN.
    The high one gives 18 101.0 + 1 623.9 = 19 724.9 N up to 10 + 15 × (20 − 19.7249) / 12 = 10.344 km/h.
    """
    case = road_case(grade_pct=10.0)
    assert value(case, "pull", "demand") == pytest.approx(18101.0, abs=0.5)
    assert value(case, "pull", "tolerance") == pytest.approx(1623.9, abs=0.5)
    assert value(case, "pull", "capacity") == pytest.approx(83750.0)
    assert value(case, "pull", "capacity", config=HIGH) == pytest.approx(38000.0)
    assert value(case, "pull", "cap_mps", config=HIGH) / KMH == pytest.approx(10.344, abs=0.002)
    assert value(case, "pull", "cap_mps") / KMH == pytest.approx(8.0)
    assert verdict(case, "pull") == CLEAR


@pytest.mark.parametrize(
    ("grade_pct", "expected"),
    # high gear, 38.0 kN at 1 km/h: demand 33 857 + 1 767 N leaves 2 376 N, less than a tenth of the demand; 25.2 %
    # needs 37 879 N with a tolerance of 1 813 N; 40 % needs 55 132 N
    [(10.0, CLEAR), (22.0, CAUTION), (25.2, UNKNOWN), (40.0, BLOCKED)],
)
def test_pull_verdicts(grade_pct: float, expected: Verdict):
    assert verdict(road_case(grade_pct=grade_pct), "pull", config=HIGH) == expected


def test_pull_counts_the_climb_in_the_sense_of_travel():
    case = road_case(grade_pct=40.0)
    assert verdict(case, "pull", ALONG, HIGH) == BLOCKED
    assert verdict(case, "pull", AGAINST, HIGH) == CLEAR
    assert value(case, "pull", "demand", AGAINST) < 0.0


def test_pull_has_no_cap_where_the_gear_cannot_climb():
    assert math.isnan(value(road_case(grade_pct=40.0), "pull", "cap_mps", config=HIGH))


def test_a_curve_that_rises_again_is_only_believed_up_to_its_dip():
    dipped = sheet(gears__1__pull_kn=[[0.0, 40.0], [10.0, 15.0], [15.0, 30.0], [25.0, 8.0]])
    case = road_case(dipped, grade_pct=10.0)
    assert value(case, "pull", "cap_mps", config=HIGH) / KMH == pytest.approx(10 * (40 - 19.7249) / 25, abs=0.002)


def test_a_curve_that_ends_early_ends_the_speed():
    """Nothing is known beyond its last point."""
    short = sheet(gears__1__pull_kn=[[0.0, 40.0], [10.0, 20.0]])
    assert value(road_case(short), "pull", "cap_mps", config=HIGH) / KMH == pytest.approx(10.0)


HIGH_UP = [(0, 0, 1000.0), (100, 0, 1000.0)]


def test_altitude_takes_pull_where_heights_are_above_sea_level():
    """1 000 m: 3 % for each 304.8 m above 762 m: 1 − 0.03 × 238 / 304.8 = 0.976575."""
    sea = road_case(xyz=HIGH_UP, grade_pct=None, header={"height_datum": "metres above mean sea level"})
    assert value(sea, "pull", "capacity") == pytest.approx(0.976575 * 83750.0, rel=1e-5)
    own = road_case(xyz=HIGH_UP, grade_pct=None, header={"height_datum": "site datum"})
    assert value(own, "pull", "capacity") == pytest.approx(83750.0)


def test_a_road_without_heights_is_taken_as_high_as_the_site():
    """Its pull is not that at sea level; one more road, 1 000 m up, tells how high the site lies."""
    flat = {"id": "r", "xy": [(0, 0), (10, 0)], "width_m": 5.0, "grade_pct": 0.0, "surface": "compacted_gravel"}
    high = {"id": "z", "xyz": [(10, 0, 1000.0), (90, 0, 1000.0)], "width_m": 5.0, "surface": "compacted_gravel"}
    header = {"height_datum": "metres above mean sea level"}
    assert value(road_case(roads=[flat, high], header=header), "pull", "capacity") == pytest.approx(0.976575 * 83750.0)
    assert value(road_case(roads=[flat], header=header), "pull", "capacity") == pytest.approx(83750.0)


def test_altitude_beyond_the_published_range_is_unknown():
    top = [(0, 0, 3100.0), (100, 0, 3100.0)]
    case = road_case(xyz=top, grade_pct=None, header={"height_datum": "MSL"})
    assert np.all(outcome_of(case, "pull").outside)
    assert verdict(case, "pull") == verdict(case, "restart") == UNKNOWN


# --- restart ---------------------------------------------------------------------------------------------------


def test_restart_by_hand():
    """10 % up: sin 0.0995037 + 1.5 × 0.0325 × 0.9950372 + 0.1 / 9.80665 = 0.158209: 21 721 N.
    All wheels driven with grip 0.35: 137 293.1 × 0.35 × 0.9950372 = 47 814 N, less than the 90 kN of the low gear.
    The high one gives 40 kN from rest.
    """
    case = road_case(grade_pct=10.0)
    assert value(case, "restart", "demand") == pytest.approx(21721.0, abs=1.0)
    assert value(case, "restart", "capacity") == pytest.approx(47814.0, abs=1.0)
    assert value(case, "restart", "capacity", config=HIGH) == pytest.approx(40000.0)
    assert verdict(case, "restart") == CLEAR


@pytest.mark.parametrize(
    ("grade_pct", "expected"),
    # high gear: 18 %: 31 897 + 1 797 N of 40 kN; 21.5 %: 36 402 + 1 821; 24 %: 39 557 + 1 839; 27 %: 43 266
    [(18.0, CLEAR), (21.5, CAUTION), (24.0, UNKNOWN), (27.0, BLOCKED)],
)
def test_restart_verdicts(grade_pct: float, expected: Verdict):
    assert verdict(road_case(grade_pct=grade_pct), "restart", config=HIGH) == expected


def test_restart_names_the_grip_where_it_governs_and_the_sheet_where_not():
    _, answer = on_list(road_case(grade_pct=10.0), "restart")
    assert answer.limit is not None
    assert answer.limit.rows[int(answer.limit.row[LOW])].source == "noon-1994"
    assert answer.limit.row[HIGH] == -1
    assert answer.limit_source == "manual"


# --- grip ------------------------------------------------------------------------------------------------------


def test_grip_by_hand():
    """20 % up, 5 % across: sin 0.1961161, n 1 / sqrt(1.0425) = 0.979404, across 0.05 / sqrt(1.04 × 1.0425) = 0.048018.
    Along 0.1961161 + 0.0325 × 0.979404 = 0.2279468; together 0.232949. All wheels: 0.35 × 0.979404 = 0.342791.
    Down the same: 0.1961161 − 0.012 × 0.979404 = 0.1843632; together 0.190514.
    """
    case = road_case(grade_pct=20.0, cross_slope_pct=5.0)
    assert value(case, "grip", "demand") == pytest.approx(0.232949, abs=2e-6)
    assert value(case, "grip", "capacity") == pytest.approx(0.342791, abs=2e-6)
    assert value(case, "grip", "demand", AGAINST) == pytest.approx(0.190514, abs=2e-6)
    assert verdict(case, "grip") == CLEAR


@pytest.mark.parametrize(
    ("grade_pct", "expected"),
    # 20 %: 0.2280 of 0.3432; 28 %: 0.3009 + 0.0121 of 0.3370 leaves 0.024; 32 %: 0.3357 of 0.3333 within 0.0115
    [(20.0, CLEAR), (28.0, CAUTION), (32.0, UNKNOWN), (36.0, BLOCKED)],
)
def test_grip_verdicts(grade_pct: float, expected: Verdict):
    assert verdict(road_case(grade_pct=grade_pct), "grip") == expected


@pytest.mark.parametrize(
    ("driven", "way", "config", "share"),
    # half the load; 20 % of grade moves 0.2 × 1.2 / 3.2 = 0.075 of it to the axle that is downhill
    [(1, ALONG, LOW, 0.575), (0, ALONG, LOW, 0.425), (1, ALONG, REVERSE, 0.425), (0, ALONG, REVERSE, 0.575)],
)
def test_two_driven_wheels_with_the_load_that_moves(driven: int, way: int, config: int, share: float):
    one = sheet(**{f"axles__{1 - driven}__driven": False})
    case = road_case(one, grade_pct=20.0)
    assert value(case, "grip", "capacity", way, config) == pytest.approx(0.35 * share / math.sqrt(1.04), rel=1e-6)
    assert value(case, "grip", "demand", way, config) == pytest.approx(0.2325 / math.sqrt(1.04), rel=1e-6)


def test_two_braked_wheels_on_the_way_down():
    """Front wheels braked, facing downhill: 0.575 of the load; in reverse, facing uphill, 0.425."""
    one = sheet(axles__1__braked=False)
    case = road_case(one, grade_pct=20.0)
    for config, share in ((LOW, 0.575), (REVERSE, 0.425)):
        assert value(case, "grip", "capacity", AGAINST, config) == pytest.approx(0.35 * share / math.sqrt(1.04))
        assert value(case, "grip", "demand", AGAINST, config) == pytest.approx(0.188 / math.sqrt(1.04), rel=1e-6)


def test_tolerance_of_the_centre_of_gravity_moves_load_between_axles():
    """Front drive uphill: 0.1 m of 3.2 m, times 1 + the tangent of 21 %, may be missing beside the survey's bands."""
    own = value(road_case(sheet(axles__1__driven=False), grade_pct=20.0), "grip", "tolerance")
    none = sheet(axles__1__driven=False, attitudes__0__cg_tolerance_m=0.0)
    without = value(road_case(none, grade_pct=20.0), "grip", "tolerance")
    n_at_21 = 1 / math.sqrt(1 + 0.21**2 + 0.01**2)
    along = 0.21 / math.sqrt(1 + 0.21**2) / n_at_21
    assert own - without == pytest.approx(0.35 * 0.1 / 3.2 * (1 + along) * n_at_21, rel=1e-6)


# --- slide -----------------------------------------------------------------------------------------------------


def test_slide_by_hand():
    """12 % along, 5 % across: the fall line is 13 % steep; with the bands 13 % and 6 %: 14.318 %."""
    case = road_case(grade_pct=12.0, cross_slope_pct=5.0)
    assert value(case, "slide", "demand") == pytest.approx(0.13)
    assert value(case, "slide", "tolerance") == pytest.approx(0.0131782, abs=1e-6)
    assert value(case, "slide", "capacity") == 0.35
    assert verdict(case, "slide") == CLEAR


@pytest.mark.parametrize(("cross_pct", "expected"), [(10.0, CLEAR), (31.0, CAUTION), (34.5, UNKNOWN), (37.0, BLOCKED)])
def test_slide_verdicts(cross_pct: float, expected: Verdict):
    assert verdict(road_case(cross_slope_pct=cross_pct), "slide") == expected


# --- hold ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("way", "config", "share"),
    # front wheels braked: slipping uphill takes 0.35 × 0.375 of their share from them, downhill gives it
    [(ALONG, LOW, 0.5 / 1.13125), (ALONG, REVERSE, 0.5 / 0.86875), (AGAINST, LOW, 0.5 / 0.86875)],
)
def test_hold_by_hand(way: int, config: int, share: float):
    """10 %: sine held = share × 0.35 × 0.9950372: 0.153929 facing up (15.58 %), 0.200440 facing down (20.46 %)."""
    case = road_case(grade_pct=10.0)
    sine = share * 0.35 / math.sqrt(1.01)
    assert value(case, "hold", "capacity", way, config) == pytest.approx(sine / math.sqrt(1 - sine**2))
    assert value(case, "hold", "demand", way, config) == pytest.approx(0.10)


def test_hold_agrees_with_the_moments_of_a_rigid_body():
    """They slip where mu N_f = W sin, N_f = W ((L − a) cos − h sin) / L: tan = 0.35 × 1.6 / (3.2 + 0.42)."""
    slips = 0.35 * 1.6 / (3.2 + 0.35 * 1.2)
    case = road_case(grade_pct=100 * slips)
    assert value(case, "hold", "capacity") == pytest.approx(slips, rel=1e-9)


def test_hold_is_the_stated_grade_where_grip_is_to_spare():
    """All wheels on dry concrete (0.75): the sheet's 30 %."""
    all_wheels = sheet(axles__1__parking_braked=True)
    case = road_case(all_wheels, grade_pct=10.0, surface="concrete")
    assert value(case, "hold", "capacity") == pytest.approx(0.30)
    _, answer = on_list(case, "hold")
    assert answer.limit is not None
    assert np.all(answer.limit.row == -1)
    assert answer.limit_source == "manual"


@pytest.mark.parametrize(
    ("grade_pct", "expected"),
    # all wheels, dry concrete, 30 % stated, 29.55 % at 14.2 t; a caution below 2 % of margin
    [(20.0, CLEAR), (27.0, CAUTION), (29.0, UNKNOWN), (33.0, BLOCKED)],
)
def test_hold_verdicts(grade_pct: float, expected: Verdict):
    all_wheels = sheet(axles__1__parking_braked=True)
    assert verdict(road_case(all_wheels, grade_pct=grade_pct, surface="concrete"), "hold") == expected


def test_no_parking_braked_wheel_holds_nothing():
    none = sheet(axles__0__parking_braked=False)
    assert verdict(road_case(none, grade_pct=3.0), "hold") == BLOCKED


def test_weight_is_the_whole_weight():
    assert outcome_of(road_case(), "pull").terms["weight_n"] == pytest.approx(WEIGHT_N)
