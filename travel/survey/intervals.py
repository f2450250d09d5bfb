"""The parts of chains that lie within a distance of a feature, exact: a straight segment against capsules.

All points within r of an edge form a capsule; it is convex, so it cuts a straight segment in one interval: the union
of what two discs and the strip between them cut.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from travel.survey.arrays import Bools, Floats, Ints, expand, merge_intervals
from travel.survey.chains import Links
from travel.survey.course import Course
from travel.survey.features import Features

TOUCH_M = 1e-6
BLOCK = 2_000_000
Cut = tuple[Ints, Floats, Floats]
Columns = tuple[Floats, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class Intervals:
    """United intervals of chain chainage by feature and chain, sorted."""

    feature: Ints
    chain: Ints
    from_m: Floats
    to_m: Floats


@dataclass(frozen=True, eq=False, kw_only=True)
class Reaches:
    """Road × feature, and the distance from the centreline to the geometry within which they belong together."""

    road: Ints
    feature: Ints
    radius_m: Floats


def road_segments(course: Course, links: Links, roads: int) -> tuple[Ints, Ints, Ints]:
    """Give the segments sorted by road, and where each road's start and stop."""
    road = links.road[course.row_link[course.segment_row]]
    order = np.argsort(road, kind="stable")
    numbers = np.arange(roads)
    return order, np.searchsorted(road[order], numbers, "left"), np.searchsorted(road[order], numbers, "right")


def within(course: Course, links: Links, features: Features, reaches: Reaches, roads: int) -> Intervals:
    """Give the parts of chains within each reach of its feature."""
    order, start, stop = road_segments(course, links, roads)
    owner, place = expand(start[reaches.road], (stop - start)[reaches.road])
    segment, feature = order[place], reaches.feature[owner]
    radius = reaches.radius_m[owner] + TOUCH_M
    near = _boxes_meet(course, features, segment, feature, radius)
    segment, feature, radius = segment[near], feature[near], radius[near]
    found = [
        (row + block.start, low, high)
        for block in _blocks(features, feature)
        for row, low, high in (_cut(course, features, segment[block], feature[block], radius[block]),)
    ]
    if not found:
        empty = np.zeros(0, dtype=np.int64)
        return Intervals(feature=empty, chain=empty, from_m=np.zeros(0), to_m=np.zeros(0))
    row, low, high = (np.concatenate(column) for column in zip(*found, strict=True))
    base = course.position[course.segment[segment[row]]]
    chain = course.row_chain[course.segment_row[segment[row]]]
    key = feature[row] * len(course.low) + chain
    key, low, high = merge_intervals(key, base + low, base + high, 2 * TOUCH_M)
    return Intervals(feature=key // len(course.low), chain=key % len(course.low), from_m=low, to_m=high)


def _blocks(features: Features, feature: Ints) -> list[slice]:
    """Split the rows so that segments × edges stays within memory."""
    if not len(feature):
        return []
    edges = np.cumsum((features.edge_stop - features.edge_start)[feature])
    cuts = np.searchsorted(edges, np.arange(BLOCK, int(edges[-1]) + BLOCK, BLOCK), "left") + 1
    ends = np.unique(np.minimum(cuts, len(feature)))
    ends = ends if ends[-1] == len(feature) else np.append(ends, len(feature))
    return [slice(int(a), int(b)) for a, b in zip(np.append(0, ends[:-1]), ends, strict=True)]


def _boxes_meet(course: Course, features: Features, segment: Ints, feature: Ints, radius: Floats) -> Bools:
    box = shapely.bounds(features.plan)[feature]
    vertex = course.segment[segment]
    good = np.ones(len(segment), dtype=bool)
    for k, column in enumerate((course.x, course.y)):
        one, two = column[vertex], column[vertex + 1]
        good &= np.minimum(one, two) <= box[:, k + 2] + radius
        good &= np.maximum(one, two) >= box[:, k] - radius
    return good


def _cut(course: Course, features: Features, segment: Ints, feature: Ints, radius: Floats) -> Cut:
    """Give (row, from, to) of every interval along its segment."""
    count = (features.edge_stop - features.edge_start)[feature]
    row, edge = expand(features.edge_start[feature], count)
    low, high = _capsule(_rays(course, segment[row]), _edges(features, edge), radius[row])
    hit = low <= high
    row, low, high = row[hit], low[hit], high[hit]
    inner = _inside(course, features, (segment, feature), (row, low, high))
    return np.concatenate((row, inner[0])), np.concatenate((low, inner[1])), np.concatenate((high, inner[2]))


def _rays(course: Course, segment: Ints) -> Columns:
    """Give start, unit direction and length of segments."""
    vertex = course.segment[segment]
    x, y = course.x[vertex], course.y[vertex]
    dx, dy = course.x[vertex + 1] - x, course.y[vertex + 1] - y
    length = np.hypot(dx, dy)
    return x, y, dx / length, dy / length, length


def _edges(features: Features, edge: Ints) -> Columns:
    return features.ax[edge], features.ay[edge], features.bx[edge], features.by[edge]


def _capsule(ray: Columns, edge: Columns, radius: Floats) -> tuple[Floats, Floats]:
    """Give where rays run inside capsules; from > to where they do not."""
    x, y, ux, uy, length = ray
    ax, ay, bx, by = edge
    low, high = _disc(ray, (ax, ay), radius)
    low_b, high_b = _disc(ray, (bx, by), radius)
    ex, ey = bx - ax, by - ay
    run = np.hypot(ex, ey)
    thin = run <= 0
    ex, ey = np.where(thin, 1.0, ex / np.where(thin, 1.0, run)), np.where(thin, 0.0, ey / np.where(thin, 1.0, run))
    along = ((x - ax) * ex + (y - ay) * ey, ux * ex + uy * ey)
    across = ((y - ay) * ex - (x - ax) * ey, uy * ex - ux * ey)
    low_s, high_s = _between(*along, np.zeros_like(run), run)
    low_t, high_t = _between(*across, -radius, radius)
    low_s, high_s = np.maximum(low_s, low_t), np.minimum(high_s, high_t)
    empty = (low_s > high_s) | thin
    low_s, high_s = np.where(empty, np.inf, low_s), np.where(empty, -np.inf, high_s)
    low = np.minimum(np.minimum(low, low_b), low_s)
    high = np.maximum(np.maximum(high, high_b), high_s)
    return np.maximum(low, 0.0), np.minimum(high, length)


def _disc(ray: Columns, centre: Columns, radius: Floats) -> tuple[Floats, Floats]:
    x, y, ux, uy, _ = ray
    middle = (centre[0] - x) * ux + (centre[1] - y) * uy
    off2 = (centre[0] - x - middle * ux) ** 2 + (centre[1] - y - middle * uy) ** 2
    half2 = radius * radius - off2
    half = np.sqrt(np.maximum(half2, 0.0))
    return np.where(half2 >= 0, middle - half, np.inf), np.where(half2 >= 0, middle + half, -np.inf)


def _between(start: Floats, rate: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Give for which u low ≤ start + rate·u ≤ high."""
    level = np.abs(rate) < 1e-12
    safe = np.where(level, 1.0, rate)
    one, two = (low - start) / safe, (high - start) / safe
    stays = (start >= low) & (start <= high)
    first = np.where(level, np.where(stays, -np.inf, np.inf), np.minimum(one, two))
    last = np.where(level, np.where(stays, np.inf, -np.inf), np.maximum(one, two))
    return first, last


def _inside(course: Course, features: Features, rows: tuple[Ints, Ints], cut: Cut) -> Cut:
    """Give the parts of segments inside polygons: between the ends of the intervals found, by their midpoints."""
    segment, feature = rows
    row, low, high = cut
    mine = features.polygon[feature]
    own = np.flatnonzero(mine)
    length = _rays(course, segment[own])[4]
    keep = mine[row]
    key = np.concatenate((own, own, row[keep], row[keep]))
    at = np.concatenate((np.zeros(len(own)), length, low[keep], high[keep]))
    order = np.lexsort((at, key))
    key, at = key[order], at[order]
    pick = np.flatnonzero((key[1:] == key[:-1]) & (np.diff(at) > 1e-9))
    owner, first, last = key[pick], at[pick], at[pick + 1]
    x, y, ux, uy, _ = _rays(course, segment[owner])
    middle = (first + last) / 2.0
    good = shapely.contains_xy(features.plan[feature[owner]], x + ux * middle, y + uy * middle)
    return owner[good], first[good], last[good]
