"""Switchbacks as surveyors draw them: half a circle of few or many vertices, in one road or two.

The builders' machine on front wheels turns on 3.2 / sin 30 = 6.4 m; in a steady circle of radius r its rear axle's
middle runs on sqrt(r² − 3.2²), which tells how far its inner side and its outer front corner lie from the middle line.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import case_of, plan_of, sheet
from tests.unit.checks.test_other_roads import TOLD
from tests.unit.checks.turn_cases import HEADER, state_of
from tests.unit.planning.test_close_corners import FRONT, SAID
from travel.checks import check_turns
from travel.domain.plan import TravelPlan
from travel.domain.site import Site

BASE_M, FRONT_M, WIDE_M = 3.2, 1.6, 2.4


def switchback(radius_m: float, width_m: float, parts: int, turn_deg: float = 180.0, joined: bool = False) -> Site:
    """Give a road that comes along x, turns left on a circle drawn in so many chords, and goes on straight."""
    turn = math.radians(turn_deg)
    angle = [turn * k / parts for k in range(parts + 1)]
    arc = [(radius_m * math.sin(a), radius_m * (1.0 - math.cos(a))) for a in angle]
    end = (arc[-1][0] + 50.0 * math.cos(turn), arc[-1][1] + 50.0 * math.sin(turn))
    line = [(-50.0, 0.0), *arc, end]
    half = len(line) // 2
    lines = [line[: half + 1], line[half:]] if joined else [line]
    roads = [SAID | {"id": f"r{n}", "xy": part, "width_m": width_m} for n, part in enumerate(lines)]
    places = [{"id": "gate", "xy": line[0], "kind": "gate"},
              {"id": "pick", "xy": end, "kind": "pick_point", "turn_radius_m": 9.0}]  # fmt: skip
    return make_site(roads, places, header=HEADER)


def plan(site: Site) -> TravelPlan:
    return plan_of(site, "gate", "pick", sheet(**TOLD, steering=FRONT))


def needed_m(radius_m: float) -> float:
    """Give how far from the middle line anything lies in a steady circle."""
    rear = math.sqrt(radius_m**2 - BASE_M**2)
    outer = math.hypot(rear + WIDE_M / 2.0, BASE_M + FRONT_M)
    return max(radius_m - (rear - WIDE_M / 2.0), outer - radius_m)


@pytest.mark.parametrize("joined", [False, True], ids=["one road", "two roads"])
@pytest.mark.parametrize("parts", [5, 6, 9, 12, 24, 60])
@pytest.mark.parametrize("radius_m", [7.0, 8.0, 9.0, 12.0])
def test_a_curve_that_the_lock_can_follow_is_driven_however_it_is_drawn(
    radius_m: float, parts: int, joined: bool
) -> None:
    found = plan(switchback(radius_m, 8.0, parts, joined=joined))
    assert (found.outcome, found.verdict) == ("way", "clear")


@pytest.mark.parametrize("parts", [6, 12, 24, 60])
def test_a_curve_tighter_than_the_lock_on_a_narrow_road_is_not_driven(parts: int) -> None:
    assert plan(switchback(4.5, 4.0, parts)).verdict in ("blocked", "unknown")


@pytest.mark.parametrize("turn_deg", [90.0, 140.0, 180.0])
@pytest.mark.parametrize("radius_m", [7.0, 8.0])
def test_what_is_asked_is_about_what_a_steady_circle_takes(radius_m: float, turn_deg: float) -> None:
    """No less than the drawn circle asks but for what an arc inside it saves, and not much more."""
    width = 2.0 * (needed_m(radius_m) + 0.6)
    case = case_of(switchback(radius_m, width, 48, turn_deg), sheet(**TOLD, steering=FRONT))
    turns = check_turns(case)
    rows = np.flatnonzero(~turns.corners.returns)
    outside, cut = turns.swept(rows, np.array([state_of(case)]))
    assert len(rows) == 2
    assert np.degrees(turns.corners.angle_rad[rows]) == pytest.approx([turn_deg, -turn_deg], abs=15.0)
    for sticks_out, half, at in zip(outside[:, 0], turns.corners.half_m[rows], cut[:, 0], strict=True):
        assert at >= half
        assert -0.6 - 0.3 <= sticks_out <= -0.6 + 0.35


@pytest.mark.parametrize("parts", [4, 5, 6])
def test_arcs_of_bends_that_meet_half_way_do_not_overlap(parts: int) -> None:
    case = case_of(switchback(7.0, 8.0, parts), sheet(**TOLD, steering=FRONT))
    turns, corners = check_turns(case), check_turns(case).corners
    rows = np.flatnonzero(~corners.returns & (corners.angle_rad > 0.0))
    rows = rows[np.argsort(corners.at_m[rows])]
    cut = turns.swept(rows, np.array([state_of(case)]))[1][:, 0]
    assert len(rows) == parts - 1 + 2 * (parts < 5)
    assert (np.diff(corners.at_m[rows]) >= cut[1:] + cut[:-1]).all()
