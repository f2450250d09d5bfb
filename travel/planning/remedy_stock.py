"""What is on offer against all that is blocked on some trips; corners as far as somebody has looked at them.

Looking at a corner is dear and few matter: until it is looked at a corner counts as open, and a set is only tried when
the corners of its way have been looked at. That only ever makes a set dearer, so the cheapest comes first all the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

from travel.checks import free_to_turn
from travel.planning.remedy_causes import Blocked, CornerOffer, Market, Offer, all_blocked, offers_of
from travel.planning.remedy_corners import Judged, corner_offers
from travel.planning.remedy_phases import Phase
from travel.planning.remedy_quantity import Quantities
from travel.planning.remedy_search import Opening
from travel.planning.remedy_trial import working
from travel.planning.trips import Prepared
from travel.routing import Graph
from travel.routing.arcs import row_between, rows_of

Ends = tuple[tuple[int, int], ...]


@dataclass(eq=False)
class Stock:
    """The same for every goal: what is blocked on each trip, what is offered against it, what of it is needed."""

    prepared: tuple[Prepared, ...]
    blocked: tuple[Blocked, ...]
    quantities: Quantities = field(default_factory=Quantities)
    judged: Judged = field(default_factory=Judged)
    _corners: list[CornerOffer] = field(default_factory=list)
    _done: set[tuple[int, int, int]] = field(default_factory=set)

    @cached_property
    def _offers(self) -> list[Offer]:
        return working(offers_of(self.blocked), self.blocked)

    @cached_property
    def _links(self) -> Market:
        return Market(self.blocked, self._offers)

    @cached_property
    def _graphs(self) -> tuple[Graph, ...]:
        """The graphs with room to turn as stated: what takes ground away from a place may be bought off."""
        out: list[Graph] = []
        for one in self.prepared:
            turn = free_to_turn(one.case, as_stated=True)
            twins = zip(self.prepared, out, strict=False)
            same = (graph for twin, graph in twins if twin.graph is one.graph and graph.turn == turn)
            out.append(next(same, None) or replace(one.graph, turn=turn, as_stated=True))
        return tuple(out)

    def market(self, ends: Ends) -> tuple[Market, tuple[Phase, ...]]:
        """Give what can be bought, and the trips from node to node to be searched with it."""
        self._corners += corner_offers(self.prepared, self._done, self.judged)
        market = self._links.with_corners(self._corners)
        phases = tuple(
            Phase(
                graph=graph,
                needs=market.needs(number),
                corners=market.corner_needs(number),
                start=ends[number][0],
                goal=ends[number][1],
            )
            for number, graph in enumerate(self._graphs)
        )
        return market, phases

    def look(self, openings: Iterable[Opening]) -> bool:
        """Look at the corners on the ways of some sets; tell whether there was one nobody had looked at."""
        wanted: list[set[tuple[int, int]]] = [set() for _ in self.prepared]
        for opening in openings:
            before: tuple[int, int, int] | None = None
            for trip, edge, state in opening.arrivals:
                graph = self.prepared[trip].graph
                came = None if before is None else (before[1], before[2])
                rows = rows_of(graph, edge, row_between(graph, came, edge, state))
                wanted[trip] |= {(each, state) for each in rows if not graph.corners.settled[each][state]}
                before = (trip, edge, state)
        for one, some in zip(self.prepared, wanted, strict=True):
            one.graph.corners.settle(some)
        return any(wanted)


def stock_of(prepared: tuple[Prepared, ...]) -> Stock:
    """Give what is on offer for some trips."""
    return Stock(prepared=prepared, blocked=all_blocked(prepared))
