"""Two plans side by side on one page that opens without a network: a map, and what differs in words."""

from __future__ import annotations

import base64

from travel.domain.changes import Comparison
from travel.domain.plan import TravelPlan
from travel.domain.site import Site
from travel.writers.changes_text import comparison_sections, numbered_changes, title_line
from travel.writers.map_page import asset, page_environment
from travel.writers.svg_compare import comparison_map

MAP_PT = (720.0, 520.0)


def comparison_page(old: TravelPlan, new: TravelPlan, compared: Comparison, site: Site) -> str:
    """Give the page; the site is what both ways are drawn on."""
    marks = [(n, c.layer, c.feature) for n, c in enumerate(numbered_changes(compared), 1)]
    svg = comparison_map({"A": old, "B": new}, site, marks, MAP_PT)
    environment = page_environment()
    template = environment.get_template("compare.html.j2")
    page: str = template.render(
        titles=(("A", title_line(old)), ("B", title_line(new))),
        same_way=compared.same_way,
        sections=comparison_sections(old, new, compared),
        picture="data:image/svg+xml;base64," + base64.b64encode(svg.encode("utf-8")).decode("ascii"),
        css=asset("document.css"),
    )
    return page
