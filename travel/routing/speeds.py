"""Gaining and losing speed laid over a chosen way: how fast each cell is driven and how long it takes.

Every cell has a top speed. At the ends of the way and wherever the machine stands it has none; between them it may
gain and lose speed only so fast. A forward and a backward pass give the greatest speed at the ends of each cell; inside
a cell the speed rises to its top, holds it, and falls. The search itself uses top speeds only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks import Case

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Speeds:
    """Speeds laid over the cells of a way: at the ``n + 1`` ends of its ``n`` cells, the highest inside, seconds."""

    end_mps: Floats
    peak_mps: Floats
    time_s: Floats


def lay_over(length_m: Floats, cap_mps: Floats, stands: Bools, gain_mps2: float, loss_mps2: float) -> Speeds:
    """Give the fastest drive over cells that keeps their top speeds and stands still where it must.

    Args:
        length_m: length of each cell, > 0, in the order driven, (n,)
        cap_mps: top speed of each cell, > 0, (n,)
        stands: where the machine stands, at the ends of the cells, (n + 1,); it always stands at both ends of the way
        gain_mps2: acceleration, > 0
        loss_mps2: deceleration, > 0

    Returns:
        speeds and times; squares of speed change by 2 a s over a distance s (kinematics of even acceleration)
    """
    if not len(length_m):
        return Speeds(end_mps=np.zeros(1), peak_mps=np.zeros(0), time_s=np.zeros(0))
    at_m = np.r_[0.0, np.cumsum(length_m)]
    limit = np.minimum(np.r_[cap_mps[:1], cap_mps], np.r_[cap_mps, cap_mps[-1:]]) ** 2
    limit[stands] = 0.0
    limit[[0, -1]] = 0.0
    gained = 2.0 * gain_mps2 * at_m
    forward = gained + np.minimum.accumulate(limit - gained)
    lost = 2.0 * loss_mps2 * (at_m[-1] - at_m)
    backward = lost + np.minimum.accumulate((limit - lost)[::-1])[::-1]
    square = np.maximum(np.minimum(np.minimum(forward, backward), limit), 0.0)
    before, after = square[:-1], square[1:]
    meeting = (2.0 * gain_mps2 * loss_mps2 * length_m + loss_mps2 * before + gain_mps2 * after) / (
        gain_mps2 + loss_mps2
    )
    peak = np.minimum(cap_mps, np.sqrt(meeting))
    entry, leave = np.minimum(np.sqrt(before), peak), np.minimum(np.sqrt(after), peak)
    changing_m = (peak**2 - entry**2) / (2.0 * gain_mps2) + (peak**2 - leave**2) / (2.0 * loss_mps2)
    steady_m = np.maximum(length_m - changing_m, 0.0)
    time = (peak - entry) / gain_mps2 + (peak - leave) / loss_mps2 + steady_m / peak
    return Speeds(end_mps=np.sqrt(square), peak_mps=peak, time_s=time)


def rates(case: Case) -> tuple[float, float]:
    """Give how fast a machine gains and loses speed [m/s²]: the rulebook's rates, no harder than its service brake."""
    brake = case.machine.brakes.service_mps2
    loss = case.scalar("timing.deceleration")
    return case.scalar("timing.acceleration"), loss if brake is None else min(loss, brake)
