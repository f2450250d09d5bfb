"""People where a turn sweeps over: the roads are asked about their middle lines, which the machine leaves."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.unit.checks.turn_cases import CLEAR, LEFT, RIGHT, UNKNOWN, junction, room
from travel.checks import Case
from travel.checks.answers import answers_for
from travel.checks.lies_beside import lies_there
from travel.domain.verdict import Verdict

INNER = [(-3.4, 2.2), (-2.4, 2.2), (-2.4, 3.2), (-3.4, 3.2)]
"""2.2 m and more from both middle lines, where the inner side of the body runs."""


def turning(polygon: list[tuple[float, float]] = INNER, **says: Any) -> Case:
    """Give a junction of 8 m roads with people beside it."""
    people = {"id": "p", "kind": "work_area", "polygon": polygon} | says
    return junction(8.0, stated_m=0.5, people=[people])


def named(case: Case, hand: float = LEFT) -> tuple[Verdict, list[str]]:
    """Give the answer on room, and what lies in the way; against the main road the turn is to the right."""
    part = room(case, hand=hand)
    return Verdict(int(part.verdict[0, 0])), [name for name, where in part.outcome.missing.items() if where.any()]


def barred_along(case: Case) -> bool:
    """Tell whether the rule on people bars anything along the roads."""
    pieces = np.arange(len(case.survey.pieces))
    found = answers_for(case, pieces, np.ones_like(pieces), np.zeros_like(pieces), frozenset({"people"}))
    return any(bool((answer.verdict[answer.applies()] == Verdict.BLOCKED).any()) for answer in found)


@pytest.mark.parametrize("kind", ["work_area", "public"])
def test_people_the_turn_sweeps_over_bar_it_though_they_are_beside_both_middle_lines(kind: str) -> None:
    case = turning(kind=kind)
    assert not barred_along(case)
    assert named(case) == (UNKNOWN, ["people p"])
    assert lies_there("people p")


@pytest.mark.parametrize("says", [{"kind": "crossing"}, {"kind": "walkway"}, {"control": "fenced off"}])
def test_those_that_are_passed_along_a_road_are_passed_in_a_turn(says: dict[str, Any]) -> None:
    assert named(turning(**says)) == (CLEAR, [])


def test_the_other_turn_does_not_come_near_them() -> None:
    assert named(turning(), RIGHT)[1] == []


def test_further_inside_the_corner_nothing_is_swept() -> None:
    away = [(x - 3.0, y + 3.0) for x, y in INNER]
    assert named(turning(away)) == (CLEAR, [])
