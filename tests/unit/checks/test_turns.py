"""Room to turn: every verdict once by numbers worked out by hand, what nobody knows, and what must only get worse.

The builders' machine in front steer: wheelbase 3.2 m, front end 1.6 m ahead of the front axle, rear end 4.6 m behind
it, 2.4 m wide, lock 30 degrees; its front axle cannot turn tighter than 3.2 / sin 30 = 6.4 m. Between straight roads
at a right angle the arc that begins c metres from the corner has the radius c; the shortest on the ladder that the
lock allows is 7 m. Bands of the site: plan 0.1 m. Margin 0.1 m a side, caution 0.25 m of road width.

With the arc's middle 7 m from both roads, the body's inner side comes nearest to it at the rear axle. Steady, that
is r = sqrt(7^2 - 3.2^2) - 1.2 = 6.226 - 1.2 = 5.026 m; a rear axle that had not begun to cut in would give 5.8 m. On
the line that halves the corner a point r from the arc's middle lies 7 - r / sqrt 2 from both roads: 3.45 m and 2.90 m.
A quarter turn ends nearly steady: dragged along in steps of 5 mm (`dragged`) it is 3.36 m. The road that leaves the
margin is then 2 (3.36 + 0.1) = 6.92 m wide, whatever its width is.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from tests.memory_site import ORIGIN, make_site
from tests.planning import case_of, sheet
from tests.unit.checks.half_turn import inside_radius_m, outside_radius_m
from tests.unit.checks.turn_cases import (
    BLOCKED,
    CAUTION,
    CLEAR,
    HEADER,
    LEFT,
    RIGHT,
    ROAD,
    UNKNOWN,
    answers,
    bend,
    bend_told,
    corner,
    junction,
    outside,
    room,
    state_of,
    told,
    worst_of_turn,
)
from travel.checks import check_turns
from travel.checks.answers import answers_for
from travel.checks.mover import Mover
from travel.checks.movers import movers
from travel.domain.verdict import Verdict
from travel.mechanics.turning import inner_edge_radius, outer_corner_radius, turn_road_width

NEED_M = 6.924


# --- verdicts ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width_m", "stated_m", "expected"),
    [
        (7.40, None, CLEAR),  # 7.40 - 6.92 - 0.10 = 0.38 of 0.25
        (7.15, None, CAUTION),  # 0.13
        (6.95, None, UNKNOWN),  # 0.03 left, band 0.10
        (6.70, None, UNKNOWN),  # 0.22 short: beyond the roads, where nobody said what is there
        (6.70, 3.0, BLOCKED),  # 0.22 short, more than the band; the ground stated is no wider than the road
        (5.00, 3.0, BLOCKED),
        (6.95, 3.0, UNKNOWN),  # stated, but within the band
        (7.15, 3.0, CAUTION),
        (7.40, 3.0, CLEAR),
    ],
)
def test_each_verdict(width_m: float, stated_m: float | None, expected: Verdict) -> None:
    verdict, need_m = told(junction(width_m, stated_m=stated_m))
    assert verdict == expected
    assert need_m == pytest.approx(NEED_M, abs=0.02)


def test_unknown_names_what_would_settle_it() -> None:
    part = room(junction(6.7))
    assert [name for name, where in part.outcome.missing.items() if where.any()] == ["turn_radius_m"]
    part = room(junction(6.7, stated_m=3.0))
    assert not any(where.any() for where in part.outcome.missing.values())


def test_stated_ground_wide_enough_to_turn_round_is_clear() -> None:
    """Outer front corner at full lock: R = 3.2 / tan 30 = 5.543 m; sqrt((5.543 + 1.2)^2 + 4.8^2) = 8.277 m.

    A stated radius of 9 m leaves 0.723 m beyond it: a 5 m road would be asked for 5 + 2 (0.1 - 0.723) = 3.75 m or less.
    """
    verdict, need_m = told(junction(5.0, stated_m=9.0))
    assert verdict == CLEAR
    assert need_m <= 5.0 + 2.0 * (0.1 - (9.0 - math.hypot(5.543 + 1.2, 4.8))) + 1e-3


def dragged(cut_m: float, trail_m: float) -> float:
    """Give the least distance, over both roads, that the machine needs from their middles: dragged in small steps.

    Written again and plainly: the point that trails is pulled along by the front axle on a stiff bar.
    """
    step = 0.005
    straight, turn = np.arange(0.0, 20.0, step), np.linspace(0.0, np.pi / 2, int(cut_m * np.pi / 2 / step))
    before = np.column_stack((straight - 20.0 - cut_m, np.zeros(len(straight))))
    arc = np.column_stack((cut_m * (np.sin(turn) - 1.0), cut_m * (1.0 - np.cos(turn))))
    front = np.vstack((before, arc, np.column_stack((np.zeros(len(straight)), straight + cut_m))))
    ahead, rear = np.empty_like(front), front[0] - (trail_m, 0.0)
    for number, place in enumerate(front):
        ahead[number] = (place - rear) / math.dist(place, rear)
        rear = place - trail_m * ahead[number]
    left, need = np.column_stack((-ahead[:, 1], ahead[:, 0])), 0.0
    for across in (1.2, -1.2):
        for along in np.linspace(-4.6, 1.6, 32):
            x, y = (front + along * ahead + across * left).T
            need = max(need, float(np.minimum(np.abs(y), np.where(y >= 0.0, np.abs(x), np.hypot(x, y))).max()))
    return need


def test_width_asked_for_agrees_with_a_machine_dragged_in_small_steps() -> None:
    need_m = dragged(7.0, 3.2)
    assert 2.90 < need_m < 3.45  # between no cutting in and steady
    assert 2.0 * (need_m + 0.1) == pytest.approx(NEED_M, abs=0.005)
    assert told(junction(7.0))[1] == pytest.approx(2.0 * (need_m + 0.1), abs=0.01)


# --- what nobody knows ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unmeasured", [("main",), ("side",), ("main", "side")])
def test_a_road_without_width_is_unknown(unmeasured: tuple[str, ...]) -> None:
    part = room(junction(8.0, stated_m=9.0, unmeasured=unmeasured))
    assert Verdict(int(part.verdict[0, 0])) == UNKNOWN
    assert part.outcome.missing["width_m"].all()


@pytest.mark.parametrize("layer", ["roads", "obstacles", "edges"])
def test_a_layer_nobody_looked_at_is_unknown(layer: str) -> None:
    case = junction(8.0, surveyed=[name for name in ("roads", "places", "obstacles", "edges") if name != layer])
    assert Verdict(int(room(case).verdict[0, 0])) == CLEAR  # the room itself
    assert [part.not_looked for part in answers(case) if part.not_looked] == [layer]
    assert worst_of_turn(case) == UNKNOWN


@pytest.mark.parametrize("unseen", ["main", "side"])
def test_a_layer_nobody_looked_at_on_either_road_is_unknown(unseen: str) -> None:
    case = junction(8.0, unseen={unseen: "obstacles"})
    for before, after in (("main", "side"), ("side", "main")):
        assert worst_of_turn(case, before=before, after=after) == UNKNOWN


def test_all_layers_looked_at_is_clear() -> None:
    assert worst_of_turn(junction(8.0, surveyed=["roads", "places", "obstacles", "edges"])) == CLEAR


# --- obstacles and edges ----------------------------------------------------------------------------------------


def post(x: float, y: float) -> list[dict[str, Any]]:
    """Give a thing 0.2 m square round a point."""
    return [{"id": "post", "polygon": [(x - 0.1, y - 0.1), (x + 0.1, y - 0.1), (x + 0.1, y + 0.1), (x - 0.1, y + 0.1)],
             "height_m": 2.0}]  # fmt: skip


def test_an_obstacle_where_the_machine_passes_is_blocked() -> None:
    """On the arc itself: its middle is at (-7, 7), a point of it at (-7 + 7 sin 45, 7 - 7 cos 45) = (-2.05, 2.05)."""
    case = junction(8.0, stated_m=3.0, obstacles=post(-2.05, 2.05))
    assert worst_of_turn(case) == BLOCKED
    assert worst_of_turn(junction(8.0, obstacles=post(-2.05, 2.05))) != CLEAR


@pytest.mark.parametrize(
    ("width_m", "stated_m", "expected"),
    [(20.0, None, UNKNOWN), (20.0, 3.0, BLOCKED), (8.0, 12.0, BLOCKED), (5.0, 9.0, BLOCKED)],
)
def test_neither_a_wide_road_nor_stated_ground_outweighs_what_stands_in_it(
    width_m: float, stated_m: float | None, expected: Verdict
) -> None:
    """A post 4.2 m off, where every arc passes: there are not 8.28 m round the corner's middle to turn in."""
    assert worst_of_turn(junction(width_m, stated_m=stated_m)) == CLEAR
    assert worst_of_turn(junction(width_m, stated_m=stated_m, obstacles=post(-3.0, 3.0))) == expected
    assert worst_of_turn(junction(width_m, stated_m=stated_m, obstacles=post(-11.0, 11.0))) == CLEAR


@pytest.mark.parametrize("half_m", [3.0, 8.0, 20.0, 70.0])
def test_an_obstacle_that_covers_the_corner_is_blocked(half_m: float) -> None:
    """Even where its outline lies beyond all that is swept."""
    square = [(-half_m, -half_m), (half_m, -half_m), (half_m, half_m), (-half_m, half_m)]
    over = [{"id": "hall", "polygon": square, "height_m": 3.0}]
    assert worst_of_turn(junction(8.0, stated_m=3.0, obstacles=over)) == BLOCKED


def test_an_edge_where_the_machine_passes_is_not_clear() -> None:
    crest = [{"id": "pit", "xy": [(-3.0, 3.0), (-2.0, 2.0)], "kind": "excavation", "depth_m": 2.0}]
    assert worst_of_turn(junction(8.0, edges=crest)) != CLEAR


def test_an_obstacle_the_machine_does_not_come_near_changes_nothing() -> None:
    assert told(junction(8.0, obstacles=post(20.0, 20.0))) == told(junction(8.0))


# --- monotone ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stated_m", [None, 2.0])
def test_a_wider_road_is_never_worse(stated_m: float | None) -> None:
    cases = [junction(width, stated_m=stated_m) for width in (3.0, 4.0, 5.0, 6.0, 6.5, 7.0, 7.2, 7.5, 9.0)]
    verdicts = [told(case)[0] for case in cases]
    assert verdicts == sorted(verdicts, reverse=True)
    assert verdicts[0] > verdicts[-1]
    sticks_out = [outside(case) for case in cases]
    assert sticks_out == sorted(sticks_out, reverse=True)


@pytest.mark.parametrize(
    ("start", "direction", "far_m"),
    [((-9.0, 9.0), (1.0, -1.0), 6.5), ((-8.0, -9.0), (0.0, 1.0), 8.0), ((9.0, 6.0), (-1.0, 0.0), 8.0)],
    ids=["inside the corner", "across the way in", "across the way out"],
)
def test_an_obstacle_nearer_is_never_better(
    start: tuple[float, float], direction: tuple[float, float], far_m: float
) -> None:
    """Each post stands nearer to the middle of what is swept, the last one in it or beside it."""
    verdicts, sticks_out = [], []
    for way in np.arange(0.0, far_m, 0.5):
        case = junction(8.0, obstacles=post(start[0] + way * direction[0], start[1] + way * direction[1]))
        verdicts.append(worst_of_turn(case))
        sticks_out.append(outside(case))
    assert verdicts[0] == CLEAR
    assert verdicts[-1] > CLEAR
    assert verdicts == sorted(verdicts)
    assert sticks_out == sorted(sticks_out)


def test_more_free_ground_is_never_worse() -> None:
    """Free ground inside the corner of 5 m roads, out to a growing distance: at first too little, then enough."""
    verdicts, sticks_out = [], []
    for far in (0.0, 1.0, 2.0, 2.8, 3.2, 4.0, 6.0, 12.0, 30.0):
        ground = [(-far, 0.0), (0.0, 0.0), (0.0, far), (-far, far)]
        areas = [{"id": "yard", "polygon": ground, "use": "free_ground"}] if far else []
        case = junction(5.0, areas=areas)
        verdicts.append(told(case)[0])
        sticks_out.append(outside(case))
    assert verdicts == sorted(verdicts, reverse=True)
    assert (verdicts[0], verdicts[-1]) == (UNKNOWN, CLEAR)
    assert sticks_out == sorted(sticks_out, reverse=True)


def test_a_larger_stated_radius_is_never_worse() -> None:
    asked = [told(junction(5.0, stated_m=radius)) for radius in (1.0, 3.0, 5.0, 6.0, 7.0, 8.0, 9.0, 12.0)]
    assert [verdict for verdict, _ in asked] == sorted((verdict for verdict, _ in asked), reverse=True)
    assert [need for _, need in asked] == sorted((need for _, need in asked), reverse=True)


# --- symmetry ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("widths", [(6.0, 6.0), (9.0, 5.0), (5.0, 9.0)])
def test_the_mirror_image_gives_the_same_numbers(widths: tuple[float, float]) -> None:
    left, right = junction(*widths), junction(*widths, flip=-1.0)
    for before, after in (("main", "side"), ("side", "main")):
        one = told(left, before=before, after=after, hand=LEFT)
        other = told(right, before=before, after=after, hand=RIGHT)
        assert one[0] == other[0]
        assert one[1] == pytest.approx(other[1], abs=1e-6)


@pytest.mark.parametrize("widths", [(6.0, 6.0), (9.0, 5.0), (7.2, 7.2)])
def test_roads_drawn_the_other_way_change_nothing(widths: tuple[float, float]) -> None:
    as_drawn, reversed_ = junction(*widths), junction(*widths, backwards=True)
    for before, after, hand in (
        ("main", "side", LEFT), ("main", "side", RIGHT), ("side", "main", LEFT), ("side", "main", RIGHT)
    ):  # fmt: skip
        for travel in ("forward", "reverse"):
            one, other = (
                told(case, before=before, after=after, hand=hand, travel=travel) for case in (as_drawn, reversed_)
            )
            assert one[0] == other[0]
            assert one[1] == pytest.approx(other[1], abs=1e-6)


def test_reverse_is_the_way_back() -> None:
    """What goes backwards into a corner sweeps what goes forwards out of it: the corner driven the other way.

    The roads differ in width, so that the ways there and back do: the rear axle cuts in after the corner.
    """
    case = junction(9.0, 5.0)
    backwards = outside(case, before="main", after="side", hand=LEFT, travel="reverse")
    forwards = outside(case, before="side", after="main", hand=RIGHT)
    assert backwards == pytest.approx(forwards, abs=1e-9)
    assert abs(backwards - outside(case, before="main", after="side", hand=LEFT)) > 0.02


# --- steering ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width_m", [4.0, 5.0, 6.0, 7.0])
def test_all_wheel_steering_needs_less_than_front(width_m: float) -> None:
    """Lock 50 degrees at both ends: 1.6 / sin 50 = 2.09 m, so the arc may begin 2.5 m off."""
    case = junction(width_m, steering=("front", "all"))
    assert movers(case)["all"].least_radius_m == pytest.approx(1.6 / math.sin(math.radians(50.0)))
    assert told(case, steering="all")[1] < told(case, steering="front")[1] - 1.0
    assert told(case, steering="all")[0] <= told(case, steering="front")[0]


def test_all_wheel_steering_of_one_lock_needs_less_than_front() -> None:
    changes = {"steering": [{"mode": "front", "lock_deg": 30.0}, {"mode": "all", "lock_deg": 30.0}]}
    case = junction(5.0, steering=("front", "all"), changes=changes)
    assert told(case, steering="all")[1] < told(case, steering="front")[1]


def test_a_smaller_lock_is_never_better() -> None:
    asked = [
        told(junction(6.5, changes={"steering": [{"mode": "front", "lock_deg": lock}]}))[1]
        for lock in (45.0, 35.0, 30.0, 25.0, 20.0, 15.0)
    ]
    assert asked == sorted(asked)
    assert asked[0] < asked[-1]


# --- a bend inside a road ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width_m", "expected"), [(7.40, CLEAR), (7.15, CAUTION), (6.95, UNKNOWN), (6.70, BLOCKED), (4.00, BLOCKED)]
)
def test_a_right_angle_inside_a_road_asks_for_what_a_junction_asks_for(width_m: float, expected: Verdict) -> None:
    """Inside a road the width is measured, and no place can be missing there: too narrow is blocked."""
    verdict, need_m = bend_told(bend(width_m))
    assert verdict == expected
    assert need_m == pytest.approx(NEED_M, abs=0.02)


def test_a_bend_knows_no_direction_of_drawing_and_no_hand() -> None:
    asked = [
        bend_told(bend(6.5, backwards=backwards, flip=flip), hand=flip)
        for backwards in (False, True)
        for flip in (1.0, -1.0)
    ]
    assert len({verdict for verdict, _ in asked}) == 1
    assert np.ptp([need for _, need in asked]) < 1e-6


def test_a_slight_bend_is_no_corner() -> None:
    """15 degrees at one vertex; 25 degrees is one."""
    counts = []
    for degrees in (15.0, 25.0):
        end = (40.0 * math.cos(math.radians(degrees)), 40.0 * math.sin(math.radians(degrees)))
        road = ROAD | {"id": "r", "xy": [(-40.0, 0.0), (0.0, 0.0), end], "width_m": 6.0}
        counts.append(len(check_turns(case_of(make_site([road], header=HEADER), sheet())).corners))
    assert counts == [0, 2]


# --- the sweep itself -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("radius_m", [6.4, 7.0, 9.0, 12.0, 16.0])
@pytest.mark.parametrize(("trail_m", "front_m", "rear_m"), [(3.2, 4.8, 1.4), (1.6, 3.2, 3.0)], ids=["front", "all"])
def test_a_half_turn_ends_steady(radius_m: float, trail_m: float, front_m: float, rear_m: float) -> None:
    """The circles of a steady turn: by hand for 7 m and front steer, inside 5.026 m, outside 8.842 m.

    ``front_m`` and ``rear_m`` are how far the ends of the body lie from the point that trails.
    """
    mover = Mover(trail_m=trail_m, front_x_m=1.6, rear_x_m=-4.6, width_m=2.4, least_radius_m=radius_m - 1e-6)
    abreast_m = math.sqrt(radius_m**2 - trail_m**2)
    outer_m = max(outer_corner_radius(abreast_m, 2.4, end) for end in (front_m, rear_m))
    assert inside_radius_m(radius_m, mover) == pytest.approx(inner_edge_radius(abreast_m, 2.4), abs=0.03)
    assert outside_radius_m(radius_m, mover) == pytest.approx(outer_m, abs=0.03)


def test_the_circles_by_hand() -> None:
    """sqrt(49 - 10.24) = 6.226; 6.226 - 1.2 = 5.026; sqrt(7.426^2 + 4.8^2) = sqrt(55.14 + 23.04) = 8.842."""
    mover = Mover(trail_m=3.2, front_x_m=1.6, rear_x_m=-4.6, width_m=2.4, least_radius_m=6.4)
    assert inside_radius_m(7.0, mover) == pytest.approx(5.026, abs=0.03)
    assert outside_radius_m(7.0, mover) == pytest.approx(8.842, abs=0.03)


# --- the formula ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("road_m", "outside_m", "margin_m", "by_hand_m"),
    [
        (5.0, 0.86, 0.1, 6.92),  # 5 + 2 (0.86 + 0.1)
        (4.0, 0.25, 0.1, 4.7),  # 4 + 2 0.35
        (8.0, -0.5, 0.1, 7.2),  # room left: 8 - 2 0.4
        (6.0, -0.1, 0.1, 6.0),  # exactly the margin left: the road as it is
    ],
)
def test_road_width_by_hand(road_m: float, outside_m: float, margin_m: float, by_hand_m: float) -> None:
    assert turn_road_width(road_m, outside_m, margin_m) == pytest.approx(by_hand_m)


def test_what_the_rule_says_put_through_its_formula_gives_its_demand() -> None:
    outcome = room(junction(6.5, stated_m=2.0)).outcome
    terms = {name: float(np.asarray(value).ravel()[0]) for name, value in outcome.terms.items()}
    assert turn_road_width(**terms) == pytest.approx(float(np.asarray(outcome.demand)[0, 0]))


# --- what is no room --------------------------------------------------------------------------------------------


def test_a_circle_stated_free_does_not_stand_in_for_an_arc_that_cannot_be_driven() -> None:
    """A road that comes back at 160 degrees: no arc as wide as the lock leads from the one middle line to the other."""
    lines = {"main": [(-60.0, 0.0), (0.0, 0.0)], "on": [(0.0, 0.0), (60.0, 0.0)]}
    angle = math.radians(160.0)
    lines["back"] = [(0.0, 0.0), (60.0 * math.cos(angle), 60.0 * math.sin(angle))]
    roads = [ROAD | {"id": name, "xy": line, "width_m": 4.0} for name, line in lines.items()]
    places = [
        {"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"},
        {"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 9.0},
    ]
    case = case_of(make_site(roads, places, header=HEADER), sheet())
    assert told(case, before="main", after="back")[0] == BLOCKED


def test_a_road_on_another_level_is_no_room() -> None:
    """A short road on from the junction, and a bridge that leads from its end back over the corner."""

    def told_with(level: int) -> Verdict:
        lines: dict[str, Any] = {
            "main": [(-60.0, 0.0), (0.0, 0.0)], "on": [(0.0, 0.0), (20.0, 0.0)], "side": [(0.0, 0.0), (0.0, 60.0)],
            "over": [(20.0, 0.0), (20.0, 26.0), (-30.0, -24.0)],
        }  # fmt: skip
        roads = [ROAD | {"id": name, "xy": line, "width_m": 6.0} for name, line in lines.items()]
        roads[-1]["level"] = level
        places = [
            {"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"},
            {"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 1.0},
        ]
        return told(case_of(make_site(roads, places, header=HEADER), sheet()))[0]

    assert told_with(1) == BLOCKED


@pytest.mark.parametrize("first", ["low", "high"])
def test_bends_one_above_the_other_have_a_room_each_whichever_is_asked_first(first: str) -> None:
    """Two floors drawn alike: 12 m of road on the one, 4 m on the other, where nobody gets round."""
    bends = {"low": [(-50.0, 0.0), (0.0, 0.0), (0.0, 50.0)], "high": [(-40.0, 0.0), (0.0, 0.0), (0.0, 40.0)]}
    roads = [ROAD | {"id": name, "xy": line, "width_m": wide, "level": level}
             for (name, line), wide, level in zip(bends.items(), (12.0, 4.0), (0, 1), strict=True)]  # fmt: skip
    case = case_of(make_site(roads, header=HEADER), sheet())
    turns, states = check_turns(case), np.array([state_of(case)])
    rows = sorted(range(len(turns.corners)), key=lambda row: turns.name(row)[0] != first)
    found = {turns.name(row)[0]: int(turns.parts(np.array([row]), states)[0].verdict[0, 0]) for row in rows}
    assert found == {"low": CLEAR, "high": BLOCKED}


@pytest.mark.parametrize("steering", ["front", "all"])
@pytest.mark.parametrize("more_m", [1.6, 1.8, 2.0, 2.2])
@pytest.mark.parametrize("depth_m", [8.0, 50.0])
def test_a_deep_crest_is_kept_off_from_as_far_as_it_asks(depth_m: float, more_m: float, steering: str) -> None:
    """A road that ends against another one, and a crest past that one which asks for 12 m or 75 m: front and tail swing
    out towards it."""
    away_m = 1.5 * depth_m + more_m
    lines: dict[str, Any] = {
        "main": [(-60.0, 0.0), (0.0, 0.0)], "side": [(0.0, 0.0), (0.0, 60.0)], "back": [(0.0, 0.0), (0.0, -60.0)]
    }  # fmt: skip
    crest = [(away_m, -60.0), (away_m, 60.0)]
    pit = {"id": "e", "kind": "excavation", "depth_m": depth_m, "batter_deg": 90.0, "soil": "type_c", "xy": crest}
    roads = [ROAD | {"id": name, "xy": line, "width_m": 12.0} for name, line in lines.items()]
    place = {"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 0.5}
    case = case_of(make_site(roads, [place], header=HEADER, edges=[pit]), sheet(), steering=("front", "all"))
    pieces = np.arange(len(case.survey.pieces))
    for answer in answers_for(case, pieces, np.ones_like(pieces), 0 * pieces, frozenset({"edge-standoff"})):
        assert answer.verdict[answer.applies()].max(initial=0) <= CAUTION
    turns = check_turns(case)
    area = turns.area(corner(turns, "main", "side", LEFT), state_of(case, steering=steering))
    assert area is not None
    near = (
        shapely.distance(shapely.transform(area, lambda xy: xy - ORIGIN), shapely.LineString(crest)) - 0.1
        < 1.5 * depth_m
    )
    assert worst_of_turn(case, steering=steering) == (UNKNOWN if near else CLEAR)


@pytest.mark.parametrize(("away_m", "expected"), [(4.6, UNKNOWN), (9.0, CLEAR)])
def test_a_crest_beside_a_corner_is_kept_off_from_what_is_swept_on_the_road_too(
    away_m: float, expected: Verdict
) -> None:
    """8 m of road, the body's inner side 3.36 m from both middle lines; the trench asks a wheel to keep 2.25 m."""
    trench = {"id": "e", "kind": "trench", "depth_m": 1.5, "soil": "type_c", "batter_deg": 90.0, "supported": False,
              "xy": [(-20.0, away_m), (-away_m, away_m), (-away_m, 20.0)]}  # fmt: skip
    assert worst_of_turn(junction(8.0, stated_m=3.0, edges=[trench])) == expected


@pytest.mark.parametrize(("bearing_kpa", "named"), [(300.0, ["ground g"]), (550.0, ["ground g"]), (900.0, [])])
def test_ground_beside_a_corner_bears_what_the_wheels_ask_there_not_the_tyres_pressure_alone(
    bearing_kpa: float, named: list[str]
) -> None:
    """The hardest tyre has 450 kPa, but on the roads there up to 672 kPa are asked for."""
    inner = [(-12.0, 3.0), (-2.6, 3.0), (-2.6, 12.0), (-12.0, 12.0)]
    ground = [{"id": "g", "polygon": inner, "bearing_kpa": bearing_kpa, "bearing_wet_kpa": bearing_kpa}]
    part = room(junction(5.0, stated_m=20.0, ground=ground))
    assert [name for name, where in part.outcome.missing.items() if where.any()] == named
    assert part.verdict[0, 0] == (UNKNOWN if named else CLEAR)


@pytest.mark.parametrize(("level", "inside"), [(None, True), (1, False)])
def test_a_circle_stated_on_another_level_is_no_room(level: int | None, inside: bool) -> None:
    """A turning place at the end of a road beside the corner; where that road lies on a deck, it is not ground here."""
    roads = [
        ROAD | {"id": "main", "xy": [(-60.0, 0.0), (60.0, 0.0)], "width_m": 6.0},
        ROAD | {"id": "side", "xy": [(0.0, 0.0), (0.0, 60.0)], "width_m": 6.0},
        ROAD | {"id": "deck", "xy": [(-40.0, 30.0), (-8.0, 8.0)], "width_m": 6.0, "level": level},
    ]
    places: list[dict[str, Any]] = [
        {"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"},
        {"id": "round", "xy": (-8.0, 8.0), "kind": "turning", "turn_radius_m": 9.0},
    ]
    case = case_of(make_site(roads, places, header=HEADER), sheet())
    assert (told(case)[0] == CLEAR) == inside


@pytest.mark.parametrize("stated_m", [None, 1.0, 20.0])
@pytest.mark.parametrize("beside", [{}, {"obstacles": [{"id": "post", "xy": (-4.0, 4.0), "height_m": 1.0}]},
                                    {"ground": [{"id": "soft", "bearing_kpa": 100.0, "bearing_wet_kpa": 100.0,
                                                 "polygon": [(-12.0, 2.5), (-2.5, 2.5), (-2.5, 12.0)]}]}])  # fmt: skip
@pytest.mark.parametrize("width_m", [4.0, 6.0, 7.0, 7.2, 9.0])
def test_what_the_search_hears_is_the_worst_of_all_that_is_told(
    width_m: float, beside: dict[str, Any], stated_m: float | None
) -> None:
    turns = check_turns(junction(width_m, stated_m=stated_m, **beside))
    rows, states = np.arange(len(turns.corners)), np.arange(turns.worst.shape[1])
    turns.judge(rows)
    verdicts = np.stack([part.verdict for part in turns.parts(rows, states)])
    np.testing.assert_array_equal(turns.worst, verdicts.max(axis=0))
    np.testing.assert_array_equal(turns.unknowns, (verdicts == UNKNOWN).sum(axis=0))
