"""What a group of wheels (the driven, the braked, the parking-braked) can do on a slope.

A group is told by two numbers of the sheet: the share of the load it carries on level ground, and how much of the
load moves to it or away from it: ``transfer_ratio`` = h sum(x_i - x_m) / sum(x - x_m)^2, the first sum over the axles
of the group, the second over all, x_m their middle, x forward in the sense of travel, h the height of the centre of
gravity. It is h/L for the front axle of two and 0 for all axles together. Axles are taken as equally stiff.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.braking import speed_stopping_within
from travel.mechanics.resistance import total_resistance
from travel.mechanics.retarding import retarding_force, speed_held_by_retarder
from travel.mechanics.slope import demand_across, demand_along, share_across, share_along, share_normal
from travel.units import G_MPS2


def group_share(
    level_share_ratio: Number, transfer_ratio: Number, grade_ratio: Number, cross_slope_ratio: Number
) -> Number:
    """Share of the load that a group of axles carries on a slope, at rest or at a steady speed.

    s = s_0 - k tan(alpha), tan(alpha) the tangent demanded along, s within 0 and 1

    Args:
        level_share_ratio: share of the load on level ground [-]
        transfer_ratio: load that leaves the group for each unit of tangent uphill, + for axles ahead [-]
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope [-]

    Returns:
        load of the group over load of all axles, both square to the ground [-]

    Valid for:
        0 <= level_share_ratio <= 1
        abs(transfer_ratio) < 2
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1

    Example:
        Derived: half the load, h/L = 0.4, climbing 25 %: a tenth of the load goes to the rear.

        >>> print(round(group_share(0.5, 0.4, 0.25, 0.0), 4))
        0.4

    References:
        Derived: moments of a rigid body on a slope (``front_axle_load`` for two axles); no publication
    """
    moved = transfer_ratio * demand_along(grade_ratio, cross_slope_ratio, 0.0)
    return np.minimum(np.maximum(level_share_ratio - moved, 0.0), 1.0)


def group_share_at_limit(level_share_ratio: Number, transfer_ratio: Number, tangent_ratio: Number) -> Number:
    """Share of the load that a group of axles carries when it alone holds, with all the grip it has.

    s = s_0 / (1 + k t), the solution of s = s_0 - k (t s); 1 where the other axles would lift

    Args:
        level_share_ratio: share of the load on level ground [-]
        transfer_ratio: load that leaves the group for each unit of tangent uphill, + for axles ahead [-]
        tangent_ratio: force over load of the group, + pushing ahead (held uphill), - pushing back (braking) [-]

    Returns:
        load of the group over load of all axles [-]

    Valid for:
        0 <= level_share_ratio <= 1
        abs(transfer_ratio) < 2
        abs(tangent_ratio) <= 1.5

    Example:
        Derived: front axle with half the load, h/L = 0.4, braking with grip 0.5: it gains a quarter.

        >>> print(round(group_share_at_limit(0.5, 0.4, -0.5), 4))
        0.625

    References:
        Derived: moments of a rigid body about its contact points, where the group's own force moves the load
          to it or away from it; no publication
    """
    moved = 1.0 + transfer_ratio * tangent_ratio
    carried = level_share_ratio / np.where(moved > 0.0, moved, 1.0)
    return np.where(moved > 0.0, np.minimum(carried, 1.0), 1.0)[()]


def tangent_left(grip_ratio: Number, grade_ratio: Number, cross_slope_ratio: Number) -> Number:
    """Grip left along the travel once each wheel holds its share of the sideways pull.

    t = sqrt(mu^2 - across^2), 0 where the machine slides sideways

    Args:
        grip_ratio: coefficient of grip [-]
        grade_ratio: grade along the travel [-]
        cross_slope_ratio: cross slope [-]

    Returns:
        force along the ground over load square to it [-]

    Valid for:
        0 <= grip_ratio <= 1.5
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1

    Example:
        Derived: 5-4-3: grip of 0.5, cross slope of 30 %.

        >>> print(round(tangent_left(0.5, 0.0, 0.3), 4))
        0.4

    References:
        Derived: friction circle (Coulomb friction with one coefficient for all directions)
    """
    return np.sqrt(np.maximum(grip_ratio**2 - demand_across(grade_ratio, cross_slope_ratio, 0.0) ** 2, 0.0))


def grip_demand_steady(
    grade_ratio: Number, cross_slope_ratio: Number, rolling_ratio: Number, driving_ratio: Number
) -> Number:
    """Grip, per weight, that the driven wheels need to keep going, or the braked ones to hold the speed downhill.

    sqrt(max(0, d (sin(theta) + c_rr n))^2 + across^2), d = 1 driving, -1 braking

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope [-]
        rolling_ratio: coefficient of rolling resistance: greatest value when driving, least when braking [-]
        driving_ratio: 1 for the driven wheels, -1 for the braked ones [-]

    Returns:
        force needed over weight; compare with ``grip_available`` of those wheels [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        0 <= rolling_ratio < 1
        abs(driving_ratio) <= 1

    Example:
        Derived: 3 in 4 uphill (a 3-4-5 triangle) with c_rr 0.05, then downhill without.

        >>> print(round(grip_demand_steady(0.75, 0.0, 0.05, 1.0), 4))
        0.64
        >>> print(round(grip_demand_steady(-0.75, 0.0, 0.0, -1.0), 4))
        0.6

    References:
        Derived from ``total_resistance`` and the friction circle; the whole sideways pull is laid on the same wheels,
          which errs on the safe side where others carry some of it
    """
    pull = share_along(grade_ratio) + rolling_ratio * share_normal(grade_ratio, cross_slope_ratio)
    return np.sqrt(np.maximum(driving_ratio * pull, 0.0) ** 2 + share_across(grade_ratio, cross_slope_ratio) ** 2)


def grade_held(
    hold_grade_ratio: Number,
    grip_ratio: Number,
    held_share_ratio: Number,
    grade_ratio: Number,
    cross_slope_ratio: Number,
) -> Number:
    """Grade on which a machine stands still: parking brake or grip of its wheels, whichever gives way first.

    g = s / sqrt(1 - s^2), s = min(sin(atan(G)), b sqrt((mu n)^2 - across^2))

    Args:
        hold_grade_ratio: grade the brake holds with the whole weight [-]
        grip_ratio: coefficient of grip [-]
        held_share_ratio: load of the parking-braked wheels over load of all [-]
        grade_ratio: grade it stands on [-]
        cross_slope_ratio: cross slope it stands on [-]

    Returns:
        grade, to be compared with the one it stands on [-]

    Valid for:
        0 <= hold_grade_ratio < 1
        0 <= grip_ratio < 1
        0 <= held_share_ratio <= 1
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1

    Example:
        Derived: grip 0.75 on all wheels of a machine on 3 in 4 just holds; a brake stated for 30 % does not.

        >>> print(round(grade_held(0.9, 0.75, 1.0, 0.75, 0.0), 4), round(grade_held(0.3, 0.75, 1.0, 0.75, 0.0), 4))
        0.75 0.3

    References:
        Derived: gravity on an inclined plane and the friction circle, each wheel carrying its share of the
          sideways pull; no publication
    """
    brake = hold_grade_ratio / np.sqrt(1.0 + hold_grade_ratio**2)
    grip = (grip_ratio * share_normal(grade_ratio, cross_slope_ratio)) ** 2
    left = np.sqrt(np.maximum(grip - share_across(grade_ratio, cross_slope_ratio) ** 2, 0.0))
    held = np.minimum(brake, held_share_ratio * left)
    return held / np.sqrt(1.0 - held**2)


def start_force(
    weight_n: Number, rolling_ratio: Number, rest_ratio: Number, grade_ratio: Number, along_mps2: Number
) -> Number:
    """Force at the wheels that sets a machine going from rest on a slope.

    F = W (sin(theta) + k c_rr cos(theta) + a / g)

    Args:
        weight_n: weight [N]
        rolling_ratio: coefficient of rolling resistance while rolling [-]
        rest_ratio: rolling resistance at rest over rolling resistance while rolling [-]
        grade_ratio: grade along the travel, + uphill [-]
        along_mps2: acceleration with which it moves off [m/s2]

    Returns:
        force; negative where the machine starts by itself [N]

    Valid for:
        weight_n >= 0
        0 <= rolling_ratio < 1
        1 <= rest_ratio <= 5
        rest_ratio * rolling_ratio < 1
        abs(grade_ratio) < 1
        0 <= along_mps2 < 5

    Example:
        Derived: 3 in 4, c_rr 0.05 doubled at rest: 60 + 8 of 100.

        >>> print(round(start_force(100.0, 0.05, 2.0, 0.75, 0.0), 4))
        68.0

    References:
        Derived from ``total_resistance`` and Newton's second law (turning masses left out); no publication
    """
    return total_resistance(weight_n, rest_ratio * rolling_ratio, grade_ratio) + weight_n * along_mps2 / G_MPS2


def start_pull(
    pull_n: Number, grip_ratio: Number, driven_load_n: Number, weight_n: Number, across_ratio: Number
) -> Number:
    """Force the driven wheels can give from rest: what the drive line pulls or what the ground takes.

    min(P_0, sqrt((mu N_d)^2 - (W across)^2))

    Args:
        pull_n: pull at the wheels at zero speed [N]
        grip_ratio: coefficient of grip [-]
        driven_load_n: load of the driven wheels, square to the ground [N]
        weight_n: weight of the machine, whose whole sideways pull is laid on the driven wheels [N]
        across_ratio: sideways force over weight (``share_across``) [-]

    Returns:
        force along the ground [N]

    Valid for:
        pull_n >= 0
        0 <= grip_ratio <= 1.5
        driven_load_n >= 0
        weight_n >= 0
        abs(across_ratio) < 1

    Example:
        Construction methods text, ex. 4-4: 44,000 lb all driven, f 0.45: 19,800 lb, below the pull of 31,600 lb.

        >>> print(round(start_pull(31600.0, 0.45, 44000.0, 44000.0, 0.0), 1))
        19800.0

    References:
        Nunnally, Construction Methods and Management, ch. 4, ex. 4-4 (from memory, recomputed): the lesser of pull and
          traction; sideways part: friction circle, derived
    """
    grip_n = np.sqrt(np.maximum((grip_ratio * driven_load_n) ** 2 - (weight_n * across_ratio) ** 2, 0.0))
    return np.minimum(pull_n, grip_n)


def altitude_pull_ratio(altitude_m: Number, free_m: Number, loss_ratio: Number, step_m: Number) -> Number:
    """Share of the pull left at an altitude, where it falls evenly above a first height.

    1 - l max(0, h - h_0) / s

    Args:
        altitude_m: height above sea level [m]
        free_m: height up to which nothing is lost [m]
        loss_ratio: share lost for each step above it [-]
        step_m: that step [m]

    Returns:
        pull over pull at sea level [-]

    Valid for:
        -500 <= altitude_m <= 3048
        0 <= free_m <= 3048
        0 <= loss_ratio <= 0.1
        10 <= step_m <= 1000

    Example:
        Construction methods text, ex. 4-4: 10,000 ft, 3 % for each 1,000 ft above 3,000 ft: derating 21 %.

        >>> print(round(altitude_pull_ratio(3048.0, 914.4, 0.03, 304.8), 4))
        0.79

    References:
        Nunnally, Construction Methods and Management, ch. 4, eq. 4-5, ex. 4-4 (from memory, recomputed): from 3,000 ft
        Formulas for earth moving (restating a civil-engineering formula handbook), altitude: from 2,500 ft
        Naturally aspirated engines; the upper end is the highest altitude of a published example.
    """
    return 1.0 - loss_ratio * np.maximum(altitude_m - free_m, 0.0) / step_m


def speed_stopped_in_sight(
    sight_m: Number, delay_s: Number, coast_mps2: Number, decel_mps2: Number, held_mps: Number
) -> Number:
    """Highest speed from which a machine stands within what the driver sees; 0 where it cannot stop at all.

    v = max(min(v_0, v_h), v_a) where d > 0, else 0: v_0 and v_a from ``speed_stopping_within`` without and with gaining
    speed in the delay, v_h the speed up to which the drive line holds it steady meanwhile

    Args:
        sight_m: distance in which it must stand [m]
        delay_s: reaction and brake lag together [s]
        coast_mps2: acceleration during the delay, downhill with nothing holding, else 0 [m/s2]
        decel_mps2: deceleration on this slope, negative where it gains speed with the brakes full on [m/s2]
        held_mps: speed that the drive line holds on this slope, 0 where none is known [m/s]

    Returns:
        speed [m/s]

    Valid for:
        sight_m >= 0
        delay_s >= 0
        coast_mps2 >= 0
        abs(decel_mps2) < 20
        held_mps >= 0

    Example:
        30 CFR 56.14101 table M-1 read backwards: 33.1 ft, 1.5 s, 9.66 ft/s2: 10 mph. With no deceleration left: none.

        >>> print(round(speed_stopped_in_sight(33.135 * 0.3048, 1.5, 0.0, 9.66 * 0.3048, 0.0) / 0.44704, 2))
        10.0
        >>> print(speed_stopped_in_sight(50.0, 1.5, 0.5, -0.2, 3.0))
        0.0

    References:
        30 CFR 56.14101, table M-1, read backwards; closed inverse of the stopping distance, derived
        USBM IC 8758 (from memory): on a downgrade a truck gains speed until the brakes bite
    """
    stops = decel_mps2 > 0.0
    braking = np.where(stops, decel_mps2, 1.0)
    steady = np.minimum(speed_stopping_within(sight_m, delay_s, 0.0, braking), held_mps)
    free = speed_stopping_within(sight_m, delay_s, coast_mps2, braking)
    return np.where(stops, np.maximum(steady, free), 0.0)[()]


def speed_retarded(
    retarder_w: Number, gear_pull_n: Number, weight_n: Number, rolling_ratio: Number, grade_ratio: Number
) -> Number:
    """Speed that a drive line holds downhill in one gear; 0 where the gear cannot take the force.

    ``speed_held_by_retarder`` where W (sin(theta) - c_rr cos(theta)) <= P_gear, else 0

    Args:
        retarder_w: power the retarder (hydrostatic drive, engine brake) can take without end [W]
        gear_pull_n: greatest force the gear passes on, taken as great in holding back as in pulling [N]
        weight_n: weight [N]
        rolling_ratio: coefficient of rolling resistance, least value (it helps here) [-]
        grade_ratio: grade along the travel, + uphill, - downhill [-]

    Returns:
        speed; infinite where nothing needs holding back [m/s]

    Valid for:
        retarder_w >= 0
        gear_pull_n >= 0
        weight_n > 0
        0 <= rolling_ratio < 1
        abs(grade_ratio) < 1

    Example:
        Derived: 60 kW, 100 kN down 3 in 4 without rolling resistance: 1 m/s in a gear of 70 kN, none in one of 50 kN.

        >>> print(speed_retarded(60e3, 70e3, 100e3, 0.0, -0.75), speed_retarded(60e3, 50e3, 100e3, 0.0, -0.75))
        1.0 0.0

    References:
        Derived: power is force times speed; that a gear holds back no more than it pulls is an assumption of this
          tool (a low gear is taken before a descent: commercial driver's manual, steep downgrades)
    """
    force_n = retarding_force(weight_n, rolling_ratio, grade_ratio)
    return np.where(
        force_n <= gear_pull_n, speed_held_by_retarder(retarder_w, weight_n, rolling_ratio, grade_ratio), 0.0
    )[()]
