"""Road centrelines as flat vertex arrays, and places on them by chainage (plan length in the site's crs)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from travel.domain.site import Layer
from travel.errors import Fault, InputError
from travel.survey.arrays import Floats, Ints, Objects, group_search, interpolated

HALF_WIDTH_MISSING_M = 3.0
"""Half the width assumed where a road has none, only to find what lies near it; common practice, no source."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Lines:
    """Vertices of all roads in one row; road r owns ``start[r]`` … ``stop[r]``; ``s`` is the chainage."""

    ids: tuple[str, ...]
    plan: Objects
    x: Floats
    y: Floats
    z: Floats
    s: Floats
    road: Ints
    start: Ints
    stop: Ints
    length: Floats
    level: Floats
    half_width: Floats
    tree: shapely.STRtree

    def __len__(self) -> int:
        return len(self.ids)

    def below(self, road: Ints, at: Floats) -> Ints:
        """Give the vertex at or before each chainage, never the road's last."""
        if len(road) and (road == road[0]).all():
            return self._below(int(road[0]), at)
        found = group_search(self.s, self.start[road], self.stop[road], at, "right") - 1
        return np.clip(found, self.start[road], self.stop[road] - 2)

    def _below(self, road: int, at: Floats) -> Ints:
        start, stop = int(self.start[road]), int(self.stop[road])
        return np.clip(self.s[start:stop].searchsorted(at, "right") - 1, 0, stop - start - 2) + start

    def locate(self, road: Ints, at: Floats) -> tuple[Floats, Floats, Floats]:
        """Give x, y, z at chainages."""
        x, y, z = interpolated(at, self.below(road, at), self.s, (self.x, self.y, self.z))
        return x, y, z

    def substring(self, road: int, from_m: float, to_m: float) -> tuple[Floats, Floats]:
        """Give the polyline between two chainages as (chainage, xy), in the order asked for."""
        low, high = min(from_m, to_m), max(from_m, to_m)
        own = self.s[int(self.start[road]) : int(self.stop[road])]
        at = np.concatenate(([low], own[(own > low + 1e-9) & (own < high - 1e-9)], [high]))
        xy = np.column_stack(interpolated(at, self._below(road, at), self.s, (self.x, self.y)))
        return (at, xy) if from_m <= to_m else (at[::-1], xy[::-1])


def read_lines(layer: Layer, amended_width: dict[int, float]) -> Lines:
    """Lay the roads of a layer out flat. ``amended_width`` holds the greatest width laid over part of a road."""
    geometry = layer.geometry
    _check(layer)
    coords, road = shapely.get_coordinates(geometry, include_z=True, return_index=True)
    road = road.astype(np.int64)
    count = np.bincount(road, minlength=len(layer)).astype(np.int64)
    stop = np.cumsum(count)
    start = stop - count
    x, y, z = (np.ascontiguousarray(column) for column in coords.T)
    step = np.hypot(np.diff(x, prepend=x[:1]), np.diff(y, prepend=y[:1]))
    step[start] = 0.0
    total = np.cumsum(step)
    s = total - total[start][road]
    s = _exact_where_long(s, step, start, stop)
    plan = shapely.force_2d(geometry)
    width = layer.number("width_m").copy()
    for row, wide in amended_width.items():
        width[row] = np.fmax(width[row], wide)
    half = np.where(np.isnan(width), HALF_WIDTH_MISSING_M, width / 2.0)
    level = np.nan_to_num(layer.number("level"), nan=0.0)
    return Lines(
        ids=layer.ids,
        plan=plan,
        x=x,
        y=y,
        z=z,
        s=s,
        road=road,
        start=start,
        stop=stop,
        length=s[stop - 1],
        level=level,
        half_width=half,
        tree=shapely.STRtree(plan),
    )


def _exact_where_long(s: Floats, step: Floats, start: Ints, stop: Ints) -> Floats:
    """Sum short roads again from zero where the common sum has grown so long that digits are lost."""
    if float(step.sum()) < 1e5:
        return s
    out = s.copy()
    place = np.arange(len(s)) - np.repeat(start, stop - start)
    for k in range(1, int(min((stop - start).max(), 64))):
        rows = np.flatnonzero(place == k)
        out[rows] = out[rows - 1] + step[rows]
    for first, last in zip(start[stop - start > 64], stop[stop - start > 64], strict=True):
        out[first:last] = np.cumsum(step[first:last])
    return out


def _check(layer: Layer) -> None:
    faults = [
        Fault(file="site", layer="roads", feature=layer.ids[row], field="geometry", message="not a line with a length")
        for row in np.flatnonzero(~(shapely.length(layer.geometry) > 1e-6))
    ]
    if not len(layer):
        faults = [Fault(file="site", layer="roads", message="no roads")]
    if faults:
        raise InputError(faults)
