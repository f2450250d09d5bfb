"""Remedies of a plan with an hour: a set is proven over as long as its ways take, as the plan made with it is."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from tests import builders
from tests.memory_site import make_site
from tests.planning import MILD, case_of, day_of, on_day, sheet, workspace_of
from tests.unit.planning.remedy_cases import FLAT, KNOWN
from travel.domain.plan import Remedy, RemedyPart
from travel.domain.request import PlanRequest
from travel.domain.site import Site
from travel.planning.remedies import Question, plan_again
from travel.service.plan import make_plan
from travel.service.remedy import _amendment, _asked
from travel.survey import lay_on

EIGHT = dt.datetime(2026, 3, 3, 8, tzinfo=dt.UTC)
LENGTH_M = 1500.0


def closed(id_: str, at_m: float, first: str, last: str) -> dict[str, Any]:
    """Give a closure of a few metres of the road between two times of the day."""
    ring = [(at_m, -9), (at_m + 9, -9), (at_m + 9, 9), (at_m, 9)]
    day = EIGHT.date().isoformat()
    return {"id": id_, "polygon": ring, "closed_from": f"{day}T{first}:00Z", "closed_until": f"{day}T{last}:00Z"}


def shut_twice(near: str = "10:01") -> Site:
    """Give a long road whose begin is shut until ten, and whose end is from just after ten until noon."""
    road = {"id": "r1", "xyz": [(0, 0, 10), (LENGTH_M, 0, 10)]} | FLAT
    places = [{"id": "gate", "xy": (0, 0), "kind": "gate", "may_stop": True, "turn_radius_m": 15.0},
              {"id": "pick", "xy": (LENGTH_M, 0), "kind": "pick_point", "may_stop": True, "turn_radius_m": 15.0,
               "slope_pct": 0.0, "cross_slope_pct": 0.0}]  # fmt: skip
    closures = [closed("begin", 50.0, "06:00", "10:00"), closed("end", 1400.0, near, "12:00")]
    return make_site([road], places, closures=closures)


def lifted(closure: str) -> tuple[RemedyPart, ...]:
    return (RemedyPart(layer="closures", feature=closure, field="removed", old=None, value=True),)


def test_a_set_is_proven_over_as_long_as_its_ways_take() -> None:
    out = case_of(workspace_of(shut_twice("08:01")), sheet(**KNOWN), at=EIGHT, until=EIGHT)
    question = Question(out=out, back=None, from_place="gate", to_place="pick")
    assert plan_again(question, lifted("begin")) is None, "the end shuts before it is passed"
    assert plan_again(question, (*lifted("begin"), *lifted("end"))) is not None


def listed(tmp_path: Path, back: bool) -> list[tuple[Remedy, str]]:
    """Give the remedies of a plan at eight, each with what planning again with it says."""
    site, path = shut_twice(), builders.write_machine(tmp_path / "machine.toml", **KNOWN)
    request = PlanRequest(site=Path("memory"), machine=path, from_place="gate", to_place="pick", at=EIGHT, weather=MILD,
                          with_return=back)  # fmt: skip
    with on_day(day_of(site)):
        plan = make_plan(request, workspace_of(site), remedies="all", outlook=False).plan
        changes = [remedy for remedy in plan.remedies if remedy.kind == "change"]
        said = []
        for remedy in changes:
            parts = tuple(_amendment(part) for part in remedy.amendments if part.layer == "closures")
            again = make_plan(_asked(request, remedy), workspace_of(lay_on(site, parts)), remedies="none")
            said.append(again.plan.outcome)
    return list(zip(changes, said, strict=True))


def test_a_later_start_opens_what_it_says(tmp_path: Path) -> None:
    found = listed(tmp_path, back=False)
    assert "start-later" in {part.reason for remedy, _ in found for part in remedy.amendments}
    assert {outcome for _, outcome in found} == {"way"}


def test_the_way_back_gets_an_hour_after_the_way_out(tmp_path: Path) -> None:
    found = listed(tmp_path, back=True)
    hours = [{part.feature: dt.datetime.fromisoformat(str(part.value)) for part in remedy.amendments
              if part.field == "at"} for remedy, _ in found]  # fmt: skip
    later = [hour for hour in hours if hour]
    assert later
    assert all(hour["back"] - hour[""] > dt.timedelta(minutes=3) for hour in later), "the way out takes longer"
    assert {outcome for _, outcome in found} == {"way"}
