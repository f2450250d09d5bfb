"""The least change that passes, by bisection; where what there is to spare tells, it is not asked at every step."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from travel.checks import Outcome
from travel.domain.verdict import Verdict

Floats = NDArray[np.float64]
Verdicts = NDArray[np.uint8]
Spare = Callable[[float], float]
"""How much there is to spare at a value, less than nothing where it does not pass; ±∞ where no number tells."""

PRECISION = 1e-10
"""Bisection ends when the bracket is this share of the quantity."""
SHARP = 0.25
"""Share of that to which what does not pass and what does are brought together beforehand."""
BEHIND = 3.0
"""Halvings that false position may be behind bisection before it is given up for a while."""


def least_change(spare: Spare, start: float, extreme: float) -> float:
    """Give the value nearest to ``start`` that passes, on the passing side, by bisection.

    Values beyond one that passes are taken to pass, values before one that does not are not.

    Args:
        spare: how much there is to spare at a value; ``extreme`` passes
        start: where to begin
        extreme: as far as it goes

    >>> round(least_change(lambda x: x - 3.2, 3.0, 200.0), 9)
    3.2
    """
    whole, near = extreme - start, 0.0
    tried = _Tried(spare, start, whole)
    share = 1e-3
    while share < 1.0 and not tried.passes(share):
        near, share = share, min(4.0 * share, 1.0)
    tried.look_at(near, share)
    while (share - near) * abs(whole) > _sharp(start + share * whole):
        middle = (near + share) / 2.0
        if middle in (near, share):
            break
        if tried.open(middle):
            tried.close_in(SHARP * _sharp(start + share * whole) / abs(whole))
        if tried.passes(middle):
            share = middle
        else:
            near = middle
    return start + share * whole


def _sharp(value: float) -> float:
    return PRECISION * max(1.0, abs(value))


class _Tried:
    """Shares of a change that were tried: the greatest that does not pass, the least that does, what each spares."""

    def __init__(self, spare: Spare, start: float, whole: float) -> None:
        self._spare, self._start, self._whole = spare, start, whole
        self._low, self._high = (-math.inf, -math.inf), (math.inf, math.inf)
        self._pause, self._steps_left = 1, 0

    def open(self, share: float) -> bool:
        """Tell whether those tried leave it open if a share passes."""
        return self._low[0] < share < self._high[0]

    def passes(self, share: float) -> bool:
        """Tell whether a share passes; it is asked only where those tried leave it open."""
        return self._ask(share) >= 0.0 if self.open(share) else share >= self._high[0]

    def _ask(self, share: float) -> float:
        found = self._spare(self._start + share * self._whole)
        if found >= 0.0:
            self._high = share, found
        else:
            self._low = share, found
        return found

    def look_at(self, near: float, share: float) -> None:
        """Ask about both ends of a bracket where a number tells of one."""
        for end in (near, share):
            if self.open(end) and (math.isfinite(self._low[1]) or math.isfinite(self._high[1])):
                self._ask(end)

    def close_in(self, sharp: float) -> None:
        """Bring what does not pass and what does together by false position, as long as numbers tell and it gets
        better; else leave more and more steps to the bisection before it is tried again.

        An end that stays twice counts for less: Anderson and Björck, BIT 13 (1973) 253 (from memory).
        """
        if self._steps_left > 0:
            self._steps_left -= 1
            return
        (low, short), (high, spare) = self._low, self._high
        width, asked, before = high - low, 0, 0
        while high - low > sharp and math.isfinite(short) and math.isfinite(spare):
            if asked - math.log2(width / (high - low)) > BEHIND:
                self._steps_left = self._pause = 2 * self._pause
                return
            at = low - short * (high - low) / (spare - short)
            at = min(max(at, low + sharp / 2.0), high - sharp / 2.0)
            found, asked = self._ask(at), asked + 1
            if found >= 0.0:
                short *= _less(found, spare) if before > 0 else 1.0
                high, spare, before = at, found, 1
            else:
                spare *= _less(found, short) if before < 0 else 1.0
                low, short, before = at, found, -1


def _less(found: float, last: float) -> float:
    """Give what share of the other end counts where one end was replaced twice."""
    share = 1.0 - found / last if last else 0.0
    return share if share > 0.0 else 0.5


def to_spare(outcome: Outcome, verdict: Verdicts, wanted: Verdicts) -> Floats:
    """Give by row how much one rule has to spare of what is wanted, in its unit: negative exactly where its verdict is
    worse; ±∞ where no number tells.

    Args:
        outcome, verdict: the rule's answer
        wanted: the worst verdict that will do
    """
    with np.errstate(invalid="ignore"):
        margin = np.asarray(outcome.capacity) - np.asarray(outcome.demand)
        band = np.where(wanted >= Verdict.UNKNOWN, outcome.tolerance, -np.asarray(outcome.tolerance))
        spare = np.where(wanted >= Verdict.BLOCKED, np.inf, margin + band)
    good = verdict <= wanted
    return np.where(good, np.where(spare >= 0.0, spare, np.inf), np.where(spare < 0.0, spare, -np.inf))


def round_safely(value: float, step: float, up: bool) -> float:
    """Round to a whole number of steps, up or down.

    >>> round_safely(3.201, 0.05, up=True), round_safely(17.46, 0.1, up=False), round_safely(2.0, 0.0, up=True)
    (3.25, 17.4, 2.0)
    """
    if step <= 0:
        return value
    count = value / step
    whole = math.ceil(count - 1e-12) if up else math.floor(count + 1e-12)
    return round(whole * step, 9)
