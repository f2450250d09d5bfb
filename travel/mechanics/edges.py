"""How far from an edge: rules of several origins, and what a berm must reach.

The rules disagree, by a factor of two for one printed case; each is named by its origin and none is preferred here.
A distance from the toe becomes one from the crest by taking off the run of the batter.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def batter_angle(run_ratio: Number) -> Number:
    """Angle of a batter from the level, from its run for one of rise.

    β = atan(1 / n)

    Args:
        run_ratio: level run for one of rise, n in n:1; 0 is a vertical face [-]

    Returns:
        angle from the level [rad]

    Valid for:
        run_ratio >= 0

    Example:
        29 CFR 1926 Subpart P, table B-1: 3/4:1 is 53°.

        >>> round(float(np.degrees(batter_angle(0.75))), 0)
        53.0

    References:
        29 CFR 1926 Subpart P, appendix B, table B-1
    """
    return np.arctan2(1.0, run_ratio)


def crest_standoff_by_line(depth_m: Number, batter_rad: Number, line_rad: Number) -> Number:
    """Distance behind a crest at which a line from the toe comes up; load stays behind it.

    e = d (cot λ - cot β), not under 0

    Args:
        depth_m: depth of the edge, d [m]
        batter_rad: angle of the face from the level, β; π/2 is vertical [rad]
        line_rad: angle of the line from the level, λ [rad]

    Returns:
        least distance from the crest to the nearest side of the contact [m]

    Valid for:
        depth_m >= 0
        0 < batter_rad <= 1.5708
        0 < line_rad <= 1.5708

    Example:
        A 3 m vertical face and a line at 45°: 3 m.

        >>> round(float(crest_standoff_by_line(3.0, np.pi / 2, np.pi / 4)), 6)
        3.0

    References:
        zone of influence from the toe; the angle is the rulebook's (45° in Australian practice, from memory)
    """
    return np.maximum(depth_m * (np.tan(np.pi / 2.0 - line_rad) - np.tan(np.pi / 2.0 - batter_rad)), 0.0)


def crest_standoff_from_toe(toe_distance_m: Number, depth_m: Number, batter_rad: Number) -> Number:
    """Distance behind a crest that leaves a given distance from the toe.

    e = E - d cot β, not under 0

    Args:
        toe_distance_m: distance asked for from the toe, E [m]
        depth_m: depth of the edge, d [m]
        batter_rad: angle of the face from the level, β [rad]

    Returns:
        least distance from the crest [m]

    Valid for:
        toe_distance_m >= 0
        depth_m >= 0
        0 < batter_rad <= 1.5708

    Example:
        6 m from the toe of a 4 m face at 45°: 2 m behind the crest.

        >>> round(float(crest_standoff_from_toe(6.0, 4.0, np.pi / 4)), 6)
        2.0

    References:
        geometry
    """
    return np.maximum(toe_distance_m - depth_m / np.tan(batter_rad), 0.0)


def toe_distance_pad_width_ciria(pad_width_m: Number) -> Number:
    """Distance of a stabiliser pad from the toe as a multiple of the pad's width.

    E = 4 b

    Args:
        pad_width_m: width of the pad, b [m]

    Returns:
        least distance from the toe to the pad [m]

    Valid for:
        pad_width_m > 0

    Example:
        A printed comparison: pad 2.4 m, 9.6 m.

        >>> round(float(toe_distance_pad_width_ciria(2.4)), 6)
        9.6

    References:
        CIRIA rule as printed in a comparison of pad-to-edge rules for one case (report itself not seen)
    """
    return 4.0 * pad_width_m


def toe_distance_by_slope(depth_m: Number, run_ratio: Number) -> Number:
    """Distance of a pad from the toe by a slope of n level to one up.

    E = n d: 1.5 in the US style, 2 in an older crane manual

    Args:
        depth_m: depth of the edge, d [m]
        run_ratio: level run for one of rise, n [-]

    Returns:
        least distance from the toe to the pad [m]

    Valid for:
        depth_m >= 0
        run_ratio > 0

    Example:
        A printed comparison, 4 m deep: 6 m at 1.5 to 1.

        >>> float(toe_distance_by_slope(4.0, 1.5))
        6.0

    References:
        a printed comparison of pad-to-edge rules for one case; 29 CFR 1926 Subpart P, table B-1 (Type C, 1½:1)
    """
    return run_ratio * depth_m


def toe_distance_depth_back(depth_m: Number, back_ratio: Number, least_back_m: Number, run_ratio: Number) -> Number:
    """Distance of a pad from the toe by a multiple of the depth back from the crest, plus the slope's run.

    E = max(k d, e_min) + n d

    Args:
        depth_m: depth of the edge, d [m]
        back_ratio: distance back from the crest over depth, k [-]
        least_back_m: least distance back from the crest, e_min [m]
        run_ratio: level run of the slope for one of rise, n [-]

    Returns:
        least distance from the toe to the pad [m]

    Valid for:
        depth_m >= 0
        back_ratio >= 0
        least_back_m >= 0
        run_ratio >= 0

    Example:
        Dutch hire terms in a printed comparison, 4 m deep: 4 m back (least 1.5 m) and 1.5 to 1, 10 m.

        >>> float(toe_distance_depth_back(4.0, 1.0, 1.5, 1.5))
        10.0

    References:
        a printed comparison of pad-to-edge rules for one case
    """
    return np.maximum(back_ratio * depth_m, least_back_m) + run_ratio * depth_m


def crest_standoff_depth_multiple(depth_m: Number, depth_ratio: Number, least_m: Number) -> Number:
    """Distance behind a crest as a multiple of the depth.

    e = max(k d, e_min): k 1 by a backfilled trench, 1.5 in one rule, 2 and at least 2 m by loose fill in another

    Args:
        depth_m: depth of the edge or trench, d [m]
        depth_ratio: multiple of the depth, k [-]
        least_m: least distance whatever the depth, e_min [m]

    Returns:
        least distance from the crest [m]

    Valid for:
        depth_m >= 0
        depth_ratio > 0
        least_m >= 0

    Example:
        Beside a recently backfilled trench 12 ft deep: 12 ft.

        >>> float(crest_standoff_depth_multiple(12.0, 1.0, 0.0))
        12.0

    References:
        crane training material (weak); the multiple and the least distance are rows of the rulebook
    """
    return np.maximum(depth_ratio * depth_m, least_m)


def berm_height_mid_axle_msha(axle_height_m: Number) -> Number:
    """Least height of a berm at a drop: mid-axle of the largest machine that usually uses the road.

    h = height of the axle's middle above ground, about the loaded radius of the tyre

    Args:
        axle_height_m: height of the middle of the axle above ground [m]

    Returns:
        least height of the berm [m]

    Valid for:
        axle_height_m > 0

    Example:
        MSHA training slide: mid-axle at 3 ft, berm 3 ft.

        >>> float(berm_height_mid_axle_msha(3.0))
        3.0

    References:
        30 CFR 56.9300 (height at least mid-axle)
    """
    return axle_height_m * 1.0


def berm_height_three_quarter_tyre(tyre_diameter_m: Number) -> Number:
    """Height of a berm at a drop by a rule of the mining trade, higher than mid-axle.

    h = 0.75 D

    Args:
        tyre_diameter_m: outside diameter of the largest tyre, D [m]

    Returns:
        height of the berm [m]

    Valid for:
        tyre_diameter_m > 0

    Example:
        A tyre of 1.6 m.

        >>> round(float(berm_height_three_quarter_tyre(1.6)), 6)
        1.2

    References:
        mining trade page, about three quarters of the tyre; disagrees with 30 CFR 56.9300 (mid-axle, one half)
    """
    return 0.75 * tyre_diameter_m


def ultimate_bearing_at_slope_clay_meyerhof(cohesion_pa: Number, ncq_ratio: Number) -> Number:
    """Pressure at which clay fails under a strip at the top of a slope.

    q_u = c Ncq, Ncq from Meyerhof's chart

    Args:
        cohesion_pa: undrained cohesion, c [Pa]
        ncq_ratio: factor from the chart for slope, depth and distance, Ncq [-]

    Returns:
        pressure at failure, no factor of safety in it [Pa]

    Valid for:
        cohesion_pa > 0
        ncq_ratio > 0

    Example:
        Das, Principles of Foundation Engineering, Ex 4.5: 50 kPa, 6.3, a quarter of it: 78.75 kPa.

        >>> round(float(ultimate_bearing_at_slope_clay_meyerhof(50.0, 6.3)) / 4, 2)
        78.75

    References:
        Meyerhof 1957; Das, Principles of Foundation Engineering, ch. 4
    """
    return cohesion_pa * ncq_ratio


def ultimate_bearing_at_slope_sand_meyerhof(unit_weight_n_per_m3: Number, width_m: Number, ngq_ratio: Number) -> Number:
    """Pressure at which sand fails under a strip at the top of a slope.

    q_u = 0.5 γ B Nγq, Nγq from Meyerhof's chart

    Args:
        unit_weight_n_per_m3: unit weight, γ [N/m³]
        width_m: width of the strip, B [m]
        ngq_ratio: factor from the chart for slope, depth and distance, Nγq [-]

    Returns:
        pressure at failure, no factor of safety in it [Pa]

    Valid for:
        unit_weight_n_per_m3 > 0
        width_m > 0
        ngq_ratio > 0

    Example:
        Das, Principles of Foundation Engineering, Ex 4.6: 16.8 kN/m³, 1.5 m, 120: 1512 kPa.

        >>> round(float(ultimate_bearing_at_slope_sand_meyerhof(16.8, 1.5, 120.0)), 6)
        1512.0

    References:
        Meyerhof 1957; Das, Principles of Foundation Engineering, ch. 4
    """
    return 0.5 * unit_weight_n_per_m3 * width_m * ngq_ratio
