"""Tie-downs: numbers and forces by 49 CFR 393 (US), EN 12195-1:2010 and the Australian angle effect.

The three are different rules with different forces and are never mixed. The 2003 edition of EN 12195-1 (k = 1.5,
friction while moving) gives up to four times as many lashings as the 2010 one.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import G_MPS2, KG_PER_LB, M_PER_FT


def tiedowns_needed(length_m: Number, mass_kg: Number, blocked_ratio: Number) -> Number:
    """Least number of tie-downs by length and mass.

    not blocked: 1 (to 5 ft and 1 100 lb), 2 (to 10 ft), then one more per 10 ft or part; blocked: one per 10 ft or part

    Args:
        length_m: length of the article [m]
        mass_kg: mass of the load [kg]
        blocked_ratio: 1: blocked against moving forward, 0: not [-]

    Returns:
        number [-]

    Valid for:
        length_m > 0
        mass_kg > 0
        0 <= blocked_ratio <= 1

    Example:
        A heavy article of 25 ft, not blocked and blocked.

        >>> print(float(tiedowns_needed(25 * 0.3048, 9000.0, 0.0)), float(tiedowns_needed(25 * 0.3048, 9000.0, 1.0)))
        4.0 3.0

    References:
        49 CFR 393.110(b) and (c)
    """
    length_ft = np.round(length_m / M_PER_FT, 6)
    light = (length_ft <= 5.0) & (mass_kg <= 1100.0 * KG_PER_LB)
    free = np.where(light, 1.0, 2.0 + np.ceil(np.maximum(length_ft - 10.0, 0.0) / 10.0))
    return np.where(blocked_ratio > 0.5, np.maximum(np.ceil(length_ft / 10.0), 1.0), free)[()]


def aggregate_limit_needed(mass_kg: Number) -> Number:
    """Sum of working load limits that the tie-downs of an article must reach.

    half the mass

    Args:
        mass_kg: mass of the load [kg]

    Returns:
        aggregate working load limit [kg]

    Valid for:
        mass_kg >= 0

    Example:
        33 000 lb ask for 16 500 lb.

        >>> print(aggregate_limit_needed(33000.0))
        16500.0

    References:
        49 CFR 393.106(d)
    """
    return mass_kg / 2.0


def tiedown_contribution(limit_kg: Number, over_ratio: Number) -> Number:
    """What one tie-down counts towards the aggregate working load limit.

    half, or all of it where it goes over to the other side

    Args:
        limit_kg: working load limit: the least of its parts and its anchor points [kg]
        over_ratio: 1: goes over the article to the other side, 0: from vehicle to article, or back to the same side [-]

    Returns:
        contribution [kg]

    Valid for:
        limit_kg >= 0
        0 <= over_ratio <= 1

    Example:
        A direct chain of 6 600 lb counts 3 300 lb.

        >>> print(float(tiedown_contribution(6600.0, 0.0)))
        3300.0

    References:
        49 CFR 393.106(d)(1) to (3)
    """
    return (limit_kg * np.where(over_ratio > 0.5, 1.0, 0.5))[()]


def top_over_friction(tension_n: Number, angle_rad: Number, friction_ratio: Number, sides_ratio: Number) -> Number:
    """Force against sliding that one lashing over the top adds.

    F = k mu sin(alpha) F_T

    Args:
        tension_n: tension force in the lashing, F_T (S_TF) [N]
        angle_rad: angle between lashing and deck, alpha [rad]
        friction_ratio: coefficient of friction, mu [-]
        sides_ratio: how much of the tension acts on both sides together: 2 none lost, 1 one side only [-]

    Returns:
        force [N]

    Valid for:
        tension_n >= 0
        0 < angle_rad <= 1.5708
        0 <= friction_ratio <= 1
        0 < sides_ratio <= 2

    Example:
        500 daN, 0.80 of it down, mu 0.3: 120 daN.

        >>> print(round(float(top_over_friction(5000.0, np.arcsin(0.8), 0.3, 1.0)), 6))
        1200.0

    References:
        EN 12195-1:2010, friction lashing (from memory); Container Handbook 5.2.8
    """
    return sides_ratio * friction_ratio * np.sin(angle_rad) * tension_n


def top_over_needed(
    mass_kg: Number,
    acceleration_ratio: Number,
    down_ratio: Number,
    friction_ratio: Number,
    angle_rad: Number,
    tension_n: Number,
    safety_ratio: Number,
) -> Number:
    """Number of lashings over the top against sliding, not yet rounded up.

    n = (c - mu c_z) m g f_s / (2 mu sin(alpha) F_T), no less than 0

    Args:
        mass_kg: mass of the load [kg]
        acceleration_ratio: design acceleration over g, c [-]
        down_ratio: downward acceleration over g, c_z [-]
        friction_ratio: coefficient of friction, mu [-]
        angle_rad: angle between lashing and deck, alpha [rad]
        tension_n: tension force in the lashing, F_T (S_TF) [N]
        safety_ratio: safety factor f_s: 1.25 forward, 1.1 other directions [-]

    Returns:
        number [-]

    Valid for:
        mass_kg >= 0
        acceleration_ratio >= 0
        0 <= down_ratio <= 1
        0 < friction_ratio <= 1
        0 < angle_rad <= 1.5708
        tension_n > 0
        safety_ratio >= 1

    Example:
        Derived: 2 000 kg, mu 0.45, upright, 500 daN, forward.

        >>> print(round(float(top_over_needed(2000.0, 0.8, 1.0, 0.45, np.pi / 2, 5000.0, 1.25)), 3))
        1.907

    References:
        EN 12195-1:2010, 5.3.2 (formula from memory; it gives back the EU best-practice quick guide's table)
    """
    needed_n = np.maximum(acceleration_ratio - friction_ratio * down_ratio, 0.0) * mass_kg * G_MPS2 * safety_ratio
    return needed_n / (2.0 * friction_ratio * np.sin(angle_rad) * tension_n)


def top_over_held(
    acceleration_ratio: Number,
    down_ratio: Number,
    friction_ratio: Number,
    angle_rad: Number,
    tension_n: Number,
    safety_ratio: Number,
) -> Number:
    """Mass that one lashing over the top keeps from sliding.

    m = 2 mu sin(alpha) F_T / ((c - mu c_z) g f_s)

    Args:
        acceleration_ratio: design acceleration over g, c [-]
        down_ratio: downward acceleration over g, c_z [-]
        friction_ratio: coefficient of friction, mu [-]
        angle_rad: angle between lashing and deck, alpha [rad]
        tension_n: tension force in the lashing, F_T (S_TF) [N]
        safety_ratio: safety factor f_s: 1.25 forward, 1.1 other directions [-]

    Returns:
        mass [kg]

    Valid for:
        acceleration_ratio > friction_ratio * down_ratio
        0 <= down_ratio <= 1
        0 < friction_ratio <= 1
        0 < angle_rad <= 1.5708
        tension_n > 0
        safety_ratio >= 1

    Example:
        400 daN at 75 degrees, mu 0.30, forward: 0.38 t.

        >>> print(round(float(top_over_held(0.8, 1.0, 0.30, np.radians(75.0), 4000.0, 1.25)), 0))
        378.0

    References:
        EN 12195-1:2010, 5.3.2 (formula from memory)
    """
    spare = acceleration_ratio - friction_ratio * down_ratio
    return 2.0 * friction_ratio * np.sin(angle_rad) * tension_n / (spare * G_MPS2 * safety_ratio)


def direct_restraint(
    capacity_n: Number, angle_rad: Number, plan_rad: Number, friction_ratio: Number, share_ratio: Number
) -> Number:
    """Restraint that one direct (or diagonal) lashing gives in one direction.

    LC (cos(alpha) cos(beta) + f mu sin(alpha))

    Args:
        capacity_n: lashing capacity, LC [N]
        angle_rad: angle between lashing and deck, alpha [rad]
        plan_rad: angle in plan between the lashing and the direction held, beta [rad]
        friction_ratio: coefficient of friction, mu [-]
        share_ratio: share of the friction that counts with direct lashing, f_mu = 0.75 [-]

    Returns:
        force [N]

    Valid for:
        capacity_n >= 0
        0 <= angle_rad <= 1.5708
        abs(plan_rad) <= 1.5708
        0 <= friction_ratio <= 1
        0 <= share_ratio <= 1

    Example:
        Derived: flat and straight: all of it.

        >>> print(float(direct_restraint(100.0, 0.0, 0.0, 0.6, 0.75)))
        100.0

    References:
        EN 12195-1:2010, 5.4 (formula from memory)
    """
    return capacity_n * (np.cos(angle_rad) * np.cos(plan_rad) + share_ratio * friction_ratio * np.sin(angle_rad))


def direct_needed(
    mass_kg: Number, acceleration_ratio: Number, down_ratio: Number, friction_ratio: Number, share_ratio: Number
) -> Number:
    """Restraint that direct lashings must give in one direction.

    m g (c - f mu c_z), no less than 0

    Args:
        mass_kg: mass of the load [kg]
        acceleration_ratio: design acceleration over g, c [-]
        down_ratio: downward acceleration over g, c_z [-]
        friction_ratio: coefficient of friction, mu [-]
        share_ratio: share of the friction that counts with direct lashing, f_mu = 0.75 [-]

    Returns:
        force [N]

    Valid for:
        mass_kg >= 0
        acceleration_ratio >= 0
        0 <= down_ratio <= 1
        0 <= friction_ratio <= 1
        0 <= share_ratio <= 1

    Example:
        Derived: no friction: all of m g c.

        >>> print(round(float(direct_needed(1000.0, 0.8, 1.0, 0.0, 0.75)), 2))
        7845.32

    References:
        EN 12195-1:2010, 5.4 (formula from memory)
    """
    return mass_kg * G_MPS2 * np.maximum(acceleration_ratio - share_ratio * friction_ratio * down_ratio, 0.0)


def angle_effect_capacity(mass_kg: Number, acceleration_ratio: Number, apart_m: Number, length_m: Number) -> Number:
    """Capacity each of two chains must have in one direction by the angle effect.

    c m / (2 AE), AE = apart / length

    Args:
        mass_kg: mass of the load [kg]
        acceleration_ratio: design acceleration over g, c [-]
        apart_m: distance of the tie points in the direction held [m]
        length_m: length of the chain [m]

    Returns:
        capacity of each chain [kg]

    Valid for:
        mass_kg >= 0
        acceleration_ratio >= 0
        apart_m > 0
        length_m >= apart_m

    Example:
        15 t forward, 3.4 m on a chain of 3.5 m.

        >>> print(round(float(angle_effect_capacity(15000.0, 0.8, 3.4, 3.5)), 0))
        6176.0

    References:
        Australian Load Restraint Guide, direct restraint, as told in a regulator's case study
    """
    effect = apart_m / length_m
    return acceleration_ratio * mass_kg / (2.0 * effect)
