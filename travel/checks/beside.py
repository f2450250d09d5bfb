"""Beside the machine: width."""

from __future__ import annotations

import numpy as np

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows


@answers("width")
def width_of_road(rows: Rows, case: Case) -> Outcome:
    """Body width and the margin kept on each side against the width between what stops or drops a wheel."""
    width = rows.si("width_m")
    return Outcome(
        demand=case.body.width_m + 2 * case.scalar("width.margin"),
        capacity=width,
        tolerance=case.survey.tolerance.width_m,
        caution=case.scalar("width.caution"),
        missing={"width_m": np.isnan(width)},
        limit_source="site",
    )


@answers("width", layer="limits")
def width_at_limit(rows: Rows, case: Case) -> Outcome:
    """The same at a gateway or other narrow place; the part of the body below ``narrow_to_m`` counts there."""
    width, up_to = rows.of_feature("width_m"), rows.of_feature("narrow_to_m")
    body = _width_below(case, up_to)
    return Outcome(
        demand=body + 2 * case.scalar("width.margin_gateway"),
        capacity=width,
        tolerance=case.survey.tolerance.width_m,
        caution=case.scalar("width.caution") / 2,
        applies=~np.isnan(width),
        missing={"width_m told": rows.method_is("width_m", "told", "assumed")},
        limit_source="site",
    )


def _width_below(case: Case, up_to_m: np.ndarray[tuple[int, ...], np.dtype[np.float64]]
                 ) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Give the greatest body width below a height (NaN = the whole body)."""
    heights, widths = case.body.width_z_m[:, 0], case.body.width_z_m[:, 1]
    order = np.argsort(heights)
    highest = np.maximum.accumulate(widths[order])
    below = np.searchsorted(heights[order], np.nan_to_num(up_to_m, nan=np.inf), side="right")
    tyres = case.body.over_tyres_m
    return np.maximum(np.where(below > 0, highest[np.maximum(below - 1, 0)], tyres), tyres)
