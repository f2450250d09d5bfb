"""Time over a distance: steady, gaining or losing speed, and the speed that power allows."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def time_over_distance(distance_m: Number, speed_mps: Number) -> Number:
    """Time at a steady speed.

    t = s / v

    Args:
        distance_m: distance [m]
        speed_mps: speed [m/s]

    Returns:
        time [s]

    Valid for:
        distance_m >= 0
        speed_mps > 0

    Example:
        30 CFR 56.14101 table M-2: 100 ft at 10 mph, 6.8 s.

        >>> print(round(time_over_distance(30.48, 10 * 0.44704), 1))
        6.8

    References:
        30 CFR 56.14101, table M-2
    """
    return distance_m / speed_mps


def peak_speed_triangle(distance_m: Number, accel_mps2: Number, decel_mps2: Number) -> Number:
    """Top speed reached from rest to rest with no cap on the way.

    v_p = sqrt(2 a b D / (a + b))

    Args:
        distance_m: distance from rest to rest [m]
        accel_mps2: acceleration [m/s2]
        decel_mps2: deceleration [m/s2]

    Returns:
        peak speed [m/s]

    Valid for:
        distance_m >= 0
        accel_mps2 > 0
        decel_mps2 > 0

    Example:
        Velocity-time problem: 100 m, 2 and 4 m/s2.

        >>> print(round(peak_speed_triangle(100.0, 2.0, 4.0), 3))
        16.33

    References:
        Velocity-time profiles, trapezoidal and triangular (lesson); its peak formula holds from rest to rest only
    """
    return np.sqrt(2.0 * accel_mps2 * decel_mps2 * distance_m / (accel_mps2 + decel_mps2))


def time_rest_to_rest(distance_m: Number, accel_mps2: Number, decel_mps2: Number, cap_mps: Number) -> Number:
    """Time from rest to rest with a cap on the speed.

    T = D / v + v / 2 (1/a + 1/b), with v the lower of cap and peak

    Args:
        distance_m: distance from rest to rest [m]
        accel_mps2: acceleration [m/s2]
        decel_mps2: deceleration [m/s2]
        cap_mps: highest speed allowed [m/s]

    Returns:
        time [s]

    Valid for:
        distance_m > 0
        accel_mps2 > 0
        decel_mps2 > 0
        cap_mps > 0

    Example:
        Velocity-time problem: 100 m, 2 and 4 m/s2, no cap reached.

        >>> print(round(time_rest_to_rest(100.0, 2.0, 4.0, 1000.0), 3))
        12.247

    References:
        Velocity-time profiles, trapezoidal and triangular (lesson)
    """
    speed_mps = np.minimum(cap_mps, peak_speed_triangle(distance_m, accel_mps2, decel_mps2))
    return distance_m / speed_mps + speed_mps / 2.0 * (1.0 / accel_mps2 + 1.0 / decel_mps2)


def speed_after_distance(speed_mps: Number, accel_mps2: Number, distance_m: Number) -> Number:
    """Speed after gaining (or losing) speed evenly over a distance.

    v1 = sqrt(v0^2 + 2 a s), 0 where it stood before the end

    Args:
        speed_mps: speed at the start [m/s]
        accel_mps2: acceleration, + gaining, - losing [m/s2]
        distance_m: distance [m]

    Returns:
        speed at the end [m/s]

    Valid for:
        speed_mps >= 0
        abs(accel_mps2) < 20
        distance_m >= 0

    Example:
        Derived: from rest at 2 m/s2 over 4 m.

        >>> print(speed_after_distance(0.0, 2.0, 4.0))
        4.0

    References:
        Kinematics of even acceleration; no publication
    """
    return np.sqrt(np.maximum(speed_mps**2 + 2.0 * accel_mps2 * distance_m, 0.0))


def time_changing_speed(distance_m: Number, from_mps: Number, to_mps: Number) -> Number:
    """Time over a distance while the speed changes evenly.

    t = 2 s / (v0 + v1)

    Args:
        distance_m: distance [m]
        from_mps: speed at the start [m/s]
        to_mps: speed at the end [m/s]

    Returns:
        time [s]

    Valid for:
        distance_m >= 0
        from_mps >= 0
        to_mps >= 0
        from_mps + to_mps > 0

    Example:
        Symmetric triangle: peak speed is twice the average, so 0 to 4 m/s over 8 m takes 4 s.

        >>> print(time_changing_speed(8.0, 0.0, 4.0))
        4.0

    References:
        Calculating velocity in motion profiles (lesson): peak of a triangle is twice its average
    """
    return 2.0 * distance_m / (from_mps + to_mps)


def speed_at_power(power_w: Number, efficiency_ratio: Number, resistance_n: Number) -> Number:
    """Speed that power allows against a resistance.

    v = P eff / F (375 hp eff / TR in mph and lb)

    Args:
        power_w: power of the engine [W]
        efficiency_ratio: efficiency of the drive line [-]
        resistance_n: force against the travel [N]

    Returns:
        speed; infinite where nothing resists. Cap it by grip and by the site's limit [m/s]

    Valid for:
        power_w >= 0
        0 < efficiency_ratio <= 1
        abs(resistance_n) < 1e7

    Example:
        Construction planning text: 140 hp, 0.85, against 13,730 lb: 3.25 mph.

        >>> print(round(speed_at_power(140 * 745.7, 0.85, 13730 * 4.4482216) / 0.44704, 2))
        3.25

    References:
        Peurifoy et al., Construction Planning, Equipment, and Methods, rimpull (from memory, recomputed)
    """
    safe_n = np.where(resistance_n > 0.0, resistance_n, 1.0)
    return np.where(resistance_n > 0.0, power_w * efficiency_ratio / safe_n, np.inf)[()]


def pull_at_power(power_w: Number, efficiency_ratio: Number, speed_mps: Number) -> Number:
    """Pull that power allows at a speed.

    F = P eff / v (375 hp eff / mph, lb)

    Args:
        power_w: power of the engine [W]
        efficiency_ratio: efficiency of the drive line [-]
        speed_mps: speed [m/s]

    Returns:
        pull at the wheels [N]

    Valid for:
        power_w >= 0
        0 < efficiency_ratio <= 1
        speed_mps > 0

    Example:
        Construction planning text: 140 hp, 0.85, 3.25 mph: 13,730 lb.

        >>> print(round(pull_at_power(140 * 745.7, 0.85, 3.25 * 0.44704) / 4.4482216, -1))
        13730.0

    References:
        Peurifoy et al., Construction Planning, Equipment, and Methods, rimpull (from memory, recomputed)
    """
    return power_w * efficiency_ratio / speed_mps
