"""What may follow the arrivals of a graph where everything that is shut may be opened: lists, each kept once.

Most states of an edge are followed by the same, as what is changed standing is changed before the corner. A search
that has looked at a list from an arrival need not look at it again from a dearer one.
"""

from __future__ import annotations

from travel.domain.verdict import Verdict
from travel.routing.arcs import Kind, successors
from travel.routing.closeness import corner_at
from travel.routing.graph import Graph

Following = tuple[tuple[int, int], ...]
"""Arrivals, each with its corner, in the order of ``successors``: numbers as given by ``arrival_number``,
``corner_number`` and ``round_number``; −1 for no corner."""


class Follows:
    """What may follow the arrivals of one graph whatever its links are, as far as it was asked for."""

    def __init__(self, graph: Graph) -> None:
        self.lists: list[Following] = []
        self._graph = graph
        self._numbers: dict[Following, int] = {}
        self._of: dict[int, int] = {}

    def of(self, edge: int, state: int) -> int:
        """Give the number of the list of what may follow an arrival."""
        at = arrival_number(self._graph, edge, state)
        if at not in self._of:
            found = tuple(
                (arrival_number(self._graph, nxt, to), self._corner(edge, nxt, to, kind))
                for _, nxt, to, kind in successors(self._graph, edge, state, lambda edge, state: True, Verdict.BLOCKED)
            )
            self._of[at] = self._numbers.setdefault(found, len(self.lists))
            if self._of[at] == len(self.lists):
                self.lists.append(found)
        return self._of[at]

    def _corner(self, edge: int, nxt: int, to: int, kind: Kind) -> int:
        turned = kind == "turn_round"
        row = self._graph.corners.returning.get(edge) if turned else corner_at(self._graph, edge, kind, nxt)
        if row is None:
            return -1
        return round_number(self._graph, row, to) if turned else corner_number(self._graph, row, to)


def arrival_number(graph: Graph, edge: int, state: int) -> int:
    """Give the number of an arrival of a graph, from 0 on."""
    return edge * graph.states + state


def corner_number(graph: Graph, row: int, state: int) -> int:
    """Give the number of a corner driven in a state, from 0 on."""
    return row * graph.states + state


def round_number(graph: Graph, row: int, state: int) -> int:
    """Give the number of turning round in one go in a state: they go on after those of the corners driven."""
    return (len(graph.corners.worst) + row) * graph.states + state


def follows_of(graph: Graph) -> Follows:
    """Give what is kept with a graph."""
    if not graph.follows:
        graph.follows.append(Follows(graph))
    return graph.follows[0]
