"""Over the machine: headroom under everything that hangs over the road."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.mechanics.headroom import top_height_on_slope

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]



@answers("headroom", layer="overheads")
def under_overheads(rows: Rows, case: Case) -> Outcome:
    """Height of the body on the slope against the measured clearance. Wires are also judged by distance."""
    clearance = rows.of_feature("clearance_m")
    told = rows.method_is("clearance_m", "told", "assumed")
    signed = rows.method_is("clearance_m", "sign")
    tolerance = np.where(signed, case.tolerance("height_m", "sign"), case.survey.tolerance.height_m)
    return _headroom(rows, case, clearance, tolerance, {"clearance_m": np.isnan(clearance), "clearance_m told": told})


@answers("headroom", layer="limits")
def under_signs(rows: Rows, case: Case) -> Outcome:
    """The same against a signed height, which is already rounded down."""
    height = rows.of_feature("height_m")
    told = rows.method_is("height_m", "told", "assumed")
    return _headroom(rows, case, height, case.tolerance("height_m", "sign"), {"height_m told": told},
                     applies=~np.isnan(height))


def _headroom(  # noqa: PLR0913 - one body for both layers
    rows: Rows,
    case: Case,
    clearance_m: Floats,
    tolerance_m: Floats | float,
    missing: dict[str, Bools],
    applies: Bools | bool = True,
) -> Outcome:
    grade, cross, body = rows.grade, rows.cross, case.body
    terms = {
        "top_height_m": body.height_m,
        "body_width_m": body.width_m,
        "grade_ratio": grade,
        "cross_slope_ratio": cross,
    }
    own = body.height_tolerance_m if not np.isnan(body.height_tolerance_m) else case.tolerance("height_m")
    return Outcome(
        demand=top_height_on_slope(**terms),
        capacity=clearance_m,
        tolerance=tolerance_m + own,
        caution=case.scalar("headroom.caution"),
        applies=applies,
        missing={**missing, "grade": np.isnan(terms["grade_ratio"]),
                 "cross_slope_pct": np.isnan(terms["cross_slope_ratio"])},
        terms=terms,
        limit_source="site",
    )
