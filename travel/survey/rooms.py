"""Room round a point of the network, and the ways that lead there: corridors of the roads, and what stands in them.

Arms and rooms know no machine: an arm is the way as drawn, sampled by distance; a room is the set of corridors (segment
and half width), circles and polygons that are free, and the outlines of what stands or falls away there.

A corridor goes on past its end by half its width, as one road bends round, but no further than the road goes on as
wide: past the mouth of a wide road lies the far side of the narrow one it meets, and a gateway is as wide as it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely

from travel.survey.arrays import Bools, Floats, Ints, expand
from travel.survey.corridors import SIMPLE_M, Capsules, LinkLines, link_capsules, link_lines
from travel.survey.narrow import Narrows
from travel.survey.survey import Survey

ARM_M = 42.0
"""How far from a corner arms and rooms reach: beyond the longest approach that is tried; no source."""
STRAIGHT_ON_RAD = float(np.radians(60.0))
"""An arm goes on past its junction along the straightest road that bends less than this; no source."""
AS_WIDE_M = SIMPLE_M + 1e-6
"""A corridor that is narrower by no more than this goes on as wide."""
GOES_ON_RAD = float(np.radians(100.0))
"""Where another road goes on from an end with less change of heading, a road that leads back does not; no source."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Room:
    """What is free and what is not round a point: capsules (ax, ay, bx, by, radius, reach past a, past b), polygons,
    obstacle points.

    ``obstacles`` holds (x, y, radius) on the outlines of obstacles and crests. Capsules and obstacles come by their
    distance from the point, ``near_m`` and ``solid_m``. ``link`` by capsule: the link it is of, −1 for a circle;
    ``past``: where it goes on past the end of a road, where nobody said the ground is free for more than to stop there.
    """

    capsules: Floats
    link: Ints
    past: Bools
    near_m: Floats
    ground: tuple[shapely.Polygon, ...]
    obstacles: Floats
    solid_m: Floats


@dataclass(eq=False)
class Roads:
    """Lines and corridors of links, and which goes on from which; ``width`` of the road by piece, without what narrows
    it."""

    survey: Survey
    width: Floats
    narrow: Narrows
    heading: Floats
    leaving: dict[int, list[int]] = field(default_factory=dict)
    _on: dict[int, int | None] = field(default_factory=dict)
    _followed: set[int] = field(default_factory=set)
    _level: Floats = field(init=False)
    _ends: list[tuple[int, int]] = field(init=False)
    _node_xy: list[tuple[float, float]] = field(init=False)

    def __post_init__(self) -> None:
        network = self.survey.network
        self._level = np.nan_to_num(self.survey.site.layers["roads"].number("level"))[np.asarray(network.link_road)]
        self._ends = list(zip(network.link_b.tolist(), network.link_a.tolist(), strict=True))
        self._node_xy = [(x, y) for x, y in network.node_xy.tolist()]
        for link, (b, a) in enumerate(self._ends):
            self.leaving.setdefault(a, []).append(2 * link)
            self.leaving.setdefault(b, []).append(2 * link + 1)

    def head(self, edge: int) -> int:
        """Give the node at the head of an edge."""
        return self._ends[edge >> 1][edge & 1]

    @cached_property
    def lines(self) -> LinkLines:
        """The lines of all links."""
        return link_lines(self.survey, self.width, self.narrow)

    @cached_property
    def capsules(self) -> Capsules:
        """The corridors of all links."""
        return link_capsules(self.survey, self.lines)

    def arm_links(self, edge: int, from_m: float | None = None) -> Iterator[int]:
        """Give the links of the way from the tail of an edge (or from a chainage on it), as far as arms reach."""
        network, length = self.survey.network, 0.0
        for one in self.onward(edge):
            yield one >> 1
            low, high = float(network.link_from_m[one >> 1]), float(network.link_to_m[one >> 1])
            whole = from_m is None or one != edge
            length += high - low if whole or from_m is None else from_m - low if one & 1 else high - from_m
            if length >= ARM_M:
                return

    def onward(self, edge: int) -> Iterator[int]:
        """Give an edge and those on from it: along the straightest road, or the only one."""
        seen = set[int]()
        one: int | None = edge
        while one is not None and one not in seen:
            yield one
            seen.add(one)
            if one not in self._on:
                self._on[one] = self._next(one)
            one = self._on[one]

    def _next(self, edge: int) -> int | None:
        ahead = self.heading[edge ^ 1] + np.pi
        ways = [
            (abs(angle_between(self.heading[e] - ahead)), e) for e in self.leaving[self.head(edge)] if e != edge ^ 1
        ]
        return None if not ways or (len(ways) > 1 and min(ways)[0] > STRAIGHT_ON_RAD) else min(ways)[1]

    def around(self, links: list[int], x: float, y: float) -> tuple[Floats, Ints, Bools]:
        """Give the capsules of the links joined to some links on their own level, as far as they come near a point,
        the link of each, and which go on past the end of a road."""
        joined = self.joined(links, x, y)
        for link in joined:
            self._follow(link)
        capsules, which = self.capsules, np.array(joined)
        owner, rows = expand(capsules.start[which], capsules.stop[which] - capsules.start[which])
        known = np.isfinite(capsules.rows[rows, 4])
        owner, rows = owner[known], rows[known]
        return self._corridors[rows], which[owner], capsules.past[rows]

    def joined(self, links: list[int], x: float, y: float) -> list[int]:
        """Give some links and those joined to them on their own level, by way of places near a point."""
        todo, seen, out = list(links), set(links), []
        same = {self.level(link) for link in links}
        while todo:
            link = todo.pop()
            out.append(link)
            for node in self._ends[link]:
                near = math.hypot(self._node_xy[node][0] - x, self._node_xy[node][1] - y) < ARM_M
                for more in self.leaving[node] if near else ():
                    if more >> 1 not in seen and self.level(more >> 1) in same:
                        seen.add(more >> 1)
                        todo.append(more >> 1)
        return out

    def level(self, link: int) -> float:
        """Give the level of a link's road, 0 where none is stated."""
        return float(self._level[link])

    def levels_at(self, node: int) -> set[float]:
        """Give the levels of the roads that meet at a node."""
        return {self.level(edge >> 1) for edge in self.leaving.get(node, ())}

    @cached_property
    def _corridors(self) -> Floats:
        """The capsules of all links with how far they go on past their ends (ax, ay, bx, by, radius, reach past a, past
        b), which holds for those that were followed."""
        return np.column_stack((self.capsules.rows, np.full((len(self.capsules.rows), 2), np.inf)))

    @cached_property
    def _along(self) -> tuple[list[bool], list[float], list[float]]:
        """Which capsules go on past the end of a road, length and half width of all."""
        rows = self.capsules.rows
        return self.capsules.past.tolist(), np.hypot(*(rows[:, 2:4] - rows[:, :2]).T).tolist(), rows[:, 4].tolist()

    def _follow(self, link: int) -> None:
        """Look how far each corridor of a link goes on past its beginning and end, once; ∞ where the road goes on as
        wide."""
        if link in self._followed:
            return
        self._followed.add(link)
        past, length, half = self._along
        own = [row for row in range(int(self.capsules.start[link]), int(self.capsules.stop[link])) if not past[row]]
        for reach, edge, rows in ((5, 2 * link + 1, own[::-1]), (6, 2 * link, own)):
            on, mine = [length[row] for row in rows], [half[row] for row in rows]
            for number, wide in enumerate(mine, start=1):
                next_on = number < len(mine) and mine[number] >= wide - AS_WIDE_M and on[number] >= wide
                if not next_on and not math.isnan(wide):
                    found = self._follows(on[number:], mine[number:], (edge, wide, wide))
                    self._corridors[rows[number - 1], reach] = found

    def _follows(self, length: list[float], half: list[float], asked: tuple[int, float, float]) -> float:
        """Give how far parts of a road that follow each other, and what goes on from the head of their edge, are half
        as wide as asked; ∞ where that is as far as asked, too. ``asked``: the edge, half the width and how far [m]."""
        (edge, half_m, within_m), on = asked, 0.0
        for step, wide in zip(length, half, strict=True):
            if not wide >= half_m - AS_WIDE_M:
                return on
            on += step
            if on >= within_m:
                return math.inf
        return on + self._goes_on(edge, half_m, within_m - on)

    def _goes_on(self, edge: int, half_m: float, within_m: float) -> float:
        """Give how far from its head an edge goes on that is half as wide as asked; ∞ where as far as asked."""
        ways = [one for one in self.leaving[self.head(edge)] if one != edge ^ 1]
        back = self.heading[edge ^ 1] + np.pi
        ahead = [one for one in ways if abs(angle_between(self.heading[one] - back)) <= GOES_ON_RAD]
        most = 0.0 if ways else math.inf
        for one in ahead or ways:
            length, half = self._parts(one >> 1)
            if one & 1:
                length, half = length[::-1], half[::-1]
            if sum(length) > 0.0:
                most = max(most, self._follows(length, half, (one, half_m, within_m)))
        return most

    def _parts(self, link: int) -> tuple[list[float], list[float]]:
        """Give length and half width of the parts of a link."""
        start, stop, length, half = self._of_parts
        own = slice(start[link] - link, stop[link] - link - 1)
        return length[own], half[own]

    @cached_property
    def _of_parts(self) -> tuple[list[int], list[int], list[float], list[float]]:
        """First vertex of every link and the one past its last; length and half width of all parts, link by link."""
        lines = self.lines
        part = np.flatnonzero(np.diff(lines.link) == 0)
        length = np.hypot(*(lines.xy[part + 1] - lines.xy[part]).T)
        return lines.start.tolist(), lines.stop.tolist(), length.tolist(), lines.half_m.tolist()

    def past_ends(self, link: int) -> Floats:
        """Give the capsules past the ends of a link where no other one goes on (ax, ay, bx, by, radius)."""
        rows, past = self.capsules.of(link)
        return rows[past & np.isfinite(rows[:, 4])]


class Rooms:
    """Rooms as they are asked for, and what is free or stands in the way near a point."""

    def __init__(self, survey: Survey, roads: Roads) -> None:
        self._made: dict[tuple[float, float, tuple[int, ...]], Room] = {}
        self._survey, self._roads = survey, roads
        layers, features = survey.site.layers, survey.fabric.features
        places = layers["places"]
        radius = places.number("turn_radius_m")
        wide = np.flatnonzero(radius > 0.0)
        xy = shapely.get_coordinates(places.geometry)[wide] if len(wide) else np.empty((0, 2))
        self._circles = np.column_stack((xy, xy, radius[wide], np.full((len(wide), 2), np.inf)))
        self._levels = [roads.levels_at(survey.network.place_node[places.ids[row]]) for row in wide.tolist()]
        ground = features.get("areas")
        free = layers["areas"].text("use") == "free_ground" if ground is not None else np.zeros(0, dtype=bool)
        self._free = [p for p in shapely.get_parts(ground.plan[free])] if ground is not None else []
        self._solid = [features[name] for name in ("obstacles", "edges") if name in features]
        self._trees = [shapely.STRtree(some.plan) for some in self._solid]

    def at(self, xy: tuple[float, float], links: list[int]) -> Room:
        """Give the room at a point, reached along some links: on another level there is another one above it."""
        key = (*xy, tuple(links))
        if key not in self._made:
            self._made[key] = self._make(*xy, links)
        return self._made[key]

    def _make(self, x: float, y: float, links: list[int]) -> Room:
        here = shapely.Point(x, y)
        ground = tuple(p for p in self._free if p.distance(here) < ARM_M)
        corridors, link, past = self._roads.around(links, x, y)
        levels = {self._roads.level(one) for one in links}
        circles = self._circles[np.array([bool(levels & own) for own in self._levels], dtype=bool)]
        capsules = np.vstack([corridors, circles])
        link = np.concatenate([link, np.full(len(circles), -1)])
        past = np.concatenate([past, np.zeros(len(circles), dtype=bool)])
        near = away(capsules, x, y) - capsules[:, 4]
        order = np.argsort(near, kind="stable")
        order = order[near[order] < ARM_M]
        solid = self._solids(x, y)
        far = np.hypot(solid[:, 0] - x, solid[:, 1] - y) - solid[:, 2]
        by = np.argsort(far, kind="stable")
        return Room(
            capsules=capsules[order],
            link=link[order],
            past=past[order],
            near_m=near[order],
            ground=ground,
            obstacles=solid[by],
            solid_m=far[by],
        )

    def _solids(self, x: float, y: float) -> Floats:
        out, here = [np.empty((0, 3))], shapely.Point(x, y)
        for number, some in enumerate(self._solid):
            # an outline alone may lie beyond all that is swept
            round_it = some.plan[self._trees[number].query(here, predicate="covered_by")]
            out.extend(np.array([[x, y, shapely.distance(shapely.boundary(one), here)]]) for one in round_it)
            near = np.flatnonzero(away(np.column_stack((some.ax, some.ay, some.bx, some.by)), x, y) < ARM_M)
            owner = np.searchsorted(some.edge_stop, near, side="right")
            for edge, feature in zip(near, owner, strict=True):
                a, b = (some.ax[edge], some.ay[edge]), (some.bx[edge], some.by[edge])
                count = max(int(np.ceil(np.hypot(b[0] - a[0], b[1] - a[1]) / 0.25)), 1) + 1
                points = np.linspace(a, b, count)
                points = points[np.hypot(*(points - (x, y)).T) < ARM_M]
                out.append(np.column_stack((points, np.full(len(points), some.spread_m[feature]))))
        return np.vstack(out)


def away(capsules: Floats, x: float, y: float) -> Floats:
    """Give the distance of a point from the axes of capsules."""
    ax, ay, bx, by = capsules[:, 0], capsules[:, 1], capsules[:, 2], capsules[:, 3]
    dx, dy = bx - ax, by - ay
    square = dx * dx + dy * dy
    along = np.divide((x - ax) * dx + (y - ay) * dy, square, out=np.zeros_like(square), where=square > 0)
    along = np.clip(along, 0.0, 1.0)
    return np.asarray(np.hypot(x - ax - along * dx, y - ay - along * dy))


def angle_between(value: float) -> float:
    """Give an angle brought to −π…π."""
    return float((value + np.pi) % (2 * np.pi) - np.pi)
