"""Corners one behind the other: clear one by one, but with too little road between them to be driven one by one."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
import shapely

from tests.memory_site import make_site
from tests.planning import case_of, plan_of, sheet
from tests.unit.checks.test_other_roads import FIRM, TOLD
from tests.unit.checks.turn_cases import HEADER, ROAD
from travel.checks import Case, as_one, check_turns
from travel.checks.as_one import sweep_both
from travel.checks.lies_beside import too_near
from travel.checks.movers import movers
from travel.checks.turns import Turns
from travel.domain.plan import TravelPlan
from travel.domain.request import Acceptance
from travel.domain.site import Site
from travel.domain.verdict import Verdict
from travel.planning.trips import prepare
from travel.routing import Graph
from travel.routing.closeness import CAP_MM, NOTHING_BEHIND, driven
from travel.routing.cornering import CornerCosts
from travel.routing.reach import reached

SAID: dict[str, Any] = ROAD | FIRM | {"traffic": "none", "lit": True, "sight_m": 100.0, "passes_done": 0}
FRONT = [{"mode": "front", "lock_deg": 30.0, "top_kmh": 25.0}]
TOO_SHORT = "corner before too near"


def two_streets(apart_m: float, width_m: float = 6.0, round_about: bool = False) -> Site:
    """Give two streets side by side, joined at x = 0 by a short one; and far away by a long one."""
    roads = _roads(apart_m, width_m)
    if round_about:
        far = [(60.0, 0.0), (120.0, -60.0), (180.0, 0.0), (120.0, 60.0), (60.0, apart_m)]
        roads.append(SAID | {"width_m": width_m, "id": "far", "xy": far})
    return make_site(roads, _places(apart_m), header=HEADER)


def _roads(apart_m: float, width_m: float) -> list[dict[str, Any]]:
    said = SAID | {"width_m": width_m}
    return [
        said | {"id": "west", "xy": [(-60.0, 0.0), (0.0, 0.0)]},
        said | {"id": "east", "xy": [(0.0, 0.0), (60.0, 0.0)]},
        said | {"id": "link", "xy": [(0.0, 0.0), (0.0, apart_m)]},
        said | {"id": "west2", "xy": [(-60.0, apart_m), (0.0, apart_m)]},
        said | {"id": "east2", "xy": [(0.0, apart_m), (60.0, apart_m)]},
    ]


def _places(apart_m: float, stated_m: float = 9.0) -> list[dict[str, Any]]:
    return [
        {"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"},
        {"id": "pick", "xy": (-60.0, apart_m), "kind": "pick_point"},
        {"id": "on", "xy": (60.0, apart_m), "kind": "waiting"},
        {"id": "j1", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": stated_m},
        {"id": "j2", "xy": (0.0, apart_m), "kind": "junction", "turn_radius_m": stated_m},
    ]


def plan(site: Site, goal: str) -> TravelPlan:
    return plan_of(site, "gate", goal, sheet(**TOLD, steering=FRONT))


@pytest.mark.parametrize("goal", ["pick", "on"])
@pytest.mark.parametrize(
    ("apart_m", "verdict"), [(3.0, "unknown"), (8.0, "unknown"), (12.0, "unknown"), (14.0, "clear"), (20.0, "clear")]
)
def test_two_corners_too_close_are_not_known_to_be_driven(apart_m: float, verdict: str, goal: str) -> None:
    found = plan(two_streets(apart_m), goal)
    assert (found.outcome, found.verdict) == ("way", verdict)
    missing = [finding for finding in found.findings if TOO_SHORT in finding.missing]
    assert [finding.where.place for finding in missing] == (["j2"] if verdict == "unknown" else [])
    assert all(finding.acceptable for finding in missing)
    assert {finding.reason for finding in missing} <= {"corners_close"}


def test_a_way_round_is_taken_where_there_is_one() -> None:
    found = plan(two_streets(8.0, 8.0, round_about=True), "pick")
    assert found.verdict == "clear"
    assert [leg.road for leg in found.legs if leg.road in ("link", "far")] == ["far"]


def test_two_bends_of_one_road_that_overlap_are_unknown() -> None:
    def road(apart_m: float) -> Site:
        line = [(-60.0, 0.0), (0.0, 0.0), (0.0, apart_m), (-60.0, apart_m)]
        places = [
            {"id": "gate", "xy": line[0], "kind": "gate"},
            {"id": "pick", "xy": line[-1], "kind": "pick_point"},
        ]
        return make_site([SAID | {"id": "r", "xy": line, "width_m": 12.0}], places, header=HEADER)

    assert plan(road(8.0), "pick").verdict == "unknown"
    assert plan(road(16.0), "pick").verdict == "clear"


def test_a_bend_where_two_roads_join_is_one() -> None:
    roads = [SAID | {"id": "a", "xy": [(-60.0, 0.0), (0.0, 0.0)]}, SAID | {"id": "b", "xy": [(0.0, 0.0), (0.0, 60.0)]}]
    places: list[dict[str, Any]] = [
        {"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"},
        {"id": "pick", "xy": (0.0, 60.0), "kind": "pick_point"},
        {"id": "j", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 9.0},
    ]
    assert plan(make_site(roads, places, header=HEADER), "pick").verdict == "clear"


@pytest.mark.parametrize(("apart_m", "there"), [(8.0, False), (20.0, True)])
def test_what_is_reached_is_what_is_planned(apart_m: float, there: bool) -> None:
    case = case_of(two_streets(apart_m), sheet(**TOLD, steering=FRONT))
    graph, network = prepare(case).graph, case.survey.network
    start, goal = network.place_node["gate"], network.place_node["pick"]
    assert (goal in reached(graph, start, Verdict.CAUTION, {goal})) == there
    assert goal in reached(graph, start, Verdict.UNKNOWN, {goal})


def graph_of(spots: dict[int, tuple[tuple[int, int, int], ...]], asks: dict[int, tuple[int, int, int, int]]) -> Graph:
    """Give a graph of links of 10 m, one state; corners ask for road before and after, and have arcs [mm]."""
    corners = CornerCosts(cost=[[0]] * 8, spots=spots, _asks={(row, 0): asked for row, asked in asks.items()})
    return cast(Graph, SimpleNamespace(corners=corners, length_mm=[10_000] * 8))


def test_road_behind_a_corner_is_counted_over_straight_junctions_and_back() -> None:
    graph = graph_of({}, {5: (2_000, 4_000, 2_000, 0)})
    left, short = driven(graph, NOTHING_BEHIND, "drive", 5, (0, 0))
    assert (left[0], short) == (6_000, ())
    assert driven(graph, left, "drive", None, (2, 0)) == ((16_000, 16_000, 0, 5), ())  # straight on
    assert driven(graph, (500, 500, 0, -1), "drive", 5, (0, 0)) == ((6_000, 6_000, 0, 5), ((5, 1_500),))
    assert driven(graph, left, "travel_change", None, (1, 0))[0][0] == 10_000  # where it stood is where it begins
    assert driven(graph, (-1_000, -1_000, 0, 5), "turn_round", None, (1, 0))[0][0] == CAP_MM


@pytest.mark.parametrize(
    ("at_mm", "lacking"), [(1_500, 0), (2_500, 3_000), (5_500, 0)], ids=["in its arcs", "half in them", "after them"]
)
def test_a_bend_in_the_arcs_of_a_corner_is_driven_with_them_either_way(at_mm: int, lacking: int) -> None:
    asks = {5: (2_000, 4_000, 2_000, 0), 7: (1_500, 1_500, 1_500, 0)}
    graph = graph_of({4: ((7, at_mm, 100),), 5: ((7, 10_000 - at_mm, 100),)}, asks)
    _, short = driven(graph, NOTHING_BEHIND, "drive", 5, (4, 0))
    assert sum(mm for _, mm in short) == lacking
    left, short = driven(graph, NOTHING_BEHIND, "start", None, (5, 0))
    assert not short
    _, short = driven(graph, left, "drive", 5, (6, 0))
    assert bool(short) == (at_mm + 100 > 2_000 and at_mm < 3_500)


def test_a_corner_nobody_looked_at_shuts_nothing() -> None:
    graph = graph_of({4: ((7, 1_000, 100),)}, {7: (1_500, 1_500, 1_500, 0)})
    assert driven(graph, NOTHING_BEHIND, "drive", 5, (4, 0)) == ((10_000, 10_000, 0, -1), ())
    assert driven(graph, (-4_000, -4_000, 0, 7), "drive", 5, (0, 0)) == ((10_000, 10_000, 0, -1), ())


@pytest.mark.parametrize("kind", ["change", "travel_change"])
@pytest.mark.parametrize(
    ("asks", "on_mm", "lacking"),
    [((2_000, 5_000, 2_000, 0), 1_500, 500), ((2_000, 5_000, 2_000, 0), 2_000, 0), ((3_000, 4_000, 0, 0), 3_900, 100)],
    ids=["on its arcs", "where they end", "between its moves"],
)
def test_a_corner_is_over_where_the_machine_stands_to_change(
    kind: str, asks: tuple[int, int, int, int], on_mm: int, lacking: int
) -> None:
    graph = graph_of({}, {5: asks})
    graph.length_mm[4] = on_mm
    left, short = driven(graph, NOTHING_BEHIND, "drive", 5, (4, 0))
    assert not short
    assert driven(graph, left, kind, None, (6, 0), 0)[1] == (((5, lacking),) if lacking else ())
    assert not driven(graph, left, "drive", None, (6, 0), 0)[1]


def test_a_bend_at_the_very_end_of_a_road_counts() -> None:
    graph = graph_of({4: ((7, 0, 0),)}, {7: (1_500, 1_500, 1_500, 0)})
    assert driven(graph, (500, 500, 0, 5), "drive", None, (4, 0))[1] == ((7, 1_000),)


@pytest.mark.parametrize("back", [False, True])
def test_a_bend_just_behind_a_junction_is_part_of_its_turn(back: bool) -> None:
    """The turn is laid on the roads as drawn: where its arcs pass the bend whole, nothing else is driven there."""
    roads = [
        SAID | {"id": "west", "xy": [(-60.0, 0.0), (0.0, 0.0)]},
        SAID | {"id": "east", "xy": [(0.0, 0.0), (60.0, 0.0)]},
        SAID | {"id": "north", "xy": [(0.0, 0.0), (0.0, 1.5), (40.0, 41.5)]},
    ]
    ends: list[dict[str, Any]] = [
        {"id": "gate" if not back else "pick", "xy": (-60.0, 0.0), "kind": "gate"},
        {"id": "pick" if not back else "gate", "xy": (40.0, 41.5), "kind": "pick_point"},
        {"id": "far", "xy": (60.0, 0.0), "kind": "waiting"},
        {"id": "j", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 9.0},
    ]
    assert plan(make_site(roads, ends, header=HEADER), "pick").verdict == "clear"


# --- driven as one ----------------------------------------------------------------------------------------------


def both_of(apart_m: float, width_m: float, after: str, stated_m: float = 9.0) -> tuple[Turns, tuple[int, int], Any]:
    """Give the corners of a case, the two that lead by the short street, and what both sweep as one."""
    site = make_site(_roads(apart_m, width_m), _places(apart_m, stated_m), header=HEADER)
    turns = check_turns(case_of(site, sheet(**TOLD, steering=FRONT)))
    names = [turns.name(row)[0] for row in range(len(turns.corners))]
    rows = names.index("west > link"), names.index(f"link > {after}")
    turns.judge(np.array(rows), np.array([0]))
    cuts = turns.swept(np.array(rows), np.array([0]))[1][:, 0].tolist()
    return turns, rows, sweep_both(turns.corners, rows, (cuts[0], cuts[1]), movers(turns.case)["front"])


@pytest.mark.parametrize("after", ["west2", "east2"])
@pytest.mark.parametrize(("apart_m", "width_m"), [(14.0, 7.2), (15.0, 6.6), (19.0, 7.0)])
def test_what_both_sweep_is_driven_again_in_small_steps(apart_m: float, width_m: float, after: str) -> None:
    """The front axle on arcs of equal tangents, the rear axle drawn after it in steps of 5 mm; the ground by another
    library."""
    turns, rows, found = both_of(apart_m, width_m, after, stated_m=1.0)
    cuts = turns.swept(np.array(rows), np.array([0]))[1][:, 0]
    out = -1.0 if after == "west2" else 1.0
    line = [(-40.0, 0.0), (0.0, 0.0), (0.0, apart_m), (out * 40.0, apart_m)]
    front, step = _rounded(np.array(line), cuts), 0.005
    base = movers(turns.case)["front"].trail_m
    rear, track = front[0] - np.array([base, 0.0]), []
    for at in front:
        ahead = (at - rear) / np.hypot(*(at - rear))
        rear = at - base * ahead
        track.append((*rear, math.atan2(ahead[1], ahead[0])))
    mover = movers(turns.case)["front"]
    half = mover.width_m / 2.0
    body = np.array([(x + base, y) for x in np.linspace(mover.rear_x_m, mover.front_x_m, 61) for y in (-half, half)])
    lines = ([(-99, 0), (99, 0)], [(0, 0), (0, apart_m)], [(-99, apart_m), (99, apart_m)])
    roads = [shapely.LineString(points).buffer(width_m / 2.0, quad_segs=64) for points in lines]
    worst = -math.inf
    for x, y, heading in track[:: round(0.05 / step)]:
        c, s = math.cos(heading), math.sin(heading)
        points = shapely.points(x + body[:, 0] * c - body[:, 1] * s, y + body[:, 0] * s + body[:, 1] * c)
        out_of = [
            shapely.distance(road.boundary, points) * np.where(shapely.covers(road, points), -1.0, 1.0)
            for road in roads
        ]
        worst = max(worst, float(np.min(out_of, axis=0).max()))
    assert found is not None
    assert worst - 0.01 <= found.outside_m <= worst + 0.04


def _rounded(line: np.ndarray, cuts: np.ndarray) -> np.ndarray:
    """Give a line with its two corners rounded by arcs that begin and end at a distance, in steps of 5 mm."""
    parts, at = [], line[0]
    for number in (1, 2):
        before, after = (line[n] - line[number] for n in (number - 1, number + 1))
        before, after = before / np.hypot(*before), after / np.hypot(*after)
        start, end = line[number] + cuts[number - 1] * before, line[number] + cuts[number - 1] * after
        centre = start + end - line[number]  # a right angle
        angle = np.linspace(0.0, math.pi / 2.0, round(cuts[number - 1] * math.pi / 2.0 / 0.005))[:, None]
        parts += [np.linspace(at, start, round(float(np.hypot(*(start - at))) / 0.005) + 1)]
        parts += [centre + np.cos(angle) * (start - centre) + np.sin(angle) * (end - centre)]
        at = end
    return np.concatenate([*parts, np.linspace(at, line[3], 5000)])


def test_far_apart_both_stick_out_like_the_worse_of_them() -> None:
    for after in ("west2", "east2"):
        turns, rows, found = both_of(36.0, 6.0, after)
        alone = turns.swept(np.array(rows), np.array([0]))[0].max()
        assert found is not None
        assert found.outside_m == pytest.approx(alone, abs=0.06)
        assert as_one(turns, *rows, 0)


def test_in_reverse_it_is_the_way_back() -> None:
    turns, rows, _ = both_of(15.0, 6.0, "east2")
    states = turns.case.configurations.states
    reverse = next(n for n, state in enumerate(states) if state[0] == "reverse")
    names = [turns.name(row)[0] for row in range(len(turns.corners))]
    back = names.index("east2 > link"), names.index("link > west")
    turns.judge(np.array(back), np.array([reverse]))
    assert as_one(turns, *rows, 0) is True
    assert as_one(turns, *back, reverse) is True


def test_soft_sides_and_what_lies_there_bar_it() -> None:
    """At 14 m the arcs follow each other at once: half a metre in the mouths is free, a falling side asks for more."""
    site = two_streets(14.0, 6.0)
    case = case_of(site, sheet(**TOLD, steering=FRONT))
    assert _as_one(case) is True
    soft = make_site(
        [road | {"edge_left": "drop", "edge_right": "drop"} for road in _roads(14.0, 4.6)], _places(14.0), header=HEADER
    )
    assert not _as_one(case_of(soft, sheet(**TOLD, steering=FRONT)))
    ground = [{"id": "g", "polygon": [(-5, 3.05), (-3.05, 3.05), (-3.05, 5), (-5, 5)], "bearing_kpa": 20.0}]
    wet = make_site(_roads(14.0, 6.0), _places(14.0), header=HEADER, ground=ground)
    assert not _as_one(case_of(wet, sheet(**TOLD, steering=FRONT)))


def _as_one(case: Case) -> bool | None:
    turns = check_turns(case)
    names = [turns.name(row)[0] for row in range(len(turns.corners))]
    rows = names.index("west > link"), names.index("link > west2")
    turns.judge(np.array(rows), np.array([0]))
    return as_one(turns, *rows, 0)


@pytest.mark.parametrize(("known", "short"), [(None, True), (True, False), (False, True)])
def test_two_corners_that_follow_each_other_are_asked_about_as_one(known: bool | None, short: bool) -> None:
    """4 m behind the first corner the second one lacks 1 m by itself; looked at as one, that is what counts."""
    graph = graph_of({}, {5: (2_000, 4_000, 2_000, 6_000), 6: (3_000, 5_000, 2_000, 6_000)})
    asked = []

    def look(before: int, row: int, state: int) -> bool | None:
        asked.append((before, row, state))
        return known

    graph.corners.as_one = look
    graph.corners.at = {}
    left, _ = driven(graph, NOTHING_BEHIND, "drive", 5, (0, 0))
    left = (left[0] - 4_000, left[1] - 4_000, *left[2:])
    assert bool(driven(graph, left, "drive", 6, (2, 0))[1]) == short
    assert asked == [(5, 6, 0)]
    assert bool(driven(graph, left, "change", 6, (2, 0))[1]), "in another state it is not the same machine"
    far = (left[0] + 8_000, left[1] + 8_000, *left[2:])
    assert not driven(graph, far, "drive", 6, (2, 0))[1]
    assert len(asked) == 1, "in line again"


def test_who_accepts_it_gets_a_caution_with_the_reason_and_for_that_corner_alone() -> None:
    site = two_streets(8.0)
    (open_,) = (finding for finding in plan(site, "pick").findings if TOO_SHORT in finding.missing)
    accepted = (Acceptance(id=open_.id, reason="driven round both with a spotter on the day"),)
    found = plan_of(site, "gate", "pick", sheet(**TOLD, steering=FRONT), accept_unknown=accepted)
    assert (found.outcome, found.verdict) == ("way", "caution")
    (told,) = (finding for finding in found.findings if TOO_SHORT in finding.missing)
    assert (told.verdict, told.accepted) == ("unknown", accepted[0].reason)
    other = plan_of(site, "gate", "on", sheet(**TOLD, steering=FRONT), accept_unknown=accepted)
    assert other.verdict == "unknown"


def test_of_three_corners_close_together_the_third_is_not_known() -> None:
    """The second was driven as one with the first, the third is asked to be far from both."""
    graph = graph_of({}, {row: (3_000, 5_000, 2_000, 6_000) for row in (5, 6, 7)})
    graph.corners.as_one = lambda before, row, state: True
    left, short = driven(graph, NOTHING_BEHIND, "drive", 5, (0, 0))
    left, more = driven(graph, left, "drive", 6, (2, 0))
    assert not (*short, *more)
    assert driven(graph, left, "drive", 7, (4, 0))[1]
    assert not driven(graph, (left[0] + 4_000, left[1] + 4_000, *left[2:]), "drive", 7, (4, 0))[1]


@pytest.mark.parametrize(("away_m", "passes"), [(9.0, True), (3.2, False)])
def test_a_crest_beside_the_short_road_bars_both_as_one(away_m: float, passes: bool) -> None:
    crest = {"id": "e", "kind": "excavation", "xy": [(away_m, 5.0), (away_m, 9.0)], "depth_m": 3.0, "soil": "type_c",
             "batter_deg": 90.0, "supported": False, "inspected_on": "2026-01-14"}  # fmt: skip
    turns, rows, found = both_of(14.0, 6.0, "west2")
    case = case_of(make_site(_roads(14.0, 6.0), _places(14.0), header=HEADER, edges=[crest]),
                   sheet(**TOLD, steering=FRONT))  # fmt: skip
    assert found is not None
    named = too_near(case, found.area)
    assert (named == "") == passes
    with_crest = check_turns(case)
    with_crest.judge(np.array(rows), np.array([0]))
    assert (as_one(with_crest, *rows, 0) is True) == passes
    assert as_one(turns, *rows, 0) is True
