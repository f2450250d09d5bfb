"""Headroom: how high the top of a rigid body stands above the road under it."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import G_MPS2


def top_height_on_slope(
    top_height_m: Number, body_width_m: Number, grade_ratio: Number, cross_slope_ratio: Number
) -> Number:
    """Height of the top of a body above the road under it, on a grade and a cross slope.

    h = H sqrt(1 + g²) + (W/2) s / sqrt(1 + s²), that is H/cos θ on grade and (W/2) sin φ across;
    the sum is an upper bound, the two tilts are not traded against each other

    Args:
        top_height_m: height of the top on level ground, H [m]
        body_width_m: width of the body at that height, W [m]
        grade_ratio: grade along the body, g = tan θ, either sign [-]
        cross_slope_ratio: cross slope, s = tan φ, either sign [-]

    Returns:
        height above the road on the body's centreline, measured plumb [m]

    Valid for:
        top_height_m >= 0
        body_width_m >= 0

    Example:
        A 3-4-5 slope makes the plumb height 5/4 of the height along the body.

        >>> round(float(top_height_on_slope(4.0, 2.0, 0.75, 0.0)), 6)
        5.0

    References:
        geometry of a rigid body on a plane
    """
    tilt_rise_m = body_width_m / 2.0 * np.abs(cross_slope_ratio) / np.sqrt(1.0 + cross_slope_ratio**2)
    return top_height_m * np.sqrt(1.0 + grade_ratio**2) + tilt_rise_m


def rise_at_grade_change(point_x_m: Number, wheelbase_m: Number, kink_x_m: Number, crest_ratio: Number) -> Number:
    """Rise of a point of a two-axle body above the road, at one change of grade; several changes add.

    q(x) = -d max(x - k, 0);  rise = q(0) + (q(L) - q(0)) x/L - q(x)

    Args:
        point_x_m: place of the point, forward from the rear axle, x [m]
        wheelbase_m: distance between the outer axles, L [m]
        kink_x_m: place of the grade change, forward from the rear axle, k [m]
        crest_ratio: grade before less grade after, d; + over a crest, - through a sag [-]

    Returns:
        rise of the point against the body standing on an even grade; - is a fall [m]

    Valid for:
        wheelbase_m > 0

    Example:
        Front axle on a crest of 10 %, point 1.2 m ahead of it: 0.12 m.

        >>> round(float(rise_at_grade_change(4.2, 3.0, 3.0, 0.10)), 6)
        0.12

    References:
        geometry of a chord over a piecewise linear profile, grades taken as small (plan lengths)
    """
    at_rear_m = -crest_ratio * np.maximum(-kink_x_m, 0.0)
    at_front_m = -crest_ratio * np.maximum(wheelbase_m - kink_x_m, 0.0)
    at_point_m = -crest_ratio * np.maximum(point_x_m - kink_x_m, 0.0)
    return at_rear_m + (at_front_m - at_rear_m) * point_x_m / wheelbase_m - at_point_m


def greatest_overhang_rise_at_crest(overhang_m: Number, crest_ratio: Number) -> Number:
    """Greatest rise of an overhanging end past a crest, over every position of the body.

    rise = a d, reached with the axle on the crest; a sag gives none, there the end only falls

    Args:
        overhang_m: distance of the end beyond its axle, a [m]
        crest_ratio: grade before less grade after, d; + over a crest [-]

    Returns:
        greatest rise above the road under the end [m]

    Valid for:
        overhang_m >= 0

    Example:
        An end 1.2 m beyond its axle, on a crest of 10 %.

        >>> round(float(greatest_overhang_rise_at_crest(1.2, 0.10)), 6)
        0.12

    References:
        geometry of a chord over a piecewise linear profile, grades taken as small (plan lengths)
    """
    return overhang_m * np.maximum(crest_ratio, 0.0)


def greatest_rise_between_axles_at_sag(point_x_m: Number, wheelbase_m: Number, sag_ratio: Number) -> Number:
    """Greatest rise of a point between the axles over a sag, over every position of the body.

    rise = d x (L - x) / L, reached with the sag under the point

    Args:
        point_x_m: place of the point, forward from the rear axle, x [m]
        wheelbase_m: distance between the outer axles, L [m]
        sag_ratio: grade after less grade before, d; + through a sag [-]

    Returns:
        greatest rise above the road under the point [m]

    Valid for:
        0 <= point_x_m <= wheelbase_m

    Example:
        Midway of a 3 m wheelbase in a sag of 10 %.

        >>> round(float(greatest_rise_between_axles_at_sag(1.5, 3.0, 0.10)), 6)
        0.075

    References:
        geometry of a chord over a piecewise linear profile, grades taken as small (plan lengths)
    """
    return np.maximum(sag_ratio, 0.0) * point_x_m * (wheelbase_m - point_x_m) / wheelbase_m


def sag_curve_loss(wheelbase_m: Number, radius_m: Number) -> Number:
    """Headroom that a long rigid body loses midway on a sag curve.

    δ = b² / (8 R)

    Args:
        wheelbase_m: distance between the outer axles, b [m]
        radius_m: radius of the sag, R [m]

    Returns:
        loss of headroom midway between the axles [m]

    Valid for:
        wheelbase_m > 0
        radius_m > wheelbase_m

    Example:
        Traffic Signs Manual ch. 4 (2013) 7.11 has a sag measured over a chord of 25 m: on 1000 m that is 78 mm.

        >>> round(float(sag_curve_loss(25.0, 1000.0)), 4)
        0.0781

    References:
        versine of a circular arc, taken as a parabola; chord of 25 m: Traffic Signs Manual ch. 4 (2013), 7.11
    """
    return wheelbase_m**2 / (8.0 * radius_m)


def sag_curve_loss_at(wheelbase_m: Number, radius_m: Number, from_middle_m: Number) -> Number:
    """Headroom lost on a sag curve at a point away from the middle; beyond an axle the loss is negative.

    s(x) = ((b/2)² - x²) / (2 R)

    Args:
        wheelbase_m: distance between the outer axles, b [m]
        radius_m: radius of the sag, R [m]
        from_middle_m: distance of the point from midway between the axles, x [m]

    Returns:
        loss of headroom at the point [m]

    Valid for:
        wheelbase_m > 0
        radius_m > wheelbase_m

    Example:
        At the axle itself nothing is lost.

        >>> float(sag_curve_loss_at(12.0, 100.0, 6.0))
        0.0

    References:
        versine of a circular arc, taken as a parabola
    """
    return ((wheelbase_m / 2.0) ** 2 - from_middle_m**2) / (2.0 * radius_m)


def bounce_rise(bump_m: Number, point_x_m: Number, wheelbase_m: Number, overshoot_ratio: Number) -> Number:
    """Greatest rise of a point when a bump lifts either axle, or both.

    rise = u (1 + o) max(1, |x|/L, |L - x|/L)

    Args:
        bump_m: height of the bump under an axle, u [m]
        point_x_m: place of the point, forward from the rear axle, x [m]
        wheelbase_m: distance between the outer axles, L [m]
        overshoot_ratio: how far the sprung body shoots past the bump: 0 creeping, 1 at worst [-]

    Returns:
        rise of the point above its place on smooth ground [m]

    Valid for:
        bump_m >= 0
        wheelbase_m > 0
        0 <= overshoot_ratio <= 1

    Example:
        A boom head 1.5 m ahead of the front axle of a 3 m wheelbase rises one and a half times the bump.

        >>> round(float(bounce_rise(0.10, 4.5, 3.0, 0.0)), 6)
        0.15

    References:
        lever about the other axle; overshoot of an undamped spring under a sudden step is at most the step
        (dynamic load factor 2), any text on structural dynamics
    """
    front_lever_ratio = np.abs(point_x_m) / wheelbase_m
    rear_lever_ratio = np.abs(wheelbase_m - point_x_m) / wheelbase_m
    return bump_m * (1.0 + overshoot_ratio) * np.maximum(1.0, np.maximum(front_lever_ratio, rear_lever_ratio))


def throw_height(speed_mps: Number, crest_ratio: Number) -> Number:
    """Height to which an axle can be thrown by a sharp crest taken at speed; an upper bound, no spring, no droop.

    h = (v d)² / (2 g)

    Args:
        speed_mps: speed, v [m/s]
        crest_ratio: grade before less grade after, d; + over a crest [-]

    Returns:
        greatest height of flight [m]

    Valid for:
        speed_mps >= 0

    Example:
        A vertical throw at 4.42869 m/s rises one metre.

        >>> round(float(throw_height(4.42869, 1.0)), 3)
        1.0

    References:
        height of a vertical throw v²/(2 g); vertical speed v d for small grades
    """
    return (speed_mps * np.maximum(crest_ratio, 0.0)) ** 2 / (2.0 * G_MPS2)


def loaded_height(
    deck_height_m: Number, machine_height_m: Number, dunnage_m: Number, squash_m: Number, tolerance_m: Number
) -> Number:
    """Overall height of a machine on a trailer, to be compared with the headroom on the road.

    H = deck + machine + dunnage - squash + tolerance

    Args:
        deck_height_m: height of the deck laden and at travelling ride height [m]
        machine_height_m: height of the stowed machine on its own tyres [m]
        dunnage_m: packing between deck and tyres [m]
        squash_m: tyre squash from lashing; only as measured after lashing, else 0 [m]
        tolerance_m: tolerance of the measurement [m]

    Returns:
        overall travelling height [m]

    Valid for:
        deck_height_m > 0
        machine_height_m > 0
        dunnage_m >= 0
        squash_m >= 0
        tolerance_m >= 0

    Example:
        A 2.6 m machine on a 0.9 m deck, 50 mm tolerance.

        >>> round(float(loaded_height(0.9, 2.6, 0.0, 0.0, 0.05)), 2)
        3.55

    References:
        sum of heights; measured after loading, inflation checked first: NAVFAC MO-403
    """
    return deck_height_m + machine_height_m + dunnage_m - squash_m + tolerance_m


def height_over_profile(
    profile_x_m: Number,
    profile_z_m: Number,
    rear_x_m: Number,
    wheelbase_m: float,
    point_x_m: float,
    point_z_m: float,
) -> Number:
    """Height of a point of a rigid two-axle body above the road under it, on any profile. Procedure.

    The body stands with two points on the profile, a wheelbase apart along the body; the point turns with it

    Args:
        profile_x_m: chainage of the profile's vertices, ascending; shape (V,) [m]
        profile_z_m: height of the profile's vertices; shape (V,) [m]
        rear_x_m: chainage of the rear axle; any shape [m]
        wheelbase_m: distance between the outer axles [m]
        point_x_m: place of the point along the body, forward from the rear axle [m]
        point_z_m: height of the point above the line through the axles' contacts [m]

    Returns:
        height of the point above the profile, plumb; shape of ``rear_x_m``; NaN off the profile's ends [m]

    Valid for:
        wheelbase_m > 0
        point_z_m >= 0

    Example:
        On an even grade of 3 in 4 a height of 4 m stands 5 m above the road.

        >>> x, z = np.array([0.0, 100.0]), np.array([0.0, 75.0])
        >>> round(float(height_over_profile(x, z, 40.0, 3.0, 1.5, 4.0)), 6)
        5.0

    References:
        geometry of a chord of given length on a piecewise linear profile; bisection
    """
    rear_z_m = np.interp(rear_x_m, profile_x_m, profile_z_m, left=np.nan, right=np.nan)
    low_m = np.zeros_like(rear_z_m)
    high_m = np.full_like(rear_z_m, wheelbase_m)
    for _ in range(60):
        run_m = (low_m + high_m) / 2.0
        rise_m = np.interp(rear_x_m + run_m, profile_x_m, profile_z_m) - rear_z_m
        short = run_m**2 + rise_m**2 < wheelbase_m**2
        low_m, high_m = np.where(short, run_m, low_m), np.where(short, high_m, run_m)
    run_m = (low_m + high_m) / 2.0
    rise_m = np.interp(rear_x_m + run_m, profile_x_m, profile_z_m, left=np.nan, right=np.nan) - rear_z_m
    cos, sin = run_m / wheelbase_m, rise_m / wheelbase_m
    at_x_m = rear_x_m + point_x_m * cos - point_z_m * sin
    at_z_m = rear_z_m + point_x_m * sin + point_z_m * cos
    return at_z_m - np.interp(at_x_m, profile_x_m, profile_z_m, left=np.nan, right=np.nan)
