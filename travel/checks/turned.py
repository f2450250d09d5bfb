"""Rows of cells as the machine stands on them part of the way through a turn: the same ground at another heading."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.rows import Rows
from travel.mechanics.slope import cross_slope_at_heading, grade_at_heading

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False, kw_only=True)
class TurnedRows(Rows):
    """Cells with the machine turned by ``heading_rad`` (+ left) from the sense of travel, which is along from then on.

    ``sense`` must be +1; ``drawn`` is the sense in which the cell is driven; ``change_ratio`` how much the cross slope
    changes between the roads the axles stand on. ``stated_ratio``: the whole slope the site states of the ground there,
    which then counts and not the road's, as if it lay along the road; NaN where it states none. ``hand``: + where it
    turns to the left, − to the right; ``curve_mps2`` how much it is accelerated to that side.
    """

    drawn: NDArray[np.int64]
    heading_rad: Floats
    change_ratio: Floats
    stated_ratio: Floats = field(default_factory=lambda: np.array(np.nan))
    hand: Floats = field(default_factory=lambda: np.zeros(()))
    curve_mps2: float = 0.0

    @property
    def across_mps2(self) -> Floats:
        """Acceleration across, + towards the left in the sense of travel."""
        return np.asarray(self.hand * self.curve_mps2)

    def _travelled(self, values: Floats, stated: float = 1.0) -> Floats:
        road = np.asarray(values * self.drawn)
        return np.where(np.isnan(self.stated_ratio), road, stated * self.stated_ratio)

    @property
    def _across(self) -> Floats:
        return self._travelled(self.column(self.case.survey.cross_slope_ratio), 0.0)

    def _ends(self) -> tuple[Floats, Floats]:
        """Give the steepest and the least grade after turning."""
        window = self.case.window
        both = [
            np.asarray(grade_at_heading(self._travelled(self.column(values)), self._across, self.heading_rad))
            for values in (window.grade_max, window.grade_min)
        ]
        return np.maximum(*both), np.minimum(*both)

    @property
    def grade(self) -> Floats:
        """Worst windowed grade after turning, + rises in the new heading [ratio]."""
        worst = self._travelled(self.column(self.case.window.grade_worst))
        return np.asarray(grade_at_heading(worst, self._across, self.heading_rad))

    @property
    def uphill(self) -> Floats:
        """Steepest climb in the new heading [ratio]."""
        return self._ends()[0]

    @property
    def downhill(self) -> Floats:
        """Steepest fall in the new heading, positive downhill [ratio]."""
        return -self._ends()[1]

    @property
    def cross(self) -> Floats:
        """Cross slope after turning, + falls to the right [ratio]."""
        worst = self._travelled(self.column(self.case.window.grade_worst))
        return np.asarray(cross_slope_at_heading(worst, self._across, self.heading_rad))

    def cross_change(self, base_m: float) -> Floats:
        """Give the change of cross slope from one road onto the other [ratio]."""
        return self.change_ratio

    @property
    def grade_band(self) -> Floats:
        """95 % half-band of the grade after turning; both bands taken at their worst together [ratio]."""
        return self._band(np.abs(np.cos(self.heading_rad)), np.abs(np.sin(self.heading_rad)))

    @property
    def cross_band(self) -> Floats:
        """95 % half-band of the cross slope after turning [ratio]."""
        return self._band(np.abs(np.sin(self.heading_rad)), np.abs(np.cos(self.heading_rad)))

    def _band(self, along: Floats, across: Floats) -> Floats:
        window, survey, given = self.case.window, self.case.survey, ~np.isnan(self.stated_ratio)
        grade = np.where(given, survey.tolerance.grade_ratio, self.column(window.half_band))
        return along * grade + across * np.where(
            given, survey.tolerance.cross_slope_ratio, self.column(survey.cross_slope_band)
        )


def change_between(case: Case, piece: Ints, drawn: Ints) -> Floats:
    """Give the change of cross slope from one road onto the other, each as it is driven there.

    As along a road that bends: what the grades of both roads do to each other in the turn is not in it.

    Args:
        case: the trip
        piece: (ends, n) pieces the machine comes from first, and those it goes to last
        drawn: (ends, n) sense in which each is driven
    """
    before, after = (case.survey.cross_slope_ratio[piece[row]] * drawn[row] for row in (0, -1))
    return np.asarray(np.abs(before - after))
