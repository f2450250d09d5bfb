"""What is worked out once for many remedies: proofs of one machine's places, corners with a change laid on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import MILD, case_of, sheet, workspace_of
from tests.unit.planning import test_corner_remedies as corner_sites
from tests.unit.planning.remedy_cases import FLAT, KNOWN, PLACES, book, question_of, site_with, straight
from travel.checks import Case, Turns, check_turns, tops
from travel.checks import turns as turns_module
from travel.domain.plan import RemedyPart
from travel.planning import remedies
from travel.planning.fleet import FleetPlace, places_of
from travel.planning.remedies import Proofs, plan_again
from travel.planning.remedy_corners import CornersDriven, Judged
from travel.planning.remedy_quantity import changed_case
from travel.planning.spans import Spans
from travel.planning.trips import Prepared, prepare

FURTHER = {**PLACES[1], "id": "further", "xy": (180, 0)}
GATEWAY = {"id": "g", "xy": (50, 0), "kind": "gateway", "road": "r1", "width_m": 2.0}


def beyond_a_gateway() -> Case:
    """A gateway too narrow on the only road to two pick points."""
    on = {**straight(), **FLAT, "id": "r2", "xyz": [(100, 0, 10), (180, 0, 10)]}
    site = make_site([straight(), on], [*PLACES, FURTHER], limits=[GATEWAY])
    rulebook = book(lambda row: row.layer == "limits")
    return case_of(workspace_of(site, rulebook), sheet(**KNOWN), weather=MILD)


@pytest.fixture
def prepared_for_proofs(monkeypatch: pytest.MonkeyPatch) -> list[Case]:
    """Give the cases that proofs are prepared for, as they are."""
    out: list[Case] = []

    def noted(case: Case, *args: Any, **options: Any) -> Prepared:
        out.append(case)
        return prepare(case, *args, **options)

    monkeypatch.setattr(remedies, "prepare", noted)
    return out


def table(*places: str) -> Iterator[FleetPlace]:
    return places_of(Spans(beyond_a_gateway()), "gate", places, remedies=True)


def test_places_opened_by_one_change_are_proven_on_one_survey(prepared_for_proofs: list[Case]) -> None:
    both = list(table("pick", "further"))
    assert len(prepared_for_proofs) == 1
    assert both[0].remedy is not None
    assert both == [*table("pick"), *table("further")]


def test_the_last_few_proofs_are_kept() -> None:
    question, proofs = question_of(site_with(limits=[GATEWAY])), Proofs(2)

    def laid(width_m: float) -> object:
        part = RemedyPart(layer="limits", feature="g", field="width_m", old=2.0, value=width_m)
        return proofs.laid(question, (part,))

    first, second = laid(3.0), laid(4.0)
    assert first is not second
    assert laid(3.0) is first
    laid(5.0)
    assert laid(3.0) is first
    assert laid(4.0) is not second
    assert plan_again(question, ()) is None


def test_the_last_few_plans_that_open_are_kept() -> None:
    question = question_of(site_with(limits=[GATEWAY]), back=False)

    def planned(width_m: float) -> object:
        return plan_again(question, (RemedyPart(layer="limits", feature="g", field="width_m", old=2.0, value=width_m),))

    first = planned(9.0)
    assert first is not None
    assert planned(9.0) is first
    for width_m in range(10, 10 + remedies.MOST_PROVEN):
        planned(float(width_m))
    assert planned(9.0) is not first


def test_a_corner_is_judged_once_with_a_change(monkeypatch: pytest.MonkeyPatch) -> None:
    question = question_of(corner_sites.junction(), back=False)
    ready = prepare(question.out)
    part = RemedyPart(layer="places", feature="yard", field="turn_radius_m", old=2.0, value=60.0)
    count: list[int] = []
    judge = Turns.judge

    def noted(turns: Turns, rows: Any, states: Any = None) -> None:
        count.append(len(rows))
        judge(turns, rows, states)

    monkeypatch.setattr(Turns, "judge", noted)
    judged, at = Judged(), tuple((row, 0) for row in range(3))
    driven = CornersDriven(case=question.out, turns=ready.turns, at=at)
    first = judged.verdicts(driven, (part,))
    assert count == [3]
    assert judged.verdicts(CornersDriven(case=question.out, turns=ready.turns, at=at[:2]), (part,)) == first[:2]
    assert count == [3]
    now = judged.verdicts(driven, ())
    assert now != first
    assert now == Judged().verdicts(driven, ())


def test_a_body_is_rolled_once_over_heights_that_stay(monkeypatch: pytest.MonkeyPatch) -> None:
    count: list[int] = []
    found = tops._found
    monkeypatch.setattr(tops, "_found", lambda *asked: count.append(1) or found(*asked))
    pipe = {"id": "o", "xy": [(50, -5), (50, 5)], "kind": "pipe", "road": "r1", "clearance_m": 2.0}
    case = question_of(site_with(straight(3.0), overheads=[pipe]), back=False).out
    pieces = np.arange(len(case.survey.pieces))
    first = tops.tops_of(case, pieces)
    higher = RemedyPart(layer="overheads", feature="o", field="clearance_m", old=2.0, value=5.0)
    again = tops.tops_of(changed_case(case, (higher,)), pieces)
    assert len(count) == 1
    np.testing.assert_array_equal(again.height_m, first.height_m)
    lower = RemedyPart(layer="machine", feature="", field="height_m", old=None, value=1.0)
    assert (tops.tops_of(changed_case(case, (lower,)), pieces).height_m < first.height_m[:, -1:]).all()
    assert len(count) == 2


def test_circles_are_looked_into_where_they_are_asked_about(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[frozenset[int] | None] = []
    free = turns_module.free_to_turn

    def noted(case: Case, as_stated: bool = False, nodes: frozenset[int] | None = None) -> list[list[bool]]:
        asked.append(nodes)
        return free(case, as_stated, nodes)

    monkeypatch.setattr(turns_module, "free_to_turn", noted)
    case = question_of(corner_sites.junction(), back=False).out
    few, every = check_turns(case), check_turns(case)
    rows = np.flatnonzero(few.corners.returns)
    assert every.circle[rows].any()
    for row in rows.tolist():
        few.judge(np.array([row]))
    every.judge(rows)
    assert [None, *({int(n)} for n in dict.fromkeys(few.corners.node[rows].tolist()))] == asked
    np.testing.assert_array_equal(few.worst, every.worst)
