"""Remedies: the least found changes that open a way where there is none, each set proven by planning again."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from travel.checks import Case
from travel.checks.hours import clock
from travel.domain.layers import LAYERS
from travel.domain.plan import Remedy, RemedyPart
from travel.domain.verdict import Verdict
from travel.planning.both_ways import out_and_back
from travel.planning.remedy_causes import Blocked, Market, Purchase, price_of
from travel.planning.remedy_corners import RULE, CornersDriven, corner_part
from travel.planning.remedy_phases import Arrival
from travel.planning.remedy_quantity import REMOVED, Drive, Drives, Parts, amendment, changed_case, key_of
from travel.planning.remedy_search import Opening, gentlest, least_openings
from travel.planning.remedy_stock import Stock
from travel.planning.remedy_words import text_of
from travel.planning.spans import HORIZON_FACTOR, over
from travel.planning.trips import Cells, Prepared, Trip, TripRequest, prepare, search
from travel.routing.arcs import row_between, rows_of
from travel.survey.changed import built_anew

MOST_TRIED = 24
"""Sets worked out before the search for further ones ends."""

FEW_ROUNDS, MOST_AHEAD = 12, 64
"""After so many rounds in which a set led by corners nobody had looked at, those of the next sets are looked at with
it: of one, three, seven sets and so on, and of no more than so many."""

MOST_PROVEN = 4
"""Plans of sets that open kept: what is left of one set when something is dropped is often the next set."""

Tell = Callable[[str, float], None]
Ways = tuple[Drives, tuple[CornersDriven, ...]]
"""The cells and the shut corners of a way that is to be opened, by trip."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Laid:
    """A question's cases with changes laid on; ``prepared`` for its trips in order, by what their clocks tell."""

    cases: tuple[Case, ...]
    prepared: dict[tuple[object, ...], list[Prepared]] = field(default_factory=dict)


class Proofs:
    """Changes laid on some cases, the last few kept: questions that differ in their places alone share them."""

    def __init__(self, most: int = 0) -> None:
        """Keep so many at most."""
        self._most = most
        self._kept: dict[tuple[object, ...], Laid] = {}

    def laid(self, question: Question, parts: Parts) -> Laid:
        """Give a question's cases with changes laid on."""
        key = (question.cases, question.accepted, question.aim, key_of(parts))
        found = self._kept.pop(key, None) or Laid(cases=_laid_on(question.cases, parts))
        self._kept[key] = found
        if len(self._kept) > self._most:
            del self._kept[next(iter(self._kept))]
        return found


@dataclass(frozen=True, eq=False, kw_only=True)
class Question:
    """What is asked for: the trips' cases, from where to where, what has been accepted. ``back`` None: no return.

    ``in_vain``: changes laid on with which a way was still not found; ``proven``: the trips the last ones gave that
    opened it; ``proofs``: what they were planned on.
    """

    out: Case
    back: Case | None
    from_place: str
    to_place: str
    accepted: frozenset[str] = frozenset()
    aim: str = "exposure"
    proofs: Proofs = field(default_factory=Proofs, repr=False)
    in_vain: set[tuple[Any, ...]] = field(default_factory=set, init=False, repr=False)
    proven: dict[tuple[Any, ...], tuple[Trip, ...]] = field(default_factory=dict, init=False, repr=False)

    @property
    def cases(self) -> tuple[Case, ...]:
        """The trips' cases in order."""
        return (self.out,) if self.back is None else (self.out, self.back)

    def ends(self, trip: int) -> tuple[str, str]:
        """Give the places a trip starts and ends at."""
        return (self.from_place, self.to_place) if trip == 0 else (self.to_place, self.from_place)

    def changed(self, change: Callable[[Case], Case]) -> Question:
        """Give the question with every case changed."""
        return replace(self, out=change(self.out), back=None if self.back is None else change(self.back))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """One purchase with what it comes to. ``group`` shares the fixed price; ``who`` decides."""

    purchase: Purchase
    parts: Parts
    cost: float

    @property
    def fixed(self) -> tuple[tuple[str, str, str], float]:
        """The fixed price, by what shares it."""
        return self.purchase.group, self.purchase.row.price


@dataclass(frozen=True, eq=False, kw_only=True)
class Opened:
    """A set that opens the question: proven, with the trips planned again."""

    bought: tuple[Bought, ...]
    trips: tuple[Trip, ...]

    @property
    def purchases(self) -> frozenset[Purchase]:
        """What is bought, whatever the quantity."""
        return frozenset(one.purchase for one in self.bought)

    @property
    def parts(self) -> Parts:
        """All changes."""
        return tuple(part for one in self.bought for part in one.parts)

    @property
    def cost(self) -> float:
        """What the set costs: fixed prices once a group, and the rest."""
        fixed: dict[tuple[str, str, str], float] = {}
        for one in self.bought:
            key, price = one.fixed
            fixed[key] = max(price, fixed.get(key, 0.0))
        return sum(fixed.values()) + sum(one.cost for one in self.bought)


def plan_again(question: Question, parts: Parts) -> tuple[Trip, ...] | None:
    """Plan all trips again on a survey built anew with changes laid on; None where a way is still not found.

    Args:
        question: what is asked; changes of weather, hour or load are in its cases already
        parts: changes of the site and of the machine
    """
    key = key_of(parts)
    if key in question.in_vain:
        return None
    trips = question.proven.pop(key, None) or _planned(question, question.proofs.laid(question, parts))
    if trips is None:
        question.in_vain.add(key)
        return None
    question.proven[key] = trips
    if len(question.proven) > MOST_PROVEN:
        del question.proven[next(iter(question.proven))]
    return trips


def _laid_on(cases: tuple[Case, ...], parts: Parts) -> tuple[Case, ...]:
    """Give cases with changes of the machine, on a survey built anew with those of the site."""
    layers = tuple(amendment(part) for part in parts if part.layer in LAYERS)
    survey = built_anew(cases[0].survey, layers) if layers else cases[0].survey
    machine = tuple(part for part in parts if part.layer == "machine")
    return tuple(changed_case(replace(case, survey=survey), machine) for case in cases)


def _planned(question: Question, laid: Laid) -> tuple[Trip, ...] | None:
    """Plan over the question's spans of hours, and over longer ones as long as the ways take more."""
    cases = laid.cases
    while True:  # a longer span only ever shuts more, so the ways settle
        told = tuple(clock(case) for case in cases)
        trips = _planned_for(question, cases, laid.prepared.setdefault(told, []))
        if trips is None:
            return None
        longer = tuple(over(case, HORIZON_FACTOR * sum(trip.time_s for trip in trips)) for case in cases)
        if tuple(clock(case) for case in longer) == told:
            return trips
        cases = longer


def _planned_for(question: Question, cases: tuple[Case, ...], ready: list[Prepared]) -> tuple[Trip, ...] | None:
    """Plan on what is prepared for these trips; what is not yet, is and added."""
    trips: list[Trip] = []
    for number, case in enumerate(cases):
        start, goal = question.ends(number)
        nodes = case.survey.network.place_node
        came = trips[-1].way.steps[-1] if trips and trips[-1].way and trips[-1].way.steps else None
        request = TripRequest(
            start=nodes[start],
            goal=nodes[goal],
            from_place=start,
            to_place=goal,
            came=came,
            accepted=question.accepted,
            aim=question.aim,
        )
        if number == len(ready):
            before = ready[-1] if ready else None
            ready.append(prepare(case, question.accepted, question.aim, before=before))
        trips.append(search(ready[number], request, nearest=False))
        if number:
            trips = list(out_and_back(*trips))
        if trips[-1].way is None:
            return None
    return tuple(trips)


def openings(
    question: Question,
    limit: int,
    stock: Stock,
    tell: Tell | None = None,
    without: tuple[frozenset[Purchase], ...] = (),
) -> Iterator[Opened]:
    """Give sets that open a question, least first as far as prices are known beforehand; each is proven.

    Args:
        question: what is asked
        limit: how many at most
        stock: what is on offer for its trips
        tell: called with what is being done and the share done
        without: sets that are listed elsewhere; what holds one of them is left out
    """
    nodes = question.out.survey.network.place_node
    ends = tuple((nodes[a], nodes[b]) for a, b in (question.ends(number) for number in range(len(question.cases))))
    seen: set[frozenset[RemedyPart]] = set()
    tried: set[frozenset[Purchase]] = set()
    for rounds in itertools.count():
        market, phases = stock.market(ends)
        looked, sets = False, least_openings(phases, market.prices)
        for least in sets:
            if len(seen) >= limit or len(tried) >= MOST_TRIED:
                return
            opening, bought = least, frozenset(market.bought(least.mask))
            if bought in tried or any(other <= bought for other in without):
                continue
            if any(purchase.layer == "machine" for purchase in bought):
                burden = [market.burden(number, opening.mask) for number in range(len(phases))]
                opening = gentlest(phases, opening, burden)
            looked = stock.look((least, opening))
            if looked:
                stock.look(itertools.islice(sets, min(MOST_AHEAD, 2 ** max(rounds - FEW_ROUNDS, 0) - 1)))
                break
            tried.add(bought)
            if tell:
                tell("looking for remedies", min(0.1 + 0.8 * len(seen) / limit, 0.9))
            opened = _opened(question, market, stock, opening)
            if opened is not None and frozenset(opened.parts) not in seen:
                seen.add(frozenset(opened.parts))
                yield opened
        if not looked:
            return


def _opened(question: Question, market: Market, stock: Stock, opening: Opening) -> Opened | None:
    """Find the quantities of a set, prove it, and drop what is not needed; None where it does not open after all.

    Each purchase is sized by itself; where the set then does not open, or another machine meets what is changed on
    the site, once more one upon the other, the machine last.
    """
    ways = _drives(market, stock.blocked, opening), _corners(stock.blocked, opening)
    purchases = sorted(market.bought(opening.mask), key=lambda purchase: purchase.layer == "machine")
    mixed = len({purchase.layer == "machine" for purchase in purchases}) > 1
    opened, bought = None, None
    for together in (True,) if mixed else (False, True):
        bought = _sized(purchases, ways, stock, together)
        opened = None if bought is None else _proven(question, bought)
        if opened is not None:
            break
    if opened is None or bought is None:
        return None
    for one in bought:
        if len(opened.bought) > 1 and one in opened.bought:
            opened = _proven(question, [other for other in opened.bought if other is not one]) or opened
    return _upon_roads(question, opened, ways, stock)


def _upon_roads(question: Question, opened: Opened, ways: Ways, stock: Stock) -> Opened:
    """Size what is measured anew upon what else of the set changes a road: on a level one less width is enough."""
    for one in opened.bought:
        others = [other for other in opened.bought if other.purchase != one.purchase]
        if one.purchase.row.step <= 0 or all(other.purchase.layer != "roads" for other in others):
            continue
        less = _bought(one.purchase, ways, stock, others)
        if less is not None and less.parts and less.parts != one.parts and less.cost <= one.cost:
            opened = _proven(question, [less if other is one else other for other in opened.bought]) or opened
    return opened


def _sized(purchases: list[Purchase], ways: Ways, stock: Stock, together: bool) -> list[Bought] | None:
    """Give purchases with their quantities, each by itself or upon those before; None where one cannot open."""
    bought: list[Bought] = []
    for purchase in purchases:
        one = _bought(purchase, ways, stock, bought if together else ())
        if one is None:
            return None
        bought += [one] if one.parts else []
    return bought


def _bought(purchase: Purchase, ways: Ways, stock: Stock, upon: Sequence[Bought]) -> Bought | None:
    """Give a purchase with its quantity upon others, no parts where there is no need; None where it cannot open."""
    before = tuple(part for one in upon for part in one.parts if part.field != REMOVED)
    parts = stock.quantities.of(purchase, ways[0], before)
    if parts is not None and RULE in purchase.row.rules and purchase.row.sense != "remove":
        more = corner_part(purchase, ways[1], (*before, *parts), stock.judged)
        parts = None if more is None else _as_now(more, parts) or parts
    return None if parts is None else Bought(purchase=purchase, parts=parts, cost=_cost(purchase, parts))


def _as_now(more: Parts, parts: Parts) -> Parts:
    """Give parts sized upon others of the same purchase with what there is now, not what the others make of it."""
    now = {(part.layer, part.feature, part.field): part.old for part in parts}
    return tuple(replace(part, old=now.get((part.layer, part.feature, part.field), part.old)) for part in more)


def _proven(question: Question, bought: list[Bought]) -> Opened | None:
    trips = plan_again(question, tuple(part for one in bought for part in one.parts))
    return None if trips is None else Opened(bought=tuple(bought), trips=trips)


def _drives(market: Market, blocked: tuple[Blocked, ...], opening: Opening) -> Drives:
    """Give the cells of a way through blocked links, with a gear on each that the set opens."""
    return tuple(
        Drive(case=one.prepared.case, cells=_cells(market, one, trip, opening.mask, opening.arrivals))
        for trip, one in enumerate(blocked)
    )


def _corners(blocked: tuple[Blocked, ...], opening: Opening) -> tuple[CornersDriven, ...]:
    """Give the corners that are shut on the way of a set, by trip; a trip begins as the one before it ended."""
    out, every = [], [(edge, state) for _, edge, state in opening.arrivals]
    for trip, one in enumerate(blocked):
        graph, at = one.prepared.graph, []
        for before, (number, edge, state) in zip([None, *every], opening.arrivals, strict=False):
            if number != trip:
                continue
            rows = rows_of(graph, edge, row_between(graph, before, edge, state))
            at += [(each, state) for each in rows if graph.corners.worst[each][state] >= Verdict.BLOCKED]
        out.append(CornersDriven(case=one.prepared.case, turns=one.prepared.turns, at=tuple(dict.fromkeys(at))))
    return tuple(out)


def _cells(market: Market, one: Blocked, trip: int, mask: int, arrivals: tuple[Arrival, ...]) -> Cells:
    case, choice = one.prepared.case, one.prepared.choice
    network, top = case.survey.network, case.configurations.top_mps
    piece, sense, config = [], [], []
    for _, edge, state in (arrival for arrival in arrivals if arrival[0] == trip):
        link, way = edge >> 1, edge & 1
        members = np.flatnonzero(case.configurations.state == state)
        members = members[np.argsort(top[members], kind="stable")]
        for number in range(int(network.link_piece_start[link]), int(network.link_piece_stop[link])):
            gear = int(choice.config[number, way, state])
            if choice.worst[number, way, state] == Verdict.BLOCKED:
                causes = ((int(g), one.cells.get((number, way, int(g)), frozenset())) for g in members)
                gear = next((g for g, found in causes if market.opens(mask, trip, found)), gear)
            piece.append(number)
            sense.append(-1 if way else 1)
            config.append(gear)
    columns = [np.array(column, dtype=np.int64) for column in (piece, sense, config)]
    return Cells(piece=columns[0], sense=columns[1], config=columns[2], step=np.zeros(len(piece), dtype=np.int64))


def _cost(purchase: Purchase, parts: Parts) -> float:
    """Give what a purchase costs at its quantities, without its fixed price."""
    total = 0.0
    for part in parts:
        numbers = isinstance(part.value, float) and isinstance(part.old, float)
        change = abs(part.value - part.old) if numbers else float(part.value) if isinstance(part.value, float) else 0.0
        length = None if part.from_m is None or part.to_m is None else part.to_m - part.from_m
        total += price_of(purchase.row, change if purchase.row.step > 0 else 0.0, length)
    return total


def remedy_of(opened: Opened, question: Question, number: int) -> Remedy:
    """Give a proven set as it stands in a plan."""
    rows = [one.purchase.row for one in opened.bought]
    worst = max(trip.worst for trip in opened.trips)
    return Remedy(
        remedy=number,
        rank=number,
        amendments=tuple(replace(p, reason=one.purchase.row.id) for one in opened.bought for p in one.parts),
        cost=round(opened.cost, 3),
        who="; ".join(dict.fromkeys(row.who for row in rows)),
        lead_time_days=max((row.lead_time_days for row in rows), default=0.0),
        side_effects="; ".join(dict.fromkeys(row.side_effects for row in rows if row.side_effects)),
        proven=True,
        text="; ".join(text_of(one.purchase, one.parts, question.out) for one in opened.bought),
        verdict=worst.word,  # type: ignore[arg-type]
    )
