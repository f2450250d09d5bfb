"""The site as drawn on paper: roads to their width, and what can stop a machine, told apart by pattern."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from travel.domain.site import Layer, Site
from travel.writers.geo import Floats

PT_PER_M = 72.0 / 0.0254
"""Points of paper per metre of paper."""
MOST_ROADS = 4000
"""Above this many roads in view, those beside the way are drawn as lines."""
_UNDER = ("areas", "people", "closures")
_OVER = ("obstacles", "edges", "overheads", "limits")
_PAVED = ("concrete", "asphalt", "steel_plate", "timber_mat")

STYLE = """
text { font-family: Roboto, "DejaVu Sans", Verdana, Arial, sans-serif; fill: #000; }
.t { font-size: 7px; } .halo { paint-order: stroke; stroke: #fff; stroke-width: 2.4px; stroke-linejoin: round; }
.road { fill: #ececec; stroke: #8a8a8a; stroke-width: 0.4px; } .unpaved { fill: #f6f6f6; stroke-dasharray: 2.5 1; }
.on { fill: #dcdcdc; stroke: #4a4a4a; stroke-width: 0.5px; } .line { fill: none; stroke: #9a9a9a; stroke-width: 0.8px; }
.areas { fill: none; stroke: #555; stroke-width: 0.7px; stroke-dasharray: 4 2; }
.people { fill: url(#people); stroke: #000; stroke-width: 0.8px; stroke-dasharray: 1.5 1.5; }
.closures { fill: url(#closed); stroke: #000; stroke-width: 0.9px; }
.obstacles { fill: #9a9a9a; stroke: #000; stroke-width: 0.6px; }
.edges { fill: none; stroke: #000; stroke-width: 1.6px; stroke-dasharray: 7 1.6 1.6 1.6; }
.overheads { fill: none; stroke: #000; stroke-width: 1.2px; stroke-dasharray: 9 2.5 1 2.5 1 2.5; }
.limits { fill: #fff; stroke: #000; stroke-width: 1.1px; }
.casing { fill: none; stroke: #fff; stroke-width: 6px; stroke-linejoin: round; }
.v { fill: none; stroke: #000; stroke-linejoin: round; }
.v-clear { stroke-width: 1.6px; } .v-caution { stroke-width: 3px; stroke-dasharray: 8 3.5; }
.v-unknown { stroke-width: 3.2px; stroke-dasharray: 0.1 5.2; stroke-linecap: round; } .v-blocked { stroke-width: 1px; }
.cross { fill: none; stroke: #000; stroke-width: 1.6px; }
.a-out { fill: #000; stroke: #fff; stroke-width: 0.5px; } .a-back { fill: #fff; stroke: #000; stroke-width: 0.9px; }
.stem { stroke: #000; stroke-width: 0.6px; } .dot { fill: #fff; stroke: #000; stroke-width: 1.1px; }
.frame { fill: none; stroke: #000; stroke-width: 0.8px; }
.label { fill: #fff; stroke: #555; stroke-width: 0.4px; } .hazard { stroke-dasharray: 2 1.4; }
.m-blocked { fill: #000; stroke: #fff; stroke-width: 1px; } .t-blocked { fill: #fff; }
.m-unknown { fill: #fff; stroke: #000; stroke-width: 2.6px; stroke-dasharray: 3.4 2; } .t-unknown { fill: #000; }
.m-caution { fill: #fff; stroke: #000; stroke-width: 2.6px; } .t-caution { fill: #000; }
.m-clear { fill: #fff; stroke: #000; stroke-width: 2px; } .m-stop { fill: #fff; stroke: #000; stroke-width: 2.6px; }
.t-stop { fill: #000; } .mark text { font-weight: 700; }
"""
DEFS = (
    '<pattern id="people" width="4" height="4" patternUnits="userSpaceOnUse"><circle cx="2" cy="2" r="0.7"/></pattern>'
    '<pattern id="closed" width="5" height="5" patternUnits="userSpaceOnUse">'
    '<path d="M0 0l5 5M5 0L0 5" stroke="#000" stroke-width="0.6" fill="none"/></pattern>'
)


@dataclass(frozen=True, eq=False, kw_only=True)
class View:
    """From the site's metres to points of paper; ``box`` is what is drawn: left, top, right, bottom [pt]."""

    west_m: float
    north_m: float
    pt_per_m: float
    box: tuple[float, float, float, float]

    def to_pt(self, xy: Floats) -> Floats:
        """Give positions on paper."""
        x = self.box[0] + (xy[:, 0] - self.west_m) * self.pt_per_m
        y = self.box[1] + (self.north_m - xy[:, 1]) * self.pt_per_m
        return np.column_stack([x, y])

    @property
    def corners_m(self) -> tuple[float, float, float, float]:
        """West, south, east, north of what is drawn [m]."""
        width, height = self.box[2] - self.box[0], self.box[3] - self.box[1]
        east, south = self.west_m + width / self.pt_per_m, self.north_m - height / self.pt_per_m
        return (self.west_m, south, east, self.north_m)


def site_drawing(site: Site, view: View, way_roads: set[str]) -> tuple[list[str], list[str]]:
    """Give what is drawn under the way and over it."""
    under = [shape for key in _UNDER for shape in _layer(site.layers.get(key), view)]
    under += _roads(site.layers.get("roads"), view, way_roads)
    over = [shape for key in _OVER for shape in _layer(site.layers.get(key), view)]
    return under, over


def line_path(xy: Floats) -> str:
    """Give points of paper as the path of a line."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in xy)


def _layer(layer: Layer | None, view: View) -> list[str]:
    if layer is None:
        return []
    return [f'<path class="{layer.name}" d="{d}"/>' for row in _in_view(layer, view) if (d := _path(layer, row, view))]


def _in_view(layer: Layer, view: View) -> list[int]:
    import shapely

    if not len(layer):
        return []
    west, south, east, north = view.corners_m
    bounds = shapely.bounds(layer.geometry)
    inside = (bounds[:, 2] >= west) & (bounds[:, 0] <= east) & (bounds[:, 3] >= south) & (bounds[:, 1] <= north)
    return [int(row) for row in np.flatnonzero(inside)]


def _path(layer: Layer, row: int, view: View) -> str:
    """Give a feature's outline; a point becomes a small square (a limit) or disc."""
    import shapely

    shape = shapely.force_2d(layer.geometry[row])
    if shape.geom_type in ("Point", "MultiPoint"):
        size = 3.2 / view.pt_per_m
        shape = shapely.box(*(shape.bounds[0] - size, shape.bounds[1] - size, shape.bounds[2] + size,
                              shape.bounds[3] + size)) if layer.name == "limits" else shape.buffer(size)  # fmt: skip
    return shape_path(shape, view)


def shape_path(shape: Any, view: View) -> str:
    """Give any geometry as a path, thinned to what paper shows and cut to the drawing."""
    import shapely

    west, south, east, north = view.corners_m
    room = 20.0 / view.pt_per_m
    cut = shapely.intersection(shape, shapely.box(west - room, south - room, east + room, north + room))
    thin = shapely.simplify(cut, 0.25 / view.pt_per_m, preserve_topology=False)
    parts = []
    for piece in shapely.get_parts(np.array([thin], dtype=object)):
        if piece.is_empty:
            continue
        rings = [piece.exterior, *piece.interiors] if piece.geom_type == "Polygon" else [piece]
        close = "z" if piece.geom_type == "Polygon" else ""
        if piece.geom_type in ("Polygon", "LineString", "LinearRing"):
            parts += [line_path(view.to_pt(np.asarray(ring.coords)[:, :2])) + close for ring in rings]
    return "".join(parts)


def _roads(layer: Layer | None, view: View, way_roads: set[str]) -> list[str]:
    import shapely

    if layer is None:
        return []
    rows = _in_view(layer, view)
    width, surface = layer.number("width_m"), layer.text("surface")
    first: list[str] = []
    last: list[str] = []
    if len(rows) > MOST_ROADS:
        rest = [layer.geometry[row] for row in rows if layer.ids[row] not in way_roads]
        first.append(f'<path class="line" d="{shape_path(shapely.force_2d(shapely.multilinestrings(rest)), view)}"/>')
        rows = [row for row in rows if layer.ids[row] in way_roads]
    for row in rows:
        on_way = layer.ids[row] in way_roads
        shape = shapely.force_2d(layer.geometry[row])
        kind = "line"
        if not np.isnan(width[row]):
            shape = shapely.buffer(shape, width[row] / 2, quad_segs=3, cap_style="flat")
            kind = "road" + ("" if surface[row] in _PAVED else " unpaved") + (" on" if on_way else "")
        d = shape_path(shape, view)
        if d:
            (last if on_way else first).append(f'<path class="{kind}" d="{d}"/>')
    return first + last
