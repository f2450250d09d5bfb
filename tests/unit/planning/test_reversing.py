"""How far the machine is driven backwards at one go: a finding over the rulebook's length, none at it."""

from __future__ import annotations

import pytest

from tests.memory_site import make_site
from tests.planning import plan_of as planned
from tests.planning import sheet
from tests.unit.planning.test_outlook import place, road

ROUND = {
    "axles__0__squash_m": 0.01, "axles__1__squash_m": 0.01, "view": [{"sector_deg": [0.0, 360.0], "kind": "clear"}],
}  # fmt: skip


def back_out(length_m: float, split: bool = False):
    """A dead end without room to turn, in one go or in moves: in forwards, out backwards."""
    cut = length_m / 3
    roads = [road("R", (0, 0), (0, length_m), width_m=4.0)]
    if split:
        roads = [road("R", (0, 0), (0, cut), width_m=4.0), road("S", (0, cut), (0, length_m), width_m=4.0)]
    places = [place("G", 0, 0, "gate"), place("P", 0, length_m, "pick_point", may_stop=True)]
    return planned(make_site(roads, places), "G", "P", sheet(**ROUND), with_return=True)


def lengths(plan):
    return [f for f in plan.findings if f.why == "length"]


@pytest.mark.parametrize("split", [False, True])
def test_backing_out_further_than_the_limit_is_flagged_with_its_length(split):
    plan = back_out(60.0, split)
    assert {leg.travel for leg in plan.legs if leg.trip == "back"} == {"reverse"}
    (found,) = lengths(plan)
    assert (found.rule, found.trip, found.verdict, found.control) == ("reverse", "back", "caution", "long-reverse")
    assert (found.demand, found.capacity, found.unit) == (pytest.approx(60.0), 50.0, "m")
    assert found.margin == pytest.approx(-10.0)
    assert found.where.road == ("S" if split else "R")
    assert all(found.flag in leg.flags and leg.verdict != "clear" for leg in plan.legs if leg.trip == "back")
    assert "long-reverse" in {condition.id for condition in plan.conditions}
    back = next(trip for trip in plan.trips if trip.trip == "back")
    assert back.clear_m == 0.0


def test_the_limit_itself_passes():
    plan = back_out(50.0)
    assert {leg.travel for leg in plan.legs if leg.trip == "back"} == {"reverse"}
    assert lengths(plan) == []


def test_a_machine_that_cannot_turn_or_change_where_it_arrives_is_told_so() -> None:
    """10 % up to a pick point without ground to turn on: a road joins them, but the machine stands the wrong way."""
    up = road("M", (0, 0), (60, 0)) | {"xyz": [(0, 0, 10.0), (60, 0, 16.0)]}
    site = make_site([up], [place("G", 0, 0, "gate"), place("P", 60, 0, "pick_point", may_stop=True)])
    plan = planned(site, "G", "P", sheet(**ROUND), with_return=True)
    (stopped,) = [one for one in plan.nearest if one.trip == "back"]
    text = str(stopped.stopped_by[0]["text"])
    assert plan.outcome == "no_way"
    assert text.startswith("The machine stands the wrong way round at P.")
    assert "no steeper than 5 %" in text
    apart = make_site([road("M", (0, 0), (60, 0)), road("N", (200, 0), (260, 0))],
                      [place("G", 0, 0, "gate"), place("P", 260, 0, "pick_point")])  # fmt: skip
    (stopped,) = planned(apart, "G", "P", sheet(**ROUND)).nearest
    assert stopped.stopped_by[0]["text"] == "No road joins G and P."
