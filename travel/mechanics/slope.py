"""Slopes: rise over run, percent, degrees; a slope as one vector, and what a body leaning on it does.

Body axes everywhere: x forward in the direction of travel, y to the left, z square to the ground.
Signs: ``grade_ratio`` + uphill in the direction of travel; ``cross_slope_ratio`` + falling to the right;
demands + towards the rear and + towards the right (where a climbing, right-leaning machine would tip).
"""

from __future__ import annotations

import math

import numpy as np

from travel.mechanics._types import Number
from travel.units import G_MPS2


def grade_over_window(rise_m: Number, window_m: Number) -> Number:
    """Grade over a window, rise over run.

    g = rise / w, with the run measured in plan

    Args:
        rise_m: height at the end of the window less height at its start [m]
        window_m: plan length of the window [m]

    Returns:
        grade, + uphill in the direction of the window [-]

    Valid for:
        window_m > 0

    Example:
        TB 9-2350-292-10 p. 21: 25 ft in 100 ft is 25 %.

        >>> grade_over_window(25.0, 100.0)
        0.25

    References:
        US Army TB 9-2350-292-10, p. 21 (grade as rise over horizontal run)
    """
    return rise_m / window_m


def grade_half_band(height_sd_m: Number, window_m: Number) -> Number:
    """95 % half-band of a grade between two independently measured heights.

    u = 1.96 sqrt(2) sigma / w

    Args:
        height_sd_m: standard deviation of one height [m]
        window_m: plan length of the window [m]

    Returns:
        half-band of the grade [-]

    Valid for:
        height_sd_m >= 0
        window_m > 0

    Example:
        Heights to 0.5 m, window 20 m: about seven percent.

        >>> print(round(grade_half_band(0.5, 20.0), 4))
        0.0693

    References:
        JCGM 100:2008 (GUM), 5.1.2 law of propagation for a difference; coverage factor 1.96
    """
    return 1.96 * math.sqrt(2.0) * height_sd_m / window_m


def slope_angle(slope_ratio: Number) -> Number:
    """Angle of a slope given as rise over run.

    theta = atan(s)

    Args:
        slope_ratio: rise over run [-]

    Returns:
        angle from the level [rad]

    Valid for:
        abs(slope_ratio) < 10

    Example:
        10 % is not 10 degrees.

        >>> print(round(np.degrees(slope_angle(0.10)), 2))
        5.71

    References:
        US Army TB 9-2350-292-10, p. 21 (grade as rise over horizontal run)
    """
    return np.arctan(slope_ratio)


def tilt(grade_ratio: Number, cross_slope_ratio: Number) -> Number:
    """Steepest slope of ground that has a grade and a cross slope.

    s = sqrt(g^2 + c^2)

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope, + falling to the right [-]

    Returns:
        tangent of the angle between the ground and the level [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1

    Example:
        Derived: 3 % along and 4 % across are 5 % down the fall line.

        >>> print(round(tilt(0.03, 0.04), 4))
        0.05

    References:
        Derived: gradient of a plane; no publication
    """
    return np.sqrt(grade_ratio**2 + cross_slope_ratio**2)


def grade_at_heading(grade_ratio: Number, cross_slope_ratio: Number, heading_rad: Number) -> Number:
    """Grade met on the same ground after turning by an angle.

    g' = g cos(psi) + c sin(psi)

    Args:
        grade_ratio: grade before the turn, + uphill [-]
        cross_slope_ratio: cross slope before the turn, + falling to the right [-]
        heading_rad: angle turned, + to the left [rad]

    Returns:
        grade after the turn, + uphill [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        abs(heading_rad) <= 2 * np.pi

    Example:
        Derived: a quarter turn to the left on ground that falls to the right faces uphill.

        >>> print(round(grade_at_heading(0.0, 0.08, np.pi / 2), 4))
        0.08

    References:
        Derived: gradient of a plane in turned axes; no publication
    """
    return grade_ratio * np.cos(heading_rad) + cross_slope_ratio * np.sin(heading_rad)


def cross_slope_at_heading(grade_ratio: Number, cross_slope_ratio: Number, heading_rad: Number) -> Number:
    """Cross slope met on the same ground after turning by an angle.

    c' = c cos(psi) - g sin(psi)

    Args:
        grade_ratio: grade before the turn, + uphill [-]
        cross_slope_ratio: cross slope before the turn, + falling to the right [-]
        heading_rad: angle turned, + to the left [rad]

    Returns:
        cross slope after the turn, + falling to the right [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        abs(heading_rad) <= 2 * np.pi

    Example:
        Derived: a quarter turn to the left on a climb leaves the hill on the right.

        >>> print(round(cross_slope_at_heading(0.08, 0.0, np.pi / 2), 4))
        -0.08

    References:
        Derived: gradient of a plane in turned axes; no publication
    """
    return cross_slope_ratio * np.cos(heading_rad) - grade_ratio * np.sin(heading_rad)


def share_along(grade_ratio: Number) -> Number:
    """Share of the weight that pulls back along the travel.

    sin(theta) = g / sqrt(1 + g^2)

    Args:
        grade_ratio: grade along the travel, + uphill [-]

    Returns:
        force along the ground over weight, + towards the rear [-]

    Valid for:
        abs(grade_ratio) < 1

    Example:
        Derived: a 3 in 4 slope (a 3-4-5 triangle).

        >>> print(round(share_along(0.75), 4))
        0.6

    References:
        Derived: gravity on an inclined plane; no publication. The cross slope does not change it.
    """
    return grade_ratio / np.sqrt(1.0 + grade_ratio**2)


def share_across(grade_ratio: Number, cross_slope_ratio: Number) -> Number:
    """Share of the weight that pulls sideways on ground with a grade and a cross slope.

    c / sqrt((1 + g^2)(1 + g^2 + c^2))

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope, + falling to the right [-]

    Returns:
        force across the travel, in the ground's plane, over weight, + towards the right [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1

    Example:
        Derived: a pure cross slope of 3 in 4.

        >>> print(round(share_across(0.0, 0.75), 4))
        0.6

    References:
        Derived: gravity on an inclined plane; no publication
    """
    along = 1.0 + grade_ratio**2
    return cross_slope_ratio / np.sqrt(along * (along + cross_slope_ratio**2))


def share_normal(grade_ratio: Number, cross_slope_ratio: Number) -> Number:
    """Share of the weight that presses square on the ground.

    1 / sqrt(1 + g^2 + c^2)

    Args:
        grade_ratio: grade along the travel [-]
        cross_slope_ratio: cross slope [-]

    Returns:
        force square to the ground over weight [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1

    Example:
        Derived: a 3 in 4 slope (a 3-4-5 triangle).

        >>> print(round(share_normal(0.75, 0.0), 4))
        0.8

    References:
        Derived: gravity on an inclined plane; no publication
    """
    return 1.0 / np.sqrt(1.0 + grade_ratio**2 + cross_slope_ratio**2)


def demand_along(grade_ratio: Number, cross_slope_ratio: Number, along_mps2: Number) -> Number:
    """Force along the travel over force square to the ground: the tangent demanded along.

    (sin(theta) + a / g) / n, with n the share of the weight square to the ground

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope, + falling to the right [-]
        along_mps2: acceleration along the travel in the ground's plane, + gaining speed, - braking [m/s2]

    Returns:
        tangent demanded, + towards the rear [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        abs(along_mps2) < 20

    Example:
        Derived: at rest with no cross slope the demand is the grade itself.

        >>> print(round(demand_along(0.15, 0.0, 0.0), 4))
        0.15

    References:
        Derived: d'Alembert's principle on an inclined plane; no publication
    """
    along = share_along(grade_ratio) + along_mps2 / G_MPS2
    return along / share_normal(grade_ratio, cross_slope_ratio)


def demand_across(grade_ratio: Number, cross_slope_ratio: Number, across_mps2: Number) -> Number:
    """Force across the travel over force square to the ground: the tangent demanded across.

    (c / sqrt((1 + g^2)(1 + g^2 + c^2)) + a / g) / n, with n the share of the weight square to the ground

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope, + falling to the right [-]
        across_mps2: acceleration across the travel in the ground's plane, + towards the left (a left turn) [m/s2]

    Returns:
        tangent demanded, + towards the right [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        abs(across_mps2) < 20

    Example:
        Derived: at rest with no grade the demand is the cross slope itself.

        >>> print(round(demand_across(0.0, 0.08, 0.0), 4))
        0.08

    References:
        Derived: d'Alembert's principle on an inclined plane; no publication
    """
    across = share_across(grade_ratio, cross_slope_ratio) + across_mps2 / G_MPS2
    return across / share_normal(grade_ratio, cross_slope_ratio)
