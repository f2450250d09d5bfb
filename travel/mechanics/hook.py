"""A load on the hook: radius on a slope, swing, and the pace of a walking load."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import G_MPS2


def radius_on_slope(radius_m: Number, head_height_m: Number, slope_ratio: Number) -> Number:
    """Radius of a hanging load when the machine leans towards it.

    R' = R cos θ + H sin θ

    Args:
        radius_m: radius on level ground from the slew centre, R [m]
        head_height_m: height of the boom head above the ground, H [m]
        slope_ratio: slope towards the load, downhill, tan θ; the steepest counts for every direction [-]

    Returns:
        level distance from the slew centre at ground to the load [m]

    Valid for:
        radius_m >= 0
        head_height_m >= 0
        slope_ratio >= 0

    Example:
        A 3-4-5 slope: 4 m of radius and 6 m of height.

        >>> round(float(radius_on_slope(4.0, 6.0, 0.75)), 6)
        6.8

    References:
        geometry of a rigid boom turned by the slope
    """
    cos = 1.0 / np.sqrt(1.0 + slope_ratio**2)
    return radius_m * cos + head_height_m * slope_ratio * cos


def radius_with_swing(radius_m: Number, head_height_m: Number, slope_ratio: Number, swing_m: Number) -> Number:
    """Radius to look up for a load carried on the hook: leaned by the slope and swung out.

    R' = R cos θ + H sin θ + 2 e, the steady swing doubled for a sudden start or stop

    Args:
        radius_m: radius on level ground from the slew centre, R [m]
        head_height_m: height of the boom head above the ground, H [m]
        slope_ratio: slope towards the load, downhill, tan θ [-]
        swing_m: steady swing out, e [m]

    Returns:
        radius; take the next longer one in the table [m]

    Valid for:
        radius_m >= 0
        head_height_m >= 0
        slope_ratio >= 0
        swing_m >= 0

    Example:
        4 m, head at 6 m, level, steady swing 0.2 m.

        >>> round(float(radius_with_swing(4.0, 6.0, 0.0, 0.2)), 6)
        4.4

    References:
        geometry; a pendulum pulled suddenly swings to twice its steady offset
    """
    return radius_on_slope(radius_m, head_height_m, slope_ratio) + 2.0 * swing_m


def pendulum_offset(drop_m: Number, acceleration_mps2: Number) -> Number:
    """Steady sideways offset of a hanging load under a steady acceleration.

    e = l (a/g) / sqrt(1 + (a/g)²), about l a/g

    Args:
        drop_m: distance from the boom head to the load's centre of gravity, l [m]
        acceleration_mps2: acceleration or braking, a [m/s²]

    Returns:
        offset [m]

    Valid for:
        drop_m >= 0
        acceleration_mps2 >= 0

    Example:
        5 m of drop, 0.5 m/s².

        >>> round(float(pendulum_offset(5.0, 0.5)), 3)
        0.255

    References:
        equilibrium of a pendulum in an accelerated frame
    """
    ratio = acceleration_mps2 / G_MPS2
    return drop_m * ratio / np.sqrt(1.0 + ratio**2)


def pendulum_period(drop_m: Number) -> Number:
    """Time of one full swing of a hanging load.

    T = 2 π sqrt(l / g)

    Args:
        drop_m: distance from the boom head to the load's centre of gravity, l [m]

    Returns:
        time there and back [s]

    Valid for:
        drop_m >= 0

    Example:
        A drop of 4 m: about 4 s.

        >>> round(float(pendulum_period(4.0)), 2)
        4.01

    References:
        mathematical pendulum, small swings
    """
    return 2.0 * np.pi * np.sqrt(drop_m / G_MPS2)


def machine_speed_for_load_pace(load_speed_mps: Number, turn_radius_m: Number, load_turn_radius_m: Number) -> Number:
    """Speed of the machine in a turn at which the load on the hook keeps a given pace.

    v = v_load x min(1, r / r_load)

    Args:
        load_speed_mps: pace allowed for the load, v_load [m/s]
        turn_radius_m: radius of the machine's path about the turning centre, r [m]
        load_turn_radius_m: distance of the load from the turning centre, r_load [m]

    Returns:
        greatest speed of the machine [m/s]

    Valid for:
        load_speed_mps > 0
        turn_radius_m > 0
        load_turn_radius_m > 0

    Example:
        A pace of 1.4 km/h, machine on 6 m, load 12 m from the turning centre: half.

        >>> round(float(machine_speed_for_load_pace(1.4, 6.0, 12.0)), 6)
        0.7

    References:
        rotation about one centre; 1.4 km/h with a suspended load: ISO/CD 22915-25
    """
    return load_speed_mps * np.minimum(turn_radius_m / load_turn_radius_m, 1.0)
