"""What a rigid machine sweeps in a corner, and how far that sticks out of the room there: many corners at once.

The middle of the front axle follows the centrelines, cut short by two arcs (one, between straight arms) that begin and
end at the same distance from the corner. A point of the body's middle follows it as a tractrix: the rear axle's middle
in front steer, the middle between the axles in all-wheel steer with equal angles, so that the outer rear kick is in it.
Every cut on a ladder whose arcs are no tighter than the lock allows is tried, the shortest first; the ladder does not
depend on the machine, so that a machine with a greater radius chooses among fewer ways. In bends there are two more:
one begins and ends with the bend, and one meets the arcs of the next bend half way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.corridors import Corridors
from travel.checks.mover import Mover
from travel.checks.track import (
    Path,
    arc,
    at_distance,
    between,
    drawn_after,
    headings,
    joint,
    points_swept,
    step_on,
    swept_between,
)
from travel.survey.corners import Corners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LADDER_M = np.concatenate((np.arange(0.0, 6.0, 0.5), np.arange(6.0, 12.0, 1.0), np.arange(12.0, 25.0, 2.0)))
"""Distances from the corner at which the arcs may begin; common practice, no source."""
RUNGS = len(LADDER_M) + 2
PATIENCE = 4
"""Cuts tried in vain before the best one is kept: a longer cut then only goes further inside."""
NEAR_M = 15.0
CHUNK = 256
LEAD, ARC, TAIL, SIDE = 5, 8, 12, 14
"""Positions before, in each arc and after it, and points on each side of the body; refined round the worst."""
FINE = 9
CLOSE = 4
"""So many times as many positions where nothing else is looked at any more: what lies between them is within 0.02 m."""
ROUND_STEPS = 6
"""So many times as many positions in each arc where two corners are driven as one."""
FEW = np.array([0, SIDE - 1, SIDE, 2 * SIDE - 1])
"""The corners of the body among its points, one side after the other."""
MIDDLE = SIDE // 2
HALVES = np.array([0, MIDDLE, SIDE - 1, SIDE, SIDE + MIDDLE, 2 * SIDE - 1])
"""Corners of the body and the middles of its sides among its points."""
BETWEEN = np.array([np.linspace(low + 1, high - 1, MIDDLE - 1).astype(np.int64) for low, high in (
    (0, MIDDLE), (MIDDLE, SIDE - 1), (SIDE, SIDE + MIDDLE), (SIDE + MIDDLE, 2 * SIDE - 1))])  # fmt: skip
"""Points between these, half side by half side; of a half with fewer one comes twice."""
SURE_M = 1e-9
"""More than rounding makes of a distance."""
TOWED_DENSITY = 3
"""A combination goes on for longer behind a corner: so many times as many positions."""
STEPS = 3
"""Parts each step of an arc is driven in for the heading alone: whole steps as chords are up to 0.08 m too far in."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Swept:
    """Per corner: how far the swept area sticks out of the room (negative: room left), and the cut it holds for.

    Infinite where no cut can be driven. ``least_m``: by cut of the ladder what it sticks out at least, as far as it was
    looked at, else −∞.
    """

    outside_m: Floats
    cut_m: Floats
    radius_m: Floats
    least_m: Floats


@dataclass(frozen=True, eq=False, kw_only=True)
class Driven:
    """How a mover follows the cuts of some corners of a yard; ``reach_m``: how far from its corner anything is."""

    rows: Ints
    path: Path
    mover: Mover
    reach_m: Floats

    def some(self, which: Ints) -> Driven:
        """Give some of them."""
        return replace(self, rows=self.rows[which], path=self.path.some(which), reach_m=self.reach_m[which])


def sweep(corners: Corners, rows: Ints, mover: Mover, enough_m: Floats | float) -> Swept:
    """Give what some corners ask of a machine; cuts are tried until the area lies ``enough_m`` inside the room: of all
    corners, or by corner of the site."""
    floor = -float(np.max(enough_m))
    enough = np.full(len(rows), enough_m) if np.ndim(enough_m) == 0 else np.asarray(enough_m)[rows]
    out = Swept(
        outside_m=np.full(len(rows), np.inf),
        cut_m=np.full(len(rows), np.nan),
        radius_m=np.full(len(rows), np.nan),
        least_m=np.full((len(rows), RUNGS), -np.inf),
    )
    size = np.array([np.searchsorted(corners.room(row).near_m, NEAR_M) for row in rows.tolist()], dtype=np.int64)
    order = np.argsort(size, kind="stable")
    for start in range(0, len(rows), CHUNK):
        mine = order[start : start + CHUNK]
        _sweep_some(corners, rows[mine], mover, (enough[mine], floor), out, mine)
    return out


def _sweep_some(
    corners: Corners, rows: Ints, mover: Mover, asked: tuple[Floats, float], out: Swept, places: Ints
) -> None:
    (enough_m, floor), yard, cuts = asked, Yard(corners, rows), rungs(corners, rows)
    radius = yard.least_radius(cuts)
    allowed = (radius >= mover.least_radius_m - 1e-9) & (corners.half_m[rows][:, None] <= cuts + 1e-9)
    rung, count = np.argsort(~allowed, axis=1, kind="stable"), allowed.sum(axis=1)
    tried, worse = np.zeros((2, len(rows)), dtype=np.int64)
    best, cut = np.full(len(rows), np.inf), np.full(len(rows), -1, dtype=np.int64)
    left, ahead = count > 0, 1
    while left.any():
        now = np.flatnonzero(left)
        each, step = np.nonzero(np.arange(ahead) < np.minimum(PATIENCE - worse, count - tried)[now][:, None])
        row = now[each]
        number = rung[row, tried[row] + step]
        ways = yard.driven(row, cuts[row, number], mover)
        least = yard.few(ways, floor) if ahead > 1 else np.full(len(row), -np.inf)
        near = np.flatnonzero(least < best[row])
        if len(near):  # what one cut of a corner leaves inexact below the floor for another is enough there anyway
            least[near] = yard.whole(ways.some(near), (False, floor))
        for turn in range(ahead):
            some = np.flatnonzero((step == turn) & left[row])
            now, found = row[some], least[some]
            out.least_m[places[now], number[some]] = found
            better = found < best[now]
            worse[now] = np.where(better, 0, worse[now] + 1)
            best[now] = np.where(better, found, best[now])
            cut[now] = np.where(better, number[some], cut[now])
            tried[now] += 1
            left[now] = (best[now] > -enough_m[now]) & (worse[now] < PATIENCE) & (tried[now] < count[now])
        ahead = PATIENCE
    known = np.flatnonzero(cut >= 0)
    if len(known):
        best[known] = yard.outside(known, cuts[known, cut[known]], mover, floor)
    out.outside_m[places] = best
    out.cut_m[places[known]] = cuts[known, cut[known]]
    out.radius_m[places[known]] = radius[known, cut[known]]


def rungs(corners: Corners, rows: Ints) -> Floats:
    """Give the cuts of some corners that are tried (p, cuts), the shortest first [m]; nothing is driven at 0."""
    own = np.column_stack((corners.half_m[rows], corners.meet_m[rows]))
    own[own > LADDER_M[-1]] = 0.0
    return np.sort(np.concatenate((np.tile(LADDER_M, (len(rows), 1)), own), axis=1), axis=1)


class Yard:
    """Some corners with their arms and rooms side by side."""

    def __init__(self, corners: Corners, rows: Ints) -> None:
        self.arm_in, self.end_in = corners.arms_in(rows)
        self.arm_out, self.end_out = corners.arms_out(rows)
        self.rooms = [corners.room(row) for row in rows.tolist()]

    def least_radius(self, cuts: Floats) -> Floats:
        """Give the tighter radius of the two arcs of every cut (p, cuts); no arc at all is a sharp corner."""
        count = len(self.arm_in)
        arcs = self._arcs(np.repeat(np.arange(count), cuts.shape[1]), cuts.ravel())
        chord = np.hypot(*np.moveaxis(arcs[:, :2], -1, 0))
        bend = np.abs(np.sin(arcs[:, 2, :]))
        with np.errstate(divide="ignore", invalid="ignore"):
            radius = np.where(bend < 1e-9, np.inf, chord / (2.0 * bend)).min(axis=1).reshape(cuts.shape)
        return np.asarray(np.where(cuts == 0.0, 0.0, radius))

    def _arcs(self, rows: Ints, cut: Floats) -> Floats:
        """Give both arcs of each cut: (p, 3, 2): the two chords, then the half angles each turns through."""
        start, along = at_distance(self.arm_in, cut, rows)
        end, leaving = at_distance(self.arm_out, cut, rows)
        middle = joint(start, -along, end, leaving)
        chords = np.stack([middle - start, end - middle], axis=1)
        first = between(-along, chords[:, 0])
        second = between(chords[:, 1], leaving)
        return np.concatenate([chords, np.stack([first, second], axis=1)[:, None]], axis=1)

    def path(self, rows: Ints, cut: Floats, mover: Mover, density: int = 1) -> Path:
        """Give the way of the front axle and the heading of the body along it."""
        density = density if mover.towed is None else density * TOWED_DENSITY
        lead = cut[:, None] + np.linspace(mover.lead_m, 0.0, LEAD * density)
        before = self._on(self.arm_in, rows, np.minimum(lead, np.maximum(self.end_in[rows], cut)[:, None]))
        tail_m = mover.trail_m + mover.behind_m
        tail = cut[:, None] + np.linspace(0.0, tail_m, TAIL * density)
        after = self._on(self.arm_out, rows, np.minimum(tail, np.maximum(self.end_out[rows], cut)[:, None]))
        arcs = self._arcs(rows, cut)
        share = np.linspace(0.0, 1.0, (ARC * density - 1) * STEPS + 1)[1:]
        one = arc(before[:, -1], arcs[:, 0], arcs[:, 2, 0], share)
        two = arc(one[:, -1], arcs[:, 1], arcs[:, 2, 1], share)
        xy = np.concatenate([before, one, two, after[:, 1:]], axis=1)
        _, outward = at_distance(self.arm_in, np.minimum(lead[:, 0], np.maximum(self.end_in[rows], cut)), rows)
        heading = headings(xy, np.arctan2(-outward[:, 1], -outward[:, 0]), mover.trail_m)
        keep = np.ones(xy.shape[1], dtype=bool)
        keep[before.shape[1] : before.shape[1] + 2 * len(share)] = np.tile(np.arange(1, len(share) + 1) % STEPS == 0, 2)
        return Path(xy=xy[:, keep], heading=heading[:, keep], drawn=drawn_after(xy, heading, keep, mover))

    def on_arm(self, row: int, distance: Floats, *, into: bool) -> Floats:
        """Give positions at distances from one corner on the way to it or on from it (n, 2)."""
        return np.asarray(self._on(self.arm_in if into else self.arm_out, np.array([row]), distance[None])[0])

    def arcs_driven(self, row: int, cuts: Floats) -> Floats:
        """Give positions on both arcs of one corner, without their beginning (n, 2); ``cuts`` by row."""
        arcs = self._arcs(np.array([row]), cuts[[row]])
        share = np.linspace(0.0, 1.0, ARC * ROUND_STEPS)[1:]
        one = arc(self.on_arm(row, cuts[[row]], into=True), arcs[:, 0], arcs[:, 2, 0], share)
        two = arc(one[:, -1], arcs[:, 1], arcs[:, 2, 1], share)
        return np.concatenate((one[0], two[0]))

    @staticmethod
    def followed(xy: Floats, ahead: Floats, mover: Mover) -> Path:
        """Give how a machine follows one way of its front axle (n, 2) that it comes to in line, heading ``ahead``."""
        heading = headings(xy[None], np.array([np.arctan2(ahead[1], ahead[0])]), mover.trail_m)
        every = np.ones(len(xy), dtype=bool)
        return Path(xy=xy[None], heading=heading, drawn=drawn_after(xy[None], heading, every, mover))

    def _on(self, arms: Floats, rows: Ints, distance: Floats) -> Floats:
        low, run, part = step_on(arms, distance, rows[:, None])
        return np.asarray(low + part * run)

    def driven(self, rows: Ints, cut: Floats, mover: Mover, density: int = 1) -> Driven:
        """Give how a mover follows the cuts of some corners."""
        return Driven(rows=rows, path=self.path(rows, cut, mover, density), mover=mover, reach_m=_reach(cut, mover))

    def outside(self, rows: Ints, cut: Floats, mover: Mover, floor: float) -> Floats:
        """Give how far the swept area sticks out, positions close together, and the worst point looked at closer.

        Below ``floor`` nothing needs to be exact as long as something lies above it.
        """
        return self.whole(self.driven(rows, cut, mover, CLOSE), (True, floor))

    def few(self, ways: Driven, floor: float) -> Floats:
        """Give how far a few points stick out at some positions: no more than all does; ``floor`` as in ``outside``."""
        path = ways.path
        some = points_swept(path.xy[:, ::2], path.heading[:, ::2], body_points(ways.mover)[FEW])
        return np.asarray(self.beyond(ways.rows, some, ways.reach_m, floor).max(axis=(1, 2)))

    def whole(self, ways: Driven, how: tuple[bool, float]) -> Floats:
        """Give the same over every point of all that moves; ``how``: look closer at the worst, and ``floor``."""
        rows, path, drawn = ways.rows, ways.path, ways.mover.drawn()
        own = self._whole(rows, path, ways.mover, ways.reach_m, how)
        if drawn is None or path.drawn is None:
            return own
        return np.maximum(own, self._whole(rows, path.drawn, drawn, ways.reach_m, how))

    def _whole(self, rows: Ints, path: Path, mover: Mover, reach: Floats, how: tuple[bool, float]) -> Floats:
        body, (closer, floor) = body_points(mover), how
        found = self.of_body(rows, path, body, reach, floor)
        worst = found.max(axis=(1, 2))
        if closer:
            at = found.reshape(len(rows), -1).argmax(axis=1)
            near = self._closer(path, body, at // len(body), at % len(body))
            worst = np.maximum(worst, self.beyond(rows, near, reach, floor).max(axis=(1, 2)))
        for number in np.flatnonzero(self._solid[rows]).tolist():
            room = self.rooms[rows[number]]
            solid = room.obstacles[: np.searchsorted(room.solid_m, reach[number])]
            if len(solid):
                worst[number] = max(worst[number], hit(solid, path.xy[number], path.heading[number], mover))
        return np.asarray(worst)

    def of_body(self, rows: Ints, path: Path, body: Floats, reach: Floats, floor: float) -> Floats:
        """Give how far points of the body stick out at every position (p, n, k); −∞ for those that surely do less than
        others."""
        some = points_swept(path.xy, path.heading, body[HALVES])
        found, most = self.corridors.of_lines(rows, some, reach, floor, 3)
        out = np.full((*path.heading.shape, len(body)), -np.inf)
        out[:, :, HALVES] = found
        row, step, half = np.nonzero(most > (found.max(axis=(1, 2)) - SURE_M)[:, None, None])
        if len(row):
            inner = BETWEEN[half]
            xy, heading = path.xy[row, step], path.heading[row, step][:, None]
            c, s, x, y = np.cos(heading), np.sin(heading), body[inner, 0], body[inner, 1]
            points = xy[:, None] + np.stack([x * c - y * s, x * s + y * c], axis=-1)
            out[row[:, None], step[:, None], inner] = self.beyond(rows[row], points[:, None], reach[row], floor)[:, 0]
        return out

    @staticmethod
    def _closer(path: Path, body: Floats, step: Ints, point: Ints) -> Floats:
        """Give points between the neighbours of the worst position and of the worst point of the body."""
        share = np.linspace(-1.0, 1.0, FINE)
        last = path.xy.shape[1] - 1
        when = np.clip(step[:, None] + share, 0, last)
        low = np.minimum(when.astype(np.int64), last - 1)
        part = when - low
        every = np.arange(len(step))[:, None]
        xy = path.xy[every, low] * (1 - part)[..., None] + path.xy[every, low + 1] * part[..., None]
        turn = path.heading[every, low + 1] - path.heading[every, low]
        heading = path.heading[every, low] + part * turn
        spacing = body[1, 0] - body[0, 0]
        x = np.clip(body[point, 0][:, None] + share * spacing, body[0, 0], body[SIDE - 1, 0])
        near = np.stack([x, np.broadcast_to(body[point, 1][:, None], x.shape)], axis=-1)
        c, s = np.cos(heading)[:, :, None], np.sin(heading)[:, :, None]
        px, py = near[:, None, :, 0], near[:, None, :, 1]
        return np.asarray(xy[:, :, None] + np.stack([px * c - py * s, px * s + py * c], axis=-1))

    @cached_property
    def corridors(self) -> Corridors:
        """The rooms side by side."""
        return Corridors(self.rooms)

    @cached_property
    def _solid(self) -> Bools:
        """Where anything stands or falls away."""
        return np.array([len(room.obstacles) > 0 for room in self.rooms], dtype=bool)

    def beyond(self, rows: Ints, points: Floats, reach_m: Floats, floor: float, most_m: float = np.inf) -> Floats:
        """Give the distance of points (p, n, k, 2) from the room (``Corridors.beyond``)."""
        return self.corridors.beyond(rows, points, reach_m, floor, most_m)


def body_points(mover: Mover, count: int = SIDE) -> Floats:
    """Give points on both sides of the body, so many on each, from its rear forward (2 count, 2)."""
    along = np.linspace(mover.rear_x_m, mover.front_x_m, count)
    sides = [np.column_stack((along, np.full(count, y))) for y in (mover.width_m / 2.0, -mover.width_m / 2.0)]
    return np.concatenate(sides)


def _reach(cut: Floats, mover: Mover) -> Floats:
    """Give how far from its corner anything is that a cut sweeps."""
    return np.asarray(cut + mover.trail_m + mover.behind_m + mover.front_x_m)


def hit(solid: Floats, xy: Floats, heading: Floats, mover: Mover) -> float:
    """Give how far the body runs into what stands or falls away there, negative while there is room."""
    off = solid[None, :, :2] - xy[:, None]
    c, s = np.cos(heading)[:, None], np.sin(heading)[:, None]
    along = off[..., 0] * c + off[..., 1] * s
    across = np.abs(off[..., 1] * c - off[..., 0] * s) - mover.width_m / 2.0
    past = np.maximum(along - mover.front_x_m, mover.rear_x_m - along)
    outer = np.hypot(np.maximum(past, 0.0), np.maximum(across, 0.0))
    gap = np.where((past <= 0.0) & (across <= 0.0), np.maximum(past, across), outer) - solid[:, 2]
    return float(-gap.min())


def swept_area(corners: Corners, row: int, mover: Mover, cut_m: float) -> BaseGeometry:
    """Give the area swept in one corner: all that lies between one position of the body and the next."""
    yard = Yard(corners, np.array([row]))
    path = yard.path(np.array([0]), np.array([cut_m]), mover, density=2)
    area, drawn = swept_between(path.xy[0], path.heading[0], mover), mover.drawn()
    if drawn is None or path.drawn is None:
        return area
    return shapely.union(area, swept_between(path.drawn.xy[0], path.drawn.heading[0], drawn))
