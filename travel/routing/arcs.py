"""Arcs of the search: what may follow an arrival (a link driven in one direction in one state), and at what cost."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from travel.domain.verdict import Verdict
from travel.routing.cornering import SHUT
from travel.routing.graph import Graph

Kind = Literal["start", "drive", "change", "turn_round", "turn_in_moves", "travel_change"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One link driven: the edge, the state, and what happened at its tail before."""

    edge: int
    state: int
    before: Kind
    old_state: int | None = None


Passable = Callable[[int, int], bool]
Onward = tuple[int, int, int, Kind, int | None]


def passable_up_to(graph: Graph, worst: Verdict) -> Passable:
    """Give the test that shuts every link whose verdict is worse than ``worst``, or that of a bend on it."""
    ok = (graph.worst <= worst).tolist()
    corners = graph.corners

    def test(edge: int, state: int) -> bool:
        return bool(ok[edge][state]) and (edge not in corners.on or corners.edge(edge, state)[1] <= worst)

    return test


def row_between(
    graph: Graph, before: tuple[int, int] | tuple[int, int, Any] | None, edge: int, state: int
) -> int | None:
    """Give the corner that was driven from an arrival into a link in a state, or that of turning round."""
    if before is None:
        return None
    if edge == before[0] ^ 1:
        return graph.corners.returning.get(before[0]) if graph.same_travel[before[1]][state] else None
    return graph.corners.at.get((before[0], edge))


def rows_of(graph: Graph, edge: int, row: int | None) -> tuple[int, ...]:
    """Give the corners on the way to an arrival: that into its link, and the bends on it."""
    bends = graph.corners.on.get(edge, ())
    return bends if row is None else (row, *bends)


def onward(graph: Graph, edge: int, state: int, passable: Passable) -> Iterator[Onward]:
    """Give what may follow an arrival: (cost of manoeuvre and link, next edge, its state, manoeuvre, corner).

    A corner is driven in the state in which the next link is: what is changed standing is changed before the corner.
    Where there is room the machine turns round in one go, without such in several moves, from where it may stand.
    """
    node, back, corners = graph.head[edge], edge ^ 1, graph.corners
    stand, rooms, moves = graph.stand[edge], graph.turn[node], corners.returning.get(edge)
    states = range(graph.states) if stand else (state,)
    for nxt in graph.leaving[node]:
        row, costs = corners.at.get((edge, nxt)), graph.cost[nxt]
        for to in states:
            if not passable(nxt, to):
                continue
            same, turn = graph.same_travel[state][to], rooms[state] or (stand and rooms[to])
            if nxt != back:
                if to == state:
                    yield costs[to], nxt, to, "drive", row
                elif same and stand:
                    yield graph.change_cost + costs[to], nxt, to, "change", row
                elif stand and turn:
                    yield graph.change_cost + graph.turn_cost + costs[to], nxt, to, "turn_round", None
            elif not same and stand:
                yield graph.change_cost + costs[to], nxt, to, "travel_change", None
            elif same and turn and (to == state or stand):
                extra = graph.turn_cost + (0 if to == state else graph.change_cost)
                yield extra + costs[to], nxt, to, "turn_round", None
            elif same and moves is not None and (stand or (graph.as_stated and to == state)):
                yield (0 if to == state else graph.change_cost) + costs[to], nxt, to, "turn_in_moves", moves


def successors(
    graph: Graph, edge: int, state: int, passable: Passable, worst: Verdict = Verdict.UNKNOWN
) -> Iterator[tuple[int, int, int, Kind]]:
    """Give what may follow an arrival with the corners as far as they are settled: (cost, next edge, its state, kind).

    Corners that are settled as worse than ``worst`` are shut.
    """
    corners = graph.corners
    for cost, nxt, to, kind, row in onward(graph, edge, state, passable):
        bends = corners.edge(nxt, to)[0] if nxt in corners.on else 0
        if kind == "turn_round":
            more, shut = graph.round_cost(edge, state, to)
            if shut <= worst:
                yield cost + more + bends, nxt, to, kind
        elif row is None:
            yield cost + bends, nxt, to, kind
        elif corners.worst[row][to] <= (SHUT if graph.as_stated else worst):
            yield cost + bends + corners.cost[row][to], nxt, to, kind


def departures(
    graph: Graph, start: int, came: Step | None, passable: Passable, worst: Verdict = Verdict.UNKNOWN
) -> Iterator[tuple[int, int, int, Kind]]:
    """Give what may be driven first: from how the machine stands, or in any direction and state; as ``successors``."""
    if came is not None:
        yield from successors(graph, came.edge, came.state, passable, worst)
        return
    for cost, edge, state, kind, _ in first_driven(graph, start, None, passable):
        yield cost + graph.corners.edge(edge, state)[0], edge, state, kind


def first_driven(graph: Graph, start: int, came: Step | None, passable: Passable) -> Iterator[Onward]:
    """Give what may be driven first, as ``onward``."""
    if came is not None:
        yield from onward(graph, came.edge, came.state, passable)
        return
    for edge in graph.leaving[start]:
        for state in range(graph.states):
            if passable(edge, state):
                yield graph.cost[edge][state], edge, state, "start", None
