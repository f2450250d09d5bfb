"""Pairs of piece and feature: what lies over or beside the stretch of centreline a body may cover."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from travel.survey.ahead import Ends, lengthened
from travel.survey.arrays import Bools, Floats, Ints, Objects, expand, group_search
from travel.survey.course import Course
from travel.survey.cutting import Cells, Order
from travel.survey.features import Features
from travel.survey.intervals import TOUCH_M, Intervals
from travel.survey.records import Pairs, Pieces


@dataclass(frozen=True, eq=False, kw_only=True)
class Ground:
    """What pairs are made from."""

    course: Course
    ends: Ends
    cells: Cells
    order: Order
    pieces: Pieces


def make_pairs(ground: Ground, features: Features, own: Intervals, near: Intervals, body_m: float) -> Pairs:
    """Pair pieces with features. ``own``: where features lie over the road itself; ``near``: where within reach.

    Both may hold intervals beyond a free end, which the body reaches from the road's last stretch.
    """
    key = _meet(ground.cells, near, body_m, len(features))
    over = np.isin(key, _meet(ground.cells, own, body_m, len(features)))
    cell, feature = key // max(len(features), 1), key % max(len(features), 1)
    distance, side = _measure(ground, features, (cell, feature), body_m)
    order = ground.order
    owner, place = expand(order.start[cell], (order.stop - order.start)[cell])
    piece = order.piece[place]
    sort = np.lexsort((feature[owner], piece))
    piece, owner = piece[sort], owner[sort]
    return Pairs(
        piece=piece,
        feature=feature[owner],
        distance_m=distance[owner],
        side=side[owner] * ground.pieces.sign[piece],
        over=over[owner],
    )


def _meet(cells: Cells, intervals: Intervals, body_m: float, features: int) -> Ints:
    """Give cell × feature (as one number) where the cell, lengthened by the body both ways, meets an interval."""
    start, stop = cells.start[intervals.chain], cells.stop[intervals.chain]
    first = group_search(cells.to_m, start, stop, intervals.from_m - body_m - TOUCH_M, "left")
    last = group_search(cells.from_m, start, stop, intervals.to_m + body_m + TOUCH_M, "right")
    owner, cell = expand(first, np.maximum(last - first, 0))
    return np.unique(cell * max(features, 1) + intervals.feature[owner])


def _measure(ground: Ground, features: Features, pair: tuple[Ints, Ints], body_m: float) -> tuple[Floats, Ints]:
    """Give the least distance to the footprint, and the side of the chain it lies on."""
    cell, feature = pair
    if not len(cell):
        return np.zeros(0), np.zeros(0, dtype=np.int64)
    cells, course = ground.cells, ground.course
    wanted, back = np.unique(cell, return_inverse=True)
    chain = cells.chain[wanted]
    stretch = lengthened(course, ground.ends, chain, cells.from_m[wanted] - body_m, cells.to_m[wanted] + body_m)[back]
    plan = features.plan[feature]
    away: Floats = np.asarray(shapely.distance(stretch, plan), dtype=np.float64)
    distance = np.maximum(away - features.spread_m[feature], 0.0)
    return distance, np.where(distance > 0, _side(stretch, plan, away > 0), 0)


def _side(stretch: Objects, plan: Objects, apart: Bools) -> Ints:
    """Give +1 where the geometry's nearest point lies left of the stretch, −1 right, 0 straight ahead or on it."""
    side = np.zeros(len(stretch), dtype=np.int64)
    pick = np.flatnonzero(apart)
    if not len(pick):
        return side
    line = shapely.shortest_line(stretch[pick], plan[pick])
    ends = shapely.get_coordinates(line).reshape(-1, 2, 2)
    at = shapely.line_locate_point(stretch[pick], shapely.points(ends[:, 0]))
    total = shapely.length(stretch[pick])
    before = shapely.get_coordinates(shapely.line_interpolate_point(stretch[pick], np.maximum(at - 0.01, 0.0)))
    after = shapely.get_coordinates(shapely.line_interpolate_point(stretch[pick], np.minimum(at + 0.01, total)))
    along, away = after - before, ends[:, 1] - ends[:, 0]
    cross = along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]
    scale = np.hypot(*along.T) * np.hypot(*away.T)
    side[pick] = np.where(np.abs(cross) <= 1e-9 * scale, 0, np.sign(cross)).astype(np.int64)
    return side
