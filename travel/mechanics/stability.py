"""Standing upright: simple tip ratios, load on the steered wheels, twist of the ground.

A *tip ratio* is the tangent of the slope (or the sideways force over weight) at which a wheel leaves the
ground. All are static upper bounds; ``dynamic_tip_ratio`` takes off for motion. The general polygon is
in ``tipping``.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.slope import slope_angle


def combined_cg(mass_kg: Number, cg_m: Number, part_mass_kg: Number, part_cg_m: Number) -> Number:
    """One coordinate of the centre of gravity with a part added (or, mass negative, taken away).

    (m c + p q) / (m + p)

    Args:
        mass_kg: mass without the part [kg]
        cg_m: coordinate of its centre of gravity [m]
        part_mass_kg: mass of the part, negative to take it away [kg]
        part_cg_m: the same coordinate of the part [m]

    Returns:
        coordinate of the whole [m]

    Valid for:
        mass_kg > 0
        mass_kg + part_mass_kg > 0

    Example:
        Derived: 3 t at 1 m and 1 t at 5 m.

        >>> print(combined_cg(3000.0, 1.0, 1000.0, 5.0))
        2.0

    References:
        Definition of the centre of mass; no publication
    """
    return (mass_kg * cg_m + part_mass_kg * part_cg_m) / (mass_kg + part_mass_kg)


def static_stability_factor(track_m: Number, cg_height_m: Number) -> Number:
    """Static stability factor: tip ratio sideways of a rigid four-point base.

    SSF = t / (2 h)

    Args:
        track_m: track [m]
        cg_height_m: centre of gravity above the ground [m]

    Returns:
        tangent of the side slope, or sideways acceleration in g, at wheel lift [-]

    Valid for:
        track_m > 0
        cg_height_m > 0

    Example:
        Definition: track 2.4 m, height 1.0 m.

        >>> print(static_stability_factor(2.4, 1.0))
        1.2

    References:
        Definition of the static stability factor as published with roll-over ratings, t / 2h
    """
    return track_m / (2.0 * cg_height_m)


def dynamic_tip_ratio(tip_ratio: Number, lift_share_ratio: Number) -> Number:
    """Tip ratio of a real machine in motion, as a share of its static one.

    d = k SSF; vehicles sliding sideways were seen to lift at 70 to 90 % of SSF

    Args:
        tip_ratio: static tip ratio [-]
        lift_share_ratio: share at which wheels lift in motion [-]

    Returns:
        tip ratio to work with [-]

    Valid for:
        tip_ratio >= 0
        0 < lift_share_ratio <= 1

    Example:
        Reconstruction note: SSF 1.20 at 70 %: 0.84.

        >>> print(round(dynamic_tip_ratio(1.20, 0.70), 2))
        0.84

    References:
        Accident-reconstruction note on lateral slide and roll-over (SSF 1.20 at 70 %, 0.94 at 90 %)
        Spencer & Gilfillan 1976, J. agric. Engng Res. 21:169-176: a reduction is needed, its size has little data
    """
    return tip_ratio * lift_share_ratio


def pitch_over_ratio(cg_to_lower_axle_m: Number, cg_height_m: Number) -> Number:
    """Grade at which a rigid machine pitches over its lower axle.

    tan(theta) = b / h

    Args:
        cg_to_lower_axle_m: level distance from centre of gravity to the axle downhill [m]
        cg_height_m: centre of gravity above the ground [m]

    Returns:
        grade at which the upper axle lifts [-]

    Valid for:
        cg_to_lower_axle_m >= 0
        cg_height_m > 0

    Example:
        Derived: 1.2 m and 1.2 m: 45 degrees.

        >>> print(pitch_over_ratio(1.2, 1.2))
        1.0

    References:
        Derived: moments about the lower contact line; no publication
    """
    return cg_to_lower_axle_m / cg_height_m


def oscillating_roll_ratio(
    track_m: Number, wheelbase_m: Number, cg_back_m: Number, cg_height_m: Number, pivot_height_m: Number
) -> Number:
    """Side slope at which a machine with one axle that swings free begins to roll.

    tan(theta) = (t / 2) (L - a) / (L h - a h_p), about the line from wheel of the rigid axle to pivot

    Args:
        track_m: track of the rigid axle [m]
        wheelbase_m: distance between the axles [m]
        cg_back_m: level distance from the rigid axle to the centre of gravity [m]
        cg_height_m: centre of gravity above the ground [m]
        pivot_height_m: height of the swinging axle's pivot above the ground [m]

    Returns:
        side slope at which the upper wheel of the rigid axle lifts [-]

    Valid for:
        track_m > 0
        wheelbase_m > 0
        0 <= cg_back_m <= wheelbase_m
        cg_height_m > 0
        0 <= pivot_height_m <= cg_height_m

    Example:
        Derived: t 2.0, L 3.0, h 1.2, a 1.2, pivot at 0.6 m: 32.01 degrees.

        >>> print(round(np.degrees(np.arctan(oscillating_roll_ratio(2.0, 3.0, 1.2, 1.2, 0.6))), 2))
        32.01

    References:
        Derived, confirmed by a balance of contact forces; no publication. Model: three suspension points, the pin
          and the two other tyre contacts: Gibson, Elliott & Persson 1971, J. Terramechanics 8(2):65-79
        With the whole mass it is on the safe side only if the swinging axle's own centre of gravity is not below
          the pivot; else put in that centre's height for the pivot, or take the axle's mass out (``combined_cg``).
    """
    moment = wheelbase_m * cg_height_m - cg_back_m * pivot_height_m
    return track_m / 2.0 * (wheelbase_m - cg_back_m) / moment


def axle_load_share(axle_load_n: Number, weight_n: Number) -> Number:
    """Share of the weight on the steered (or braked) axle: light wheels neither steer nor brake.

    N / W, 0 for an axle that lifts

    Args:
        axle_load_n: load of the axle, square to the ground [N]
        weight_n: weight of the machine [N]

    Returns:
        share [-]

    Valid for:
        weight_n > 0
        axle_load_n <= weight_n

    Example:
        Farm tractor: about 30 % in front.

        >>> print(axle_load_share(30.0, 100.0))
        0.3

    References:
        Definition; the farm-tractor split of about 30/70 is from a Penn State extension sheet
    """
    return np.maximum(axle_load_n, 0.0) / weight_n


def tilt_from_drop(drop_m: Number, base_m: Number) -> Number:
    """Extra tilt when one side of the base goes down: tyre squash, a hole, a wheel on a bump.

    dc = d / t

    Args:
        drop_m: difference in height between the two sides [m]
        base_m: distance between them, track or wheelbase [m]

    Returns:
        slope to add to the one of the ground [-]

    Valid for:
        drop_m >= 0
        base_m > 0
        drop_m < base_m

    Example:
        Derived: 100 mm over a track of 2.0 m.

        >>> print(tilt_from_drop(0.1, 2.0))
        0.05

    References:
        Derived: rise over run; no publication
    """
    return drop_m / base_m


def twist_angle(cross_front_ratio: Number, cross_rear_ratio: Number) -> Number:
    """Angle by which the ground twists between the two axles.

    |atan(c_f) - atan(c_r)|

    Args:
        cross_front_ratio: cross slope under the front axle, + falling to the right [-]
        cross_rear_ratio: cross slope under the rear axle, + falling to the right [-]

    Returns:
        twist, to be compared with the swing stop [rad]

    Valid for:
        abs(cross_front_ratio) < 1
        abs(cross_rear_ratio) < 1

    Example:
        Derived: 5 % to the right in front, 5 % to the left behind: 5.72 degrees.

        >>> print(round(np.degrees(twist_angle(0.05, -0.05)), 2))
        5.72

    References:
        Derived: angle between two lines; no publication
    """
    return np.abs(slope_angle(cross_front_ratio) - slope_angle(cross_rear_ratio))


def wheel_lift_by_twist(twist_rad: Number, stop_rad: Number, track_m: Number) -> Number:
    """Gap under a wheel when the ground twists more than the axle can swing.

    max(0, sin(tau - stop)) t

    Args:
        twist_rad: twist of the ground between the axles [rad]
        stop_rad: angle at which the swinging axle meets its stop [rad]
        track_m: track [m]

    Returns:
        height of the lifted wheel over the ground [m]

    Valid for:
        0 <= twist_rad < 1.5
        0 <= stop_rad < 1.5
        track_m > 0

    Example:
        Derived: twist within the stop lifts nothing.

        >>> print(wheel_lift_by_twist(0.05, 0.14, 2.0))
        0.0

    References:
        Derived: rigid frame and rigid axle; no publication
    """
    return np.maximum(np.sin(twist_rad - stop_rad), 0.0) * track_m
