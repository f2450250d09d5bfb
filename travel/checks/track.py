"""Ways of a front axle, and how what follows it heads: arms sampled by distance, arcs between them, trailing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.mover import Mover
from travel.survey.arms import SAMPLE_M

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Path:
    """Front axle positions (p, n, 2) and heading of the body (p, n); ``drawn`` the same of what is drawn, if anything
    is: its coupling and its heading."""

    xy: Floats
    heading: Floats
    drawn: Path | None = None

    def some(self, which: NDArray[np.generic]) -> Path:
        """Give some of the ways."""
        drawn = None if self.drawn is None else self.drawn.some(which)
        return Path(xy=self.xy[which], heading=self.heading[which], drawn=drawn)


def at_distance(arms: Floats, distance: Floats, rows: Ints | None = None) -> tuple[Floats, Floats]:
    """Give position and outward direction at a distance along each arm, or along the arms of some ``rows``."""
    rows = np.arange(len(arms)) if rows is None else rows
    low, run, part = step_on(arms, distance, rows)
    return low + part * run, run / np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-12)[:, None]


def step_on(arms: Floats, distance: Floats, rows: Ints) -> tuple[Floats, Floats, Floats]:
    """Give, at distances along the arms of some rows, the point before, the step from it to the next, and its share."""
    step = np.minimum(np.maximum((distance / SAMPLE_M).astype(np.int64), 0), arms.shape[1] - 2)
    low = arms[rows, step]
    return low, arms[rows, step + 1] - low, (distance / SAMPLE_M - step)[..., None]


def joint(start: Floats, first: Floats, end: Floats, last: Floats) -> Floats:
    """Give where two arcs with equal tangent lengths meet between two positions and directions."""
    run = end - start
    both = first + last
    ahead = (run * both).sum(axis=1)
    square = (run * run).sum(axis=1)
    turn = 2.0 * (1.0 - (first * last).sum(axis=1))
    with np.errstate(divide="ignore", invalid="ignore"):
        tangent = (np.sqrt(ahead**2 + turn * square) - ahead) / turn
        straight = square / (4.0 * (run * last).sum(axis=1))
    tangent = np.where(turn > 1e-9, tangent, np.where((run * last).sum(axis=1) > 0.0, straight, 0.0))
    return np.asarray((start + end + tangent[:, None] * (first - last)) / 2.0)


def between(a: Floats, b: Floats) -> Floats:
    """Give the angle from one direction to another, + to the left."""
    return np.asarray(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)))


def arc(start: Floats, chord: Floats, half: Floats, share: Floats) -> Floats:
    """Give points of an arc that begins at an angle ``half`` to its chord, at shares of the angle it turns."""
    angle = half[:, None] * (share - 1.0)
    sine = np.sin(half)[:, None]
    small = np.abs(sine) < 1e-9
    ratio = np.where(small, share, np.sin(half[:, None] * share) / np.where(small, 1.0, sine))
    c, s = np.cos(angle), np.sin(angle)
    x, y = chord[:, :1], chord[:, 1:]
    return np.asarray(start[:, None] + ratio[..., None] * np.stack([x * c - y * s, x * s + y * c], axis=-1))


def headings(xy: Floats, first: Floats, trail_m: float) -> Floats:
    """Give the heading of the body at each position of its front axle, straight on from ``first``.

    The tangent of half the angle to the way driven, as a quotient of two numbers: a turn of the way turns them, a step
    shrinks the upper one (``drawbar_angle_straight``). All else is done for every step at once.
    """
    step = np.diff(xy, axis=1)
    length, travel = np.hypot(step[..., 0], step[..., 1]), np.arctan2(step[..., 1], step[..., 0])
    moved = length > 1e-9
    last = np.maximum.accumulate(np.where(moved, np.arange(1, step.shape[1] + 1), 0), axis=1)
    ways = np.take_along_axis(np.column_stack((first, travel)), last, axis=1)
    turn = np.exp(0.5j * np.diff(ways, axis=1, prepend=first[:, None])).T.copy()
    shrink = np.where(moved, np.exp(-length / trail_m), 1.0)
    after, now = shrink.T.copy(), np.ones(len(xy), dtype=np.complex128)
    for number, keep in enumerate(after):
        now = turn[number] = now * turn[number]  # in place one way alone is rounded otherwise than among others
        now.imag *= keep
    with np.errstate(divide="ignore"):
        half = turn.imag.T / turn.real.T
    turned = np.cumsum(2.0 * (np.arctan(half) - np.arctan(half * shrink)), axis=1)
    return np.column_stack((first, first[:, None] + turned))


def drawn_after(xy: Floats, heading: Floats, keep: Bools, mover: Mover) -> Path | None:
    """Give coupling and heading of what is drawn, in line at the start; its coupling is carried on the vehicle."""
    if mover.towed is None:
        return None
    coupling = xy - mover.towed.hitch_m * np.stack((np.cos(heading), np.sin(heading)), axis=-1)
    behind = headings(coupling, heading[:, 0], mover.towed.drawbar_m)
    return Path(xy=coupling[:, keep], heading=behind[:, keep])


def points_swept(xy: Floats, heading: Floats, body: Floats) -> Floats:
    """Give the points of a body at every position (p, n, k, 2)."""
    c, s = np.cos(heading)[..., None], np.sin(heading)[..., None]
    x, y = body[:, 0], body[:, 1]
    return np.asarray(xy[:, :, None] + np.stack([x * c - y * s, x * s + y * c], axis=-1))


def swept_between(xy: Floats, heading: Floats, mover: Mover) -> BaseGeometry:
    """Give all that lies between one position of the body and the next: front axle (n, 2) and heading (n,)."""
    body = np.array([(x, y) for x, y in (
        (mover.rear_x_m, mover.width_m / 2), (mover.front_x_m, mover.width_m / 2),
        (mover.front_x_m, -mover.width_m / 2), (mover.rear_x_m, -mover.width_m / 2))])  # fmt: skip
    boxes = points_swept(xy[None], heading[None], body)[0]
    both = np.concatenate((boxes[:-1], boxes[1:]), axis=1)
    return shapely.union_all(shapely.convex_hull(shapely.linestrings(both)))
