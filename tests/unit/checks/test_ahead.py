"""What stands on the road, what lies at its dead ends, ground of another surface, steps: nothing is overlooked."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.builders import machine
from tests.memory_site import make_site
from tests.planning import plan_of
from travel.domain.plan import TravelPlan
from travel.domain.site import Weather

ROAD = {
    "id": "r", "xyz": [(0, 0, 0), (120, 0, 0)], "width_m": 8.0, "surface": "compacted_gravel", "cross_slope_pct": 0.0,
    "roughness_m": 0.0, "sight_m": 200.0, "traffic": "none", "lit": True, "edge_left": "kerb", "edge_right": "kerb",
    "bearing_kpa": 2000.0, "bearing_wet_kpa": 2000.0, "passes_done": 0,
}  # fmt: skip
PLACES = [
    {"id": "G", "xy": (0, 0), "kind": "gate", "may_stop": True},
    {"id": "P", "xy": (120, 0), "kind": "pick_point", "may_stop": True, "turn_radius_m": 20.0},
]


def plan(road: dict[str, Any] | None = None, sheet: dict[str, Any] | None = None, **more: Any) -> TravelPlan:
    layers = {name: more.pop(name) for name in tuple(more) if name in ("obstacles", "ground", "overheads", "people")}
    return plan_of(make_site([ROAD | (road or {})], PLACES, **layers), "G", "P", machine(**sheet or {}), **more)


def worst(found: TravelPlan, rule: str) -> str:
    order = ("clear", "caution", "unknown", "blocked")
    said = [finding.verdict for finding in found.findings if finding.rule == rule]
    return max(said, key=order.index, default="clear")


# body 2.5 m wide, 1.6 m ahead of the front axle and 4.6 m behind it; a point stands for 0.5 m round it
@pytest.mark.parametrize(
    ("xy", "expected"),
    [
        ((60, 1.0), "blocked"),
        ((60, 0.0), "blocked"),
        ((60, 3.9), "clear"),  # 3.4 m from the centreline: half the body, margin and wander are less
        ((121.5, 0.0), "blocked"),  # under the nose of the machine that stands at the pick point
        ((-1.0, 0.0), "blocked"),  # under the machine at the gate, whichever way it faces
        ((129.0, 0.0), "clear"),
        ((-10.0, 0.0), "clear"),
    ],
)
def test_an_obstacle_on_the_way_or_under_either_end(xy: tuple[float, float], expected: str) -> None:
    assert worst(plan(obstacles=[{"id": "o", "xy": xy, "height_m": 1.5}]), "width") == expected


def test_an_obstacle_never_helps_as_it_comes_nearer() -> None:
    rank = {"clear": 0, "caution": 1, "unknown": 2, "blocked": 3}
    seen = [rank[worst(plan(obstacles=[{"id": "o", "xy": (60, y)}]), "width")] for y in np.arange(4.0, -0.1, -0.5)]
    assert seen == sorted(seen)
    assert seen[0] == 0
    assert seen[-1] == 3


def test_soft_ground_under_the_rear_wheels_at_the_gate() -> None:
    patch = {"id": "g", "polygon": [(-4, -3), (-2.5, -3), (-2.5, 3), (-4, 3)], "bearing_kpa": 50.0,
             "bearing_wet_kpa": 50.0}  # fmt: skip
    assert worst(plan(ground=[patch]), "bearing") == "blocked"


def test_ground_of_another_surface_counts_where_a_wheel_may_stand() -> None:
    wet = Weather(ground="wet", temperature_c=8.0, wind_mps=2.0)
    patch = {"id": "g", "polygon": [(50, -5), (70, -5), (70, 5), (50, 5)], "bearing_kpa": 2000.0,
             "bearing_wet_kpa": 2000.0}  # fmt: skip
    hill = {"xyz": [(0, 0, 0), (120, 0, 14)], "surface": "asphalt"}
    assert worst(plan(hill, ground=[patch], weather=wet), "grip") == "clear"
    assert worst(plan(hill, ground=[patch | {"surface": "snow"}], weather=wet), "grip") == "blocked"
    assert worst(plan(hill | {"surface": "snow"}, weather=wet), "grip") == "blocked"


@pytest.mark.parametrize("rise_m", [0.02, 0.45])
def test_a_kerb_is_a_step_in_one_road_or_where_two_meet(rise_m: float) -> None:
    kerb = {"xyz": [(0, 0, 0), (60, 0, 0), (60.05, 0, rise_m), (120, 0, rise_m)]}
    two = [
        ROAD | {"id": "a", "xyz": [(0, 0, 0), (60, 0, 0)]},
        ROAD | {"id": "b", "xyz": [(60, 0, rise_m), (120, 0, rise_m)]},
    ]
    expected = "blocked" if rise_m > 0.4 else "clear"
    assert worst(plan(kerb), "grade-limit") == expected
    assert worst(plan_of(make_site(two, PLACES), "G", "P", machine()), "grade-limit") == expected


def test_people_ahead_of_the_end_are_as_near_as_the_nose() -> None:
    crowd = {"id": "p", "kind": "work_area", "polygon": [(126, -3), (129, -3), (129, 3), (126, 3)]}
    assert worst(plan(people=[crowd]), "people") == "caution"


@pytest.mark.parametrize("rise_m", [0.02, 0.45])
def test_a_step_where_three_roads_meet(rise_m: float) -> None:
    roads = [
        ROAD | {"id": "a", "xyz": [(0, 0, 0), (60, 0, 0)]},
        ROAD | {"id": "b", "xyz": [(60, 0, rise_m), (120, 0, rise_m)]},
        ROAD | {"id": "c", "xyz": [(60, 0, 0), (60, 50, 0)]},
    ]
    found = worst(plan_of(make_site(roads, PLACES), "G", "P", machine()), "grade-limit")
    assert found == ("blocked" if rise_m > 0.4 else "clear")


@pytest.mark.parametrize(
    ("change", "rule", "name"),
    [
        ({"axles__1__oscillating": None}, "tip", "machine.axles.oscillating"),
        ({"axles__1__oscillating": None}, "twist", "machine.axles.oscillating"),
        ({"attitudes__0__cg_y_m": None}, "tip", "machine.attitudes.cg_y_m"),
    ],
)
def test_a_sheet_that_leaves_out_what_standing_needs(change: dict[str, Any], rule: str, name: str) -> None:
    content = machine()
    for path in change:
        *parts, last = [int(part) if part.isdigit() else part for part in path.split("__")]
        target: Any = content
        for part in parts:
            target = target[part]
        del target[last]
    found = plan_of(make_site([ROAD], PLACES), "G", "P", content)
    assert any(name in finding.missing for finding in found.findings if finding.rule == rule)


@pytest.mark.parametrize(("away_m", "turns"), [(4.0, False), (18.0, True)])
def test_room_to_turn_round_ends_at_an_obstacle(away_m: float, turns: bool) -> None:
    site = make_site([ROAD], PLACES, obstacles=[{"id": "o", "xy": (120.0, away_m)}])
    found = plan_of(site, "G", "P", machine(), with_return=True)
    assert any(turn.kind == "turn_round" and turn.place == "P" and not turn.moves for turn in found.turns) == turns
