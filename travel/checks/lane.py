"""How the machine lies in its lane: what it sweeps by steering mode and bend, how it leans, how far out it is."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.rows import Rows
from travel.mechanics.beside import lean_over, swept_width, wheel_gap
from travel.mechanics.turning import turn_centre_ahead

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Number = Floats | float


def by_mode(rows: Rows, case: Case, values: Mapping[str, float]) -> Number:
    """Give a number by steering mode: one for all rows where every configuration has the same, else one a row."""
    each = np.array([values[mode] for mode in case.configurations.steering])
    return float(each[0]) if (each == each[0]).all() else rows.by_config(each)


def code(rows: Rows, field: str, words: tuple[str, ...]) -> Ints:
    """Give the place of a road's word in a list at these rows, −1 for a missing one."""
    return rows.at(rows.case.survey.text_code(field, words))


def lead_ratio(rows: Rows, case: Case) -> Number:
    """Give how far ahead of the turning centre's line the front axle runs, over the wheelbase, by steering mode."""
    return by_mode(rows, case, _leads(case))


def _leads(case: Case) -> dict[str, float]:
    base, ahead = case.body.wheelbase_m, {}
    for mode in case.machine.steering:
        lock = math.radians(mode.lock_deg)
        ahead[mode.mode] = float(turn_centre_ahead(base, lock, lock if mode.mode == "all" else 0.0))
    return {mode: 1.0 - value / base for mode, value in ahead.items()}


def kick_m(case: Case, piece: Ints) -> Floats:
    """Give how much more than its width the body sweeps in the bend of pieces, in the worst of the steering modes.

    On which side is not told: front and tail swing out, the middle cuts in.
    """
    body, leads = case.body, _leads(case)
    bend = case.survey.pieces.curvature_per_m[piece] * body.wheelbase_m
    more = np.zeros(len(piece))
    for mode in sorted(set(case.configurations.steering) - {"crab"}):
        lead = leads[mode]
        reach = _reach_m(case, lead)
        swept = swept_width(body.width_m, body.length_m, 0.0, float(reach), body.wheelbase_m, bend, lead)
        more = np.maximum(more, swept - body.width_m)
    return more


def _reach_m(case: Case, lead: Number) -> Number:
    """Give the farthest point of the body from the line of the turning centre."""
    behind = case.body.wheelbase_m * lead
    return np.maximum(case.body.front_x_m + behind, -case.body.rear_x_m - behind)


def crab_rad(rows: Rows, case: Case) -> Number:
    """Give the greatest angle between body and travel: the lock of the crab mode, 0 in the others."""
    lock = max((math.radians(m.lock_deg) for m in case.machine.steering if m.mode == "crab"), default=0.0)
    return by_mode(rows, case, {"front": 0.0, "all": 0.0, "crab": lock})


def bend_ratio(rows: Rows, case: Case) -> Floats:
    """Give wheelbase over radius of the bend at these rows; a crabbing machine turns about nothing."""
    return bend_of(rows, case, case.survey.pieces.curvature_per_m)


def bend_of(rows: Rows, case: Case, curvature_per_m: Floats) -> Floats:
    """Give the same for a curvature by piece."""
    bend = rows.column(curvature_per_m) * case.body.wheelbase_m
    crab = by_mode(rows, case, {"front": 0.0, "all": 0.0, "crab": 1.0})
    return bend if isinstance(crab, float) and crab == 0.0 else bend * (1.0 - crab)


def sweep_terms(rows: Rows, case: Case, body_width_m: Number) -> dict[str, Number]:
    """Give the arguments of ``swept_width`` at these rows."""
    body, lead = case.body, lead_ratio(rows, case)
    return {
        "body_width_m": body_width_m,
        "length_m": body.length_m,
        "crab_rad": crab_rad(rows, case),
        "reach_m": _reach_m(case, lead),
        "wheelbase_m": body.wheelbase_m,
        "bend_ratio": bend_ratio(rows, case),
        "lead_ratio": lead,
    }


def gap_terms(rows: Rows, case: Case, distance_m: Number) -> dict[str, Number]:
    """Give the arguments of ``wheel_gap`` at these rows."""
    return {
        "distance_m": distance_m,
        "over_tyres_m": case.body.over_tyres_m,
        "wheelbase_m": case.body.wheelbase_m,
        "bend_ratio": bend_ratio(rows, case),
        "lead_ratio": lead_ratio(rows, case),
        "crab_rad": crab_rad(rows, case),
        "wander_m": case.scalar("piece.wander"),
    }


def body_out_m(case: Case) -> float:
    """Give how far from the centreline the body can be, at most, in any bend that can be driven."""
    return case.body.width_m + case.body.length_m + case.scalar("piece.wander")


def wheel_out_m(case: Case) -> float:
    """Give how far from the centreline the outer wheel can be, at most: off-tracking is less than the wheelbase."""
    return case.body.over_tyres_m / 2.0 + case.body.wheelbase_m + case.scalar("piece.wander")


def wheels_out_m(rows: Rows, case: Case) -> Floats:
    """Give how far the outer side of the worse wheel runs from the centreline."""
    return -np.asarray(wheel_gap(**gap_terms(rows, case, 0.0)))


def sway_m(case: Case, cross_ratio: Floats, up_to_m: Number = math.inf) -> Floats:
    """Give how much wider than its greatest width the body stands when it leans, up to a height."""
    slope = np.abs(cross_ratio)
    (low, widest), (high, _) = (_stands_out(case, towards, up_to_m) for towards in (slope, -slope))
    return np.asarray(np.where(np.isnan(slope), np.nan, np.maximum(low + high - widest, 0.0)))


def lean_out_m(case: Case, cross_ratio: Floats, up_to_m: Number = math.inf) -> Floats:
    """Give how far the side the road falls to stands out over half the greatest width, up to a height."""
    slope = np.abs(cross_ratio)
    out, widest = _stands_out(case, slope, up_to_m)
    return np.asarray(np.where(np.isnan(slope), np.nan, np.maximum(out - widest / 2.0, 0.0)))


def _stands_out(case: Case, towards_ratio: Floats, up_to_m: Number) -> tuple[Floats, Floats]:
    """Give how far one side stands out from the wheels' middle line, and the greatest width, both up to a height.

    Between its points the outline runs straight, so that the height itself counts like a point.
    """
    heights, widths = case.body.width_z_m[np.argsort(case.body.width_z_m[:, 0], kind="stable")].T
    top = np.minimum(up_to_m, heights[-1])
    out, widest = (np.zeros(np.broadcast_shapes(np.shape(towards_ratio), np.shape(up_to_m))) for _ in range(2))
    for z, width in (*zip(heights, widths, strict=True), (top, np.interp(top, heights, widths))):
        counts = (z <= up_to_m) & (heights[0] <= up_to_m)
        out = np.where(counts, np.maximum(out, lean_over(width / 2.0, z, towards_ratio)), out)
        widest = np.where(counts, np.maximum(widest, width), widest)
    if case.body.hung_m is not None:  # plumb under the boom head, which leans out further than the load is high
        low, _, half, head = case.body.hung_m
        out = np.where(low <= up_to_m, np.maximum(out, lean_over(half, head, towards_ratio)), out)
    return out, widest
