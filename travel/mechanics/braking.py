"""Stopping on a slope: deceleration, distance, the speed that stops in what can be seen, holding at rest.

Grade is + uphill in the direction of travel, so a downgrade is negative and takes from the deceleration.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.slope import share_across, share_along, share_normal
from travel.units import G_MPS2, KMH_PER_MPS, M_PER_FT, MPS_PER_MPH


def deceleration_on_grade(
    brake_mps2: Number,
    grip_ratio: Number,
    braked_share_ratio: Number,
    grade_ratio: Number,
    cross_slope_ratio: Number,
) -> Number:
    """Deceleration with the brakes full on, on a slope.

    min(b, g s sqrt((mu n)^2 - across^2)) + g sin(theta)

    Args:
        brake_mps2: deceleration the service brake gives on level ground with grip to spare [m/s2]
        grip_ratio: coefficient of grip [-]
        braked_share_ratio: load on braked wheels over load on all wheels, on this slope [-]
        grade_ratio: grade along the travel, + uphill, - downhill [-]
        cross_slope_ratio: cross slope [-]

    Returns:
        deceleration; zero or negative means that the machine cannot stop here [m/s2]

    Valid for:
        brake_mps2 >= 0
        0 <= grip_ratio <= 1.5
        0 <= braked_share_ratio <= 1
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1

    Example:
        Derived: grip 0.6, all wheels braked, level: 0.6 g, the brake being stronger.

        >>> print(round(deceleration_on_grade(9.0, 0.6, 1.0, 0.0, 0.0), 5))
        5.88399

    References:
        Derived: Newton's second law on an inclined plane; no publication. The slope is taken from the brake's
          own deceleration as well as from the grip; rolling resistance is left out (it would help); each wheel
          carries its share of the sideways pull.
    """
    across = share_across(grade_ratio, cross_slope_ratio)
    normal = share_normal(grade_ratio, cross_slope_ratio)
    grip = braked_share_ratio * np.sqrt(np.maximum((grip_ratio * normal) ** 2 - across**2, 0.0))
    return np.minimum(brake_mps2, G_MPS2 * grip) + G_MPS2 * share_along(grade_ratio)


def stopping_distance(speed_mps: Number, reaction_s: Number, lag_s: Number, decel_mps2: Number) -> Number:
    """Stopping distance at a steady speed until the brakes bite, then even deceleration.

    s = v (t_r + t_l) + v^2 / (2 d)

    Args:
        speed_mps: speed [m/s]
        reaction_s: the driver's reaction time [s]
        lag_s: lag of the brake system [s]
        decel_mps2: deceleration on this slope [m/s2]

    Returns:
        distance from seeing to standing [m]

    Valid for:
        speed_mps >= 0
        reaction_s >= 0
        lag_s >= 0
        decel_mps2 > 0

    Example:
        30 CFR 56.14101 table M-1, to 36,000 lb, 10 mph: 34 ft as printed (rounded up from 33.1).

        >>> print(round(stopping_distance(10 * 0.44704, 1.0, 0.5, 9.66 * 0.3048) / 0.3048, 1))
        33.1

    References:
        30 CFR 56.14101, table M-1 (basis printed below it: deceleration, operator and system response)
    """
    return speed_mps * (reaction_s + lag_s) + speed_mps**2 / (2.0 * decel_mps2)


def stopping_distance_coasting(speed_mps: Number, delay_s: Number, coast_mps2: Number, decel_mps2: Number) -> Number:
    """Stopping distance when the machine gains speed downhill until the brakes bite.

    s = v t + a t^2 / 2 + (v + a t)^2 / (2 d)

    Args:
        speed_mps: speed when the driver sees the need [m/s]
        delay_s: reaction and brake lag together [s]
        coast_mps2: acceleration during the delay, downhill with nothing holding [m/s2]
        decel_mps2: deceleration on this slope [m/s2]

    Returns:
        distance from seeing to standing [m]

    Valid for:
        speed_mps >= 0
        delay_s >= 0
        coast_mps2 >= 0
        decel_mps2 > 0

    Example:
        Derived: 1 s at 1 m/s2 from rest, then 1 m/s2.

        >>> print(stopping_distance_coasting(0.0, 1.0, 1.0, 1.0))
        1.0

    References:
        Derived: motion at even acceleration in two phases; no publication
    """
    biting_mps = speed_mps + coast_mps2 * delay_s
    return speed_mps * delay_s + coast_mps2 * delay_s**2 / 2.0 + biting_mps**2 / (2.0 * decel_mps2)


def speed_stopping_within(sight_m: Number, delay_s: Number, coast_mps2: Number, decel_mps2: Number) -> Number:
    """Highest speed from which the machine stands within a distance.

    v = u - a t, u = -d t + sqrt((d t)^2 + 2 d (s + a t^2 / 2)), the inverse of ``stopping_distance_coasting``

    Args:
        sight_m: distance in which it must stand [m]
        delay_s: reaction and brake lag together [s]
        coast_mps2: acceleration during the delay, downhill with nothing holding, else 0 [m/s2]
        decel_mps2: deceleration on this slope [m/s2]

    Returns:
        speed; 0 when it could not stop in that distance even from rest [m/s]

    Valid for:
        sight_m >= 0
        delay_s >= 0
        coast_mps2 >= 0
        decel_mps2 > 0

    Example:
        30 CFR 56.14101 table M-1 read backwards: 33.1 ft, 1.5 s, 9.66 ft/s2: 10 mph.

        >>> print(round(speed_stopping_within(33.135 * 0.3048, 1.5, 0.0, 9.66 * 0.3048) / 0.44704, 2))
        10.0

    References:
        Derived: closed inverse of the stopping distance; no publication
    """
    start_mps = decel_mps2 * delay_s
    room_m = sight_m + coast_mps2 * delay_s**2 / 2.0
    biting_mps = np.sqrt(start_mps**2 + 2.0 * decel_mps2 * room_m) - start_mps
    return np.maximum(biting_mps - coast_mps2 * delay_s, 0.0)


def stopping_distance_30_cfr_56_14101(speed_mps: Number, lag_s: Number) -> Number:
    """Stopping distance by the basis of table M-1: 1 s of operator response, 9.66 ft/s2.

    d = v (1 + t_s) + v^2 / (2 x 9.66), v in ft/s; the table rounds up to whole feet

    Args:
        speed_mps: speed [m/s]
        lag_s: system response, from 0.5 s (to 36,000 lb) to 2.5 s (above 400,000 lb) in six classes [s]

    Returns:
        distance, before the table's rounding [m]

    Valid for:
        4.4 <= speed_mps <= 9.0
        0.5 <= lag_s <= 2.5

    Example:
        Table M-1, 70,000 to 140,000 lb, 20 mph: printed 119 ft (with 1.47 and rounded up).

        >>> print(round(stopping_distance_30_cfr_56_14101(20 * 0.44704, 1.5) / 0.3048, 1))
        117.9

    References:
        30 CFR 56.14101, table M-1 (service brakes; also 57.14101). The table itself used 1.47 for 22/15:
          printed values lie 0.1 to 1.3 ft above this formula.
    """
    speed_ftps = speed_mps / M_PER_FT
    return (speed_ftps * (1.0 + lag_s) + speed_ftps**2 / (2.0 * 9.66)) * M_PER_FT


def braking_distance_aashto_us(speed_mps: Number, decel_mps2: Number, grade_ratio: Number) -> Number:
    """Braking distance on a grade, highway design, US form.

    d = V^2 / (30 (a / 32.2 + G)), ft and mph

    Args:
        speed_mps: speed [m/s]
        decel_mps2: deceleration on the level; 11.2 ft/s2 in the policy [m/s2]
        grade_ratio: grade, + uphill [-]

    Returns:
        distance from the brakes biting to standing [m]

    Valid for:
        speed_mps >= 0
        decel_mps2 > 0
        abs(grade_ratio) <= 0.3
        decel_mps2 / 9.81 + grade_ratio > 0

    Example:
        Stopping sight distance problem: 60 mph, a/g 0.35: 342.86 ft.

        >>> print(round(braking_distance_aashto_us(60 * 0.44704, 0.35 * 32.2 * 0.3048, 0.0) / 0.3048, 2))
        342.86

    References:
        AASHTO, A Policy on Geometric Design of Highways and Streets (2001, 2004), stopping sight distance on grades
    """
    speed_mph = speed_mps / MPS_PER_MPH
    decel_ratio = decel_mps2 / M_PER_FT / 32.2
    return speed_mph**2 / (30.0 * (decel_ratio + grade_ratio)) * M_PER_FT


def stopping_distance_aashto_us(
    speed_mps: Number, reaction_s: Number, decel_mps2: Number, grade_ratio: Number
) -> Number:
    """Stopping sight distance on a grade, highway design, US form.

    d = 1.47 V t + V^2 / (30 (a / 32.2 + G)), ft and mph

    Args:
        speed_mps: speed [m/s]
        reaction_s: brake reaction time, 2.5 s in the policy [s]
        decel_mps2: deceleration on the level; 11.2 ft/s2 in the policy [m/s2]
        grade_ratio: grade, + uphill [-]

    Returns:
        distance from seeing to standing [m]

    Valid for:
        speed_mps >= 0
        reaction_s >= 0
        decel_mps2 > 0
        abs(grade_ratio) <= 0.3
        decel_mps2 / 9.81 + grade_ratio > 0

    Example:
        Stopping sight distance problem: 60 mph, a/g 0.35, 2.5 s: 563.36 ft.

        >>> print(round(stopping_distance_aashto_us(60 * 0.44704, 2.5, 0.35 * 32.2 * 0.3048, 0.0) / 0.3048, 2))
        563.36

    References:
        AASHTO, A Policy on Geometric Design of Highways and Streets (2001, 2004), stopping sight distance on grades
    """
    speed_mph = speed_mps / MPS_PER_MPH
    return 1.47 * speed_mph * reaction_s * M_PER_FT + braking_distance_aashto_us(speed_mps, decel_mps2, grade_ratio)


def braking_distance_aashto_metric(speed_mps: Number, decel_mps2: Number, grade_ratio: Number) -> Number:
    """Braking distance on a grade, highway design, metric form.

    d = V^2 / (254 (a / 9.81 + G)), m and km/h

    Args:
        speed_mps: speed [m/s]
        decel_mps2: deceleration on the level; 3.4 m/s2 in the policy [m/s2]
        grade_ratio: grade, + uphill [-]

    Returns:
        distance from the brakes biting to standing [m]

    Valid for:
        speed_mps >= 0
        decel_mps2 > 0
        abs(grade_ratio) <= 0.3
        decel_mps2 / 9.81 + grade_ratio > 0

    Example:
        Stopping sight distance lesson: 50 km/h, f 0.4: 24.6 m.

        >>> print(round(braking_distance_aashto_metric(50 / 3.6, 0.4 * 9.81, 0.0), 1))
        24.6

    References:
        AASHTO, A Policy on Geometric Design of Highways and Streets (2001, 2004), stopping sight distance on grades
    """
    speed_kmh = speed_mps * KMH_PER_MPS
    return speed_kmh**2 / (254.0 * (decel_mps2 / 9.81 + grade_ratio))


def stopping_distance_aashto_metric(
    speed_mps: Number, reaction_s: Number, decel_mps2: Number, grade_ratio: Number
) -> Number:
    """Stopping sight distance on a grade, highway design, metric form.

    d = 0.278 V t + V^2 / (254 (a / 9.81 + G)), m and km/h

    Args:
        speed_mps: speed [m/s]
        reaction_s: brake reaction time, 2.5 s in the policy [s]
        decel_mps2: deceleration on the level; 3.4 m/s2 in the policy [m/s2]
        grade_ratio: grade, + uphill [-]

    Returns:
        distance from seeing to standing [m]

    Valid for:
        speed_mps >= 0
        reaction_s >= 0
        decel_mps2 > 0
        abs(grade_ratio) <= 0.3
        decel_mps2 / 9.81 + grade_ratio > 0

    Example:
        Stopping sight distance lesson: 50 km/h, f 0.4, 3 s: 66.3 m.

        >>> print(round(stopping_distance_aashto_metric(50 / 3.6, 3.0, 0.4 * 9.81, 0.0), 1))
        66.3

    References:
        AASHTO, A Policy on Geometric Design of Highways and Streets (2001, 2004), stopping sight distance on grades
        The policy's level values use 0.039 V^2 / a for the second term, 0.7 % more than 254 does.
    """
    speed_kmh = speed_mps * KMH_PER_MPS
    return 0.278 * speed_kmh * reaction_s + braking_distance_aashto_metric(speed_mps, decel_mps2, grade_ratio)
