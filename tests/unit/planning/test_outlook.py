"""The outlook of a plan on small sites: another way round, the only bridge, the last place to turn."""

from __future__ import annotations

import pytest

from tests.memory_site import make_site
from tests.planning import plan_of as planned
from tests.planning import sheet
from travel.writers.words import also

GROUND = {"width_m": 9.0, "surface": "asphalt", "cross_slope_pct": 0.0, "edge_left": "none", "edge_right": "none",
          "traffic": "none", "sight_m": 300.0, "lit": True, "bearing_kpa": 900.0, "bearing_wet_kpa": 900.0,
          "roughness_m": 0.0, "passes_done": 100}  # fmt: skip


def plan_of(site, start, goal, **request):
    """Plan with a sheet that lacks nothing here."""
    view = [{"sector_deg": [0.0, 360.0], "kind": "clear"}]
    machine = sheet(axles__0__squash_m=0.01, axles__1__squash_m=0.01, view=view)
    return planned(site, start, goal, machine, **request)


def road(name, *points, **changes):
    return {"id": name, "xyz": [(x, y, 10.0) for x, y in points], **GROUND, **changes}


def place(name, x, y, kind="junction", **more):
    return {"id": name, "xy": (x, y), "kind": kind, **more}


def loop(**changes):
    """A stem from the gate to A, two ways from A to B (west 120 m, east 200 m), a stem from B to the pick point."""
    roads = [
        road("stem", (0, 0), (0, 100)),
        road("west", (0, 100), (-20, 110), (-20, 190), (0, 200)),
        road("east", (0, 100), (50, 110), (50, 190), (0, 200), **changes.pop("east", {})),
        road("end", (0, 200), (0, 300)),
    ]
    places = [place("G", 0, 0, "gate"), place("A", 0, 100), place("B", 0, 200),
              place("P", 0, 300, "pick_point", turn_radius_m=30.0, may_stop=True)]  # fmt: skip
    places += changes.pop("places", [])
    return make_site(roads, places, **changes)


def crossing(y):
    """People who cross the road at y, at all hours."""
    return {"id": "H", "kind": "crossing", "polygon": [(-5, y), (5, y), (5, y + 4), (-5, y + 4)]}


def test_the_other_side_of_the_loop_is_the_next_best_way():
    plan = plan_of(loop(), "G", "P")
    (other,) = plan.alternatives
    assert (other["trip"], other["rank"], other["instead"], other["left_out"]) == ("out", 1, ["east"], ["west"])
    own = plan.trips[0]
    assert other["longer_m"] == pytest.approx(other["length_m"] - own.length_m)
    assert other["later_s"] == pytest.approx(other["time_s"] - own.time_s)
    assert other["shared_m"] == pytest.approx(200.0, abs=0.01)
    assert other["places"] == ["G", "A", "B", "P"]
    again = plan_of(loop(closures=[{"id": "C", "polygon": [(-30, 140), (-10, 140), (-10, 160), (-30, 160)]}]), "G", "P")
    assert [leg.road for leg in again.legs] == ["stem", "east", "end"]
    assert again.trips[0].length_m == pytest.approx(other["length_m"])
    assert again.trips[0].time_s == pytest.approx(other["time_s"])
    assert again.trips[0].verdict == other["verdict"]
    assert again.alternatives == ()


def test_another_way_over_what_is_not_known_is_named_unknown():
    plan = plan_of(loop(east={"cross_slope_pct": None}), "G", "P")
    assert plan.verdict != "unknown"
    (other,) = plan.alternatives
    assert (other["verdict"], other["instead"]) == ("unknown", ["east"])
    assert other["worst"]["verdict"] == "unknown"


def test_the_worst_on_another_way_is_its_tightest_place_where_a_control_takes_the_severity():
    walkers = {"id": "H", "kind": "crossing", "polygon": [(30, 140), (55, 150), (55, 154), (30, 154)],
               "control": "marshal"}  # fmt: skip
    shut = {"id": "C", "polygon": [(-30, 140), (-10, 140), (-10, 160), (-30, 160)]}
    (other,) = plan_of(loop(people=[walkers]), "G", "P").alternatives
    own = [f for f in plan_of(loop(people=[walkers], closures=[shut]), "G", "P").findings if f.rule == "people"]
    assert other["worst"]["rule"] == "people"
    assert other["worst"]["severity"] is None
    assert other["worst"]["capacity"] == pytest.approx(min(f.capacity for f in own if f.capacity is not None))


def test_a_way_that_is_shut_is_no_other_way():
    plan = plan_of(loop(east={"width_m": 1.0}), "G", "P")
    assert plan.alternatives == ()
    assert plan.single_points[0]["roads"] == [
        {"road": name, "from_m": 0.0, "to_m": pytest.approx(length, abs=0.1)}
        for name, length in (("stem", 100.0), ("west", 124.72), ("end", 100.0))
    ]


def test_stems_are_single_points_and_a_bridge_on_one_is_named():
    bridge = {"id": "BR", "kind": "bridge", "polygon": [(-5, 40), (5, 40), (5, 50), (-5, 50)], "gross_kg": 60000.0,
              "axle_kg": 30000.0}  # fmt: skip
    plan = plan_of(loop(limits=[bridge]), "G", "P", with_return=True)
    first, second = plan.single_points
    assert (first["from_place"], first["to_place"], first["length_m"]) == ("G", "A", pytest.approx(100.0))
    assert [f["feature"] for f in first["features"]] == ["BR"]
    assert (second["from_place"], second["to_place"], second["features"]) == ("B", "P", [])
    assert first["trips"] == second["trips"] == ["out", "back"]


def test_one_structure_under_both_ways_is_a_single_point():
    culvert = {"id": "CU", "kind": "culvert", "polygon": [(-30, 145), (60, 145), (60, 155), (-30, 155)],
               "gross_kg": 60000.0, "axle_kg": 30000.0}  # fmt: skip
    plan = plan_of(loop(limits=[culvert]), "G", "P")
    (found,) = [entry for entry in plan.single_points if entry["kind"] == "structure"]
    assert [f["feature"] for f in found["features"]] == ["CU"]
    assert {row["road"] for row in found["roads"]} == {"west", "east"}


def test_the_last_place_to_turn_is_the_one_before_the_flag_with_room():
    """Room at T (60 m on) and too little of it at S; people cross at 250 m, on the end."""
    turning = [place("T", 0, 60, "turning", turn_radius_m=30.0, may_stop=True),
               place("S", 0, 80, "turning", turn_radius_m=3.0, may_stop=True)]  # fmt: skip
    site = loop(places=turning, people=[crossing(250.0)])
    plan = plan_of(site, "G", "P")
    (flag,) = [f for f in plan.findings if f.control == "people-kept-out" and f.trip == "out"]
    (entry,) = [e for e in plan.turn_back if e["flag"] == flag.flag]
    driven = 40.0 + sum(leg.length_m for leg in plan.legs if leg.road == "west") + flag.where.from_m
    assert (entry["kind"], entry["place"], entry["road"]) == ("turn_round", "T", "stem")
    assert entry["at_m"] == pytest.approx(60.0)
    assert entry["reverse_m"] == pytest.approx(driven)
    assert entry["reverse_verdict"] is not None


def test_without_room_it_must_reverse_all_the_way():
    plan = plan_of(loop(people=[crossing(250.0)]), "G", "P")
    (flag,) = [f for f in plan.findings if f.control == "people-kept-out"]
    (entry,) = [e for e in plan.turn_back if e["flag"] == flag.flag]
    driven = sum(leg.length_m for leg in plan.legs if leg.road != "end") + flag.where.from_m
    assert (entry["kind"], entry["place"]) == ("start", "G")
    assert entry["reverse_m"] == pytest.approx(driven)


def test_room_behind_a_one_way_road_is_no_place_to_turn():
    """Turned round at T it would meet the one-way road from the wrong side."""
    site = make_site(
        [road("in", (0, 0), (0, 100), one_way="along"), road("on", (0, 100), (0, 300))],
        [place("G", 0, 0, "gate"), place("T", 0, 150, "turning", turn_radius_m=30.0, may_stop=True),
         place("P", 0, 300, "pick_point")],
        people=[crossing(250.0)],
    )  # fmt: skip
    plan = plan_of(site, "G", "P")
    (entry,) = [e for e in plan.turn_back if e["flag"] == next(f.flag for f in plan.findings if f.rule == "people")]
    assert (entry["kind"], entry["reverse_verdict"]) == ("start", "blocked")


def test_every_flag_with_a_place_has_its_entry_and_words():
    plan = plan_of(loop(people=[crossing(50.0), crossing(250.0) | {"id": "H2"}]), "G", "P", with_return=True)
    assert {e["flag"] for e in plan.turn_back} == {f.flag for f in plan.findings if f.where.scope != "layer"}
    said = dict(also(plan))
    assert set(said) == {"Last place to turn back", "Points whose loss strands the machine", "Next best ways",
                         "Latest departure"}  # fmt: skip
    assert all(line.endswith(".") for lines in said.values() for line in lines)


def test_no_way_has_no_outlook():
    plan = plan_of(make_site([road("R", (0, 0), (0, 100), width_m=1.0)],
                             [place("G", 0, 0, "gate"), place("P", 0, 100, "pick_point")]), "G", "P")  # fmt: skip
    assert (plan.alternatives, plan.turn_back, plan.single_points) == ((), (), ())
