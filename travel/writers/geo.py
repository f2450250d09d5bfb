"""Positions on the page: from the site's metres to longitude and latitude, along roads and along a trip."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.domain.plan import Finding, Leg, TravelPlan, Where
from travel.domain.site import Layer, Site

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Frame:
    """The two ways between (n, 2) arrays of metres in the site's ``crs`` and of longitude, latitude (WGS 84)."""

    to_lonlat: Callable[[Floats], Floats]
    to_metres: Callable[[Floats], Floats]


def frame_of(site: Site) -> Frame:
    """Give the site's frame."""
    from pyproj import Transformer

    there = Transformer.from_crs(site.crs_wkt, "EPSG:4326", always_xy=True)
    back = Transformer.from_crs("EPSG:4326", site.crs_wkt, always_xy=True)

    def through(transformer: Transformer) -> Callable[[Floats], Floats]:
        return lambda xy: np.column_stack(transformer.transform(xy[:, 0], xy[:, 1])) if len(xy) else xy

    return Frame(to_lonlat=through(there), to_metres=through(back))


@dataclass(frozen=True, eq=False)
class TripPath:
    """The way of one trip: vertices [m], distance driven at each [m], leg of each part between two vertices."""

    trip: str
    xy: Floats
    driven_m: Floats
    leg: NDArray[np.int64]

    def at(self, distance_m: Floats) -> Floats:
        """Give positions at distances driven."""
        return np.column_stack([np.interp(distance_m, self.driven_m, self.xy[:, axis]) for axis in (0, 1)])

    def part(self, from_m: float, to_m: float) -> Floats:
        """Give the vertices between two distances driven, both ends included."""
        inside = (self.driven_m > from_m + 1e-6) & (self.driven_m < to_m - 1e-6)
        ends = self.at(np.array([from_m, to_m]))
        return np.vstack([ends[:1], self.xy[inside], ends[1:]])

    def beside(self, offset_m: float) -> TripPath:
        """Give the same way drawn to the right of the direction of travel: out and back do not cover each other."""
        step = np.diff(self.xy, axis=0)
        span = np.hypot(step[:, 0], step[:, 1])
        unit = step / np.where(span > 0, span, 1.0)[:, None]
        right = np.column_stack([unit[:, 1], -unit[:, 0]])
        joint = np.vstack([right[:1], (right[:-1] + right[1:]) / 2, right[-1:]])
        size = np.hypot(joint[:, 0], joint[:, 1])
        joint = joint / np.maximum(size, 0.5)[:, None] ** 2
        return TripPath(self.trip, self.xy + offset_m * joint, self.driven_m, self.leg)


def trip_path(plan: TravelPlan, trip: str, frame: Frame) -> TripPath | None:
    """Give the way of a trip from the legs' own paths, or None where no leg has one.

    Distances are stretched leg by leg to the legs' stated lengths.
    """
    parts: list[Floats] = []
    driven: list[Floats] = []
    numbers: list[NDArray[np.int64]] = []
    start = 0.0
    for leg in plan.legs:
        if leg.trip != trip:
            continue
        if len(leg.path_lonlat) >= 2:
            xy = frame.to_metres(np.array([point[:2] for point in leg.path_lonlat], dtype=float))
            along = _along(xy)
            if along[-1] > 0:
                parts.append(xy)
                driven.append(start + along * (leg.length_m / along[-1]))
                numbers.append(np.full(len(xy), leg.leg, dtype=np.int64))
        start += leg.length_m
    if not parts:
        return None
    all_xy, all_m, all_leg = np.vstack(parts), np.concatenate(driven), np.concatenate(numbers)
    keep = np.ones(len(all_xy), dtype=bool)
    keep[1:] = (np.hypot(*np.diff(all_xy, axis=0).T) > 1e-3) | (np.diff(all_m) > 1e-3)
    return TripPath(trip, all_xy[keep], all_m[keep], all_leg[keep][1:])


def _along(xy: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])


def driven_at(plan: TravelPlan, leg_number: int | None, chainage_m: float | None) -> float | None:
    """Give the distance driven in its trip at a chainage of a leg's road, or None."""
    leg = next((item for item in plan.legs if item.leg == leg_number), None)
    if leg is None or chainage_m is None:
        return None
    before = sum(item.length_m for item in plan.legs if item.trip == leg.trip and item.leg < leg.leg)
    return before + float(np.clip(_into(leg, chainage_m), 0.0, leg.length_m))


def _into(leg: Leg, chainage_m: float) -> float:
    return chainage_m - leg.from_m if leg.direction == "along" else leg.to_m - chainage_m


def finding_driven(plan: TravelPlan, finding: Finding) -> float | None:
    """Give where along its trip a finding stands."""
    where = finding.where
    return driven_at(plan, finding.leg, where.from_m if where.at_m is None else where.at_m)


def where_xy(where: Where, site: Site, frame: Frame) -> tuple[float, float] | None:
    """Give a point for a place in the plan: its own position, else road and chainage, place, feature; else None."""
    if where.lonlat is not None:
        x, y = frame.to_metres(np.array([where.lonlat], dtype=float))[0]
        return float(x), float(y)
    chainage = where.from_m if where.at_m is None else where.at_m
    road = _geometry(site.layers.get("roads"), where.road)
    if road is not None and chainage is not None:
        point = road.interpolate(chainage)
        return float(point.x), float(point.y)
    for layer, feature in (("places", where.place), (where.layer or "", where.feature)):
        geometry = _geometry(site.layers.get(layer), feature)
        if geometry is not None:
            point = geometry.representative_point()
            return float(point.x), float(point.y)
    return None


def stretch_xy(where: Where, site: Site) -> Floats | None:
    """Give the piece of road a finding is about, or None."""
    if where.from_m is None or where.to_m is None:
        return None
    return stretch_of(site, where.road, where.from_m, where.to_m)


def stretch_of(site: Site, road_id: str | None, from_m: float, to_m: float) -> Floats | None:
    """Give a piece of a road by chainage, or None."""
    from shapely.ops import substring

    road = _geometry(site.layers.get("roads"), road_id)
    if road is None or to_m <= from_m:
        return None
    piece = substring(road, from_m, to_m)
    return np.asarray(piece.coords, dtype=float)[:, :2] if piece.geom_type == "LineString" else None


def _geometry(layer: Layer | None, feature: str | None) -> Any:
    if layer is None or feature is None or feature not in layer.ids:
        return None
    return layer.geometry[layer.index(feature)]


def names_of(site: Site) -> dict[tuple[str, str], str]:
    """Give what people call each feature, by layer and id."""
    return {
        (layer.name, feature): str(name)
        for layer in site.layers.values()
        for feature, name in zip(layer.ids, layer.text("name"), strict=True)
        if name
    }
