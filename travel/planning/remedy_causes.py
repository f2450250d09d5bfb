"""What shuts each link, cause by cause, and what would have to be bought so that it opens.

A cause is one rule about one feature, or about one stretch of road between junctions. A purchase is one row of the
rulebook's remedies laid on one feature, one such stretch, or the machine. Purchases are numbered; a set of them is an
integer with one bit each, and a price in whole thousandths, so that sums are exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from travel.checks import Answer, Case, answers_for, parts
from travel.domain.layers import LAYERS
from travel.domain.rules import RemedyRow
from travel.domain.verdict import Verdict
from travel.planning.trips import Prepared
from travel.units import SI_PER_UNIT

Ints = NDArray[np.int64]
Masks = tuple[int, ...]
Cell = tuple[int, int, int]

MILLI = 1000
MOST_CHOICES = 24
"""Different sets kept for one link; beyond that the dearer ones are left out (what is found stays right)."""
BY_STRETCH = ("", "ground")
"""Layers whose rules speak of the road itself, so that a cause is one stretch between junctions."""


class Cause(NamedTuple):
    """One rule about one feature (``link`` −1) or the pieces of one link, driven one way in one configuration."""

    rule: str
    layer: str
    feature: int
    link: int
    way: int
    config: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """A remedy row laid on a feature of its layer, on a link of a road, or on the machine (``link`` −1)."""

    id: str
    layer: str
    feature: str
    link: int
    row: RemedyRow = field(compare=False, repr=False)

    @property
    def group(self) -> tuple[str, str, str]:
        """What shares the fixed price."""
        return self.row.group or self.row.id, self.layer, self.feature


@dataclass(slots=True)
class Seen:
    """What is known of one cause: its pieces, and by how much it misses (the rule's unit)."""

    pieces: set[int] = field(default_factory=set)
    short: float = 0.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Blocked:
    """The blocked cells of one trip that a search could drive over: (piece, way, configuration) → its causes."""

    prepared: Prepared
    cells: Mapping[Cell, frozenset[Cause]]
    seen: Mapping[Cause, Seen]


def blocked_of(prepared: Prepared) -> Blocked:
    """Give every cause on every blocked cell of a trip, in every gear of the states that are shut there."""
    seen: dict[Cause, Seen] = {}
    case, choice = prepared.case, prepared.choice
    shut = choice.worst[:, :, case.configurations.state] == Verdict.BLOCKED
    piece, way, config = (axis.astype(np.int64) for axis in np.nonzero(shut))
    found: list[set[Cause]] = [set() for _ in range(len(piece))]
    link = np.asarray(case.survey.pieces.link)[piece]
    for answer in answers_for(case, piece, 1 - 2 * way, config) if len(piece) else ():
        causes, number, rows = causes_of(answer, link, way, config)
        at, unit = answer.position[rows], SI_PER_UNIT[case.rulebook.rules[answer.rule].unit]
        short = (_short(answer.outcome, len(answer.verdict)) / unit)[rows].tolist()
        notes = [seen.setdefault(cause, Seen()) for cause in causes]
        for cell, on, which, lack in zip(at.tolist(), piece[at].tolist(), number.tolist(), short, strict=True):
            found[cell].add(causes[which])
            note = notes[which]
            note.pieces.add(on)
            note.short = max(note.short, lack)
    keys = zip(piece.tolist(), way.tolist(), config.tolist(), strict=True)
    cells = {key: frozenset(causes) for key, causes in zip(keys, found, strict=True)}
    return Blocked(prepared=prepared, cells=cells, seen=seen)


def causes_of(answer: Answer, link: Ints, way: Ints, config: Ints) -> tuple[list[Cause], Ints, Ints]:
    """Give the causes an answer bars by, in the order met, which of them each barred row is, and those rows.

    Args:
        answer: a rule's answer on some cells
        link, way, config: of these cells
    """
    rows = np.flatnonzero(answer.applies() & (answer.verdict == Verdict.BLOCKED))
    at = answer.position[rows]
    where = link[at] if answer.layer in BY_STRETCH else np.full(len(at), -1)
    told = np.column_stack((answer.feature[rows], where, way[at], config[at]))
    different, first, number = np.unique(told, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    causes = [Cause(answer.rule, answer.layer, *values) for values in different[order].tolist()]
    return causes, rank[number.ravel()], rows


def _short(outcome: object, count: int) -> NDArray[np.float64]:
    """Give what is lacking, tolerance included; 0 where a rule says only yes or no."""
    demand, capacity, band = (np.asarray(getattr(outcome, name)) for name in ("demand", "capacity", "tolerance"))
    lack = np.broadcast_to(np.nan_to_num(demand + band - capacity, posinf=0.0, neginf=0.0), (count,))
    return np.asarray(np.maximum(lack, 0.0))


Offer = tuple[int, Purchase, Cause]
CornerOffer = tuple[int, tuple[Purchase, ...], Cause]
"""The trip, what is bought together, and the corner it opens."""


def all_blocked(prepared: Sequence[Prepared]) -> tuple[Blocked, ...]:
    """Give what is blocked on every trip; one on which the rules were folded once for both is blocked as that one."""
    by_trip, out = {part.rule for part in parts() if part.by_trip}, list[Blocked]()
    for one in prepared:
        twin = next((b for b in out if b.prepared.folded is one.folded), None)
        same = twin is not None and not any(cause.rule in by_trip for cause in twin.seen)
        out.append(replace(twin, prepared=one) if twin is not None and same else blocked_of(one))
    return tuple(out)


def twins(blocked: Sequence[Blocked]) -> list[int]:
    """Give, by trip, the first one that is blocked in the same way: what holds of it holds of both."""
    return [next(n for n, other in enumerate(blocked) if other.seen is one.seen) for one in blocked]


def offers_of(blocked: tuple[Blocked, ...]) -> list[Offer]:
    """Give every purchase the rulebook offers, with the trip (by number) and the cause it is offered against."""
    out: list[list[tuple[Purchase, Cause]]] = []
    for trip, (one, twin) in enumerate(zip(blocked, twins(blocked), strict=True)):
        case, seen = one.prepared.case, one.seen.items() if twin == trip else ()
        mine = [(purchase, cause) for cause, note in seen for purchase in purchases_for(case, cause, note)]
        out.append(mine if twin == trip else out[twin])
    return [(trip, purchase, cause) for trip, some in enumerate(out) for purchase, cause in some]


class Market:
    """Every purchase on offer, with its bits and prices."""

    def __init__(self, blocked: tuple[Blocked, ...], offers: Iterable[Offer]) -> None:
        self._blocked, self._twins = blocked, twins(blocked)
        self._needs: dict[int, dict[tuple[int, int], Masks]] = {}
        self._bits: dict[tuple[str, str, str] | Purchase, int] = {}
        self.prices: list[int] = []
        self.purchases: dict[int, Purchase] = {}
        self._ways_out: dict[tuple[int, Cause], Masks] = {}
        for trip, purchase, cause in offers:
            mask = self._mask(purchase, blocked[trip].seen[cause], blocked[trip].prepared.case)
            self._ways_out[trip, cause] = (*self._ways_out.get((trip, cause), ()), mask)
        self._corners: list[tuple[int, Cause]] = []

    def with_corners(self, at_corners: Iterable[CornerOffer]) -> Market:
        """Give the same with what is offered against corners; what links need is kept unless a price is another one."""
        out = copy(self)
        out._bits, out.prices, out.purchases = dict(self._bits), list(self.prices), dict(self.purchases)
        out._ways_out, out._corners = dict(self._ways_out), list(self._corners)
        for trip, together, cause in at_corners:
            mask = 0
            for purchase in together:
                mask |= out._mask(purchase, Seen(), self._blocked[trip].prepared.case)
            out._ways_out[trip, cause] = (*out._ways_out.get((trip, cause), ()), mask)
            out._corners.append((trip, cause))
        if out.prices[: len(self.prices)] != self.prices:
            out._needs = {}
        return out

    def _mask(self, purchase: Purchase, note: Seen, case: Case) -> int:
        fixed = self._bit(purchase.group, purchase.row.price)
        own = self._bit(purchase, _price(purchase, note, case))
        self.purchases[own] = purchase
        return 1 << fixed | 1 << own

    def _bit(self, key: tuple[str, str, str] | Purchase, price: float) -> int:
        whole = round(price * MILLI)
        if key not in self._bits:
            self._bits[key] = len(self.prices)
            self.prices.append(whole)
        number = self._bits[key]
        self.prices[number] = max(self.prices[number], whole)
        return number

    def price(self, mask: int) -> int:
        """Give the price of a set."""
        return price_of_set(self.prices, mask)

    def bought(self, mask: int) -> tuple[Purchase, ...]:
        """Give the purchases of a set, in their order."""
        return tuple(self.purchases[number] for number in bits_of(mask) if number in self.purchases)

    def opens(self, mask: int, trip: int, causes: Iterable[Cause]) -> bool:
        """Tell whether a set opens all these causes on a trip."""
        return all(any(way & mask == way for way in self._ways_out.get((trip, cause), ())) for cause in causes)

    def burden(self, trip: int, mask: int) -> dict[tuple[int, int], float]:
        """Give, by (edge, state), how much is asked on a link that a set opens, in steps of what is bought."""
        one = self._blocked[trip]
        states, links = one.prepared.case.configurations.state, one.prepared.case.survey.pieces.link
        step = {p.row.rules: p.row.step for p in self.bought(mask) if p.row.step > 0}
        steps = {rule: least for rules, least in step.items() for rule in rules}
        gears: dict[tuple[int, int, int], float] = {}
        known: dict[frozenset[Cause], float | None] = {}
        for (piece, way, config), causes in one.cells.items():
            if causes not in known:
                short = (one.seen[c].short / steps[c.rule] for c in causes if c.rule in steps)
                known[causes] = max(short, default=0.0) if self.opens(mask, trip, causes) else None
            asked = known[causes]
            if asked is not None:
                key = (piece, way, int(states[config]))
                gears[key] = min(asked, gears.get(key, asked))
        out: dict[tuple[int, int], float] = {}
        for (piece, way, state), asked in gears.items():
            link = (2 * int(links[piece]) + way, state)
            out[link] = max(asked, out.get(link, 0.0))
        return out

    def corner_needs(self, trip: int) -> dict[tuple[int, int], Masks]:
        """Give, by (corner, state), the smallest sets that open a corner that is shut; others stay shut."""
        mine = dict.fromkeys(cause for number, cause in self._corners if number == trip)
        return {(cause.feature, cause.config): self._least(set(self._ways_out[trip, cause])) for cause in mine}

    def needs(self, trip: int) -> dict[tuple[int, int], Masks]:
        """Give, by (edge, state), the smallest sets that open the link; a link without an entry stays shut."""
        if self._twins[trip] not in self._needs:
            self._needs[self._twins[trip]] = self._needed(self._twins[trip])
        return self._needs[self._twins[trip]]

    def _needed(self, trip: int) -> dict[tuple[int, int], Masks]:
        blocked = self._blocked[trip]
        known: dict[frozenset[Cause], Masks] = {}
        by_piece: dict[tuple[int, int, int], set[frozenset[Cause]]] = {}
        states, links = blocked.prepared.case.configurations.state, blocked.prepared.case.survey.pieces.link
        for (piece, way, config), causes in blocked.cells.items():
            by_piece.setdefault((piece, way, int(states[config])), set()).add(causes)
        by_link: dict[tuple[int, int], set[frozenset[frozenset[Cause]]]] = {}
        for (piece, way, state), gears in by_piece.items():
            by_link.setdefault((2 * int(links[piece]) + way, state), set()).add(frozenset(gears))
        out: dict[tuple[int, int], Masks] = {}
        for key, pieces in by_link.items():
            masks: Masks = (0,)
            for choices in pieces:
                either = self._least({m for causes in choices for m in self._open(trip, causes, known)})
                masks = self._least({a | b for a in masks for b in either})
            if masks:
                out[key] = masks
        return out

    def _open(self, trip: int, causes: frozenset[Cause], known: dict[frozenset[Cause], Masks]) -> Masks:
        """Give the smallest sets that open all of some causes; a cell nobody can say anything of stays shut."""
        if causes not in known:
            masks: Masks = (0,) if causes else ()
            for cause in causes:
                masks = self._least({a | b for a in masks for b in self._ways_out.get((trip, cause), ())})
            known[causes] = masks
        return known[causes]

    def _least(self, masks: set[int]) -> Masks:
        """Leave out sets that hold another one, and the dearest beyond a number."""
        if len(masks) < 2:
            return tuple(masks)
        kept: list[int] = []
        for mask in sorted(masks, key=lambda m: (m.bit_count(), m)):
            if not any(other & mask == other for other in kept):
                kept.append(mask)
        return tuple(sorted(kept, key=lambda m: (self.price(m), m))[:MOST_CHOICES])


def price_of_set(prices: Sequence[int], mask: int) -> int:
    """Give the sum of the prices of the bits that are set."""
    total = 0
    while mask:
        least = mask & -mask
        total += prices[least.bit_length() - 1]
        mask ^= least
    return total


def bits_of(mask: int) -> tuple[int, ...]:
    """Give the numbers of the bits that are set.

    >>> bits_of(0b1010)
    (1, 3)
    """
    return tuple(number for number in range(mask.bit_length()) if mask >> number & 1)


def purchases_for(case: Case, cause: Cause, note: Seen) -> list[Purchase]:
    """Give what the rulebook offers against one cause; what it forbids there is left out."""
    site, out = case.survey.site, []
    for row in case.rulebook.remedies:
        if row.forbidden or cause.rule not in row.rules or (row.attitudes and case.body.attitude not in row.attitudes):
            continue
        if row.layer == "machine":
            purchase = Purchase(id=row.id, row=row, layer="machine", feature=case.machine.name, link=-1)
        elif row.layer == "roads" and cause.link >= 0:
            road = site.layers["roads"].ids[int(case.survey.network.link_road[cause.link])]
            purchase = Purchase(id=row.id, row=row, layer="roads", feature=road, link=cause.link)
        elif row.layer == cause.layer and cause.feature >= 0 and row.layer in LAYERS:
            layer = site.layers[row.layer]
            if row.kinds and layer.text("kind")[cause.feature] not in row.kinds:
                continue
            purchase = Purchase(id=row.id, row=row, layer=row.layer, feature=layer.ids[cause.feature], link=-1)
        else:
            continue
        if not forbidden_there(case, purchase, note.pieces):
            out.append(purchase)
    return out


def forbidden_there(case: Case, purchase: Purchase, pieces: set[int]) -> bool:
    """Tell whether a row of the rulebook takes a purchase away on some pieces."""
    for row in case.rulebook.remedies:
        if not row.forbidden or purchase.row.id not in row.forbids:
            continue
        if row.attitudes and case.body.attitude not in row.attitudes:
            continue
        if not row.near or _near(case, row, pieces):
            return True
    return False


def _near(case: Case, row: RemedyRow, pieces: set[int]) -> bool:
    """Tell whether an overhead of the row's kinds hangs over or beside some pieces."""
    reach_m = max(case.body.reach_m, 0.0)

    def under() -> frozenset[int]:
        pairs = case.survey.pairs("overheads", reach_m, row.within_m)
        kinds = case.survey.site.layers["overheads"].text("kind")[pairs.feature]
        return frozenset(pairs.piece[np.isin(kinds.astype(object), row.near)].tolist())

    return not case.survey.kept(("under overheads", row.near, reach_m, row.within_m), under).isdisjoint(pieces)


def _price(purchase: Purchase, note: Seen, case: Case) -> float:
    """Give the price but for its fixed part, as far as it can be told before the exact quantity is known."""
    row = purchase.row
    on_road = purchase.layer == "roads"
    length = float(case.survey.pieces.length_m[sorted(note.pieces)].sum()) if on_road else 0.0
    return price_of(row, note.short if row.step > 0 else 0.0, length if on_road else None)


def price_of(row: RemedyRow, change: float, length_m: float | None) -> float:
    """Give the price of a row but for its fixed part: by metre of road, and by unit changed (and metre of road)."""
    metres = 0.0 if length_m is None else length_m
    return row.price_per_m * metres + row.price_per_unit * change * (1.0 if length_m is None else metres)
