"""Straight on beyond a dead end: a machine standing at the end of a road reaches past it with its front or rear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from travel.survey.arrays import Bools, Floats, Ints, Objects
from travel.survey.chains import Chains, Links
from travel.survey.course import Course
from travel.survey.features import Features
from travel.survey.intervals import TOUCH_M, Intervals

ROUND_M = 0.05
"""What a drawn circle may fall short of the true one."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Ends:
    """Free ends of chains: ``far`` at the end of the chain, else at its start; position, way out, road."""

    chain: Ints
    far: Bools
    road: Ints
    x: Floats
    y: Floats
    out_x: Floats
    out_y: Floats
    chains: int

    def mask(self, far: bool) -> Bools:
        """Say by chain whether it ends freely there."""
        out = np.zeros(self.chains, dtype=bool)
        out[self.chain[self.far == far]] = True
        return out


def free_ends(course: Course, links: Links, chains: Chains) -> Ends:
    """Find where chains end at a node that nothing else reaches."""
    degree = np.bincount(np.concatenate((links.a, links.b)), minlength=1)
    first, last = chains.order[chains.start], chains.order[chains.stop - 1]
    node_in = np.where(chains.sign[first] > 0, links.a[first], links.b[first])
    node_out = np.where(chains.sign[last] > 0, links.b[last], links.a[last])
    count = len(chains.length)
    number = np.arange(count)
    own = ~np.isin(number, chains.ring)
    parts = []
    for far, node, link in ((False, node_in, first), (True, node_out, last)):
        chain = number[own & (degree[node] == 1)]
        vertex = course.chain_stop[chain] - 1 if far else course.chain_start[chain]
        segment = course.segment_chain_stop[chain] - 1 if far else course.segment_chain_start[chain]
        bearing, sign = course.bearing[segment], 1.0 if far else -1.0
        way_out = sign * np.sin(bearing), sign * np.cos(bearing)
        parts.append((chain, np.full(len(chain), far), links.road[link[chain]], course.x[vertex], course.y[vertex],
                      *way_out))  # fmt: skip
    chain, is_far, road, x, y, out_x, out_y = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Ends(chain=chain, far=is_far, road=road, x=x, y=y, out_x=out_x, out_y=out_y, chains=count)


def beyond(course: Course, ends: Ends, features: Features, named: Ints, reach: tuple[Floats, float, bool]) -> Intervals:
    """Give the parts of the straight run beyond free ends that features belong to, as chain chainage past the end.

    Args:
        course: where chains start and end
        ends: the free ends
        features: of one layer
        named: the road each feature names, −1 for none
        reach: by road the distance from the centreline that counts, the length looked ahead, and whether a feature
            that names a road belongs to that road alone
    """
    beside, length_m, alone = reach
    none = np.zeros(0, dtype=np.int64)
    if not len(ends.chain) or length_m <= 0.0:
        return Intervals(feature=none, chain=none, from_m=np.zeros(0), to_m=np.zeros(0))
    tip = np.column_stack((ends.x + length_m * ends.out_x, ends.y + length_m * ends.out_y))
    tails: Objects = np.asarray(shapely.linestrings(np.stack((np.column_stack((ends.x, ends.y)), tip), axis=1)))
    radius = beside[ends.road]
    widest = features.spread_m + float(radius.max()) + TOUCH_M
    feature, end = shapely.STRtree(tails).query(features.plan, predicate="dwithin", distance=widest)
    good = (named[feature] < 0) | (named[feature] == ends.road[end]) | (not alone)
    feature, end = feature[good].astype(np.int64), end[good].astype(np.int64)
    within = shapely.buffer(features.plan[feature], radius[end] + features.spread_m[feature] + ROUND_M)
    met = shapely.intersection(tails[end], within)
    keep = ~shapely.is_empty(met)
    feature, end, met = feature[keep], end[keep], met[keep]
    box = shapely.bounds(met).reshape(-1, 2, 2)
    way = np.column_stack((ends.out_x, ends.out_y))[end]
    start = np.column_stack((ends.x, ends.y))[end]
    near, far = np.sort((box - start[:, None, :]) * way[:, None, :], axis=1).sum(axis=2).T
    chain, high = ends.chain[end], ends.far[end]
    low = np.where(high, course.high[chain] + near, course.low[chain] - far)
    top = np.where(high, course.high[chain] + far, course.low[chain] - near)
    return Intervals(feature=feature, chain=chain, from_m=low, to_m=top)


def lengthened(course: Course, ends: Ends, chain: Ints, from_m: Floats, to_m: Floats) -> Objects:
    """Give the polylines between two chain chainages; beyond a free end straight on, at other ends no further."""
    low, high = course.low[chain], course.high[chain]
    lines = course.stretches(chain, np.maximum(from_m, low), np.minimum(to_m, high))
    extra = []
    for far, missing in ((False, low - from_m), (True, to_m - high)):
        at = np.full(ends.chains, -1, dtype=np.int64)
        at[ends.chain[ends.far == far]] = np.flatnonzero(ends.far == far)
        row = np.flatnonzero((missing > 0.0) & (at[chain] >= 0))
        end = at[chain[row]]
        xy = np.column_stack((ends.x, ends.y))[end]
        xy = xy + missing[row][:, None] * np.column_stack((ends.out_x, ends.out_y))[end]
        extra.append((row, xy))
    if not len(extra[0][0]) and not len(extra[1][0]):
        return lines
    coords, owner = shapely.get_coordinates(lines, return_index=True)
    key = np.concatenate((extra[0][0] * 3, owner * 3 + 1, extra[1][0] * 3 + 2))
    order = np.argsort(key, kind="stable")
    out: Objects = np.asarray(
        shapely.linestrings(np.concatenate((extra[0][1], coords, extra[1][1]))[order], indices=key[order] // 3)
    )
    return out
