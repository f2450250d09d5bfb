"""Two plans on one map: the ways of A and B side by side, numbered rings around what differs between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

import numpy as np

from travel.domain.plan import TravelPlan
from travel.domain.site import Site
from travel.writers.geo import Floats, TripPath, frame_of, trip_path
from travel.writers.map_page import way_box
from travel.writers.svg_map import ROW_PT, SITE_SIGNS, Sign, in_rows, legend_of, north_and_scale, view_of
from travel.writers.svg_map_site import DEFS, STYLE, View, line_path, site_drawing
from travel.writers.text import plain

_APART_PT = 3.2
_RING_PT = 9.0
_STYLE = """
.wayA { fill: none; stroke: #000; stroke-width: 2.2px; stroke-linejoin: round; }
.wayB { fill: none; stroke: #000; stroke-width: 2.2px; stroke-dasharray: 6 3; stroke-linejoin: round; }
.name { fill: #fff; stroke: #000; stroke-width: 0.9px; } .big { font-size: 9px; font-weight: 700; }
.ring { fill: none; stroke: #000; stroke-width: 1.6px; } .ringcase { fill: none; stroke: #fff; stroke-width: 4px; }
"""


def comparison_map(
    plans: Mapping[str, TravelPlan], site: Site, marks: Sequence[tuple[int, str, str]], size_pt: tuple[float, float]
) -> str:
    """Give the map as SVG.

    Args:
        plans: A and B by these names
        site: what they are drawn on
        marks: number, layer and feature of what differs
        size_pt: width and height
    """
    frame = frame_of(site)
    paths = {
        name: [path for trip in plan.trips if (path := trip_path(plan, trip.trip, frame)) is not None]
        for name, plan in plans.items()
    }
    boxes = [way_box(plan, site, frame, paths[name]) for name, plan in plans.items()]
    there = [mark for mark in marks if (rows := site.layers.get(mark[1])) is not None and mark[2] in rows.ids]
    legend = in_rows(_signs(bool(there)), size_pt[0] - 4.0)
    legend_pt = 4.0 + ROW_PT * (len(legend) + 1)
    view, scale = view_of(_around(boxes), *size_pt, legend_pt)
    under, over = site_drawing(site, view, {leg.road for plan in plans.values() for leg in plan.legs})
    rings = _rings(site, there, view)
    ways, names = [], []
    for number, (name, own) in enumerate(paths.items()):
        for path in own:
            drawn, said = _way(path, name, view, number)
            ways.append(drawn)
            names.append(said)
    left, top, right, foot = view.box
    area = f'x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{foot - top:.1f}"'
    body = [
        f'<defs>{DEFS}<clipPath id="area"><rect {area}/></clipPath></defs><style>{STYLE}{_STYLE}</style>',
        f'<g clip-path="url(#area)">{"".join([*under, *over, *ways, *rings, *names])}</g>',
        f'<rect class="frame" {area}/>',
        *north_and_scale(view, scale, legend_pt),
        *legend_of(view, legend),
    ]
    width, height = size_pt
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.1f} {height:.1f}" '
        f'width="{width:.1f}pt" height="{height:.1f}pt">{"".join(body)}</svg>'
    )


def _around(boxes: Sequence[Floats]) -> Floats:
    every = np.vstack(boxes)
    low, high = every.min(axis=0), every.max(axis=0)
    return np.array([[low[0], low[1]], [low[0], high[1]], [high[0], low[1]], [high[0], high[1]]])


def _way(path: TripPath, name: str, view: View, number: int) -> tuple[str, str]:
    """Give one trip's line, and its letter on it; A right of the way out, B left of it."""
    side = 1 if number == 0 else -1
    back = path.trip in ("back", "leave")
    offset_pt = side * (_APART_PT if not back else -_APART_PT)
    points = view.to_pt(path.beside(offset_pt / 2 / view.pt_per_m).xy)
    d = line_path(points)
    at = float(path.driven_m[-1]) * (0.3 + 0.2 * number + (0.1 if back else 0.0))
    x, y = view.to_pt(path.at(np.array([at])))[0]
    letter = (
        f'<g transform="translate({x:.1f} {y:.1f})"><circle class="name" r="6.5"/>'
        f'<text class="big" text-anchor="middle" y="3.2">{escape(name)}</text></g>'
    )
    return f'<path class="casing" d="{d}"/><path class="way{name}" data-trip="{path.trip}" d="{d}"/>', letter


def _rings(site: Site, marks: Sequence[tuple[int, str, str]], view: View) -> list[str]:
    """Give a numbered ring around each feature that differs."""
    out = []
    for number, layer, feature in marks:
        rows = site.layers[layer]
        point = rows.geometry[rows.index(feature)].representative_point()
        x, y = view.to_pt(np.array([[point.x, point.y]]))[0]
        out.append(
            f'<g transform="translate({x:.1f} {y:.1f})"><title>{escape(plain(feature))}</title>'
            f'<circle class="ringcase" r="{_RING_PT}"/><circle class="ring" r="{_RING_PT}"/>'
            f'<rect x="6" y="-18" width="14" height="12" class="name"/>'
            f'<text class="big" x="13" y="-8.5" text-anchor="middle">{number}</text></g>'
        )
    return out


def _signs(rings: bool) -> list[Sign]:
    """Give what the lines and marks of the comparison mean, then those of the site."""
    signs: list[Sign] = [(f'<path class="way{name}" d="M0 0h28"/>', 28.0, f"way of {name}") for name in "AB"]
    if rings:
        signs.append(('<circle class="ring" cx="6" cy="0" r="5"/>', 12.0, "what differs, by its number in the list"))
    return [*signs, *SITE_SIGNS]
