"""The document as one HTML file: no script, nothing from outside; drawings stand in it as pictures."""

from __future__ import annotations

import base64
from importlib.resources import files
from typing import Any

from travel.writers.map_page import kept_together
from travel.writers.paper import Document


def document_html(document: Document, map_svg: str) -> str:
    """Give the page.

    Args:
        document: what it holds
        map_svg: the map of the first page
    """
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(_asset),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=kept_together,
    )
    environment.globals.update(picture=_picture)
    template = environment.get_template("document.html.j2")
    return template.render(document=document, front=document.front, map_svg=map_svg, css=_asset("document.css"))


def _picture(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode("utf-8")).decode("ascii")


def _asset(name: str) -> Any:
    return (files("travel.writers") / "assets" / name).read_text("utf-8")
