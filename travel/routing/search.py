"""The search: arrivals (a link driven in one direction in one state) steered by a reverse bound on the plain places.

Before the search, Dijkstra backwards from the goal over places, with each link's cheapest state and neither turns nor
changes, gives a bound that never overestimates; A* over arrivals is then exact.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from travel.domain.verdict import Verdict
from travel.routing.graph import Graph

Kind = Literal["start", "drive", "change", "turn_round", "travel_change"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One link driven: the edge, the state, and what happened at its tail before."""

    edge: int
    state: int
    before: Kind
    old_state: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A way: its steps and its folded cost."""

    steps: tuple[Step, ...]
    cost: int


Passable = Callable[[int, int], bool]


def passable_up_to(graph: Graph, worst: Verdict) -> Passable:
    """Give the test that shuts every link whose verdict is worse than ``worst``."""
    ok = (graph.worst <= worst).tolist()

    def test(edge: int, state: int) -> bool:
        return bool(ok[edge][state])

    return test


def find_way(graph: Graph, start: int, goal: int, worst: Verdict, came: Step | None = None) -> Way | None:
    """Give the cheapest way from one node to another, or None.

    Args:
        graph: the trip's graph
        start, goal: nodes
        worst: the worst verdict still driven over
        came: how the machine stands at the start (its last step); None = it may face either way, in any state
    """
    passable = passable_up_to(graph, worst)
    if start == goal:
        return Way(steps=(), cost=0)
    bound = _bound(graph, start, goal, passable)
    if start not in bound:
        return None
    far = bound[start]
    best: dict[tuple[int, int], int] = {}
    origin: dict[tuple[int, int], tuple[tuple[int, int] | None, Kind]] = {}
    heap: list[tuple[int, int, int, int]] = []
    for cost, edge, state, kind in departures(graph, start, came, passable):
        _push(heap, best, origin, graph, bound, far, cost, (edge, state), None, kind)
    done: set[tuple[int, int]] = set()
    while heap:
        _, cost, edge, state = heapq.heappop(heap)
        label = (edge, state)
        if label in done:
            continue
        done.add(label)
        if graph.head[edge] == goal:
            return Way(steps=_traced(origin, label, came), cost=cost)
        for extra, nxt, to, kind in successors(graph, edge, state, passable):
            _push(heap, best, origin, graph, bound, far, cost + extra, (nxt, to), label, kind)
    return None


def successors(graph: Graph, edge: int, state: int, passable: Passable) -> Iterator[tuple[int, int, int, Kind]]:
    """Give what may follow an arrival: (cost of manoeuvre and next link, next edge, its state, manoeuvre)."""
    node, back = graph.head[edge], edge ^ 1
    stand, rooms = graph.stand[edge], graph.turn[node]
    for nxt in graph.leaving[node]:
        for to in range(graph.states):
            if not passable(nxt, to):
                continue
            same, turn = graph.same_travel[state][to], rooms[state] or (stand and rooms[to])
            if nxt != back:
                if to == state:
                    yield graph.cost[nxt][to], nxt, to, "drive"
                elif same and stand:
                    yield graph.change_cost + graph.cost[nxt][to], nxt, to, "change"
                elif stand and turn:
                    yield graph.change_cost + graph.turn_cost + graph.cost[nxt][to], nxt, to, "turn_round"
            elif not same and stand:
                yield graph.change_cost + graph.cost[nxt][to], nxt, to, "travel_change"
            elif same and turn and (to == state or stand):
                extra = graph.turn_cost + (0 if to == state else graph.change_cost)
                yield extra + graph.cost[nxt][to], nxt, to, "turn_round"


def departures(graph: Graph, start: int, came: Step | None, passable: Passable) -> Iterator[tuple[int, int, int, Kind]]:
    """Give what may be driven first: from how the machine stands, or in any direction and state; as ``successors``."""
    if came is not None:
        yield from successors(graph, came.edge, came.state, passable)
        return
    for edge in graph.leaving[start]:
        for state in range(graph.states):
            if passable(edge, state):
                yield graph.cost[edge][state], edge, state, "start"


def _bound(graph: Graph, start: int, goal: int, passable: Passable) -> dict[int, int]:
    """Give a lower bound to the goal from every place settled before the start."""
    best = {goal: 0}
    done: dict[int, int] = {}
    heap = [(0, goal)]
    while heap:
        cost, node = heapq.heappop(heap)
        if node in done:
            continue
        done[node] = cost
        if node == start:
            break
        for out in graph.leaving[node]:
            edge = out ^ 1  # the edge that arrives here
            open_costs = [graph.cost[edge][s] for s in range(graph.states) if passable(edge, s)]
            if open_costs:
                tail, new = graph.tail[edge], cost + min(open_costs)
                if new < best.get(tail, new + 1):
                    best[tail] = new
                    heapq.heappush(heap, (new, tail))
    return done


def _push(  # noqa: PLR0913 - the search's own state
    heap: list[tuple[int, int, int, int]],
    best: dict[tuple[int, int], int],
    origin: dict[tuple[int, int], tuple[tuple[int, int] | None, Kind]],
    graph: Graph,
    bound: dict[int, int],
    far: int,
    cost: int,
    label: tuple[int, int],
    came: tuple[int, int] | None,
    kind: Kind,
) -> None:
    if cost < best.get(label, cost + 1):
        best[label] = cost
        origin[label] = (came, kind)
        ahead = min(bound.get(graph.head[label[0]], far), far)
        heapq.heappush(heap, (cost + ahead, cost, *label))


def _traced(
    origin: dict[tuple[int, int], tuple[tuple[int, int] | None, Kind]], label: tuple[int, int], came: Step | None
) -> tuple[Step, ...]:
    steps = []
    at: tuple[int, int] | None = label
    while at is not None:
        before, kind = origin[at]
        old = before[1] if before else came.state if came else None
        steps.append(Step(edge=at[0], state=at[1], before=kind, old_state=old))
        at = before
    return tuple(reversed(steps))


def nearest_reached(graph: Graph, start: int, goal: int, came: Step | None = None) -> tuple[Way | None, int]:
    """Give the least-blocked way when none is open, and how many of its first steps can be driven."""
    way = find_way(graph, start, goal, Verdict.BLOCKED, came)
    if way is None:
        return None, 0
    for number, step in enumerate(way.steps):
        if graph.worst[step.edge, step.state] == Verdict.BLOCKED:
            return way, number
    return way, len(way.steps)
