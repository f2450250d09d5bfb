"""A plan whose way is shunted at a junction: the turn, its moves, its time, its findings, and what is printed of it."""

from __future__ import annotations

import json
import math
import xml.etree.ElementTree as ET
from typing import Any

import pytest

from tests.memory_site import make_site
from tests.planning import answer_of, sheet
from tests.unit.planning.test_outlook import place, road
from travel.domain.plan import TravelPlan
from travel.rulebook import load_rulebook
from travel.writers.card import card_of
from travel.writers.map_way import moves_layer
from travel.writers.plan_json import plan_from_bytes, plan_to_bytes
from travel.writers.svg_shunt import shunt_svg

PULL = [[0.0, 60.0], [8.0, 40.0]]
FRONT = {
    "axles__0__squash_m": 0.01, "axles__1__squash_m": 0.01, "view": [{"sector_deg": [0.0, 360.0], "kind": "clear"}],
    "steering": [{"mode": "front", "lock_deg": 30.0, "top_kmh": 25.0}], "gears__2__pull_kn": PULL,
}  # fmt: skip


def tee(width_m: float = 6.0, stop: bool = True, lit: bool | None = True, **machine: Any) -> TravelPlan:
    """Plan from a gate round a right angle to a pick point; in one go the turn needs 6.92 m of road."""
    wide = {"width_m": width_m, "lit": lit}
    roads = [road("M", (-60, 0), (60, 0)) | wide, road("S", (0, 0), (0, 60)) | wide]
    places = [
        place("G", -60, 0, "gate", may_stop=True),
        place("P", 0, 60, "pick_point", may_stop=True, turn_radius_m=10.0),
        place("J", 0, 0, "junction", may_stop=stop, turn_radius_m=1.0),
    ]
    return answer_of(make_site(roads, places), "G", "P", sheet(**(FRONT | machine)), with_return=True).plan


@pytest.fixture(scope="module")
def plan() -> TravelPlan:
    return tee()


def test_the_turn_is_a_shunt_with_its_moves_and_its_spotter(plan: TravelPlan) -> None:
    assert (plan.outcome, plan.verdict) == ("way", "caution")
    out, back = (turn for turn in plan.turns if turn.kind == "shunt")
    assert (out.trip, out.place, back.trip, back.place) == ("out", "J", "back", "J")
    assert [move.travel for move in out.moves] == ["forward", "reverse", "forward"]
    assert [move.side for move in out.moves] == ["left", "right", "left"]
    # first move: 2.18 m of the rear axle on 5.543 m, the front axle on sqrt(5.543^2 + 3.2^2) = 6.4 m
    assert out.moves[0].length_m == pytest.approx(out.moves[1].length_m * 1.5, rel=1e-3)
    assert out.moves[0].length_m == pytest.approx(math.pi / 8 * 6.4, rel=1e-3)
    assert out.needed_m is not None
    assert out.needed_m < 6.0
    flags = {finding.flag: finding for finding in plan.findings}
    assert {(flags[flag].rule, flags[flag].control) for flag in out.flags} == {
        ("turn", "shunt"),
        ("reverse", "spotter"),
    }
    assert {"shunt", "spotter"} <= {condition.id for condition in plan.conditions}
    assert len({finding.id for finding in plan.findings}) == len(plan.findings)


def test_a_corner_is_driven_no_faster_than_its_room_and_time_are_reckoned_for() -> None:
    """The legs before and behind it may be driven at the road's speed, the corner between them at walking pace."""
    wider = tee(width_m=9.0)
    assert [turn.speed_kmh for turn in wider.turns if turn.kind == "through"] == [5.0, 5.0]
    assert all(leg.speed_kmh is not None and leg.speed_kmh > 5.0 for leg in wider.legs)


def test_it_takes_its_time_and_the_legs_end_there(plan: TravelPlan) -> None:
    """One go on a wider road against three moves: two changes of direction at 15 s, and stopping before and after."""
    wider = tee(width_m=9.0)
    assert [turn.kind for turn in wider.turns if turn.trip == "out"] == ["through"]
    times = [next(trip.time_s for trip in one.trips if trip.trip == "out") for one in (plan, wider)]
    assert times[0] > times[1] + 2 * 15.0
    legs = [leg for leg in plan.legs if leg.trip == "out"]
    assert [leg.road for leg in legs] == ["M", "S"]


def test_without_leave_to_stop_there_is_no_way() -> None:
    assert tee(stop=False).outcome == "no_way"


def test_where_the_driver_cannot_see_behind_is_unknown_without_a_word_in_the_sheet() -> None:
    blind = tee(view=[])
    assert blind.verdict == "unknown"
    missing = {name for finding in blind.findings if finding.rule == "reverse" for name in finding.missing}
    assert missing == {"machine.view"}


def test_lamps_nobody_told_of_are_unknown() -> None:
    missing = {name for finding in tee(lit=None).findings if finding.rule == "reverse" for name in finding.missing}
    assert missing == {"lit"}


def test_the_plan_file_keeps_the_moves(plan: TravelPlan) -> None:
    text = plan_to_bytes(plan)
    found = next(turn for turn in json.loads(text)["turns"] if turn["kind"] == "shunt")
    assert [move["travel"] for move in found["moves"]] == ["forward", "reverse", "forward"]
    again = plan_from_bytes(text)
    kept = next(turn for turn in again.turns if turn.kind == "shunt")
    assert [move.side for move in kept.moves] == ["left", "right", "left"]


def test_card_map_and_picture_show_every_move(plan: TravelPlan) -> None:
    turn = next(turn for turn in plan.turns if turn.kind == "shunt")
    picture = ET.fromstring(shunt_svg(plan, turn))
    paths = [path.get("class") for path in picture.iter("{http://www.w3.org/2000/svg}path")]
    assert (paths.count("forward"), paths.count("reverse")) == (2, 1)
    layer = moves_layer(plan)
    assert layer is not None
    moves = [f for f in layer.features if str(f["id"]).startswith(f"move{turn.turn}-")]
    assert [move["properties"]["style"] for move in moves] == ["forward", "reverse", "forward"]
    card = card_of(plan, load_rulebook())
    steps = [step for _, trip in card.trips for step in trip if step.order.startswith("SHUNT")]
    assert len(steps) == 2
    assert any("BACK" in line and "RIGHT" in line for line in steps[0].lines)
    assert steps[0].helper
    assert steps[0].picture_svg


def test_turning_round_is_drawn_as_the_circle_it_needs(plan: TravelPlan) -> None:
    (turned,) = (turn for turn in plan.turns if turn.kind == "turn_round")
    assert len(turned.swept_lonlat) == 48
    north = max(lat for _, lat in turned.swept_lonlat) - min(lat for _, lat in turned.swept_lonlat)
    assert north * 111_130 == pytest.approx(2 * (turned.needed_m or 0.0), rel=0.01)


def test_letting_it_stand_there_is_a_remedy_only_where_a_shunt_fits() -> None:
    shut = tee(stop=False)
    assert shut.outcome == "no_way"
    offered = {part.field: remedy for remedy in shut.remedies for part in remedy.amendments}
    stand = offered["may_stop"]
    (part,) = stand.amendments
    assert (part.layer, part.feature, part.value, stand.proven) == ("places", "J", True, True)
    narrow = tee(width_m=4.4, stop=False)
    assert "may_stop" not in {part.field for remedy in narrow.remedies for part in remedy.amendments}
    allowed = tee(width_m=4.4, stop=True)
    assert "may_stop" not in {part.field for remedy in allowed.remedies for part in remedy.amendments}
