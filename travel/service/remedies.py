"""Remedies for a request whose trips found no way."""

from __future__ import annotations

from typing import Literal

from travel.checks.hours import clock
from travel.domain.plan import Remedy
from travel.domain.request import PlanRequest
from travel.planning.remedies import Question
from travel.planning.remedy_list import remedies_of
from travel.planning.spans import HORIZON_FACTOR, over
from travel.planning.trips import Trip, cells_of
from travel.service.cases import Sheets, accepted_ids, trip_case
from travel.service.workspace import Progress, Workspace
from travel.units import S_PER_MIN

RemedySearch = Literal["none", "quick", "all"]
QUICK_SETS, ALL_SETS = 3, 5


def remedies_for(
    request: PlanRequest,
    workspace: Workspace,
    sheets: Sheets,
    trips: list[Trip],
    how: RemedySearch,
    tell: Progress,
) -> tuple[Remedy, ...]:
    """Give the least found changes that open a request, then what is to be measured.

    Args:
        request: the question
        workspace, sheets: site, machine and loads as read
        trips: as far as they were solved; the last found no way
        how: how far to look
        tell: called with what is being done and the share done
    """
    span_s = _span_s(request, trips)
    out, back = over(trips[0].case, span_s), None
    if request.with_return:
        solved = next((trip.case for trip in trips if trip.case.trip == "back"), None)
        back = over(solved, span_s) if solved else trip_case(request, workspace, sheets, "back", span_s)
    question = Question(
        out=out,
        back=back,
        from_place=request.from_place,
        to_place=request.to_place,
        accepted=accepted_ids(request),
        aim=request.aim,
    )
    cases = zip(question.cases, (trip.case for trip in trips), strict=False)
    ready = tuple(trip.prepared for trip in trips) if all(clock(new) == clock(old) for new, old in cases) else ()
    limit = ALL_SETS if how == "all" else QUICK_SETS
    return remedies_of(question, ready, limit=limit, thorough=how == "all", tell=tell)


def _span_s(request: PlanRequest, trips: list[Trip]) -> float:
    """Give for how long hours are looked at before a way is known [s]: as a plan would over the least-blocked ways, a
    way back not looked at taken as long as the way out."""
    times = [trip.time_s if trip.way else _least_s(trip) for trip in trips]
    times += times if request.with_return and len(times) == 1 else []
    return max(HORIZON_FACTOR * sum(times), (request.horizon_min or 0.0) * S_PER_MIN)


def _least_s(trip: Trip) -> float:
    """Give how long the least-blocked way takes where nothing slows the machine."""
    cells = cells_of(trip.case, trip.choice, trip.blocked_way.steps if trip.blocked_way else ())
    return float((trip.case.survey.pieces.length_m[cells.piece] / trip.case.configurations.top_mps[cells.config]).sum())
