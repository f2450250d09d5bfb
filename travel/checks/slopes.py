"""Grade: what is permitted, and which range it asks for."""

from __future__ import annotations

from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows

Floats = NDArray[np.float64]
_STEPS: WeakKeyDictionary[Case, tuple[Floats, Floats]] = WeakKeyDictionary()


def _steps(case: Case) -> tuple[Floats, Floats]:
    """Give the steepest rise over a step's run and its half-band by piece; 0 where heights are not surveyed vertices.

    Roads that meet at different heights make a step there, however many they are. A grid is read between its cells
    and shows no step.
    """
    if case not in _STEPS:
        survey = case.survey
        vertices = survey.height_source == "z"
        nothing = np.zeros(len(survey.pieces))
        if not vertices.any():
            _STEPS[case] = nothing, nothing
        else:
            found = survey.windowed(case.scalar("grade-limit.step_run"))
            known = vertices & ~np.isnan(found.grade_worst)
            step = np.where(known, np.abs(found.grade_worst), 0.0)
            where_met = survey.junction_steps_m / case.scalar("grade-limit.step_run")
            _STEPS[case] = np.fmax(step, where_met), np.where(known, found.half_band, 0.0)
    return _STEPS[case]


@answers("grade-limit")
def grade_limit(rows: Rows, case: Case) -> Outcome:
    """Windowed grade, and a local step that is surely steeper, against what the maker permits in this attitude."""
    grade, band = rows.grade, rows.grade_band
    step, step_band = (rows.column(values) for values in _steps(case))
    steeper = step - step_band > np.abs(grade) + band
    permitted = case.body.grade_limit_ratio
    return Outcome(
        demand=np.where(steeper, step, np.abs(grade)),
        capacity=permitted,
        tolerance=np.where(steeper, step_band, band),
        caution=case.scalar("grade-limit.caution"),
        missing={
            "grade": np.isnan(grade) | np.isnan(rows.grade_band),
            "machine.limits.grade_pct": np.full(grade.shape, np.isnan(permitted)),
        },
        limit_source="manual",
    )


@answers("gear-for-grade")
def gear_for_grade(rows: Rows, case: Case) -> Outcome:
    """High range only below the grade from which the maker or the site asks for the low range."""
    grade = rows.grade
    own = case.body.low_range_above_ratio
    by_ground = rows.limit("gear-for-grade.threshold")
    threshold = np.fmin(own, by_ground.values)
    return Outcome(
        demand=np.abs(grade),
        capacity=threshold,
        tolerance=rows.grade_band,
        caution=case.scalar("gear-for-grade.caution"),
        applies=~rows.low,
        missing={
            "grade": np.isnan(grade) | np.isnan(rows.grade_band),
            "machine.limits.low_range_above_pct": np.full(grade.shape, np.isnan(own)),
            "surface": rows.surface.codes < 0,
        },
        limit=by_ground,
        limit_source="manual",
    )
