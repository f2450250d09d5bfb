"""Numbers that somebody only told or assumed: they never make a rule of high consequence clear."""

from __future__ import annotations

from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.rows import Rows
from travel.survey import Survey

Bools = NDArray[np.bool_]

YES: Bools = np.ones((), dtype=bool)
NO: Bools = np.zeros((), dtype=bool)
"""Everywhere and nowhere, as entries of ``missing`` and as ``applies``."""

NOT_MEASURED = ("told", "assumed")
_KEPT: WeakKeyDictionary[Survey, dict[str, Bools]] = WeakKeyDictionary()


def told(rows: Rows, case: Case, *fields: str) -> dict[str, Bools]:
    """Give, as entries of ``missing``, where a road's number was only told or assumed.

    ``grade_pct`` counts only where the heights do not give the grade.
    """
    return {f"{field} told": rows.at(_told(case.survey, field)) for field in fields}


def _told(survey: Survey, field: str) -> Bools:
    kept = _KEPT.setdefault(survey, {})
    if field not in kept:
        where = np.isin(survey.method(field).astype(object), list(NOT_MEASURED)) & ~np.isnan(survey.number(field))
        if field == "grade_pct":
            where &= survey.height_source == "grade"
        kept[field] = np.asarray(where, dtype=bool)
    return kept[field]
