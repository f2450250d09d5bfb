"""Every place reached or not, what stops it there, and how high, wide and heavy one could still get there."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from travel.checks import Answer, answers_for
from travel.checks.outcome import Outcome
from travel.domain.plan import Finding
from travel.domain.verdict import Verdict
from travel.planning.findings import verdict_of
from travel.planning.nearest import cut_off, stopping_cells
from travel.planning.reach_corners import CornerWidths
from travel.planning.tightest import tightest_of
from travel.planning.trips import Prepared, Trip, TripRequest, search
from travel.routing.reach import reached, widest

Floats = NDArray[np.float64]


LIMITING = frozenset({"headroom", "width", "posted-load", "one-way", "closure"})
"""Rules behind the greatest height, width, gross and axle load; the last two shut a link for any machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceReach:
    """One place: verdict of the best way there, time, the tightest finding on it (or on the least-blocked way).

    ``greatest``: quantity → greatest value that some way lets through by that rule alone (width: and by the room to
    turn); None = nothing limits it, 0 = none is known to get there. ``gross_kg`` and ``axle_kg`` are those of one
    machine, with every axle and wheel taking the share it has now. ``cut_off``: why not even a blocked way leads there.
    """

    place: str
    verdict: str
    length_m: float | None
    time_s: float | None
    binding: Finding | None
    greatest: dict[str, float | None] = field(default_factory=dict)
    cut_off: str = ""


def reach_of(prepared: Prepared, start: str, found: Sequence[PlaceReach] | None = None) -> tuple[PlaceReach, ...]:
    """Give the reach from one place to all others, with the greatest sizes.

    Args:
        prepared: the case with its graph
        start: place the machine starts at, facing either way
        found: the places as reached, where that is known already
    """
    nodes = prepared.case.survey.network.place_node
    if found is None:
        found = places_reached(prepared, start, [place for place in nodes if place != start])
    through = _greatest(prepared, nodes[start])
    return tuple(
        replace(one, greatest={name: _finite(values[nodes[one.place]]) for name, values in through.items()})
        for one in found
    )


def places_reached(
    prepared: Prepared, start: str, places: Sequence[str], accepted: Mapping[str, str] | None = None
) -> tuple[PlaceReach, ...]:
    """Give the best way from one place to some others, with what is tightest on each.

    Args:
        prepared: the case with its graph
        start: place the machine starts at, facing either way
        places: where it has to get to
        accepted: finding id → the planner's reason; the case was prepared with them
    """
    node, nodes = prepared.case.survey.network.place_node[start], prepared.case.survey.network.place_node
    left = {nodes[place] for place in places}
    open_ = set[int]()
    for worst in (Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED):  # looks at the corners on all ways at once
        found = set(reached(prepared.graph, node, worst, left))
        open_ |= found if worst < Verdict.BLOCKED else set()
        left -= found
    trips = [
        search(prepared, TripRequest(start=node, goal=nodes[place], from_place=start, to_place=place))
        for place in places
    ]
    assert all((trip.way is not None) == (trip.request.goal in open_) for trip in trips)
    cells = [trip.cells if trip.way or not trip.blocked_way else stopping_cells(trip)[0] for trip in trips]
    tightest = tightest_of(trips, cells, accepted)
    verdicts = [verdict_of(trip, accepted or {}) for trip in trips]
    return tuple(_place_reach(*one) for one in zip(places, trips, verdicts, tightest, strict=True))


def _place_reach(place: str, trip: Trip, verdict: Verdict, binding: Finding | None) -> PlaceReach:
    if trip.way is None:
        why = "" if trip.blocked_way else cut_off(trip)
        return PlaceReach(place=place, verdict="blocked", length_m=None, time_s=None, binding=binding, cut_off=why)
    length = trip.case.survey.pieces.length_m[trip.cells.piece]
    return PlaceReach(
        place=place, verdict=verdict.word, length_m=float(length.sum()), time_s=trip.time_s, binding=binding
    )


def _finite(value: float) -> float | None:
    return None if value == np.inf else max(float(value), 0.0)


def _greatest(prepared: Prepared, start: int) -> dict[str, Floats]:
    """Give, by quantity and node, the greatest value some way lets through by the rule that limits it alone."""
    case = prepared.case
    body = case.body
    pieces = np.arange(len(case.survey.pieces))
    config = int(np.flatnonzero(~case.configurations.reverse)[0])
    network = case.survey.network
    out = {}
    cells = [(pieces, np.full(len(pieces), sense), np.full(len(pieces), config)) for sense in (1, -1)]
    answers = [answers_for(case, *cell, only=LIMITING) for cell in cells]
    shut = np.stack([_shut(rows, len(pieces)) for rows in answers], axis=1)
    limits: dict[str, Floats] = {}
    for name, own, rule in (("height_m", body.height_m, "headroom"), ("width_m", body.width_m, "width")):
        limits[name] = np.stack([own + _least(_margin, rows, rule, len(pieces)) for rows in answers], axis=1)
    limits["mass"] = np.stack([_least(_share, rows, "posted-load", len(pieces)) for rows in answers], axis=1)
    for name, limit in limits.items():
        limit = np.where(shut, -np.inf, limit)
        per_edge = np.minimum.reduceat(limit, np.asarray(network.link_piece_start), axis=0).ravel()
        corners = CornerWidths(prepared) if name == "width_m" else None
        out[name] = _through(prepared, per_edge, start, corners)
    share = out.pop("mass")
    return out | {"gross_kg": share * body.mass_kg, "axle_kg": share * float(np.max(body.axle_load_kg))}


def _through(prepared: Prepared, per_edge: Floats, start: int, corners: CornerWidths | None) -> Floats:
    """Give the widest paths by node; corners on the ways to places are looked at closely where they may decide."""
    graph, nodes = prepared.graph, prepared.case.survey.network.n_nodes
    if corners is None:
        return widest(graph.tail, graph.head, per_edge, start, nodes).least
    places = sorted(set(prepared.case.survey.network.place_node.values()))
    while True:
        bends = np.array([corners.on(edge) for edge in range(len(per_edge))])
        found = widest(graph.tail, graph.head, np.minimum(per_edge, bends), start, nodes, corners.between)
        if not corners.settle([(found.way(node), float(found.least[node])) for node in places]):
            return found.least


def _shut(answers: tuple[Answer, ...], count: int) -> NDArray[np.bool_]:
    """Where no machine may go, whatever its size: one way the other way, closed."""
    shut = np.zeros(count, dtype=bool)
    for answer in answers:
        if answer.rule in ("one-way", "closure"):
            np.logical_or.at(shut, answer.position, answer.verdict == Verdict.BLOCKED)
    return shut


def _least(told: Callable[[Outcome], Floats], answers: tuple[Answer, ...], rule: str, count: int) -> Floats:
    """Give the least of a number told by a rule's parts on every piece; +inf where silent, −inf where not known."""
    out = np.full(count, np.inf)
    for answer in answers:
        if answer.rule != rule:
            continue
        outcome, shape = answer.outcome, answer.verdict.shape
        number = np.broadcast_to(told(outcome), shape)
        lacking = np.isnan(number)
        for where in (outcome.outside, *outcome.missing.values()):
            lacking = lacking | np.asarray(where, dtype=bool)
        number = np.where(answer.applies(), np.where(lacking, -np.inf, number), np.inf)
        np.minimum.at(out, answer.position, number)
    return out


def _margin(outcome: Outcome) -> Floats:
    """Give capacity − demand − tolerance."""
    return np.asarray(outcome.capacity - outcome.demand - outcome.tolerance)


def _share(outcome: Outcome) -> Floats:
    """Give the share of its own loads that a machine may have, whether its tolerance grows with them or not."""
    grown = np.asarray(outcome.capacity / (outcome.demand + outcome.tolerance))
    return np.asarray(np.minimum(grown, (outcome.capacity - outcome.tolerance) / outcome.demand))
