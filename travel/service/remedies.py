"""Remedies for a request whose trips found no way."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from travel.domain.plan import Remedy
from travel.domain.request import PlanRequest
from travel.planning.remedies import Question
from travel.planning.remedy_list import remedies_of
from travel.planning.trips import Trip
from travel.service.cases import Sheets, accepted_ids, trip_case
from travel.service.workspace import Progress, Workspace

RemedySearch = Literal["none", "quick", "all"]
QUICK_SETS, ALL_SETS = 3, 5
HORIZON_S = 3600.0


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
    out = trips[0].case
    back = None
    if request.with_return:
        solved = next((trip.case for trip in trips if trip.case.trip == "back"), None)
        span = out.until - out.at if out.at and out.until else dt.timedelta(seconds=HORIZON_S)
        back = solved or trip_case(request, workspace, sheets, "back", span.total_seconds())
    question = Question(
        out=out,
        back=back,
        from_place=request.from_place,
        to_place=request.to_place,
        accepted=accepted_ids(request),
        aim=request.aim,
    )
    ready = tuple(trip.prepared for trip in trips)
    limit = ALL_SETS if how == "all" else QUICK_SETS
    return remedies_of(question, ready, limit=limit, thorough=how == "all", tell=tell)
