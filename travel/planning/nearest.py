"""Where the machine gets to when there is no way, and what stops it there."""

from __future__ import annotations

import numpy as np

from travel.checks import answers_for
from travel.domain.plan import Finding, Nearest
from travel.domain.verdict import Verdict
from travel.planning.findings import Found, findings_of
from travel.planning.trips import Cells, Trip, cells_of


def _stopping_cells(trip: Trip) -> tuple[Cells, int]:
    """Give the cells of the least-blocked way, and the first blocked one among them."""
    assert trip.blocked_way is not None
    cells = cells_of(trip.case, trip.choice, trip.blocked_way.steps)
    way = (1 - cells.sense) // 2
    worst = trip.folded.worst[cells.piece, way, cells.config]
    return cells, int(np.argmax(worst == Verdict.BLOCKED))


def stopping_findings(trip: Trip, accepted: dict[str, str]) -> list[Found]:
    """Give every blocked finding on the least-blocked way."""
    if trip.blocked_way is None:
        return []
    cells, _ = _stopping_cells(trip)
    answers = answers_for(trip.case, cells.piece, cells.sense, cells.config)
    return [found for found in findings_of(trip, cells, accepted, answers) if found.finding.verdict == "blocked"]


def nearest_of(trip: Trip, findings: tuple[Finding, ...]) -> Nearest:
    """Give the last point that can be reached on the least-blocked way, what is left of it, and what stops there."""
    survey = trip.case.survey
    if trip.blocked_way is None:
        point = survey.lonlat(survey.network.node_xy[[trip.request.start]])[0]
        text = f"No road joins {trip.request.from_place} and {trip.request.to_place}."
        return Nearest(
            trip=trip.case.trip,
            place=trip.request.from_place,
            road=None,
            at_m=None,
            remaining_m=None,
            stopped_by=({"rule": "network", "text": text},),
            lonlat=(float(point[0]), float(point[1])),
        )
    cells, first = _stopping_cells(trip)
    piece, sense = int(cells.piece[first]), int(cells.sense[first])
    pieces = survey.pieces
    road = survey.site.layers["roads"].ids[int(pieces.road[piece])]
    at_m = float(pieces.from_m[piece] if sense > 0 else pieces.to_m[piece])
    node = trip.graph.tail[trip.blocked_way.steps[int(cells.step[first])].edge]
    point = survey.lonlat(survey.xy(int(pieces.road[piece]), float(pieces.from_m[piece]), float(pieces.to_m[piece])))
    end = point[0] if sense > 0 else point[-1]
    mine = [
        f
        for f in findings
        if f.trip == trip.case.trip
        and f.verdict == "blocked"
        and f.where.road == road
        and f.where.from_m is not None
        and f.where.to_m is not None
        and f.where.from_m - 1e-6 <= (pieces.from_m[piece] + pieces.to_m[piece]) / 2 <= f.where.to_m + 1e-6
    ]
    return Nearest(
        trip=trip.case.trip,
        place=next(iter(survey.network.node_places.get(node, ())), None),
        road=road,
        at_m=at_m,
        remaining_m=float(pieces.length_m[cells.piece[first:]].sum()),
        stopped_by=tuple(
            {
                "flag": f.flag,
                "rule": f.rule,
                "road": f.where.road,
                "feature": f.where.feature,
                "demand": f.demand,
                "capacity": f.capacity,
                "unit": f.unit,
            }
            for f in mine
        ),
        lonlat=(float(end[0]), float(end[1])),
    )
