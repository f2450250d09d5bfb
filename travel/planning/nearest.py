"""Where the machine gets to when there is no way, and what stops it there."""

from __future__ import annotations

import numpy as np

from travel.domain.plan import Finding, Nearest
from travel.domain.verdict import Verdict
from travel.planning.cornered import blocked_corner, where_turn
from travel.planning.findings import Found, findings_of
from travel.planning.trips import Cells, Trip, cells_of
from travel.routing import find_way
from travel.units import ratio_to_pct

NETWORK = "network"
"""Named as what stops a machine where no rule does, but no road leads on."""


def stopping_cells(trip: Trip) -> tuple[Cells, int]:
    """Give the cells of the least-blocked way, and the first blocked one among them (past the last: none is)."""
    assert trip.blocked_way is not None
    cells = cells_of(trip.case, trip.choice, trip.blocked_way.steps)
    way = (1 - cells.sense) // 2
    shut = np.flatnonzero(trip.folded.worst[cells.piece, way, cells.config] == Verdict.BLOCKED)
    return cells, int(shut[0]) if len(shut) else len(cells)


def stopping_findings(trip: Trip, accepted: dict[str, str]) -> list[Found]:
    """Give every blocked finding on the least-blocked way."""
    if trip.blocked_way is None:
        return []
    cells, _ = stopping_cells(trip)
    return [found for found in findings_of(trip, cells, accepted) if found.finding.verdict == "blocked"]


def nearest_of(trip: Trip, findings: tuple[Finding, ...]) -> Nearest:
    """Give the last point that can be reached on the least-blocked way, what is left of it, and what stops there."""
    survey = trip.case.survey
    if trip.blocked_way is None:
        point = survey.lonlat(survey.network.node_xy[[trip.request.start]])[0]
        return Nearest(
            trip=trip.case.trip,
            place=trip.request.from_place,
            road=None,
            at_m=None,
            remaining_m=None,
            stopped_by=({"rule": NETWORK, "text": cut_off(trip)},),
            lonlat=(float(point[0]), float(point[1])),
        )
    cells, first = stopping_cells(trip)
    corner = blocked_corner(trip, cells)
    if corner is not None and corner[0] <= first:
        return _at_corner(trip, findings, cells, corner)
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
        stopped_by=tuple(_stopper(f) for f in mine),
        lonlat=(float(end[0]), float(end[1])),
    )


def cut_off(trip: Trip) -> str:
    """Say why not even a blocked way leads on: driving forwards alone, standing the wrong way round, or no road."""
    request, case = trip.request, trip.case
    if not case.configurations.reverse.any():
        return (
            f"No way from {request.from_place} to {request.to_place} driving forwards alone. Driving the"
            " combination backwards is not judged: it needs ground as wide as its sheet asks to turn round on."
        )
    if request.came is None or find_way(trip.graph, request.start, request.goal, Verdict.BLOCKED) is None:
        return f"No road joins {request.from_place} and {request.to_place}."
    radius = min(case.outer_radius_m.values(), default=np.inf)
    needed = f"{np.ceil(10.0 * radius) / 10.0:.1f} m"
    free = f" on free ground of {needed} radius stated of the place" if np.isfinite(radius) else ""
    steep = ratio_to_pct(case.scalar("hold.standing_grade"))
    return (
        f"The machine stands the wrong way round at {request.from_place}. It can neither turn round there{free}, nor"
        f" change to the other direction: that needs a place where it may stop, no steeper than {steep:.0f} % with the"
        " survey's tolerance, and brake and pull that hold and start it there."
    )


def _at_corner(trip: Trip, findings: tuple[Finding, ...], cells: Cells, corner: tuple[int, int]) -> Nearest:
    """Give the same where the machine stops before a corner."""
    first, row = corner
    where = where_turn(trip, row)
    mine = [f for f in findings if f.trip == trip.case.trip and f.verdict == "blocked" and f.where == where]
    return Nearest(
        trip=trip.case.trip,
        place=where.place,
        road=where.road,
        at_m=where.at_m,
        remaining_m=float(trip.case.survey.pieces.length_m[cells.piece[first:]].sum()),
        stopped_by=tuple(_stopper(f) for f in mine),
        lonlat=where.lonlat,
    )


def _stopper(finding: Finding) -> dict[str, object]:
    return {
        "flag": finding.flag,
        "rule": finding.rule,
        "road": finding.where.road,
        "feature": finding.where.feature,
        "demand": finding.demand,
        "capacity": finding.capacity,
        "unit": finding.unit,
    }
