"""The document as PDF: set once to find the room the first page leaves for the map, then with the map drawn to it."""

from __future__ import annotations

from collections.abc import Callable

from travel.writers.paper import Document, as_plain
from travel.writers.paper_pdf import measure, set_pdf

TEMPLATE = "document.typ"
LEAST_MAP_PT = 150.0


def document_pdf(document: Document, draw_map: Callable[[float, float], str]) -> bytes:
    """Give the PDF.

    Args:
        document: what it holds
        draw_map: gives the map of the first page for a width and height in points
    """
    data = as_plain(document)
    room = measure(TEMPLATE, data | {"map_svg": ""}, "map-room")
    drawn = draw_map(room["width"], max(room["height"], LEAST_MAP_PT))
    return set_pdf(TEMPLATE, data | {"map_svg": drawn})
