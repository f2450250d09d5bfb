"""The tightest finding of a trip is built alone: against all findings of the trip."""

from __future__ import annotations

import numpy as np
import pytest

from tests.planning import case_of, day_of, on_day, sheet
from tests.random_site import random_site
from travel.checks import answers_for
from travel.domain.verdict import Verdict
from travel.planning.cornered import turn_answers
from travel.planning.findings import findings_of
from travel.planning.nearest import stopping_cells
from travel.planning.tightest import tightest, tightest_of
from travel.planning.trips import Prepared, TripRequest, prepare, search


def prepared_of(seed: int) -> Prepared:
    return prepare(case_of(random_site(seed, blank=0.1 if seed % 2 else 0.0), sheet(), steering=("front", "all")))


@pytest.mark.parametrize("seed", range(12))
def test_it_is_the_tightest_of_all_its_findings(seed: int) -> None:
    """Of all that are as bad as the worst; its number among those alike as well."""
    prepared = prepared_of(seed)
    nodes, seen = prepared.case.survey.network.place_node, 0
    with on_day(day_of(prepared.case.survey.site)):
        start, *places = nodes
        requests = [TripRequest(start=nodes[start], goal=nodes[one], from_place=start, to_place=one) for one in places]
        trips = [search(prepared, request) for request in requests]
        cells = [trip.cells if trip.way or not trip.blocked_way else stopping_cells(trip)[0] for trip in trips]
        for trip, some, found in zip(trips, cells, tightest_of(trips, cells), strict=True):
            answers = answers_for(trip.case, some.piece, some.sense, some.config) if len(some) else ()
            every = [each.finding for each in findings_of(trip, some, {}, (*answers, *turn_answers(trip, some)))]
            worst = tightest(every)
            least = Verdict.CAUTION if trip.way is not None else Verdict.BLOCKED
            if worst is None or Verdict[worst.verdict.upper()] < least:
                assert found is None
                continue
            assert found is not None
            assert (found.verdict, found.severity) == (worst.verdict, worst.severity)
            assert found in every
            seen += 1
    assert seen or not places


@pytest.mark.parametrize("seed", range(0, 12, 3))
def test_reasons_of_many_rows_are_those_of_each(seed: int) -> None:
    prepared = prepared_of(seed)
    case, count = prepared.case, len(prepared.case.survey.pieces)
    words = set()
    with on_day(day_of(case.survey.site)):
        for answer in answers_for(
            case, np.arange(count), np.ones(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
        ):
            rows = np.flatnonzero(answer.applies() & (answer.verdict >= Verdict.CAUTION))
            told = answer.reasons(rows)
            assert told == [answer.reason(row) for row in rows.tolist()]
            words |= set(told)
    assert len(words) > 1
