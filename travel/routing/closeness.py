"""Corners so close that one is not over before the next begins: each was looked at by itself, not both as one.

What a machine sweeps in a corner holds where it comes to it in line: from a corner the arcs of which have ended, and
its own length to the point that trails driven on. Between two corners a way therefore needs both parts of the road; a
way that has less is not known to be driven.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from travel.routing.graph import Graph
    from travel.routing.search import Step

CAP_MM = 45_000
"""More road than any corner asks for before it: as far as rooms are known round one."""
Short = tuple[tuple[int, int], ...]
"""Corners that begin too soon, each with how much of the road is lacking [mm]."""


def driven(graph: Graph, free_mm: int, kind: str, row: int | None, arrival: tuple[int, int]) -> tuple[int, Short]:
    """Give the road left behind the last corner when a link has been driven, and the corners that began too soon.

    Args:
        graph: the trip's graph
        free_mm: the same at its tail: negative where the last corner is not over there
        kind: what happens at the tail
        row: the corner at the tail, if any
        arrival: the edge driven, and its state
    """
    (edge, state), corners, short = arrival, graph.corners, []
    if kind in ("start", "turn_round"):
        free_mm = CAP_MM
    elif kind == "travel_change":
        free_mm = min(free_mm, 0)
    spots, at = corners.spots.get(edge, ()), 0
    for each, mm in ((row, 0), *spots) if row is not None else spots:
        free_mm, at = free_mm + mm - at, mm
        enter_mm, leave_mm = corners.asks_mm(each, state)
        if free_mm < enter_mm:
            short.append((each, enter_mm - free_mm))
        free_mm = -leave_mm
    return min(free_mm + graph.length_mm[edge] - at, CAP_MM), tuple(short)


def too_close(graph: Graph, steps: tuple[Step, ...], came: Step | None) -> Iterator[tuple[int, int, int, int]]:
    """Give the corners of a way that begin before the machine is in line behind the last one.

    Returns:
        number of the step, corner, state and how much of the road is lacking [mm], in the order driven
    """
    free_mm, before = CAP_MM, came
    for number, step in enumerate(steps):
        row = None
        if before is not None and step.before in ("drive", "change"):
            row = graph.corners.at.get((before.edge, step.edge))
        free_mm, short = driven(graph, free_mm, step.before if number else "start", row, (step.edge, step.state))
        yield from ((number, each, step.state, mm) for each, mm in short)
        before = step
