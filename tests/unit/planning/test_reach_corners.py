"""The greatest width that gets to a place, where corners decide it: never more than what planning lets through."""

from __future__ import annotations

import pytest

from tests.planning import day_of, on_day
from tests.unit.planning.remedy_cases import question_of
from tests.unit.planning.test_corner_remedies import junction
from travel.domain.plan import RemedyPart
from travel.planning.reach import PlaceReach, reach_of
from travel.planning.remedies import Question, plan_again
from travel.planning.trips import prepare


def reached(question: Question) -> dict[str, PlaceReach]:
    return {row.place: row for row in reach_of(prepare(question.out), "gate")}


def gets_there(question: Question, width_m: float) -> bool:
    """Tell by planning again whether a machine of some width does, with nothing unknown on its way."""
    name = question.out.machine.name
    trips = plan_again(question, (RemedyPart(layer="machine", feature=name, field="width_m", old=None, value=width_m),))
    return trips is not None and trips[0].worst <= 1


@pytest.mark.parametrize("width_m", [6.8, 7.4, 8.5, 10.0])
def test_a_machine_as_wide_as_told_turns_and_one_much_wider_does_not(width_m: float) -> None:
    site = junction(width_m, 2.0)
    question = question_of(site, back=False)
    with on_day(day_of(site)):
        told = reached(question)["pick"].greatest["width_m"]
        assert told is not None
        assert told > 1.6
        assert gets_there(question, told - 1e-6)
        assert not gets_there(question, told + 0.5)


def test_where_no_machine_for_the_work_turns_none_is_known() -> None:
    site = junction(3.6, 2.0)
    with on_day(day_of(site)):
        rows = reached(question_of(site, back=False))
    assert rows["pick"].verdict == "blocked"
    assert rows["pick"].greatest["width_m"] == 0.0
    assert rows["yard"].greatest["width_m"] not in (None, 0.0)


def test_a_place_that_is_closed_off_lets_nothing_through() -> None:
    """Closed to everybody: no height, width or mass gets there, which is not the same as no limit."""
    closed = {"id": "c", "polygon": [(-5, 30), (5, 30), (5, 40), (-5, 40)]}
    site = junction(9.0, 2.0, closures=[closed])
    with on_day(day_of(site)):
        rows = reached(question_of(site, back=False))
    assert set(rows["pick"].greatest.values()) == {0.0}
    assert rows["yard"].greatest["height_m"] is None
