"""Slopes about roads of which only a grade was stated: no heights tell how a body lies where one grade meets another.

What a rigid body does there is bounded by the range of the slopes it may stand over, as ``underbody`` does before it
rolls: a stretch of road whose slopes differ by no more than d rises above, or falls away from, the chord between two
axles L apart by no more than L d / 4, and from that chord carried on a length e by no more than e d.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks.knots import slopes_round
from travel.checks.nearby import cells_within
from travel.survey import Survey

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Slopes:
    """By piece: the least and greatest slope within reach along its chain, and whether any of it was only stated.

    Slopes nobody knows do not count: the pieces there say so themselves.
    """

    low: Floats
    high: Floats
    stated: Bools

    @property
    def mixed(self) -> Bools:
        """Where a stated grade and another slope lie within reach."""
        return np.asarray(self.stated & (self.high > self.low) & np.isfinite(self.high - self.low))


def slopes_about(survey: Survey, reach_m: float) -> Slopes:
    """Give the slopes within a length of each piece's cell, also where the road goes straight on over a junction."""
    return survey.kept(("slopes about", float(reach_m)), lambda: _made(survey, float(reach_m)))


def _made(survey: Survey, reach_m: float) -> Slopes:
    stated = np.asarray(survey.height_source == "grade", dtype=bool)
    if not stated.any():
        return Slopes(low=np.full(len(stated), np.nan), high=np.full(len(stated), np.nan), stated=stated)
    own = _by_cell(survey, stated)
    cell, other, turned = cells_within(survey, reach_m)
    low, high, any_stated = np.full(len(own.low), np.nan), np.full(len(own.low), np.nan), np.zeros(len(own.low), bool)
    np.fmin.at(low, cell, np.where(turned, -own.high[other], own.low[other]))
    np.fmax.at(high, cell, np.where(turned, -own.low[other], own.high[other]))
    np.logical_or.at(any_stated, cell, own.stated[other])
    at = survey.pieces.cell
    return Slopes(low=low[at], high=high[at], stated=any_stated[at])


def _by_cell(survey: Survey, stated: Bools) -> Slopes:
    """Give the slopes of every cell in the sense of its chain: the stated grade, else those of its heights."""
    pieces, heights = survey.pieces, survey.heights
    least = np.where(stated, survey.si("grade_ratio") * pieces.sign, np.nan)
    most = least.copy()
    middle = (pieces.cell_from_m + pieces.cell_to_m) / 2.0
    run = heights.run[survey.fabric.course.row_at(pieces.chain, middle)]
    known = np.flatnonzero((run >= 0) & ~stated)
    if len(known):
        least[known], most[known] = slopes_round(survey, known, run[known], 0.0)[2:4]
    count = len(survey.fabric.cells)
    low, high, some = np.full(count, np.nan), np.full(count, np.nan), np.zeros(count, dtype=bool)
    np.fmin.at(low, pieces.cell, least)
    np.fmax.at(high, pieces.cell, most)
    np.logical_or.at(some, pieces.cell, stated)
    return Slopes(low=low, high=high, stated=some)
