"""Long descents: what must be held back, at what speed a retarder can, and how much heat brakes take."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.resistance import total_resistance


def retarding_force(weight_n: Number, rolling_ratio: Number, grade_ratio: Number) -> Number:
    """Force that must hold the machine back at a steady speed.

    max(0, -W (sin(theta) + c_rr cos(theta)))

    Args:
        weight_n: weight [N]
        rolling_ratio: coefficient of rolling resistance, least value (it helps here) [-]
        grade_ratio: grade along the travel, + uphill, - downhill [-]

    Returns:
        retarding force; 0 where the machine does not run by itself [N]

    Valid for:
        weight_n >= 0
        0 <= rolling_ratio < 1
        abs(grade_ratio) < 1

    Example:
        Construction methods text, ex. 4-1: 5 % down with 100 lb/ton needs nothing.

        >>> print(retarding_force(200000.0, 0.05, -0.05))
        0.0

    References:
        Lecture notes on a construction methods text, ch. 4 (grade assistance), exact form
    """
    return np.maximum(-total_resistance(weight_n, rolling_ratio, grade_ratio), 0.0)


def speed_held_by_retarder(retarder_w: Number, weight_n: Number, rolling_ratio: Number, grade_ratio: Number) -> Number:
    """Downhill speed that a retarder's power holds.

    v = P / (W (sin(theta) - c_rr cos(theta))), theta downhill

    Args:
        retarder_w: power the retarder (hydrostatic drive, engine brake) can take without end [W]
        weight_n: weight [N]
        rolling_ratio: coefficient of rolling resistance, least value (it helps here) [-]
        grade_ratio: grade along the travel, + uphill, - downhill [-]

    Returns:
        speed; infinite where nothing needs holding back [m/s]

    Valid for:
        retarder_w >= 0
        weight_n > 0
        0 <= rolling_ratio < 1
        abs(grade_ratio) < 1

    Example:
        Derived: 60 kW, 100 kN down 3 in 4 without rolling resistance: 1 m/s.

        >>> print(round(speed_held_by_retarder(60e3, 100e3, 0.0, -0.75), 4))
        1.0

    References:
        Derived: power is force times speed; no publication
    """
    force_n = retarding_force(weight_n, rolling_ratio, grade_ratio)
    return np.where(force_n > 0.0, retarder_w / np.where(force_n > 0.0, force_n, 1.0), np.inf)[()]


def brake_energy(weight_n: Number, rolling_ratio: Number, grade_ratio: Number, length_m: Number) -> Number:
    """Energy that brakes and retarder take up over a descent at a steady speed.

    E = W max(0, -g - c_rr) l, with l in plan (the cosines cancel)

    Args:
        weight_n: weight [N]
        rolling_ratio: coefficient of rolling resistance, least value (it helps here) [-]
        grade_ratio: grade along the travel, + uphill, - downhill [-]
        length_m: plan length of the descent [m]

    Returns:
        energy [J]

    Valid for:
        weight_n >= 0
        0 <= rolling_ratio < 1
        abs(grade_ratio) < 1
        length_m >= 0

    Example:
        Derived: 100 kN lowered by 10 m.

        >>> print(round(brake_energy(100e3, 0.0, -0.10, 100.0)))
        1000000

    References:
        Derived: potential energy less rolling work; no publication
    """
    return weight_n * np.maximum(-grade_ratio - rolling_ratio, 0.0) * length_m


def brake_power(weight_n: Number, rolling_ratio: Number, grade_ratio: Number, speed_mps: Number) -> Number:
    """Heat that brakes and retarder take up each second on a descent.

    P = F v

    Args:
        weight_n: weight [N]
        rolling_ratio: coefficient of rolling resistance, least value (it helps here) [-]
        grade_ratio: grade along the travel, + uphill, - downhill [-]
        speed_mps: steady speed [m/s]

    Returns:
        power [W]

    Valid for:
        weight_n >= 0
        0 <= rolling_ratio < 1
        abs(grade_ratio) < 1
        speed_mps >= 0

    Example:
        Derived: 60 kN held at 2 m/s.

        >>> print(round(brake_power(100e3, 0.0, -0.75, 2.0), 1))
        120000.0

    References:
        Derived: power is force times speed; no publication
    """
    return retarding_force(weight_n, rolling_ratio, grade_ratio) * speed_mps
