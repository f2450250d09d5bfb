"""A plan on a site that is not so: every paper says it, and none lets anybody drive."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from travel.domain.plan import TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.what_if import wished
from travel.service.subject import subject_of
from travel.writers.card import card_of
from travel.writers.document_front import releasable, release_text
from travel.writers.plan_json import plan_to_bytes
from travel.writers.summary import summary_text
from travel.writers.words import holds_for, outcome_text

LAID = {"layer": "overheads", "feature": "OV1", "field": "clearance_m", "value": 4.0, "from_m": None, "to_m": None}
COPY = "overheads OV1: clearance_m 4 (was 3.1)"


def changed(plan: TravelPlan, how: str) -> TravelPlan:
    if how == "laid on":
        return dataclasses.replace(plan, request={**plan.request, "amendments": [LAID]})
    return dataclasses.replace(plan, site={**plan.site, "changed_copy": [COPY]})


@pytest.mark.parametrize(("how", "named"), [("laid on", "overheads OV1: clearance_m 4"), ("a copy", COPY)])
def test_every_paper_says_what_is_not_there(plan: TravelPlan, rulebook: Rulebook, how: str, named: str) -> None:
    assert wished(plan) == ()
    assert releasable(plan)
    what_if = changed(plan, how)
    assert wished(what_if) == (named,)
    assert outcome_text(what_if) == f"What if, not what is there. {outcome_text(plan)}"
    assert holds_for(what_if).endswith(f"only with the site changed, which it is not: {named}")
    assert named in " ".join(summary_text(what_if, rulebook).split())
    assert not releasable(what_if)
    assert release_text(what_if).startswith("Not to be released: planned on a changed copy")
    card = card_of(what_if, rulebook)
    assert "DO NOT MOVE" in card.answer
    assert not [step for _, steps in card.trips for step in steps]


def test_nobody_releases_it(plan: TravelPlan) -> None:
    def faults(one: TravelPlan) -> tuple[Any, ...]:
        return subject_of(plan_to_bytes(one), "plan.json")[0].faults

    assert faults(plan) == ()
    assert faults(changed(plan, "a copy"))


def test_a_part_of_a_road_is_told_with_its_ends(plan: TravelPlan) -> None:
    laid = {**LAID, "layer": "roads", "feature": "R1", "field": "width_m", "from_m": 10.0, "to_m": 20.0}
    part = dataclasses.replace(plan, request={**plan.request, "amendments": [laid]})
    assert wished(part) == ("roads R1: width_m 4 from 10 m to 20 m",)
