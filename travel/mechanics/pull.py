"""Pull at the wheels: gearing, altitude, and the grade a pull can climb. Capability, never permission."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import M_PER_FT


def altitude_pull_ratio_above_762m(altitude_m: Number) -> Number:
    """Share of the pull left at an altitude, losing 3 % per 1,000 ft above 2,500 ft.

    1 - 0.03 (h - 2500 ft) / 1000 ft above 2,500 ft (762 m), else 1

    Args:
        altitude_m: height above sea level [m]

    Returns:
        pull over pull at sea level [-]

    Valid for:
        -500 <= altitude_m <= 3048

    Example:
        3,500 ft: 3 % lost.

        >>> print(round(altitude_pull_ratio_above_762m(3500 * 0.3048), 4))
        0.97

    References:
        Formulas for earth moving (restating a civil-engineering formula handbook), altitude
        Disagrees with the construction methods text (from 3,000 ft): see ``altitude_pull_ratio_above_914m``.
        Naturally aspirated engines; upper end of validity is the highest altitude of a published example.
    """
    above_ft = np.maximum(altitude_m / M_PER_FT - 2500.0, 0.0)
    return 1.0 - 0.03 * above_ft / 1000.0


def altitude_pull_ratio_above_914m(altitude_m: Number) -> Number:
    """Share of the pull left at an altitude, losing 3 % per 1,000 ft above 3,000 ft.

    1 - 0.03 (h - 3000 ft) / 1000 ft above 3,000 ft (914 m), else 1

    Args:
        altitude_m: height above sea level [m]

    Returns:
        pull over pull at sea level [-]

    Valid for:
        -500 <= altitude_m <= 3048

    Example:
        Construction methods text, ex. 4-4: 10,000 ft, derating 21 %.

        >>> print(round(altitude_pull_ratio_above_914m(3048.0), 4))
        0.79

    References:
        Nunnally, Construction Methods and Management, ch. 4, eq. 4-5 and ex. 4-4 (from memory, recomputed)
        Disagrees with the formula handbook (from 2,500 ft): see ``altitude_pull_ratio_above_762m``.
    """
    above_ft = np.maximum(altitude_m / M_PER_FT - 3000.0, 0.0)
    return 1.0 - 0.03 * above_ft / 1000.0


def tractive_factor(
    torque_nm: Number, reduction_ratio: Number, efficiency_ratio: Number, radius_m: Number, weight_n: Number
) -> Number:
    """Tractive factor: pull at the wheels over gross weight.

    TF = ET R eff / (GW TLR)

    Args:
        torque_nm: engine torque [N m]
        reduction_ratio: whole reduction from engine to wheel [-]
        efficiency_ratio: efficiency of the drive line, 0.85 in the manual [-]
        radius_m: loaded radius of the tyre [m]
        weight_n: gross weight [N]

    Returns:
        tractive factor [-]

    Valid for:
        torque_nm >= 0
        reduction_ratio > 0
        0 < efficiency_ratio <= 1
        radius_m > 0
        weight_n > 0

    Example:
        TM 9-8000, 29-15: 79 lb ft, 36.7, 0.85, 1.25 ft, 2,625 lb (any one set of units): 0.75.

        >>> print(round(tractive_factor(79.0, 36.7, 0.85, 1.25, 2625.0), 2))
        0.75

    References:
        US Army TM 9-8000, 29-15 tractive factor
    """
    return torque_nm * reduction_ratio * efficiency_ratio / (weight_n * radius_m)


def drawbar_pull(tractive_ratio: Number, driven_weight_n: Number) -> Number:
    """Drawbar pull from the tractive factor.

    DP = TF W_d

    Args:
        tractive_ratio: tractive factor [-]
        driven_weight_n: weight on the driven wheels [N]

    Returns:
        pull [N]

    Valid for:
        tractive_ratio >= 0
        driven_weight_n >= 0

    Example:
        TM 9-8000, 29-15: 0.75 on 2,625 lb, printed as 1,970 lb.

        >>> print(round(drawbar_pull(0.75, 2625.0), 2))
        1968.75

    References:
        US Army TM 9-8000, 29-15 drawbar pull
    """
    return tractive_ratio * driven_weight_n


def gradeability(
    torque_nm: Number, reduction_ratio: Number, radius_m: Number, weight_n: Number, rolling_ratio: Number
) -> Number:
    """Steepest grade the drive line can climb, by the percent rule.

    G = T R / (r W) - c_rr (printed as 100 T R / (r GVW) - RR% in lb and in; 10200 in N m, mm and kg)

    Args:
        torque_nm: motor torque [N m]
        reduction_ratio: whole reduction from motor to wheel [-]
        radius_m: rolling radius of the tyre [m]
        weight_n: gross weight [N]
        rolling_ratio: rolling resistance as a grade [-]

    Returns:
        grade, capability and not permission [-]

    Valid for:
        torque_nm >= 0
        reduction_ratio > 0
        radius_m > 0
        weight_n > 0
        0 <= rolling_ratio < 1
        torque_nm * reduction_ratio <= 0.3 * radius_m * weight_n

    Example:
        Vehicle calculation note: 1,000 lb in, 12, 15 in, 10,000 lb, 1.5 %: 6.5 %.

        >>> print(round(gradeability(1000.0, 12.0, 15.0, 10000.0, 0.015), 4))
        0.065

    References:
        Drive-motor vehicle calculation note, gradeability (form fixed by its constants 100 and 10200)
    """
    return torque_nm * reduction_ratio / (radius_m * weight_n) - rolling_ratio


def steepest_grade_for_pull(pull_n: Number, weight_n: Number, rolling_ratio: Number) -> Number:
    """Steepest grade a pull can climb, exact.

    theta = asin(P / (W sqrt(1 + c^2))) - atan(c), the solution of W (sin(theta) + c cos(theta)) = P

    Args:
        pull_n: pull at the wheels [N]
        weight_n: weight [N]
        rolling_ratio: coefficient of rolling resistance [-]

    Returns:
        grade, negative when the pull does not even overcome rolling resistance [-]

    Valid for:
        0 <= pull_n < 0.7 * weight_n
        weight_n > 0
        0 <= rolling_ratio < 1

    Example:
        Derived: 64 of 100 with c_rr 0.05 climbs the 3 in 4 slope.

        >>> print(round(steepest_grade_for_pull(64.0, 100.0, 0.05), 4))
        0.75

    References:
        Derived: inverse of ``total_resistance``; no publication
    """
    whole_n = weight_n * np.sqrt(1.0 + rolling_ratio**2)
    climb = np.tan(np.arcsin(pull_n / whole_n))
    return (climb - rolling_ratio) / (1.0 + climb * rolling_ratio)
