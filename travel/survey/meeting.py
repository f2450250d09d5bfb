"""Where roads meet: ends on ends, on vertices and on interiors; vertices that roads share. Nothing is moved.

A visit is a road passing a node at a chainage. Roads meet on one level, or end to end; merely crossing they never do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from travel.survey.arrays import Bools, Floats, Ints, Objects, connect, expand
from travel.survey.lines import Lines

SHARED_M = 0.01
"""Vertices this near count as one vertex written twice (rounding of coordinates in files)."""
SAME_M = 1e-6


@dataclass(frozen=True, eq=False, kw_only=True)
class Visits:
    """Visits sorted by road and chainage, and the nodes they belong to; ``free`` marks road ends that meet nothing."""

    road: Ints
    s: Floats
    node: Ints
    node_xy: Floats
    free: Bools


@dataclass(eq=False)
class _Points:
    """Points that may meet, growing: the ends of road r are 2r and 2r + 1. Kinds: 0 end, 1 vertex, 2 projection."""

    road: Ints
    s: Floats
    kind: Ints
    left: list[Ints]
    right: list[Ints]

    def add(self, road: Ints, s: Floats, kind: Ints) -> Ints:
        """Append points and give their numbers."""
        first = len(self.road)
        self.road = np.concatenate((self.road, road))
        self.s = np.concatenate((self.s, s))
        self.kind = np.concatenate((self.kind, kind))
        return np.arange(first, len(self.road), dtype=np.int64)

    def pair(self, left: Ints, right: Ints) -> None:
        """Say that points are one."""
        self.left.append(left)
        self.right.append(right)


def meet(lines: Lines, snap_m: float) -> Visits:
    """Find where roads meet."""
    count = len(lines)
    ends = np.column_stack((np.zeros(count), lines.length)).ravel()
    points = _Points(np.repeat(np.arange(count), 2), ends, np.zeros(2 * count, dtype=np.int64), [], [])
    _ends_on_others(lines, snap_m, points)
    _ends_on_own(lines, snap_m, points)
    _shared_vertices(lines, points)
    _along_one_road(points, snap_m)
    label = connect(len(points.road), np.concatenate(points.left), np.concatenate(points.right))
    return _visits(lines, points, label, snap_m)


def _end_xy(lines: Lines) -> tuple[Floats, Floats]:
    vertex = np.column_stack((lines.start, lines.stop - 1)).ravel()
    return lines.x[vertex], lines.y[vertex]


def _ends_on_others(lines: Lines, snap_m: float, points: _Points) -> None:
    x, y = _end_xy(lines)
    where: Objects = np.asarray(shapely.points(x, y))
    end, road = lines.tree.query(where, predicate="dwithin", distance=snap_m)
    other = end // 2 != road
    end, road = end[other].astype(np.int64), road[other].astype(np.int64)
    s: Floats = np.asarray(shapely.line_locate_point(lines.plan[road], where[end]))
    _land(lines, snap_m, points, end, (road, s))


def _land(lines: Lines, snap_m: float, points: _Points, end: Ints, on: tuple[Ints, Floats]) -> None:
    """Join ends to the nearest vertex of a road within the snap, else to the point (road, chainage) itself.

    Ends join ends whatever their levels (a bridge and its approach); an end joins the inside of a road only on its own
    level.
    """
    road, s = on
    x, y = (column[end] for column in _end_xy(lines))
    below = lines.below(road, s)
    away = [np.hypot(lines.x[v] - x, lines.y[v] - y) for v in (below, below + 1)]
    vertex = np.where(away[1] < away[0], below + 1, below)
    on_vertex = np.minimum(*away) <= snap_m
    s = np.where(on_vertex, lines.s[vertex], s)
    first, last = s <= SAME_M, s >= lines.length[road] - SAME_M
    at_end = first | last
    points.pair(end[at_end], (2 * road + np.where(first, 0, 1))[at_end])
    rest = ~at_end & (lines.level[end // 2] == lines.level[road])
    kind = np.where(on_vertex, 1, 2)[rest]
    points.pair(end[rest], points.add(road[rest], s[rest], kind))


def _ends_on_own(lines: Lines, snap_m: float, points: _Points) -> None:
    """Join an end to its own road where the road comes back to it (rings, loops)."""
    segments = np.repeat(lines.stop - lines.start - 1, 2)
    end, segment = expand(np.repeat(lines.start, 2), segments)
    x, y = (column[end] for column in _end_xy(lines))
    ax, ay = lines.x[segment], lines.y[segment]
    dx, dy = lines.x[segment + 1] - ax, lines.y[segment + 1] - ay
    run2 = dx * dx + dy * dy
    share = np.clip(np.divide((x - ax) * dx + (y - ay) * dy, run2, out=np.zeros_like(run2), where=run2 > 0), 0, 1)
    away = np.hypot(ax + share * dx - x, ay + share * dy - y)
    near = np.flatnonzero(away <= snap_m)
    offset = np.where(end % 2 == 0, segment - lines.start[end // 2], lines.stop[end // 2] - 2 - segment)
    near = near[np.lexsort((offset[near], end[near]))]
    first = np.searchsorted(end[near], end[near], "left")
    back = near[offset[near] != np.arange(len(near)) - first]
    back = back[np.lexsort((away[back], end[back]))]
    _, keep = np.unique(end[back], return_index=True)
    back = back[keep]
    s = lines.s[segment[back]] + share[back] * np.sqrt(run2[back])
    _land(lines, snap_m, points, end[back], (end[back] // 2, s))


def _shared_vertices(lines: Lines, points: _Points) -> None:
    """Join vertices that lie on one another, on one level."""
    keep = np.ones(len(lines.x), dtype=bool)
    keep[1:] = (np.diff(lines.s) > 0) | (np.diff(lines.road) != 0)
    vertex = np.flatnonzero(keep)
    width = 2.0 * SHARED_M
    for shift_x in (0.0, 0.5):
        for shift_y in (0.0, 0.5):
            column = np.floor(lines.x[vertex] / width + shift_x).astype(np.int64)
            row = np.floor(lines.y[vertex] / width + shift_y).astype(np.int64)
            key = _packed(column, row, lines.level[lines.road[vertex]].astype(np.int64))
            by_key = vertex[np.argsort(key, kind="stable")]
            key.sort(kind="stable")
            same = key[1:] == key[:-1]
            _pair_vertices(lines, points, by_key[:-1][same], by_key[1:][same])


def _packed(*columns: Ints) -> Ints:
    """Give one number per row, different for different rows."""
    key = np.zeros(len(columns[0]), dtype=np.int64)
    for column in columns:
        least = int(column.min())
        key = key * (int(column.max()) - least + 1) + column - least
    return key


def _pair_vertices(lines: Lines, points: _Points, one: Ints, two: Ints) -> None:
    apart = np.hypot(lines.x[one] - lines.x[two], lines.y[one] - lines.y[two])
    away_along = (lines.road[one] != lines.road[two]) | (np.abs(lines.s[one] - lines.s[two]) > 2 * SHARED_M)
    level = lines.level[lines.road[one]] == lines.level[lines.road[two]]
    good = (apart <= SHARED_M) & away_along & level
    points.pair(_point_of(lines, points, one[good]), _point_of(lines, points, two[good]))


def _point_of(lines: Lines, points: _Points, vertex: Ints) -> Ints:
    road, s = lines.road[vertex], lines.s[vertex]
    first, last = s <= SAME_M, s >= lines.length[road] - SAME_M
    out = 2 * road + np.where(first, 0, 1)
    inner = ~(first | last)
    out[inner] = points.add(road[inner], s[inner], np.ones(int(inner.sum()), dtype=np.int64))
    return out


def _along_one_road(points: _Points, snap_m: float) -> None:
    """Make one of points on one road at one chainage, and of a projection and its neighbour within the snap."""
    order = np.lexsort((points.s, points.road))
    one, two = order[:-1], order[1:]
    gap = np.where(points.road[one] == points.road[two], points.s[two] - points.s[one], np.inf)
    projected = (points.kind[one] == 2) | (points.kind[two] == 2)
    good = (gap <= SAME_M) | (projected & (gap <= snap_m))
    points.pair(one[good], two[good])


def _visits(lines: Lines, points: _Points, label: Ints, snap_m: float) -> Visits:
    """Keep one visit where a road has several points of one node next to each other; number the nodes."""
    order = np.lexsort((points.s, points.road))
    road, s, kind, mark = points.road[order], points.s[order], points.kind[order], label[order]
    fresh = np.ones(len(order), dtype=bool)
    both_ends = (kind[1:] == 0) & (kind[:-1] == 0)
    fresh[1:] = (road[1:] != road[:-1]) | (mark[1:] != mark[:-1]) | (s[1:] - s[:-1] > 3 * snap_m)
    fresh[1:] |= both_ends & (s[1:] - s[:-1] > SAME_M)
    group = np.cumsum(fresh) - 1
    x, y, _ = lines.locate(road, s)
    best = np.lexsort((y, x, kind, group))
    _, first = np.unique(group[best], return_index=True)
    keep = best[first]
    ends_kept = np.flatnonzero((kind == 0) & ~np.isin(np.arange(len(kind)), keep))
    keep = np.unique(np.concatenate((keep, ends_kept)))
    marks, node = np.unique(mark[keep], return_inverse=True)
    by_xy = np.lexsort((y[keep], x[keep], node))
    _, first = np.unique(node[by_xy], return_index=True)
    chosen = keep[by_xy[first]]
    size = np.bincount(node, minlength=len(marks))
    end_node = np.zeros(2 * len(lines), dtype=np.int64)
    is_end = kind[keep] == 0
    end_node[order[keep[is_end]]] = node[is_end]
    return Visits(
        road=road[keep],
        s=s[keep],
        node=node.astype(np.int64),
        node_xy=np.column_stack((x[chosen], y[chosen])),
        free=size[end_node] == 1,
    )
