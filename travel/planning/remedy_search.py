"""The least sets of purchases that open a way: a search over arrivals that carries what has been bought.

A label is an arrival and the set bought so far; its price is the set's, so that a remedy is paid once however many
links it covers. A label is left out where another one of the same arrival has bought no more than a part of it. Every
least set (one that holds no smaller set that opens) is therefore met, cheapest first. Several trips, out and back, are
searched as one: the next starts as the last one ended. Where labels run out of hand the remedies are priced one way at
a time instead, and what was bought costs nothing the next time.

Arrivals that are followed by the same share a list of it (``routing/follows.py``): once it was looked at from one of
them, it is not from another one that comes dearer, or with all that was bought then.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from travel.planning.remedy_causes import bits_of, price_of_set
from travel.planning.remedy_phases import Arrival, Asked, Phase, Phases

MOST_LABELS = 60_000

Label = tuple[int, int]
"""An arrival by its number, and the set bought."""
Step = Callable[[Any, int, int], tuple[Any, int] | None]
"""Takes the cost so far, one more arrival and what is asked for on the way to it, by their numbers; gives the cost with
it and the set chosen, None where it is shut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A set that opens a way, with the arrivals (phase, edge, state) of that way in order."""

    mask: int
    arrivals: tuple[Arrival, ...]


def least_openings(trips: tuple[Phase, ...], prices: list[int]) -> Iterator[Opening]:
    """Give least sets that open a way through all trips, facing either way at first, cheapest first.

    Args:
        trips: in order
        prices: of each purchase, by bit
    """
    phases = Phases(trips)
    search = _Search(phases, prices)
    found: list[int] = []
    for label in search.settled():
        at, mask = label
        if _holds_one(mask, found):
            continue
        if at in phases.ends:
            found.append(mask)
            yield Opening(mask=mask, arrivals=search.traced(label))
            continue
        search.expand(label)
    if search.labels > MOST_LABELS:
        yield from _one_at_a_time(phases, trips, prices, found)


class _Search:
    """Labels by price, then by the number of links driven."""

    def __init__(self, phases: Phases, prices: list[int]) -> None:
        self._phases, self._prices = phases, prices
        self._heap: list[tuple[int, int, int, Label]] = []
        self._kept: dict[int, list[int]] = {}
        self._tried: dict[int, set[int]] = {}
        self._looked: dict[int, list[int]] = {}
        self._origin: dict[Label, Label | None] = {}
        self._price = self._links = 0
        self.labels = 0
        self._push(phases.start(), 0, None)

    def settled(self) -> Iterator[Label]:
        """Give labels in order, until there are none or too many."""
        while self._heap and self.labels <= MOST_LABELS:
            self._price, self._links, _, label = heapq.heappop(self._heap)
            if label[1] in self._kept[label[0]]:
                yield label

    def expand(self, label: Label) -> None:
        at, mask = label
        for number in self._phases.after(at):
            looked = self._looked.setdefault(number, [])
            if not _holds_one(mask, looked):
                looked.append(mask)
                self._push(self._phases.lists[number], mask, label)

    def _push(self, following: Asked, mask: int, came: Label | None) -> None:
        for arrival, asked in following:
            kept, tried = self._kept.get(arrival), self._tried.get(arrival)
            if kept is None or tried is None:
                kept, tried = self._kept[arrival], self._tried[arrival] = [], set()
            for choice in self._phases.sets[asked]:
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
                heapq.heappush(self._heap, (price, self._links + 1, self.labels, label))

    def traced(self, label: Label) -> tuple[Arrival, ...]:
        """Give the arrivals of a way, first to last."""
        out: list[Arrival] = []
        at: Label | None = label
        while at is not None:
            out.append(self._phases.arrival(at[0]))
            at = self._origin[at]
        return tuple(reversed(out))


def _holds_one(mask: int, others: list[int]) -> bool:
    for other in others:  # noqa: SIM110 - the hottest line of the search
        if other & mask == other:
            return True
    return False


def _one_at_a_time(phases: Phases, trips: tuple[Phase, ...], prices: list[int], found: list[int]) -> Iterator[Opening]:
    """Give sets by additive prices: what a way bought costs nothing when it is searched again, until none is cheaper.

    Alternatives come from leaving out what the first set bought, one purchase at a time; purchases that are only ever
    bought together are left out at once.
    """
    first = _repriced(phases, prices, 0)
    shut = [0, *_told_apart(trips, first.mask)] if first else []
    for barred in shut:
        opening = first if not barred else _repriced(phases, prices, barred)
        if opening and not _holds_one(opening.mask, found):
            found.append(opening.mask)
            yield opening


def _told_apart(trips: tuple[Phase, ...], mask: int) -> list[int]:
    """Give the purchases of a set, of those that every choice holds together the first."""
    sets = {
        choice for trip in trips for needs in (trip.needs, trip.corners) for some in needs.values() for choice in some
    }
    by_sets: dict[frozenset[int], int] = {}
    for number in bits_of(mask):
        by_sets.setdefault(frozenset(choice for choice in sets if choice >> number & 1), 1 << number)
    return list(by_sets.values())


def _repriced(phases: Phases, prices: list[int], barred: int) -> Opening | None:
    best: Opening | None = None
    bought = 0
    while True:
        opening = _additive(phases, prices, bought, barred)
        if opening is None or (best and price_of_set(prices, opening.mask) >= price_of_set(prices, best.mask)):
            return best
        best, bought = opening, opening.mask


def _additive(phases: Phases, prices: list[int], bought: int, barred: int) -> Opening | None:
    """Price every link by itself, but for what is bought already; purchases barred are not for sale."""
    offers = _Offers(phases, prices, bought, barred)

    def step(cost: int, at: int, asked: int) -> tuple[int, int] | None:
        offer = offers[asked]
        return None if offer is None else (cost + offer[0], offer[1])

    return _cheapest(phases, 0, step, once=True)


class _Offers(dict[int, tuple[int, int] | None]):
    """By what is asked for: the cheapest choice with what it costs, one more link included; None where there is none.

    What was bought opens a way by itself, so nothing is bought besides. A link costs less than anything with a price.
    """

    def __init__(self, phases: Phases, prices: list[int], bought: int, barred: int) -> None:
        super().__init__()
        self._phases, self._prices, self._sets = phases, prices, (bought, barred)

    def __missing__(self, asked: int) -> tuple[int, int] | None:
        bought, barred = self._sets
        choices = (choice for choice in self._phases.sets[asked] if not choice & barred)
        price, choice = min(((price_of_set(self._prices, c & ~bought), c) for c in choices), default=(0, None))
        sold = choice is not None and not (bought and price)
        self[asked] = (price * (self._phases.count + 1) + 1, choice) if choice is not None and sold else None
        return self[asked]


def gentlest(trips: tuple[Phase, ...], opening: Opening, burden: list[dict[tuple[int, int], float]]) -> Opening:
    """Give, of the ways a set opens, the one on which the set is asked for least (the greatest burden is least).

    Args:
        trips: in order
        opening: the set
        burden: by trip and shut link (edge, state), how much is asked there
    """
    phases = Phases(trips)

    def step(cost: tuple[float, int], at: int, asked: int) -> tuple[tuple[float, int], int] | None:
        if not any(choice & opening.mask == choice for choice in phases.sets[asked]):
            return None
        phase, edge, state = phases.arrival(at)
        return (max(cost[0], burden[phase].get((edge, state), 0.0)), cost[1] + 1), 0

    found = _cheapest(phases, (0.0, 0), step, once=False)
    return opening if found is None else replace(found, mask=opening.mask)


def _cheapest(phases: Phases, nothing: Any, step: Step, *, once: bool) -> Opening | None:
    """Dijkstra over arrivals of all phases.

    Args:
        phases: the trips
        nothing: the cost at the start
        step: gives what one more arrival costs
        once: whether what comes dearer stays as dear whatever is driven, so that a list need not be looked at again
    """
    heap: list[tuple[Any, int, int, int | None, int]] = []
    origin: dict[int, tuple[int | None, int]] = {}
    least: dict[int, Any] = {}
    looked: set[int] = set()
    number = itertools.count()

    def push(cost: Any, following: Asked, before: int | None) -> None:
        for at, asked in following:
            more = step(cost, at, asked)
            if more is not None and (at not in least or more[0] < least[at]):
                least[at] = more[0]
                heapq.heappush(heap, (more[0], next(number), at, before, more[1]))

    push(nothing, phases.start(), None)
    while heap:
        cost, _, at, before, chosen = heapq.heappop(heap)
        if at in origin:
            continue
        origin[at] = before, chosen
        if at in phases.ends:
            return _back(phases, origin, at)
        for each in phases.after(at):
            if each not in looked:
                push(cost, phases.lists[each], at)
                looked |= {each} if once else set()
    return None


def _back(phases: Phases, origin: dict[int, tuple[int | None, int]], last: int) -> Opening:
    arrivals, mask = [], 0
    at: int | None = last
    while at is not None:
        arrivals.append(phases.arrival(at))
        at, chosen = origin[at]
        mask |= chosen
    return Opening(mask=mask, arrivals=tuple(reversed(arrivals)))
