"""Grade: what is permitted, and which range it asks for."""

from __future__ import annotations

import numpy as np

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows


@answers("grade-limit")
def grade_limit(rows: Rows, case: Case) -> Outcome:
    """Windowed grade against what the maker permits in this attitude; capability is not permission."""
    grade = rows.grade
    permitted = case.body.grade_limit_ratio
    return Outcome(
        demand=np.abs(grade),
        capacity=permitted,
        tolerance=rows.grade_band,
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
            "machine.limits.low_range_above_pct": np.isnan(threshold),
            "surface": rows.surface.codes < 0,
        },
        limit=by_ground,
        limit_source="manual",
    )
