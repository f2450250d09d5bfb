"""The operator's card as PDF."""

from __future__ import annotations

from travel.writers.card import Card
from travel.writers.paper import as_plain
from travel.writers.paper_pdf import measure, set_pdf

TEMPLATE = "card.typ"
SHEETS = 2
"""A card should be no longer; letters keep their size, the gaps between them give way. No step is ever left out."""
_TIGHTEST = 2


def card_pdf(card: Card) -> bytes:
    """Give the card on A4 sheets, black and white."""
    data = as_plain(card)
    tight = 0
    while tight < _TIGHTEST and measure(TEMPLATE, data | {"tight": tight}, "sheets")["count"] > SHEETS:
        tight += 1
    return set_pdf(TEMPLATE, data | {"tight": tight})
