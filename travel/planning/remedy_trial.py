"""Which of the rulebook's remedies can open what they are offered against, each taken as far as it goes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from travel.checks import answers_for
from travel.domain.plan import RemedyPart
from travel.domain.rules import RemedyRow
from travel.planning.remedy_causes import Blocked, Cause, Offer, Purchase, causes_of, twins
from travel.planning.remedy_machine import machine_value
from travel.planning.remedy_quantity import Parts, changed_case, far_value


def working(offers: list[Offer], blocked: tuple[Blocked, ...]) -> list[Offer]:
    """Leave out offers that open nothing even where they are taken as far as they go.

    All offers of one row of the rulebook are tried at once; a set value may be any of the row's.
    """
    by_row: dict[str, list[Offer]] = {}
    for offer in offers:
        by_row.setdefault(offer[1].row.id, []).append(offer)
    out = []
    for some in by_row.values():
        row = some[0][1].row
        if row.sense == "remove":
            out += some
            continue
        left = {(trip, cause) for trip, _, cause in some}
        for value in row.values or (None,):
            left &= _still_shut(row, value, some, blocked)
        out += [offer for offer in some if (offer[0], offer[2]) not in left]
    return out


def _still_shut(
    row: RemedyRow, value: Any, offers: list[Offer], blocked: tuple[Blocked, ...]
) -> set[tuple[int, Cause]]:
    """Give the causes (by trip) that still bar with a row's changes laid on everywhere they are offered."""
    out: set[tuple[int, Cause]] = set()
    for trip, (one, twin) in enumerate(zip(blocked, twins(blocked), strict=True)):
        if twin != trip:
            out |= {(trip, cause) for number, cause in out if number == twin}
            continue
        mine = {cause for number, _, cause in offers if number == trip}
        if not mine:
            continue
        purchases = dict.fromkeys(purchase for number, purchase, _ in offers if number == trip)
        parts = tuple(part for purchase in purchases for part in _far(purchase, value, one))
        out |= {(trip, cause) for cause in _shut(row, parts, mine, one)}
    return out


def _far(purchase: Purchase, value: Any, one: Blocked) -> Iterator[RemedyPart]:
    """Give a purchase's changes as far as they go: on a road over its whole link."""
    case = one.prepared.case
    from_m, to_m = None, None
    if purchase.link >= 0:
        network = case.survey.network
        from_m, to_m = float(network.link_from_m[purchase.link]), float(network.link_to_m[purchase.link])
    for field in purchase.row.fields:
        far = value
        if value is None:
            old = machine_value(case.body, field) if purchase.layer == "machine" else 0.0
            far = far_value(purchase, field, old)
        yield _part(purchase, field, far, from_m, to_m)
    for field, also in purchase.row.also.items():
        yield _part(purchase, field, also, from_m, to_m)


def _part(purchase: Purchase, field: str, value: Any, from_m: float | None, to_m: float | None) -> RemedyPart:
    return RemedyPart(
        layer=purchase.layer,
        feature=purchase.feature,
        field=field,
        old=None,
        value=value,
        from_m=from_m,
        to_m=to_m,
    )


def _shut(row: RemedyRow, parts: Parts, causes: set[Cause], one: Blocked) -> set[Cause]:
    """Give which causes are still blocked on some of their cells with the parts laid on."""
    case = changed_case(one.prepared.case, parts)
    cells = [cell for cell, found in one.cells.items() if not found.isdisjoint(causes)]
    if not cells:
        return set()
    piece, way, config = np.array(cells, dtype=np.int64).T
    link = np.asarray(case.survey.pieces.link)[piece]
    out: set[Cause] = set()
    for answer in answers_for(case, piece, 1 - 2 * way, config, frozenset(row.rules)):
        out.update(causes_of(answer, link, way, config)[0])
    return out & causes
