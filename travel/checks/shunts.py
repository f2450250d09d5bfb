"""Corners taken in several moves: forwards, backwards, forwards, where one go sticks out of the room.

A way in moves begins on one arm and ends on the other, in line with both. Between them the heading turns on one way:
forwards to one side, backwards to the other, on arcs out of a fixed set, stopped at headings out of a fixed set. Where
on the arms it begins and ends follows from these headings; it may begin past the corner, straight on, or end short of
it. Of all ways the one is kept that sticks out least; three moves before five. The mirrored way, driven from its end to
its start, is that of the other gear.
"""

from __future__ import annotations

import math
from bisect import insort
from dataclasses import dataclass, replace
from itertools import combinations, combinations_with_replacement, pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.mover import Mover
from travel.checks.shunt_ways import Ways, long_enough, shift, with_radii
from travel.checks.sweep import FEW, SIDE, Yard, body_points, hit
from travel.checks.track import between, points_swept, swept_between
from travel.survey.arms import SAMPLE_M
from travel.survey.corners import Corners
from travel.survey.rooms import ARM_M

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

THREE = np.array(list(combinations(np.arange(13) / 12.0, 2)))
FIVE = np.array([s for s in combinations_with_replacement(np.arange(9) / 8.0, 4) if s[0] < s[1] and s[2] < s[3]])
"""Shares of the change of heading at which three or five moves change direction; common practice, no source."""
ROUNDS = 6
"""Times the ends are laid on arms that bend; ends that do not meet after that are left out."""
APART_M = 0.02
"""Ends that lie further apart do not meet; what they do counts as sticking out."""
FAR_M = 20.0
"""No end lies further from the corner: there the rooms are known all round what is swept."""
DEEPER_M = 0.25
"""So much further inside than is enough, ways are not told apart any more."""
BEST, SOME = 8, 64
"""Ways looked at closely, out of those that stick out least at few points; and looked at there together at first."""
SIEVE, MANY = 8, 1024
"""Where they are many, positions are looked at in up to so many lots: ways that stick out too much in one are not
looked at in the next."""
CLOSE = 64
"""Points on each side of the body of the way that is kept: no more than 0.2 m apart, as a side may pass the corner of
two roads between two of them."""
COARSE, FINE, LAST = 5, 9, 49
"""Positions in each move, for all ways, for the best of them and for the one kept: there no more than 0.3 m apart."""
LEAST_M, SAME_M = 1e-6, 1e-12
"""More than rounding makes of a distance; and no more than it does."""
Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One move of a shunt: forwards or backwards, the wheels to one side, as far as the trailing point goes.

    ``lock_ratio``: how far the wheels are turned, 1 = full lock.
    """

    forward: bool
    side: Side
    length_m: float
    lock_ratio: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Shunt:
    """A corner driven in moves: how far it sticks out of the room, and where the front axle's middle goes, heading how.

    ``number`` gives the move each position belongs to, −1 before the first and after the last. ``begin_m``, ``end_m``:
    how far past the corner (− before it) the front axle is when the first move begins and the last one ends.
    """

    outside_m: float
    moves: tuple[Move, ...]
    xy: Floats
    heading: Floats
    number: Ints
    begin_m: float
    end_m: float

    @property
    def length_m(self) -> float:
        """Length of all moves."""
        return sum(move.length_m for move in self.moves)

    def back_m(self, reverse: bool) -> float:
        """Length driven in reverse gear, where the corner itself is driven forwards or in ``reverse``."""
        return sum(move.length_m for move in self.moves if move.forward == reverse)

    def driven(self, reverse: bool) -> tuple[tuple[Move, Floats], ...]:
        """Give the moves in the order driven, each with its positions; in reverse from the mirrored end back."""
        paths = [self.xy[self.number == number] for number in range(len(self.moves))]
        if not reverse:
            return tuple(zip(self.moves, paths, strict=True))
        back = [replace(move, forward=not move.forward) for move in self.moves]
        return tuple((move, path[::-1]) for move, path in zip(reversed(back), reversed(paths), strict=True))

    def begins_m(self, reverse: bool) -> float:
        """Give how far past the corner (− before it) the front axle is when the moves begin, as they are driven."""
        return -self.end_m if reverse else self.begin_m

    def reaches_m(self, mover: Mover) -> tuple[float, float]:
        """Give how far from the corner the machine reaches on the road it comes by and on that it goes on by."""
        return mover.behind_m - self.begin_m, mover.front_x_m + self.end_m

    def far_m(self, x_m: float, y_m: float, mover: Mover) -> float:
        """Give how far from a point anything that is swept lies at most [m]."""
        about = math.hypot(max(mover.front_x_m, -mover.rear_x_m), mover.width_m / 2.0)
        return float(np.hypot(self.xy[:, 0] - x_m, self.xy[:, 1] - y_m).max()) + about

    def area(self, mover: Mover) -> BaseGeometry:
        """Give the area swept."""
        return swept_between(self.xy, self.heading, mover)


def find_shunt(corners: Corners, row: int, mover: Mover, enough_m: float) -> Shunt | None:
    """Give the way in moves round one corner that sticks out least, or None where none stays far enough inside.

    Args:
        corners: the corners of the site
        row: the corner
        mover: the machine; it turns on its least radius
        enough_m: how far inside the room a way has to stay; five moves are only tried where three do not
    """
    yard = Ground(corners, row, mover, -enough_m - DEEPER_M, -enough_m + LEAST_M)
    best: Shunt | None = None
    for share in (THREE, FIVE):
        found = yard.best(share)
        if found is not None and (best is None or found.outside_m < best.outside_m):
            best = found
        if best is not None and best.outside_m <= -enough_m:
            return best
    return best


class Ground:
    """One corner with its arms and its room, and the machine in it. Ways are not told apart below ``floor_m``, and none
    is wanted that sticks out more than ``most_m``. ``better_m``: so much less than a way may those ``beside`` it."""

    better_m = 0.0

    def __init__(self, corners: Corners, row: int, mover: Mover, floor_m: float, most_m: float = np.inf) -> None:
        self.floor_m, self.most_m, self.nearly_m = floor_m, most_m, most_m + self.better_m
        self.yard, self.mover = Yard(corners, np.array([row])), mover
        self.xy = np.array([corners.x_m[row], corners.y_m[row]])
        self.radius_m = math.sqrt(mover.least_radius_m**2 - mover.trail_m**2)
        self._steps: dict[int, tuple[Floats, Floats]] = {}

    def best(self, share: Floats) -> Shunt | None:
        """Give the best of the ways that stop at some shares."""
        return self.least(self._joined(*with_radii(share, self.radius_m)))

    def least(self, ways: Ways) -> Shunt | None:
        """Give the way that sticks out least; None for none that stays where the room is known.

        A way that sticks out too much at few points does at more of them.
        """
        if not len(ways.share):
            return None
        best, outside = self._best(ways, body_points(self.mover)[FEW])
        ways = self.beside(ways.some(best[outside <= self.nearly_m]))
        if not len(ways.share):
            return None
        outside = self._outside(ways, FINE, outline_points(self.mover), self.most_m)
        least = int(np.argmin(self.rank(ways, outside)))
        if outside[least] > self.most_m:
            return None
        way = ways.some(np.array([least]))
        worst = float(self._outside(way, LAST, outline_points(self.mover, CLOSE), np.inf)[0])
        if not np.isfinite(worst):
            return None
        xy, heading = self._positions(way, LAST)
        moves, number = self._moves(way, LAST)
        trail_m = self.mover.trail_m
        return Shunt(
            outside_m=worst,
            moves=moves,
            xy=xy[0],
            heading=heading[0],
            number=number,
            begin_m=trail_m - float(way.start_m[0]),
            end_m=trail_m + float(way.end_m[0]),
        )

    def arm(self, arms: Floats, distance: Floats) -> tuple[Floats, Floats]:
        """Give positions and outward directions at distances along an arm."""
        if id(arms) not in self._steps:
            run = np.diff(arms[0], axis=0)
            self._steps[id(arms)] = run, run / np.maximum(np.hypot(*run.T), 1e-12)[:, None]
        (run, outward), along = self._steps[id(arms)], distance / SAMPLE_M
        step = np.minimum(np.maximum(along.astype(np.int64), 0), len(run) - 1)
        return arms[0][step] + (along - step)[:, None] * run[step], outward[step]

    def _joined(self, share: Floats, radius: Floats) -> Ways:
        """Find where on the arms ways begin and end; those that cannot be are left out."""
        start, end = np.zeros(len(share)), np.zeros(len(share))
        turn, apart, left = np.zeros(len(share)), np.full(len(share), np.inf), np.arange(len(share))
        for number in range(ROUNDS + 1):
            first, outward = self.arm(self.yard.arm_in, start[left])
            last, leaving = self.arm(self.yard.arm_out, end[left])
            turn[left] = between(-outward, leaving)
            gap = first + shift(share[left], radius[left], -outward, turn[left]) - last
            apart[left] = np.hypot(*gap.T)
            if number == ROUNDS:
                break
            with np.errstate(divide="ignore", invalid="ignore"):
                det = -outward[:, 0] * leaving[:, 1] + outward[:, 1] * leaving[:, 0]
                back = (gap[:, 0] * leaving[:, 1] - gap[:, 1] * leaving[:, 0]) / det
                on = (-outward[:, 0] * gap[:, 1] + outward[:, 1] * gap[:, 0]) / det
            back = np.clip(np.nan_to_num(start[left] + back), -FAR_M, FAR_M)
            on = np.clip(np.nan_to_num(end[left] + on), -FAR_M, FAR_M)
            moved = np.maximum(np.abs(back - start[left]), np.abs(on - end[left])) > SAME_M
            left = left[moved]
            start[left], end[left] = back[moved], on[moved]
            if not len(left):
                break
        keep = np.flatnonzero((apart <= APART_M) & (np.abs(turn) > 0.0) & long_enough(share, radius, turn))
        return Ways(share=share, radius_m=radius, start_m=start, end_m=end, turn_rad=turn, apart_m=apart).some(keep)

    def _positions(self, ways: Ways, count: int) -> tuple[Floats, Floats]:
        """Give front axle and heading: straight on to the start, in every move, and straight on from the end."""
        mover, shape = self.mover, np.linspace(0.0, 1.0, count)
        lead = np.maximum(ways.start_m, mover.trail_m + mover.front_x_m)
        tail = np.maximum(ways.end_m, -mover.rear_x_m - mover.trail_m)
        parts = [self._straight(self.yard.arm_in, lead[:, None] + shape * (ways.start_m - lead)[:, None], -1.0)]
        at, outward = self.arm(self.yard.arm_in, ways.start_m)
        turn = ways.turn_rad
        base = np.arctan2(-outward[:, 1], -outward[:, 0])
        stops = np.concatenate((np.zeros((len(at), 1)), ways.share, np.ones((len(at), 1))), axis=1) * turn[:, None]
        for number in range(stops.shape[1] - 1):
            low, high = stops[:, number, None], stops[:, number + 1, None]
            heading = base[:, None] + low + shape * (high - low)
            radius = ways.radius_m[:, number, None] * np.sign(turn)[:, None]
            step = np.stack((np.sin(heading), -np.cos(heading)), axis=-1)
            xy = at[:, None] + radius[..., None] * (step - step[:, :1])
            parts.append((xy, heading))
            at = xy[:, -1]
        parts.append(self._straight(self.yard.arm_out, ways.end_m[:, None] + shape * (tail - ways.end_m)[:, None], 1.0))
        trailing, heading = (np.concatenate(group, axis=1) for group in zip(*parts, strict=True))
        front = mover.trail_m * np.stack((np.cos(heading), np.sin(heading)), axis=-1)
        return trailing + front, heading

    def _stops(self, ways: Ways) -> tuple[Floats, Floats]:
        """Give the same only where a move begins or ends, and where it goes straight on from far out and far in."""
        xy, heading = self._positions(ways, 2)
        once = np.r_[0, 1 : xy.shape[1] : 2]
        return xy[:, once], heading[:, once]

    def _straight(self, arms: Floats, distance: Floats, sense: float) -> tuple[Floats, Floats]:
        """Give the trailing point at distances along an arm, heading along it (+1) or towards the corner (−1)."""
        xy, outward = self.arm(arms, distance.ravel())
        heading = np.arctan2(sense * outward[:, 1], sense * outward[:, 0])
        return xy.reshape(*distance.shape, 2), heading.reshape(distance.shape)

    def _outside(self, ways: Ways, count: int, body: Floats, most_m: float, most: int | None = None) -> Floats:
        """Give how far points of the body stick out of the room, way by way; ∞ where the room is not known, and for
        more than ``most_m``.

        With ``most``, what stands or falls away is asked only of those that may be among so many best; of others less
        may be told than they stick out, but more than of these.
        """
        xy, heading = self._positions(ways, count)
        far, worst = self._beyond_room(xy, heading, body, ways.apart_m, most_m)
        out = np.where(far < ARM_M, worst + ways.apart_m, np.inf)
        if not len(self.yard.rooms[0].obstacles):
            return out
        rank = self.rank(ways, out)
        order, best = np.argsort(rank, kind="stable").tolist(), list[float]()
        for number in order:
            if np.isinf(out[number]) or (most is not None and len(best) >= most and rank[number] > best[most - 1]):
                break
            into = self._into(xy[number], heading[number], float(far[number]), float(worst[number]))
            out[number] = max(worst[number], into) + ways.apart_m[number]
            if most is not None:
                insort(best, float(self.rank(ways.some(np.array([number])), out[[number]])[0]))
        return out

    def _best(self, ways: Ways, body: Floats) -> tuple[Ints, Floats]:
        """Give the ways that stick out least at points of the body, the best first, and how far they do.

        Those that already do too much, or more than so many others, where they stop are not looked at in between.
        """
        far, worst = self._beyond_room(*self._stops(ways), body, ways.apart_m, self.nearly_m)
        least = np.where(far < ARM_M, worst + ways.apart_m, np.inf)
        at_least, most, size = self.rank(ways, least), np.inf, SOME
        rank, out = np.full(len(least), np.inf), np.full(len(least), np.inf)
        order = np.argsort(at_least, kind="stable")
        order = order[least[order] <= self.nearly_m]
        while len(order) and at_least[order[0]] <= most:
            some, order, size = order[:size], order[size:], 2 * size
            out[some] = self._outside(ways.some(some), COARSE, body, self.nearly_m, BEST)
            rank[some] = self.rank(ways.some(some), out[some])
            most = float(np.sort(rank)[:BEST][-1])
        best = np.argsort(rank, kind="stable")[:BEST]
        return best, out[best]

    def _beyond_room(
        self, xy: Floats, heading: Floats, body: Floats, apart_m: Floats, most_m: float
    ) -> tuple[Floats, Floats]:
        """Give how far from the corner points of the body come, and how far out of the room, way by way; ∞ for more,
        with what they leave apart, than ``most_m``."""
        far, worst = np.zeros(len(xy)), np.full(len(xy), -np.inf)
        left, count = np.arange(len(xy)), xy.shape[1]
        lots = 1 if most_m == np.inf else min(count, SIEVE, max(len(xy) * count // MANY, 1))
        for lot in sorted(range(lots), key=lambda lot: abs(2 * lot - lots + 1)):  # what is in the middle first
            at = np.arange(lot, count, lots)
            points = points_swept(xy[left[:, None], at], heading[left[:, None], at], body)
            away = np.hypot(*np.moveaxis(points - self.xy, -1, 0)).max(axis=(1, 2))
            out = self.beyond(points.reshape(1, -1, *points.shape[2:]), most_m).reshape(points.shape[:-1])
            out = out.max(axis=(1, 2))
            far[left], worst[left] = np.maximum(far[left], away), np.maximum(worst[left], out)
            much = worst[left] + apart_m[left] > most_m
            worst[left[much]] = np.inf
            left = left[~much]
            if not len(left):
                break
        return far, worst

    def _into(self, xy: Floats, heading: Floats, far_m: float, worst_m: float) -> float:
        """Give how far the body runs into what stands or falls away; what cannot be nearer to it than so far outside
        is left out."""
        room = self.yard.rooms[0]
        solid = room.obstacles[: np.searchsorted(room.solid_m, far_m - worst_m + LEAST_M)]
        return hit(solid, xy, heading, self.mover) if len(solid) else -np.inf

    def rank(self, ways: Ways, outside_m: Floats) -> Floats:
        """Give by what the ways are told apart; here how far they stick out."""
        return outside_m

    def beside(self, ways: Ways) -> Ways:
        """Give ways like some that are looked at as closely; here none but these."""
        return ways

    def beyond(self, points: Floats, most_m: float) -> Floats:
        """Give the distance of points (1, n, k, 2) from the room, negative inside; what is more than ``most_m`` may be
        told as any number that is."""
        return self.yard.beyond(np.zeros(1, dtype=np.int64), points, np.array([ARM_M]), self.floor_m, most_m)

    def _moves(self, way: Ways, count: int) -> tuple[tuple[Move, ...], Ints]:
        """Give the moves of one way, and which each of its positions belongs to; parts that go on alike are one."""
        turn = float(way.turn_rad[0])
        sides: tuple[Side, Side] = ("left", "right") if turn > 0 else ("right", "left")
        stops = np.concatenate(([0.0], way.share[0], [1.0])) * abs(turn)
        moves: list[Move] = []
        number = np.full((len(stops) + 1) * count, -1, dtype=np.int64)
        radius, trail_m = np.abs(way.radius_m[0]), self.mover.trail_m
        lock = np.arctan(trail_m / radius) / math.asin(trail_m / self.mover.least_radius_m)
        for at, length in enumerate((np.diff(stops) * radius).tolist()):
            move = Move(forward=at % 2 == 0, side=sides[at % 2], length_m=length, lock_ratio=float(lock[at]))
            if length <= 0.0:
                continue
            if moves and moves[-1].forward == move.forward and moves[-1].lock_ratio == move.lock_ratio:
                move = replace(move, length_m=length + moves.pop().length_m)
            moves.append(move)
            number[(at + 1) * count : (at + 2) * count] = len(moves) - 1
        return tuple(moves), number


def outline_points(mover: Mover, count: int = SIDE) -> Floats:
    """Give points all round the body, so many on each side: where a move ends, the corner of two roads may come on to
    the middle of its front or rear."""
    ends = np.linspace(-mover.width_m / 2.0, mover.width_m / 2.0, max(count // 4, 3) + 2)[1:-1]
    both = [np.column_stack((np.full(len(ends), x), ends)) for x in (mover.rear_x_m, mover.front_x_m)]
    return np.concatenate((body_points(mover, count), *both))


def stops_in(moves: tuple[Move, ...]) -> int:
    """Give how often the direction is changed by some moves of a machine that comes and goes on forwards."""
    return sum(a != b for a, b in pairwise((True, *(move.forward for move in moves), True)))
