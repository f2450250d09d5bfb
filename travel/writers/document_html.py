"""The document as one HTML file: no script, nothing from outside; drawings stand in it as pictures."""

from __future__ import annotations

import base64

from travel.writers.map_page import asset, page_environment
from travel.writers.paper import Document


def document_html(document: Document, map_svg: str) -> str:
    """Give the page.

    Args:
        document: what it holds
        map_svg: the map of the first page
    """
    environment = page_environment()
    environment.globals.update(picture=_picture)
    template = environment.get_template("document.html.j2")
    page: str = template.render(document=document, front=document.front, map_svg=map_svg, css=asset("document.css"))
    return page


def _picture(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode("utf-8")).decode("ascii")
