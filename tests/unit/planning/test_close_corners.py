"""Corners one behind the other: clear one by one, but with too little road between them to be driven one by one."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.memory_site import make_site
from tests.planning import case_of, plan_of, sheet
from tests.unit.checks.test_other_roads import FIRM, TOLD
from tests.unit.checks.turn_cases import HEADER, ROAD
from travel.domain.plan import TravelPlan
from travel.domain.site import Site
from travel.domain.verdict import Verdict
from travel.planning.trips import prepare
from travel.routing import Graph
from travel.routing.closeness import CAP_MM, NOTHING_BEHIND, driven
from travel.routing.cornering import CornerCosts
from travel.routing.reach import reached

SAID: dict[str, Any] = ROAD | FIRM | {"traffic": "none", "lit": True, "sight_m": 100.0, "passes_done": 0}
FRONT = [{"mode": "front", "lock_deg": 30.0, "top_kmh": 25.0}]
TOO_SHORT = "roads too short behind the corner before"


def two_streets(apart_m: float, width_m: float = 6.0, round_about: bool = False) -> Site:
    """Give two streets side by side, joined at x = 0 by a short one; and far away by a long one."""
    said = SAID | {"width_m": width_m}
    roads = [
        said | {"id": "west", "xy": [(-60.0, 0.0), (0.0, 0.0)]},
        said | {"id": "east", "xy": [(0.0, 0.0), (60.0, 0.0)]},
        said | {"id": "link", "xy": [(0.0, 0.0), (0.0, apart_m)]},
        said | {"id": "west2", "xy": [(-60.0, apart_m), (0.0, apart_m)]},
        said | {"id": "east2", "xy": [(0.0, apart_m), (60.0, apart_m)]},
    ]
    places: list[dict[str, Any]] = [
        {"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"},
        {"id": "pick", "xy": (-60.0, apart_m), "kind": "pick_point"},
        {"id": "on", "xy": (60.0, apart_m), "kind": "waiting"},
        {"id": "j1", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 9.0},
        {"id": "j2", "xy": (0.0, apart_m), "kind": "junction", "turn_radius_m": 9.0},
    ]
    if round_about:
        roads.append(
            said | {"id": "far", "xy": [(60.0, 0.0), (120.0, -60.0), (180.0, 0.0), (120.0, 60.0), (60.0, apart_m)]}
        )
    return make_site(roads, places, header=HEADER)


def plan(site: Site, goal: str) -> TravelPlan:
    return plan_of(site, "gate", goal, sheet(**TOLD, steering=FRONT))


@pytest.mark.parametrize("goal", ["pick", "on"])
@pytest.mark.parametrize(
    ("apart_m", "verdict"), [(3.0, "unknown"), (8.0, "unknown"), (12.0, "unknown"), (20.0, "clear")]
)
def test_two_corners_too_close_are_not_known_to_be_driven(apart_m: float, verdict: str, goal: str) -> None:
    found = plan(two_streets(apart_m), goal)
    assert (found.outcome, found.verdict) == ("way", verdict)
    missing = [finding for finding in found.findings if TOO_SHORT in finding.missing]
    assert [finding.where.place for finding in missing] == (["j2"] if verdict == "unknown" else [])
    assert not any(finding.acceptable for finding in missing)
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
    assert (goal in reached(graph, start, Verdict.CAUTION)) == there
    assert goal in reached(graph, start, Verdict.UNKNOWN)


def graph_of(spots: dict[int, tuple[tuple[int, int, int], ...]], asks: dict[int, tuple[int, int, int]]) -> Graph:
    """Give a graph of links of 10 m, one state; corners ask for road before and after, and have arcs [mm]."""
    corners = CornerCosts(spots=spots, _asks={(row, 0): asked for row, asked in asks.items()})
    return cast(Graph, SimpleNamespace(corners=corners, length_mm=[10_000] * 8))


def test_road_behind_a_corner_is_counted_over_straight_junctions_and_back() -> None:
    graph = graph_of({}, {5: (2_000, 4_000, 2_000)})
    left, short = driven(graph, NOTHING_BEHIND, "drive", 5, (0, 0))
    assert (left[0], short) == (6_000, ())
    assert driven(graph, left, "drive", None, (2, 0)) == ((16_000, 16_000, 0), ())  # straight on
    assert driven(graph, (500, 500, 0), "drive", 5, (0, 0)) == ((6_000, 6_000, 0), ((5, 1_500),))
    assert driven(graph, left, "travel_change", None, (1, 0))[0][0] == 10_000  # where it stood is where it begins
    assert driven(graph, (-1_000, -1_000, 0), "turn_round", None, (1, 0))[0][0] == CAP_MM


@pytest.mark.parametrize(
    ("at_mm", "lacking"), [(1_500, 0), (2_500, 3_000), (5_500, 0)], ids=["in its arcs", "half in them", "after them"]
)
def test_a_bend_in_the_arcs_of_a_corner_is_driven_with_them_either_way(at_mm: int, lacking: int) -> None:
    asks = {5: (2_000, 4_000, 2_000), 7: (1_500, 1_500, 1_500)}
    graph = graph_of({4: ((7, at_mm, 100),), 5: ((7, 10_000 - at_mm, 100),)}, asks)
    _, short = driven(graph, NOTHING_BEHIND, "drive", 5, (4, 0))
    assert sum(mm for _, mm in short) == lacking
    left, short = driven(graph, NOTHING_BEHIND, "start", None, (5, 0))
    assert not short
    _, short = driven(graph, left, "drive", 5, (6, 0))
    assert bool(short) == (at_mm + 100 > 2_000 and at_mm < 3_500)


def test_a_corner_nobody_looked_at_shuts_nothing() -> None:
    graph = graph_of({4: ((7, 1_000, 100),)}, {7: (1_500, 1_500, 1_500)})
    assert driven(graph, NOTHING_BEHIND, "drive", 5, (4, 0)) == ((10_000, 10_000, 0), ())
    assert driven(graph, (-4_000, -4_000, 0), "drive", 5, (0, 0)) == ((10_000, 10_000, 0), ())


def test_a_bend_at_the_very_end_of_a_road_counts() -> None:
    graph = graph_of({4: ((7, 0, 0),)}, {7: (1_500, 1_500, 1_500)})
    assert driven(graph, (500, 500, 0), "drive", None, (4, 0))[1] == ((7, 1_000),)


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
