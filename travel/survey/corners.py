"""Corners of the network: where roads meet at an angle, and where one bends sharply; with the room around each.

A corner is directed: it is entered along one arm and left along another. Arms and rooms know no machine: an arm is
the way as drawn, sampled by distance from the corner; a room is the set of corridors (segment and half width), circles
and polygons that are free, and the outlines of what stands or falls away there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely

from travel.survey.arrays import Floats, Ints
from travel.survey.bends import find_bends
from travel.survey.survey import Survey

ARM_M = 42.0
"""How far from a corner arms and rooms reach: beyond the longest approach that is tried; no source."""
SAMPLE_M = 0.5
DIRECTION_M = 3.0
"""Length over which the direction of an arm and the sharpness of a bend are taken; common practice, no source."""
CORNER_RAD = float(np.radians(20.0))
"""A smaller change of heading within that length is no corner: the rule on width looks at it; no source."""
STRAIGHT_ON_RAD = float(np.radians(60.0))
"""An arm goes on past its junction along the straightest road that bends less than this; no source."""
END_M = 8.0
"""How far the body may stand past the end of a road, where the front axle stands at the end; no source."""
SIMPLE_M = 0.02
"""Vertices that lie within this of a straight line are left out of a corridor, which is narrowed by as much."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Room:
    """What is free and what is not round a point: capsules (ax, ay, bx, by, radius), polygons, obstacle points.

    ``obstacles`` holds (x, y, radius) on the outlines of obstacles and crests. Capsules and obstacles come by their
    distance from the point, ``near_m`` and ``solid_m``.
    """

    capsules: Floats
    near_m: Floats
    ground: tuple[shapely.Polygon, ...]
    obstacles: Floats
    solid_m: Floats


@dataclass(frozen=True, eq=False, kw_only=True)
class Corners:
    """Directed corners as columns. ``edge`` = 2·link (+ 1 against the road as drawn).

    ``edge_in``/``edge_out`` the edges driven before and after (the same one for a bend); ``at_m`` the chainage of a
    bend on its road, NaN at a node; ``half_m`` half the length over which a bend bends; ``angle_rad`` the change of
    heading, + to the left; ``road_m`` the narrower of both roads near the corner, NaN where one is not known.
    """

    edge_in: Ints
    edge_out: Ints
    node: Ints
    at_m: Floats
    x_m: Floats
    y_m: Floats
    half_m: Floats
    angle_rad: Floats
    road_m: Floats
    room: Ints
    rooms: tuple[Room, ...]
    arm_in: tuple[Floats, ...]
    arm_out: tuple[Floats, ...]
    end_in_m: Floats
    end_out_m: Floats

    def __len__(self) -> int:
        return len(self.edge_in)


@dataclass(eq=False)
class _Roads:
    """Polylines and half widths of links, made once each."""

    survey: Survey
    width: Floats
    lines: dict[int, tuple[Floats, Floats]] = field(default_factory=dict)
    leaving: dict[int, list[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        network = self.survey.network
        for link, (a, b) in enumerate(zip(network.link_a.tolist(), network.link_b.tolist(), strict=True)):
            self.leaving.setdefault(a, []).append(2 * link)
            self.leaving.setdefault(b, []).append(2 * link + 1)

    def head(self, edge: int) -> int:
        network = self.survey.network
        return int(network.link_a[edge >> 1] if edge & 1 else network.link_b[edge >> 1])

    def line(self, link: int) -> tuple[Floats, Floats]:
        """Give vertices as drawn (piece ends among them) and the half width of each part."""
        if link not in self.lines:
            self.lines[link] = self._line(link)
        return self.lines[link]

    def _line(self, link: int) -> tuple[Floats, Floats]:
        network, pieces = self.survey.network, self.survey.pieces
        own = slice(int(network.link_piece_start[link]), int(network.link_piece_stop[link]))
        road, low, high = int(network.link_road[link]), network.link_from_m[link], network.link_to_m[link]
        at, _ = self.survey.fabric.lines.substring(road, float(low), float(high))
        half = self.width[own] / 2.0
        ends = pieces.from_m[own][1:][np.diff(half) != 0.0]
        at = np.union1d(at, ends)
        x, y, _ = self.survey.fabric.lines.locate(np.full(len(at), road), at)
        middle = (at[1:] + at[:-1]) / 2.0
        piece = np.clip(np.searchsorted(pieces.from_m[own], middle, side="right") - 1, 0, len(half) - 1)
        return np.column_stack((x, y)), half[piece]

    def simple(self, link: int) -> Floats:
        """Give the corridor of a link as few capsules, each a little narrower for what was left out of the line."""
        xy, half = self.line(link)
        rows = []
        cuts = np.flatnonzero(np.diff(half) != 0.0) + 1
        for part in np.split(np.arange(len(half)), cuts):
            line = shapely.LineString(xy[part[0] : part[-1] + 2]).simplify(SIMPLE_M)
            points = shapely.get_coordinates(line)
            less = half[part[0]] - (SIMPLE_M if len(points) < len(part) + 1 else 0.0)
            rows.append(np.column_stack((points[:-1], points[1:], np.full(len(points) - 1, less))))
        return np.vstack(rows)

    def arm(self, edge: int, from_m: float | None = None) -> tuple[Floats, float]:
        """Give the way from the tail of an edge (or from a chainage on it) sampled by distance, and its length."""
        parts: list[Floats] = []
        length, first = 0.0, True
        for one in self._onward(edge):
            xy = self._directed(one, from_m if first else None)
            first = False
            parts.append(xy if not parts else xy[1:])
            length += float(np.hypot(*np.diff(xy, axis=0).T).sum())
            if length >= ARM_M:
                break
        return _sampled(np.vstack(parts)), length

    def _directed(self, edge: int, from_m: float | None) -> Floats:
        network, link = self.survey.network, edge >> 1
        if from_m is None:
            return self.line(link)[0][:: -1 if edge & 1 else 1]
        end = network.link_from_m[link] if edge & 1 else network.link_to_m[link]
        return self.survey.fabric.lines.substring(int(network.link_road[link]), from_m, float(end))[1]

    def _onward(self, edge: int) -> Iterator[int]:
        seen = set()
        while edge not in seen:
            yield edge
            seen.add(edge)
            ahead = self.direction(edge ^ 1) + np.pi
            ways = [(abs(_angle(self.direction(e) - ahead)), e) for e in self.leaving[self.head(edge)] if e != edge ^ 1]
            if not ways or min(ways)[0] > STRAIGHT_ON_RAD:
                return
            edge = min(ways)[1]

    def direction(self, edge: int) -> float:
        """Give the direction in which an edge leaves its tail, anticlockwise from east."""
        xy = self._directed(edge, None)
        point = _point_at(xy, DIRECTION_M)
        return float(np.arctan2(*(point - xy[0])[::-1]))

    def around(self, links: list[int], x: float, y: float) -> Floats:
        """Give the capsules of the links joined to some links, as far as they come near a point."""
        todo, seen, out = list(links), set(links), []
        while todo:
            link = todo.pop()
            out.append(self._capsules(link))
            for edge in (2 * link, 2 * link + 1):
                node = self.head(edge)
                near = np.hypot(*(self.survey.network.node_xy[node] - (x, y))) < ARM_M
                for more in self.leaving[node] if near else ():
                    if more >> 1 not in seen:
                        seen.add(more >> 1)
                        todo.append(more >> 1)
        return np.vstack(out)

    def _capsules(self, link: int) -> Floats:
        xy, half = self.line(link)
        rows = [self.simple(link)]
        for edge in (2 * link, 2 * link + 1):
            if len(self.leaving[self.head(edge)]) == 1:
                ends = xy[[-1, -2]] if not edge & 1 else xy[[0, 1]]
                step = ends[0] - ends[1]
                past = ends[0] + END_M * step / max(float(np.hypot(*step)), 1e-9)
                rows.append(np.array([[*ends[0], *past, half[-1 if not edge & 1 else 0]]]))
        every = np.vstack(rows)
        return every[np.isfinite(every[:, 4])]


def find_corners(survey: Survey) -> Corners:
    """Give every corner of a site's network: at nodes of three and more roads, and sharp bends."""
    made: Corners = survey.kept(("corners",), lambda: _find(survey))
    return made


def _find(survey: Survey) -> Corners:
    roads = _Roads(survey=survey, width=_clear_width(survey))
    rooms = _Rooms(survey, roads)
    rows = [*_at_nodes(roads, rooms), *_in_roads(survey, roads, rooms)]
    return Corners(
        edge_in=np.array([r[0] for r in rows], dtype=np.int64),
        edge_out=np.array([r[1] for r in rows], dtype=np.int64),
        node=np.array([r[2] for r in rows], dtype=np.int64),
        at_m=np.array([r[3] for r in rows], dtype=np.float64),
        x_m=np.array([r[4][0] for r in rows], dtype=np.float64),
        y_m=np.array([r[4][1] for r in rows], dtype=np.float64),
        half_m=np.array([r[5] for r in rows], dtype=np.float64),
        angle_rad=np.array([r[6] for r in rows], dtype=np.float64),
        road_m=np.array([r[7] for r in rows], dtype=np.float64),
        room=np.array([r[8] for r in rows], dtype=np.int64),
        rooms=tuple(rooms.made),
        arm_in=tuple(r[9][0] for r in rows),
        arm_out=tuple(r[10][0] for r in rows),
        end_in_m=np.array([r[9][1] for r in rows], dtype=np.float64),
        end_out_m=np.array([r[10][1] for r in rows], dtype=np.float64),
    )


_Row = tuple[int, int, int, float, Floats, float, float, float, int, tuple[Floats, float], tuple[Floats, float]]


def _at_nodes(roads: _Roads, rooms: _Rooms) -> Iterator[_Row]:
    network = roads.survey.network
    for node in np.flatnonzero(network.node_degree >= 3).tolist():
        leaving = roads.leaving[node]
        heading = {edge: roads.direction(edge) for edge in leaving}
        turns = [
            (back, out, _angle(heading[out] - heading[back] - np.pi)) for back in leaving for out in leaving
            if out not in (back, back ^ 1)
        ]  # fmt: skip
        turns = [turn for turn in turns if abs(turn[2]) >= CORNER_RAD]
        if not turns:
            continue
        xy = network.node_xy[node]
        room = rooms.at(xy, [edge >> 1 for edge in leaving])
        arms = {edge: roads.arm(edge) for edge in {e for turn in turns for e in turn[:2]}}
        near = {edge: _near_width(roads, edge) for edge in arms}
        for back, out, angle in turns:
            width = min(near[back], near[out], key=lambda w: -np.inf if np.isnan(w) else w)
            yield back ^ 1, out, node, np.nan, xy, 0.0, angle, width, room, arms[back], arms[out]


def _in_roads(survey: Survey, roads: _Roads, rooms: _Rooms) -> Iterator[_Row]:
    network, pieces = survey.network, survey.pieces
    for bend in find_bends(survey, DIRECTION_M, CORNER_RAD):
        link, road = bend.link, int(network.link_road[bend.link])
        x, y, _ = survey.fabric.lines.locate(np.array([road]), np.array([bend.at_m]))
        xy = np.array([float(x[0]), float(y[0])])
        room = rooms.at(xy, [link])
        ahead, behind = roads.arm(2 * link, bend.at_m), roads.arm(2 * link + 1, bend.at_m)
        piece = (pieces.road == road) & (pieces.from_m <= bend.at_m + 5.0) & (pieces.to_m >= bend.at_m - 5.0)
        width = float(roads.width[piece].min())
        yield 2 * link, 2 * link, -1, bend.at_m, xy, bend.half_m, bend.angle_rad, width, room, behind, ahead
        yield 2 * link + 1, 2 * link + 1, -1, bend.at_m, xy, bend.half_m, -bend.angle_rad, width, room, ahead, behind


class _Rooms:
    """Rooms as they are asked for, and what is free or stands in the way near a point."""

    def __init__(self, survey: Survey, roads: _Roads) -> None:
        self.made: list[Room] = []
        self._survey, self._roads = survey, roads
        layers, features = survey.site.layers, survey.fabric.features
        places = layers["places"]
        radius = places.number("turn_radius_m")
        wide = np.flatnonzero(radius > 0.0)
        xy = shapely.get_coordinates(places.geometry)[wide] if len(wide) else np.empty((0, 2))
        self._circles = np.column_stack((xy, xy, radius[wide]))
        ground = features.get("areas")
        free = layers["areas"].text("use") == "free_ground" if ground is not None else np.zeros(0, dtype=bool)
        self._free = [p for p in shapely.get_parts(ground.plan[free])] if ground is not None else []
        self._solid = [features[name] for name in ("obstacles", "edges") if name in features]

    def at(self, xy: Floats, links: list[int]) -> int:
        """Make the room at a point and give its number."""
        x, y = float(xy[0]), float(xy[1])
        here = shapely.Point(x, y)
        ground = tuple(p for p in self._free if p.distance(here) < ARM_M)
        capsules = np.vstack([self._roads.around(links, x, y), self._circles])
        near = away(capsules, x, y) - capsules[:, 4]
        order = np.argsort(near, kind="stable")
        order = order[near[order] < ARM_M]
        solid = self._solids(x, y)
        far = np.hypot(solid[:, 0] - x, solid[:, 1] - y) - solid[:, 2]
        by = np.argsort(far, kind="stable")
        self.made.append(
            Room(capsules=capsules[order], near_m=near[order], ground=ground, obstacles=solid[by], solid_m=far[by])
        )
        return len(self.made) - 1

    def _solids(self, x: float, y: float) -> Floats:
        out = [np.empty((0, 3))]
        for some in self._solid:
            near = np.flatnonzero(away(np.column_stack((some.ax, some.ay, some.bx, some.by)), x, y) < ARM_M)
            owner = np.searchsorted(some.edge_stop, near, side="right")
            for edge, feature in zip(near, owner, strict=True):
                a, b = (some.ax[edge], some.ay[edge]), (some.bx[edge], some.by[edge])
                count = max(int(np.ceil(np.hypot(b[0] - a[0], b[1] - a[1]) / 0.25)), 1) + 1
                points = np.linspace(a, b, count)
                points = points[np.hypot(*(points - (x, y)).T) < ARM_M]
                out.append(np.column_stack((points, np.full(len(points), some.spread_m[feature]))))
        return np.vstack(out)


def _clear_width(survey: Survey) -> Floats:
    """Give the clear width of every piece, gateways on it taken off."""
    width = survey.number("width_m").copy()
    pairs = survey.pairs("limits", 0.0)
    if len(pairs):
        narrow = survey.site.layers["limits"].number("width_m")[pairs.feature]
        known = ~np.isnan(narrow)
        np.minimum.at(width, pairs.piece[known], narrow[known])
    return width


def _near_width(roads: _Roads, edge: int) -> float:
    """Give the least width of a link within ten metres of an edge's tail, NaN where one is not known."""
    network, pieces, link = roads.survey.network, roads.survey.pieces, edge >> 1
    own = slice(int(network.link_piece_start[link]), int(network.link_piece_stop[link]))
    past = network.link_to_m[link] - pieces.to_m[own] if edge & 1 else pieces.from_m[own] - network.link_from_m[link]
    return float(roads.width[own][past < 10.0].min())


def away(capsules: Floats, x: float, y: float) -> Floats:
    """Give the distance of a point from the axes of capsules."""
    ax, ay, bx, by = capsules[:, 0], capsules[:, 1], capsules[:, 2], capsules[:, 3]
    dx, dy = bx - ax, by - ay
    square = dx * dx + dy * dy
    along = np.divide((x - ax) * dx + (y - ay) * dy, square, out=np.zeros_like(square), where=square > 0)
    along = np.clip(along, 0.0, 1.0)
    return np.asarray(np.hypot(x - ax - along * dx, y - ay - along * dy))


def _sampled(xy: Floats) -> Floats:
    """Give a polyline at even distances from its start, going on straight past its end."""
    step = np.hypot(*np.diff(xy, axis=0).T)
    keep = np.r_[True, step > 1e-9]
    xy, at = xy[keep], np.r_[0.0, np.cumsum(step[step > 1e-9])]
    wanted = np.arange(0.0, ARM_M + SAMPLE_M / 2, SAMPLE_M)
    last = (xy[-1] - xy[-2]) / (at[-1] - at[-2])
    past = np.maximum(wanted - at[-1], 0.0)
    return np.column_stack([np.interp(wanted, at, xy[:, k]) + past * last[k] for k in range(2)])


def _point_at(xy: Floats, distance_m: float) -> Floats:
    at = np.r_[0.0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T))]
    distance_m = min(distance_m, float(at[-1]))
    return np.array([np.interp(distance_m, at, xy[:, 0]), np.interp(distance_m, at, xy[:, 1])])


def _angle(value: float) -> float:
    return float((value + np.pi) % (2 * np.pi) - np.pi)
