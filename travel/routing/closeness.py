"""Corners so close that one is not over before the next begins: each was looked at by itself, not both as one.

What a machine sweeps in a corner holds where it comes to it in line: from a corner the arcs of which have ended, and
its own length to the point that trails driven on; and no arc begins before the place where it starts, or stands with
straight wheels to change. Where two corners at junctions are closer than three such lengths
they are driven as one and looked at so; where that cannot be done, and with bends, a way that has less road than both
ask for is not known to be driven.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from travel.routing.arcs import Step
    from travel.routing.graph import Graph

AS_ONE = -2
"""This less its row stands for a corner driven as one with that before it: of three close together nobody looked at
all as one."""
CAP_MM = 45_000
"""More road than any corner asks for before it: as far as rooms are known round one."""
Behind = tuple[int, int, int, int]
"""Road left behind the last corner, negative where it is not over yet; the same had its last bend not been there, and
how far back that bend reaches, 0 without one [mm]; that corner, −1 for none, and ``AS_ONE`` less it where it was driven
as one with the corner before it."""
NOTHING_BEHIND: Behind = (CAP_MM, CAP_MM, 0, -1)
STANDS: Behind = (0, 0, 0, -1)
"""Where a trip starts: the machine stands in line there, and no arc began before."""
Short = tuple[tuple[int, int], ...]
"""Corners that begin too soon, each with how much of the road is lacking [mm]."""


def driven(
    graph: Graph, behind: Behind, kind: str, row: int | None, arrival: tuple[int, int], was: int = -1
) -> tuple[Behind, Short]:
    """Give the road left behind the last corner when a link has been driven, and the corners that began too soon, or
    were not over where the machine stands to change.

    The arcs of a corner are laid on the roads as drawn: a bend that lies in them whole is driven with them. One where
    two roads join counts at the end of the first.

    Args:
        graph: the trip's graph
        behind: the same at its tail
        kind: what happens at the tail
        row: the corner at the tail, if any
        arrival: the edge driven, and its state
        was: the state before it
    """
    (edge, state), corners, short = arrival, graph.corners, list[tuple[int, int]]()
    if not corners.cost:  # where there are no corners none asks for road
        return NOTHING_BEHIND, ()
    about = row is not None and corners.returning.get(edge ^ 1) == row
    if kind == "turn_round" or (kind == "start" and about):
        behind = NOTHING_BEHIND
    elif kind == "start":
        behind = STANDS
    elif kind in ("travel_change", "change"):
        short += _not_over(graph, behind, was)
        behind = (min(behind[0], 0), min(behind[0], 0), 0, -1)
    spots, at, arcs_end = corners.spots.get(edge, ()), 0, -1
    row = None if row in corners.joints else row
    if row is None and not spots:
        return (behind if behind == NOTHING_BEHIND else _on(behind, graph.length_mm[edge])), tuple(short)
    for each, mm, half_mm in ((row, 0, -1), *spots) if row is not None else spots:
        asked = corners.asks_mm(each, state)
        enter_mm, leave_mm, arcs_mm, more_mm = asked or (0, 0, CAP_MM, 0)  # not looked at it may be lenient as any
        bend = half_mm >= 0 and arcs_mm > 0  # in several moves it is no part of any other corner
        if bend and mm + half_mm <= arcs_end:
            continue
        free, without, reach, last = _on(behind, mm - at)
        have = without if 0 < reach <= arcs_mm else free
        one, near = None, bool(asked) and not bend and have < enter_mm + more_mm
        if near and last >= 0:
            one = corners.as_one(last, each, state)
        elif near and last <= AS_ONE:
            one = False
        if asked and (have < enter_mm if one is None else not one):
            short.append((each, max(enter_mm - have, 1)))
        if bend:
            behind = (-leave_mm, have, max(half_mm, 1), each if asked else -1)
        else:
            behind = (-leave_mm, -leave_mm, 0, AS_ONE - each if one is not None else each if asked else -1)
        at, arcs_end = mm, mm + arcs_mm
    return _on(behind, graph.length_mm[edge] - at), tuple(short)


def _not_over(graph: Graph, behind: Behind, was: int) -> Short:
    """Give the last corner, and what is lacking, where a machine stands on its arcs, or between its moves."""
    free, _, _, last = behind
    row = AS_ONE - last if last <= AS_ONE else last
    asked = graph.corners.asks_mm(row, was) if row >= 0 and free < 0 else None
    if asked is None:
        return ()
    _, leave_mm, arcs_mm, _ = asked
    past = free + leave_mm - (arcs_mm or leave_mm)
    return ((row, -past),) if past < 0 else ()


def corner_at(graph: Graph, edge: int, kind: str, nxt: int) -> int | None:
    """Give the corner driven from one edge into another, or that of turning round in moves; None for none."""
    if kind == "turn_in_moves":
        return graph.corners.returning.get(edge)
    return graph.corners.at.get((edge, nxt)) if kind in ("drive", "change") else None


def _on(behind: Behind, mm: int) -> Behind:
    free, without, reach, last = behind
    free = min(free + mm, CAP_MM)
    last = last if free < CAP_MM else -1
    if not reach or reach + mm >= CAP_MM:
        return free, free, 0, last
    without = min(without + mm, CAP_MM)
    return NOTHING_BEHIND if free == without == CAP_MM else (free, without, reach + mm, last)


def too_close(graph: Graph, steps: tuple[Step, ...], came: Step | None) -> Iterator[tuple[int, int, int, int]]:
    """Give the corners of a way that begin before the machine is in line behind the last one, or are not over where it
    stands to change.

    Returns:
        number of the step, corner, state and how much of the road is lacking [mm], in the order driven
    """
    behind, before = NOTHING_BEHIND, came
    for number, step in enumerate(steps):
        row = None if before is None else corner_at(graph, before.edge, step.before, step.edge)
        kind, was = step.before if number else "start", before.state if before else -1
        behind, short = driven(graph, behind, kind, row, (step.edge, step.state), was)
        yield from ((number, each, step.state, mm) for each, mm in short)
        before = step
