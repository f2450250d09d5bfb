"""A trip that begins or ends where three roads meet: what the machine stands over past that place."""

from __future__ import annotations

from typing import Any

import pytest

from tests.memory_site import make_site
from tests.planning import case_of, plan_of, sheet
from tests.unit.checks.turn_cases import HEADER, ROAD
from travel.domain.plan import TravelPlan

WEST, NODE = (-80.0, 0.0), (0.0, 0.0)
PLACES = [{"id": "w", "xy": WEST, "kind": "gate"}, {"id": "n", "xy": NODE, "kind": "pick_point"}]


def at_a_junction(start: str, goal: str, east: bool = True, **features: Any) -> TravelPlan:
    """Plan between a place in the west and one where two more roads begin; ``east``: one of them leads straight on."""
    roads = [
        ROAD | {"id": "in", "xy": [WEST, NODE], "width_m": 9.0},
        ROAD | {"id": "on", "xy": [NODE, (60.0, 0.0) if east else (0.0, -60.0)], "width_m": 9.0},
        ROAD | {"id": "off", "xy": [NODE, (0.0, 60.0)], "width_m": 9.0},
    ]
    return plan_of(make_site(roads, PLACES, header=HEADER, **features), start, goal, sheet())


def said(plan: TravelPlan) -> list[tuple[str, str, tuple[str, ...], bool]]:
    """Give what is told of the ends: rule, verdict, what is missing, whether it may be accepted."""
    return [(f.rule, f.verdict, f.missing, f.acceptable) for f in plan.findings if f.reason == "lies_there"]


def post(x: float, y: float = 0.0) -> dict[str, Any]:
    return {"obstacles": [{"id": "o", "xy": (x, y), "height_m": 1.0}]}


def gateway(x: float) -> dict[str, Any]:
    return {"limits": [{"id": "g", "kind": "gateway", "width_m": 2.5, "road": "on", "xy": (x, 0.0)}]}


@pytest.mark.parametrize(("start", "goal"), [("w", "n"), ("n", "w")])
def test_nothing_is_told_where_nothing_lies(start: str, goal: str) -> None:
    assert not said(at_a_junction(start, goal))


@pytest.mark.parametrize("east", [True, False])
def test_a_post_under_the_tail_at_the_beginning(east: bool) -> None:
    """Its tail is 4.6 m behind the front axle; wheels and frame stand over the ground there."""
    body = case_of(make_site([ROAD | {"id": "r", "xy": [WEST, NODE], "width_m": 9.0}], header=HEADER), sheet()).body
    for x, y, lies in ((-body.rear_x_m - 0.5, 0.0, True), (-body.rear_x_m + 1.0, 0.0, False), (3.5, 2.5, False)):
        plan = at_a_junction("n", "w", east, **post(x, y))
        assert said(plan) == ([("width", "unknown", ("obstacles o",), False)] if lies else []), (x, y)
        assert plan.verdict == "unknown"


def test_soft_ground_under_the_tail_and_not_under_the_front() -> None:
    soft = {"ground": [{"id": "s", "bearing_kpa": 20.0, "polygon": [(3.0, -2.0), (9.0, -2.0), (9.0, 2.0), (3.0, 2.0)]}]}
    assert said(at_a_junction("n", "w", **soft)) == [("width", "unknown", ("ground s",), False)]
    assert not said(at_a_junction("w", "n", **soft))


def test_a_gateway_the_front_stands_in_at_the_end() -> None:
    """Its front is 1.6 m ahead of the front axle."""
    assert said(at_a_junction("w", "n", **gateway(1.2))) == [("width", "unknown", ("limits g",), False)]
    assert not said(at_a_junction("w", "n", **gateway(3.5)))


def test_what_is_told_is_what_the_verdict_and_the_leg_say() -> None:
    plan = at_a_junction("w", "n", **gateway(1.2))
    found = next(f for f in plan.findings if f.reason == "lies_there")
    assert found.leg == plan.legs[-1].leg
    assert found.flag in plan.legs[-1].flags
    assert plan.legs[-1].verdict == plan.trips[0].verdict == "unknown"
