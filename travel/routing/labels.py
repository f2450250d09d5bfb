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
Following = tuple[int, int, int, Kind, int | None, int, Behind, int]
"""Cost, next edge, its state, manoeuvre, corner; and where there is so much road before: the road left behind, and what
it costs more."""
_Kept = tuple[list[Following], list[Following], list[tuple[int, int]]]
"""What follows an arrival as it is, and changed standing; the corners there that are not settled."""
Stood = dict[tuple[int, bool], int]
"""In one search, by edge and travel: the state that came there first and stands to change in line."""
NEVER_MM = CAP_MM + 1
"""More than there ever is behind a label."""


class Labels:
    """What may follow labels of one graph up to a worst verdict."""

    def __init__(self, graph: Graph, worst: Verdict) -> None:
        self.passable = passable_up_to(graph, worst)
        self._graph, self._worst = graph, worst
        self._kept: dict[tuple[int, int], _Kept] = {}
        self._forwards = [same[0] for same in graph.same_travel]

    def next(self, label: Label, stood: Stood) -> Iterator[tuple[int, Label, Kind]]:
        """Give what may follow a label, as ``successors``: (cost, label, kind). Where a corner begins before the one
        before it is over, the way is unknown, and dearer by what is lacking.

        Args:
            label: no cheaper than any asked for before with the same edge
            stood: kept by the search; what a state that came first changes to no later one does for less
        """
        edge, state, behind = label
        free_mm = min(behind[0], behind[1])
        driven, changed = self._following(edge, state)
        key = edge, self._forwards[state]
        first = stood.get(key)
        if first is not None:
            changed = [arc for arc in changed if arc[2] == first]
        elif behind[0] >= 0:
            stood[key] = state
        for arcs in (driven, changed):
            for cost, nxt, to, kind, row, enough_mm, left, more in arcs:
                if free_mm >= enough_mm:
                    yield cost + more, (nxt, to, left), kind
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

    def _following(self, edge: int, state: int) -> tuple[list[Following], list[Following]]:
        """Give what follows an arrival, as far as its corners are settled: as it is, and changed standing."""
        kept = self._kept.get((edge, state))
        if kept is not None:
            settled = self._graph.corners.settled
            if not any(settled[row][to] for row, to in kept[2]):
                return kept[:2]
        kept = self._kept[edge, state] = self._found(edge, state)
        return kept[:2]

    def _found(self, edge: int, state: int) -> _Kept:
        """Give the same, and the corners that are not settled."""
        graph = self._graph
        corners, found, unsettled = graph.corners, (list[Following](), list[Following]()), list[tuple[int, int]]()
        for cost, nxt, to, kind in successors(graph, edge, state, self.passable, self._worst):
            row = corner_at(graph, edge, kind, nxt)
            unsettled += [(each, to) for each in rows_of(graph, nxt, row) if not corners.settled[each][to]]
            row = None if row in corners.joints else row
            how = self._simple(kind, row, nxt, to) if nxt not in corners.spots else (NEVER_MM, NOTHING_BEHIND, 0)
            if how is not None:
                found[kind == "change"].append((cost, nxt, to, kind, row, *how))
        return (*found, unsettled)

    def _simple(self, kind: Kind, row: int | None, nxt: int, to: int) -> tuple[int, Behind, int] | None:
        """Give how much road behind is enough that nothing else about it counts, what is left behind at the end of a
        link without bends, and what it costs more; None where it may not be driven, whatever is behind."""
        corners = self._graph.corners
        asked = None if row is None else corners.asks_mm(row, to)
        enter_mm, leave_mm, _, more_mm = asked or (0, 0, 0, 0)
        free_mm = min(self._graph.length_mm[nxt] - leave_mm, CAP_MM)
        left = (free_mm, free_mm, 0, row if row is not None and asked and free_mm < CAP_MM else -1)
        if kind == "turn_round" or not corners.cost:
            return 0, NOTHING_BEHIND, 0
        if kind not in ("change", "travel_change"):
            return (CAP_MM, NOTHING_BEHIND, 0) if row is None else (enter_mm + more_mm, left, 0)
        if row is None or enter_mm <= 0 or corners.accepts(row):  # it begins standing in line
            return 0, left, 0
        return (0, left, corners.short_cost * enter_mm) if self._worst >= Verdict.UNKNOWN else None


def labels_up_to(graph: Graph, worst: Verdict) -> Labels:
    """Give what may follow the labels of a graph up to a worst verdict, made once."""
    if worst not in graph.kept:
        graph.kept[worst] = Labels(graph, worst)
    return graph.kept[worst]
