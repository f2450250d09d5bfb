"""Findings about how far the machine is driven backwards at one go."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from travel.checks import acceptance_id
from travel.domain.plan import Finding, LimitUsed, Where
from travel.planning.findings import Found
from travel.planning.trips import Trip

RULE, LIMIT, CONTROL = "reverse", "reverse.length", "long-reverse"


def long_reverse_findings(trip: Trip) -> Iterator[Found]:
    """Give one finding for each stretch driven backwards further than the rulebook's length, at the road it begins on.

    Its demand is the whole length driven backwards, over however many roads; every cell of it is covered.
    """
    for first, stop, length_m in trip.long_reverses:
        yield Found(finding=_finding(trip, first, stop, length_m), cells=np.arange(first, stop), order=(first, 0))


def _finding(trip: Trip, first: int, stop: int, length_m: float) -> Finding:
    case, cells = trip.case, trip.cells
    names, config, limit = case.configurations, int(cells.config[first]), case.resolved(LIMIT)
    row, most = limit.rows[int(limit.row)], float(limit.values)
    where = _where(trip, first, stop)
    return Finding(
        flag=0,
        id=acceptance_id(RULE, case.trip, where.road or "", "length", f"{where.at_m:.0f}"),
        rule=RULE,
        trip=case.trip,
        leg=None,
        where=where,
        configuration={
            "travel": names.travel[config],
            "range": names.range[config],
            "steering": names.steering[config],
            "drive": names.drive[config],
        },
        demand=length_m,
        capacity=most,
        margin=most - length_m,
        unit="m",
        tolerance=0.0,
        severity=None,
        verdict="caution",
        why="length",
        reason="",
        control=CONTROL,
        limit=LimitUsed(
            id=row.id,
            value=most,
            layer=row.layer,
            status=row.status,
            source=" ".join(part for part in (row.source, row.clause) if part),
        ),
        source=row.source,
    )


def _where(trip: Trip, first: int, stop: int) -> Where:
    """Give the part of the stretch on the road it begins on, and its beginning."""
    survey, cells = trip.case.survey, trip.cells
    pieces = survey.pieces
    mine = cells.piece[first:stop]
    road = int(pieces.road[mine[0]])
    other = np.flatnonzero(pieces.road[mine] != road)
    mine = mine[: other[0]] if len(other) else mine
    begin = float(pieces.from_m[mine[0]] if cells.sense[first] > 0 else pieces.to_m[mine[0]])
    point = survey.lonlat(np.array([[pieces.x_m[mine[0]], pieces.y_m[mine[0]]]]))[0]
    return Where(
        scope="stretch",
        road=survey.site.layers["roads"].ids[road],
        from_m=float(pieces.from_m[mine].min()),
        to_m=float(pieces.to_m[mine].max()),
        at_m=begin,
        lonlat=(float(point[0]), float(point[1])),
    )
