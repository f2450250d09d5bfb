"""Ground to unload on that is not free: what stands, falls away, is closed or does not carry the rig in its strip."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
import shapely

from tests.memory_site import ORIGIN, make_site
from tests.unit.transport.hauls import AREA, NEED_M, ROAD, case_on, hauled, judged, verdict, yard
from travel.checks.unloading_free import free_of
from travel.checks.unloading_ground import grounds_of
from travel.domain.verdict import Verdict
from travel.planning.relied import corridor_from

AHEAD = [(112.0, -12.0), (116.0, -12.0), (116.0, 12.0), (112.0, 12.0)]
BEHIND = [(80.0, -12.0), (88.0, -12.0), (88.0, 12.0), (80.0, 12.0)]
POST = {"id": "o", "height_m": 2.0, "xy": (112.5, 1.0)}
SPREAD_M = 0.5
"""What a point takes to every side."""
CREST = {"id": "e", "kind": "excavation", "depth_m": 3.0, "soil": "type_c", "batter_deg": 60.0}
SLAB = {"id": "s", "kind": "slab", "gross_kg": 20000.0, "axle_kg": 12000.0}
SHUT = {"id": "c"}
PLAN_M = 0.1


def across(x_m: float, row: dict[str, Any]) -> list[dict[str, Any]]:
    """Give a line across the yard."""
    return [row | {"xy": [(x_m, -12.0), (x_m, 12.0)]}]


@pytest.mark.parametrize("layers", [
    {"obstacles": [POST]},
    {"closures": [SHUT | {"polygon": AHEAD}]},
    {"limits": [SLAB | {"polygon": AHEAD}]},
])  # fmt: skip
def test_what_lies_ahead_ends_the_ground_there(layers):
    standing, found = judged(yard(**layers))
    # 12 m ahead of the place, less how closely it is drawn; 50 m behind it
    assert standing.room_m == pytest.approx(62.0 - PLAN_M, abs=0.01)
    assert standing.to_m <= 12.0 - PLAN_M + 0.01
    assert verdict(found, "room in line") == Verdict.CLEAR


def test_a_crest_keeps_what_a_wheel_keeps_from_it():
    standing, _ = judged(yard(edges=across(112.0, CREST)))
    # 3 m deep in soil of type C: the line from the toe runs 1.5 to 1, the face itself 1 to tan 60°
    assert standing.to_m == pytest.approx(12.0 - PLAN_M - 3.0 * (1.5 - 3.0**-0.5), abs=0.01)


@pytest.mark.parametrize("layers", [
    {"obstacles": [POST, POST | {"id": "b", "xy": (87.5, -1.0)}]},
    {"closures": [SHUT | {"polygon": AHEAD}, SHUT | {"id": "b", "polygon": BEHIND}]},
    {"limits": [SLAB | {"polygon": AHEAD}, SLAB | {"id": "b", "polygon": BEHIND}]},
    {"edges": across(112.0, CREST) + across(88.0, CREST | {"id": "b"})},
])  # fmt: skip
def test_no_room_between_two_of_them_and_the_nearest_is_named(layers):
    standing, found = judged(yard(**layers))
    assert standing.room_m < NEED_M
    (room,) = found["room in line"]
    assert room.verdict == Verdict.BLOCKED
    assert (room.layer, room.feature) in {(name, row["id"]) for name, rows in layers.items() for row in rows}


def test_a_slab_that_carries_the_rig_and_a_duct_below_take_nothing():
    strong = SLAB | {"gross_kg": 60000.0, "axle_kg": 20000.0, "polygon": AHEAD}
    duct = {"id": "d", "kind": "buried_service", "cover_m": 1.2, "xy": [(90.0, -12.0), (90.0, 12.0)]}
    assert judged(yard(limits=[strong, duct]))[0].room_m == pytest.approx(100.0)


def test_beside_the_lane_nothing_is_taken_from_its_length():
    # half of 2.55 m and 0.60 m to walk, then 0.10 m of the drawing
    edge_m = 2.55 / 2.0 + 0.6 + PLAN_M + SPREAD_M
    beside = POST | {"xy": (105.0, edge_m + 0.02)}
    assert judged(yard(obstacles=[beside]))[0].room_m == pytest.approx(100.0)
    nearer = POST | {"xy": (105.0, edge_m - 0.02)}
    assert judged(yard(obstacles=[nearer]))[0].room_m < 56.0


def test_a_crest_of_unknown_face_is_unknown_where_it_may_matter():
    open_face = {key: value for key, value in CREST.items() if key != "batter_deg"}
    _, found = judged(yard(edges=across(104.0, open_face) + across(80.0, open_face | {"id": "b"})))
    (room,) = found["room in line"]
    assert room.verdict == Verdict.UNKNOWN
    assert room.missing == ("distance to keep from e (depth, batter)",)


@pytest.mark.parametrize("layer", ["obstacles", "edges", "closures", "limits"])
def test_a_layer_nobody_looked_at_leaves_the_room_unknown(layer):
    every = ["roads", "places", "areas", "people", "overheads", "obstacles", "edges", "closures", "limits"]
    _, found = judged(yard(surveyed=[name for name in every if name != layer]))
    assert verdict(found, "room in line") == Verdict.UNKNOWN
    assert f"surveyed.{layer}" in found["room in line"][0].missing


def test_ground_closed_only_at_the_hour_of_loading_is_taken_too():
    at = dt.datetime(2026, 11, 25, 8, tzinfo=dt.UTC)
    shut = SHUT | {"polygon": AHEAD, "closed_from": "2026-11-25T14:00:00+00:00"}
    case = case_on(yard(closures=[shut]))
    (ground,) = grounds_of(case.survey)
    early, late = (replace(case, at=at + dt.timedelta(hours=h), until=at + dt.timedelta(hours=h + 1)) for h in (0, 8))
    assert not free_of(ground, [early]).taken
    assert [one.feature for one in free_of(ground, [early, late]).taken] == ["c"]


def test_whatever_it_is_called_what_has_a_voltage_is_a_live_line():
    live = {"id": "w", "kind": "structure", "voltage_kv": 33.0, "clearance_m": 9.0}
    live |= {"xy": [(105.0, -20.0), (105.0, 20.0)]}
    _, found = judged(yard(overheads=[live]))
    assert verdict(found, "line overhead or near") == Verdict.BLOCKED


def test_a_plan_to_ground_with_a_post_in_it_is_refused_though_the_roads_pass_it():
    short = [(90.0, -12.0), (150.0, -12.0), (150.0, 12.0), (90.0, 12.0)]
    assert hauled(yard(polygon=short)).plan.outcome == "way"
    answer = hauled(yard(polygon=short, obstacles=[POST | {"xy": (112.0, 2.3)}]))
    assert answer.plan.outcome == "no_way"
    barred = [f for f in answer.plan.findings if f.rule == "unloading-place" and f.verdict == "blocked"]
    assert [f.where.feature for f in barred] == ["o"]


def test_a_plan_relies_on_all_that_its_place_was_looked_at_for():
    # the road ends at the place; the rig stands ahead of it, and a wire 12 m beyond its nose still matters
    ahead = [(98.0, -12.0), (150.0, -12.0), (150.0, 12.0), (98.0, 12.0)]
    places = [
        {"id": "gate", "xy": (0, 0), "kind": "gate", "may_stop": True},
        {"id": "pick", "xy": (40, 0), "kind": "pick_point", "may_stop": True, "turn_radius_m": 15.0},
        {"id": "U", "xy": (100, 0), "kind": "unloading", "may_stop": True},
    ]
    road = ROAD | {"xyz": [(0, 0, 10), (40, 0, 10), (100, 0, 10)]}
    site = make_site([road], places, header={"jurisdiction": "gb"}, areas=[AREA | {"polygon": ahead}])
    plan = hauled(site).plan
    held = next(row for row in plan.relied_on if row.layer == "corridor")
    beyond = shapely.Point(ORIGIN[0] + 98.0 + NEED_M + 12.0, ORIGIN[1])
    assert shapely.contains(corridor_from(held.values), beyond)
