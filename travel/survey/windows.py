"""Extremes of the rise over a moving window, exact for a piecewise linear profile with steps.

The rise of a window as a function of its start is piecewise linear, with kinks only where an end of the window meets
a knot; so its extremes over any range of starts lie at kinks or at the ends of the range.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from travel.survey.arrays import Bools, Floats, Ints, expand, interpolate

SIDE_M = 1e-7
"""How far beside a knot both limits of a step are taken."""

BLOCK = 65536
"""Starts of windows looked at together, so that memory does not grow with the site."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Profile:
    """Knots of runs: run r owns ``start[r]`` … ``stop[r]``; two knots at one position are a step."""

    position: Floats
    value: Floats
    start: Ints
    stop: Ints

    @property
    def low(self) -> Floats:
        """Where each run starts."""
        return self.position[self.start]

    @property
    def high(self) -> Floats:
        """Where each run ends."""
        return self.position[self.stop - 1]


def rises(
    profile: Profile, window: Floats, unit_run: Ints, unit_from: Floats, unit_to: Floats
) -> tuple[Floats, Floats]:
    """Give the greatest and least rise over all windows that touch each unit (a stretch of one run).

    ``window`` holds the length per run. A run no longer than its window has one rise: its whole own.
    """
    whole = _whole_rise(profile)
    greatest, least = whole[unit_run].copy(), whole[unit_run].copy()
    long = profile.high - profile.low > window + 1e-9
    pick = np.flatnonzero(long[unit_run])
    if not len(pick):
        return greatest, least
    run = unit_run[pick]
    base = _bases(profile)
    latest = (profile.high - window)[run]
    first = np.clip(unit_from[pick] - window[run], profile.low[run], latest) + base[run]
    last = np.clip(unit_to[pick], profile.low[run], latest) + base[run]
    start = _starts(profile, window, long, base)
    start = np.sort(np.concatenate((start, first, last)))
    up, down = _limits(profile, window, base, start)
    lower, upper = np.searchsorted(start, first, "left"), np.searchsorted(start, last, "right")
    greatest[pick] = _reduce(np.maximum, up, lower, upper)
    least[pick] = _reduce(np.minimum, down, lower, upper)
    return greatest, least


def _whole_rise(profile: Profile) -> Floats:
    missing = np.add.reduceat(np.isnan(profile.value).astype(np.int64), profile.start) > 0
    rise = profile.value[profile.stop - 1] - profile.value[profile.start]
    return np.where(missing, np.nan, rise)


def _bases(profile: Profile) -> Floats:
    """Give what to add to positions so that all runs stand one behind another on one axis."""
    run = profile.high - profile.low + 1.0
    return np.cumsum(run) - run - profile.low


def _starts(profile: Profile, window: Floats, long: Bools, base: Floats) -> Floats:
    """Give every start (on the one axis) at which an end of a window meets a knot."""
    chosen = np.flatnonzero(long)
    owner, knot = expand(profile.start[chosen], (profile.stop - profile.start)[chosen])
    run = chosen[owner]
    at = profile.position[knot]
    low, latest = profile.low[run], (profile.high - window)[run]
    starts = [np.clip(at, low, latest) + base[run], np.clip(at - window[run], low, latest) + base[run]]
    return np.concatenate(starts)


def _limits(profile: Profile, window: Floats, base: Floats, start: Floats) -> tuple[Floats, Floats]:
    """Give the greater and the lesser of the rises just before and just after each start."""
    axis = profile.position + np.repeat(base, profile.stop - profile.start)
    up, down = np.empty_like(start), np.empty_like(start)
    for first in range(0, len(start), BLOCK):
        part = slice(first, first + BLOCK)
        up[part], down[part] = _limits_of(profile, window, base, axis, start[part])
    return up, down


def _limits_of(profile: Profile, window: Floats, base: Floats, axis: Floats, start: Floats) -> tuple[Floats, Floats]:
    """Give the same of some starts; ``axis`` are the knots of all runs one behind another."""
    run = np.searchsorted(profile.low + base, start + 1e-9, "right") - 1
    low, high = (profile.low + base)[run], (profile.high + base)[run]
    first, last = profile.start[run], profile.stop[run] - 2
    rise = []
    for side in (-SIDE_M, SIDE_M):
        ends = []
        for shift in (0.0, window[run]):
            at = np.clip(start + shift + side, low, high)
            below = np.clip(np.searchsorted(axis, at, "right") - 1, first, last)
            ends.append(interpolate(at, below, axis, profile.value))
        rise.append(ends[1] - ends[0])
    return np.maximum(*rise), np.minimum(*rise)


def _reduce(operation: np.ufunc, values: Floats, lower: Ints, upper: Ints) -> Floats:
    """Reduce ``values[lower:upper]`` for every range; ranges may overlap, none is empty."""
    padded = np.append(values, values[-1:])
    index = np.column_stack((lower, upper)).ravel()
    out: Floats = operation.reduceat(padded, index)[::2]
    return out


def range_max(values: Floats, lower: Ints, upper: Ints) -> Floats:
    """Give the greatest of ``values[lower:upper]`` for every range; NaN where one is missing."""
    return _reduce(np.maximum, values, lower, upper)
