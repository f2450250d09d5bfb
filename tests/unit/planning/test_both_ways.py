"""Out and back as one: a way out that leaves no way back is no plan where another one leaves one."""

from __future__ import annotations

from typing import Any

from tests.memory_site import make_site
from tests.planning import MILD, answer_of, case_of, sheet, workspace_of
from tests.property.test_plan_properties import strong
from tests.unit.planning.remedy_cases import FLAT
from travel.domain.plan import TravelPlan
from travel.domain.site import Site
from travel.planning.remedies import Question, plan_again

FREE = [{"id": f"m{n}", "use": "free_ground",
         "polygon": [(x - 18, y - 18), (x + 18, y - 18), (x + 18, y + 18), (x - 18, y + 18)]}
        for n, (x, y) in enumerate([(40, 0), (40, 80), (240, 80), (240, 0)])]  # fmt: skip


def ring(*more: dict[str, Any], **east: Any) -> Site:
    """Give a pick point where nobody can turn or stand, on a short road that goes on into one that leads to it alone,
    round from the gate's side."""

    def road(id_: str, points: list[tuple[float, float]], **values: Any) -> dict[str, Any]:
        return {"id": id_, "xyz": [(*at, 10.0) for at in points]} | FLAT | values

    roads = [
        road("in", [(0, 0), (40, 0)]),
        road("short", [(40, 0), (140, 0)]),
        road("round", [(40, 0), (40, 80), (240, 80), (240, 0)], one_way="along"),
        road("east", [(240, 0), (140, 0)], **({"one_way": "along"} | east)),
        *(road(values.pop("id"), values.pop("points"), **values) for values in more),
    ]
    places = [
        {"id": "gate", "xy": (0, 0), "kind": "gate", "may_stop": True},
        {"id": "pick", "xy": (140, 0), "kind": "pick_point"},
    ]
    return make_site(roads, places, areas=FREE)


def driven(plan: TravelPlan) -> list[tuple[str, str]]:
    return [(leg.trip, leg.road) for leg in plan.legs]


def test_the_way_out_ends_so_that_there_is_a_way_back() -> None:
    plan = answer_of(ring(), "gate", "pick", strong(), with_return=True).plan
    assert (plan.outcome, plan.verdict) == ("way", "clear")
    out, back = ["in", "round", "east"], ["short", "in"]
    assert driven(plan) == [*(("out", road) for road in out), *(("back", road) for road in back)]
    alone = answer_of(ring(), "gate", "pick", strong()).plan
    assert [leg.road for leg in alone.legs] == ["in", "short"], "asked for the way out alone it is the short one"


def test_a_way_back_that_is_known_is_worth_another_way_out() -> None:
    """Ended by the short road the machine drives on, and home over a road whose width nobody measured."""
    site = ring({"id": "home", "points": [(240, 0), (240, -80), (40, -80), (40, 0)], "width_m": None}, one_way="no")
    plan = answer_of(site, "gate", "pick", strong(), with_return=True).plan
    assert (plan.outcome, plan.verdict) == ("way", "clear")
    assert ("out", "round") in driven(plan)


def test_where_no_end_helps_the_way_out_is_as_if_alone() -> None:
    site = ring(
        {"id": "home", "points": [(240, 0), (240, -80), (40, -80), (40, 0)], "width_m": None}, one_way="against"
    )
    plan = answer_of(site, "gate", "pick", strong(), with_return=True).plan
    assert (plan.outcome, plan.verdict) == ("way", "unknown")
    assert driven(plan)[:2] == [("out", "in"), ("out", "short")]


def test_remedies_are_proven_out_and_back_as_one() -> None:
    workspace, machine = workspace_of(ring()), sheet()
    question = Question(
        out=case_of(workspace, machine, weather=MILD),
        back=case_of(workspace, machine, weather=MILD, trip="back"),
        from_place="gate",
        to_place="pick",
    )
    assert plan_again(question, ()) is not None
