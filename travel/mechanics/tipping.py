"""Tipping of a rigid machine about every line of its support polygon, on a slope and under acceleration.

Support points are given counter-clockwise as seen from above, in body axes (x forward, y left, z up), each
(x, y, z). z is 0 for a tyre contact; a swinging axle is one point at its middle with z the height of its
pivot. Forces along the travel act at the tyre contacts for every point (the pin of a swinging axle passes
pitch and yaw, not roll); forces across act at z.

The factor of a line is the tangent at which the machine tips about it over the tangent demanded, slope and
acceleration growing together. Infinite: the demand does not tip it there. 0: it does not stand even on the
level (so do points given clockwise, which is the safe failure).

Whole mass with a pivot: on the safe side only if the swinging axle's own centre of gravity is not below its
pivot; else use that centre's height for z, or take the axle's mass out of the centre of gravity.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.slope import demand_across, demand_along


def tip_line_reach(
    cg_x_m: Number, cg_y_m: Number, from_x_m: Number, from_y_m: Number, to_x_m: Number, to_y_m: Number
) -> Number:
    """Plan distance of the centre of gravity inside a tip line.

    (u_x (c_y - A_y) - u_y (c_x - A_x)), u the unit vector from A to B in plan

    Args:
        cg_x_m: centre of gravity, forward [m]
        cg_y_m: centre of gravity, left [m]
        from_x_m: support point A, forward [m]
        from_y_m: support point A, left [m]
        to_x_m: next support point B counter-clockwise, forward [m]
        to_y_m: support point B, left [m]

    Returns:
        lever of the weight, + inside [m]

    Valid for:
        (to_x_m - from_x_m)**2 + (to_y_m - from_y_m)**2 > 0

    Example:
        Derived: middle of a base 2 m wide, its left side.

        >>> print(tip_line_reach(-1.5, 0.0, 0.0, 1.0, -3.0, 1.0))
        1.0

    References:
        Line of action inside the polygon of support: OSHA 29 CFR 1910.178 App. A, A-6 (stability triangle)
        Distance of a point from a line; derived
    """
    along_x_m = to_x_m - from_x_m
    along_y_m = to_y_m - from_y_m
    length_m = np.sqrt(along_x_m**2 + along_y_m**2)
    return (along_x_m * (cg_y_m - from_y_m) - along_y_m * (cg_x_m - from_x_m)) / length_m


def tip_line_lever_along(cg_z_m: Number, from_x_m: Number, from_y_m: Number, to_x_m: Number, to_y_m: Number) -> Number:
    """Lever with which a demand towards the rear overturns about a tip line.

    -u_y h, h above the tyre contacts

    Args:
        cg_z_m: centre of gravity above the tyre contacts [m]
        from_x_m: support point A, forward [m]
        from_y_m: support point A, left [m]
        to_x_m: next support point B counter-clockwise, forward [m]
        to_y_m: support point B, left [m]

    Returns:
        lever, + where the demand tips over this line [m]

    Valid for:
        cg_z_m > 0
        (to_x_m - from_x_m)**2 + (to_y_m - from_y_m)**2 > 0

    Example:
        Derived: rear line, from left to right.

        >>> print(tip_line_lever_along(1.2, -3.0, 1.0, -3.0, -1.0))
        1.2

    References:
        Derived: moment of a force about a line; no publication
    """
    along_x_m = to_x_m - from_x_m
    along_y_m = to_y_m - from_y_m
    return -cg_z_m * along_y_m / np.sqrt(along_x_m**2 + along_y_m**2)


def tip_line_lever_across(
    cg_x_m: Number,
    cg_z_m: Number,
    from_x_m: Number,
    from_y_m: Number,
    from_z_m: Number,
    to_x_m: Number,
    to_y_m: Number,
    to_z_m: Number,
) -> Number:
    """Lever with which a demand towards the right overturns about a tip line.

    u_x (h - A_z) - u_z (c_x - A_x), u along the line, of unit length in plan

    Args:
        cg_x_m: centre of gravity, forward [m]
        cg_z_m: centre of gravity above the tyre contacts [m]
        from_x_m: support point A, forward [m]
        from_y_m: support point A, left [m]
        from_z_m: height at which support point A takes sideways force [m]
        to_x_m: next support point B counter-clockwise, forward [m]
        to_y_m: support point B, left [m]
        to_z_m: height at which support point B takes sideways force [m]

    Returns:
        lever, + where the demand tips over this line [m]

    Valid for:
        cg_z_m > 0
        from_z_m >= 0
        to_z_m >= 0
        (to_x_m - from_x_m)**2 + (to_y_m - from_y_m)**2 > 0

    Example:
        Derived: right side of a four-point base, from rear to front.

        >>> print(tip_line_lever_across(-1.2, 1.2, -3.0, -1.0, 0.0, 0.0, -1.0, 0.0))
        1.2

    References:
        Derived: moment of a force about a line; no publication. With a pivot it gives ``oscillating_roll_ratio``.
    """
    along_x_m = to_x_m - from_x_m
    along_y_m = to_y_m - from_y_m
    length_m = np.sqrt(along_x_m**2 + along_y_m**2)
    return (along_x_m * (cg_z_m - from_z_m) - (to_z_m - from_z_m) * (cg_x_m - from_x_m)) / length_m


def tip_line_factor(
    reach_m: Number,
    lever_along_m: Number,
    lever_across_m: Number,
    along_ratio: Number,
    across_ratio: Number,
) -> Number:
    """Factor against tipping about one line.

    k = reach / (d_x lever_x + d_y lever_y)

    Args:
        reach_m: plan distance of the centre of gravity inside the line [m]
        lever_along_m: lever of the demand along [m]
        lever_across_m: lever of the demand across [m]
        along_ratio: tangent demanded along, + towards the rear [-]
        across_ratio: tangent demanded across, + towards the right [-]

    Returns:
        factor; infinite where the demand does not tip it there, 0 where the centre is not inside the line [-]

    Valid for:
        abs(along_ratio) < 10
        abs(across_ratio) < 10

    Example:
        Derived: half a track of 1 m, height 1.25 m, cross slope 40 %.

        >>> print(tip_line_factor(1.0, 0.0, 1.25, 0.0, 0.40))
        2.0

    References:
        Derived: moments about the line, the demand scaled until they balance; no publication
    """
    overturning_m = along_ratio * lever_along_m + across_ratio * lever_across_m
    factor = np.where(overturning_m > 0.0, reach_m / np.where(overturning_m > 0.0, overturning_m, 1.0), np.inf)
    return np.where(reach_m > 0.0, factor, np.where(np.isnan(reach_m), np.nan, 0.0))[()]


def tip_factor_by_line(
    grade_ratio: Number,
    cross_slope_ratio: Number,
    along_mps2: Number,
    across_mps2: Number,
    cg_x_m: Number,
    cg_y_m: Number,
    cg_z_m: Number,
    supports_m: Number,
) -> Number:
    """Factor against tipping about each line of the support polygon.

    ``tip_line_factor`` for the line from each support point to the next

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope, + falling to the right [-]
        along_mps2: acceleration along, + gaining speed, - braking [m/s2]
        across_mps2: acceleration across, + towards the left (a left turn) [m/s2]
        cg_x_m: centre of gravity, forward [m]
        cg_y_m: centre of gravity, left [m]
        cg_z_m: centre of gravity above the tyre contacts [m]
        supports_m: support points counter-clockwise, each (x, y, z), shape (n, 3) [m]

    Returns:
        factors, one axis longer than the arguments: last axis the lines, from point i to point i + 1 [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        abs(along_mps2) < 20
        abs(across_mps2) < 20
        cg_z_m > 0

    Example:
        Derived: four-point base 2 m by 3 m, cg 1.25 m up, cross slope 40 %: 2.0 about the right side only.

        >>> base = np.array([[0.0, 1.0, 0.0], [-3.0, 1.0, 0.0], [-3.0, -1.0, 0.0], [0.0, -1.0, 0.0]])
        >>> print(tip_factor_by_line(0.0, 0.4, 0.0, 0.0, -1.2, 0.0, 1.25, base).round(3))
        [inf inf 2. inf]

    References:
        OSHA 29 CFR 1910.178 App. A, A-6 (stability triangle), for any polygon
        Derived: moments about each line; no publication
    """
    start = np.asarray(supports_m)
    end = np.roll(start, -1, axis=-2)
    x, y, z = start[..., 0], start[..., 1], start[..., 2]
    to_x, to_y, to_z = end[..., 0], end[..., 1], end[..., 2]
    cg_x, cg_y, cg_z = np.asarray(cg_x_m)[..., None], np.asarray(cg_y_m)[..., None], np.asarray(cg_z_m)[..., None]
    along = np.asarray(demand_along(grade_ratio, cross_slope_ratio, along_mps2))[..., None]
    across = np.asarray(demand_across(grade_ratio, cross_slope_ratio, across_mps2))[..., None]
    reach = tip_line_reach(cg_x, cg_y, x, y, to_x, to_y)
    lever_along = tip_line_lever_along(cg_z, x, y, to_x, to_y)
    lever_across = tip_line_lever_across(cg_x, cg_z, x, y, z, to_x, to_y, to_z)
    return tip_line_factor(reach, lever_along, lever_across, along, across)


def tip_factor(
    grade_ratio: Number,
    cross_slope_ratio: Number,
    along_mps2: Number,
    across_mps2: Number,
    cg_x_m: Number,
    cg_y_m: Number,
    cg_z_m: Number,
    supports_m: Number,
) -> Number:
    """Factor against tipping: tangent at which the machine tips over tangent demanded, least of all lines.

    min over the lines of the support polygon of ``tip_line_factor``

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope, + falling to the right [-]
        along_mps2: acceleration along, + gaining speed, - braking [m/s2]
        across_mps2: acceleration across, + towards the left (a left turn) [m/s2]
        cg_x_m: centre of gravity, forward [m]
        cg_y_m: centre of gravity, left [m]
        cg_z_m: centre of gravity above the tyre contacts [m]
        supports_m: support points counter-clockwise, each (x, y, z), shape (n, 3) [m]

    Returns:
        factor; infinite with no demand at all, 0 where it does not stand even on the level [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        abs(along_mps2) < 20
        abs(across_mps2) < 20
        cg_z_m > 0

    Example:
        Derived: three-point base, pivot at 0.6 m, tipping at 62.5 %, on 25 %.

        >>> base = np.array([[0.0, 1.0, 0.0], [-3.0, 0.0, 0.6], [0.0, -1.0, 0.0]])
        >>> print(round(float(tip_factor(0.0, 0.25, 0.0, 0.0, -1.2, 0.0, 1.2, base)), 3))
        2.5

    References:
        OSHA 29 CFR 1910.178 App. A, A-6 (stability triangle), for any polygon
        Derived: moments about each line; no publication
    """
    factors = tip_factor_by_line(
        grade_ratio, cross_slope_ratio, along_mps2, across_mps2, cg_x_m, cg_y_m, cg_z_m, supports_m
    )
    return np.asarray(factors).min(axis=-1)  # type: ignore[no-any-return]  # NumPy types a reduction Any
