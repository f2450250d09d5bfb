"""Speed in bends: side grip and overturning."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.leaning import (
    Later,
    Lean,
    Tilt,
    leans,
    machine_lacks,
    nearer_and_higher,
    sides,
    slope_lacks,
    tilt_of,
)
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.wheels import grip as grip_of
from travel.mechanics.formula import holds
from travel.mechanics.upright import curve_speed, side_grip_left, sideways_ratio_left

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@answers("curve-speed")
def speed_in_bends(rows: Rows, case: Case) -> Outcome:
    """Speed at which neither side grip nor the allowed share of the tipping limit is used up, cross slope adverse.

    Which way the road bends is not known, so its cross slope always counts as falling outwards. The half-bands of the
    slopes and of the centre of gravity are taken on the bad side here.
    """
    bend = rows.column(case.survey.pieces.curvature_per_m)
    bends = bend * case.scalar("curve-speed.radius_max") > 1.0
    lacks = machine_lacks(case, with_brake=False)
    keep = np.flatnonzero(bends)
    if not len(keep) or not case.body.tip_lines:
        return Outcome(demand=0.0, capacity=0.0, applies=bends, missing=lacks)
    part = _only(rows, keep)
    grip = grip_of(part, case).values
    terms = _bend_terms(part, case, grip)
    cap = curve_speed(**terms)
    missing = {
        **slope_lacks(part),
        "roughness_m": np.isnan(part.si("roughness_m")),
        "surface": part.surface.codes < 0,
        "grip of the surface": np.isnan(grip),
    }
    spread = _Spread(keep, rows.piece.shape[-1])
    return Outcome(
        demand=case.scalar("stopping.least_speed"),
        capacity=spread(cap, np.nan),
        applies=bends,
        missing={
            **{name: spread(where, False) for name, where in missing.items()},
            "weather.ground": np.asarray(case.weather.ground is None),
            **lacks,
        },
        outside=spread(~holds(curve_speed, **terms), False),
        cap_mps=spread(cap, np.inf),
        capacity_terms=Later(lambda: {name: spread(value, np.nan) for name, value in terms.items()}),
    )


def _only(rows: Rows, keep: Ints) -> Rows:
    """Give the rows at some places of the last axis: pieces of a grid, cells of a list."""
    columns = rows.piece, rows.sense, rows.config
    picked = [a if a.shape[-1] == 1 and a.ndim > 1 else a[..., keep] for a in columns]
    return Rows(case=rows.case, piece=picked[0], sense=picked[1], config=picked[2], alike=rows.alike)


class _Spread:
    """Puts columns of some rows back among all rows."""

    def __init__(self, keep: Ints, count: int) -> None:
        self._keep, self._count = keep, count

    def __call__(self, values: Any, elsewhere: float) -> Any:
        values = np.asarray(values)
        out = np.full((*values.shape[:-1], self._count), elsewhere, dtype=values.dtype)
        out[..., self._keep] = values
        return out


def _bend_terms(rows: Rows, case: Case, grip: Floats) -> dict[str, Any]:
    """Give the arguments of ``curve_speed``."""
    tilt = tilt_of(rows, case)
    forward, backward = (_sideways(rows, case, lean, tilt) for lean in leans(rows, 0.0))
    side = side_grip_left(case.scalar("curve-speed.grip_share") * grip, np.abs(rows.grade) + rows.grade_band)
    return {
        "radius_m": 1.0 / rows.column(case.survey.pieces.curvature_per_m),
        "superelevation_ratio": -np.abs(rows.cross) - rows.cross_band,
        "grip_ratio": np.where(np.isnan(grip), np.nan, np.fmin(case.scalar("curve-speed.side_friction"), side)),
        "tip_ratio": np.where(rows.reverse, backward, forward),
    }


def _sideways(rows: Rows, case: Case, lean: Lean, tilt: Tilt) -> Floats:
    """Give the tangent sideways that the worst tip line still bears, 0 where the slope along takes it all."""
    share = case.scalar("tip.share")
    more = tilt.at_share(share)
    more["tilt_along_ratio"] = more["tilt_along_ratio"] + rows.grade_band
    least: Any = np.inf
    for line in case.body.tip_lines:
        if line.lever_across_m != 0.0:
            worse = nearer_and_higher(line, case)
            left = sideways_ratio_left(**sides(worse), along_ratio=lean.along(line), **more, share_ratio=share)
            least = np.minimum(least, left)
    return np.asarray(np.maximum(least, 0.0), dtype=np.float64)
