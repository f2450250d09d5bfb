"""Standing still on a slope: the parking brake and the grip of the wheels it acts on."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.slope import share_along


def hold_needed(weight_n: Number, grade_ratio: Number) -> Number:
    """Force that keeps a machine from rolling away on a grade.

    W sin(theta), rolling resistance not counted

    Args:
        weight_n: weight [N]
        grade_ratio: grade it faces, either sign [-]

    Returns:
        force along the ground [N]

    Valid for:
        weight_n >= 0
        abs(grade_ratio) < 1

    Example:
        Derived: a 3 in 4 slope.

        >>> print(round(hold_needed(100.0, -0.75), 4))
        60.0

    References:
        Derived: gravity on an inclined plane; no publication
    """
    return weight_n * np.abs(share_along(grade_ratio))


def hold_available(
    brake_n: Number, grip_ratio: Number, braked_load_n: Number, weight_n: Number, cross_ratio: Number
) -> Number:
    """Force with which the parking brake can hold: brake or grip, whichever gives way first.

    min(F, sqrt((mu N_b)^2 - (W_b across)^2)), the braked wheels also holding their share of the sideways pull

    Args:
        brake_n: force of the parking brake at the ground [N]
        grip_ratio: coefficient of grip [-]
        braked_load_n: load on the wheels the parking brake acts on, square to the ground [N]
        weight_n: part of the weight those wheels carry [N]
        cross_ratio: sideways force over weight (``share_across``) [-]

    Returns:
        force along the ground [N]

    Valid for:
        brake_n >= 0
        0 <= grip_ratio <= 1.5
        braked_load_n >= 0
        weight_n >= 0
        abs(cross_ratio) < 1

    Example:
        Derived: 3-4-5: grip of 50 with 30 taken sideways.

        >>> print(round(hold_available(1000.0, 0.5, 100.0, 100.0, 0.3), 4))
        40.0

    References:
        Derived: friction circle on the braked wheels; no publication
    """
    grip_n = np.sqrt(np.maximum((grip_ratio * braked_load_n) ** 2 - (weight_n * cross_ratio) ** 2, 0.0))
    return np.minimum(brake_n, grip_n)


def parking_brake_force(weight_n: Number, hold_grade_ratio: Number) -> Number:
    """Force of a parking brake that is stated as the grade it holds.

    F = W sin(atan(G))

    Args:
        weight_n: weight at which the grade is stated [N]
        hold_grade_ratio: grade the brake holds [-]

    Returns:
        brake force at the ground [N]

    Valid for:
        weight_n >= 0
        0 <= hold_grade_ratio < 1

    Example:
        Derived: held on 3 in 4.

        >>> print(round(parking_brake_force(100.0, 0.75), 4))
        60.0

    References:
        Derived: gravity on an inclined plane; no publication
    """
    return weight_n * hold_grade_ratio / np.sqrt(1.0 + hold_grade_ratio**2)
