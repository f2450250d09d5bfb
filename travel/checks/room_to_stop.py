"""The speed from which the machine stands within a given distance, for people and oncoming traffic."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks.braking import HOLDING_BACK, delay_s
from travel.checks.case import Case
from travel.checks.rows import Rows
from travel.checks.wheels import grip, group, lacks, mass_band_ratio, share_at_limit, stated_mass_ratio
from travel.mechanics.braking import deceleration_on_grade, speed_stopping_within
from travel.mechanics.slope import share_along
from travel.units import G_MPS2

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Brakes:
    """What the brakes do at the rows, downhill whichever way the machine drives; what is not known of it."""

    decel_mps2: Floats
    coast_mps2: Floats
    delay_s: float
    missing: dict[str, Bools]

    def speed_within(self, room_m: Floats | float) -> Floats:
        """Give the highest speed from which the machine stands within a distance [m/s]."""
        can = self.decel_mps2 > 0.0
        speed = speed_stopping_within(
            np.maximum(room_m, 0.0), self.delay_s, self.coast_mps2, np.where(can, self.decel_mps2, 1.0)
        )
        return np.asarray(np.where(can | np.isnan(self.decel_mps2), np.where(can, speed, np.nan), 0.0))


def brakes(rows: Rows, case: Case) -> Brakes:
    """Give deceleration with the brakes full on, gain during the delay, and the delay itself."""
    mu, stated = grip(rows, case).values, case.machine.brakes.service_mps2
    grade, cross = -np.abs(rows.grade) - rows.grade_band, np.abs(rows.cross) + rows.cross_band
    held = share_at_limit(group(rows, case, case.body.braked), mu, grade, cross, HOLDING_BACK, 1.0)
    brake = (np.nan if stated is None else stated) * stated_mass_ratio(case) / (1.0 + mass_band_ratio(case))
    return Brakes(
        decel_mps2=np.asarray(deceleration_on_grade(brake, mu, held, grade, cross)),
        coast_mps2=np.asarray(-G_MPS2 * share_along(grade)),
        delay_s=delay_s(case),
        missing={
            **lacks(rows, case, "grip.coefficient", mu),
            "grade": np.isnan(grade),
            "cross_slope_pct": np.isnan(cross),
            "machine.brakes.service_mps2": np.full(grade.shape, stated is None),
        },
    )
