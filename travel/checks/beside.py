"""Beside the machine: width, shoulders, steering mode."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.curves import bend_from_wider, too_tight
from travel.checks.facing import distance_as_faced_m
from travel.checks.lane import body_out_m, by_mode, code, gap_terms, lean_out_m, sway_m, sweep_terms
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.mechanics.beside import wheel_gap, width_needed
from travel.mechanics.formula import holds
from travel.rulebook import Axis, LimitColumn
from travel.units import kmh_to_mps

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def load_lacks(rows: Rows, case: Case) -> dict[str, Bools]:
    """Give, as entries of ``missing``, what of the load's sheet is not known."""
    everywhere = np.ones(rows.piece.shape, dtype=bool)
    return dict.fromkeys((*case.body.load_lacks, *case.body.shape_lacks), everywhere)


@answers("width")
def width_of_road(rows: Rows, case: Case) -> Outcome:
    """What the body sweeps and how it leans, with the margin on each side, against what stops or drops a wheel.

    Where it comes from a bend of a wider road it still sweeps as much as there.
    """
    width, cross = rows.si("width_m"), rows.cross
    tolerance = case.survey.tolerance.width_m
    allowance = sway_m(case, np.nan_to_num(cross)) + 2 * case.scalar("width.margin")
    sweep = {**sweep_terms(rows, case, case.body.width_m), "bend_ratio": bend_from_wider(rows, case)}
    terms, leans = _upright(sweep, allowance, cross, width + tolerance)
    return Outcome(
        demand=width_needed(**terms),
        capacity=width,
        tolerance=tolerance,
        caution=case.scalar("width.caution"),
        missing={
            "width_m": np.isnan(width),
            "cross_slope_pct": leans,
            **load_lacks(rows, case),
        },
        outside=~holds(width_needed, **terms) | too_tight(rows, case),
        terms=terms,
        limit_source="site",
    )


@answers("width", layer="limits")
def width_at_limit(rows: Rows, case: Case) -> Outcome:
    """The same at a gateway or other narrow place; the part of the body below ``narrow_to_m`` counts there.

    Where the margins kept along a road do not fit, what is left is enough at walking pace only.
    """
    width, up_to, cross = rows.of_feature("width_m"), rows.of_feature("narrow_to_m"), rows.cross
    up_to = np.nan_to_num(up_to, nan=np.inf)
    tolerance = case.survey.tolerance.width_m
    margin, usual = 2 * case.scalar("width.margin_gateway"), 2 * case.scalar("width.margin")
    allowance = sway_m(case, np.nan_to_num(cross), up_to) + margin
    terms, leans = _upright(sweep_terms(rows, case, width_below(case, up_to)), allowance, cross, width + tolerance)
    demand = np.asarray(width_needed(**terms))
    roomy = demand + usual - margin <= width - tolerance
    return Outcome(
        demand=demand,
        capacity=width,
        tolerance=tolerance,
        caution=case.scalar("width.caution_gateway"),
        applies=~np.isnan(width) | rows.kind_is("gateway"),
        cap_mps=np.where(roomy, np.inf, case.scalar("width.speed_gateway")),
        missing={
            "width_m": np.isnan(width),
            "width_m told": rows.method_is("width_m", "told", "assumed"),
            "narrow_to_m told": np.isfinite(up_to) & rows.method_is("narrow_to_m", "told", "assumed"),
            "cross_slope_pct": leans,
            **load_lacks(rows, case),
        },
        outside=~holds(width_needed, **terms),
        terms=terms,
        limit_source="site",
    )


@answers("width", layer="obstacles", beside_m=body_out_m)
def width_at_obstacle(rows: Rows, case: Case) -> Outcome:
    """Twice what the body stands out from the centreline, at the obstacle's height, against twice its distance.

    All that a bend, a crabbing body or a leaning one adds is taken on the obstacle's side. An obstacle without a height
    is taken as high as the machine.
    """
    up_to, cross = np.nan_to_num(rows.of_feature("height_m"), nan=np.inf), rows.cross
    width = width_below(case, up_to)
    terms = sweep_terms(rows, case, width)
    aside = np.asarray(width_needed(**terms, allowance_m=0.0)) - width
    kept = 2 * (case.scalar("width.margin") + case.scalar("piece.wander"))
    room, tolerance = 2.0 * distance_as_faced_m(rows, case), 2.0 * case.survey.tolerance.plan_m
    allowance = aside + 2.0 * lean_out_m(case, np.nan_to_num(cross), up_to) + kept
    terms, leans = _upright(terms, allowance, cross, room + tolerance)
    return Outcome(
        demand=width_needed(**terms),
        capacity=room,
        tolerance=tolerance,
        caution=case.scalar("width.caution"),
        missing={"cross_slope_pct": leans, **load_lacks(rows, case)},
        outside=~holds(width_needed, **terms),
        terms=terms,
        limit_source="site",
    )


def _upright(
    terms: Mapping[str, Any], allowance_m: Floats, cross: Floats, room_m: Floats
) -> tuple[dict[str, Any], Bools]:
    """Give the terms of the width needed, and where a cross slope nobody knows decides: upright the body would fit.

    Where it does not even fit upright, what it needs upright bars, whatever the slope.
    """
    leans = np.asarray(np.isnan(cross) & ~(width_needed(**terms, allowance_m=allowance_m) > room_m))
    return {**terms, "allowance_m": np.where(leans, np.nan, allowance_m)}, leans


def width_below(case: Case, up_to_m: Floats) -> Floats:
    """Give the greatest width of body and tyres up to a height; between its points the outline runs straight."""
    order = np.argsort(case.body.width_z_m[:, 0], kind="stable")
    heights, widths = case.body.width_z_m[order].T
    highest = np.maximum.accumulate(widths)
    below = np.searchsorted(heights, up_to_m, side="right")
    points = np.where(below > 0, highest[np.maximum(below - 1, 0)], 0.0)
    at_top = np.where(below > 0, np.interp(np.minimum(up_to_m, heights[-1]), heights, widths), 0.0)
    return np.maximum(np.maximum(points, at_top), case.body.over_tyres_m)


@answers("shoulder")
def shoulder(rows: Rows, case: Case) -> Outcome:
    """The outer wheel's distance from a verge or a falling edge of the road, larger when the ground is wet."""
    words = case.rulebook.vocabulary.words("edge")
    kept = case.resolved("shoulder.standoff", edge=Axis(np.append(np.arange(len(words)), -1), words))
    left, right = (code(rows, field, words) for field in ("edge_left", "edge_right"))
    values = np.nan_to_num(kept.values)
    worse = np.where(values[left] >= values[right], left, right)
    width, demand = rows.si("width_m"), values[worse]
    terms = {**gap_terms(rows, case, width / 2.0), "bend_ratio": bend_from_wider(rows, case)}
    unpaved = demand > 0.0
    return Outcome(
        demand=demand,
        capacity=wheel_gap(**terms),
        tolerance=case.survey.tolerance.width_m / 2.0,
        caution=case.scalar("shoulder.caution"),
        applies=unpaved | (left < 0) | (right < 0),
        missing={
            "edge_left": left < 0,
            "edge_right": right < 0,
            "width_m": np.isnan(width),
            "weather.ground": unpaved & (case.weather.ground is None),
        },
        outside=~holds(wheel_gap, **terms),
        capacity_terms=terms,
        limit=LimitColumn(values=demand, row=kept.row[worse], rows=kept.rows),
    )


@answers("steer-mode")
def steer_mode(rows: Rows, case: Case) -> Outcome:
    """Top speed of the steering mode: the sheet's, and the rulebook's; road speed only in front steering."""
    stated = {m.mode: np.nan if m.top_kmh is None else kmh_to_mps(m.top_kmh) for m in case.machine.steering}
    general = {mode: case.scalar("steer-mode.top", steering=mode) for mode in stated}
    cap = by_mode(rows, case, {mode: float(np.fmin(stated[mode], general[mode])) for mode in stated})
    lacks = by_mode(rows, case, {mode: float(np.isnan(stated[mode])) for mode in stated})
    return Outcome(
        demand=case.scalar("stopping.least_speed"),
        capacity=cap,
        cap_mps=cap,
        missing={"machine.steering.top_kmh": np.asarray(lacks) > 0.0},
        limit_source="manual",
    )
