"""One place for one rig, by numbers worked out by hand; each missing value; never better for a longer rig."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.memory_site import make_site
from tests.unit.transport.hauls import AREA, NEED_M, ROAD, RUN_M, WIDE, hauled, judged, verdict, yard
from travel.checks.unloading import PlaceAnswer
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.units import G_MPS2

WALKERS = {"id": "p", "kind": "walkway", "control": "barriers"}


def beside(y_m: float, **changes: Any) -> list[dict[str, Any]]:
    """Give a walkway along the road, so far from its middle."""
    return [WALKERS | {"xy": [(0, y_m), (300, y_m)]} | changes]


def test_rig_ramps_and_run_off_in_line():
    standing, found = judged(yard())
    (room,) = found["room in line"]
    assert standing.ramp_m == pytest.approx(RUN_M, abs=1e-6)
    assert float(room.outcome.demand) == pytest.approx(NEED_M, abs=1e-6)
    assert float(room.outcome.capacity) == pytest.approx(100.0, abs=1e-6)
    assert room.verdict == Verdict.CLEAR
    # as near the place as may be: the strip's middle on it
    assert standing.from_m == pytest.approx(-NEED_M / 2.0)
    assert standing.to_m == pytest.approx(NEED_M / 2.0)


def test_the_strip_moves_along_where_the_ground_ends():
    short_behind = [(95.0, -12.0), (150.0, -12.0), (150.0, 12.0), (95.0, 12.0)]
    standing, found = judged(yard(polygon=short_behind))
    assert standing.from_m == pytest.approx(-5.0)
    assert verdict(found, "room in line") == Verdict.CLEAR


@pytest.mark.parametrize(("spare_m", "expected"), [
    (-0.5, Verdict.BLOCKED), (0.1, Verdict.UNKNOWN), (0.7, Verdict.CAUTION), (1.3, Verdict.CLEAR),
])  # fmt: skip
def test_room_by_the_metre(spare_m, expected):
    half = (NEED_M + spare_m) / 2.0
    polygon = [(100.0 - half, -12.0), (100.0 + half, -12.0), (100.0 + half, 12.0), (100.0 - half, 12.0)]
    assert verdict(judged(yard(polygon=polygon))[1], "room in line") == expected


def test_a_tree_in_the_ground_shortens_it():
    # a bite out of the ground 10 m ahead, only as wide as the rig's own lane reaches
    bitten = [(50, -12), (150, -12), (150, 12), (112, 12), (112, 1.5), (110, 1.5), (110, 12), (50, 12)]
    _, found = judged(yard(polygon=bitten))
    assert float(found["room in line"][0].outcome.capacity) == pytest.approx(60.0)


def test_free_circle_where_no_area_is_drawn():
    _, found = judged(yard(polygon=None, place={"turn_radius_m": 25.0, "slope_pct": 0.0, "cross_slope_pct": 0.0}))
    half_width = (2.55 + 2 * 0.6) / 2.0
    chord = 2.0 * math.sqrt(25.0**2 - half_width**2)
    assert float(found["room in line"][0].outcome.capacity) == pytest.approx(chord, abs=0.02)


@pytest.mark.parametrize(("change", "part", "expected"), [
    ({"slope_pct": 6.5}, "slope along", Verdict.BLOCKED),
    ({"slope_pct": 5.1}, "slope along", Verdict.UNKNOWN),
    ({"slope_pct": 3.6}, "slope along", Verdict.CAUTION),
    ({"slope_pct": 2.0}, "slope along", Verdict.CLEAR),
    ({"cross_slope_pct": 4.5}, "slope across", Verdict.BLOCKED),
    ({"cross_slope_pct": -4.5}, "slope across", Verdict.BLOCKED),
    ({"cross_slope_pct": 1.0}, "slope across", Verdict.CLEAR),
])  # fmt: skip
def test_slopes(change, part, expected):
    assert verdict(judged(yard(area=change))[1], part) == expected


def test_a_rig_across_the_slope_meets_it_across():
    _, found = judged(yard(area={"slope_pct": 4.5}), heading_deg=0.0)
    assert verdict(found, "slope across") == Verdict.BLOCKED
    assert verdict(found, "slope along") == Verdict.CLEAR


def test_ground_without_heading_is_taken_whole_both_ways():
    _, found = judged(yard(area={"slope_pct": 3.0, "cross_slope_pct": 2.0, "heading_deg": None}))
    steep = math.hypot(0.03, 0.02)
    for part in ("slope along", "slope across"):
        assert float(found[part][0].outcome.demand) == pytest.approx(steep)


def gravel(**changes: Any) -> dict[str, Any]:
    """Give ground that is not paved."""
    return {"surface": "compacted_gravel"} | changes


def test_pressure_under_feet_and_legs():
    _, found = judged(yard(area=gravel(bearing_kpa=3000.0)))
    legs = float(found["ground under the rear legs"][0].outcome.demand) / 1000.0
    feet = float(found["ground under the ramp feet"][0].outcome.demand) / 1000.0
    # 16.5 t on legs of 0.09 m²: half, and how far off the middle (0.02 m, its band 0.05 m) over the track of 2.02 m
    half, off = 16500 * G_MPS2 / 2.0 / 0.09 / 1000.0, 2.0 * (0.02 + 0.05) / 2.02
    assert half * (1.0 + off) <= legs + 1e-6 < 1.15 * half
    # the heavier axle's half on a foot 0.85 m wide and 0.20 m long at least
    assert feet > 8000 * G_MPS2 / 2.0 / (0.85 * 0.20) / 1000.0
    assert verdict(found, "ground under the rear legs") == Verdict.CLEAR
    assert verdict(judged(yard(area=gravel(bearing_kpa=800.0)))[1], "ground under the rear legs") == Verdict.BLOCKED


def test_a_softer_polygon_of_ground_under_the_strip_counts():
    soft = [{"id": "g", "polygon": WIDE, "bearing_kpa": 200.0}]
    assert verdict(judged(yard(area=gravel(), ground=soft))[1], "ground under the ramp feet") == Verdict.BLOCKED


def test_dry_bearing_says_nothing_about_wet_ground():
    _, found = judged(yard(area=gravel()), weather=Weather(ground="wet", temperature_c=9.0, wind_mps=2.0))
    assert found["ground under the ramp feet"][0].missing == ("bearing_wet_kpa",)
    assert verdict(found, "ground under the ramp feet") == Verdict.UNKNOWN


FALL_M = (3.15 + 0.90) + 1.0
"""Height of the machine on the deck, once over, and a metre: the demo's machine is 3.15 m, the deck 0.90 m high."""


@pytest.mark.parametrize(("y_m", "expected"), [
    (1.275 + FALL_M + 0.15, Verdict.CLEAR), (1.275 + FALL_M + 0.05, Verdict.CAUTION), (4.0, Verdict.CAUTION),
])  # fmt: skip
def test_people_beside_the_ramps(y_m, expected):
    assert verdict(judged(yard(people=beside(y_m)))[1], "people in the fall zone") == expected


def test_people_in_the_fall_zone_are_kept_out_or_bar_it():
    held = judged(yard(people=beside(4.0)))[1]["people in the fall zone"][0]
    assert held.outcome.control == "people-kept-out"
    barred = judged(yard(people=beside(4.0, kind="work_area", control=None)))[1]
    assert verdict(barred, "people in the fall zone") == Verdict.BLOCKED
    assert verdict(judged(yard(people=beside(4.0, kind="public")))[1], "people in the fall zone") == Verdict.CAUTION


def test_overhead_against_the_highest_the_machine_stands():
    def under(clearance: float | None, **changes: Any) -> Verdict:
        thing = {"id": "o", "kind": "structure", "clearance_m": clearance, "polygon": [(98, -3), (102, -3), (102, 3)]}
        thing = {key: value for key, value in (thing | changes).items() if value is not None}
        return verdict(judged(yard(overheads=[thing]))[1], "overhead")

    assert under(3.9) == Verdict.BLOCKED  # deck and machine alone are 4.05 m
    assert under(6.0) == Verdict.CLEAR
    assert under(None) == Verdict.UNKNOWN
    assert under(6.0, clearance_m_method="told") == Verdict.UNKNOWN
    assert under(3.9, polygon=[(98, 20), (102, 20), (102, 26)]) == Verdict.CLEAR


@pytest.mark.parametrize(("y_m", "expected"), [(10.0, Verdict.BLOCKED), (30.0, Verdict.CLEAR)])
def test_lines_near_the_place(y_m, expected):
    wire = [{"id": "w", "kind": "wire", "clearance_m": 12.0, "xy": [(0, y_m), (300, y_m)]}]
    found = judged(yard(overheads=wire))[1]
    assert max(a.verdict for part, some in found.items() if "overhead" in part for a in some) == expected


@pytest.mark.parametrize(("word", "expected"), [
    ("none", Verdict.CLEAR), ("two_way", Verdict.CAUTION), ("one_at_a_time", Verdict.CAUTION), (None, Verdict.UNKNOWN),
])  # fmt: skip
def test_traffic_through_the_fall_zone(word, expected):
    assert verdict(judged(yard(road={"traffic": word}))[1], "traffic in the fall zone") == expected


@pytest.mark.parametrize(("half_m", "expected"), [(12.0, Verdict.CLEAR), (4.0, Verdict.BLOCKED)])
def test_an_engine_passes_beside_the_rig(half_m, expected):
    polygon = [(50.0, -half_m), (150.0, -half_m), (150.0, half_m), (50.0, half_m)]
    (past,) = judged(yard(polygon=polygon))[1]["emergency way past it"]
    assert float(past.outcome.capacity) == pytest.approx(half_m - 1.275, abs=1e-6)
    assert past.verdict == expected


@pytest.mark.parametrize(("site", "changes", "part", "name"), [
    ({"polygon": None}, {}, "room in line", "free ground (an unloading area, or turn_radius_m)"),
    ({"polygon": None}, {}, "emergency way past it", "free ground (an unloading area, or turn_radius_m)"),
    ({}, {"combination__length_m": None}, "room in line", "combination.length_m"),
    ({}, {"combination__length_m": None}, "emergency way past it", "combination.length_m"),
    ({}, {"combination__length_m": None}, "people in the fall zone", "combination.length_m"),
    ({}, {"combination__length_m": None}, "traffic in the fall zone", "combination.length_m"),
    ({}, {"combination__length_m": None}, "overhead", "combination.length_m"),
    ({"area": {"slope_pct": None}}, {}, "slope along", "slope_pct"),
    ({"area": {"cross_slope_pct": None}}, {}, "slope across", "cross_slope_pct"),
    ({"area": {"slope_pct_method": "told"}}, {}, "slope along", "slope_pct told"),
    ({"area": gravel(bearing_kpa=None)}, {}, "ground under the ramp feet", "bearing_kpa"),
    ({"area": gravel()}, {"trailer__leg_pad_m2": None}, "ground under the rear legs", "trailer.leg_pad_m2"),
    ({"area": {"surface": None}, "road": {"surface": None}}, {}, "ground under the ramp feet", "surface"),
    ({"surveyed": ["roads", "places", "areas", "people"]}, {}, "overhead", "surveyed.overheads"),
    ({"surveyed": ["roads", "places", "areas", "overheads"]}, {}, "people in the fall zone", "surveyed.people"),
    ({"surveyed": ["roads", "places", "people", "overheads"]}, {}, "room in line", "surveyed.areas"),
])  # fmt: skip
def test_each_missing_value_leaves_its_part_unknown(site, changes, part, name):
    _, found = judged(yard(**site), **changes)
    assert verdict(found, part) == Verdict.UNKNOWN
    assert name in found[part][0].missing


def test_without_a_heading_the_room_is_unknown_and_people_all_round_count():
    _, found = judged(yard(people=beside(15.0)), heading_deg=None)
    assert verdict(found, "room in line") == Verdict.UNKNOWN
    assert verdict(found, "people in the fall zone") == Verdict.CAUTION


def test_a_longer_rig_is_never_better():
    site = yard(polygon=[(70, -6), (112, -6), (112, 6), (70, 6)], people=[WALKERS | {"xy": [(125, -20), (125, 20)]}])
    parts = ("room in line", "people in the fall zone", "emergency way past it", "overhead")
    before = dict.fromkeys(parts, Verdict.CLEAR)
    seen = set()
    for length in (12.0, 15.9, 18.0, 24.0, 29.0, 34.0, 45.0):
        _, found = judged(site, combination__length_m=length)
        for part in parts:
            assert verdict(found, part) >= before[part], (part, length)
            before[part] = verdict(found, part)
            seen.add((part, before[part]))
    assert ("room in line", Verdict.CLEAR) in seen
    assert ("room in line", Verdict.BLOCKED) in seen


def test_a_rig_left_over_its_front_has_its_run_off_ahead():
    behind, _ = judged(yard())
    ahead, found = judged(yard(), name="detachable_neck")
    assert behind.run_off_end_m == behind.from_m
    assert behind.rig_m[1] == pytest.approx(behind.to_m)
    assert ahead.run_off_end_m == ahead.to_m
    assert ahead.rig_m[0] == ahead.from_m
    assert verdict(found, "room in line") == Verdict.CLEAR


HALF = [(50.0, -12.0), (100.0, -12.0), (100.0, 12.0), (50.0, 12.0)]
OTHER = [(100.0, -12.0), (150.0, -12.0), (150.0, 12.0), (100.0, 12.0)]
RAIN = Weather(ground="wet", temperature_c=9.0, wind_mps=2.0)
STRONG = {"bearing_kpa": 3000.0, "bearing_wet_kpa": 3000.0}
FEET = "ground under the ramp feet"


@pytest.mark.parametrize("weather", [Weather(ground="damp", temperature_c=9.0, wind_mps=2.0), RAIN])
def test_tested_ground_speaks_for_what_it_covers_and_no_more(weather):
    def under(*polygons: list[tuple[float, float]], **changes: Any) -> Verdict:
        tested = [STRONG | changes | {"id": f"g{n}", "polygon": shape} for n, shape in enumerate(polygons)]
        site = yard(area=gravel(bearing_kpa=None), ground=tested)
        return verdict(judged(site, weather=weather)[1], FEET)

    assert under(WIDE) == under(HALF, OTHER) == Verdict.CLEAR
    assert under(HALF) == under() == Verdict.UNKNOWN
    assert under(WIDE, bearing_kpa=None, bearing_wet_kpa=None) == Verdict.UNKNOWN
    assert under(WIDE, valid_until="2020-01-01") == Verdict.UNKNOWN


def test_a_patch_of_unknown_strength_under_the_strip_is_unknown():
    patch = [{"id": "g", "polygon": [(98.0, -1.0), (102.0, -1.0), (102.0, 1.0)]}]
    _, found = judged(yard(area=gravel(), ground=patch))
    assert found[FEET][0].missing == ("bearing_kpa",)


def test_ground_nobody_looked_at_is_unknown_under_feet_and_legs():
    every = ["roads", "places", "areas", "people", "overheads", "obstacles", "edges", "closures", "limits"]
    _, found = judged(yard(area=gravel(), surveyed=every))
    for part in (FEET, "ground under the rear legs"):
        assert "surveyed.ground" in found[part][0].missing


def test_ground_under_legs_is_unknown_where_nobody_says_whether_they_are_down():
    found = {word: judged(yard(area=gravel()), trailer__rear_legs=word)[1] for word in ("up", None)}
    assert "ground under the rear legs" not in found["up"]
    assert found[None]["ground under the rear legs"][0].missing == ("trailer.rear_legs (up or down)",)
    _, paved = judged(yard(), trailer__rear_legs=None)
    assert "ground under the rear legs" not in paved


def round_about(**other: Any) -> Any:
    """Give the verdict on an engine's way past a rig that fills its ground, with another road round it."""
    narrow = [(50.0, -4.0), (150.0, -4.0), (150.0, 4.0), (50.0, 4.0)]
    closures = other.pop("closures", [])
    ends = {"xyz": [(50.0, 0.0, 10.0), (50.0, 60.0, 10.0), (200.0, 60.0, 10.0), (200.0, 0.0, 10.0)]}
    main = ROAD | {"xyz": [(0, 0, 10), (50, 0, 10), (100, 0, 10), (200, 0, 10), (300, 0, 10)]}
    places = [
        {"id": "gate", "xy": (0, 0), "kind": "gate", "may_stop": True},
        {"id": "U", "xy": (100, 0), "kind": "unloading", "may_stop": True},
        {"id": "pick", "xy": (300, 0), "kind": "pick_point", "may_stop": True, "turn_radius_m": 15.0},
    ]
    header = {"jurisdiction": "gb", "tolerance": {"grade_pct": 1.0, "cross_slope_pct": 1.0, "plan_m": 0.1}}
    site = make_site(
        [main, ROAD | {"id": "other"} | ends | other], places, header=header, closures=closures,
        areas=[AREA | {"polygon": narrow}],
    )  # fmt: skip
    return verdict(judged(site)[1], "emergency way past it")


def test_an_engine_goes_round_by_another_road_that_is_wide_and_open():
    shut = [{"id": "c", "polygon": [(100, 55), (110, 55), (110, 65), (100, 65)]}]
    assert round_about() == Verdict.CLEAR
    assert round_about(width_m=3.8) == Verdict.CLEAR
    assert round_about(width_m=3.0) == Verdict.BLOCKED
    assert round_about(closures=shut) == Verdict.BLOCKED


@pytest.mark.parametrize(("change", "heading_deg", "along", "across"), [
    ({"slope_pct": None}, 90.0, ("slope_pct",), ()),
    ({"cross_slope_pct": None}, 90.0, (), ("cross_slope_pct",)),
    ({"slope_pct_method": "told"}, 90.0, ("slope_pct told",), ()),
    ({"slope_pct_method": "told"}, 0.0, (), ("slope_pct told",)),
    ({"slope_pct_method": "told"}, 45.0, ("slope_pct told",), ("slope_pct told",)),
    ({"slope_pct_method": "told", "heading_deg": None}, 90.0, ("slope_pct told",), ("slope_pct told",)),
])  # fmt: skip
def test_a_slope_not_stated_or_told_is_unknown_the_way_the_rig_meets_it(change, heading_deg, along, across):
    _, found = judged(yard(area=change), heading_deg=heading_deg)
    assert found["slope along"][0].missing == along
    assert found["slope across"][0].missing == across


def test_a_place_steeper_than_its_area_by_the_one_slope_it_states_is_not_taken_as_its_area():
    _, found = judged(yard(place={"slope_pct": 6.5, "heading_deg": 90.0}))
    assert verdict(found, "slope along") == Verdict.BLOCKED
    assert verdict(found, "slope across") == Verdict.UNKNOWN


@pytest.mark.parametrize("change", [{"slope_pct": None}, {"slope_pct_method": "told"}, {"slope_pct_method": "assumed"}])
def test_feet_press_as_on_the_level_only_where_it_is_known_to_be(change):
    _, found = judged(yard(area=gravel(bearing_kpa=9000.0)))
    assert verdict(found, "ground under the ramp feet") == Verdict.CLEAR
    _, found = judged(yard(area=gravel(bearing_kpa=9000.0, **change)))
    assert verdict(found, "ground under the ramp feet") == Verdict.UNKNOWN


@pytest.mark.parametrize(("patch", "expected"), [
    ({"surface": "clay", "bearing_kpa": 80.0}, Verdict.BLOCKED), ({"surface": "clay"}, Verdict.UNKNOWN),
    ({"surface": "firm_earth", "bearing_kpa": 9000.0}, Verdict.CLEAR),
])  # fmt: skip
def test_a_patch_that_is_not_paved_is_asked_on_paved_ground_too(patch, expected):
    def feet(**changes: Any) -> dict[str, list[PlaceAnswer]]:
        return judged(yard(ground=[{"id": "g", "polygon": WIDE} | patch | changes]))[1]

    assert verdict(feet(), FEET) == expected
    assert FEET not in feet(surface="concrete")
    assert FEET not in judged(yard())[1]
    assert FEET not in judged(yard(), weather=Weather())[1]


def test_the_rig_is_held_by_the_worst_surface_it_stands_on():
    def grip(**layers: Any) -> float:
        told = hauled(yard(**layers)).plan.transport
        assert told is not None
        return float(told["unload"]["rig_hold"]["grip_ratio"])

    snow = [{"id": "g", "polygon": WIDE, "surface": "snow", "bearing_kpa": 9000.0}]
    assert grip(ground=snow) < grip()
