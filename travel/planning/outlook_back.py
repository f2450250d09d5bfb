"""Before each flag, where the machine can turn back, and how far it must reverse to get there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from travel.domain.plan import Finding, TravelPlan
from travel.domain.verdict import Verdict
from travel.planning.legs import runs_of
from travel.planning.trips import Trip
from travel.routing.outlook import turns_back

SCOPES = ("stretch", "place", "turn", "stop")
"""Flags that have a place; one about a whole layer or trip is met before setting off."""
NOTHING_M = 0.05


@dataclass(frozen=True, slots=True)
class _Ahead:
    """A flag and the first cell of the way it covers."""

    flag: int
    cell: int


def turn_back_of(trips: Sequence[Trip], plan: TravelPlan) -> tuple[Mapping[str, Any], ...]:
    """Give one entry a flag, in the order of the flags.

    ``kind`` ``turn_round``: the last place passed where it can turn round and get back to the start of the trip with
    the flagged link shut. ``start``: there is none; then it does not set off, or reverses all the way. ``reverse_m`` is
    what lies between there and the flag: driven backwards by a machine that is stopped at the flag; ``reverse_verdict``
    is the rules' verdict on that.

    Args:
        trips: found trips, in the order driven
        plan: the plan, for its findings and legs
    """
    out: list[Mapping[str, Any]] = []
    for trip in trips:
        runs = runs_of(trip)
        first_leg = min((leg.leg for leg in plan.legs if leg.trip == trip.case.trip), default=1)
        first = {first_leg + number: (run.first, run.last) for number, run in enumerate(runs)}
        flags = [_ahead(trip, finding, first) for finding in plan.findings if finding.trip == trip.case.trip]
        known: dict[tuple[int, int], bool] = {}
        out += [_entry(trip, flag, known) for flag in flags if flag is not None]
    return tuple(out)


def _ahead(trip: Trip, finding: Finding, legs: Mapping[int, tuple[int, int]]) -> _Ahead | None:
    where = finding.where
    if where.scope not in SCOPES or finding.leg is None or finding.leg not in legs:
        return None
    first, last = legs[finding.leg]
    pieces = trip.case.survey.pieces
    piece = trip.cells.piece[first : last + 1]
    inside = np.ones(len(piece), dtype=bool)
    if where.road is not None and where.from_m is not None and where.to_m is not None:
        middle = (pieces.from_m[piece] + pieces.to_m[piece]) / 2.0
        roads = trip.case.survey.site.layers["roads"].ids
        on_road = np.array([roads[int(road)] == where.road for road in pieces.road[piece]])
        inside = on_road & (middle >= where.from_m - NOTHING_M) & (middle <= where.to_m + NOTHING_M)
    return _Ahead(finding.flag, first + int(np.argmax(inside)))


def _entry(trip: Trip, ahead: _Ahead, known: dict[tuple[int, int], bool]) -> dict[str, Any]:
    assert trip.way is not None
    steps, cells = trip.way.steps, trip.cells
    flagged = int(cells.step[ahead.cell])
    number = next((n for n in range(flagged, 0, -1) if _turns(trip, n, flagged, known)), 0)
    cell = int(np.searchsorted(cells.step, number))
    length = trip.case.survey.pieces.length_m[cells.piece[cell : ahead.cell]]
    node = trip.graph.tail[steps[number].edge] if number else trip.request.start
    point = trip.case.survey.lonlat(trip.case.survey.network.node_xy[[node]])[0]
    road, at_m = _where(trip, cell, bool(number))
    return {
        "flag": ahead.flag,
        "trip": trip.case.trip,
        "kind": "turn_round" if number else "start",
        "place": _place(trip, node) if number else trip.request.from_place,
        "road": road,
        "at_m": at_m,
        "reverse_m": float(length.sum()),
        "reverse_verdict": _reversing(trip, cell, ahead.cell),
        "lonlat": (float(point[0]), float(point[1])),
    }


def _turns(trip: Trip, number: int, flagged: int, known: dict[tuple[int, int], bool]) -> bool:
    """Tell whether the machine can turn round where step ``number`` begins and get back to the start of the trip."""
    assert trip.way is not None
    steps = trip.way.steps
    came, ahead = steps[number - 1], steps[flagged].edge >> 1
    if not any(trip.graph.turn[trip.graph.head[came.edge]]):
        return False
    if (number, ahead) not in known:
        worst = Verdict.UNKNOWN if trip.worst >= Verdict.UNKNOWN else Verdict.CAUTION
        known[number, ahead] = turns_back(trip.graph, trip.request.start, worst, came, ahead)
    return known[number, ahead]


def _reversing(trip: Trip, first: int, stop: int) -> str | None:
    """Give the verdict on driving some cells of the way back without turning round: the best state of other travel."""
    assert trip.way is not None
    if stop <= first:
        return None
    cells, graph = trip.cells, trip.graph
    state = trip.way.steps[int(cells.step[stop - 1])].state
    others = [to for to in range(graph.states) if not graph.same_travel[state][to]]
    if not others:
        return Verdict.BLOCKED.word
    piece, against = cells.piece[first:stop], (1 + cells.sense[first:stop]) // 2
    worst = trip.choice.worst[piece, against][:, others]
    return Verdict(int(worst.max(axis=0).min())).word


def _where(trip: Trip, cell: int, passed: bool) -> tuple[str, float]:
    """Give road and chainage of the point before a cell: on the road that led there, or the first one's begin."""
    survey, cells = trip.case.survey, trip.cells
    at = cell - 1 if passed else cell
    piece, along = int(cells.piece[at]), bool(cells.sense[at] > 0)
    forward = along if passed else not along
    chainage = survey.pieces.to_m[piece] if forward else survey.pieces.from_m[piece]
    return survey.site.layers["roads"].ids[int(survey.pieces.road[piece])], float(chainage)


def _place(trip: Trip, node: int) -> str | None:
    """Give the place with the most room to turn among those at a node."""
    places = trip.case.survey.site.layers["places"]
    room = np.nan_to_num(places.number("turn_radius_m"))
    ids = trip.case.survey.network.node_places.get(node, ())
    return max(ids, key=lambda name: float(room[places.index(name)]), default=None)
