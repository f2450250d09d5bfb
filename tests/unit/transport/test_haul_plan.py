"""Arrival, unloading, the machine's ways, loading and leaving as one plan; and a plan without a trailer as before."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from pathlib import Path

import pytest

from tests.builders import toml
from tests.planning import DEMO, MILD, answer_of, day_of, on_day
from tests.unit.transport.hauls import NEED_M, TRAILER, WIDE, hauled, machine, sheet, yard
from travel.domain.request import PlanRequest, TripConditions
from travel.domain.request_file import RampTable
from travel.errors import InputError
from travel.readers.request import read_request
from travel.rulebook import load_rulebook
from travel.service.again import Now, still_valid
from travel.service.plan import exit_code, make_plan
from travel.service.workspace import Workspace
from travel.writers.card import card_of
from travel.writers.haul_words import haul_sections
from travel.writers.map_page import map_page
from travel.writers.plan_json import plan_from_bytes, plan_to_bytes
from travel.writers.sentences import sentence
from travel.writers.summary import summary_text

SECOND = {"id": "V", "xy": (200, 0), "kind": "unloading", "may_stop": True}


@pytest.fixture(scope="module")
def demo():
    """The demo's plan with a trailer, by its request file."""
    workspace = Workspace(path=DEMO / "site")
    base = PlanRequest(
        site=DEMO / "site",
        machine=DEMO / "machines" / "middle.toml",
        from_place="",
        to_place="",
        trailer=TRAILER,
    )
    request = read_request(DEMO / "requests" / "on_the_trailer.toml", base)
    with on_day(day_of(workspace.site)):
        return make_plan(request, workspace), request


def test_the_demo_goes_in_off_out_back_on_and_away(demo):
    plan = demo[0].plan
    assert [trip.trip for trip in plan.trips] == ["arrive", "out", "back", "leave"]
    assert [trip.vehicle for trip in plan.trips] == ["combination", "machine", "machine", "combination"]
    assert [(t.from_place, t.to_place) for t in plan.trips] == [("G1", "U1"), ("U1", "P1"), ("P1", "U1"), ("U1", "G1")]
    assert [trip.load_on for trip in plan.trips] == [True, False, False, True]
    assert plan.outcome == "way"
    assert exit_code(plan) == 3
    assert {leg.vehicle for leg in plan.legs if leg.trip in ("arrive", "leave")} == {"combination"}
    assert plan.unloading["place"] == "U1"
    assert plan.unloading["stand"]["heading_deg"] == pytest.approx(90.0, abs=1.0)


def test_flags_are_numbered_in_the_order_of_the_day(demo):
    findings = demo[0].plan.findings
    assert [finding.flag for finding in findings] == list(range(1, len(findings) + 1))
    order = ["arrive", "out", "back", "leave"]
    trips = [order.index(finding.trip) for finding in findings]
    assert trips == sorted(trips)
    at_place = [finding for finding in findings if finding.where.scope == "place"]
    assert {finding.trip for finding in at_place} == {"arrive", "leave"}
    assert {finding.where.place for finding in at_place} == {"U1"}
    assert len({finding.id for finding in findings}) == len(findings)


def test_the_ramp_is_asked_on_the_slope_that_was_measured(demo):
    transport = demo[0].plan.transport
    assert transport["unload"]["first"] == "tail"
    assert transport["load"]["first"] == "nose"
    for move in ("unload", "load"):
        assert transport[move]["ground_slope_pct"] == pytest.approx(0.2)
        assert transport[move]["ground_cross_slope_pct"] == pytest.approx(0.3)
    assert transport["combination"]["laden"]["height_m"] == pytest.approx(4.01)
    assert set(transport["empty_on_the_same_ways"]) == {"arrive", "leave"}


def test_rules_of_the_trailer_stand_among_what_was_looked_at(demo):
    rows = {row.rule: row for row in demo[0].plan.checked}
    for rule in ("unloading-place", "ramp-crest", "ramp-angle", "rig-hold", "nose-lift", "deck-slide"):
        assert rows[rule].built
        assert rows[rule].applied_m > 25.0
    assert not rows["road-way"].built
    assert {condition.id for condition in demo[0].plan.conditions} >= {"unloading-stand", "ramp-routine-people"}


def test_it_is_written_and_read_again_and_shown_in_order(demo):
    answer = demo[0]
    assert plan_from_bytes(plan_to_bytes(answer.plan)) == plan_from_bytes(
        plan_to_bytes(plan_from_bytes(plan_to_bytes(answer.plan)))
    )
    page = map_page(answer.plan, answer.site, answer.rulebook)
    assert "On and off the trailer" in page
    text = summary_text(answer.plan, answer.rulebook)
    assert text.index("Where the rig stands") < text.index("Off the trailer") < text.index("Onto the trailer")
    said = " ".join(line for _, lines in haul_sections(answer.plan) for line in lines)
    assert "Tied down before the rig moves, 6 tie-downs: " in said
    assert "Laden, by axle: " in said
    assert "Empty, by axle: " in said
    card = card_of(answer.plan, answer.rulebook)
    titles = [title for title, _ in card.trips]
    assert titles == [
        "Way in by road", "Off the trailer", "Way out", "Way back", "Onto the trailer", "Way off the site",
    ]  # fmt: skip
    off = dict(card.trips)["Off the trailer"][0]
    assert "TAIL FIRST" in off.order
    assert off.watch


def test_it_still_holds_on_the_same_site_and_falls_with_its_place(demo, tmp_path):
    plan = plan_from_bytes(plan_to_bytes(demo[0].plan))
    with on_day(day_of(demo[0].site)):
        assert not still_valid(plan, Now(site=DEMO / "site")).void
        changed = tmp_path / "site"
        changed.mkdir()
        for path in (DEMO / "site").iterdir():
            (changed / path.name).write_bytes(path.read_bytes())
        areas = json.loads((changed / "areas.geojson").read_text("utf-8"))
        for feature in areas["features"]:
            if feature["properties"]["id"] == "AR4":
                feature["properties"]["cross_slope_pct"] = 6.0
        (changed / "areas.geojson").write_text(json.dumps(areas), "utf-8")
        validity = still_valid(plan, Now(site=changed))
    assert validity.void
    assert any(change.feature == "AR4" for change in validity.changes)


def test_it_falls_with_another_trailer(demo, tmp_path):
    plan = plan_from_bytes(plan_to_bytes(demo[0].plan))
    other = tmp_path / "other.toml"
    other.write_text(toml(sheet("semi_low_loader", combination__length_m=17.0)), "utf-8")
    with on_day(day_of(demo[0].site)):
        same = still_valid(plan, Now(site=DEMO / "site", machine=DEMO / "machines" / "middle.toml", trailer=TRAILER))
        longer = still_valid(plan, Now(site=DEMO / "site", trailer=other))
    assert not same.void
    assert same.not_compared == ()
    assert longer.void
    assert [(change.layer, change.feature) for change in longer.changes] == [("trailer", "sheet")]


def test_a_trailer_that_grounds_ends_the_plan_at_the_place():
    answer = hauled(yard(), DEMO / "trailers" / "short_ramps_drawbar.toml")
    plan = answer.plan
    assert exit_code(plan) == 1
    assert plan.outcome == "no_way"
    assert [trip.trip for trip in plan.trips] == ["arrive"]
    assert plan.unloading["place"] is None
    (refused,) = plan.unloading["why_not"]
    assert {reason["rule"] for reason in refused["reasons"] if reason["verdict"] == "blocked"} >= {"ramp-crest"}
    assert "ramp-crest" in {finding.rule for finding in plan.findings if finding.verdict == "blocked"}
    (nearest,) = plan.nearest
    assert (nearest.trip, nearest.place) == ("arrive", "U")
    assert "does not get off its trailer" in " ".join(summary_text(plan, answer.rulebook).split())
    assert "Off the trailer" not in dict(card_of(plan, answer.rulebook).trips)
    assert any("longer" in text or "Ramps" in text for text in plan.transport["unload"]["would_help"])


def test_a_blocked_way_of_the_machine_has_its_remedies():
    bridge = [{"id": "o", "kind": "structure", "clearance_m": 3.0, "xy": [(250, -10), (250, 10)]}]
    plan = hauled(yard(overheads=bridge)).plan
    assert [(trip.trip, trip.found) for trip in plan.trips] == [("arrive", True), ("out", False)]
    assert any(part.feature == "o" for remedy in plan.remedies for part in remedy.amendments)


def test_blocked_by_people_in_the_fall_zone():
    gang = [{"id": "gang", "kind": "work_area", "polygon": [(95, 5), (105, 5), (105, 11), (95, 11)]}]
    answer = hauled(yard(people=gang, road={"width_m": 5.0}))
    assert exit_code(answer.plan) == 1
    blocked = [f for f in answer.plan.findings if f.verdict == "blocked" and f.rule == "unloading-place"]
    assert [f.where.feature for f in blocked] == ["gang"]
    assert "nothing named keeps people out" in " ".join(summary_text(answer.plan, answer.rulebook).split())


def two_places(first: dict, second: dict):
    """Give a yard with a second place on ground of its own."""
    site = yard(area=first)
    other = yard(area={"id": "B"} | second, polygon=[(155.0, -12.0), (245.0, -12.0), (245.0, 12.0), (155.0, 12.0)])
    both = yard(area=first, place={})
    places = [*_rows(site, "places"), SECOND]
    areas = [*_rows(site, "areas"), *_rows(other, "areas")]
    from tests.memory_site import make_layer

    layers = dict(both.layers) | {"places": make_layer("places", places), "areas": make_layer("areas", areas)}
    return dataclasses.replace(both, layers=layers)


def _rows(site, name):
    layer, out = site.layers[name], []
    from shapely import affinity

    for row in range(len(layer)):
        values = layer.values(row)
        shape = affinity.translate(layer.geometry[row], -500_000.0, -5_000_000.0)
        out.append(values | {"geometry": shape})
    return out


@pytest.mark.parametrize(("first", "second", "wanted"), [
    ({}, {"cross_slope_pct": 5.0}, "U"),
    ({"cross_slope_pct": 5.0}, {}, "V"),
    ({}, {}, "U"),  # alike: the shorter way in
    ({"cross_slope_pct": None}, {}, "V"),  # known before unknown
])  # fmt: skip
def test_the_best_place_is_chosen_and_the_other_says_why_not(first, second, wanted):
    plan = hauled(two_places(first, second)).plan
    assert plan.unloading["place"] == wanted
    (other,) = plan.unloading["why_not"]
    assert other["place"] == {"U": "V", "V": "U"}[wanted]
    assert other["text"]


def test_a_place_asked_for_is_taken_and_a_wrong_one_refused():
    site = two_places({}, {})
    plan = hauled(site, unload="V").plan
    assert plan.unloading["place"] == "V"
    assert plan.unloading["why_not"][0]["text"] == "V was asked for"
    with pytest.raises(InputError, match="no place to unload at"):
        hauled(site, unload="pick")
    with pytest.raises(InputError, match="name it"):
        hauled(site, ramp=RampTable(ground_slope_pct=1.0))


def test_measured_slopes_hold_at_the_place_they_name():
    steep = yard(area={"cross_slope_pct": 5.0})
    assert hauled(steep).plan.outcome == "no_way"
    measured = RampTable(place="U", ground_slope_pct=0.0, ground_cross_slope_pct=0.5)
    assert hauled(steep, ramp=measured).plan.unloading["place"] == "U"


def test_loading_is_judged_at_its_own_hour_and_weather():
    noon = dt.datetime(2026, 3, 3, 12, tzinfo=dt.UTC)
    walk = [{"id": "w", "kind": "walkway", "xy": [(0, 4), (300, 4)], "from_time": "17:00", "until_time": "19:00",
             "control": "barriers"}]  # fmt: skip
    site = yard(people=walk)

    def held(back: dt.datetime) -> list[str]:
        conditions = TripConditions(at=back, weather=MILD)
        plan = hauled(site, at=noon, horizon_min=60.0, back=conditions).plan
        found = [f for f in plan.findings if f.rule == "unloading-place" and f.where.feature == "w"]
        return [finding.trip for finding in found]

    assert held(noon + dt.timedelta(hours=2)) == []
    assert held(noon + dt.timedelta(hours=5, minutes=30)) == ["leave"]


def test_without_a_way_back_the_combination_leaves_empty(demo):
    request = dataclasses.replace(demo[1], with_return=False, accept_unknown=())
    with on_day(day_of(demo[0].site)):
        plan = make_plan(request).plan
    assert [(trip.trip, trip.load_on) for trip in plan.trips] == [("arrive", True), ("out", False), ("leave", False)]
    assert all(trip.found for trip in plan.trips)
    assert "load" not in plan.transport
    assert plan.transport["empty_on_the_same_ways"] == {}


def test_a_combination_leaves_a_dead_end_only_where_it_can_turn_round(tmp_path):
    plan = hauled(yard()).plan
    assert plan.trips[-1].found
    assert [turn.kind for turn in plan.turns if turn.trip == "leave"] == ["turn_round"]  # at the pick point, on 15 m
    for radius in (15.5, None):
        wide = tmp_path / "semi_low_loader.toml"
        wide.write_text(toml(sheet("semi_low_loader", combination__turn_radius_m=radius)), "utf-8")
        stuck = hauled(yard(), wide).plan
        assert [trip.found for trip in stuck.trips] == [True, True, True, False]
        assert stuck.outcome == "no_way"


@pytest.mark.parametrize("with_return", [True, False])
def test_a_way_that_only_a_rig_driven_backwards_could_take_is_barred_and_says_why(tmp_path, with_return):
    wide = tmp_path / "semi_low_loader.toml"
    wide.write_text(toml(sheet("semi_low_loader", combination__turn_radius_m=15.5)), "utf-8")
    answer = hauled(yard(), wide, with_return=with_return)
    plan = answer.plan
    assert (plan.outcome, plan.verdict, exit_code(plan)) == ("no_way", "blocked", 1)
    assert not plan.trips[-1].found
    assert {leg.travel for leg in plan.legs if leg.vehicle == "combination"} <= {"forward"}
    assert not [turn for turn in plan.turns if turn.kind == "shunt" and turn.trip in ("arrive", "leave")]
    (nearest,) = (near for near in plan.nearest if near.trip == "leave")
    (why,) = nearest.stopped_by
    assert "driving forwards alone" in why["text"]
    assert "backwards is not judged" in why["text"]
    assert "Yes" not in summary_text(plan, load_rulebook()).splitlines()[1]


def test_a_combination_is_never_offered_a_reverse_leg(demo):
    legs = [leg for leg in demo[0].plan.legs if leg.vehicle == "combination"]
    assert legs
    assert {leg.travel for leg in legs} == {"forward"}
    assert any("backwards" in caution and "not judged" in caution for caution in demo[0].plan.cautions)


def test_the_fingerprint_covers_the_trailer(tmp_path):
    other = tmp_path / "semi_low_loader.toml"
    other.write_text(toml(sheet("semi_low_loader", towing__axles__0__rating_kg=8100)), "utf-8")
    site = yard()
    one, two = hauled(site).plan, hauled(site, other).plan
    assert one.fingerprint != two.fingerprint
    rows = {(row.layer, row.feature): row.digest for row in one.relied_on}
    again = {(row.layer, row.feature): row.digest for row in two.relied_on}
    assert {key for key in rows if rows[key] != again.get(key)} == {("trailer", "sheet")}


def test_a_plan_without_a_trailer_says_nothing_of_one():
    content = machine().model_dump(mode="json", exclude_none=True)
    answer = answer_of(yard(), "gate", "pick", content, with_return=True)
    plan = answer.plan
    assert (plan.trailer, plan.transport, plan.unloading) == (None, None, None)
    assert not set(plan.request) & {"trailer", "unload", "ramp"}
    assert {leg.vehicle for leg in plan.legs} == {"machine"}
    assert not {row.rule: row for row in plan.checked}["unloading-place"].built
    assert haul_sections(plan) == []
    assert "trailer" not in {row.layer for row in plan.relied_on}


def test_room_needed_is_said_in_words():
    lines = dict(haul_sections(hauled(yard(polygon=WIDE), weather=MILD).plan))["Where the rig stands"]
    assert any(f"{NEED_M:.2f}" in line.replace("\u202f", " ") for line in lines)


assert Path(TRAILER).is_file()


def test_a_part_of_the_ramp_begins_its_sentence_with_a_capital() -> None:
    said = [sentence(f, load_rulebook()) for f in hauled(yard()).plan.findings if f.rule in ("ramp-angle", "nose-lift")]
    assert [text.partition(":")[0] for text in said if "slope" in text] == ["Permitted slope"] * 2
    assert any("the coupling would be left" in text for text in said)


def test_what_bars_loading_alone_is_among_the_flags_of_the_plan_it_ends() -> None:
    at = dt.datetime(2026, 3, 4, 9, tzinfo=dt.UTC)
    gang = {"id": "p", "kind": "work_area", "from_time": "10:00", "until_time": "12:00"}
    gang |= {"polygon": [(80, 4), (120, 4), (120, 9), (80, 9)]}
    plan = hauled(yard(people=[gang]), at=at).plan  # back at no stated hour: hours always bar
    assert plan.outcome == "no_way"
    (barred,) = [f for f in plan.findings if f.verdict == "blocked"]
    assert (barred.rule, barred.trip, barred.where.feature) == ("unloading-place", "leave", "p")
    assert "People in the fall zone" in summary_text(plan, load_rulebook())


@pytest.mark.parametrize("change", [
    {"slope_pct": None}, {"cross_slope_pct": None}, {"slope_pct_method": "told"}, {"cross_slope_pct_method": "assumed"},
])  # fmt: skip
def test_a_slope_of_the_place_not_stated_or_told_is_not_taken_as_level_by_the_ramp(change):
    plan = hauled(yard(area=change)).plan
    open_ones = {f.rule for f in plan.findings if f.verdict == "unknown" and not f.acceptable}
    asked = {"ramp-rating"} if any("cross" in name for name in change) else {"ramp-rating", "nose-lift", "rig-hold"}
    assert asked <= open_ones
    clear = {row.rule for row in plan.checked if row.clear_m > 0.0 and row.unknown_m == 0.0}
    assert not clear & (asked | {"ramp-angle", "deck-slide"})


def test_a_slope_that_was_only_told_stays_so_beside_one_that_was_measured():
    told = yard(area={"cross_slope_pct_method": "told"})
    plan = hauled(told, ramp=RampTable(place="U", ground_slope_pct=0.0)).plan
    lacking = {name for f in plan.findings if f.verdict == "unknown" for name in f.missing}
    assert {"cross_slope_pct told", "slope of the ground across the rig told"} <= lacking
    assert not any("along" in name for name in lacking)


def test_a_slope_only_told_is_said_so_in_words() -> None:
    found = hauled(yard(area={"cross_slope_pct_method": "told"})).plan.findings
    said = [sentence(f, load_rulebook()) for f in found if f.rule == "ramp-rating" and f.verdict == "unknown"]
    assert said
    assert all("slope of the ground across the rig (so far only told)" in text for text in said)


def test_a_nose_that_lifts_without_legs_is_not_said_to_keep_a_load() -> None:
    lines = dict(haul_sections(hauled(yard(), trailer=DEMO / "trailers" / "short_ramps_drawbar.toml").plan))
    said = [line for line in lines["Off the trailer"] if "coupling" in line]
    assert len(said) == 1
    assert said[0].startswith("Without legs under the tail the nose lifts: the coupling has −")
