"""A rigid two-axle body rolled over any profile: wheels as circles, underbody and overhangs as a line of points.

The profile is a polyline with x ascending (ground, ramp, tail, deck; or a road). The body's own axes: x forward from
the leading axle, z up from level ground under the loaded tyres; the trailing axle is one wheelbase behind.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.roll_engine import offset_line, smallest_gap, stand


def wheel_centre_height(profile_x_m: Number, profile_z_m: Number, wheel_x_m: Number, radius_m: Number) -> Number:
    """Height of a wheel's centre that rests on a profile.

    Greatest of the lines r off each segment and of the circles of radius r round each corner

    Args:
        profile_x_m: chainage of the profile's corners, ascending; shape (…, V) [m]
        profile_z_m: height of the profile's corners; shape (…, V) [m]
        wheel_x_m: chainage of the wheel's centre [m]
        radius_m: loaded radius of the tyre [m]

    Returns:
        height of the centre; NaN beyond the profile's ends [m]

    Valid for:
        0 <= radius_m <= 5

    Example:
        Derived: on a slope of 3 in 4 the centre stands 5/4 of the radius above the ground under it.

        >>> x, z = np.array([-10.0, 10.0]), np.array([-7.5, 7.5])
        >>> print(round(float(wheel_centre_height(x, z, 0.0, 0.6)), 6))
        0.75

    References:
        Derived: a circle rests on a polyline where its centre meets the line at distance r; no publication
    """
    x, z = np.atleast_1d(profile_x_m), np.atleast_1d(profile_z_m)
    height = offset_line(x, z, np.asarray(wheel_x_m), radius_m)[0]
    return height[()]


def wheel_contact_slope(profile_x_m: Number, profile_z_m: Number, wheel_x_m: Number, radius_m: Number) -> Number:
    """Slope of the ground where a wheel touches it: of the segment, or square to the spoke at a corner.

    dz/dx of the line the wheel's centre follows

    Args:
        profile_x_m: chainage of the profile's corners, ascending; shape (…, V) [m]
        profile_z_m: height of the profile's corners; shape (…, V) [m]
        wheel_x_m: chainage of the wheel's centre [m]
        radius_m: loaded radius of the tyre [m]

    Returns:
        rise over run at the contact; NaN beyond the profile's ends [-]

    Valid for:
        0 <= radius_m <= 5

    Example:
        Derived: on a slope of 3 in 4.

        >>> x, z = np.array([-10.0, 10.0]), np.array([-7.5, 7.5])
        >>> print(float(wheel_contact_slope(x, z, 0.0, 0.6)))
        0.75

    References:
        Derived: tangent of the offset line; no publication
    """
    x, z = np.atleast_1d(profile_x_m), np.atleast_1d(profile_z_m)
    slope = offset_line(x, z, np.asarray(wheel_x_m), radius_m)[1]
    return slope[()]


def trailing_wheel_place(
    profile_x_m: Number,
    profile_z_m: Number,
    lead_x_m: Number,
    lead_radius_m: Number,
    trail_radius_m: Number,
    wheelbase_m: Number,
) -> Number:
    """Chainage of the trailing wheel's centre when the leading one is at a given place.

    (x_f - x_r)^2 + (z_f - z_r)^2 = L^2 + (r_f - r_r)^2, both centres on their offset lines

    Args:
        profile_x_m: chainage of the profile's corners, ascending; shape (…, V) [m]
        profile_z_m: height of the profile's corners; shape (…, V) [m]
        lead_x_m: chainage of the leading wheel's centre [m]
        lead_radius_m: loaded radius of the leading tyre [m]
        trail_radius_m: loaded radius of the trailing tyre [m]
        wheelbase_m: distance between the axles along the body [m]

    Returns:
        chainage of the trailing wheel's centre; NaN beyond the profile's ends [m]

    Valid for:
        0 <= lead_radius_m <= 5
        0 <= trail_radius_m <= 5
        wheelbase_m > 0

    Example:
        Derived: on a slope of 3 in 4 a wheelbase of 3 m is 2.4 m long in plan.

        >>> x, z = np.array([-10.0, 10.0]), np.array([-7.5, 7.5])
        >>> print(round(float(trailing_wheel_place(x, z, 2.4, 0.6, 0.6, 3.0)), 6) + 0.0)
        0.0

    References:
        Derived: rigid body on two circles; no publication
    """
    x, z = np.atleast_1d(profile_x_m), np.atleast_1d(profile_z_m)
    stood = stand(x, z, np.asarray(lead_x_m), (lead_radius_m, trail_radius_m), wheelbase_m)
    return stood.trail_x[()]


def rolled_clearance(
    profile_x_m: Number,
    profile_z_m: Number,
    lead_x_m: Number,
    lead_radius_m: Number,
    trail_radius_m: Number,
    wheelbase_m: Number,
    under_x_m: Number,
    under_z_m: Number,
) -> Number:
    """Smallest clearance between the underbody of a rigid two-axle body and the profile it stands on.

    Shortest distance between the two lines, corner to segment both ways; minus the greatest plumb overlap if they meet

    Args:
        profile_x_m: chainage of the profile's corners, ascending; shape (…, V) [m]
        profile_z_m: height of the profile's corners; shape (…, V) [m]
        lead_x_m: chainage of the leading wheel's centre [m]
        lead_radius_m: loaded radius of the leading tyre [m]
        trail_radius_m: loaded radius of the trailing tyre [m]
        wheelbase_m: distance between the axles along the body [m]
        under_x_m: underbody points in order, forward from the leading axle; shape (…, U) [m]
        under_z_m: their heights above level ground; shape (…, U) [m]

    Returns:
        clearance, negative where the body would cut into the ground; NaN beyond the profile's ends [m]

    Valid for:
        0 <= lead_radius_m <= 5
        0 <= trail_radius_m <= 5
        wheelbase_m > 0

    Example:
        Derived (11-60-61 triangle): wheelbase 3 m, flat belly at 0.40 m, tyres of 0.60 m over a crest of
        2 atan(11/60): 0.135 m.

        >>> half = np.arctan(11.0 / 60.0)
        >>> x, z = 20.0 * np.cos(half) * np.array([-1.0, 0.0, 1.0]), -20.0 * np.sin(half) * np.array([1.0, 0.0, 1.0])
        >>> belly_x, belly_z = np.array([-3.0, 0.0]), np.array([0.4, 0.4])
        >>> print(round(float(rolled_clearance(x, z, 1.5, 0.6, 0.6, 3.0, belly_x, belly_z)), 6))
        0.135

    References:
        Derived: two polylines are nearest at a corner of one of them; no publication
    """
    x, z = np.atleast_1d(profile_x_m), np.atleast_1d(profile_z_m)
    under = (np.atleast_1d(under_x_m), np.atleast_1d(under_z_m))
    stood = stand(x, z, np.asarray(lead_x_m), (lead_radius_m, trail_radius_m), wheelbase_m)
    return smallest_gap(x, z, stood, lead_radius_m, under).value[()]
