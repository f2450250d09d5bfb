"""The greatest width that gets to a place, where corners decide it: never more than what planning lets through."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.planning import case_of, day_of, on_day, sheet
from tests.random_site import random_site
from tests.unit.planning.remedy_cases import question_of
from tests.unit.planning.test_corner_remedies import POST, junction
from travel.checks import check_turns
from travel.domain.plan import RemedyPart
from travel.domain.site import Site
from travel.planning.reach import PlaceReach, reach_of
from travel.planning.reach_corners import OWN, SHARES, CornerWidths
from travel.planning.remedies import Question, plan_again
from travel.planning.remedy_machine import changed_body
from travel.planning.trips import Prepared, prepare


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


def by_trying(prepared: Prepared, row: int) -> float:
    """Give what a corner lets through by trying every width in every state with all there is to ask of it: up from the
    machine's own as long as it passes, else down from it until one does."""
    case, best = prepared.case, -np.inf
    states = np.arange(len(case.configurations.states))

    def told(share: float) -> float:
        width = case.body.width_m * share
        turns = check_turns(replace(case, body=changed_body(case.body, "width_m", width)), from_sides=False)
        parts = [part for part in turns.parts(np.array([row]), states) if part.rule == "turn"]
        if any(part.not_looked for part in parts):
            return -np.inf
        outcome = parts[0].outcome
        room = np.asarray(outcome.capacity - outcome.demand - outcome.tolerance)
        lacking = np.logical_or.reduce([np.broadcast_to(where, room.shape) for where in outcome.missing.values()])
        room = np.where(lacking | np.isnan(room), -np.inf, room).max()
        return width + float(room) if room >= 0.0 else -np.inf

    wider, narrower = SHARES[OWN:], SHARES[:OWN][::-1]
    for share in wider:
        found = told(share)
        if found == -np.inf:
            break
        best = max(best, found)
    return next((found for share in narrower if (found := told(share)) > -np.inf), -np.inf) if best < 0.0 else best


def cornered(site: Site) -> Prepared:
    return prepare(case_of(site, sheet(), steering=("front", "all")))


SITES = {
    **{f"{width_m} m wide": junction(width_m, 2.0) for width_m in (3.6, 5.0, 6.8, 8.5, 12.0)},
    "a post": junction(9.0, 2.0, obstacles=[POST]),
    "drawn 3": random_site(3, blank=0.0),
    "drawn 5": random_site(5, blank=0.0),
    "drawn 25": random_site(25, blank=0.0),  # a state there passes wider, but not at a narrower width
}


@pytest.mark.parametrize("name", SITES)
def test_widths_are_those_found_by_trying_them_one_by_one(name: str) -> None:
    """Also where less was asked first, and never less is told before it is settled."""
    with on_day(day_of(SITES[name])):
        prepared = cornered(SITES[name])
        pairs = list(prepared.turns.corners.by_pair.items())[:10]
        widths = {row: by_trying(prepared, row) for _, row in pairs}
        for first in (np.inf, 1.0, 2.6):
            corners = CornerWidths(prepared)
            for most in (first, np.inf):
                while corners.settle([([*at], most, -np.inf) for at, _ in pairs]):
                    assert all(corners.told()[0].by_row[row] >= widths[row] for row in widths)
                told = corners.told()[0].by_row
                assert all(told[row] == widths[row] or told[row] > widths[row] >= most for row in widths)
            assert not corners.settle([([*at], np.inf, -np.inf) for at, _ in pairs])
            assert {row: corners.told()[0].by_row[row] for row in widths} == widths


@pytest.mark.parametrize("elsewhere_m", [1.9, 2.4, 3.1])
@pytest.mark.parametrize("name", SITES)
def test_what_gets_there_elsewhere_as_well_is_not_looked_at_closely(name: str, elsewhere_m: float) -> None:
    """What surely passes never is more than by trying one by one, and what may never less; both are where more passes
    than elsewhere."""
    with on_day(day_of(SITES[name])):
        prepared = cornered(SITES[name])
        pairs = list(prepared.turns.corners.by_pair.items())[:10]
        widths, corners = {row: by_trying(prepared, row) for _, row in pairs}, CornerWidths(prepared)

        def asked() -> list[tuple[list[int], float, float]]:
            return [([*at], corners.told()[0].by_row[row], elsewhere_m) for at, row in pairs]

        while corners.settle(asked()):
            pass
        most, sure = corners.told()
        for row, width in widths.items():
            assert sure.by_row[row] <= width <= most.by_row[row]
            assert most.by_row[row] in (sure.by_row[row], width) or most.by_row[row] <= elsewhere_m
