"""Resistance to motion: rolling and grade.

Forces are newtons along the ground, + against the travel. The exact forms use sine and cosine of the
slope; the trade's rule of one percent of weight per percent of grade stands beside them and says so in its name.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import M_PER_IN


def rolling_resistance(weight_n: Number, rolling_ratio: Number, grade_ratio: Number) -> Number:
    """Rolling resistance on a grade.

    F_r = c_rr W cos(theta) = c_rr W / sqrt(1 + g^2)

    Args:
        weight_n: weight carried by the tyres on the level [N]
        rolling_ratio: coefficient of rolling resistance, resistance over load [-]
        grade_ratio: grade along the travel [-]

    Returns:
        rolling resistance, against the travel whatever the sign of the grade [N]

    Valid for:
        weight_n >= 0
        0 <= rolling_ratio < 1
        abs(grade_ratio) < 1

    Example:
        Rolling-resistance lesson: 50 t at 28 kg/t is 1,400 kg (here in tonnes-force).

        >>> print(round(rolling_resistance(50.0, 0.028, 0.0), 4))
        1.4

    References:
        Coefficient of rolling resistance as in Marks' handbook (after Moyer); cosine: inclined plane, derived
    """
    return rolling_ratio * weight_n / np.sqrt(1.0 + grade_ratio**2)


def rolling_ratio_by_penetration(penetration_m: Number) -> Number:
    """Coefficient of rolling resistance from how deep the tyre sinks in.

    c_rr = 2 % + 1.5 % for each inch (40 lb/ton + 30 lb/ton per inch)

    Args:
        penetration_m: depth of the tyre's rut [m]

    Returns:
        coefficient of rolling resistance [-]

    Valid for:
        0 <= penetration_m <= 0.3

    Example:
        Construction methods text, ex. 4-1: 2 in of penetration give 100 lb/ton, 5 %.

        >>> print(round(rolling_ratio_by_penetration(0.0508), 4))
        0.05

    References:
        Formulas for earth moving (restating a civil-engineering formula handbook), rolling resistance
        The SI factors printed there (173 N/t) do not follow from 40 lb/ton and are not used.
    """
    return 0.02 + 0.015 * penetration_m / M_PER_IN


def grade_resistance(weight_n: Number, grade_ratio: Number) -> Number:
    """Grade resistance, exact.

    F_g = W sin(theta) = W g / sqrt(1 + g^2)

    Args:
        weight_n: weight [N]
        grade_ratio: grade along the travel, + uphill [-]

    Returns:
        force against the travel; negative is assistance downhill [N]

    Valid for:
        weight_n >= 0
        abs(grade_ratio) < 1

    Example:
        Derived: a 3 in 4 slope (a 3-4-5 triangle).

        >>> print(round(grade_resistance(100.0, 0.75), 4))
        60.0

    References:
        Lecture notes on a construction methods text, ch. 4, beside eq. 4-4 (the exact value uses the sine)
    """
    return weight_n * grade_ratio / np.sqrt(1.0 + grade_ratio**2)


def grade_resistance_percent_rule(weight_n: Number, grade_ratio: Number) -> Number:
    """Grade resistance by the rule of one percent of weight per percent of grade.

    GR = W g (20 lb/ton, 10 kg/t, for each percent); too large by 0.5 % at a grade of 10 %, 2 % at 20 %

    Args:
        weight_n: weight [N]
        grade_ratio: grade along the travel, + uphill [-]

    Returns:
        force against the travel; negative is assistance downhill [N]

    Valid for:
        weight_n >= 0
        abs(grade_ratio) <= 0.3

    Example:
        Earthmoving problems, no. 2: 172,000 lb up 5 % is 8,600 lb.

        >>> print(round(grade_resistance_percent_rule(172000.0, 0.05), 1))
        8600.0

    References:
        Formulas for earth moving (restating a civil-engineering formula handbook), grade resistance
        Lecture notes on a construction methods text, ch. 4, eq. 4-4A/B
    """
    return weight_n * grade_ratio


def total_resistance(weight_n: Number, rolling_ratio: Number, grade_ratio: Number) -> Number:
    """Rolling and grade resistance together, exact.

    F = W (sin(theta) + c_rr cos(theta))

    Args:
        weight_n: weight [N]
        rolling_ratio: coefficient of rolling resistance [-]
        grade_ratio: grade along the travel, + uphill [-]

    Returns:
        force against the travel; negative pushes the machine on [N]

    Valid for:
        weight_n >= 0
        0 <= rolling_ratio < 1
        abs(grade_ratio) < 1

    Example:
        Derived: a 3 in 4 slope, c_rr 0.05: 60 + 4.

        >>> print(round(total_resistance(100.0, 0.05, 0.75), 4))
        64.0

    References:
        Sum of the two exact forms; lecture notes on a construction methods text, ch. 4
    """
    return weight_n * (grade_ratio + rolling_ratio) / np.sqrt(1.0 + grade_ratio**2)


def total_resistance_percent_rule(weight_n: Number, rolling_ratio: Number, grade_ratio: Number) -> Number:
    """Rolling and grade resistance together by the percent rule.

    TR = W (c_rr + g)

    Args:
        weight_n: weight [N]
        rolling_ratio: coefficient of rolling resistance [-]
        grade_ratio: grade along the travel, + uphill [-]

    Returns:
        force against the travel; negative pushes the machine on [N]

    Valid for:
        weight_n >= 0
        0 <= rolling_ratio < 1
        abs(grade_ratio) <= 0.3

    Example:
        Earthmoving problems, no. 2: 172,000 lb, 80 lb/ton, 5 % up: 15,480 lb.

        >>> print(round(total_resistance_percent_rule(172000.0, 0.04, 0.05), 1))
        15480.0

    References:
        Formulas for earth moving (restating a civil-engineering formula handbook), total road resistance
    """
    return weight_n * (rolling_ratio + grade_ratio)


def effective_grade(grade_ratio: Number, rolling_ratio: Number) -> Number:
    """Grade that resists as much as grade and rolling resistance together.

    EG = g + c_rr (in percent: grade + lb/ton / 20)

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        rolling_ratio: coefficient of rolling resistance [-]

    Returns:
        effective grade [-]

    Valid for:
        abs(grade_ratio) <= 0.3
        0 <= rolling_ratio < 1

    Example:
        Earthmoving problems, no. 1: 4 % with 100 lb/ton is 9 % out.

        >>> print(round(effective_grade(0.04, 0.05), 4))
        0.09

    References:
        Earthmoving problems with solutions (construction equipment), problem 1
    """
    return grade_ratio + rolling_ratio
