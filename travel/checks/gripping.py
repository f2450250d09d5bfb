"""Grip: driving on, holding the speed downhill, sliding sideways, standing with the parking brake on."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.told import told
from travel.checks.wheels import (
    Group,
    driven,
    governed,
    grip,
    group,
    lacks,
    mass_band_ratio,
    share_at_limit,
    sheet,
    slopes,
    stated_mass_ratio,
    steady_share,
    weight_n,
    worse_of,
)
from travel.mechanics.formula import holds
from travel.mechanics.grip import grip_available, slide_demand
from travel.mechanics.slope import share_normal
from travel.mechanics.traction import grade_held, grip_demand_steady
from travel.units import G_MPS2, pct_to_ratio

Floats = NDArray[np.float64]
Terms = dict[str, Any]

DRIVING, BRAKING = 1.0, -1.0
UP, DOWN = 1.0, -1.0


@answers("grip")
def grip_along_and_across(rows: Rows, case: Case) -> Outcome:
    """Driven wheels going on uphill, braked wheels holding the speed downhill; the one with less margin counts."""
    mu, (drive, unknown) = grip(rows, case), driven(rows, case)
    rolling, least = rows.limit("pull.rolling"), rows.limit("retard.rolling")
    brake = group(rows, case, case.body.braked)
    climb = _steady(rows, case, (rows.uphill, rows.grade_band), (rolling.values, DRIVING), drive, mu.values)
    fall = _steady(rows, case, (-rows.downhill, -rows.grade_band), (least.values, BRAKING), brake, mu.values)
    worst = worse_of(rows, climb, fall)
    return Outcome(
        demand=worst.demand,
        capacity=worst.capacity,
        tolerance=worst.tolerance,
        caution=case.scalar("grip.caution"),
        missing=slopes(rows)
        | lacks(rows, case, "grip.coefficient", mu.values)
        | lacks(rows, case, "pull.rolling", rolling.values)
        | unknown,
        outside=worst.outside,
        terms=worst.terms,
        capacity_terms=worst.capacity_terms,
        limit=mu,
    )


def _steady(
    rows: Rows,
    case: Case,
    grade: tuple[Floats, Floats],
    force: tuple[Floats, float],
    of: Group,
    mu: Floats,
) -> Outcome:
    """Grip needed and found on one grade; ``grade`` with its band on the worse side, ``force`` rolling and sense."""
    weight, cross = weight_n(case), rows.cross

    def needed(at: Floats, across: Floats) -> Terms:
        return {"grade_ratio": at, "cross_slope_ratio": across, "rolling_ratio": force[0], "driving_ratio": force[1]}

    def found(at: Floats, across: Floats, band: float) -> Terms:
        share = steady_share(of, at, across, band)
        return {"grip_ratio": mu, "axle_load_n": weight * share * share_normal(at, across), "weight_n": weight}

    terms, capacity_terms = needed(grade[0], cross), found(grade[0], cross, 0.0)
    demand, capacity = grip_demand_steady(**terms), grip_available(**capacity_terms)
    steep, tilted = grade[0] + grade[1], np.abs(cross) + rows.cross_band
    return Outcome(
        demand=demand,
        capacity=capacity,
        tolerance=np.maximum(grip_demand_steady(**needed(steep, tilted)) - demand, 0.0)
        + np.maximum(capacity - grip_available(**found(steep, tilted, 1.0)), 0.0),
        outside=~holds(grip_demand_steady, **terms),
        terms=terms,
        capacity_terms=capacity_terms,
    )


@answers("slide")
def slide(rows: Rows, case: Case) -> Outcome:
    """The whole tilt of the ground against the grip of all wheels, all of them holding."""
    mu = grip(rows, case)
    left, cross = rows.across_mps2, rows.cross
    terms: Terms = {"grade_ratio": rows.grade, "cross_slope_ratio": cross, "along_mps2": 0.0, "across_mps2": left}
    demand = slide_demand(**terms)
    steeper = cross + np.copysign(rows.cross_band, cross + left / G_MPS2)
    worst = slide_demand(np.abs(rows.grade) + rows.grade_band, steeper, 0.0, left)
    return Outcome(
        demand=demand,
        capacity=mu.values,
        tolerance=worst - demand,
        caution=case.scalar("slide.caution"),
        missing=slopes(rows) | lacks(rows, case, "grip.coefficient", mu.values),
        outside=~holds(slide_demand, **terms),
        terms=terms,
        limit=mu,
    )


@answers("hold")
def hold(rows: Rows, case: Case) -> Outcome:
    """The grade against the one that parking brake and the grip of its wheels hold, facing up it or down it."""
    mu, of = grip(rows, case), group(rows, case, case.body.parking_braked)
    stated = case.machine.brakes.parking_grade_pct
    brake, heavy = _brake(case, stated)
    facing_up = _held(rows, of, (np.maximum(rows.uphill, 0.0), UP), mu.values, (brake, heavy))
    facing_down = _held(rows, of, (-np.maximum(rows.downhill, 0.0), DOWN), mu.values, (brake, heavy))
    worst = worse_of(rows, facing_up, facing_down)
    by_grip = np.asarray(worst.capacity) < brake
    return Outcome(
        demand=worst.demand,
        capacity=worst.capacity,
        tolerance=worst.tolerance,
        caution=case.scalar("hold.caution"),
        missing=slopes(rows)
        | lacks(rows, case, "grip.coefficient", mu.values)
        | told(rows, case, "cross_slope_pct", "grade_pct")
        | sheet(rows, case, "parking_grade_pct", stated),
        outside=worst.outside,
        capacity_terms=worst.capacity_terms,
        limit=governed(rows, np.asarray(worst.capacity), by_grip, mu),
        limit_source="manual",
    )


def _held(rows: Rows, of: Group, facing: tuple[Floats, float], mu: Floats, brake: tuple[float, float]) -> Outcome:
    """Grade held facing up (+1) or down (−1) it, the share being that at the moment the wheels begin to slip.

    ``facing`` is the grade in the sense of travel and its sense, ``brake`` the grade the brake holds with the mass of
    now, and with its tolerance.
    """
    cross, (grade, sense) = rows.cross, facing

    def terms(at: Floats, across: Floats, band: int) -> Terms:
        return {
            "hold_grade_ratio": brake[band],
            "grip_ratio": mu,
            "held_share_ratio": share_at_limit(of, mu, at, across, sense, band),
            "grade_ratio": at,
            "cross_slope_ratio": across,
        }

    capacity_terms = terms(grade, cross, 0)
    capacity = grade_held(**capacity_terms)
    worst = grade_held(**terms(grade + sense * rows.grade_band, np.abs(cross) + rows.cross_band, 1))
    return Outcome(
        demand=np.abs(grade),
        capacity=capacity,
        tolerance=rows.grade_band + np.maximum(capacity - worst, 0.0),
        outside=~holds(grade_held, **capacity_terms),
        capacity_terms=capacity_terms,
    )


def _brake(case: Case, stated_pct: float | None) -> tuple[float, float]:
    """Give the grade the brake holds with the mass of now, and with its tolerance: the force is that stated stowed."""
    if stated_pct is None:
        return np.nan, np.nan
    hold = pct_to_ratio(stated_pct)
    sine = stated_mass_ratio(case) * hold / np.sqrt(1.0 + hold**2)
    sines = (sine, sine / (1.0 + mass_band_ratio(case)))
    return tuple(float(s / np.sqrt(1.0 - s**2)) if s < 1.0 else np.nan for s in sines)  # type: ignore[return-value]
