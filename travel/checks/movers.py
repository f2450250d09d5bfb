"""The machine of a trip as it is swept through corners, by steering mode."""

from __future__ import annotations

import math

from travel.checks.case import Case
from travel.checks.mover import Mover


def movers(case: Case) -> dict[str, Mover]:
    """Give the machine by steering mode, crab left out: it does not turn."""
    if case.hinged is not None:
        return {"front": case.hinged}
    return {
        mode: Mover(
            trail_m=base,
            front_x_m=case.body.front_x_m,
            rear_x_m=case.body.rear_x_m,
            width_m=case.body.width_m,
            least_radius_m=base / math.sin(lock),
        )
        for mode, (base, lock) in _trailing(case).items()
    }


def _trailing(case: Case) -> dict[str, tuple[float, float]]:
    """Give, by mode, how far behind the front axle the point lies that trails it, and the lock."""
    base = case.body.wheelbase_m
    return {
        mode.mode: (base if mode.mode == "front" else base / 2.0, math.radians(mode.lock_deg))
        for mode in case.machine.steering
        if mode.mode != "crab" and mode.mode in case.configurations.steering
    }
