"""Everything reached from one place, and the greatest quantity that still gets there."""

from __future__ import annotations

import heapq
import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

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


@dataclass(frozen=True, slots=True, kw_only=True)
class DrivenOn:
    """Directed edges by their nodes, so many of these; by edge those driven on to with the row of the corner between
    (−1: none)."""

    tail: Sequence[int]
    head: Sequence[int]
    nodes: int
    on: Sequence[Sequence[tuple[int, int]]]


def driven_on(
    tail: Sequence[int], head: Sequence[int], nodes: int, corner: Mapping[tuple[int, int], int] = MappingProxyType({})
) -> DrivenOn:
    """Give what is driven on to from every edge.

    Args:
        tail, head: nodes of each directed edge
        nodes: how many nodes there are
        corner: row of the corner between two edges
    """
    leaving: list[list[int]] = [[] for _ in range(nodes)]
    for edge, node in enumerate(tail):
        leaving[node].append(edge)
    on = [[(nxt, corner.get((edge, nxt), -1)) for nxt in leaving[node]] for edge, node in enumerate(head)]
    return DrivenOn(tail=tail, head=head, nodes=nodes, on=on)


def widest(roads: DrivenOn, capacity: Sequence[float], corner: Sequence[float], start: int) -> Widest:
    """Give, for every node, the greatest quantity that some way from the start lets through (directed widest path).

    Args:
        roads: the edges
        capacity: what each edge lets through; −inf where it is shut, +inf where nothing limits it
        corner: what each corner lets through by its row, and +inf at the end for none
        start: the node to start at

    Returns:
        greatest least capacity over the ways; −inf where none leads there
    """
    out, last = [-math.inf] * roads.nodes, [-1] * roads.nodes
    driven, before, head = [-math.inf] * len(roads.tail), [-1] * len(roads.tail), roads.head
    out[start] = math.inf
    heap: list[tuple[float, int]] = []
    at: Sequence[tuple[int, int]] = [(edge, -1) for edge, node in enumerate(roads.tail) if node == start]
    now, came = math.inf, -1
    while True:
        for edge, row in at:
            through = min(now, corner[row], capacity[edge])
            if through > driven[edge]:
                driven[edge], before[edge] = through, came
                heapq.heappush(heap, (-through, edge))
                if through > out[head[edge]]:
                    out[head[edge]], last[head[edge]] = through, edge
        while heap and -heap[0][0] < driven[heap[0][1]]:
            heapq.heappop(heap)
        if not heap:
            return Widest(least=np.array(out), last=np.array(last), before=np.array(before))
        negative, came = heapq.heappop(heap)
        at, now = roads.on[came], -negative
