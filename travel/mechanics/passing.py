"""Passing under and beside: the top of a moving body above the road, and its distance to a wire."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def height_passing_under(
    top_height_m: Number,
    body_width_m: Number,
    grade_ratio: Number,
    cross_slope_ratio: Number,
    profile_rise_m: Number,
    bump_m: Number,
    lever_ratio: Number,
    overshoot_ratio: Number,
) -> Number:
    """Greatest height of a point of a moving body above the road under it.

    h = H sqrt(1 + g²) + (W/2) s / sqrt(1 + s²) + r + u l (1 + o): slope, tilt, crest or sag, bounce;
    a sum of the worst of each, so an upper bound

    Args:
        top_height_m: height of the point on level ground, H [m]
        body_width_m: width of the body at that height, W [m]
        grade_ratio: grade of the line through the axles, g [-]
        cross_slope_ratio: cross slope, s [-]
        profile_rise_m: rise against the body on an even grade, past a crest or over a sag; - is a fall, r [m]
        bump_m: height of a bump under an axle, u [m]
        lever_ratio: rise of the point for each metre of bump, l [-]
        overshoot_ratio: how far the sprung body shoots past the bump: 0 creeping, 1 at worst, o [-]

    Returns:
        height above the road, plumb [m]

    Valid for:
        top_height_m >= 0
        body_width_m >= 0
        bump_m >= 0
        lever_ratio >= 1
        0 <= overshoot_ratio <= 1

    Example:
        The 3-4-5 slope makes 5 m of 4 m; a bump of 0.1 m lifts a point with lever 1.5 by 0.15 m, creeping.

        >>> round(float(height_passing_under(4.0, 2.0, 0.75, 0.0, 0.0, 0.1, 1.5, 0.0)), 6)
        5.15

    References:
        geometry of a rigid body on a plane; lever about the other axle; overshoot of an undamped spring under a
        sudden step is at most the step (dynamic load factor 2), any text on structural dynamics
    """
    slope_m = top_height_m * np.sqrt(1.0 + grade_ratio**2)
    tilt_m = body_width_m / 2.0 * np.abs(cross_slope_ratio) / np.sqrt(1.0 + cross_slope_ratio**2)
    bounce_m = bump_m * lever_ratio * (1.0 + overshoot_ratio)
    return slope_m + tilt_m + profile_rise_m + bounce_m


def distance_past_wire(
    offset_m: Number,
    swing_m: Number,
    wander_m: Number,
    body_half_width_m: Number,
    wire_height_m: Number,
    body_top_m: Number,
    grade_ratio: Number,
) -> Number:
    """Least distance in space from a body passing on a road to a wire over or beside it.

    r = sqrt(y² + z² / (1 + g²)), y = offset - swing - wander - half width, z = wire - top, neither below nothing

    Args:
        offset_m: plan distance from the centreline to the outer wire hanging still [m]
        swing_m: sideways swing of the wire [m]
        wander_m: how far the body may leave the centreline to the bad side [m]
        body_half_width_m: half the width of the body below ``body_top_m``, with what it leans out and sweeps more in a
            bend [m]
        wire_height_m: height of the wire above the road abreast of it, at its greatest sag [m]
        body_top_m: height of the body's top above the road [m]
        grade_ratio: steepest grade of the road there, g [-]

    Returns:
        distance; 0 where the wire may touch the body [m]

    Valid for:
        offset_m >= 0
        swing_m >= 0
        wander_m >= 0
        body_half_width_m >= 0

    Example:
        A wire 8 m off and 7 m up, nothing for swing or wander, body 2 m wide and 3 m high: 7 m aside, 4 m up.

        >>> round(float(distance_past_wire(8.0, 0.0, 0.0, 1.0, 7.0, 3.0, 0.0)), 4)
        8.0623

    References:
        distance of a point from a line in space; the top of the body travels along a line as steep as the road
    """
    sideways_m = np.maximum(offset_m - swing_m - wander_m - body_half_width_m, 0.0)
    upwards_m = np.maximum(wire_height_m - body_top_m, 0.0)
    return np.sqrt(sideways_m**2 + upwards_m**2 / (1.0 + grade_ratio**2))


def greatest_drop_thermal_only(span_m: Number, expansion_per_k: Number, warming_c: Number) -> Number:
    """How much lower any part of a wire can come when warmed, its sag not known.

    d = S sqrt((3/8) a ΔT); the drop of a wire that was stretched straight, every slacker one drops less

    Args:
        span_m: plan distance between the supports, S [m]
        expansion_per_k: coefficient of thermal expansion, a [1/K]
        warming_c: greatest conductor temperature less the conductor temperature when measured, ΔT [K]

    Returns:
        bound on the drop [m]

    Valid for:
        span_m > 0
        expansion_per_k >= 0
        warming_c >= 0

    Example:
        A span of 100 m, 50 K warmer, 23e-6 per K.

        >>> round(float(greatest_drop_thermal_only(100.0, 23e-6, 50.0)), 3)
        2.077

    References:
        length of a parabola S + 8 D²/(3 S) set equal before and after warming, D = 0 before: geometry
    """
    return span_m * np.sqrt(0.375 * expansion_per_k * warming_c)
