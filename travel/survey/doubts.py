"""What is possible but suspicious about a network: near misses, crossings that do not meet, steps in height."""

from __future__ import annotations

import numpy as np
import shapely

from travel.domain.site import Doubt
from travel.survey.arrays import Bools, Floats, Ints, Objects, bounds, expand, group_search
from travel.survey.fabric import Fabric
from travel.survey.features import Features
from travel.survey.lines import Lines
from travel.survey.meeting import Visits

NEAR_M = 0.5
"""A road end within this of another road, or within five times the snap, was probably meant to meet it, and so was
one whose width reaches the other's; no source."""
NEAR_SNAPS = 5.0
SPREAD_M, APART_M = 0.5, 5.0
"""An overhead is at least this wide to each side; over a road further than this from its own it is drawn over both."""
TWICE_M = 1.0
"""Roads that lie on one another for less than this merely meet; no source."""
OVER_M = 10.0
"""An overhead this near a crossing on two levels is taken to be what passes over; no source."""


def near_misses(lines: Lines, visits: Visits, snap_m: float) -> list[Doubt]:
    """Name road ends that meet nothing although another road on their level is close."""
    end = np.flatnonzero(visits.free)
    vertex = np.column_stack((lines.start, lines.stop - 1)).ravel()[end]
    where: Objects = np.asarray(shapely.points(lines.x[vertex], lines.y[vertex]))
    least, half = max(NEAR_SNAPS * snap_m, NEAR_M), lines.half_width
    widest = np.maximum(half[end // 2] + half.max(initial=0.0), least)
    at, road = lines.tree.query(where, predicate="dwithin", distance=widest)
    own = end[at] // 2
    near = shapely.distance(where[at], lines.plan[road]) <= np.maximum(half[own] + half[road], least)
    good = near & (own != road) & (lines.level[own] == lines.level[road])
    return [
        _doubt(
            lines.ids[row],
            f"{'end' if last else 'start'} lies {away:.2f} m from road {lines.ids[other]} but does "
            f"not meet it (snap_m {snap_m:g})",
        )
        for row, last, other, away in zip(
            own[good],
            (end[at] % 2)[good],
            road[good],
            np.asarray(shapely.distance(where[at], lines.plan[road]))[good],
            strict=True,
        )
    ]


def short_roads(lines: Lines, snap_m: float) -> list[Doubt]:
    """Name roads no longer than the snap."""
    return [
        _doubt(lines.ids[row], f"{lines.length[row]:.3f} m long, no longer than snap_m {snap_m:g}")
        for row in np.flatnonzero(lines.length <= snap_m)
    ]


def partial_heights(lines: Lines) -> list[Doubt]:
    """Name roads with heights at some vertices only: those heights are not used."""
    known = np.add.reduceat(np.isfinite(lines.z).astype(np.int64), lines.start)
    count = lines.stop - lines.start
    return [
        _doubt(lines.ids[row], f"only {known[row]} of {count[row]} vertices have a height: none is used", "geometry")
        for row in np.flatnonzero((known > 0) & (known < count))
    ]


def crossings(lines: Lines, visits: Visits, snap_m: float) -> list[Doubt]:
    """Name roads that cross on one level without a vertex they share."""
    one, two = lines.tree.query(lines.plan, predicate="crosses")
    good = (one < two) & (lines.level[one] == lines.level[two])
    one, two = one[good].astype(np.int64), two[good].astype(np.int64)
    points, pair = shapely.get_parts(shapely.intersection(lines.plan[one], lines.plan[two]), return_index=True)
    only = shapely.get_type_id(points) == 0
    points, pair = points[only], pair[only]
    one, two = one[pair], two[pair]
    met = _meet_at(lines, visits, (one, two), points, 3 * snap_m + 0.01)
    return [
        _doubt(
            lines.ids[a],
            f"crosses road {lines.ids[b]} at x {shapely.get_x(p):.1f}, y {shapely.get_y(p):.1f} on one "
            "level without meeting it",
        )
        for a, b, p in zip(one[~met], two[~met], points[~met], strict=True)
    ] + _self_crossings(lines, visits)


def drawn_twice(lines: Lines) -> list[Doubt]:
    """Name roads of one level that lie on one another for some length: one of them was drawn twice."""
    pairs = [lines.tree.query(lines.plan, predicate=how) for how in ("overlaps", "contains")]
    one, two = np.concatenate(pairs, axis=1).astype(np.int64)
    good = (one != two) & (lines.level[one] == lines.level[two])
    once = np.unique(np.sort(np.column_stack((one[good], two[good])), axis=1), axis=0)
    shared = np.asarray(shapely.length(shapely.intersection(lines.plan[once[:, 0]], lines.plan[once[:, 1]])))
    return [
        _doubt(lines.ids[a], f"lies on road {lines.ids[b]} for {length:.1f} m: drawn twice?")
        for (a, b), length in zip(once, shared, strict=True)
        if length > TWICE_M
    ]


def named_elsewhere(lines: Lines, features: Features) -> dict[int, str]:
    """Name, by feature, the roads it is drawn over although it names another: headroom is not asked there."""
    row = {name: number for number, name in enumerate(lines.ids)}
    out: dict[int, str] = {}
    for feature, name in enumerate(features.road):
        own = row.get(name)
        if own is None:
            continue
        spread = max(float(features.spread_m[feature]), SPREAD_M)
        footprint = shapely.buffer(features.plan[feature], spread)
        near = lines.tree.query(footprint, predicate="intersects")
        under = {int(k): shapely.intersection(lines.plan[k], footprint) for k in near if k != own}
        meets = sorted(
            lines.ids[k]
            for k, part in under.items()
            if lines.level[k] == lines.level[own]
            and float(shapely.distance(shapely.points(shapely.get_coordinates(part)), lines.plan[own]).max()) > APART_M
        )
        if meets:
            over = ", ".join(meets)
            out[feature] = f"names road {name} and is drawn over {over} too: headroom under it is asked on {name} alone"
    return out


def passed_under(lines: Lines, over: Features | None) -> list[Doubt]:
    """Name roads that pass over another where no overhead is drawn: headroom under them is asked of nothing."""
    one, two = lines.tree.query(lines.plan, predicate="crosses")
    good = lines.level[one] > lines.level[two]
    one, two = one[good].astype(np.int64), two[good].astype(np.int64)
    points, pair = shapely.get_parts(shapely.intersection(lines.plan[one], lines.plan[two]), return_index=True)
    only = shapely.get_type_id(points) == 0
    out = []
    for point, a, b in zip(points[only], one[pair[only]], two[pair[only]], strict=True):
        near = over is not None and (shapely.distance(over.plan, point) - over.spread_m <= OVER_M).any()
        if not near:
            place = f"x {shapely.get_x(point):.1f}, y {shapely.get_y(point):.1f}"
            message = (
                f"passes over road {lines.ids[b]} at {place} where no overhead is drawn: no headroom is asked there"
            )
            out.append(_doubt(lines.ids[a], message))
    return out


def _meet_at(lines: Lines, visits: Visits, roads: tuple[Ints, Ints], points: Objects, within: float) -> Bools:
    """Say whether both roads visit one node near a point."""
    start, stop = bounds(visits.road, len(lines))
    count = len(visits.node_xy)
    near: list[Ints] = []
    for road in roads:
        s: Floats = np.asarray(shapely.line_locate_point(lines.plan[road], points), dtype=np.float64)
        first = group_search(visits.s, start[road], stop[road], s - within, "left")
        last = group_search(visits.s, start[road], stop[road], s + within, "right")
        point, visit = expand(first, np.maximum(last - first, 0))
        near.append((point * count + visits.node[visit]).astype(np.int64))
    met = np.zeros(len(points), dtype=bool)
    met[near[0][np.isin(near[0], near[1])] // count] = True
    return met


def _self_crossings(lines: Lines, visits: Visits) -> list[Doubt]:
    out = []
    for row in np.flatnonzero(~shapely.is_simple(lines.plan)):
        nodes = visits.node[visits.road == row]
        if len(np.unique(nodes)) == len(nodes):
            out.append(_doubt(lines.ids[row], "crosses itself without meeting"))
    return out


def steps(fabric: Fabric, tolerance_m: float) -> list[Doubt]:
    """Name joins where the heights of roads differ by more than the tolerance."""
    lines, links, heights, row = fabric.lines, fabric.links, fabric.heights, fabric.link_row
    link = np.tile(np.arange(len(links)), 2)
    s = np.concatenate((links.from_m, links.to_m))
    node = np.concatenate((links.a, links.b))
    height = heights.at(row[link], fabric.chains.position(links, link, s))
    known = np.isfinite(height)
    node, height, link = node[known], height[known], link[known]
    order = np.argsort(node, kind="stable")
    node, height, road = node[order], height[order], links.road[link[order]]
    at, first = np.unique(node, return_index=True)
    if not len(at):
        return []
    rise = np.maximum.reduceat(height, first) - np.minimum.reduceat(height, first)
    out = []
    for k in np.flatnonzero(rise > tolerance_m):
        stop = first[k + 1] if k + 1 < len(first) else len(node)
        names = sorted({lines.ids[r] for r in road[first[k] : stop]})
        out.append(
            _doubt(
                names[0],
                f"heights differ by {rise[k]:.2f} m where it meets {', '.join(names[1:]) or 'itself'}",
                "geometry",
            )
        )
    return out


def _doubt(road: str, message: str, field: str = "") -> Doubt:
    return Doubt(file="site", layer="roads", feature=road, field=field, message=message)
