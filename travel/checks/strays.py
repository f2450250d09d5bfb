"""Corners whose swept area leaves their own two roads: a look at few points, on columns, before areas are laid down."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.corridors import from_capsules
from travel.checks.mover import Mover
from travel.checks.other_roads import OtherRoads
from travel.checks.sweep import SIDE, Yard, body_points
from travel.checks.track import points_swept
from travel.survey.corners import Corners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

CHUNK = 256
QUARTERS = np.round(np.linspace(0, SIDE - 1, 5)).astype(np.int64)
FEW = np.concatenate((QUARTERS, QUARTERS + SIDE))
"""Rear, quarters and front of both sides of the body: what cuts in most lies between its ends, near the rear axle."""
SPARSE = 4
"""Every so many points of an arm are looked at; how far it leaves the straight line between them counts as well."""
SLACK_M = 0.15
"""Kept for what lies between the points of the body that are looked at; no source."""
BETWEEN_M = 2.0
"""More than lies between two positions that are looked at; no source."""


def strays(corners: Corners, rows: Ints, cut_m: Floats, mover: Mover, mouth_m: Floats) -> Floats:
    """Give how far from its corner anything may be swept beyond both its roads and the mouth of the junction [m]; 0
    where nothing is.

    Args:
        corners: the corners of the site
        rows: some of them
        cut_m: where the arcs begin, by row [m]
        mover: what is driven
        mouth_m: how far the mouth reaches from the corner, by row [m]
    """
    out = np.zeros(len(rows))
    for start in range(0, len(rows), CHUNK):
        some = slice(start, start + CHUNK)
        out[some] = _strays(corners, rows[some], cut_m[some], mover, mouth_m[some])
    return out


def _strays(corners: Corners, rows: Ints, cut_m: Floats, mover: Mover, mouth_m: Floats) -> Floats:
    yard = Yard(corners, rows)
    x, y = _looked_at(yard, cut_m, mover)
    far = np.hypot(x - corners.x_m[rows][:, None], y - corners.y_m[rows][:, None])
    off, slack = far - mouth_m[:, None], np.full(len(rows), SLACK_M)
    half = np.nan_to_num(corners.road_m[rows])[:, None] / 2.0
    for arms in (yard.arm_in, yard.arm_out):
        sparse = arms[:, ::SPARSE]
        slack = np.maximum(slack, SLACK_M + _bent_m(arms))
        for first, second in zip(np.moveaxis(sparse, 1, 0)[:-1], np.moveaxis(sparse, 1, 0)[1:], strict=True):
            ends = np.concatenate((first, second), axis=1).T[:, :, None]
            off = np.minimum(off, from_capsules(x, y, (*ends, half)))
    most = np.where(off > -slack[:, None], far, 0.0).max(axis=1)
    return np.asarray(np.where(most > 0.0, most + BETWEEN_M, 0.0))


def _bent_m(arms: Floats) -> Floats:
    """Give how far arms leave the straight lines between those of their points that are looked at (p,)."""
    low, high = arms[:, :-1:SPARSE, None], arms[:, SPARSE::SPARSE, None]
    x, y = np.moveaxis(arms[:, :-1].reshape(len(arms), -1, SPARSE, 2), -1, 0)
    ends = np.moveaxis(np.concatenate((low, high), axis=-1), -1, 0)
    return np.asarray(from_capsules(x, y, (*ends, np.zeros(()))).max(axis=(1, 2)))


def _looked_at(yard: Yard, cut_m: Floats, mover: Mover) -> tuple[Floats, Floats]:
    """Give the few points of what is swept in every corner of a yard, (p, points) each."""
    path, drawn = yard.path(np.arange(len(cut_m)), cut_m, mover), mover.drawn()
    points = [points_swept(path.xy, path.heading, body_points(mover)[FEW])]
    if drawn is not None and path.drawn is not None:
        points.append(points_swept(path.drawn.xy, path.drawn.heading, body_points(drawn)[FEW]))
    x, y = np.moveaxis(np.concatenate([p.reshape(len(cut_m), -1, 2) for p in points], axis=1), -1, 0)
    return x, y


def boxes_round(corners: Corners, rows: Ints, cut_m: Floats, mover: Mover) -> NDArray[np.object_]:
    """Give boxes that hold all that is swept in some corners, and more.

    Args:
        corners: the corners of the site
        rows: some of them
        cut_m: where the arcs begin, by row [m]
        mover: what is driven
    """
    out = np.empty(len(rows), dtype=object)
    for start in range(0, len(rows), CHUNK):
        some = slice(start, start + CHUNK)
        x, y = _looked_at(Yard(corners, rows[some]), cut_m[some], mover)
        low, high = ((x.min(axis=1), y.min(axis=1)), (x.max(axis=1), y.max(axis=1)))
        out[some] = shapely.box(*(at - BETWEEN_M for at in low), *(at + BETWEEN_M for at in high))
    return out


def each_once(
    known: dict[tuple[int, float], float], rows: Ints, cut_m: Floats, find: Callable[[Ints], Floats]
) -> Floats:
    """Give a number of some corners with some cuts; those not known so far are found, and known from then on.

    Args:
        known: numbers by corner and cut
        rows: corners
        cut_m: where their arcs begin [m]
        find: gives the numbers of some of them, by their place in ``rows``
    """
    keys = list(zip(rows.tolist(), cut_m.tolist(), strict=True))
    todo = np.array([number for number, key in enumerate(keys) if key not in known], dtype=np.int64)
    if len(todo):
        known.update(zip([keys[number] for number in todo.tolist()], find(todo).tolist(), strict=True))
    return np.array([known[key] for key in keys], dtype=np.float64)


def on_rows(here: Bools, some: Ints, count: int) -> Bools:
    """Give what holds on some of ``count`` rows on all of them, False on the others."""
    out = np.zeros((count, here.shape[1]), dtype=bool)
    out[some] = here
    return out


def run_over(
    others: OtherRoads,
    at: tuple[Ints, Ints],
    out_m: Floats,
    configs: Ints,
    area: Callable[[int, int], BaseGeometry | None],
) -> dict[str, Bools]:
    """Give, by other road and rule, where corners taken in one go run on to a road that is not plainly passed.

    Args:
        others: the roads that meet at the corners of the trip
        at: rows of corners, and states
        out_m: by corner and state, how far anything is swept beyond its own roads and the mouth, 0 for nothing [m]
        configs: a configuration of each state
        area: what a corner sweeps in a state; None for nothing
    """
    found: dict[str, Bools] = {}
    rows, states = at
    some = np.flatnonzero((out_m > 0.0).any(axis=1))
    if not len(some):
        return found
    bars = np.zeros(out_m.shape, dtype=bool)
    bars[some] = (out_m[some] > 0.0) & others.look(rows[some], configs, out_m[some].max(axis=1))
    for number in np.flatnonzero(bars.any(axis=1)).tolist():
        row, alike = int(rows[number]), dict[int, tuple[BaseGeometry, list[int]]]()
        for column in np.flatnonzero(bars[number]).tolist():
            swept = area(row, int(states[column]))
            if swept is not None:
                alike.setdefault(id(swept), (swept, []))[1].append(column)
        for swept, columns in alike.values():
            far, each = float(out_m[number, columns].max()), [(int(config),) for config in configs[columns]]
            for column, name in zip(columns, others.over_each(row, each, swept, far), strict=True):
                if name:
                    found.setdefault(name, np.zeros(out_m.shape, dtype=bool))[number, column] = True
    return found
