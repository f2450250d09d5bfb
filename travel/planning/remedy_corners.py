"""What opens a corner that is shut: ground made free round a place, a bend widened, what stands there taken away.

A corner's cause is the corner in one state. Which value is needed is found by judging the corner itself with the
change laid on, as for everything else.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from travel.checks import Case, Turns, check_turns
from travel.domain.layers import LAYERS
from travel.domain.plan import RemedyPart
from travel.domain.rules import RemedyRow
from travel.domain.verdict import Verdict
from travel.planning.remedy_causes import Cause, CornerOffer, Purchase, forbidden_there
from travel.planning.remedy_least import least_change, round_safely
from travel.planning.remedy_machine import machine_value
from travel.planning.remedy_quantity import Parts, changed_case, far_value, key_of
from travel.planning.trips import Prepared

CORNER = "corner"
RULE = "turn"
BESIDE_BEND_M = 12.0
"""How far before and after a bend a road is widened; common practice, no source."""
MOST_AWAY = 4
"""More things than this standing in one corner are not offered to be taken away."""

MOST_KEPT = 6
"""Changes on which corners are kept to be judged further."""

At = tuple[int, int]


@dataclass(frozen=True, eq=False, kw_only=True)
class CornersDriven:
    """The corners (row, state) of one trip's way; ``case`` with the changes ``before`` laid on."""

    case: Case
    turns: Turns
    at: tuple[At, ...]
    before: Parts = ()


def corner_cause(row: int, state: int) -> Cause:
    """Give the cause of a corner that is shut in a state."""
    return Cause(rule=RULE, layer=CORNER, feature=row, link=-1, way=0, config=state)


def corner_offers(trips: tuple[Prepared, ...], done: set[tuple[int, int, int]], judged: Judged) -> list[CornerOffer]:
    """Give what the rulebook offers against corners that are shut, as far as it opens them taken as far as it goes.

    Args:
        trips: the trips; corners that were looked at count
        done: (trip, corner, state) whose offers were given before; those given now are added
        judged: corners of these trips that were judged
    """
    out: list[CornerOffer] = []
    for trip, one in enumerate(trips):
        shut = np.argwhere((one.turns.worst == Verdict.BLOCKED) & one.turns.judged).tolist()
        new = tuple((row, state) for row, state in shut if (trip, row, state) not in done)
        done |= {(trip, *at) for at in new}
        grouped = _grouped(one, new)
        opened = _opened_far(one, grouped, judged)
        out += [
            (trip, purchases, corner_cause(*where))
            for purchases, at in grouped.items()
            for where in at
            if (purchases[0].row.id, where) in opened
        ]
    return out


def _grouped(one: Prepared, at: tuple[At, ...]) -> dict[tuple[Purchase, ...], list[At]]:
    """Give, by what would be bought together, the corners it is offered against."""
    out: dict[tuple[Purchase, ...], list[At]] = {}
    rows = [row for row in one.case.rulebook.remedies if RULE in row.rules and not row.forbidden]
    for corner, state in at:
        for row in rows:
            for purchases in _offered(one, row, corner, state):
                if not any(forbidden_there(one.case, p, _pieces_near(one, corner)) for p in purchases):
                    out.setdefault(purchases, []).append((corner, state))
    return out


def _offered(one: Prepared, row: RemedyRow, corner: int, state: int) -> Iterator[tuple[Purchase, ...]]:
    """Give what one row of the rulebook comes to at a corner."""
    case, corners = one.case, one.turns.corners
    if row.attitudes and case.body.attitude not in row.attitudes:
        return
    site, network = case.survey.site, case.survey.network
    if row.layer == "machine":
        yield (Purchase(id=row.id, row=row, layer="machine", feature=case.machine.name, link=-1),)
    elif row.layer == "places":
        for place in network.node_places.get(int(corners.node[corner]), ())[:1]:
            if row.sense == "set" and _old(case, place, row.fields[0]) in row.values:
                continue
            yield (Purchase(id=row.id, row=row, layer="places", feature=place, link=-1),)
    elif row.layer == "roads" and corners.bends[corner]:
        link = min(int(edge[corner]) >> 1 for edge in (corners.edge_in, corners.edge_out))
        road = site.layers["roads"].ids[int(network.link_road[link])]
        yield (Purchase(id=row.id, row=row, layer="roads", feature=road, link=link),)
    elif row.layer in ("obstacles", "edges"):
        there = _standing_in(one, row.layer, corner, state)
        if 0 < len(there) <= MOST_AWAY:
            yield tuple(Purchase(id=row.id, row=row, layer=row.layer, feature=name, link=-1) for name in there)


def _standing_in(one: Prepared, layer: str, corner: int, state: int) -> tuple[str, ...]:
    """Give the features of a layer in what is swept there, the tolerance of the survey about it."""
    area = one.turns.area(corner, state)
    features = one.case.survey.fabric.features.get(layer)
    if area is None or features is None:
        return ()
    near = one.case.scalar("turn.margin") + one.case.survey.tolerance.plan_m
    hit = np.flatnonzero(shapely.distance(features.plan, area) <= near + features.spread_m)
    ids = one.case.survey.site.layers[layer].ids
    return tuple(ids[int(number)] for number in hit)


def _pieces_near(one: Prepared, corner: int) -> set[int]:
    """Give the pieces of both roads that touch a corner."""
    corners, network = one.turns.corners, one.case.survey.network
    out: set[int] = set()
    for edge in (int(corners.edge_in[corner]), int(corners.edge_out[corner])):
        link = edge >> 1
        out |= {int(network.link_piece_start[link]), int(network.link_piece_stop[link]) - 1}
    return out


def _opened_far(one: Prepared, grouped: dict[tuple[Purchase, ...], list[At]], judged: Judged) -> set[tuple[str, At]]:
    """Give, by row of the rulebook, the corners it opens taken as far as it goes everywhere it is offered.

    What is taken away is proven by the plan alone.
    """
    out: set[tuple[str, At]] = set()
    for row in dict.fromkeys(purchases[0].row.id for purchases in grouped):
        mine = {p: at for p, at in grouped.items() if p[0].row.id == row}
        every = tuple(dict.fromkeys(where for at in mine.values() for where in at))
        if next(iter(mine))[0].row.sense == "remove":
            out |= {(row, where) for where in every}
            continue
        parts: list[RemedyPart] = []
        for purchases, at in mine.items():
            driven = CornersDriven(case=one.case, turns=one.turns, at=tuple(at))
            parts += _far(purchases[0], driven)
        driven = CornersDriven(case=one.case, turns=one.turns, at=every)
        found = judged.verdicts(driven, tuple(dict.fromkeys(parts))) if parts else []
        out |= {(row, where) for where, verdict in zip(every, found, strict=False) if verdict < Verdict.BLOCKED}
    return out


class Judged:
    """Corners judged with changes laid on, each once: many sets are asked about the same corners."""

    def __init__(self) -> None:
        self._verdicts: dict[tuple[object, ...], dict[At, int]] = {}
        self._turns: dict[tuple[object, ...], Turns] = {}

    def verdicts(self, driven: CornersDriven, parts: Parts) -> list[int]:
        """Give the verdicts of corners; they keep their rows, as their geometry stays."""
        key = (driven.turns, key_of(driven.before), key_of(parts))
        known = self._verdicts.setdefault(key, {})
        left = [at for at in driven.at if at not in known]
        if left:
            turns = self._turns_of(key, driven, parts)
            by_rows: dict[tuple[int, ...], list[int]] = {}
            for state in {state for _, state in left}:
                by_rows.setdefault(tuple(sorted({row for row, at in left if at == state})), []).append(state)
            for rows, states in by_rows.items():
                turns.judge(np.array(rows), np.array(sorted(states)))
            known.update((at, int(turns.worst[at])) for at in left)
        return [known[at] for at in driven.at]

    def _turns_of(self, key: tuple[object, ...], driven: CornersDriven, parts: Parts) -> Turns:
        turns = self._turns.pop(key, None) or check_turns(changed_case(driven.case, parts), driven.turns.accepted)
        self._turns[key] = turns
        if len(self._turns) > MOST_KEPT:
            del self._turns[next(iter(self._turns))]
        return turns


def _far(purchase: Purchase, driven: CornersDriven) -> Parts:
    """Give a purchase taken as far as it goes; nothing where that is not known."""
    targets = _targets(purchase, driven)
    if purchase.row.sense == "set":
        return _valued(targets, purchase.row.values[0])
    return tuple(replace(one, value=far_value(purchase, one.field, float(one.old or 0.0))) for one in targets)


def _valued(targets: Parts, value: float | bool | str) -> Parts:
    return tuple(replace(target, value=value) for target in targets)


def _targets(purchase: Purchase, driven: CornersDriven) -> Parts:
    """Give where a value is laid and what it is now, nothing where that is not known; ``value`` is still to be
    found."""
    case, field = driven.case, purchase.row.fields[0]
    part = RemedyPart(layer=purchase.layer, feature=purchase.feature, field=field, old=None, value=None)
    if purchase.layer == "machine":
        return (replace(part, old=machine_value(case.body, field)),)
    if purchase.layer == "places":
        return (replace(part, old=_old(case, purchase.feature, field)),)
    return _along(part, purchase, driven)


def _old(case: Case, place: str, field: str) -> float | bool | None:
    """Give what a place's field is now."""
    places = case.survey.site.layers["places"]
    old = float(places.number(field)[places.index(place)])
    if np.isnan(old):
        return None
    spec = LAYERS["places"].field(field)
    return bool(old) if spec is not None and spec.kind == "flag" else old


def _along(part: RemedyPart, purchase: Purchase, driven: CornersDriven) -> Parts:
    """Give the stretches of road round the bends of a link, by whole pieces, and the least width on each."""
    case, near = driven.case, _near_bends(purchase.link, driven)
    pieces, network = case.survey.pieces, case.survey.network
    out: list[RemedyPart] = []
    for link, (low, high) in sorted(near.items()):
        first, stop = int(network.link_piece_start[link]), int(network.link_piece_stop[link])
        hit = np.arange(first, stop)[(pieces.to_m[first:stop] > low) & (pieces.from_m[first:stop] < high)]
        width = case.survey.number(part.field)[hit]
        if not len(hit) or np.isnan(width).any():
            return ()
        road = case.survey.site.layers["roads"].ids[int(network.link_road[link])]
        low, high = float(pieces.from_m[hit].min()), float(pieces.to_m[hit].max())
        out.append(replace(part, feature=road, old=float(width.min()), from_m=low, to_m=high))
    return tuple(out)


def _near_bends(link: int, driven: CornersDriven) -> dict[int, tuple[float, float]]:
    """Give, by link, the chainages round the bends bought with one link: those on it, and where it joins another."""
    corners, network = driven.turns.corners, driven.case.survey.network
    out: dict[int, tuple[float, float]] = {}
    for row, _ in driven.at:
        edges = int(corners.edge_in[row]), int(corners.edge_out[row])
        if not corners.bends[row] or min(edge >> 1 for edge in edges) != link:
            continue
        for edge, last in zip(edges, (True, False), strict=True):
            ends = network.link_to_m[edge >> 1], network.link_from_m[edge >> 1]
            middle = corners.at_m[row] if not np.isnan(corners.at_m[row]) else ends[int(last == bool(edge & 1))]
            half = float(corners.half_m[row]) + BESIDE_BEND_M
            low, high = out.get(edge >> 1, (np.inf, -np.inf))
            out[edge >> 1] = min(low, float(middle) - half), max(high, float(middle) + half)
    return out


def corner_part(
    purchase: Purchase, trips: tuple[CornersDriven, ...], before: Parts, judged: Judged | None = None
) -> Parts | None:
    """Give the least change by which a purchase opens the corners it is to open, or None where it cannot.

    Args:
        purchase: what is bought; not something to take away
        trips: by trip, the corners of the way that it is to open
        before: changes already decided, laid on first
        judged: corners of these trips that were judged
    """
    known = judged or Judged()
    driven = tuple(replace(one, case=changed_case(one.case, before), before=before) for one in trips if one.at)
    shut = tuple(one for one in driven if max(known.verdicts(one, ())) == Verdict.BLOCKED)
    if not shut:
        return ()
    targets, far = _targets(purchase, shut[0]), _far(purchase, shut[0])
    if not far:
        return None
    best = [known.verdicts(one, far) for one in shut]
    if any(verdict == Verdict.BLOCKED for found in best for verdict in found):
        return None
    if purchase.row.sense == "set":
        return far
    wanted = [[max(verdict, int(Verdict.CAUTION)) for verdict in found] for found in best]
    worse: list[tuple[CornersDriven, int]] = []

    def spare(value: float) -> float:
        """A corner's answer may leap, so no number tells how much; the one that was shut last is asked first."""
        parts = _changed(purchase, targets, value)
        if any(known.verdicts(one, parts)[0] > most for one, most in worse):
            return -np.inf
        for one, asked in zip(shut, wanted, strict=True):
            for at, verdict, most in zip(one.at, known.verdicts(one, parts), asked, strict=True):
                if verdict > most:
                    worse[:] = [(replace(one, at=(at,)), most)]
                    return -np.inf
        return np.inf

    old = [float(target.old or 0.0) for target in targets]
    most = [float(part.value or 0.0) for part in far]
    up = purchase.row.sense == "raise"
    exact = least_change(spare, min(old) if up else max(old), min(most) if up else max(most))
    rounded = round_safely(exact, purchase.row.step, up=up)
    value = rounded if spare(rounded) >= 0.0 else exact
    return tuple(replace(part, exact=exact) for part in _changed(purchase, targets, value))


def _changed(purchase: Purchase, targets: Parts, value: float) -> Parts:
    """Give those of some targets a value changes to the better."""
    up = purchase.row.sense == "raise"
    return _valued(tuple(one for one in targets if (float(one.old or 0.0) < value) == up), value)
