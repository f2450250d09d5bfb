"""Out and back as one: how the way out ends decides which way back there is.

Each way is searched by itself, the way back from how the machine then stands. Where that leaves no way back, or only
one over what is not known, the way out may end otherwise: on another road, or in another state.
"""

from __future__ import annotations

from dataclasses import replace

from travel.domain.verdict import Verdict
from travel.planning.trips import Trip, search
from travel.routing import Step, find_way


def out_and_back(out: Trip, back: Trip) -> tuple[Trip, Trip]:
    """Give both trips, the way out ended otherwise where that makes the worse of the two better, at the least cost.

    Args:
        out, back: as searched one after the other
    """
    if out.way is None or (back.way is not None and (_open(back) or not _open(out))):
        return out, back
    for worst in (Verdict.CAUTION, Verdict.UNKNOWN):
        found = _least(out, back, worst)
        if found is not None:
            return found
    return out, back


def _open(trip: Trip) -> bool:
    """Tell whether a way was found with what is not known shut."""
    return trip.worst <= Verdict.CAUTION


def _least(out: Trip, back: Trip, worst: Verdict) -> tuple[Trip, Trip] | None:
    """Give the ways out and back that together cost least, None where there are none so good."""
    there, home, asked, wanted = out.graph, back.graph, out.request, back.request
    if find_way(home, wanted.start, wanted.goal, worst) is None:  # however the machine stands
        return None
    costs: dict[tuple[int, int], int] = {}
    for edge in (leaving ^ 1 for leaving in there.leaving[asked.goal]):
        for state in range(there.states):
            came = Step(edge=edge, state=state, before="drive")
            way = find_way(home, wanted.start, wanted.goal, worst, came) if there.worst[edge, state] <= worst else None
            if way is not None:
                costs[edge, state] = way.cost
    for arrival in list(costs):
        way = find_way(there, asked.start, asked.goal, worst, asked.came, frozenset({arrival}))
        if way is None:
            del costs[arrival]
        else:
            costs[arrival] += way.cost
    if not costs:
        return None
    ended = search(out.prepared, replace(asked, last=frozenset({min(costs, key=lambda at: (costs[at], at))})), False)
    assert ended.way is not None
    return ended, search(back.prepared, replace(wanted, came=ended.way.steps[-1]))
