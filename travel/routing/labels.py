"""Labels of the search: arrivals with the road left behind the last corner, and what may follow each.

What follows an arrival is asked over and over: once found it is kept, with the graph it holds for, until one of its
corners is settled. Where there is as much road behind as the next corner asks for, the road left behind that one does
not depend on what was before.
"""

from __future__ import annotations

from collections.abc import Iterator

from travel.domain.verdict import Verdict
from travel.routing.arcs import Kind, Step, departures, passable_up_to, rows_of, successors
from travel.routing.closeness import CAP_MM, NOTHING_BEHIND, Behind, corner_at, driven
from travel.routing.graph import Graph

Label = tuple[int, int, Behind]
"""An arrival (edge, state), and the road left behind the last corner there."""
Following = tuple[int, int, int, Kind, int | None, int, Behind]
"""Cost, next edge, its state, manoeuvre, corner; and the road left behind once there is so much before (last)."""
NEVER_MM = CAP_MM + 1
"""More than there ever is behind a label."""


class Labels:
    """What may follow labels of one graph up to a worst verdict."""

    def __init__(self, graph: Graph, worst: Verdict) -> None:
        self.passable = passable_up_to(graph, worst)
        self._graph, self._worst = graph, worst
        self._kept: dict[tuple[int, int], tuple[list[Following], list[tuple[int, int]]]] = {}

    def next(self, label: Label) -> Iterator[tuple[int, Label, Kind]]:
        """Give what may follow a label, as ``successors``: (cost, label, kind). Where a corner begins before the one
        before it is over, the way is unknown, and dearer by what is lacking."""
        edge, state, behind = label
        free_mm = min(behind[0], behind[1])
        for cost, nxt, to, kind, row, enough_mm, left in self._following(edge, state):
            if free_mm >= enough_mm:
                yield cost, (nxt, to, left), kind
            else:
                yield from self._driven(cost, behind, kind, row, (nxt, to), state)

    def first(self, start: int, came: Step | None) -> Iterator[tuple[int, Label, Kind]]:
        """Give what may be driven first, as ``departures``; at a place the machine stands in line."""
        graph = self._graph
        for cost, edge, state, kind in departures(graph, start, came, self.passable, self._worst):
            row = None if came is None else corner_at(graph, came.edge, kind, edge)
            for extra, label, _ in self._driven(cost, NOTHING_BEHIND, "start", row, (edge, state), -1):
                yield extra, label, kind

    def _driven(
        self, cost: int, behind: Behind, kind: Kind, row: int | None, arrival: tuple[int, int], was: int
    ) -> Iterator[tuple[int, Label, Kind]]:
        """Give what comes of one arc from a label, if it may be driven."""
        corners = self._graph.corners
        left, short = driven(self._graph, behind, kind, row, arrival, was)
        lacking = [mm for each, mm in short if not corners.accepts(each)]
        if not lacking:
            yield cost, (*arrival, left), kind
        elif self._worst >= Verdict.UNKNOWN:
            yield cost + corners.short_cost * sum(lacking), (*arrival, left), kind

    def _following(self, edge: int, state: int) -> list[Following]:
        """Give what follows an arrival, as far as its corners are settled."""
        kept = self._kept.get((edge, state))
        if kept is not None:
            settled = self._graph.corners.settled
            if not any(settled[row][to] for row, to in kept[1]):
                return kept[0]
        found, unsettled = self._found(edge, state)
        self._kept[edge, state] = found, unsettled
        return found

    def _found(self, edge: int, state: int) -> tuple[list[Following], list[tuple[int, int]]]:
        graph = self._graph
        corners, found, unsettled = graph.corners, list[Following](), list[tuple[int, int]]()
        for cost, nxt, to, kind in successors(graph, edge, state, self.passable, self._worst):
            row = corner_at(graph, edge, kind, nxt)
            unsettled += [(each, to) for each in rows_of(graph, nxt, row) if not corners.settled[each][to]]
            enough_mm, left = NEVER_MM, NOTHING_BEHIND
            if kind == "drive" and row is not None and row not in corners.joints and nxt not in corners.spots:
                enough_mm, left = self._plain(row, nxt, to)
            found.append((cost, nxt, to, kind, row, enough_mm, left))
        return found, unsettled

    def _plain(self, row: int, nxt: int, to: int) -> tuple[int, Behind]:
        """Give how much road behind is enough that nothing else about it counts, and what a corner then leaves behind
        at the end of a link without bends."""
        asked = self._graph.corners.asks_mm(row, to)
        enter_mm, leave_mm, _, more_mm = asked or (0, 0, 0, 0)
        free_mm = min(self._graph.length_mm[nxt] - leave_mm, CAP_MM)
        return enter_mm + more_mm, (free_mm, free_mm, 0, row if asked and free_mm < CAP_MM else -1)


def labels_up_to(graph: Graph, worst: Verdict) -> Labels:
    """Give what may follow the labels of a graph up to a worst verdict, made once."""
    if worst not in graph.kept:
        graph.kept[worst] = Labels(graph, worst)
    return graph.kept[worst]
