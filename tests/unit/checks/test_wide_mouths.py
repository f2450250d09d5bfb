"""Roads of unlike width: a wide one ends at the far side of the narrow one it meets, and a gateway is as wide as it is.

The room a corner is judged in is compared with the ground as it lies there, drawn by hand; what is swept is the
program's own area.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from tests.memory_site import ORIGIN, make_site
from tests.planning import case_of, sheet
from tests.unit.checks.turn_cases import (
    BLOCKED,
    CAUTION,
    CLEAR,
    HEADER,
    LEFT,
    RIGHT,
    ROAD,
    UNKNOWN,
    corner,
    junction,
    state_of,
)
from travel.checks import Case, check_turns
from travel.domain.verdict import Verdict


def strip(a: tuple[float, float], b: tuple[float, float], width_m: float) -> shapely.Polygon:
    """Give a road's ground between two points, cut off square."""
    return shapely.LineString([a, b]).buffer(width_m / 2.0, cap_style="flat")


def judged(case: Case, before: str, after: str, hand: float, steering: str) -> tuple[Verdict, shapely.Polygon]:
    """Give the answer on room and the area swept, in metres from the origin."""
    turns, state = check_turns(case), state_of(case, steering=steering)
    row = corner(turns, before, after, hand)
    part = turns.parts(np.array([row]), np.array([state]))[0]
    area = turns.area(row, state)
    assert area is not None
    return Verdict(int(part.verdict[0, 0])), shapely.transform(area, lambda xy: xy - ORIGIN)


@pytest.mark.parametrize("steering", ["front", "all"])
@pytest.mark.parametrize(("narrow_m", "wide_m"), [(3.4, 15.5), (4.0, 10.0), (4.3, 9.6), (5.0, 12.0), (6.0, 12.0)])
def test_what_passes_stays_on_the_ground_of_both_roads(narrow_m: float, wide_m: float, steering: str) -> None:
    case = junction(narrow_m, wide_m, stated_m=0.5, steering=("front", "all"))
    ground = strip((-60, 0), (60, 0), narrow_m).union(strip((0, 0), (0, 60), wide_m))
    for before, after, hand in (("main", "side", LEFT), ("side", "main", LEFT), ("side", "main", RIGHT)):
        verdict, area = judged(case, before, after, hand, steering)
        aside = shapely.distance(shapely.points(shapely.get_coordinates(area)), ground).max()
        assert (aside > 0.0) <= (verdict == BLOCKED)


def test_the_wide_mouth_itself_counts() -> None:
    """12 m of side road take the inner corner away that 6 m of it leave standing."""
    told = [judged(junction(6.0, wide, stated_m=0.5), "main", "side", LEFT, "front")[0] for wide in (6.0, 12.0)]
    assert told == [BLOCKED, CLEAR]


def gated(at_m: float, gate_m: float) -> Case:
    """Give a junction of 8 m roads with a gateway on the one that leaves, so far from the middle of the other."""
    row = {"id": "g", "xy": (0.0, at_m), "kind": "gateway", "road": "side", "width_m": gate_m}
    return junction(8.0, stated_m=0.5, steering=("front", "all"), limits=[row])


@pytest.mark.parametrize("gate_m", [3.0, 3.4, 4.0])
@pytest.mark.parametrize("at_m", [5.0, 7.0, 9.0, 12.0, 14.0])
@pytest.mark.parametrize("steering", ["front", "all"])
def test_what_passes_a_gateway_near_the_mouth_passes_between_its_posts(
    at_m: float, gate_m: float, steering: str
) -> None:
    posts = [shapely.LineString([(side * gate_m / 2.0, at_m), (side * 4.0, at_m)]) for side in (-1.0, 1.0)]
    for before, after in (("main", "side"), ("side", "main")):
        verdict, area = judged(gated(at_m, gate_m), before, after, LEFT, steering)
        hit = any(area.intersects(post) for post in posts)
        assert hit <= (verdict == BLOCKED)


def test_a_gateway_stands_where_it_is_and_not_all_along_the_road_before_it() -> None:
    """Behind the corner the machine is in line 12 m on: it passes a gate there that leaves 0.5 m on each side."""
    assert [judged(gated(at, 3.4), "main", "side", LEFT, "all")[0] for at in (5.0, 12.0)] == [BLOCKED, CLEAR]


DRAWN: tuple[dict[str, Any], ...] = (
    {"xy": (0.0, 6.0)},
    {"xy": [(-3.0, 6.0), (3.0, 6.0)]},
    {"polygon": [(-4.0, 5.8), (4.0, 5.8), (4.0, 6.2), (-4.0, 6.2)]},
)


@pytest.mark.parametrize("drawn", DRAWN)
def test_a_gateway_drawn_as_a_point_a_line_across_or_an_area_narrows_as_much(drawn: dict[str, Any]) -> None:
    limit = {"id": "g", "kind": "gateway", "road": "side", "width_m": 3.2} | drawn
    case = junction(8.0, stated_m=0.5, steering=("front", "all"), limits=[limit])
    assert judged(case, "main", "side", LEFT, "all")[0] >= UNKNOWN
    assert judged(junction(8.0, stated_m=0.5, steering=("all",)), "main", "side", LEFT, "all")[0] == CLEAR


@pytest.mark.parametrize("place_m", [None, 4.5])
def test_a_narrower_road_begins_where_it_is_drawn(place_m: float | None) -> None:
    """A side road of 9 m that goes on 3.4 m wide behind a short stretch; a place on it cuts it into links."""

    def with_end(short_m: float) -> Case:
        ways = [
            ROAD | {"id": "main", "xy": [(-60.0, 0.0), (60.0, 0.0)], "width_m": 9.0},
            ROAD | {"id": "side", "xy": [(0.0, 0.0), (0.0, short_m)], "width_m": 9.0},
            ROAD | {"id": "lane", "xy": [(0.0, short_m), (0.0, 60.0)], "width_m": 3.4},
        ]
        places = [{"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 0.5}]
        if place_m is not None:
            places.append({"id": "w", "xy": (0.0, place_m), "kind": "waiting"})
        return case_of(make_site(ways, places, header=HEADER), sheet(), steering=("front", "all"))

    short, long = (judged(with_end(far), "main", "side", LEFT, "front") for far in (5.5, 25.0))
    lane = strip((-60, 0), (60, 0), 9.0) | strip((0, 0), (0, 5.5), 9.0) | strip((0, 5.5), (0, 60), 3.4)
    assert not lane.buffer(1e-6).contains(short[1])
    assert short[0] == BLOCKED
    assert long[0] in (CAUTION, CLEAR)
