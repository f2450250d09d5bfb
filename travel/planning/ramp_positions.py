"""What changes along the way, on one row of positions, whatever the machine stands on: the worst of each place."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from travel.checks.ramp import RampFacts
from travel.checks.ramp_slope import grip_by_position
from travel.units import n_to_kg

Floats = NDArray[np.float64]

SAME_M = 1e-6


def clearance(facts: RampFacts) -> Floats:
    """Give the smallest clearance at every position."""
    return _over(facts, facts.stands, lambda stood: stood.rolling.clearance, np.fmin)


def coupling(facts: RampFacts) -> Floats:
    """Give the least load on the coupling at every position [N]."""
    return _over(facts, facts.carried, lambda stood: stood.rig.coupling, np.fmin)


def grip(facts: RampFacts) -> tuple[Floats, Floats]:
    """Give the most grip needed and the least there at every position."""
    needed = _over(facts, facts.carried, lambda stood: grip_by_position(stood)[0], np.fmax)
    return needed, _over(facts, facts.carried, lambda stood: grip_by_position(stood)[1], np.fmin)


def axle_loads_kg(facts: RampFacts) -> tuple[Floats, ...]:
    """Give the load of each axle, front first, at every position: of more than two the most that statics allows."""
    x, out = facts.case.body.axle_x_m, []
    for place in x:
        rows = [(stood, row) for stood in facts.carried if (row := _row(facts, stood, float(place))) is not None]
        some = [_onto(facts, stood, n_to_kg(stood.loads.square[row])) for stood, row in rows]
        out.append(np.fmax.reduce(some) if some else np.zeros(facts.position_m.shape))
    return tuple(out)


def _row(facts: RampFacts, stood: RampFacts, place_m: float) -> int | None:
    """Give which of a pair, leading or trailing, is the machine's axle at this place; None = it is neither."""
    whole, pair = facts.case, stood.case
    sign = -1.0 if whole.nose_leads else 1.0
    lead = float(whole.body.axle_x_m[whole.outline.lead]) + sign * stood.ahead_m
    places = (lead, lead + sign * pair.outline.base)
    found = [row for row, x in enumerate(places) if abs(x - place_m) < SAME_M]
    return found[0] if found else None


def _onto(facts: RampFacts, stood: RampFacts, values: Floats) -> Floats:
    """Bring values along one stand's positions onto the machine's own."""
    if stood is facts:
        return values
    at, known = facts.position_m, stood.position_m
    within = (at >= known[0] - SAME_M) & (at <= known[-1] + SAME_M)
    return np.where(within, np.interp(at, known, values), np.nan)


def _over(
    facts: RampFacts, stands: tuple[RampFacts, ...], value: Callable[[RampFacts], Floats], worst: np.ufunc
) -> Floats:
    return np.asarray(worst.reduce([_onto(facts, stood, value(stood)) for stood in stands]))
