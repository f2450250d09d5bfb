"""Vertical stress in the ground under a load at its surface."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def stress_two_to_one(pressure_pa: Number, width_m: Number, length_m: Number, depth_m: Number) -> Number:
    """Stress at a depth under a rectangle, the load spread at 2 down to 1 out.

    σ = q B L / ((B + z)(L + z))

    Args:
        pressure_pa: pressure at the surface, q [Pa]
        width_m: width of the rectangle, B [m]
        length_m: length of the rectangle, L [m]
        depth_m: depth, z [m]

    Returns:
        mean vertical stress at the depth [Pa]

    Valid for:
        pressure_pa >= 0
        width_m > 0
        length_m > 0
        depth_m >= 0

    Example:
        A printed answer: 6.1 m by 15.25 m, 300 kPa, 4.58 m down, 132 kPa.

        >>> round(float(stress_two_to_one(300e3, 6.1, 15.25, 4.58)) / 1000, 0)
        132.0

    References:
        2:1 method, any text on soil mechanics, for example Das, Principles of Foundation Engineering, ch. 5
    """
    return pressure_pa * width_m * length_m / ((width_m + depth_m) * (length_m + depth_m))


def stress_at_spread_angle(
    pressure_pa: Number, width_m: Number, length_m: Number, depth_m: Number, spread_rad: Number
) -> Number:
    """Stress at a depth under a rectangle, the load spread at a given angle on every side.

    σ = q B L / ((B + 2 z tan α)(L + 2 z tan α))

    Args:
        pressure_pa: pressure at the surface, q [Pa]
        width_m: width of the rectangle, B [m]
        length_m: length of the rectangle, L [m]
        depth_m: depth, z [m]
        spread_rad: angle of the spread from plumb, α [rad]

    Returns:
        mean vertical stress at the depth [Pa]

    Valid for:
        pressure_pa >= 0
        width_m > 0
        length_m > 0
        depth_m >= 0
        0 <= spread_rad < 1.5707

    Example:
        Chicago's rule, 60° to the level (30° from plumb): 1 m square, 100 kPa, 1 m down.

        >>> round(float(stress_at_spread_angle(100e3, 1.0, 1.0, 1.0, np.pi / 6)) / 1000, 1)
        21.5

    References:
        Chicago Building Code (archived) 13-132-060: spread at 60 degrees to the horizontal on a weaker layer
    """
    out_m = 2.0 * depth_m * np.tan(spread_rad)
    return pressure_pa * width_m * length_m / ((width_m + out_m) * (length_m + out_m))


def stress_point_boussinesq(load_n: Number, radius_m: Number, depth_m: Number) -> Number:
    """Stress at a depth and plan distance from a point load on an elastic half space.

    σ = 3 P / (2 π z²) x (1 + (r/z)²)^(-5/2)

    Args:
        load_n: point load, P [N]
        radius_m: plan distance, r [m]
        depth_m: depth, z [m]

    Returns:
        vertical stress [Pa]

    Valid for:
        load_n >= 0
        radius_m >= 0
        depth_m > 0

    Example:
        Das, Principles of Geotechnical Engineering, Ex 10.3: 5 kN, 3 m and 4 m aside, 2 m down: 0.0042 kPa.

        >>> round(float(stress_point_boussinesq(5e3, 5.0, 2.0)) / 1000, 4)
        0.0042

    References:
        Boussinesq 1885; Das, Principles of Geotechnical Engineering, ch. 10
    """
    return 3.0 * load_n / (2.0 * np.pi * depth_m**2) * (1.0 + (radius_m / depth_m) ** 2) ** -2.5


def influence_corner_newmark(width_m: Number, length_m: Number, depth_m: Number) -> Number:
    """Part of a surface pressure that arrives under the corner of a rectangle.

    I = (1/4π) { 2mn√V/(V + m²n²) x (V + 1)/V + atan[2mn√V / (V - m²n²)] }, m = B/z, n = L/z, V = m² + n² + 1;
    the arc is taken in the second quadrant where m²n² > V

    Args:
        width_m: width of the rectangle, B [m]
        length_m: length of the rectangle, L [m]
        depth_m: depth, z [m]

    Returns:
        influence value, 0 to 0.25 [-]

    Valid for:
        width_m >= 0
        length_m >= 0
        depth_m > 0

    Example:
        Das, Principles of Foundation Engineering, Ex 5.1: m 0.2, n 0.4: 0.0328.

        >>> round(float(influence_corner_newmark(2.5, 5.0, 12.5)), 4)
        0.0328

    References:
        Newmark 1935; Das, Principles of Foundation Engineering, ch. 5
    """
    m = width_m / depth_m
    n = length_m / depth_m
    V = m**2 + n**2 + 1.0
    a = 2.0 * m * n * np.sqrt(V)
    return (a / (V + m**2 * n**2) * (V + 1.0) / V + np.arctan2(a, V - m**2 * n**2)) / (4.0 * np.pi)


def stress_centre_newmark(pressure_pa: Number, width_m: Number, length_m: Number, depth_m: Number) -> Number:
    """Stress at a depth under the centre of a rectangle on an elastic half space.

    σ = 4 q I(B/2z, L/2z)

    Args:
        pressure_pa: pressure at the surface, q [Pa]
        width_m: width of the rectangle, B [m]
        length_m: length of the rectangle, L [m]
        depth_m: depth, z [m]

    Returns:
        vertical stress under the centre, the greatest at that depth [Pa]

    Valid for:
        pressure_pa >= 0
        width_m > 0
        length_m > 0
        depth_m > 0

    Example:
        Das, Principles of Foundation Engineering, Ex 5.1: 5 ft by 10 ft, 2000 lb/ft², 12.5 ft down: 262.4 lb/ft².

        >>> round(float(stress_centre_newmark(2000.0, 5.0, 10.0, 12.5)), 1)
        262.4

    References:
        Newmark 1935; Das, Principles of Foundation Engineering, ch. 5 (any one set of units)
    """
    return 4.0 * pressure_pa * influence_corner_newmark(width_m / 2.0, length_m / 2.0, depth_m)


def stress_circle_axis(pressure_pa: Number, radius_m: Number, depth_m: Number) -> Number:
    """Stress at a depth under the centre of an evenly loaded circle on an elastic half space.

    σ = q {1 - [1 + (R/z)²]^(-3/2)}

    Args:
        pressure_pa: pressure at the surface, q [Pa]
        radius_m: radius of the circle, R [m]
        depth_m: depth, z [m]

    Returns:
        vertical stress on the axis, the greatest at that depth [Pa]

    Valid for:
        pressure_pa >= 0
        radius_m >= 0
        depth_m > 0

    Example:
        One radius down: 0.646 of the pressure.

        >>> round(float(stress_circle_axis(1.0, 1.0, 1.0)), 3)
        0.646

    References:
        Boussinesq 1885; table by Spangler 1951 in Venkatramaiah, Geotechnical Engineering, table 10.5
    """
    return pressure_pa * (1.0 - (1.0 + (radius_m / depth_m) ** 2) ** -1.5)
