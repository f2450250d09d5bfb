"""Standing at the pick point: four legs, pads, level, wind."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import G_MPS2


def resultant_offset(
    fixed_moment_n_m: Number,
    boom_n: Number,
    boom_radius_m: Number,
    load_n: Number,
    load_radius_m: Number,
    vertical_n: Number,
    slew_rad: Number,
) -> Number:
    """Offset of the resultant of all weights from the middle of the legs, along one axis.

    x = [M + (W_b r_b + W_l R) cos s] / V; for the other axis pass the angle measured from it

    Args:
        fixed_moment_n_m: sum of the weights that do not slew times their offsets along the axis, M [N·m]
        boom_n: weight of the boom and all that slews, W_b [N]
        boom_radius_m: radius of its centre of gravity from the slew centre, r_b [m]
        load_n: weight of the load with its tackle, W_l [N]
        load_radius_m: radius of the load from the slew centre, R [m]
        vertical_n: sum of all weights, V [N]
        slew_rad: angle from the axis to the boom, s [rad]

    Returns:
        offset of the resultant along the axis [m]

    Valid for:
        boom_n >= 0
        load_n >= 0
        vertical_n > 0
        load_radius_m >= 0

    Example:
        A load of 20 kN at 10 m and a boom of 30 kN at 4 m, over the axis, 200 kN in all.

        >>> round(float(resultant_offset(0.0, 30e3, 4.0, 20e3, 10.0, 200e3, 0.0)), 6)
        1.6

    References:
        Cranes and Derricks, 4th ed., p. 278 (slew centre at the middle of the legs; else add its moment to M)
    """
    return (fixed_moment_n_m + (boom_n * boom_radius_m + load_n * load_radius_m) * np.cos(slew_rad)) / vertical_n


def leg_reaction(vertical_n: Number, x_m: Number, y_m: Number, half_length_m: Number, half_width_m: Number) -> Number:
    """Reaction of one leg of four by a rigid frame, before rebalancing; the leg at (+, +).

    R = V/4 (1 + x/a + y/b); turn the signs of x and y for the other legs

    Args:
        vertical_n: total vertical load, V [N]
        x_m: offset of the resultant towards the leg, lengthwise, x [m]
        y_m: offset of the resultant towards the leg, across, y [m]
        half_length_m: half the distance between legs lengthwise, a [m]
        half_width_m: half the distance between legs across, b [m]

    Returns:
        reaction; negative asks for rebalancing [N]

    Valid for:
        vertical_n > 0
        half_length_m > 0
        half_width_m > 0

    Example:
        200 kN, legs at 2.5 m, resultant at 1.6 and 1.5 m: 112 kN on the nearest.

        >>> round(float(leg_reaction(200.0, 1.6, 1.5, 2.5, 2.5)), 6)
        112.0

    References:
        Cranes and Derricks, 4th ed., p. 278; frame flex, wind and motion are not in it
    """
    return vertical_n / 4.0 * (1.0 + x_m / half_length_m + y_m / half_width_m)


def leg_reaction_rebalanced(
    vertical_n: Number, x_m: Number, y_m: Number, half_length_m: Number, half_width_m: Number
) -> Number:
    """Reaction of one leg of four, one lifted leg set to nothing; the leg at (+, +).

    with -k on the lightest leg: it gets +k, the leg diagonally opposite +k, the other two -k;
    sum and both moments stay. Turn the signs of x and y for the other legs

    Args:
        vertical_n: total vertical load, V [N]
        x_m: offset of the resultant towards the leg, lengthwise, x [m]
        y_m: offset of the resultant towards the leg, across, y [m]
        half_length_m: half the distance between legs lengthwise, a [m]
        half_width_m: half the distance between legs across, b [m]

    Returns:
        reaction [N]

    Valid for:
        vertical_n > 0
        half_length_m > 0
        half_width_m > 0
        abs(x_m) <= half_length_m
        abs(y_m) <= half_width_m

    Example:
        200 kN, legs at 2.5 m, resultant at 1.6 and 1.5 m: 124 kN on the nearest.

        >>> round(float(leg_reaction_rebalanced(200.0, 1.6, 1.5, 2.5, 2.5)), 6)
        124.0

    References:
        Cranes and Derricks, 4th ed., p. 278: two negative legs mean tipping (outside the rectangle)
    """
    u = x_m / half_length_m
    v = y_m / half_width_m
    lifted_n = vertical_n / 4.0 * np.maximum(np.abs(u) + np.abs(v) - 1.0, 0.0)
    return vertical_n / 4.0 * (1.0 + u + v) + np.sign(u) * np.sign(v) * lifted_n


def greatest_leg_reaction(
    vertical_n: Number, x_m: Number, y_m: Number, half_length_m: Number, half_width_m: Number
) -> Number:
    """Greatest reaction of four legs, one lifted leg rebalanced.

    R = V/4 max(1 + |x|/a + |y|/b, 2 (|x|/a + |y|/b))

    Args:
        vertical_n: total vertical load, V [N]
        x_m: offset of the resultant lengthwise, either sign, x [m]
        y_m: offset of the resultant across, either sign, y [m]
        half_length_m: half the distance between legs lengthwise, a [m]
        half_width_m: half the distance between legs across, b [m]

    Returns:
        reaction of the heaviest leg [N]

    Valid for:
        vertical_n > 0
        half_length_m > 0
        half_width_m > 0
        abs(x_m) <= half_length_m
        abs(y_m) <= half_width_m

    Example:
        200 kN, legs at 2.5 m, resultant at 1.6 and -1.5 m.

        >>> round(float(greatest_leg_reaction(200.0, 1.6, -1.5, 2.5, 2.5)), 6)
        124.0

    References:
        Cranes and Derricks, 4th ed., p. 278, written out for the heaviest leg
    """
    reach = np.abs(x_m) / half_length_m + np.abs(y_m) / half_width_m
    return vertical_n / 4.0 * np.maximum(1.0 + reach, 2.0 * reach)


def leg_force_by_fraction(machine_kg: Number, load_kg: Number, fraction_ratio: Number) -> Number:
    """Leg force where no reactions are known: a fraction of machine and load.

    F = f (machine + load) g; f 0.65 in the Queensland code, others plan for 0.75 or 1

    Args:
        machine_kg: mass of the machine as it stands [kg]
        load_kg: load with rigging [kg]
        fraction_ratio: fraction on one leg, f [-]

    Returns:
        force on the worst leg [N]

    Valid for:
        machine_kg > 0
        load_kg >= 0
        0.25 <= fraction_ratio <= 1

    Example:
        20 t and 3 t: 14.95 t.

        >>> round(float(leg_force_by_fraction(20e3, 3e3, 0.65)) / G_MPS2 / 1000, 2)
        14.95

    References:
        Queensland Mobile Crane Code of Practice, 0.65 rule as restated by an Australian trade summary
    """
    return fraction_ratio * (machine_kg + load_kg) * G_MPS2


def pad_area(force_n: Number, allowable_pa: Number) -> Number:
    """Area of pad that keeps the pressure on the ground within what is allowed.

    A = F / q

    Args:
        force_n: force on the leg, F [N]
        allowable_pa: pressure allowed on the ground, q [Pa]

    Returns:
        least area [m²]

    Valid for:
        force_n >= 0
        allowable_pa > 0

    Example:
        25 t on ground good for 40 t/m²: 0.625 m².

        >>> round(float(pad_area(25.0, 40.0)), 6)
        0.625

    References:
        a mobile crane operating manual, printed example (any one set of units)
    """
    return force_n / allowable_pa


def pad_side(force_n: Number, allowable_pa: Number) -> Number:
    """Side of a square pad that keeps the pressure on the ground within what is allowed.

    s = sqrt(F / q)

    Args:
        force_n: force on the leg, F [N]
        allowable_pa: pressure allowed on the ground, q [Pa]

    Returns:
        least side [m]

    Valid for:
        force_n >= 0
        allowable_pa > 0

    Example:
        14.95 t on stiff dry clay, 20 t/m².

        >>> round(float(pad_side(14.95, 20.0)), 3)
        0.865

    References:
        four-step method (force, allowable pressure, area, square root) of an Australian trade summary
    """
    return np.sqrt(force_n / allowable_pa)


def out_of_level(grade_ratio: Number, cross_slope_ratio: Number) -> Number:
    """Steepest slope of a plane from its slopes along and across.

    s = sqrt(g² + c²)

    Args:
        grade_ratio: slope along, g [-]
        cross_slope_ratio: slope across, c [-]

    Returns:
        steepest slope [-]

    Valid for:
        -1 <= grade_ratio <= 1
        -1 <= cross_slope_ratio <= 1

    Example:
        3 % along and 4 % across.

        >>> round(float(out_of_level(0.03, 0.04)), 6)
        0.05

    References:
        gradient of a plane
    """
    return np.sqrt(grade_ratio**2 + cross_slope_ratio**2)


def levelling_stroke(grade_ratio: Number, cross_slope_ratio: Number, length_m: Number, width_m: Number) -> Number:
    """Difference of leg strokes that brings a machine level on a plane.

    t = |g| a + |c| b

    Args:
        grade_ratio: slope along, g [-]
        cross_slope_ratio: slope across, c [-]
        length_m: distance between legs lengthwise, a [m]
        width_m: distance between legs across, b [m]

    Returns:
        stroke of the lowest leg above that of the highest [m]

    Valid for:
        -1 <= grade_ratio <= 1
        -1 <= cross_slope_ratio <= 1
        length_m > 0
        width_m > 0

    Example:
        2 % along and 1 % across a square of 5 m.

        >>> round(float(levelling_stroke(0.02, -0.01, 5.0, 5.0)), 6)
        0.15

    References:
        height difference of opposite corners of a rectangle on a plane
    """
    return np.abs(grade_ratio) * length_m + np.abs(cross_slope_ratio) * width_m


def wind_pressure(wind_mps: Number, air_density_kg_per_m3: Number) -> Number:
    """Dynamic pressure of the wind.

    q = ρ v² / 2

    Args:
        wind_mps: wind speed, v [m/s]
        air_density_kg_per_m3: density of air, ρ, 1.25 in crane standards [kg/m³]

    Returns:
        pressure; times area and shape factor it is the force [Pa]

    Valid for:
        wind_mps >= 0
        air_density_kg_per_m3 > 0

    Example:
        9.8 m/s at 1.25 kg/m³: 60 Pa.

        >>> round(float(wind_pressure(9.8, 1.25)), 0)
        60.0

    References:
        Bernoulli; EN 13001-2 and ISO 4302 take 1.25 kg/m³ (from memory)
    """
    return 0.5 * air_density_kg_per_m3 * wind_mps**2


def wind_factor_sail_en_13000(load_kg: Number, shape_ratio: Number, area_m2: Number) -> Number:
    """Factor on a table's wind speed for a load with more sail than the table allows for.

    f = min(1, sqrt(1.2 m / (c_w A_p))), m in t, A_p in m²

    Args:
        load_kg: mass of the load, m [kg]
        shape_ratio: wind shape factor, c_w [-]
        area_m2: largest area of the load across the wind, A_p [m²]

    Returns:
        factor on the permitted wind speed [-]

    Valid for:
        load_kg > 0
        shape_ratio > 0
        area_m2 > 0

    Example:
        A loader-crane manual: 2 t, 9 m², c_w 1; printed as 0.5.

        >>> round(float(wind_factor_sail_en_13000(2000.0, 1.0, 9.0)), 1)
        0.5

    References:
        EN 13000 form, from memory; same equation printed in a loader-crane manual, p. 23-24
    """
    return np.minimum(np.sqrt(1.2 * load_kg / 1000.0 / (shape_ratio * area_m2)), 1.0)
