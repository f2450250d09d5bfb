"""Features as edges: every geometry a set of straight edges with a radius, so that distances are exact."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from travel.domain.site import Layer
from travel.survey.arrays import Bools, Floats, Ints, Objects

POINT_M = 0.5
"""Radius of the footprint of a bare point (formats 3.5)."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Features:
    """Plan geometries of one layer, their radius, the roads they name, their edges (a point: one of no length)."""

    plan: Objects
    spread_m: Floats
    road: Objects
    polygon: Bools
    line: Bools
    edge_start: Ints
    edge_stop: Ints
    ax: Floats
    ay: Floats
    bx: Floats
    by: Floats

    def __len__(self) -> int:
        return len(self.plan)


def read_features(layer: Layer) -> Features:
    """Give the features of a layer as edges."""
    plan = shapely.force_2d(layer.geometry)
    kind = shapely.get_type_id(plan)
    point = np.isin(kind, (0, 4))
    spread = np.nan_to_num(layer.number("half_spread_m"), nan=0.0)
    spread = np.where(point & (spread <= 0), POINT_M, spread)
    parts, owner = shapely.get_parts(plan, return_index=True)
    areas = shapely.get_type_id(parts) == 3
    rings, ring_of = shapely.get_rings(parts[areas], return_index=True)
    paths = np.concatenate((parts[~areas], rings))
    path_owner = np.concatenate((owner[~areas], owner[areas][ring_of]))
    order = np.argsort(path_owner, kind="stable")
    paths, path_owner = paths[order], path_owner[order]
    coords, path = shapely.get_coordinates(paths, return_index=True)
    alone = np.bincount(path, minlength=len(paths))[path] == 1
    same = np.append(path[1:] == path[:-1], False) if len(path) else np.zeros(0, dtype=bool)
    first = np.flatnonzero(same | alone)
    second = np.where(alone[first], first, first + 1)
    feature = path_owner[path[first]]
    numbers = np.arange(len(plan))
    return Features(
        plan=plan,
        spread_m=spread,
        road=layer.text("road"),
        polygon=np.isin(kind, (3, 6)),
        line=np.isin(kind, (1, 5)),
        edge_start=np.searchsorted(feature, numbers, "left"),
        edge_stop=np.searchsorted(feature, numbers, "right"),
        ax=coords[first, 0],
        ay=coords[first, 1],
        bx=coords[second, 0],
        by=coords[second, 1],
    )
