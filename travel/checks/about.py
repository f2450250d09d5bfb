"""Turning round in several moves: out along the road the machine came by, where the ground is too small for one go.

The moves begin and end on the road, in line with it. Past the end of a road only ground stated free counts: nobody
measured how far the road itself goes on.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from travel.checks.mover import Mover
from travel.checks.shunt_ways import Ways, long_enough, shift, with_radii
from travel.checks.shunts import APART_M, DEEPER_M, FAR_M, LEAST_M, ROUNDS, SAME_M, Ground, Shunt
from travel.checks.sweep import Yard
from travel.checks.track import between
from travel.survey.corners import Corners
from travel.survey.rooms import ARM_M, Room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

THREE = (np.arange(13.0) / 24.0)[:, None]
FIVE = np.array([s for s in combinations_with_replacement(np.arange(13) / 12.0, 3) if s[0] < s[1]])
"""Shares of half a turn at which the moves but the last change direction; where the last one does follows from the way
ending on the road. Common practice, no source."""
STARTS_M = np.arange(-12.0, 12.1, 1.0)
"""Where on the road the moves begin: how far the trailing point is before the middle of the place."""
BESIDE_M = np.array([0.0, -0.5, -0.25, 0.25, 0.5])
"""The best ways are also tried a little further on and back."""
BETTER_M = 1.0
"""So much less than a way those may stick out that begin a little further on or back: twice what they begin so."""
NEARER_RATIO = 0.01
"""What a metre away from the place counts, in metres of sticking out."""
LITTLE_RAD = 1e-4


def find_about(corners: Corners, row: int, mover: Mover, enough_m: float) -> Shunt | None:
    """Give the way in moves by which a machine turns round that sticks out least, or None where none stays
    far enough inside.

    Args:
        corners: the corners of the site
        row: one that returns
        mover: the machine; it turns on its least radius
        enough_m: how far inside the room a way has to stay; five moves are only tried where three do not
    """
    yard, best = _About(corners, row, mover, -enough_m - DEEPER_M, -enough_m + LEAST_M), None
    for share, wider in ((THREE, True), (FIVE, False)):
        found = yard.least(yard.ways(share, wider))
        if found is not None and (best is None or found.outside_m < best.outside_m):
            best = found
        if best is not None and best.outside_m <= -enough_m:
            break
    return best


class _About(Ground):
    """The road a machine comes and goes by, its room, and the machine in it."""

    better_m = BETTER_M

    def __init__(self, corners: Corners, row: int, mover: Mover, floor_m: float, most_m: float) -> None:
        super().__init__(corners, row, mover, floor_m, most_m)
        rooms = [_some(room, ~room.past) for room in self.yard.rooms]
        self.yard.rooms, self._stated = rooms, Yard(corners, np.array([row]))
        self._stated.rooms = [_some(room, room.link < 0) for room in rooms]
        self._ends = corners.ends(row)
        self._ahead = -self.arm(self.yard.arm_in, np.zeros(1))[1][0]

    def ways(self, share: Floats, wider: bool) -> Ways:
        """Give the ways that end on the road, to both sides; ``wider``: ends are driven on less than full lock too."""
        stops = np.column_stack((share, share[:, -1]))
        if wider:
            stops, radius = with_radii(stops, self.radius_m)
        else:
            radius = np.full((len(stops), stops.shape[1] + 1), self.radius_m)
            radius[:, 1::2] *= -1.0
        stops[:, -1], can = _last(stops, radius)
        stops, radius = stops[can], radius[can]
        each = len(stops)
        return self._ended(
            np.tile(stops, (2 * len(STARTS_M), 1)),
            np.tile(radius, (2 * len(STARTS_M), 1)),
            np.repeat(np.tile(STARTS_M, 2), each),
            np.repeat([1.0, -1.0], each * len(STARTS_M)),
        )

    def _ended(self, share: Floats, radius: Floats, start: Floats, side: Floats) -> Ways:
        """Find where the last change of direction lets ways end on the road; those that do not are left out."""
        first, outward = self.arm(self.yard.arm_in, start)
        end, last_one, before = start.copy(), share[:, -1].copy(), share[:, :-1]
        turn, apart, left = side * np.pi, np.full(len(share), np.inf), np.arange(len(share))
        for number in range(ROUNDS + 1):
            last, leaving = self.arm(self.yard.arm_out, end[left])
            ahead, stops = -outward[left], np.column_stack((before[left], last_one[left]))
            turn[left] = side[left] * ((side[left] * between(ahead, leaving)) % (2.0 * np.pi))
            carried = shift(stops, radius[left], ahead, turn[left])
            gap = first[left] + carried - last
            apart[left] = np.hypot(*gap.T)
            if number == ROUNDS:
                break
            on = np.clip(end[left] + (gap * leaving).sum(axis=1), -FAR_M, FAR_M)
            stops[:, -1] += LITTLE_RAD
            across = np.column_stack((-leaving[:, 1], leaving[:, 0]))
            more = ((shift(stops, radius[left], ahead, turn[left]) - carried) * across).sum(axis=1)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = np.nan_to_num(-(gap * across).sum(axis=1) / more * LITTLE_RAD, nan=0.0, posinf=0.0, neginf=0.0)
            low = before[left, -1] if before.shape[1] else 0.0
            stop = np.clip(last_one[left] + np.clip(step, -0.1, 0.1), low, 1.0)
            moved = np.maximum(np.abs(on - end[left]), np.abs(stop - last_one[left])) > SAME_M
            left = left[moved]
            end[left], last_one[left] = on[moved], stop[moved]
            if not len(left):
                break
        share = np.column_stack((before, last_one))
        keep = np.flatnonzero((apart <= APART_M) & long_enough(share, radius, turn))
        return Ways(share=share, radius_m=radius, start_m=start, end_m=end, turn_rad=turn, apart_m=apart).some(keep)

    def rank(self, ways: Ways, outside_m: Floats) -> Floats:
        """Give by what the ways are told apart: how far they stick out, then how near the place they stay."""
        return np.maximum(outside_m, self.floor_m) + NEARER_RATIO * np.abs(ways.start_m)

    def beside(self, ways: Ways) -> Ways:
        """Give some ways, and such that begin a little further on or back."""
        count = len(BESIDE_M)
        return self._ended(
            np.repeat(ways.share, count, axis=0),
            np.repeat(ways.radius_m, count, axis=0),
            np.repeat(ways.start_m, count) + np.tile(BESIDE_M, len(ways.share)),
            np.repeat(np.sign(ways.turn_rad), count),
        )

    def beyond(self, points: Floats, most_m: float) -> Floats:
        """Give the distance of points (1, n, k, 2) from the room; past the end of a road from ground stated free."""
        found = super().beyond(points, most_m)
        past = ((points - self.xy) * self._ahead).sum(axis=-1) > 0.0
        if self._ends and past.any():
            at = np.zeros(1, dtype=np.int64)
            alone = self._stated.beyond(at, points, np.array([ARM_M]), self.floor_m, most_m)
            found = np.where(past, alone, found)
        return found


def _some(room: Room, which: Bools) -> Room:
    return replace(
        room, capsules=room.capsules[which], link=room.link[which], past=room.past[which], near_m=room.near_m[which]
    )


def _last(share: Floats, radius: Floats) -> tuple[Floats, Bools]:
    """Give the share at which the last move begins on a straight road, and where there is one.

    What all moves carry across is nothing: with the last change of direction at b and R the sizes of the radii of the
    last two moves, (R2 + R3) cos b = R3 cos pi - (what the others carry) + R2 cos a.
    """
    angle = np.pi * share
    edge = np.zeros((len(share), 1))
    stops = np.cos(np.concatenate((edge, angle[:, :-1]), axis=1))
    carried = (radius[:, :-2] * -np.diff(stops, axis=1)).sum(axis=1)
    back, on = -radius[:, -2], radius[:, -1]
    cosine = (back * stops[:, -1] - carried - on) / (back + on)
    can = np.abs(cosine) <= 1.0
    last = np.arccos(np.clip(cosine, -1.0, 1.0)) / np.pi
    return last, can & (last >= share[:, -2] - 1e-9)
