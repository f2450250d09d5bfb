"""Turning round in several moves: driven again step by step, against ground drawn by another library, and against ways
tried at random. And what turning round is asked besides room: the slope it stands across, in one go or in moves.

The builders' machine on front wheels turns its rear axle's middle on 3.2 / tan 30 = 5.543 m at full lock.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from tests.memory_site import ORIGIN, make_site
from tests.planning import case_of, plan_of, sheet
from tests.unit.checks.turn_cases import ROAD
from tests.unit.planning.remedy_cases import KNOWN, opens, question_of, straight
from tests.unit.planning.test_outlook import GROUND, place
from tests.unit.planning.test_shunted_plan import FRONT
from travel.checks import Case, Shunt, check_turns
from travel.checks.about import THREE, _About, _last
from travel.checks.mover import Mover
from travel.checks.movers import movers
from travel.checks.shunts import BEST, COARSE
from travel.checks.sweep import FEW, body_points
from travel.domain.plan import Remedy, TravelPlan
from travel.planning.remedy_list import remedies_of
from travel.rulebook import load_rulebook
from travel.writers.card import card_of

TRAIL_M = 3.2
LEAST_M = TRAIL_M / math.tan(math.radians(30.0))
WIDE_M = 6.0
HEADER = {"tolerance": {"height_m": 0.02, "width_m": 0.05, "grade_pct": 0.2, "cross_slope_pct": 0.2, "plan_m": 0.1}}


def dead_end(radius_m: float, width_m: float = WIDE_M, goes_on: bool = False, **layers: Any) -> Case:
    """Give a trip on a road that ends (or goes on) at a place with a radius of free ground, where it may stand."""
    known = {
        name: GROUND[name] for name in ("edge_left", "edge_right", "bearing_kpa", "bearing_wet_kpa", "passes_done")
    }
    roads = [ROAD | known | {"id": "in", "xy": [(-60.0, 0.0), (0.0, 0.0)], "width_m": width_m}]
    if goes_on:
        roads.append(ROAD | known | {"id": "on", "xy": [(0.0, 0.0), (60.0, 0.0)], "width_m": width_m})
    places = [
        {"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"},
        {"id": "end", "xy": (0.0, 0.0), "kind": "turning", "turn_radius_m": radius_m, "may_stop": True},
    ]
    return case_of(make_site(roads, places, header=HEADER, **layers), sheet(**FRONT))


def about(case: Case, travel: str = "forward") -> tuple[Shunt | None, Mover]:
    """Judge turning round at the end of the road that leads in; give how it is done in moves, if it is."""
    turns = check_turns(case)
    roads, corners = case.survey.site.layers["roads"].ids, turns.corners
    names = [roads[int(road)] for road in case.survey.network.link_road]
    row = next(r for r in np.flatnonzero(corners.returns) if names[int(corners.edge_in[r]) >> 1] == "in")
    state = next(n for n, s in enumerate(case.configurations.states) if (s[0], s[2]) == (travel, "front"))
    turns.judge(np.array([row]), np.array([state]))
    return turns.shunt(int(row), state), movers(case)["front"]


def ground(radius_m: float, width_m: float, goes_on: bool = False) -> shapely.Geometry:
    """Give the free ground: the circle, and the road as far as it goes."""
    half = width_m / 2.0
    return shapely.union(shapely.Point(0, 0).buffer(radius_m, 256), shapely.box(-200, -half, 200 * goes_on, half))


@pytest.mark.parametrize(("radius_m", "goes_on"), [(7.0, False), (8.0, False), (6.5, True), (8.0, True)])
def test_the_moves_can_be_driven_and_stay_on_the_ground(radius_m: float, goes_on: bool) -> None:
    shunt, mover = about(dead_end(radius_m, goes_on=goes_on))
    assert shunt is not None
    ahead = np.column_stack((np.cos(shunt.heading), np.sin(shunt.heading)))
    rear = shunt.xy - ORIGIN - TRAIL_M * ahead
    assert np.abs(rear[[0, -1], 1]).max() < 0.03, "it begins and ends on the middle of the road"
    assert shunt.heading[0] == pytest.approx(0.0, abs=1e-9)
    assert abs(shunt.heading[-1]) == pytest.approx(math.pi, abs=1e-9)
    assert (np.diff(shunt.heading) * np.sign(shunt.heading[-1]) >= -1e-12).all(), "it turns on one way"
    for number, move in enumerate(shunt.moves):
        some = np.flatnonzero(shunt.number == number)
        step, turned = np.diff(rear[some], axis=0), np.diff(shunt.heading[some])
        middle = shunt.heading[some][:-1] + turned / 2.0
        along = step[:, 0] * np.cos(middle) + step[:, 1] * np.sin(middle)
        across = -step[:, 0] * np.sin(middle) + step[:, 1] * np.cos(middle)
        assert np.abs(across).max() < 1e-6, "no wheel slips sideways"
        assert ((along > 0.0) == move.forward).all()
        assert (np.abs(along) >= np.abs(turned) * LEAST_M * (1.0 - 1e-3)).all(), "no wheel beyond its lock"
        assert (turned > 0.0).all() == ((move.side == "left") == move.forward)
    swept = shapely.transform(shunt.area(mover), lambda xy: xy - ORIGIN)
    inside = ground(radius_m, WIDE_M, goes_on)
    assert swept.difference(inside.buffer(1e-6)).area < 1e-6
    assert shapely.distance(inside.boundary, swept) >= -shunt.outside_m - 0.03


def test_where_the_last_move_begins_by_hand() -> None:
    """Equal radii: 1 - cos a - cos a + cos b + cos b + 1 = 0, so cos a - cos b = 1; at 60 degrees b is 120."""
    last, can = _last(np.array([[1 / 3, 1 / 3]]), np.array([[5.0, -5.0, 5.0]]))
    assert can.all()
    assert last[0] == pytest.approx(2 / 3)
    assert not _last(np.array([[0.6, 0.6]]), np.array([[5.0, -5.0, 5.0]]))[1].any()


@pytest.mark.parametrize("radius_m", [7.0, 8.0])
def test_no_way_of_three_moves_tried_at_random_sticks_out_much_less(radius_m: float) -> None:
    shunt, mover = about(dead_end(radius_m))
    best = math.inf if shunt is None else shunt.outside_m
    inside = ground(radius_m, WIDE_M)
    rng = np.random.default_rng(3)
    least = math.inf
    for _ in range(400):
        a = rng.uniform(0.0, math.pi / 2.0)
        stops, start_m = (a, math.acos(math.cos(a) - 1.0)), rng.uniform(-12.0, 6.0)
        if _sticks_out(stops, start_m, mover, inside, 4, 2) < least:  # a few points of it stick out no more than all
            least = min(least, _sticks_out(stops, start_m, mover, inside))
    assert best <= max(least, -0.35) + 0.1, "deep inside ways are not told apart"


def _sticks_out(
    stops: tuple[float, float], start_m: float, mover: Mover, inside: shapely.Geometry, each: int = 13, side: int = 15
) -> float:
    """Give how far three moves of full lock stick out of the ground, by corners and sides of the body."""
    at, out = np.array([start_m, 0.0]), -math.inf
    x = np.linspace(mover.rear_x_m, mover.front_x_m, side) + mover.trail_m
    body = np.array([(along, side * mover.width_m / 2.0) for along in x for side in (-1.0, 1.0)])
    for low, high, radius in zip((0.0, *stops), (*stops, math.pi), (LEAST_M, -LEAST_M, LEAST_M), strict=True):
        heading = np.linspace(low, high, each)
        centre = at + radius * np.array([-math.sin(low), math.cos(low)])
        xy = centre + radius * np.column_stack((np.sin(heading), -np.cos(heading)))
        c, s = np.cos(heading)[:, None], np.sin(heading)[:, None]
        points = shapely.points(
            xy[:, :1] + body[:, 0] * c - body[:, 1] * s, xy[:, 1:] + body[:, 0] * s + body[:, 1] * c
        )
        far = shapely.distance(inside.boundary, points) * np.where(shapely.covers(inside, points), -1.0, 1.0)
        out, at = max(out, float(far.max())), xy[-1]
    return out


@pytest.mark.parametrize("radius_m", [7.0, 9.0])
def test_posts_are_asked_of_the_best_ways_and_the_best_are_the_same(radius_m: float) -> None:
    """Posts round the place: of the ways that stick out least each is as it is when all are asked, and no other is."""
    rng = np.random.default_rng(4)
    for _ in range(3):
        angle, far = rng.uniform(-2.0, 2.0, 6), radius_m + rng.uniform(-2.5, 0.5, 6)
        spots = np.column_stack((far * np.cos(angle), far * np.sin(angle))).tolist()
        case = dead_end(
            radius_m, obstacles=[{"id": f"o{n}", "xy": tuple(xy), "height_m": 1.0} for n, xy in enumerate(spots)]
        )
        corners, mover = check_turns(case).corners, movers(case)["front"]
        yard = _About(
            corners, int(np.flatnonzero(corners.returns & (corners.x_m > ORIGIN[0] - 1.0))[0]), mover, -1.0, np.inf
        )
        ways = yard.ways(THREE, True)
        all_asked, few_asked = (
            yard._outside(ways, COARSE, body_points(mover)[FEW], np.inf, most) for most in (None, BEST)
        )
        assert (few_asked <= all_asked).all()
        assert (few_asked < all_asked - 0.1).any(), "posts were in the way of some that nobody asked"
        best, same = (np.argsort(yard.rank(ways, outside), kind="stable")[:BEST] for outside in (all_asked, few_asked))
        assert best.tolist() == same.tolist()
        np.testing.assert_array_equal(all_asked[best], few_asked[best])


def test_past_the_end_of_a_road_only_stated_ground_counts() -> None:
    """A road 14 m wide has room enough for the moves where it goes on, and none past its end but what is stated."""
    on, _ = about(dead_end(1.0, width_m=14.0, goes_on=True))
    assert on is not None
    ends, mover = about(dead_end(1.0, width_m=14.0))
    assert ends is not None
    swept = shapely.transform(ends.area(mover), lambda xy: xy - ORIGIN)
    assert swept.bounds[2] <= 1.0, "the road before its end, and the circle"
    assert shapely.transform(on.area(mover), lambda xy: xy - ORIGIN).bounds[2] > 1.0


def test_in_reverse_it_is_driven_from_its_end_back() -> None:
    one, two = (about(dead_end(8.0), travel)[0] for travel in ("forward", "reverse"))
    assert one is not None
    assert two is not None
    driven = two.driven(reverse=True)
    assert not driven[0][0].forward
    assert np.allclose(driven[0][1][0], one.xy[one.number == len(one.moves) - 1][-1])
    forwards = sum(move.length_m for move in one.moves if move.forward)
    assert two.back_m(reverse=True) == pytest.approx(forwards), "what is driven on, is backed"


# --- plans ------------------------------------------------------------------------------------------------------


def planned(radius_m: float = 8.0, road: dict[str, Any] | None = None, end: dict[str, Any] | None = None,
            rise_pct: float = 0.0, **layers: Any) -> TravelPlan:  # fmt: skip
    """Plan to a pick point at the end of a road and back; the machine's outer circle is 8.28 m."""
    z = 10.0 + 0.6 * rise_pct
    roads = [GROUND | {"id": "R", "xyz": [(0, 0, 10.0), (60, 0, z)], "width_m": WIDE_M} | (road or {})]
    places = [
        place("G", 0, 0, "gate", may_stop=True),
        place("P", 60, 0) | {"kind": "pick_point", "may_stop": True, "turn_radius_m": radius_m} | (end or {}),
    ]
    only_forwards = {"view": [{"sector_deg": [0.0, 360.0], "kind": "clear"}]}
    return plan_of(
        make_site(roads, places, header=HEADER, **layers), "G", "P", sheet(**(FRONT | only_forwards)), with_return=True
    )


def moves(plan: TravelPlan) -> list[int]:
    """Give the number of moves of each time the machine turns round."""
    return [len(turn.moves) for turn in plan.turns if turn.kind == "turn_round"]


def test_the_plan_turns_round_in_moves_with_a_spotter_and_takes_its_time() -> None:
    plan = planned()
    assert (plan.outcome, plan.verdict) == ("way", "caution")
    (turn,) = (turn for turn in plan.turns if turn.kind == "turn_round")
    assert (turn.trip, turn.place, turn.room_m, turn.needed_m) == ("back", "P", 8.0, None)
    assert len(turn.moves) in (2, 3, 5)
    flags = {finding.flag: finding for finding in plan.findings}
    assert {("turn", "shunt"), ("reverse", "spotter")} <= {(flags[f].rule, flags[f].control) for f in turn.flags}
    one_go = planned(radius_m=12.0)
    assert moves(one_go) == [0]
    (step,) = (s for _, trip in card_of(plan, load_rulebook()).trips for s in trip if s.order.startswith("TURN"))
    assert sum(line.startswith(("1  ", "2  ", "3  ")) for line in step.lines) == min(len(turn.moves), 3)
    assert any("middle of the place" in line for line in step.lines)
    assert step.helper
    assert step.picture_svg


@pytest.mark.parametrize(
    "changes",
    [
        {"radius_m": 5.0},
        {"end": {"may_stop": False}},
        {"end": {"kind": "waiting"}},
        {"obstacles": [{"id": f"o{x}{y}", "xy": (x, y), "height_m": 1.0} for x in (50, 54, 58, 62) for y in (4, -4)]},
        {"people": [{"id": "p", "polygon": [(52, -6), (64, -6), (64, -3.5), (52, -3.5)], "kind": "work_area"},
                    {"id": "q", "polygon": [(52, 6), (64, 6), (64, 3.5), (52, 3.5)], "kind": "work_area"}]},
        {"closures": [{"id": "c", "polygon": [(52, -6), (64, -6), (64, -3.5), (52, -3.5)]},
                      {"id": "d", "polygon": [(52, 6), (64, 6), (64, 3.5), (52, 3.5)]}]},
        {"ground": [{"id": "g", "polygon": [(52, -6), (64, -6), (64, -3.5), (52, -3.5)], "bearing_kpa": 20.0},
                    {"id": "h", "polygon": [(52, 6), (64, 6), (64, 3.5), (52, 3.5)], "bearing_kpa": 20.0}]},
        {"rise_pct": 12.0},
    ],
    ids=["small", "no stop", "not a place for it", "obstacles", "people", "closed", "soft", "slope"],
)  # fmt: skip
def test_what_bars_the_moves(changes: dict[str, Any]) -> None:
    assert moves(planned()) != []
    assert moves(planned(**changes)) == []


# --- the slope it stands across ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rise_pct", "stated", "said"),
    [
        (2.0, {}, "clear"),
        (7.0, {}, "caution"),
        (8.0, {}, "unknown"),
        (11.0, {}, None),
        (11.0, {"slope_pct": 0.5, "cross_slope_pct": 0.5}, "clear"),
        (0.0, {"slope_pct": 5.0, "cross_slope_pct": 5.0}, "caution"),
        (11.0, {"slope_pct": 0.5}, None),
    ],
)
def test_the_whole_slope_is_stood_across_in_one_go(rise_pct: float, stated: dict[str, float], said: str | None) -> None:
    """The sheet permits 8 % across; a place whose slope is stated whole has its own, else it is the road's."""
    plan = planned(radius_m=14.0, rise_pct=rise_pct, end=stated)
    turned = [turn for turn in plan.turns if turn.kind == "turn_round"]
    assert bool(turned) == (said is not None)
    if said is None:
        assert any("across the slope of the road" in doubt or "turning round" in doubt for doubt in plan.doubts)
        return
    flags = {finding.flag: finding for finding in plan.findings}
    found = [flags[flag].verdict for flag in turned[0].flags if flags[flag].rule == "side-slope"]
    assert found == ([] if said == "clear" else [said])


# --- what would open it -----------------------------------------------------------------------------------------


def offered(radius_m: float, **layers: Any) -> dict[tuple[str, str], Remedy]:
    """Give the remedies by field and feature for a machine without reverse that has to come back from a dead end."""
    places = [
        {"id": "gate", "xy": (0, 0), "kind": "gate", "may_stop": True},
        {"id": "pick", "xy": (100, 0), "kind": "pick_point", "turn_radius_m": radius_m,
         "slope_pct": 0.0, "cross_slope_pct": 0.0},
    ]  # fmt: skip
    site = make_site([straight()], places, **layers)
    gears = [
        gear for gear in sheet().model_dump(mode="json", exclude_none=True)["gears"] if gear["travel"] == "forward"
    ]
    question = question_of(site, gears=gears)
    assert not opens(question, ())
    found = remedies_of(question)
    assert all(remedy.proven for remedy in found)
    return {(part.field, part.feature): remedy for remedy in found for part in remedy.amendments}


def test_a_greater_circle_is_offered_and_no_more_than_the_machine_needs() -> None:
    remedy = offered(6.0)["turn_radius_m", "pick"]
    (part,) = remedy.amendments
    needed = case_of(make_site([straight()], []), sheet(**KNOWN)).outer_radius_m["front"]
    assert part.exact == pytest.approx(needed, abs=1e-3)
    assert part.value == math.ceil(needed / 0.5) * 0.5


def test_what_stands_in_the_circle_is_offered_to_be_taken_away() -> None:
    assert {feature for _, feature in offered(30.0, obstacles=[{"id": "o", "xy": (100.0, 4.5)}])} == {"o"}
