"""A plan file held against what planning again says: every part somebody may have changed by hand is named."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.planning import plan_of
from tests.unit.planning.remedy_cases import site_with, straight
from travel.domain.plan import TravelPlan
from travel.planning.differences import compare_plans, told_otherwise
from travel.service.again import _only_later
from travel.writers.plan_json import plan_from_bytes, plan_to_bytes

Content = dict[str, Any]


@pytest.fixture(scope="module")
def plan() -> TravelPlan:
    site = site_with(straight(traffic=None, width_m=5.0))
    return plan_from_bytes(plan_to_bytes(plan_of(site, "gate", "pick")))


def edited(plan: TravelPlan, change: Callable[[Content], Any]) -> TravelPlan:
    content = json.loads(plan_to_bytes(plan))
    change(content)
    return plan_from_bytes(json.dumps(content).encode())


def otherwise(plan: TravelPlan, change: Callable[[Content], Any]) -> tuple[str, ...]:
    told = edited(plan, change)
    return told_otherwise(told, plan, compare_plans(told, plan))


def each(part: str, **values: Any) -> Callable[[Content], Any]:
    return lambda content: [item.update(values) for item in content[part]]


def test_the_same_plan_says_the_same(plan: TravelPlan) -> None:
    assert plan.findings
    assert plan.turns or plan.stops
    assert otherwise(plan, lambda content: None) == ()
    older = {"created_at": "2020-01-01T00:00:00Z", "doubts": ["another"], "alternatives": []}
    assert otherwise(plan, lambda content: content.update(older)) == ()


@pytest.mark.parametrize(("change", "part"), [
    (lambda c: next(f for f in c["findings"] if f["verdict"] == "unknown").update(acceptable=False), "findings"),
    (each("findings", why="Nothing to mind."), "findings"),
    (each("findings", formula=""), "findings"),
    (each("trips", time_s=9e6), "answer"),
    (each("legs", verdict="clear"), "way"),
    (each("legs", path_lonlat=[[15.0, 50.0], [15.0, 50.00001]]), "way"),
    (each("stops", at_m=1.5), "stops"),
    (lambda c: c.update(departure={"state": "not_limited", "looked_until": "2099-01-01T00:00:00+00:00"}), "hours"),
    (lambda c: c.update(created_at="2099-01-01T00:00:00Z"), "when it was made"),
    (lambda c: c.update(checked=c["checked"][:3]), "what was checked"),
    (lambda c: c.update(cautions=[]), "cautions"),
    (lambda c: c["sources"].clear(), "rules and sources"),
    (lambda c: c["site"].update(timezone="Pacific/Honolulu"), "what it is about"),
    (lambda c: c["machine"].update(name="Another"), "what it is about"),
    (lambda c: c.update(fingerprint="0" * 64), "what it is about"),
])  # fmt: skip
def test_what_was_changed_by_hand_is_named(plan: TravelPlan, change: Callable[[Content], Any], part: str) -> None:
    assert otherwise(plan, change) == (part,)


@pytest.mark.parametrize(("was", "now", "later"), [
    ({"date": "2026-11-02"}, {"date": "2026-11-20"}, True),
    ({"date": "2026-11-20"}, {"date": "2026-11-02"}, False),
    ({"until": None}, {"until": "2026-11-28"}, False),
    ({"until": "2026-11-28"}, {"until": "2026-11-27"}, False),
    ({"until": "2026-11-28"}, {"until": "2026-12-01", "date": "2026-11-22"}, True),
    ({"age_limit_d": 30.0}, {"age_limit_d": 14.0}, False),
    ({"age_limit_d": None}, {"age_limit_d": 14.0}, False),
    ({"by": "Hanne"}, {"by": "Olek"}, True),
    ({"roads": []}, {"roads": ["main"]}, False),
])  # fmt: skip
def test_only_a_later_look_that_holds_as_long_voids_nothing(
    plan: TravelPlan, was: Content, now: Content, later: bool
) -> None:
    def noted(values: Content) -> TravelPlan:
        def change(content: Content) -> None:
            row = next(row for row in content["relied_on"] if row["layer"] == "surveyed")
            row["values"] |= {"date": "2026-11-21", "age_limit_d": 30.0} | values

        return edited(plan, change)

    (change,) = compare_plans(noted(was), noted(now)).relied_on
    assert _only_later(change) is later
