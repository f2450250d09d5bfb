"""The force of a turn: as the slope that pulls as much, and the pace told with a corner that still stands with it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import case_of, plan_of, sheet
from tests.unit.checks.turn_cases import HEADER, LEFT, RIGHT, ROAD, corner, state_of
from travel.checks import Case, check_turns
from travel.checks.registry import ask, parts_for
from travel.checks.turn_pace import corner_time_s, curve_per_m, pace_mps
from travel.checks.turn_rules import Asked, at_headings
from travel.checks.turned import TurnedRows
from travel.units import G_MPS2, kmh_to_mps, mps_to_kmh

SQUASH = {"axles__0__squash_m": 0.02, "axles__1__squash_m": 0.02}


def slope(grade_pct: float, cross_pct: float = 0.0, **machine: Any) -> Case:
    """Give a trip over a road of a slope along x, and a level one that leaves it to the left."""
    roads = [
        ROAD | {"id": "main", "xy": [(-60.0, 0.0), (60.0, 0.0)], "width_m": 9.0, "grade_pct": grade_pct,
                "cross_slope_pct": cross_pct},
        ROAD | {"id": "side", "xy": [(0.0, 0.0), (0.0, 60.0)], "width_m": 9.0},
    ]  # fmt: skip
    return case_of(make_site(roads, header=HEADER), sheet(**SQUASH | machine), steering=("front", "all"))


def demand(of: Case, rule: str, left_mps2: float, travel: str = "forward") -> float:
    """Give what a rule asks on the first piece of the slope, turning to the left as fast as that."""
    one = np.ones(1, dtype=np.int64)
    config = int(np.flatnonzero(of.configurations.state == state_of(of, travel))[0])
    rows = TurnedRows(
        case=of, piece=0 * one, sense=one, config=config * one, drawn=one, heading_rad=np.zeros(1),
        change_ratio=np.zeros(1), hand=np.ones(1), curve_mps2=left_mps2,
    )  # fmt: skip
    answer = ask(next(part for part in parts_for(of) if part.rule == rule and not part.layer), rows, of)
    return float(np.ravel(answer.demand)[0])


@pytest.mark.parametrize("travel", ["forward", "reverse"])
@pytest.mark.parametrize("rule", ["tip", "slide"])
@pytest.mark.parametrize("pull", [0.05, -0.05, 0.15])
def test_turning_to_the_left_is_as_the_ground_falling_to_the_right(pull: float, rule: str, travel: str) -> None:
    """On level ground a / g is a tangent like the cross slope's; the centre of gravity lies to one side.

    The brake that goes with it pulls more by 1 / cos of that slope, 1.2 % at most.
    """
    level, across = (slope(0.0, cross, attitudes__0__cg_y_m=0.1) for cross in (0.0, 100.0 * pull))
    turning = demand(level, rule, pull * G_MPS2, travel)
    assert turning == pytest.approx(demand(across, rule, 0.0, travel), rel=0.012)
    if (travel, rule) == ("reverse", "tip"):
        assert (turning > demand(level, rule, 0.0, travel)) == (pull > 0.0)


def test_acceleration_by_hand() -> None:
    """Front axle on 5 m, 3 m behind it the rear on 4 m: v^2 5 / 16 at the front axle, v^2 / 4 over the rear one."""
    assert curve_per_m(5.0, 3.0, 3.0) == pytest.approx(5.0 / 16.0)
    assert curve_per_m(5.0, 3.0, 0.0) == pytest.approx(0.25)


def paced(of: Case, hand: float, steering: str) -> tuple[float, bool]:
    """Give the pace told with the corner [km/h], and whether the corner is clear."""
    turns, state = check_turns(of), state_of(of, steering=steering)
    row = corner(turns, "main", "side", hand)
    turns.judge(np.array([row]))
    return mps_to_kmh(pace_mps(turns, row, state)), bool(turns.worst[row, state] == 0)


def test_on_level_ground_the_pace_is_walking_pace() -> None:
    for hand in (LEFT, RIGHT):
        for steering in ("front", "all"):
            assert paced(slope(0.0), hand, steering) == (pytest.approx(5.0), True)


def test_a_tight_turn_that_leans_over_the_lower_side_is_driven_more_slowly() -> None:
    """Up a climb and to the left, the hill is on the right and the force pushes against it; down it and to the right
    (the corner back) it pushes over the lower side, with all wheels on a circle of a third of the radius."""
    of = slope(20.0, attitudes__0__cg_z_m=1.5)
    least = kmh_to_mps(1.0)
    told = {(hand, mode): paced(of, hand, mode)[0] for hand in (LEFT, RIGHT) for mode in ("front", "all")}
    assert told[LEFT, "front"] == told[RIGHT, "front"] == pytest.approx(5.0)
    assert mps_to_kmh(least) <= told[RIGHT, "all"] < 5.0


def test_a_higher_centre_of_gravity_is_never_faster() -> None:
    paces = [paced(slope(16.0, attitudes__0__cg_z_m=z), RIGHT, "all")[0] for z in (1.0, 1.3, 1.5, 1.7)]
    assert paces == sorted(paces, reverse=True)
    assert paces[0] > paces[-1]


@pytest.mark.parametrize("grade_pct", [0.0, 20.0])
def test_the_arcs_take_as_long_as_the_pace_told_needs(grade_pct: float) -> None:
    turns = check_turns(slope(grade_pct, attitudes__0__cg_z_m=1.5))
    state, row = state_of(turns.case, steering="all"), corner(turns, "main", "side", RIGHT)
    turns.judge(np.array([row]))
    pace = pace_mps(turns, row, state)
    needed_s = float(turns.arc_m[row, state]) / pace
    assert corner_time_s(turns, row, state, pace) == pytest.approx(needed_s)
    assert (needed_s > turns.time_s(row, state) * 1.01) == (grade_pct > 0.0)


def test_a_half_turn_on_a_slope_is_looked_at_square_across_it() -> None:
    """Up a slope, round at its top, and down: half way the machine stands across all of it, as on a cross slope."""
    line = [(0.0, 0.0), (60.0, 0.0), (60.0, 16.0), (0.0, 16.0)]
    bent = [(x - 8.0 + 8.0 * math.sin(a), 8.0 - 8.0 * math.cos(a)) for x, a in
            ((60.0, math.radians(d)) for d in range(0, 181, 10))]  # fmt: skip
    road = ROAD | {"id": "r", "xy": [line[0], *bent, line[-1]], "width_m": 12.0, "grade_pct": 14.0}
    of = case_of(make_site([road], header=HEADER), sheet(**SQUASH))
    turns = check_turns(of)
    wide = np.flatnonzero(np.abs(turns.corners.angle_rad) > math.radians(170.0))
    assert len(wide)
    asked = Asked(case=of, corners=turns.corners, rows=wide[:1], states=np.array([state_of(of)]))
    rows, _ = at_headings(asked, np.zeros(asked.shape, dtype=bool))
    assert np.abs(rows.cross).max() == pytest.approx(0.14)


def test_the_plan_tells_the_pace_of_each_corner() -> None:
    places = [{"id": "a", "xy": (-60.0, 0.0), "kind": "gate"}, {"id": "b", "xy": (0.0, 60.0), "kind": "pick_point"},
              {"id": "y", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 0.5}]  # fmt: skip
    roads = [ROAD | {"id": "main", "xy": [(-60.0, 0.0), (60.0, 0.0)], "width_m": 9.0},
             ROAD | {"id": "side", "xy": [(0.0, 0.0), (0.0, 60.0)], "width_m": 9.0}]  # fmt: skip
    plan = plan_of(make_site(roads, places, header=HEADER), "a", "b", sheet(**SQUASH))
    assert [turn.speed_kmh for turn in plan.turns] == [5.0]


def test_the_force_grows_with_the_square_of_the_pace() -> None:
    of = slope(0.0)
    one = np.ones(1, dtype=np.int64)
    rows = TurnedRows(case=of, piece=0 * one, sense=one, config=0 * one, drawn=one, heading_rad=np.zeros(1),
                      change_ratio=np.zeros(1), hand=-np.ones(1))  # fmt: skip
    assert replace(rows, curve_mps2=curve_per_m(5.0, 3.0, 0.0) * 2.0**2).across_mps2 == pytest.approx(-1.0)
