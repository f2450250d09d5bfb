"""How far points lie from the room round a corner: corridors of the roads on columns, and ground that is free."""

from __future__ import annotations

from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.survey.rooms import Room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

BLOCK = 16384
"""So many points at a time stay near the processor."""
FEW = 64
"""Where a row has fewer points, many rows are taken in one go instead."""


class Corridors:
    """The corridors of some rooms side by side, with the ground that is free there."""

    def __init__(self, rooms: list[Room]) -> None:
        self._rooms = rooms
        most = max((len(room.near_m) for room in rooms), default=0)
        capsules, self._near_m = np.zeros((len(rooms), most, 7)), np.full((len(rooms), most), np.inf)
        for row, room in enumerate(rooms):
            capsules[row, : len(room.near_m)], self._near_m[row, : len(room.near_m)] = room.capsules, room.near_m
        laid = [_laid(some) for some in capsules.transpose(1, 2, 0)]
        self._capsules = np.array(laid).reshape(most, 8, len(rooms))
        self._short: Bools = np.asarray(np.isfinite(capsules[:, :, 5:]).any(axis=(0, 2)))
        self._ground = np.array([len(room.ground) > 0 for room in rooms], dtype=bool)

    def beyond(self, rows: Ints, points: Floats, reach_m: Floats, floor: float, most_m: float = np.inf) -> Floats:
        """Give the distance of points (p, n, k, 2) from the room of some rows (p,), negative inside (p, n, k).

        Args:
            rows: rows of the rooms
            points: points
            reach_m: by row, corridors further away do not count
            floor: free ground is asked only about points above it, unless none stays above it
            most_m: what is more may be told as any number that is
        """
        return self._asked(rows, points, reach_m, floor, most_m=most_m)[0]

    def of_lines(self, rows: Ints, points: Floats, reach_m: Floats, floor: float, each: int) -> tuple[Floats, Floats]:
        """Give the same for straight lines of ``each`` points one after the other (p, n, each · lines, 2), and what
        nothing between two neighbours on a line exceeds (p, n, (each − 1) · lines).

        Along a line the distance from one corridor is greatest at an end. So nothing between two points of it lies
        further out than, of all corridors, the least that the worse of the two does.
        """
        out, most = self._asked(rows, points, reach_m, floor, each)
        return out, most.reshape(*points.shape[:2], -1)

    def _asked(
        self, rows: Ints, points: Floats, reach_m: Floats, floor: float, each: int = 1, most_m: float = np.inf
    ) -> tuple[Floats, Floats]:
        flat = points.reshape(len(rows), -1, 2)
        out, most = np.empty(flat.shape[:-1]), np.empty((len(rows), flat.shape[1] // each * (each - 1)))
        count = (self._near_m[rows] < reach_m[:, None]).sum(axis=1)
        order, size = np.argsort(-count, kind="stable"), max(1, BLOCK // max(flat.shape[1], 1))
        for start in range(0, len(rows), size):
            some = order[start : start + size]
            out[some], most[some] = self._from_corridors(rows[some], flat[some], count[some], each, most_m)
        for row in np.unique(rows[self._ground[rows]]).tolist():
            mine = np.flatnonzero(rows == row)
            here = out[mine].ravel()
            _take_ground(self._rooms[row].ground, flat[mine].reshape(-1, 2), here, floor)
            out[mine] = here.reshape(len(mine), -1)
        return out.reshape(points.shape[:-1]), most

    def _from_corridors(
        self, rows: Ints, points: Floats, count: Ints, each: int, most_m: float
    ) -> tuple[Floats, Floats]:
        """Give the distance of points (p, n, 2) from ``count`` corridors of some rows, which come by how many."""
        order: Literal["C", "F"] = "C" if points.shape[1] > FEW else "F"
        lines = points.shape[1] // each
        x, y = (np.array(_by_part(points[..., side], lines), order=order) for side in (0, 1))
        nearest = np.full_like(x, np.inf)
        most = np.full((len(rows), lines * (each - 1)), np.inf, order=order)
        near = self._least_m(rows, x, y) < most_m if most_m < np.inf and x.size else None
        for number, last in enumerate(np.searchsorted(-count, -np.arange(int(count[0]))).tolist()):
            if near is not None and not near[number]:
                continue
            capsule = self._capsules[number].take(rows[:last], axis=1)[:, :, None]
            gap = from_laid(x[:last], y[:last], capsule[:6])
            if self._short[number] and np.isfinite(capsule[6:]).any():
                np.maximum(gap, past_ends(x[:last], y[:last], capsule), out=gap)
            np.minimum(nearest[:last], gap, out=nearest[:last])
            if each > 1:
                worse = np.maximum(gap[:, :-lines], gap[:, lines:])
                np.minimum(most[:last], worse, out=most[:last])
        return _by_part(nearest, each), _by_part(most, each - 1)

    def _least_m(self, rows: Ints, x: Floats, y: Floats) -> Floats:
        """Give how far any of some points lies at least from each corridor of some rows, the least of the rows."""
        ax, ay, dx, dy, _, radius, *_ = self._capsules[:, :, rows].transpose(1, 0, 2)
        aside = [
            np.maximum(a + np.minimum(run, 0.0) - points.max(), points.min() - a - np.maximum(run, 0.0))
            for a, run, points in ((ax, dx, x), (ay, dy, y))
        ]
        return np.asarray((np.maximum(*aside) - radius).min(axis=1))


def _by_part(values: Floats, count: int) -> Floats:
    """Give values line by line, so many points on each, point by point instead; ``count`` lines, or points the other
    way round."""
    return values.reshape(len(values), count, -1).swapaxes(1, 2).reshape(values.shape) if count > 1 else values


def _laid(capsules: Floats) -> Floats:
    """Give begin, run, square of its length, radius, reach past a and past b of capsules, a column each."""
    (ax, ay), (dx, dy) = capsules[:2], capsules[2:4] - capsules[:2]
    return np.array((ax, ay, dx, dy, np.maximum(dx * dx + dy * dy, 1e-12), *capsules[4:]))


def from_capsules(x: Floats, y: Floats, capsule: tuple[Floats, ...]) -> Floats:
    """Give the distance of points from capsules (ax, ay, bx, by, radius), negative inside."""
    ax, ay, bx, by, radius = capsule
    dx, dy = bx - ax, by - ay
    return from_laid(x, y, (ax, ay, dx, dy, np.maximum(dx * dx + dy * dy, 1e-12), radius))


def from_laid(x: Floats, y: Floats, capsule: Floats | tuple[Floats, ...]) -> Floats:
    """Give the same of capsules as their begin, run, square of its length and radius."""
    ax, ay, dx, dy, square, radius = capsule
    px, py = x - ax, y - ay
    share, part = px * dx, py * dy
    share += part
    share /= square
    share.clip(0.0, 1.0, out=share)
    px -= np.multiply(share, dx, out=part)
    share *= dy
    py -= share
    px *= px
    py *= py
    px += py
    np.sqrt(px, out=px)
    px -= radius
    return np.asarray(px)


def past_ends(x: Floats, y: Floats, capsule: Floats) -> Floats:
    """Give how far points lie past the ends of capsules as they are laid out, or before."""
    ax, ay, dx, dy, square, _, behind, ahead = capsule
    length = np.sqrt(square)
    along = ((x - ax) * dx + (y - ay) * dy) / length
    return np.asarray(np.maximum(-along - behind, along - length - ahead))


def _from_ground(ground: shapely.Polygon, points: Floats) -> Floats:
    """Give the distance of points from free ground, negative inside."""
    shapely.prepare(ground)
    inside = shapely.contains_xy(ground, points[:, 0], points[:, 1])
    return np.asarray(shapely.distance(ground.boundary, shapely.points(points)) * np.where(inside, -1.0, 1.0))


def _take_ground(ground: tuple[shapely.Polygon, ...], points: Floats, out: Floats, floor: float) -> None:
    """Bring distances down to those from free ground, in place; ground further off than they are does not."""
    above, x, y = out > floor, points[..., 0], points[..., 1]
    west, south, east, north = x.min(), y.min(), x.max(), y.max()
    for some in (above, ~above):
        for polygon in ground if some.any() else ():
            left, bottom, right, top = polygon.bounds
            if max(left - east, west - right, bottom - north, south - top) >= out.max():
                continue
            aside = np.maximum(np.maximum(left - x, x - right), np.maximum(bottom - y, y - top))
            near = some & (aside < out)
            if near.any():
                out[near] = np.minimum(out[near], _from_ground(polygon, points[near]))
        if out[above].max(initial=-np.inf) > floor:
            return
