"""Corners that are shut, and what opens them: free ground, a wider bend, something taken away, a smaller machine."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.memory_site import make_site
from tests.planning import case_of, workspace_of
from tests.property.test_plan_properties import strong
from tests.unit.planning.remedy_cases import FLAT, book, only, opens, question_of
from travel.domain.machine import Machine
from travel.domain.plan import RemedyPart
from travel.domain.site import Site
from travel.domain.verdict import Verdict
from travel.planning.remedies import Question, plan_again
from travel.planning.remedy_list import remedies_of

GATE = {"id": "gate", "xy": (-60, 0), "kind": "gate", "may_stop": True, "turn_radius_m": 15.0}
PICK = {"id": "pick", "xy": (0, 60), "kind": "pick_point", "may_stop": True, "turn_radius_m": 15.0}


def level(id_: str, xy: list[tuple[float, float]], width_m: float) -> dict[str, Any]:
    return FLAT | {"id": id_, "xyz": [(x, y, 10.0) for x, y in xy], "width_m": width_m}


def junction(width_m: float = 3.6, stated_m: float | None = 2.0, **layers: Any) -> Site:
    """Give a road along x and one that leaves it at a right angle, with a place where they meet."""
    roads = [
        level("main", [(-60, 0), (0, 0), (60, 0)], width_m),
        level("side", [(0, 0), (0, 60)], width_m),
    ]
    yard = {"id": "yard", "xy": (0, 0), "kind": "junction", "turn_radius_m": stated_m}
    return make_site(roads, [GATE, PICK, yard], header={"tolerance": {"plan_m": 0.1}}, **layers)


def bend(width_m: float = 3.6) -> Site:
    """Give one road with a right angle in it."""
    roads = [level("r1", [(-60, 0), (0, 0), (0, 60)], width_m)]
    return make_site(roads, [GATE, PICK], header={"tolerance": {"plan_m": 0.1}})


POST = {"id": "post", "xy": (-1.5, 2.4), "height_m": 1.5}
ROOMY = junction(9.0, None)
SINGLE: dict[str, tuple[Site, float]] = {"free-corner": (junction(), 1e-6), "widen-bend": (bend(), 1e-6)}


def worst_corner(question: Question, parts: tuple[RemedyPart, ...]) -> Verdict | None:
    """Give the worst verdict of the corners on the way planned again; None without a way."""
    trips = plan_again(question, parts)
    if trips is None:
        return None
    return max(Verdict(int(trip.turns.worst[c.row, c.state])) for trip in trips for c in trip.corners)


@pytest.mark.parametrize("row", SINGLE)
def test_exact_quantity_opens_the_corner_and_a_hair_less_does_not(row: str) -> None:
    site, hair = SINGLE[row]
    question = question_of(site)
    assert not opens(question, ())
    remedy = only(remedies_of(question), row)
    (part,) = remedy.amendments
    assert remedy.proven
    assert part.exact is not None
    assert part.value >= part.exact
    assert worst_corner(question, (replace(part, value=part.exact + hair),)) == Verdict.CAUTION
    less = worst_corner(question, (replace(part, value=part.exact - 1e-4),))
    assert less in (None, Verdict.UNKNOWN)


def test_a_narrower_machine_is_told_with_the_width_it_has_now() -> None:
    """Its width is sized by the rule of the road first, and upon that by the corner."""
    roads = [level("r1", [(-60, 0), (0, 0), (0, 60)], 3.6)]
    workspace = workspace_of(make_site(roads, [GATE, PICK]), book(lambda row: row.id == "narrower-machine"))
    out = case_of(workspace, Machine.model_validate(strong()), steering=("front", "all"))
    question = Question(out=out, back=None, from_place="gate", to_place="pick")
    (part,) = only(remedies_of(question), "narrower-machine").amendments
    assert part.old == question.out.body.width_m
    assert part.value < part.old


def test_a_place_without_a_stated_radius_is_unknown_and_needs_a_survey_not_a_change() -> None:
    """Nobody measured the ground at the junction: that is no bar, so there is a way, unknown."""
    assert worst_corner(question_of(junction(3.6, None)), ()) == Verdict.UNKNOWN


def test_what_stands_in_a_corner_is_taken_away() -> None:
    site = junction(8.0, None, obstacles=[POST | {"xy": (-0.5, 4.6)}, {"id": "far", "xy": (40, 30), "height_m": 2.0}])
    question = question_of(site, back=False)
    assert not opens(question, ())
    remedy = only(remedies_of(question), "move-obstacle")
    assert [part.feature for part in remedy.amendments] == ["post"]


def test_a_post_on_the_road_is_taken_away() -> None:
    site = make_site([level("r1", [(-60, 0), (60, 0)], 6.0)], [GATE, PICK | {"xy": (60, 0)}],
                     obstacles=[{"id": "post", "xy": (0, 1.0), "height_m": 1.5}])  # fmt: skip
    remedy = only(remedies_of(question_of(site)), "move-obstacle")
    assert [(part.layer, part.feature) for part in remedy.amendments] == [("obstacles", "post")]


def test_a_narrower_machine_turns_where_the_wider_one_does_not() -> None:
    question = question_of(junction(6.8), book(lambda row: row.id == "narrower-machine"))
    assert not opens(question, ())
    remedy = only(remedies_of(question), "narrower-machine")
    (part,) = remedy.amendments
    assert part.value < part.old
    assert worst_corner(question, (part,)) == Verdict.CAUTION
    assert worst_corner(question, (replace(part, value=part.exact + 0.01),)) in (None, Verdict.UNKNOWN)


def test_nothing_is_offered_where_no_row_of_the_rulebook_opens_a_corner() -> None:
    assert remedies_of(question_of(junction(), book(lambda row: "turn" not in row.rules))) == ()


def test_a_gateway_and_a_corner_are_opened_together() -> None:
    gateway = {"id": "gw", "xy": (-40, 0), "kind": "gateway", "road": "main", "width_m": 2.3}
    remedies = remedies_of(question_of(junction(limits=[gateway])))
    first = remedies[0]
    assert {part.reason for part in first.amendments} == {"free-corner", "widen-gateway"}
    for part in first.amendments:
        assert not opens(question_of(junction(limits=[gateway])), tuple(p for p in first.amendments if p is not part))
