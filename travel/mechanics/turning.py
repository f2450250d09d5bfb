"""Steady turning at walking pace, planar and without slip: radii by steering mode and the width they sweep.

Steer angles are those of a virtual wheel in the middle of the axle. All-wheel steer: rear angle + when the
rear wheels turn against the front ones. Trailing axles on any path are in ``tractrix``.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def turn_radius(wheelbase_m: Number, front_steer_rad: Number, rear_steer_rad: Number) -> Number:
    """Radius of the centreline abreast of the turning centre, any of front, rear or all-wheel steer.

    R = L / (tan(d_f) + tan(d_r))

    Args:
        wheelbase_m: wheelbase [m]
        front_steer_rad: steer angle of the front axle, 0 for rear steer [rad]
        rear_steer_rad: steer angle of the rear axle against the front, 0 for front steer [rad]

    Returns:
        radius; with front steer that of the rear axle's middle [m]

    Valid for:
        wheelbase_m > 0
        0 <= front_steer_rad < 1.4
        0 <= rear_steer_rad < 1.4
        front_steer_rad + rear_steer_rad > 0

    Example:
        Derived: 3 m, front wheels at 45 degrees.

        >>> print(round(turn_radius(3.0, np.pi / 4, 0.0), 4))
        3.0

    References:
        Kinematic bicycle model, R = L / tan(d); all-wheel form derived
    """
    return wheelbase_m / (np.tan(front_steer_rad) + np.tan(rear_steer_rad))


def turn_centre_ahead(wheelbase_m: Number, front_steer_rad: Number, rear_steer_rad: Number) -> Number:
    """How far ahead of the rear axle the turning centre lies.

    x = L tan(d_r) / (tan(d_f) + tan(d_r))

    Args:
        wheelbase_m: wheelbase [m]
        front_steer_rad: steer angle of the front axle [rad]
        rear_steer_rad: steer angle of the rear axle against the front [rad]

    Returns:
        distance along the machine: 0 for front steer, half the wheelbase for equal angles [m]

    Valid for:
        wheelbase_m > 0
        0 <= front_steer_rad < 1.4
        0 <= rear_steer_rad < 1.4
        front_steer_rad + rear_steer_rad > 0

    Example:
        Derived: equal angles, so no off-tracking between the axles.

        >>> print(round(turn_centre_ahead(3.0, 0.5, 0.5), 4))
        1.5

    References:
        Derived: axes of the wheels meet in the turning centre; no publication
    """
    share = np.asarray(np.tan(rear_steer_rad) / (np.tan(front_steer_rad) + np.tan(rear_steer_rad)))
    return wheelbase_m * share


def steer_for_radius(wheelbase_m: Number, radius_m: Number, axles_count: Number) -> Number:
    """Steer angle that follows a radius.

    d = atan(L / (n R)), n = 1 front steer, 2 all-wheel steer with equal angles

    Args:
        wheelbase_m: wheelbase [m]
        radius_m: radius of the centreline abreast of the turning centre [m]
        axles_count: axles that steer [-]

    Returns:
        steer angle of each steering axle [rad]

    Valid for:
        wheelbase_m > 0
        radius_m > 0
        1 <= axles_count <= 2

    Example:
        Derived: 3 m wheelbase, 3 m radius.

        >>> print(round(np.degrees(steer_for_radius(3.0, 3.0, 1.0)), 2))
        45.0

    References:
        Kinematic bicycle model, R = L / tan(d), inverted
    """
    return np.arctan(wheelbase_m / (axles_count * radius_m))


def point_radius(radius_m: Number, ahead_m: Number) -> Number:
    """Radius on which a point of the centreline travels.

    sqrt(R^2 + x^2); for the front axle with front steer L / sin(d)

    Args:
        radius_m: radius of the centreline abreast of the turning centre [m]
        ahead_m: distance of the point ahead of (or behind) the turning centre's line [m]

    Returns:
        radius of the point [m]

    Valid for:
        radius_m > 0
        abs(ahead_m) < 100

    Example:
        Derived: 3-4-5.

        >>> print(point_radius(4.0, 3.0))
        5.0

    References:
        Pythagoras; no publication
    """
    return np.sqrt(radius_m**2 + ahead_m**2)


def outer_corner_radius(radius_m: Number, width_m: Number, ahead_m: Number) -> Number:
    """Radius on which an outer corner of the body travels.

    sqrt((R + W/2)^2 + x^2)

    Args:
        radius_m: radius of the centreline abreast of the turning centre [m]
        width_m: width of the body at the corner [m]
        ahead_m: distance of the corner ahead of (or behind) the turning centre's line [m]

    Returns:
        radius of the corner [m]

    Valid for:
        radius_m > 0
        width_m > 0
        abs(ahead_m) < 100

    Example:
        Derived: 3-4-5.

        >>> print(outer_corner_radius(3.0, 2.0, 3.0))
        5.0

    References:
        Pythagoras; no publication
    """
    return np.sqrt((radius_m + width_m / 2.0) ** 2 + ahead_m**2)


def inner_edge_radius(radius_m: Number, width_m: Number) -> Number:
    """Radius of the inner side of the body, where the turning centre's line crosses it.

    R - W/2

    Args:
        radius_m: radius of the centreline abreast of the turning centre [m]
        width_m: width of the body [m]

    Returns:
        radius of the inner side; negative when the machine turns about a point within itself [m]

    Valid for:
        radius_m > 0
        width_m > 0

    Example:
        Derived.

        >>> print(inner_edge_radius(4.0, 2.5))
        2.75

    References:
        Derived: nearest point of a rectangle to the turning centre; no publication
    """
    return radius_m - width_m / 2.0


def outer_wheel_steer(inner_steer_rad: Number, track_m: Number, wheelbase_m: Number) -> Number:
    """Steer angle of the outer wheel that goes with the inner one's.

    cot(d_out) - cot(d_in) = w / L

    Args:
        inner_steer_rad: steer angle of the inner wheel [rad]
        track_m: distance between the steering pivots [m]
        wheelbase_m: wheelbase (half of it for equal all-wheel steer) [m]

    Returns:
        steer angle of the outer wheel [rad]

    Valid for:
        0 < inner_steer_rad < 1.5
        track_m > 0
        wheelbase_m > 0

    Example:
        Derived: inner wheel at 45 degrees, w = L: cot = 2.

        >>> print(round(np.degrees(outer_wheel_steer(np.pi / 4, 2.0, 2.0)), 3))
        26.565

    References:
        Steering condition of the four-wheeled vehicle without slip; standard kinematics
    """
    return np.arctan(1.0 / (1.0 / np.tan(inner_steer_rad) + track_m / wheelbase_m))


def turn_road_width(road_m: Number, outside_m: Number, margin_m: Number) -> Number:
    """Width of road a turn asks for: as much wider on both sides as the swept area comes too near the edge.

    W = w + 2 (e + m)

    Args:
        road_m: width of the road there [m]
        outside_m: how far the swept area sticks out of what is free, negative while there is room [m]
        margin_m: room kept on each side [m]

    Returns:
        width of road that would leave the margin [m]

    Valid for:
        road_m > 0
        margin_m >= 0

    Example:
        By hand: a corner of 4 m roads from which the machine sticks out 0.25 m; 0.1 m is kept.

        >>> print(round(turn_road_width(4.0, 0.25, 0.1), 3))
        4.7

    References:
        Derived: how a shortage on one side is told as a width; no publication
    """
    return road_m + 2.0 * (outside_m + margin_m)


def crab_width(width_m: Number, length_m: Number, crab_rad: Number) -> Number:
    """Width swept in crab steer: no rotation, the body set at an angle to the travel.

    W cos(d) + L sin(d)

    Args:
        width_m: width of the body [m]
        length_m: whole length of the body [m]
        crab_rad: angle between the body and the travel [rad]

    Returns:
        swept width [m]

    Valid for:
        width_m > 0
        length_m > 0
        0 <= crab_rad <= 1.5

    Example:
        Derived: no angle, the width itself.

        >>> print(crab_width(2.5, 6.0, 0.0))
        2.5

    References:
        Derived: shadow of a rectangle; no publication
    """
    return width_m * np.cos(crab_rad) + length_m * np.sin(crab_rad)


def off_tracking_steady(radius_m: Number, wheelbase_m: Number) -> Number:
    """Steady off-tracking of a rear axle that does not steer.

    OT = R - sqrt(R^2 - L^2), about L^2 / 2R

    Args:
        radius_m: radius of the front axle's middle [m]
        wheelbase_m: wheelbase [m]

    Returns:
        how far inside the front axle the rear axle runs [m]

    Valid for:
        wheelbase_m > 0
        radius_m > wheelbase_m

    Example:
        Derived: 3-4-5.

        >>> print(off_tracking_steady(5.0, 3.0))
        1.0

    References:
        Standard kinematics; the approximation L^2 / 2R is the mechanical widening of bends
    """
    return radius_m - np.sqrt(radius_m**2 - wheelbase_m**2)


def trailing_radius_sum_of_squares(radius_m: Number, wheelbase_squares_m2: Number, hitch_squares_m2: Number) -> Number:
    """Steady radius of the last axle of a combination.

    R_n = sqrt(R_1^2 - sum L_i^2 + sum S_i^2)

    Args:
        radius_m: radius of the first axle's middle [m]
        wheelbase_squares_m2: sum of the squares of all wheelbases and drawbars [m2]
        hitch_squares_m2: sum of the squares of the couplings' distances behind the axle ahead of them [m2]

    Returns:
        radius of the last axle's middle [m]

    Valid for:
        radius_m > 0
        wheelbase_squares_m2 >= 0
        hitch_squares_m2 >= 0
        radius_m**2 + hitch_squares_m2 > wheelbase_squares_m2

    Example:
        Derived: 13^2 - 144 = 5^2.

        >>> print(trailing_radius_sum_of_squares(13.0, 144.0, 0.0))
        5.0

    References:
        Sum-of-squares (WHI) off-tracking method (from memory, recomputed)
    """
    return np.sqrt(radius_m**2 - wheelbase_squares_m2 + hitch_squares_m2)


def off_tracking_tractor_semitrailer(
    turning_radius_m: Number,
    wheelbase_m: Number,
    half_track_m: Number,
    kingpin_offset_m: Number,
    trailer_wheelbase_m: Number,
) -> Number:
    """Greatest steady off-tracking of a tractor with semitrailer, from the outer front wheel.

    sqrt(wb^2 + (q - ht)^2) - sqrt(ko^2 + (q - ht)^2 - ka^2), q = sqrt(tr^2 - wb^2)

    Args:
        turning_radius_m: turning radius of the outer front wheel [m]
        wheelbase_m: wheelbase of the tractor [m]
        half_track_m: half the front track [m]
        kingpin_offset_m: distance of the kingpin from the tractor's rear axle [m]
        trailer_wheelbase_m: kingpin to trailer axle [m]

    Returns:
        radius of the front axle's middle less radius of the trailer axle's middle [m]

    Valid for:
        wheelbase_m > 0
        half_track_m > 0
        kingpin_offset_m >= 0
        trailer_wheelbase_m > 0
        turning_radius_m > wheelbase_m
        turning_radius_m**2 > wheelbase_m**2 + (trailer_wheelbase_m + half_track_m)**2

    Example:
        Turning handbook, 25 ft semitrailer (wb 105/12, ht 3.21, ko 1, ka 21 ft) on 50 ft; recomputed.

        >>> print(round(off_tracking_tractor_semitrailer(50.0, 105 / 12, 3.21, 1.0, 21.0), 2))
        5.88

    References:
        Trailer-industry turning handbook, wheel-track form of maximum off-tracking (printed results are charts)
    """
    abreast_m = np.sqrt(turning_radius_m**2 - wheelbase_m**2) - half_track_m
    front_m = np.sqrt(wheelbase_m**2 + abreast_m**2)
    return front_m - np.sqrt(kingpin_offset_m**2 + abreast_m**2 - trailer_wheelbase_m**2)
