"""A survey with changed values on the pieces it has: quick, for trying many values of one quantity."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np

from travel.domain.site import Amendment
from travel.survey import columns
from travel.survey.amendments import REMOVED, lay_on, ranged_rows
from travel.survey.slopes import across
from travel.survey.survey import Survey, build_survey

_BY_COLUMN = ("number", "text", "code", "method")
_BY_LINE = ("ends", "feature tree", "gentle curvature", "headings", "onward", "pairs", "piece ends", "rolled", "steps")
"""Kept of lines, heights and outlines alone, which no value changes."""


def changed_survey(survey: Survey, amendments: tuple[Amendment, ...]) -> Survey:
    """Give the survey with amendments laid on, its pieces and pairs as they are.

    The values are those of a survey built anew where every change starts and ends at ends of pieces and no geometry
    changes; what a wider road newly reaches is not seen. So a last word is always spoken on a survey built anew.

    Raises:
        InputError: as ``lay_on``
        ValueError: a feature would be taken away
    """
    if any(a.field == REMOVED for a in amendments):
        raise ValueError("a feature cannot be taken away without building the survey anew")
    site = lay_on(survey.site, amendments)
    fabric = replace(survey.fabric, ranged=ranged_rows(site))
    on_roads = {a.field for a in amendments if a.layer == "roads"}
    slope, band = survey.cross_slope_ratio, survey.cross_slope_band
    if on_roads & {"cross_slope_pct", "width_m"}:
        slope, band = across(site, fabric, survey.pieces, survey.tolerance)
    if "grade_pct" in on_roads:
        on_roads.add("regraded")
    kept = {key: value for key, value in survey._cache.items() if _holds(key, on_roads)}
    return replace(survey, site=site, fabric=fabric, cross_slope_ratio=slope, cross_slope_band=band, _cache=kept)


def built_anew(survey: Survey, amendments: tuple[Amendment, ...]) -> Survey:
    """Build a survey anew with amendments laid on. How a body rolls over it is kept where no height and no piece is
    another one.

    Raises:
        InputError: as ``lay_on`` and ``build_survey``
    """
    made = build_survey(lay_on(survey.site, amendments), survey.tolerance)
    pairs = ((made.pieces, survey.pieces), (made.heights, survey.heights), (made.fabric.course, survey.fabric.course))
    if all(_same(one, other) for one, other in pairs):
        made._cache.update({key: value for key, value in survey._cache.items() if key[0] == "rolled"})
    return made


def _same(one: Any, other: Any) -> bool:
    """Tell whether two records hold the same columns."""
    columns_ = ((getattr(one, f.name), getattr(other, f.name)) for f in fields(one))
    return all(np.array_equal(a, b, equal_nan=a.dtype.kind == "f") for a, b in columns_ if isinstance(a, np.ndarray))


def _holds(key: Any, fields: set[str]) -> bool:
    """Say whether a kept column is the same after a change of these road fields."""
    name = key[0]
    if name == "si":
        return columns.practical(key[1]) not in fields
    if name in _BY_COLUMN:
        return key[1] not in fields and f"{key[1]}_method" not in fields
    if name == "window":
        return "grade_pct" not in fields
    if name == "change":
        return not fields & {"cross_slope_pct", "width_m"}
    return name in _BY_LINE or (name == "looked" and "not_looked_at" not in fields)
