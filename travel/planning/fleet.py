"""One machine of a fleet: the places it gets to, and the least change found that gets it to the others."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from travel.planning.reach import PlaceReach
from travel.planning.remedies import Proofs, Question, openings, remedy_of
from travel.planning.remedy_stock import Stock, stock_of
from travel.planning.spans import Spans
from travel.planning.trips import Prepared

Tell = Callable[[str, float], None]

MOST_KEPT = 6
"""Proofs kept while one machine's places are gone through: many of them are opened by the same change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetPlace:
    """One place: what the best way there is like; where there is none, ``remedy`` opens one, proven by planning again.

    ``remedy`` None where there is a way, or where no change of site or machine was found; ``cost`` compares only.
    """

    reach: PlaceReach
    remedy: str | None
    cost: float | None


def places_of(
    spans: Spans, start: str, places: Sequence[str], remedies: bool, tell: Tell | None = None
) -> Iterator[FleetPlace]:
    """Give the places one machine gets to from a start, one after the other.

    What is on offer against all that is blocked is worked out once for the machine, where it has an hour once for
    each span that tells the clocks otherwise.

    Args:
        spans: the machine's case
        start: place the machine starts at, facing either way
        places: where it has to get to
        remedies: whether to look for what opens a way; takes most of the time
        tell: called with what is being done and the share of the places done
    """
    stocks: dict[Prepared, Stock] = {}
    proofs = Proofs(MOST_KEPT)
    for number, one in enumerate(spans.reached(start, places)):
        found, prepared = one.reach, one.prepared
        if found.length_m is not None or not remedies:
            yield FleetPlace(reach=found, remedy=None, cost=None)
            continue
        if tell:
            tell(f"remedy for {found.place}", number / len(places))
        if prepared not in stocks:
            stocks[prepared] = stock_of((prepared,))
        question = Question(
            out=prepared.case,
            back=None,
            from_place=start,
            to_place=found.place,
            accepted=spans.accepted_ids,
            proofs=proofs,
        )
        opened = next(openings(question, 1, stocks[prepared]), None)
        remedy = None if opened is None else remedy_of(opened, question, 1)
        yield FleetPlace(
            reach=found, remedy=None if remedy is None else remedy.text, cost=None if remedy is None else remedy.cost
        )
