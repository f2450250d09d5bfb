"""Places where the machine does not turn round although the site states room enough: what takes the room away."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from travel.checks import free_circle
from travel.domain.verdict import Verdict
from travel.planning.trips import Trip
from travel.survey.corners import TURNING_KINDS


def circles_taken(trip: Trip) -> Iterator[str]:
    """Give, for both ends of a trip, that turning round there in one go is not counted on, and why."""
    case, network = trip.case, trip.case.survey.network
    places = case.survey.site.layers["places"]
    needed = min(case.outer_radius_m.values(), default=0.0)
    for name in (trip.request.from_place, trip.request.to_place):
        row = places.index(name)
        stated = float(places.number("turn_radius_m")[row])
        if places.text("kind")[row] not in TURNING_KINDS or not stated >= needed:
            continue
        free = free_circle(case, network.place_node[name], stated, [row])
        if free.radius_m < needed:
            yield (
                f"{name}: turning round there in one go is not counted on: {stated:g} m stated, {needed:.2f} m needed, "
                f"{free.radius_m:.2f} m free ({free.taken_by})"
            )
        elif rules := _barring(trip, network.place_node[name]):
            yield f"{name}: turning round there is not counted on: blocked across the slope of the road ({rules})"


def _barring(trip: Trip, node: int) -> str:
    """Name the rules that let the machine turn round at a node in no state; "" where it may in one."""
    turns = trip.turns
    rows = np.flatnonzero(turns.corners.returns & (turns.corners.node == node))
    states = np.flatnonzero(turns.circle[rows].any(axis=0))
    if not len(states) or not (turns.worst[np.ix_(rows, states)] == Verdict.BLOCKED).all():
        return ""
    parts = turns.parts(rows, states)
    return ", ".join(dict.fromkeys(part.rule for part in parts if (part.verdict == Verdict.BLOCKED).any()))
