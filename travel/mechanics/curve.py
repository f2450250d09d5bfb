"""Bends: speed, radius, superelevation, and the width a bend and a lane need.

Superelevation is + where the road falls towards the inside of the bend.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import G_MPS2, KMH_PER_MPS, M_PER_FT, MPS_PER_MPH


def curve_radius_aashto_metric(speed_mps: Number, superelevation_ratio: Number, friction_ratio: Number) -> Number:
    """Least radius of a bend, highway design, metric form.

    R = V^2 / (127 (e + f)), m and km/h

    Args:
        speed_mps: speed [m/s]
        superelevation_ratio: superelevation, + falling to the inside [-]
        friction_ratio: side friction [-]

    Returns:
        radius [m]

    Valid for:
        speed_mps >= 0
        abs(superelevation_ratio) <= 0.12
        0 <= friction_ratio <= 0.5
        superelevation_ratio + friction_ratio > 0

    Example:
        AASHTO, e 4 %, 40 km/h, f 0.23: 47 m.

        >>> print(round(curve_radius_aashto_metric(40 / 3.6, 0.04, 0.23)))
        47

    References:
        AASHTO, A Policy on Geometric Design of Highways and Streets (2001, 2004), minimum radius
    """
    return (speed_mps * KMH_PER_MPS) ** 2 / (127.0 * (superelevation_ratio + friction_ratio))


def curve_radius_aashto_us(speed_mps: Number, superelevation_ratio: Number, friction_ratio: Number) -> Number:
    """Least radius of a bend, highway design, US form.

    R = V^2 / (15 (e + f)), ft and mph

    Args:
        speed_mps: speed [m/s]
        superelevation_ratio: superelevation, + falling to the inside [-]
        friction_ratio: side friction [-]

    Returns:
        radius [m]

    Valid for:
        speed_mps >= 0
        abs(superelevation_ratio) <= 0.12
        0 <= friction_ratio <= 0.5
        superelevation_ratio + friction_ratio > 0

    Example:
        AASHTO, e 4 %, 20 mph, f 0.27: 86 ft.

        >>> print(round(curve_radius_aashto_us(20 * 0.44704, 0.04, 0.27) / 0.3048))
        86

    References:
        AASHTO, A Policy on Geometric Design of Highways and Streets (2001, 2004), minimum radius
    """
    return (speed_mps / MPS_PER_MPH) ** 2 / (15.0 * (superelevation_ratio + friction_ratio)) * M_PER_FT


def sideways_acceleration(speed_mps: Number, radius_m: Number) -> Number:
    """Acceleration towards the inside of a bend.

    a = v^2 / R

    Args:
        speed_mps: speed [m/s]
        radius_m: radius of the bend [m]

    Returns:
        acceleration, level, towards the centre [m/s2]

    Valid for:
        speed_mps >= 0
        radius_m > 0

    Example:
        Derived: 5 m/s on 25 m.

        >>> print(sideways_acceleration(5.0, 25.0))
        1.0

    References:
        Kinematics of a circle; no publication
    """
    return speed_mps**2 / radius_m


def side_grip_speed(radius_m: Number, superelevation_ratio: Number, grip_ratio: Number) -> Number:
    """Speed at which a machine on a bend begins to slide out, exact.

    v^2 / (g R) = (mu + e) / (1 - mu e)

    Args:
        radius_m: radius of the bend [m]
        superelevation_ratio: superelevation, + falling to the inside [-]
        grip_ratio: coefficient of grip [-]

    Returns:
        speed; 0 where it slides out at rest [m/s]

    Valid for:
        radius_m > 0
        abs(superelevation_ratio) < 0.5
        0 <= grip_ratio <= 1.5
        grip_ratio * superelevation_ratio < 1
        grip_ratio > superelevation_ratio

    Example:
        Derived: no superelevation, mu 0.5, 20 m: sqrt(0.5 g R).

        >>> print(round(side_grip_speed(20.0, 0.0, 0.5), 4))
        9.9029

    References:
        Derived: Coulomb friction on a banked circle; no publication
    """
    ratio = (grip_ratio + superelevation_ratio) / (1.0 - grip_ratio * superelevation_ratio)
    return np.sqrt(G_MPS2 * radius_m * np.maximum(ratio, 0.0))


def overturning_speed(radius_m: Number, superelevation_ratio: Number, tip_ratio: Number) -> Number:
    """Speed at which a rigid machine on a bend begins to overturn outwards, exact.

    v^2 / (g R) = (SSF + e) / (1 - SSF e), SSF = t / 2h for a base of track t

    Args:
        radius_m: radius of the bend [m]
        superelevation_ratio: superelevation, + falling to the inside [-]
        tip_ratio: tangent of the angle at which it tips sideways at rest (``static_stability_factor`` or less) [-]

    Returns:
        speed; 0 where it tips outwards at rest [m/s]

    Valid for:
        radius_m > 0
        abs(superelevation_ratio) < 0.5
        0 <= tip_ratio <= 5
        tip_ratio * superelevation_ratio < 1
        tip_ratio > superelevation_ratio

    Example:
        Level bend, t 1.8 m, h 1.0 m, R 20 m: sqrt(g R t / 2h).

        >>> print(round(overturning_speed(20.0, 0.0, 0.9), 1))
        13.3

    References:
        Level bend: textbook mechanics, overturning of a vehicle on a level circular path, v = sqrt(g R t / 2h)
        With superelevation: derived (moments about the outer contact line); no publication
    """
    ratio = (tip_ratio + superelevation_ratio) / (1.0 - tip_ratio * superelevation_ratio)
    return np.sqrt(G_MPS2 * radius_m * np.maximum(ratio, 0.0))


def superelevation_needed(speed_mps: Number, radius_m: Number, friction_ratio: Number) -> Number:
    """Superelevation that leaves a given side friction on a bend.

    e = v^2 / (g R) - f

    Args:
        speed_mps: speed [m/s]
        radius_m: radius of the bend [m]
        friction_ratio: side friction allowed [-]

    Returns:
        superelevation; negative where none is needed [-]

    Valid for:
        speed_mps >= 0
        radius_m > 0
        0 <= friction_ratio <= 0.5
        speed_mps**2 < 9.80665 * radius_m

    Example:
        Derived: 5 m/s on 25 m, f 0.06.

        >>> print(round(superelevation_needed(5.0, 25.0, 0.06), 3))
        0.042

    References:
        AASHTO, A Policy on Geometric Design of Highways and Streets (2001, 2004), minimum radius, solved for e
    """
    return speed_mps**2 / (G_MPS2 * radius_m) - friction_ratio


def widening_mechanical(lanes_count: Number, wheelbase_m: Number, radius_m: Number) -> Number:
    """Widening of a bend because rear wheels cut in (approximate off-tracking of each lane).

    W_m = n L^2 / (2 R)

    Args:
        lanes_count: number of lanes [-]
        wheelbase_m: wheelbase of the longest vehicle [m]
        radius_m: radius of the bend [m]

    Returns:
        extra width [m]

    Valid for:
        lanes_count >= 1
        wheelbase_m > 0
        radius_m > 2 * wheelbase_m

    Example:
        Highway engineering problem: 2 lanes, 7 m, 250 m: 0.196 m.

        >>> print(round(widening_mechanical(2.0, 7.0, 250.0), 3))
        0.196

    References:
        Indian Roads Congress practice as taught: widening of pavement on horizontal curves, mechanical part
    """
    return lanes_count * wheelbase_m**2 / (2.0 * radius_m)


def widening_psychological_irc(speed_mps: Number, radius_m: Number) -> Number:
    """Widening of a bend because drivers keep further apart.

    W_ps = V / (9.5 sqrt(R)), km/h and m

    Args:
        speed_mps: speed [m/s]
        radius_m: radius of the bend [m]

    Returns:
        extra width [m]

    Valid for:
        speed_mps >= 0
        radius_m > 0

    Example:
        Highway engineering problem: 80 km/h, 220 m: 0.568 m.

        >>> print(round(widening_psychological_irc(80 / 3.6, 220.0), 3))
        0.568

    References:
        Indian Roads Congress practice as taught: widening of pavement on horizontal curves, psychological part
    """
    return speed_mps * KMH_PER_MPS / (9.5 * np.sqrt(radius_m))


def lane_width_ic8758(vehicle_width_m: Number, lanes_count: Number) -> Number:
    """Width of a haul road on the straight.

    W = (1.5 n + 0.5) x width of the vehicle

    Args:
        vehicle_width_m: width of the widest vehicle in regular use [m]
        lanes_count: number of lanes [-]

    Returns:
        width of the running surface; bends need more [m]

    Valid for:
        vehicle_width_m > 0
        1 <= lanes_count <= 4

    Example:
        IC 8758: 10 ft wide, two lanes: 35 ft.

        >>> print(lane_width_ic8758(10.0, 2.0))
        35.0

    References:
        US Bureau of Mines IC 8758 (1977), recommended lane widths for tangent sections (from memory, recomputed)
    """
    return (1.5 * lanes_count + 0.5) * vehicle_width_m
