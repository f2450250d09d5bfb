"""Everything reached from one place, and the greatest quantity that still gets there."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.domain.verdict import Verdict
from travel.routing.arcs import Kind, row_between, rows_of
from travel.routing.graph import Graph
from travel.routing.labels import Label, Stood, labels_up_to
from travel.routing.search import Origin, Way, traced

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def reached(graph: Graph, start: int, worst: Verdict, goals: Collection[int]) -> dict[int, Way]:
    """Give the cheapest way to every one of some nodes that can be reached, one search for all.

    Args:
        graph: the trip's graph
        start: the node the machine starts at, facing either way
        worst: the worst verdict still driven over
        goals: nodes; only corners on ways to them are looked at
    """
    corners = graph.corners
    while True:
        first, origin = _tree(graph, start, worst, goals)
        tree = _corners_on(graph, [label for _, label in first.values()], origin)
        before = {(row, state): (corners.cost[row][state], corners.worst[row][state])
                  for row, state in tree if not corners.settled[row][state]}  # fmt: skip
        corners.settle(before)
        if all(corners.cost[row][state] <= cost and corners.worst[row][state] <= max(shut, worst)
               and not any(corners.asks_mm(row, state) or ())
               for (row, state), (cost, shut) in before.items()):  # fmt: skip
            break
    ways = {node: Way(steps=traced(origin, label, None), cost=cost) for node, (cost, label) in first.items()}
    return ways | ({start: Way(steps=(), cost=0)} if start in goals else {})


def _tree(
    graph: Graph, start: int, worst: Verdict, goals: Collection[int]
) -> tuple[dict[int, tuple[int, Label]], Origin]:
    """Give the first arrivals at some nodes by what is known of the corners, with their costs, and what each arrival
    came from."""
    labels = labels_up_to(graph, worst)
    best: dict[Label, int] = {}
    origin: Origin = {}
    heap: list[tuple[int, Label]] = []
    most: dict[tuple[int, int], int] = {}
    stood: Stood = {}
    first: dict[int, tuple[int, Label]] = {}
    left = set(goals) - {start}

    def push(before: int, behind: Label | None, arcs: Iterable[tuple[int, Label, Kind]]) -> None:
        for extra, label, kind in arcs:
            cost, old = before + extra, best.get(label)
            if old is None or cost < old:
                best[label], origin[label] = cost, (behind, kind)
                heapq.heappush(heap, (cost, label))

    push(0, None, labels.first(start, None))
    while heap and left:
        cost, label = heapq.heappop(heap)
        edge, state, (free, *_) = label
        if most.get((edge, state), free - 1) >= free:
            continue
        most[edge, state] = free
        if graph.head[edge] in left:
            left.discard(graph.head[edge])
            first[graph.head[edge]] = cost, label
        push(cost, label, labels.next(label, stood))
    return first, origin


def _corners_on(graph: Graph, ends: list[Label], origin: Origin) -> Iterator[tuple[int, int]]:
    """Give the corners on the ways to some arrivals, each once: row and state."""
    seen: set[Label] = set()
    for label in ends:
        at: Label | None = label
        while at is not None and at not in seen:
            seen.add(at)
            (edge, state, _), (before, _) = at, origin[at]
            yield from ((each, state) for each in rows_of(graph, edge, row_between(graph, before, edge, state)))
            at = before


@dataclass(frozen=True, slots=True, kw_only=True)
class Widest:
    """Widest paths from one node: by node the greatest least capacity and the edge that arrives with it (−1: none); by
    edge the edge driven before it (−1: none)."""

    least: Floats
    last: Ints
    before: Ints

    def way(self, node: int) -> list[int]:
        """Give the edges of the widest path to a node, first to last."""
        out, edge = [], int(self.last[node])
        while edge >= 0:
            out.append(edge)
            edge = int(self.before[edge])
        return out[::-1]


def widest(
    tail: Sequence[int],
    head: Sequence[int],
    capacity: Floats,
    start: int,
    nodes: int,
    between: Callable[[int, int], float] = lambda edge, nxt: np.inf,
) -> Widest:
    """Give, for every node, the greatest quantity that some way from the start lets through (directed widest path).

    Args:
        tail, head: nodes of each directed edge
        capacity: what each edge lets through; −inf where it is shut, +inf where nothing limits it
        start: the node to start at
        nodes: how many nodes there are
        between: what the corner from one edge into another lets through

    Returns:
        greatest least capacity over the ways; −inf where none leads there
    """
    leaving: list[list[int]] = [[] for _ in range(nodes)]
    for edge, node in enumerate(tail):
        leaving[node].append(edge)
    out, driven = np.full(nodes, -np.inf), np.full(len(tail), -np.inf)
    last, before = np.full(nodes, -1, dtype=np.int64), np.full(len(tail), -1, dtype=np.int64)
    out[start] = np.inf
    heap: list[tuple[float, int]] = []

    def drive(edge: int, least: float, came: int) -> None:
        through = min(least, float(capacity[edge]))
        if through > driven[edge]:
            driven[edge], before[edge] = through, came
            heapq.heappush(heap, (-through, edge))
            if through > out[head[edge]]:
                out[head[edge]], last[head[edge]] = through, edge

    for edge in leaving[start]:
        drive(edge, np.inf, -1)
    while heap:
        negative, edge = heapq.heappop(heap)
        if -negative < driven[edge]:
            continue
        for nxt in leaving[head[edge]]:
            drive(nxt, min(-negative, between(edge, nxt)), edge)
    return Widest(least=out, last=last, before=before)
