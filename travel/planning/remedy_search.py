"""The least sets of purchases that open a way: a search over arrivals that carries what has been bought.

A label is an arrival and the set bought so far; its price is the set's, so that a remedy is paid once however many
links it covers. A label is left out where another one of the same arrival has bought no more than a part of it. Every
least set (one that holds no smaller set that opens) is therefore met, cheapest first. Several trips, out and back, are
searched as one: the next starts as the last one ended. Where labels run out of hand the remedies are priced one way at
a time instead, and what was bought costs nothing the next time.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

from travel.domain.verdict import Verdict
from travel.planning.remedy_causes import Masks, bits_of, price_of_set
from travel.routing import Graph
from travel.routing.arcs import Step, successors
from travel.routing.closeness import corner_at

MOST_LABELS = 60_000

OPEN: Masks = (0,)
"""What a link asks for that is not shut."""

Needs = dict[tuple[int, int], Masks]
Arrival = tuple[int, int, int]
Label = tuple[Arrival, int]
Cost = tuple[float, int]
Stepped = tuple[Cost, int]
"""The cost with one more arrival, and the set chosen for it."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Phase:
    """One trip of the search: its graph, what shut links and corners (row, state) need, from node to node."""

    graph: Graph
    needs: Needs
    start: int
    goal: int
    corners: Needs = field(default_factory=dict)

    @cached_property
    def _table(self) -> list[list[Masks]]:
        shut = (self.graph.worst >= Verdict.BLOCKED).tolist()
        return [[self._link(edge, state, bars) for state, bars in enumerate(row)] for edge, row in enumerate(shut)]

    def _link(self, edge: int, state: int, bars: bool) -> Masks:
        masks = self.needs.get((edge, state), ()) if bars else OPEN
        for row in self.graph.corners.on.get(edge, ()):
            masks = both(masks, self._corner(row, state))
        return masks

    def _corner(self, row: int, state: int) -> Masks:
        return self.corners.get((row, state), ()) if self.graph.corners.worst[row][state] >= Verdict.BLOCKED else OPEN

    def between(self, edge: int, nxt: int, state: int, kind: str) -> Masks:
        """Give the sets any of which opens the corner between two edges in a state, or turning round there."""
        if kind == "turn_round":
            row = self.graph.corners.returning.get(edge)
            return OPEN if row is None else self.corners.get((row, state)) or OPEN
        row = corner_at(self.graph, edge, kind, nxt)
        return OPEN if row is None else self._corner(row, state)

    def choices(self, edge: int, state: int) -> Masks:
        """Give the sets any of which opens a link in a state."""
        return self._table[edge][state]


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A set that opens a way, with the arrivals (phase, edge, state) of that way in order."""

    mask: int
    arrivals: tuple[Arrival, ...]


def least_openings(phases: tuple[Phase, ...], prices: list[int], came: Step | None = None) -> Iterator[Opening]:
    """Give least sets that open a way through all phases, cheapest first.

    Args:
        phases: the trips in order
        prices: of each purchase, by bit
        came: how the machine stands at the very start; None = either way
    """
    search = _Search(phases, prices)
    search.start(came)
    found: list[int] = []
    for label in search.settled():
        (phase, edge, _), mask = label
        if any(other & mask == other for other in found):
            continue
        if phase == len(phases) - 1 and phases[phase].graph.head[edge] == phases[phase].goal:
            found.append(mask)
            yield Opening(mask=mask, arrivals=search.traced(label))
            continue
        search.expand(label)
    if search.labels > MOST_LABELS:
        yield from _one_at_a_time(phases, prices, came, found)


class _Search:
    """Labels by price, then by the number of links driven."""

    def __init__(self, phases: tuple[Phase, ...], prices: list[int]) -> None:
        self._phases, self._prices = phases, prices
        self._heap: list[tuple[int, int, int, Label]] = []
        self._kept: dict[Arrival, list[int]] = {}
        self._tried: dict[Arrival, set[int]] = {}
        self._next: dict[Arrival, tuple[tuple[Arrival, Masks], ...]] = {}
        self._origin: dict[Label, Label | None] = {}
        self._price = self._links = 0
        self.labels = 0

    def start(self, came: Step | None) -> None:
        first = self._phases[0]
        if came is not None:
            self._go_on(0, came.edge, came.state, 0, 0, None)
            return
        for edge in first.graph.leaving[first.start]:
            for state in range(first.graph.states):
                self._push((0, edge, state), first.choices(edge, state), 0, 0, None)

    def settled(self) -> Iterator[Label]:
        """Give labels in order, until there are none or too many."""
        while self._heap and self.labels <= MOST_LABELS:
            self._price, self._links, _, label = heapq.heappop(self._heap)
            if label[1] in self._kept[label[0]]:
                yield label

    def expand(self, label: Label) -> None:
        (phase, edge, state), mask = label
        here = self._phases[phase]
        if here.graph.head[edge] == here.goal and phase + 1 < len(self._phases):
            self._go_on(phase + 1, edge, state, mask, self._links, label)
        self._go_on(phase, edge, state, mask, self._links, label)

    def _go_on(self, phase: int, edge: int, state: int, mask: int, links: int, came: Label | None) -> None:
        for arrival, masks in self._onward(phase, edge, state):
            self._push(arrival, masks, mask, links, came)

    def _onward(self, phase: int, edge: int, state: int) -> tuple[tuple[Arrival, Masks], ...]:
        """Give the arrivals after an edge in a phase, each with the sets any of which opens the corner and the link."""
        key = phase, edge, state
        if key not in self._next:
            here = self._phases[phase]
            after = successors(here.graph, edge, state, self._passable(here), Verdict.BLOCKED)
            opened = (
                ((phase, nxt, to), both(here.between(edge, nxt, to, kind), here.choices(nxt, to)))
                for _, nxt, to, kind in after
            )
            self._next[key] = tuple((arrival, masks) for arrival, masks in opened if masks)
        return self._next[key]

    @staticmethod
    def _passable(phase: Phase) -> Callable[[int, int], bool]:
        return lambda edge, state: bool(phase.choices(edge, state))

    def _push(self, arrival: Arrival, masks: Masks, mask: int, links: int, came: Label | None) -> None:
        kept, tried = self._kept.setdefault(arrival, []), self._tried.setdefault(arrival, set())
        for choice in masks:
            whole = mask | choice
            if whole in tried:  # kept, or what holds less is: that stays so
                continue
            tried.add(whole)
            if _holds_one(whole, kept):
                continue
            kept[:] = [other for other in kept if whole & other != whole]
            kept.append(whole)
            label = (arrival, whole)
            self._origin[label] = came
            self.labels += 1
            price = self._price + price_of_set(self._prices, whole & ~mask)
            heapq.heappush(self._heap, (price, links + 1, self.labels, label))

    def traced(self, label: Label) -> tuple[Arrival, ...]:
        """Give the arrivals of a way, first to last."""
        out: list[Arrival] = []
        at: Label | None = label
        while at is not None:
            out.append(at[0])
            at = self._origin[at]
        return tuple(reversed(out))


def both(one: Masks, other: Masks) -> Masks:
    """Give the sets that open two things.

    >>> both((0b01, 0b10), (0b11,)), both((0,), (0b1,)), both((), (0,))
    ((3,), (1,), ())
    """
    if one == OPEN or other == OPEN:
        return other if one == OPEN else one
    return tuple(dict.fromkeys(a | b for a in one for b in other))


def _holds_one(mask: int, others: list[int]) -> bool:
    for other in others:  # noqa: SIM110 - the hottest line of the search
        if other & mask == other:
            return True
    return False


def _one_at_a_time(
    phases: tuple[Phase, ...], prices: list[int], came: Step | None, found: list[int]
) -> Iterator[Opening]:
    """Give sets by additive prices: what a way bought costs nothing when it is searched again, until none is cheaper.

    Alternatives come from leaving out what the first set bought, one purchase at a time.
    """
    first = _repriced(phases, prices, came, 0)
    shut = [0, *(1 << number for number in bits_of(first.mask))] if first else []
    for barred in shut:
        opening = first if not barred else _repriced(phases, prices, came, barred)
        if opening and not any(other & opening.mask == other for other in found):
            found.append(opening.mask)
            yield opening


def _repriced(phases: tuple[Phase, ...], prices: list[int], came: Step | None, barred: int) -> Opening | None:
    best: Opening | None = None
    bought = 0
    while True:
        opening = _additive(phases, prices, came, (bought, barred))
        if opening is None or (best and price_of_set(prices, opening.mask) >= price_of_set(prices, best.mask)):
            return best
        best, bought = opening, opening.mask


def _additive(phases: tuple[Phase, ...], prices: list[int], came: Step | None, sets: tuple[int, int]) -> Opening | None:
    """Price every link by itself, but for what is bought already; purchases barred are not for sale."""
    bought, barred = sets

    def step(cost: Cost, arrival: Arrival, corner: Masks) -> Stepped | None:
        phase, edge, state = arrival
        open_ = [c for c in both(corner, phases[phase].choices(edge, state)) if not c & barred]
        choice = min(open_, key=lambda c: (price_of_set(prices, c & ~bought), c), default=None)
        return None if choice is None else ((cost[0] + price_of_set(prices, choice & ~bought), cost[1] + 1), choice)

    return _cheapest(phases, came, step)


def gentlest(
    phases: tuple[Phase, ...], opening: Opening, burden: list[dict[tuple[int, int], float]], came: Step | None = None
) -> Opening:
    """Give, of the ways a set opens, the one on which the set is asked for least (the greatest burden is least).

    Args:
        phases: the trips
        opening: the set
        burden: by trip and shut link (edge, state), how much is asked there
        came: how the machine stands at the very start
    """

    def step(cost: Cost, arrival: Arrival, corner: Masks) -> Stepped | None:
        phase, edge, state = arrival
        if not any(c & opening.mask == c for c in both(corner, phases[phase].choices(edge, state))):
            return None
        return (max(cost[0], burden[phase].get((edge, state), 0.0)), cost[1] + 1), 0

    found = _cheapest(phases, came, step)
    return opening if found is None else replace(found, mask=opening.mask)


def _cheapest(
    phases: tuple[Phase, ...], came: Step | None, step: Callable[[Cost, Arrival, Masks], Stepped | None]
) -> Opening | None:
    """Dijkstra over arrivals of all phases.

    ``step`` takes the cost so far, one more arrival and what the corner before it needs, and gives the cost with it
    and what was chosen, or None where it is shut.
    """
    heap: list[tuple[Cost, int, Arrival, Arrival | None, int]] = []
    origin: dict[Arrival, tuple[Arrival | None, int]] = {}
    number = itertools.count()

    def push(cost: Cost, arrival: Arrival, corner: Masks, before: Arrival | None) -> None:
        more = None if arrival in origin or not corner else step(cost, arrival, corner)
        if more is not None:
            heapq.heappush(heap, (more[0], next(number), arrival, before, more[1]))

    def follow(cost: Cost, phase: int, at: tuple[int, int], before: Arrival | None) -> None:
        here = phases[phase]
        for _, nxt, to, kind in successors(here.graph, *at, lambda edge, state: True, Verdict.BLOCKED):
            corner = here.between(at[0], nxt, to, kind)
            push(cost, (phase, nxt, to), corner, before)

    if came is not None:
        follow((0.0, 0), 0, (came.edge, came.state), None)
    else:
        graph = phases[0].graph
        for edge in graph.leaving[phases[0].start]:
            for state in range(graph.states):
                push((0.0, 0), (0, edge, state), OPEN, None)
    while heap:
        cost, _, arrival, before, chosen = heapq.heappop(heap)
        if arrival in origin:
            continue
        origin[arrival] = before, chosen
        phase, edge, state = arrival
        if phases[phase].graph.head[edge] == phases[phase].goal:
            if phase == len(phases) - 1:
                return _back(origin, arrival)
            follow(cost, phase + 1, (edge, state), arrival)
        follow(cost, phase, (edge, state), arrival)
    return None


def _back(origin: dict[Arrival, tuple[Arrival | None, int]], arrival: Arrival) -> Opening:
    arrivals, mask = [], 0
    at: Arrival | None = arrival
    while at is not None:
        arrivals.append(at)
        at, chosen = origin[at]
        mask |= chosen
    return Opening(mask=mask, arrivals=tuple(reversed(arrivals)))
