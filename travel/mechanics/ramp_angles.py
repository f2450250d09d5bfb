"""Ramps and crests in closed form: angles of approach and breakover with round tyres, the crest under the belly.

Angles are those of 49 CFR 523.2 (approach, departure, breakover on the static loaded radius), for one underbody point;
the machine's value is the least over its points.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def approach_angle(ahead_m: Number, height_m: Number, radius_m: Number) -> Number:
    """Angle of approach (or, behind, of departure) of one underbody point, the tyre a circle.

    tan(a/2) = z / (x + sqrt(x^2 - z (2 r - z)))

    Args:
        ahead_m: distance of the point beyond the axle, x [m]
        height_m: height of the point above level ground, z [m]
        radius_m: loaded radius of the tyre, r [m]

    Returns:
        steepest plane that clears the point [rad]

    Valid for:
        ahead_m > 0
        height_m > 0
        radius_m >= 0
        height_m * (2 * radius_m - height_m) <= ahead_m**2

    Example:
        Derived: x 0.9, z 0.4, r 0.6: the tangent of half the angle is 1/4.

        >>> print(round(float(np.degrees(approach_angle(0.9, 0.4, 0.6))), 5))
        28.07249

    References:
        49 CFR 523.2, approach and departure angle (static loaded radius); tangent to a circle, derived
    """
    root = np.sqrt(ahead_m**2 - height_m * (2.0 * radius_m - height_m))
    return 2.0 * np.arctan(height_m / (ahead_m + root))


def foot_clearance(ahead_m: Number, height_m: Number, radius_m: Number, ramp_rad: Number) -> Number:
    """Plumb clearance under a front overhang's point at a ramp's foot, the tyre touching ground and ramp.

    c = h - (e - r tan(th/2)) tan(th)

    Args:
        ahead_m: distance of the point ahead of the front axle, e [m]
        height_m: height of the point above level ground, h [m]
        radius_m: loaded radius of the tyre, r [m]
        ramp_rad: angle of the ramp to the ground before it, th [rad]

    Returns:
        clearance above the ramp; zero where the ramp is as steep as the angle of approach [m]

    Valid for:
        ahead_m > 0
        height_m >= 0
        radius_m >= 0
        0 <= ramp_rad < 1.5

    Example:
        Derived: e 1.2, r 0.9, h 0.45, tan(th) 9/40: 0.2025 exactly.

        >>> print(round(float(foot_clearance(1.2, 0.45, 0.9, np.arctan(9.0 / 40.0))), 6))
        0.2025

    References:
        Derived: circle touching two lines, body still level; no publication
    """
    return height_m - (ahead_m - radius_m * np.tan(ramp_rad / 2.0)) * np.tan(ramp_rad)


def breakover_angle(height_m: Number, from_rear_m: Number, from_front_m: Number, radius_m: Number) -> Number:
    """Angle between two planes over whose edge one underbody point just passes, the tyres circles.

    beta = a(p, h) + a(L - p, h), a as ``approach_angle``

    Args:
        height_m: height of the point above level ground, h [m]
        from_rear_m: distance of the point ahead of the rear axle, p [m]
        from_front_m: distance of the point behind the front axle, L - p [m]
        radius_m: loaded radius of the tyres, r [m]

    Returns:
        breakover angle [rad]

    Valid for:
        height_m > 0
        from_rear_m > 0
        from_front_m > 0
        radius_m >= 0
        height_m * (2 * radius_m - height_m) <= from_rear_m**2
        height_m * (2 * radius_m - height_m) <= from_front_m**2

    Example:
        Derived: wheelbase 3.3, h 0.4, r 0.6, midway: 4 atan(1/8).

        >>> print(round(float(np.degrees(breakover_angle(0.4, 1.65, 1.65, 0.6))), 5))
        28.50007

    References:
        49 CFR 523.2, breakover angle (from memory); ISO 612, ramp angle (from memory); derived
    """
    rear_rad = approach_angle(from_rear_m, height_m, radius_m)
    front_rad = approach_angle(from_front_m, height_m, radius_m)
    return rear_rad + front_rad


def crest_front_distance(behind_m: Number, wheelbase_m: Number, change_rad: Number) -> Number:
    """How far the front contact is past a crest when the rear one is a given way before it.

    b = -a cos(d) + sqrt(L^2 - a^2 sin(d)^2)

    Args:
        behind_m: distance from the rear contact to the crest along the ground, a [m]
        wheelbase_m: distance between the contacts, L [m]
        change_rad: change of grade at the crest, d [rad]

    Returns:
        distance from the crest to the front contact along the ground, b [m]

    Valid for:
        behind_m >= 0
        wheelbase_m >= behind_m
        0 <= change_rad < 1.5

    Example:
        Derived: L 3.0, d 15 degrees, a 1.0.

        >>> print(round(float(crest_front_distance(1.0, 3.0, np.radians(15.0))), 6))
        2.022889

    References:
        Law of cosines in the triangle of the contacts and the crest; derived
    """
    return -behind_m * np.cos(change_rad) + np.sqrt(wheelbase_m**2 - (behind_m * np.sin(change_rad)) ** 2)


def crest_height(behind_m: Number, wheelbase_m: Number, change_rad: Number) -> Number:
    """Height of a crest above the line through the two contacts, square to it.

    H = a b sin(d) / L

    Args:
        behind_m: distance from the rear contact to the crest along the ground, a [m]
        wheelbase_m: distance between the contacts, L [m]
        change_rad: change of grade at the crest, d [rad]

    Returns:
        height of the crest above the contact line [m]

    Valid for:
        behind_m >= 0
        wheelbase_m >= behind_m
        0 <= change_rad < 1.5

    Example:
        Derived: L 3.0, d 15 degrees, a 1.0.

        >>> print(round(float(crest_height(1.0, 3.0, np.radians(15.0))), 6))
        0.174521

    References:
        Area of the triangle of the contacts and the crest; derived
    """
    front_m = crest_front_distance(behind_m, wheelbase_m, change_rad)
    return behind_m * front_m * np.sin(change_rad) / wheelbase_m


def crest_clearance(height_m: Number, wheelbase_m: Number, radius_m: Number, change_rad: Number) -> Number:
    """Least clearance of a flat belly over a crest, over every position.

    c = h + r (sec(d/2) - 1) - (L/2) tan(d/2)

    Args:
        height_m: height of the belly above level ground, h [m]
        wheelbase_m: wheelbase, L [m]
        radius_m: loaded radius of the tyres, r; 0 = contact at points [m]
        change_rad: change of grade at the crest, d [rad]

    Returns:
        least clearance [m]

    Valid for:
        height_m >= 0
        wheelbase_m > 0
        0 <= change_rad < 1.5
        0 <= radius_m * np.sin(change_rad / 2) < wheelbase_m / 2

    Example:
        Derived (11-60-61 triangle): 0.135 exactly.

        >>> print(round(float(crest_clearance(0.4, 3.0, 0.6, 2.0 * np.arctan(11.0 / 60.0))), 6))
        0.135

    References:
        Derived: axle centres on lines offset by r, tightest with the crest midway; no publication
    """
    lift_m = radius_m * (1.0 / np.cos(change_rad / 2.0) - 1.0)
    return height_m + lift_m - wheelbase_m / 2.0 * np.tan(change_rad / 2.0)


def crest_height_at(from_rear_m: Number, wheelbase_m: Number, change_rad: Number) -> Number:
    """Height above the contact line of a crest that stands right under a given place of the body.

    H = (-L + sqrt(L^2 + 4 p (L - p) tan(d)^2)) / (2 tan(d))

    Args:
        from_rear_m: place ahead of the rear contact, p [m]
        wheelbase_m: distance between the contacts, L [m]
        change_rad: change of grade at the crest, d [rad]

    Returns:
        height of the crest above the contact line [m]

    Valid for:
        from_rear_m >= 0
        wheelbase_m >= from_rear_m
        0.001 <= change_rad < 1.5

    Example:
        Derived: L 3.75, p 1.0, tan(d) 3/4: 0.5 exactly.

        >>> print(round(float(crest_height_at(1.0, 3.75, np.arctan(0.75))), 6))
        0.5

    References:
        Tangent of the angle at the crest; derived
    """
    tan = np.tan(change_rad)
    root = np.sqrt(wheelbase_m**2 + 4.0 * from_rear_m * (wheelbase_m - from_rear_m) * tan**2)
    return (root - wheelbase_m) / (2.0 * tan)


def crest_height_short_ramp(deck_m: Number, ramp_m: Number, wheelbase_m: Number) -> Number:
    """Height of the deck's edge above the contact line when one wheel is on the ground and the other on the deck.

    H = D (sqrt(L^2 - D^2) - sqrt(l^2 - D^2)) / L

    Args:
        deck_m: height of the deck's edge, D [m]
        ramp_m: length of the ramp along its slope, l [m]
        wheelbase_m: distance between the contacts, L [m]

    Returns:
        greatest height of the edge above the contact line; the ramp is short where this is below the long one's [m]

    Valid for:
        deck_m > 0
        ramp_m > deck_m
        wheelbase_m > ramp_m

    Example:
        Derived (7-24-25 triangle): D 0.35, l 1.25, L 3.0.

        >>> print(round(float(crest_height_short_ramp(0.35, 1.25, 3.0)), 6))
        0.20761

    References:
        Derived: rear contact at the ramp's foot; no publication
    """
    run_m = np.sqrt(wheelbase_m**2 - deck_m**2) - np.sqrt(ramp_m**2 - deck_m**2)
    return deck_m * run_m / wheelbase_m


def hump_rise(wheelbase_m: Number, hump_radius_m: Number, radius_m: Number) -> Number:
    """Rise of a round hump above the line through the wheels' ground points, both tyres on the hump.

    s = (R + r) - sqrt((R + r)^2 - L^2/4)

    Args:
        wheelbase_m: wheelbase, L [m]
        hump_radius_m: radius of the hump, R [m]
        radius_m: loaded radius of the tyres, r [m]

    Returns:
        loss of clearance under a flat belly midway [m]

    Valid for:
        wheelbase_m > 0
        hump_radius_m > 0
        radius_m >= 0
        hump_radius_m + radius_m >= wheelbase_m / 2

    Example:
        Derived (13-84-85 triangle): L 2.6, R 7.9, r 0.6: 0.1 exactly.

        >>> print(round(float(hump_rise(2.6, 7.9, 0.6)), 6))
        0.1

    References:
        Sagitta of a chord; axle centres on a circle of R + r, derived
    """
    reach_m = hump_radius_m + radius_m
    return reach_m - np.sqrt(reach_m**2 - wheelbase_m**2 / 4.0)


def hump_radius_touching(wheelbase_m: Number, height_m: Number) -> Number:
    """Radius of the round hump that a flat belly just touches, contact at points.

    R = (L^2/4 + h^2) / (2 h)

    Args:
        wheelbase_m: wheelbase, L [m]
        height_m: height of the belly, h [m]

    Returns:
        radius; a sharper hump is touched [m]

    Valid for:
        wheelbase_m > 0
        height_m > 0

    Example:
        Derived: L 6, h 1: 5 m.

        >>> print(hump_radius_touching(6.0, 1.0))
        5.0

    References:
        Sagitta of a chord; derived
    """
    return (wheelbase_m**2 / 4.0 + height_m**2) / (2.0 * height_m)


def ramp_angle(deck_m: Number, ramp_m: Number) -> Number:
    """Angle of a ramp to the ground.

    th = asin(D / l)

    Args:
        deck_m: height from the ground to the deck's edge, D [m]
        ramp_m: length along the slope, l [m]

    Returns:
        angle [rad]

    Valid for:
        deck_m >= 0
        ramp_m > deck_m

    Example:
        Derived (3-4-5 triangle): 0.9 m on 1.5 m is a slope of 3 in 4.

        >>> print(round(float(np.tan(ramp_angle(0.9, 1.5))), 6))
        0.75

    References:
        Sine of a right triangle
    """
    return np.arcsin(deck_m / ramp_m)
