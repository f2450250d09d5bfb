"""The road round some pieces on an even grid of chain chainage: heights, and where asked plan positions.

Beyond the end of a chain the road is taken to run straight on at the grade of its last metres.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.survey import Survey, ways_onward

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

END_M = 4.0
"""Length at the end of a run whose grade is carried on beyond it; common practice, no source."""


@dataclass(frozen=True, eq=False, kw_only=True)
class _Axis:
    """All runs of heights one behind another on one axis, so that one search serves them all."""

    position: Floats
    value: Floats
    base: Floats
    low: Floats
    high: Floats

    def at(self, run: Ints, at: Floats) -> Floats:
        """Give heights at chain chainages ``at`` (r, m) of runs (r,)."""
        row = run[:, None]
        low, high, base = self.low[row], self.high[row], self.base[row]
        inside = np.clip(at, low, high)
        height = self._inside(inside + base)
        reach = np.minimum(END_M, high - low)
        first = (self._inside(low + reach + base) - self._inside(low + base)) / reach
        last = (self._inside(high + base) - self._inside(high - reach + base)) / reach
        beyond = at - inside
        carried = np.where(beyond < 0, first, last) * beyond
        return height + np.where(beyond == 0.0, 0.0, carried)  # a run may end where no height is known

    def _inside(self, on_axis: Floats) -> Floats:
        return np.asarray(np.interp(on_axis, self.position, self.value))


_KEPT: WeakKeyDictionary[Survey, _Axis] = WeakKeyDictionary()


def heights_round(survey: Survey, piece: Ints, reach_m: float, step_m: float) -> Floats:
    """Give heights every ``step_m`` from ``reach_m`` before each piece's cell to as far behind the longest of them.

    Args:
        survey: the survey
        piece: pieces, (p,)
        reach_m: how far beyond the cell on both sides
        step_m: spacing

    Returns:
        heights (p, m); NaN where there are none
    """
    at = _grid(survey, piece, reach_m, step_m)
    pieces, fabric = survey.pieces, survey.fabric
    middle = (pieces.cell_from_m[piece] + pieces.cell_to_m[piece]) / 2.0
    run = fabric.heights.run[fabric.course.row_at(pieces.chain[piece], middle)]
    out = np.full(at.shape, np.nan)
    known = run >= 0
    if known.any():
        out[known] = _axis(survey).at(run[known], at[known])
    return out


def heights_past(survey: Survey, piece: Ints, way: Ints, step: tuple[float, float]) -> Floats:
    """Give the same grid with the heights of the chain that goes straight on past the end of the piece's own.

    Where no heights are known there, or not as far as the end, the road is taken to run on as without it.

    Args:
        survey: the survey
        piece, way: pieces, and rows of :func:`ways_onward`, (p,)
        step: how far beyond the cell on both sides, and spacing
    """
    out, at = heights_round(survey, piece, *step), _grid(survey, piece, *step)
    onward, course, heights = ways_onward(survey), survey.fabric.course, survey.fabric.heights
    (chain, other), (far, entered) = (onward.chain[way], onward.to_chain[way]), (onward.far[way], onward.to_far[way])
    end, begin = (np.where(high, course.high[c], course.low[c]) for high, c in ((far, chain), (entered, other)))
    own, run = (heights.run[course.row_at(c, place)] for c, place in ((chain, end), (other, begin)))
    past = np.where(far[:, None], at - end[:, None], end[:, None] - at)
    here = np.flatnonzero((own >= 0) & (run >= 0))
    read = _axis(survey).at(run[here], begin[here, None] + np.where(entered[here], -1.0, 1.0)[:, None] * past[here])
    out[here] = np.where((past[here] > 0.0) & ~np.isnan(read), read, out[here])
    return out


def places_round(survey: Survey, piece: Ints, reach_m: float, step_m: float) -> tuple[Floats, Floats]:
    """Give x and y of the same grid; beyond the end of a chain straight on."""
    at = _grid(survey, piece, reach_m, step_m)
    course = survey.fabric.course
    chain = np.broadcast_to(survey.pieces.chain[piece][:, None], at.shape)
    low, high = course.low[chain], course.high[chain]
    inside = np.clip(at, low, high)
    x, y = course.locate(chain.ravel(), inside.ravel())
    first = course.bearing[course.segment_chain_start[chain]]
    last = course.bearing[course.segment_chain_stop[chain] - 1]
    beyond = at - inside
    bearing = np.where(beyond < 0, first, last)
    return x.reshape(at.shape) + np.sin(bearing) * beyond, y.reshape(at.shape) + np.cos(bearing) * beyond


def _grid(survey: Survey, piece: Ints, reach_m: float, step_m: float) -> Floats:
    low, high = survey.pieces.cell_from_m[piece], survey.pieces.cell_to_m[piece]
    longest = float((high - low).max()) if len(piece) else 0.0
    count = int(np.ceil((longest + 2.0 * reach_m) / step_m)) + 1
    return np.asarray((low - reach_m)[:, None] + step_m * np.arange(count))


def _axis(survey: Survey) -> _Axis:
    if survey not in _KEPT:
        profile = survey.heights.profile()
        length = profile.high - profile.low + 1.0
        base = np.cumsum(length) - length - profile.low
        _KEPT[survey] = _Axis(
            position=profile.position + np.repeat(base, profile.stop - profile.start),
            value=profile.value,
            base=base,
            low=profile.low,
            high=profile.high,
        )
    return _KEPT[survey]
