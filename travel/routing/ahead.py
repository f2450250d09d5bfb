"""What a way costs at least from every arrival on: a search backwards from the goal over directed links.

Each link counts in its cheapest state and each corner, with what is known of it so far, in its own; what is changed
standing costs nothing, nor does turning round. So nothing that may follow an arrival is dearer than it is taken here,
and a search steered by it stays exact. The more corners are settled, the nearer it comes.
"""

from __future__ import annotations

import heapq

from travel.domain.verdict import Verdict
from travel.routing.arcs import passable_up_to
from travel.routing.graph import Graph

Before = tuple[int, int | None]
"""An edge that may be driven before another, and the corner between; None for none that has to be driven."""


class Ahead:
    """Least costs from the arrivals of one graph to one goal, up to a worst verdict.

    ``far``: the least from the start; no arrival further off than that is told apart.
    """

    def __init__(self, graph: Graph, start: int, goal: int, worst: Verdict) -> None:
        self.far: int | None = None
        self._graph, self._ends, self._worst = graph, (start, goal), worst
        self._backwards = _backwards_up_to(graph, worst)
        self._least: dict[int, int] = {}
        self.look()

    def of(self, edge: int) -> int:
        """Give what is left at least where an edge has been driven; no more than ``far``."""
        return self._least.get(edge, self.far or 0)

    def look(self) -> None:
        """Look again, with what is known of the corners by now. ``far`` is None where no way is left."""
        graph, corners, (start, goal) = self._graph, self._graph.corners, self._ends
        best, done, far = dict[int, int](), dict[int, int](), None
        heap = [(0, out ^ 1) for out in graph.leaving[goal]]
        best.update((edge, 0) for _, edge in heap)
        heapq.heapify(heap)
        while heap:
            left, edge = heapq.heappop(heap)
            if edge in done:
                continue
            if far is not None and left >= far:
                break
            done[edge] = left
            driven, leads = self._backwards.of(edge)
            if driven is None:
                continue
            tail, left = graph.tail[edge], left + driven
            if tail == start and (far is None or left < far):
                far = left
            for before, row in leads:
                more = 0 if row is None else corners.least(row, self._worst, graph.as_stated)
                if more is not None and left + more < best.get(before, left + more + 1):
                    best[before] = left + more
                    heapq.heappush(heap, (left + more, before))
        self.far, self._least = far, done


class Backwards:
    """What links of one graph cost at least up to a worst verdict and what may be driven before each: kept with the
    graph once it was asked for."""

    def __init__(self, graph: Graph, worst: Verdict) -> None:
        self._graph, self._worst = graph, worst
        self._passable = passable_up_to(graph, worst)
        self._kept: dict[int, tuple[int | None, list[Before]]] = {}

    def of(self, edge: int) -> tuple[int | None, list[Before]]:
        """Give what a link costs at least with its bends, None where it is shut in every state, and the edges that may
        be driven before it."""
        if edge not in self._kept:
            costs = [cost for state, cost in enumerate(self._graph.cost[edge]) if self._passable(edge, state)]
            self._kept[edge] = min(costs, default=None), self._leads(edge) if costs else []
        (least, leads), corners = self._kept[edge], self._graph.corners
        if least is None or edge not in corners.on:
            return least, leads
        bends = [corners.least(row, self._worst, False) for row in corners.on[edge]]
        return None if None in bends else least + sum(bend for bend in bends if bend is not None), leads

    def _leads(self, edge: int) -> list[Before]:
        graph, at, tail = self._graph, self._graph.corners.at, self._graph.tail[edge]
        moves, round_, leads = graph.as_stated, any(graph.turn[tail]), list[Before]()
        for before in (out ^ 1 for out in graph.leaving[tail]):
            free = graph.stand[before] and round_
            if before != edge ^ 1:
                leads.append((before, None if free else at.get((before, edge))))
            elif graph.stand[before] or round_ or (moves and before in graph.corners.returning):
                leads.append((before, None))
        return leads


def _backwards_up_to(graph: Graph, worst: Verdict) -> Backwards:
    """Give what is kept with a graph for one worst verdict."""
    if worst not in graph.backwards:
        graph.backwards[worst] = Backwards(graph, worst)
    return graph.backwards[worst]
