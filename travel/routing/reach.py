"""Everything reached from one place, and the greatest quantity that still gets there."""

from __future__ import annotations

import heapq
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from travel.domain.verdict import Verdict
from travel.routing.graph import Graph
from travel.routing.search import departures, passable_up_to, successors

Floats = NDArray[np.float64]


def reached(graph: Graph, start: int, worst: Verdict) -> dict[int, int]:
    """Give the least cost to every node that can be reached, one search for all.

    Args:
        graph: the trip's graph
        start: the node the machine starts at, facing either way
        worst: the worst verdict still driven over
    """
    graph.corners.settle_all()
    passable = passable_up_to(graph, worst)
    best: dict[tuple[int, int], int] = {}
    heap: list[tuple[int, int, int]] = []
    for cost, edge, state, _ in departures(graph, start, None, passable, worst):
        if cost < best.get((edge, state), cost + 1):
            best[edge, state] = cost
            heapq.heappush(heap, (cost, edge, state))
    done: set[tuple[int, int]] = set()
    nodes = {start: 0}
    while heap:
        cost, edge, state = heapq.heappop(heap)
        if (edge, state) in done:
            continue
        done.add((edge, state))
        nodes.setdefault(graph.head[edge], cost)
        for extra, nxt, to, _ in successors(graph, edge, state, passable, worst):
            new = cost + extra
            if new < best.get((nxt, to), new + 1):
                best[nxt, to] = new
                heapq.heappush(heap, (new, nxt, to))
    return nodes


def widest(tail: Sequence[int], head: Sequence[int], capacity: Floats, start: int, nodes: int) -> Floats:
    """Give, for every node, the greatest quantity that some way from the start lets through (directed widest path).

    Args:
        tail, head: nodes of each directed edge
        capacity: what each edge lets through; −inf where it is shut, +inf where nothing limits it
        start: the node to start at
        nodes: how many nodes there are

    Returns:
        greatest least capacity over the ways, (nodes,); −inf where none leads there
    """
    leaving: list[list[int]] = [[] for _ in range(nodes)]
    for edge, node in enumerate(tail):
        leaving[node].append(edge)
    out = np.full(nodes, -np.inf)
    out[start] = np.inf
    heap = [(-np.inf, start)]
    done = np.zeros(nodes, dtype=bool)
    while heap:
        _, node = heapq.heappop(heap)
        if done[node]:
            continue
        done[node] = True
        for edge in leaving[node]:
            through = min(out[node], float(capacity[edge]))
            if through > out[head[edge]]:
                out[head[edge]] = through
                heapq.heappush(heap, (-through, head[edge]))
    return out
