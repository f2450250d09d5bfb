"""Ground where a machine may go on or off a trailer: places and areas of use unloading, and what is known of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.domain.site import Layer, Site
from travel.survey import Survey
from travel.units import pct_to_ratio

Floats = NDArray[np.float64]

CIRCLE_SEGMENTS = 32
"""Points of a quarter circle when free ground is given by its radius (the drawn circle lies inside the true one)."""
JUST = 1e-9
"""Share of a slope below which it is the rounding of a quarter turn."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Taken:
    """A feature that takes ground, with what it takes; not ``sure``: at most that much, how much is not known."""

    layer: str
    feature: str
    shape: Any
    sure: bool = True


@dataclass(frozen=True, eq=False, kw_only=True)
class Ground:
    """One candidate. ``place`` None: an area without a place of the roads in it. Missing numbers are NaN.

    ``shape``: free ground, None = not known. ``slope_ratio`` rises along ``heading_rad`` (anticlockwise from east),
    ``cross_ratio`` falls to its right; ``told`` names what was only told or assumed, ``taken`` what the free ground
    was cut by.
    """

    name: str
    place: str | None
    area: str | None
    xy: tuple[float, float]
    shape: Any
    surface: str | None
    bearing_pa: float
    slope_ratio: float
    cross_ratio: float
    heading_rad: float
    turn_radius_m: float
    told: tuple[str, ...] = ()
    taken: tuple[Taken, ...] = ()

    def slopes_at(self, heading_rad: float | None) -> tuple[tuple[float, float], ...]:
        """Give slope along (+ rises ahead) and across (+ falls to the right) for a rig that heads somewhere.

        Where the ground's own heading or the rig's is not known: the whole slope along, up and down, and across.
        """
        g, c = self.slope_ratio, self.cross_ratio
        if heading_rad is None or math.isnan(self.heading_rad):
            steep = math.hypot(g, c)
            return ((steep, steep), (-steep, steep)) if steep > 0.0 else ((steep, steep),)
        cos, sin = self._turned(heading_rad)
        return ((_sum(g, cos, c, sin), _sum(c, cos, g, -sin)),)

    def slopes_told(self, heading_rad: float | None) -> tuple[bool, bool]:
        """Tell whether slope along and slope across for that rig rest on what was only told or assumed."""
        g, c = (f"{name} told" in self.told for name in ("slope_pct", "cross_slope_pct"))
        if heading_rad is None or math.isnan(self.heading_rad):
            return g or c, g or c
        cos, sin = (part != 0.0 for part in self._turned(heading_rad))
        return (g and cos) or (c and sin), (c and cos) or (g and sin)

    def _turned(self, heading_rad: float) -> tuple[float, float]:
        """Give cosine and sine of a rig's turn from the ground's heading; 0 where it stands just along or across."""
        turn = heading_rad - self.heading_rad
        cos, sin = (0.0 if abs(part) < JUST else part for part in (math.cos(turn), math.sin(turn)))
        return cos, sin


def _sum(a: float, share_a: float, b: float, share_b: float) -> float:
    """Give two slopes' shares added; one that is not known does not count where it has no share."""
    return (a * share_a if share_a else 0.0) + (b * share_b if share_b else 0.0)


def grounds_of(survey: Survey) -> tuple[Ground, ...]:
    """Give every candidate: places of kind unloading, then unloading areas that hold none of them."""
    site = survey.site
    places, areas = site.layers["places"], site.layers["areas"]
    uses = np.flatnonzero(areas.text("use") == "unloading") if len(areas) else np.empty(0, dtype=np.int64)
    out, taken = [], set()
    for row in np.flatnonzero(places.text("kind") == "unloading"):
        point = places.geometry[row]
        own = next((int(a) for a in uses if areas.geometry[a].covers(point)), None)
        taken |= {own}
        out.append(_ground(survey, places.ids[row], own))
    for area in (int(a) for a in uses if int(a) not in taken):
        inside = [i for i in range(len(places)) if areas.geometry[area].covers(places.geometry[i])]
        stands = sorted(inside, key=lambda i: (places.number("may_stop")[i] != 1.0, places.ids[i]))
        out.append(_ground(survey, places.ids[stands[0]] if stands else None, area))
    return tuple(out)


def _ground(survey: Survey, place: str | None, area: int | None) -> Ground:
    site = survey.site
    places, areas = site.layers["places"], site.layers["areas"]
    row = None if place is None else places.index(place)
    steepest = _steeper(places, row, areas, area)
    radius = math.nan if row is None else float(places.number("turn_radius_m")[row])
    if place is None:
        assert area is not None
        point = areas.geometry[area].representative_point()
        xy = (float(point.x), float(point.y))
    else:
        node = survey.network.node_xy[survey.network.place_node[place]]
        xy = (float(node[0]), float(node[1]))
    shape = areas.geometry[area] if area is not None else None
    if shape is None and not math.isnan(radius):
        shape = shapely.buffer(shapely.Point(xy), radius, quad_segs=CIRCLE_SEGMENTS)
    surface = None if area is None else areas.text("surface")[area]
    if surface is None and place is not None:
        surface = _road_word(survey, survey.network.place_node[place], "surface")
    bearing = math.nan if area is None else float(areas.number("bearing_kpa")[area]) * 1000.0
    return Ground(
        name=place or areas.ids[area or 0],
        place=place,
        area=None if area is None else areas.ids[area],
        xy=xy,
        shape=shape,
        surface=surface,
        bearing_pa=bearing,
        slope_ratio=steepest[0],
        cross_ratio=steepest[1],
        heading_rad=steepest[2],
        turn_radius_m=radius,
        told=_told(places, row, areas, area),
    )


def _steeper(places: Layer, row: int | None, areas: Layer, area: int | None) -> tuple[float, float, float]:
    """Give slope, cross slope and heading of the place or of the area, the steeper where both are stated.

    Of one that states a single slope, that one holds where it is steeper than the other whole.
    """
    found = []
    for layer, at in ((areas, area), (places, row)):
        if at is not None:
            slope, cross, heading = (
                float(layer.number(name)[at]) for name in ("slope_pct", "cross_slope_pct", "heading_deg")
            )
            found.append((pct_to_ratio(slope), pct_to_ratio(cross), math.pi / 2.0 - math.radians(heading)))
    known = [one for one in found if not (math.isnan(one[0]) and math.isnan(one[1]))]
    if len(known) > 1 and all(math.isnan(one[0] + one[1]) for one in known):
        return math.nan, math.nan, math.nan
    return max(known, key=_steepness, default=(math.nan, math.nan, math.nan))


def _steepness(one: tuple[float, float, float]) -> float:
    return math.hypot(*(0.0 if math.isnan(slope) else slope for slope in one[:2]))


def _told(places: Layer, row: int | None, areas: Layer, area: int | None) -> tuple[str, ...]:
    out = []
    for layer, at in ((areas, area), (places, row)):
        if at is not None:
            out += [
                f"{name} told"
                for name in ("slope_pct", "cross_slope_pct", "bearing_kpa")
                if layer.method(name)[at] in ("told", "assumed")
            ]
    return tuple(dict.fromkeys(out))


def roads_at(survey: Survey, node: int) -> tuple[int, ...]:
    """Give the roads that meet at a node."""
    network = survey.network
    links = np.flatnonzero((np.asarray(network.link_a) == node) | (np.asarray(network.link_b) == node))
    return tuple(dict.fromkeys(int(road) for road in np.asarray(network.link_road)[links]))


def _road_word(survey: Survey, node: int, field: str) -> str | None:
    roads = survey.site.layers["roads"]
    words = {roads.text(field)[road] for road in roads_at(survey, node)}
    return words.pop() if len(words) == 1 else None


def footprint(layer: Layer, row: int) -> Any:
    """Give what a thing overhead covers: its geometry widened by its half spread, a point by half a metre."""
    geometry = shapely.force_2d(layer.geometry[row])
    spread = float(layer.number("half_spread_m")[row])
    wide = 0.0 if math.isnan(spread) else spread
    wide = max(wide, 0.5) if geometry.geom_type == "Point" else wide
    return shapely.buffer(geometry, wide) if wide > 0.0 else geometry


def surveyed(site: Site, layer: str) -> bool:
    """Tell whether somebody looked for a layer on the site."""
    return site.note(layer) is not None
