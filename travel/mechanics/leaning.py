"""Where the points of a rigid body go when it leans with the ground it stands on."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def leaning_height(height_m: Number, slope_ratio: Number) -> Number:
    """Plumb height above the slope of a body standing square on it.

    H / cos(theta) = H sqrt(1 + s^2)

    Args:
        height_m: height of the body above level ground [m]
        slope_ratio: slope it stands on, rise over run [-]

    Returns:
        height from the ground plumb below to the plane of the body's top [m]

    Valid for:
        height_m >= 0
        abs(slope_ratio) < 1

    Example:
        Derived: 4 m on a 3 in 4 slope.

        >>> print(round(leaning_height(4.0, 0.75), 4))
        5.0

    References:
        Derived: two parallel lines cut by a plumb line; no publication
    """
    return height_m * np.sqrt(1.0 + slope_ratio**2)


def leaning_rise(half_width_m: Number, cross_slope_ratio: Number) -> Number:
    """Rise of the body's uphill side over its centreline on a cross slope.

    (W / 2) sin(phi)

    Args:
        half_width_m: half the body's width at that height [m]
        cross_slope_ratio: cross slope [-]

    Returns:
        rise of the uphill upper edge over the middle of the top [m]

    Valid for:
        half_width_m >= 0
        abs(cross_slope_ratio) < 1

    Example:
        Derived: half a width of 1.25 m on a 3 in 4 slope.

        >>> print(round(leaning_rise(1.25, 0.75), 4))
        0.75

    References:
        Derived: rigid body on an inclined plane; no publication
    """
    return half_width_m * np.abs(cross_slope_ratio) / np.sqrt(1.0 + cross_slope_ratio**2)


def leaning_offset(height_m: Number, cross_slope_ratio: Number) -> Number:
    """Sideways shift of a point of the body towards the downhill side on a cross slope.

    z sin(phi)

    Args:
        height_m: height of the point above level ground [m]
        cross_slope_ratio: cross slope [-]

    Returns:
        plan distance by which the point hangs downhill of its own foot [m]

    Valid for:
        height_m >= 0
        abs(cross_slope_ratio) < 1

    Example:
        Derived: 3 m up on a 3 in 4 slope.

        >>> print(round(leaning_offset(3.0, 0.75), 4))
        1.8

    References:
        Derived: rigid body on an inclined plane; no publication
    """
    return height_m * np.abs(cross_slope_ratio) / np.sqrt(1.0 + cross_slope_ratio**2)
