"""Every place reached or not, what stops it there, and how high, wide and heavy one could still get there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from travel.domain.plan import Finding
from travel.domain.verdict import Verdict
from travel.planning.findings import verdict_of
from travel.planning.nearest import cut_off, stopping_cells
from travel.planning.reach_sizes import Tell, greatest_sizes
from travel.planning.tightest import tightest_of
from travel.planning.trips import Prepared, Trip, TripRequest, trips_found
from travel.routing import Way
from travel.routing.reach import reached

GETS_THERE = ("clear", "caution")
"""Verdicts with which the machine itself gets there: what does is no less than its own size."""


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


def reach_of(
    prepared: Prepared, start: str, found: Sequence[PlaceReach] | None = None, tell: Tell = lambda what, share: None
) -> tuple[PlaceReach, ...]:
    """Give the reach from one place to all others, with the greatest sizes.

    Args:
        prepared: the case with its graph
        start: place the machine starts at, facing either way
        found: the places as reached, where that is known already
        tell: called with what is being done and the share of it done
    """
    nodes = prepared.case.survey.network.place_node
    if found is None:
        found = places_reached(prepared, start, [place for place in nodes if place != start])
    through, body = greatest_sizes(prepared, nodes[start], tell), prepared.case.body
    own = {"height_m": body.height_m, "width_m": body.width_m, "gross_kg": body.mass_kg,
           "axle_kg": float(np.max(body.axle_load_kg))}  # fmt: skip
    sure = prepared.turns.accepted == frozenset()

    def told(one: PlaceReach, name: str) -> float | None:
        value = through[name][nodes[one.place]]
        least = own[name] if sure and one.verdict in GETS_THERE else 0.0
        return None if value == np.inf else max(value, least)

    return tuple(replace(one, greatest={name: told(one, name) for name in through}) for one in found)


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
    left, open_, blocked = {nodes[place] for place in places}, dict[int, Way](), dict[int, Way]()
    for worst in (Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED):
        found = reached(prepared.graph, node, worst, left)
        (open_ if worst < Verdict.BLOCKED else blocked).update(found)
        left -= set(found)
    requests = [TripRequest(start=node, goal=nodes[place], from_place=start, to_place=place) for place in places]
    trips = trips_found(prepared, requests, open_, blocked)
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
