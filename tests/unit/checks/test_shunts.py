"""Corners taken in several moves: driven again step by step, against the room drawn by another library.

The builders' machine as in ``test_turns``: on front wheels it needs a road 6.92 m wide to turn off at a right angle
in one go. Its middle of the rear axle turns on 3.2 / tan 30 = 5.543 m at full lock.
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
import shapely

from tests.memory_site import ORIGIN, make_site
from tests.planning import case_of, sheet
from tests.unit.checks.turn_cases import (
    BLOCKED,
    CAUTION,
    LEFT,
    RIGHT,
    ROAD,
    UNKNOWN,
    answers,
    corner,
    junction,
    room,
    state_of,
    told,
)
from tests.unit.planning.test_outlook import GROUND
from travel.checks import Case, Shunt, check_turns
from travel.checks.movers import movers
from travel.checks.other_roads import OtherRoads
from travel.checks.shunt_ground import bars_shunt
from travel.checks.shunts import FIVE, THREE, Ground
from travel.checks.turns import Turns
from travel.mechanics.shunting import arc_across, arc_along

TRAIL_M, FRONT_M, REAR_M, WIDE_M = 3.2, 1.6, 1.4, 2.4
LEAST_M = TRAIL_M / math.tan(math.radians(30.0))


def own(xy: Any) -> Any:
    """Give coordinates from the junction."""
    return np.asarray(xy) - ORIGIN


def shunted(case: Case, hand: float = LEFT, travel: str = "forward", steering: str = "front") -> tuple[Turns, Shunt]:
    """Judge the turn from the main road into the side road, and give how it is shunted."""
    turns = check_turns(case)
    row, state = corner(turns, "main", "side", hand), state_of(case, travel, steering)
    turns.judge(np.array([row]), np.array([state]))
    shunt = turns.shunt(row, state)
    assert shunt is not None
    return turns, shunt


def free_ground(width_m: float) -> shapely.Geometry:
    """Give the ground of both roads."""
    main = shapely.LineString([(-200.0, 0.0), (200.0, 0.0)])
    side = shapely.LineString([(0.0, 0.0), (0.0, 200.0)])
    return shapely.union_all([road.buffer(width_m / 2.0, quad_segs=64) for road in (main, side)])


@pytest.mark.parametrize("width_m", [5.2, 6.0, 6.8])
@pytest.mark.parametrize("steering", ["front"])
def test_it_can_be_driven_and_stays_where_it_says(width_m: float, steering: str) -> None:
    _, shunt = shunted(junction(width_m, stated_m=1.0, stop=True), steering=steering)
    ahead = np.column_stack((np.cos(shunt.heading), np.sin(shunt.heading)))
    rear = own(shunt.xy) - TRAIL_M * ahead
    # it begins in line with one road and ends in line with the other
    assert rear[0, 1] == pytest.approx(0.0, abs=0.01)
    assert shunt.heading[0] == pytest.approx(0.0, abs=1e-9)
    assert rear[-1, 0] == pytest.approx(0.0, abs=0.03)
    assert shunt.heading[-1] == pytest.approx(math.pi / 2, abs=1e-9)
    # no wheel slips sideways, none is turned further than its lock, and every move goes the way it is said to
    for number, move in enumerate(shunt.moves):
        some = np.flatnonzero(shunt.number == number)
        step, turned = np.diff(rear[some], axis=0), np.diff(shunt.heading[some])
        middle = shunt.heading[some][:-1] + turned / 2.0
        along = step[:, 0] * np.cos(middle) + step[:, 1] * np.sin(middle)
        aside = step[:, 1] * np.cos(middle) - step[:, 0] * np.sin(middle)
        assert np.abs(aside).max() < 1e-8
        moved = np.abs(along) > 1e-12
        assert (np.sign(along[moved]) == (1.0 if move.forward else -1.0)).all()
        assert (np.abs(along) >= 2.0 * LEAST_M * np.sin(np.abs(turned) / 2.0) - 1e-8).all()
        left = (move.side == "left") == move.forward
        assert (np.sign(turned) == (1.0 if left else -1.0)).all()
        arcs = np.abs(along) * np.abs(turned) / (2.0 * np.sin(np.abs(turned) / 2.0))
        assert move.length_m == pytest.approx(float(arcs.sum()), rel=1e-6)
        radius_m = arcs.sum() / np.abs(turned).sum()
        assert move.lock_ratio == pytest.approx(math.atan(TRAIL_M / radius_m) / math.radians(30.0), rel=1e-6)
    first = np.flatnonzero(shunt.number == 0)[0]
    assert own(shunt.xy)[first, 0] == pytest.approx(shunt.begin_m, abs=0.03)
    # the whole body, every position, against the ground as another library draws it
    corners = np.array([(-REAR_M, 1.2), (TRAIL_M + FRONT_M, 1.2), (TRAIL_M + FRONT_M, -1.2), (-REAR_M, -1.2)])
    ground, off = free_ground(width_m), []
    for at, heading in zip(rear, shunt.heading, strict=True):
        turn = np.array([[math.cos(heading), -math.sin(heading)], [math.sin(heading), math.cos(heading)]])
        body = shapely.segmentize(shapely.Polygon(corners @ turn.T + at), 0.05)
        points = shapely.points(shapely.get_coordinates(body))
        inside = shapely.covers(ground, points)
        edge = shapely.distance(ground.boundary, points)
        off.append(np.where(inside, -edge, edge).max())
    assert max(off) <= shunt.outside_m + 0.01
    assert max(off) == pytest.approx(shunt.outside_m, abs=0.03)


def test_arcs_added_up_are_the_way_driven_in_small_steps() -> None:
    moves = ((5.5, 0.0, 0.4), (-5.5, 0.4, 0.9), (8.25, 0.9, 1.7))
    x = y = heading = 0.0
    step = 1e-4
    for radius, first, last in moves:
        for _ in range(round((last - first) * abs(radius) / step)):
            turned = step / abs(radius)
            x += math.copysign(step, radius) * math.cos(heading + turned / 2.0)
            y += math.copysign(step, radius) * math.sin(heading + turned / 2.0)
            heading += turned
    assert sum(arc_along(*move) for move in moves) == pytest.approx(x, abs=1e-3)
    assert sum(arc_across(*move) for move in moves) == pytest.approx(y, abs=1e-3)


def test_where_one_may_stand_a_turn_too_tight_is_shunted_with_a_spotter() -> None:
    assert told(junction(6.0, stated_m=1.0))[0] == BLOCKED
    assert told(junction(6.0, stated_m=1.0, stop=True))[0] == CAUTION
    part = room(junction(6.0, stated_m=1.0, stop=True))
    assert part.outcome.control == "shunt"
    assert np.asarray(part.outcome.controlled).all()


def test_one_go_is_kept_where_it_does() -> None:
    case = junction(7.15, stated_m=1.0, stop=True)
    turns = check_turns(case)
    row, state = corner(turns, "main", "side", LEFT), state_of(case)
    turns.judge(np.array([row]), np.array([state]))
    assert turns.shunt(row, state) is None
    assert turns.driven(row, state) == (float(turns.arc_m[row, state]), 0, 0.0)


def test_too_narrow_for_a_shunt_stays_blocked() -> None:
    assert told(junction(4.4, stated_m=1.0, stop=True))[0] == BLOCKED


def test_where_it_is_too_steep_to_stand_nothing_is_shunted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(ROAD, "grade_pct", 2.0)
    assert told(junction(6.0, stated_m=1.0, stop=True))[0] == CAUTION
    monkeypatch.setitem(ROAD, "grade_pct", 12.0)
    assert told(junction(6.0, stated_m=1.0, stop=True))[0] == BLOCKED


def test_what_nobody_measured_is_not_shunted_over() -> None:
    """A road without a width has no room; a junction without stated ground is shunted within the roads alone."""
    assert told(junction(6.0, stop=True, unmeasured=("side",)))[0] == UNKNOWN
    verdict, need_m = told(junction(6.0, stop=True))
    assert verdict == CAUTION
    assert need_m < 6.0


def test_in_reverse_the_mirrored_moves_are_driven_from_their_end() -> None:
    _, shunt = shunted(junction(6.0, stated_m=1.0, stop=True), travel="reverse")
    driven = shunt.driven(reverse=True)
    assert not driven[0][0].forward
    assert not driven[-1][0].forward
    assert [move.side for move, _ in driven] == [move.side for move in reversed(shunt.moves)]
    ends = [path[-1] for _, path in driven[:-1]]
    starts = [path[0] for _, path in driven[1:]]
    assert np.allclose(ends, starts)
    assert shunt.back_m(reverse=True) == pytest.approx(sum(m.length_m for m, _ in driven if not m.forward))


@pytest.mark.parametrize("width_m", [4.4, 5.2, 6.0, 6.8])
def test_ways_that_stick_out_more_than_is_wanted_change_nothing(width_m: float) -> None:
    """What is not looked at closely since it sticks out too much anyway is none of the ways kept."""
    case = junction(width_m, steering=("front", "all"), stop=True)
    corners = check_turns(case).corners
    found = 0
    for row, mover in itertools.product(np.flatnonzero(~corners.returns).tolist(), movers(case).values()):
        for share in (THREE, FIVE):
            best = Ground(corners, row, mover, -1.0).best(share)
            if best is None:  # straight on
                continue
            for more_m in (-0.2, -1e-6, 1e-6, 0.3):
                some = Ground(corners, row, mover, -1.0, best.outside_m + more_m).best(share)
                if some is None:
                    assert more_m < 0.3
                    continue
                found += 1
                assert some.outside_m == best.outside_m
                np.testing.assert_array_equal(some.xy, best.xy)
    assert found > 20


def test_both_hands_alike() -> None:
    left = shunted(junction(5.6, stated_m=1.0, stop=True))[1]
    right = shunted(junction(5.6, stated_m=1.0, stop=True, flip=-1.0), hand=RIGHT)[1]
    assert left.outside_m == pytest.approx(right.outside_m, abs=1e-6)
    assert [(m.forward, m.side) for m in left.moves] == [
        (m.forward, "left" if m.side == "right" else "right") for m in right.moves
    ]


def test_narrower_roads_and_wider_machines_are_never_better() -> None:
    needs = [told(junction(width, stated_m=1.0, stop=True)) for width in (6.8, 6.2, 5.6, 5.2, 4.8, 4.4)]
    assert [verdict for verdict, _ in needs] == sorted(verdict for verdict, _ in needs)
    wider: list[Any] = [
        told(junction(5.6, stated_m=1.0, stop=True, changes={"attitudes__0__width_z_m": [[0.0, width], [3.1, width]]}))[
            0
        ]
        for width in (2.4, 2.7, 3.0, 3.3)
    ]
    assert wider == sorted(wider)


def test_what_stands_in_the_way_of_the_moves_counts() -> None:
    case = junction(6.0, stated_m=1.0, stop=True)
    _, shunt = shunted(case)
    spot = shunt.area(movers(case)["front"]).representative_point()
    near = spot.x - ORIGIN[0], spot.y - ORIGIN[1]
    post = {"id": "post", "polygon": [(near[0] + x, near[1] + y) for x, y in ((0, 0), (0.2, 0), (0.2, 0.2))]}
    blocked = junction(6.0, stated_m=1.0, stop=True, obstacles=[post])
    assert told(blocked)[0] >= UNKNOWN


def test_a_shunt_asks_what_reversing_asks() -> None:
    with_shunt = {part.rule for part in answers(junction(6.0, stated_m=1.0, stop=True))}
    in_one_go = {part.rule for part in answers(junction(8.0, stated_m=1.0, stop=True))}
    assert with_shunt - in_one_go == {"reverse", "hold", "restart"}


@pytest.mark.parametrize("width_m", [5.2, 6.0])
def test_how_the_roads_are_drawn_changes_nothing(width_m: float) -> None:
    drawn = [told(junction(width_m, stated_m=1.0, stop=True, backwards=back)) for back in (False, True)]
    assert drawn[0][0] == drawn[1][0]
    assert drawn[0][1] == pytest.approx(drawn[1][1], abs=1e-6)


def test_without_the_other_gear_in_the_same_range_nothing_is_shunted() -> None:
    """The builders' machine has reverse in low range alone."""
    case = junction(6.0, stated_m=1.0, stop=True)
    turns = check_turns(case)
    row = corner(turns, "main", "side", LEFT)
    states = np.arange(len(case.configurations.states))
    turns.judge(np.array([row]), states)
    shunted_in = {case.configurations.states[state][:2] for state in states.tolist() if turns.shunted[row, state]}
    assert shunted_in == {("forward", "low"), ("reverse", "low")}


def passing(
    area: shapely.Geometry, east: dict[str, Any] | None = None, ends_m: tuple[float, float] = (8.0, 8.0), **layers: Any
) -> str:
    """Name what bars a shunt that sweeps an area where a road from the west goes on to the east, and one north."""
    told_road = GROUND | {"width_m": 6.0}
    roads = [
        told_road | {"id": "west", "xyz": [(-60, 0, 10), (0, 0, 10)]},
        told_road | {"id": "east", "xyz": [(0, 0, 10), (60, 0, 10)]} | (east or {}),
        told_road | {"id": "north", "xyz": [(0, 0, 10), (0, 60, 10)]},
    ]
    places = [{"id": "gate", "xy": (-60, 0), "kind": "gate"}, {"id": "yard", "xy": (0, 0), "kind": "junction"}]
    machine = sheet(axles__0__squash_m=0.01, axles__1__squash_m=0.01, gears__2__pull_kn=[[0.0, 60.0], [8.0, 40.0]])
    case = case_of(make_site(roads, places, **layers), machine)
    turns = check_turns(case)
    row = corner(turns, "west", "north", LEFT)
    configs = int(np.flatnonzero(~case.configurations.reverse)[0]), int(np.flatnonzero(case.configurations.reverse)[0])
    swept = shapely.transform(area, lambda xy: xy + ORIGIN)
    return bars_shunt(OtherRoads(case, turns.corners), (row, configs), lambda: swept, ends_m, near=True)


PAST, MOUTH = shapely.box(-8.0, -2.0, 12.0, 2.0), shapely.box(-8.0, -2.0, 3.2, 2.0)
CREST = {"id": "e", "kind": "excavation", "depth_m": 3.0, "soil": "type_c", "batter_deg": 90.0, "supported": False,
         "berm_height_m": 2.0, "inspected_on": "2026-03-02", "xy": [(-10.0, -4.0), (3.0, -4.0)]}  # fmt: skip


@pytest.mark.parametrize(
    ("area", "east", "layers", "bars"),
    [
        (PAST, {}, {}, ""),
        (PAST, {"cross_slope_pct": 15.0}, {}, "roads east"),
        (PAST, {"cross_slope_pct": None}, {}, "roads east"),
        (PAST, {"surface": "clay", "bearing_kpa": 50.0}, {}, "roads east"),
        (MOUTH, {"cross_slope_pct": 15.0}, {}, ""),  # it does not leave the mouth of the junction
        (MOUTH, {}, {"edges": [CREST]}, "edges e"),
        (MOUTH, {}, {"edges": [CREST | {"xy": [(-10.0, -9.0), (3.0, -9.0)]}]}, ""),
        (MOUTH, {}, {"edges": [CREST | {"depth_m": None}]}, "edges e"),
    ],
)
def test_what_a_shunt_touches_besides_its_roads(
    area: shapely.Geometry, east: dict[str, Any], layers: dict[str, Any], bars: str
) -> None:
    found = passing(area, east, **layers)
    assert found.startswith(bars)
    assert bool(found) == bool(bars)
