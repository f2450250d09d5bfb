"""Axle loads and lengths as laws count them: general information, the authority decides."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import KG_PER_LB, M_PER_FT, M_PER_IN


def bridge_formula_raw(outer_m: Number, axles_count: Number) -> Number:
    """Gross weight a group of axles may carry by the US bridge formula, not rounded.

    W = 500 (L N / (N - 1) + 12 N + 36) lb, L in feet

    Args:
        outer_m: distance between the outer axles of the group, L [m]
        axles_count: axles in the group, N [-]

    Returns:
        mass [kg]

    Valid for:
        outer_m > 0
        axles_count >= 2

    Example:
        20 ft, 3 axles: 51 000 lb.

        >>> print(round(float(bridge_formula_raw(20 * 0.3048, 3.0) / 0.45359237), 3))
        51000.0

    References:
        23 USC 127 and 23 CFR 658.17, bridge gross weight formula
    """
    span_ft = outer_m / M_PER_FT
    return 500.0 * (span_ft * axles_count / (axles_count - 1.0) + 12.0 * axles_count + 36.0) * KG_PER_LB


def bridge_formula_table(outer_m: Number, axles_count: Number, ties_up_ratio: Number) -> Number:
    """Gross weight by the US bridge formula as the tables print it: whole feet, whole 500 lb.

    W rounded to 500 lb, L to the nearest foot, a half foot down

    Args:
        outer_m: distance between the outer axles of the group, L [m]
        axles_count: axles in the group, N [-]
        ties_up_ratio: 0: an exact tie is rounded down (federal and California tables), 1: up (Pennsylvania) [-]

    Returns:
        mass [kg]

    Valid for:
        outer_m > 0
        axles_count >= 2
        0 <= ties_up_ratio <= 1

    Example:
        9 ft, 3 axles, the raw value is 42 750 lb.

        >>> print(round(float(bridge_formula_table(9 * 0.3048, 3.0, 0.0) / 0.45359237), 3))
        42500.0
        >>> print(round(float(bridge_formula_table(9 * 0.3048, 3.0, 1.0) / 0.45359237), 3))
        43000.0

    References:
        23 CFR 658.17 (to the nearest 500 lb); ties down: FHWA bridge formula text, California AB 1953; up: 67 Pa. Code
          185.3
    """
    span_ft = np.ceil(np.round(outer_m / M_PER_FT, 6) - 0.5)
    steps = np.round(span_ft * axles_count / (axles_count - 1.0) + 12.0 * axles_count + 36.0, 6)
    rounded = np.where(ties_up_ratio > 0.5, np.floor(steps + 0.5), np.ceil(steps - 0.5))
    return (500.0 * rounded * KG_PER_LB)[()]


def axle_group_weight_us(
    outer_m: Number, axles_count: Number, ties_up_ratio: Number, single_kg: Number, tandem_kg: Number
) -> Number:
    """Weight that consecutive axles may carry together by US federal law: a cap where they stand close, else the table.

    to 40 in: as one single axle; over 40 to 96 in: as a tandem; over 96 in: the bridge formula's table

    Args:
        outer_m: distance between the outer axles of the group, L [m]
        axles_count: axles in the group, N [-]
        ties_up_ratio: 0: an exact tie of the table is rounded down (federal), 1: up (Pennsylvania) [-]
        single_kg: cap of a single axle, 20 000 lb [kg]
        tandem_kg: cap of a tandem, 34 000 lb [kg]

    Returns:
        mass [kg]

    Valid for:
        outer_m > 0
        axles_count >= 2
        0 <= ties_up_ratio <= 1
        single_kg > 0
        tandem_kg > 0

    Example:
        Two axles 4 ft apart, and 9 ft apart.

        >>> pound, foot = 0.45359237, 0.3048
        >>> caps = (20000 * pound, 34000 * pound)
        >>> [round(float(axle_group_weight_us(d * foot, 2.0, 0.0, *caps)) / pound) for d in (4, 9)]
        [34000, 39000]

    References:
        23 USC 127(a); 23 CFR 658.5 (single axle: within 40 in; tandem: two or more within 96 in; from memory), 658.17
    """
    apart_in = np.round(outer_m / M_PER_IN, 6)
    close_kg = np.where(apart_in <= 40.0, single_kg, tandem_kg)
    return np.where(apart_in > 96.0, bridge_formula_table(outer_m, axles_count, ties_up_ratio), close_kg)[()]


def deemed_semitrailer_base(width_m: Number, outer_m: Number, inner_m: Number, front_m: Number) -> Number:
    """Greatest distance from kingpin to the middle of the bogie that counts as turning within a swept ring.

    sqrt((R - f)^2 - (r + w/2)^2)

    Args:
        width_m: width of the semitrailer, w [m]
        outer_m: outer radius of the ring, R; European Union 12.50 [m]
        inner_m: inner radius of the ring, r; European Union 5.30 [m]
        front_m: kingpin to any point of the semitrailer's front, f; European Union 2.04 [m]

    Returns:
        distance [m]

    Valid for:
        0 < width_m <= 3
        outer_m > inner_m + width_m / 2 + front_m
        inner_m > 0
        front_m >= 0

    Example:
        2.55 m wide: 8.135 m.

        >>> print(round(float(deemed_semitrailer_base(2.55, 12.50, 5.30, 2.04)), 3))
        8.135

    References:
        Directive 96/53/EC, Annex I, 1.5 and 4.4 (the formula from memory)
    """
    kingpin_m = outer_m - front_m
    bogie_m = inner_m + width_m / 2.0
    return np.sqrt(kingpin_m**2 - bogie_m**2)


def stgo_gross_category_2(outer_m: Number) -> Number:
    """Gross weight of a special-types vehicle of category 2 by its axle distance.

    W = 7500 D kg

    Args:
        outer_m: distance between the extreme load-bearing axles, kingpin to rear axle for a semitrailer, D [m]

    Returns:
        mass, before the category's own ceiling [kg]

    Valid for:
        outer_m > 0

    Example:
        D 9.0 m.

        >>> print(stgo_gross_category_2(9.0))
        67500.0

    References:
        Road Vehicles (Authorisation of Special Types) (General) Order 2003, Schedule 1, as restated on trade pages
    """
    return 7500.0 * outer_m


def stgo_gross_category_3(outer_m: Number) -> Number:
    """Gross weight of a special-types vehicle of category 3 by its axle distance.

    W = 12500 D kg

    Args:
        outer_m: distance between the extreme load-bearing axles, kingpin to rear axle for a semitrailer, D [m]

    Returns:
        mass, before the category's own ceiling [kg]

    Valid for:
        outer_m > 0

    Example:
        D 9.0 m.

        >>> print(stgo_gross_category_3(9.0))
        112500.0

    References:
        Road Vehicles (Authorisation of Special Types) (General) Order 2003, Schedule 1, as restated on trade pages
    """
    return 12500.0 * outer_m


def payload_on_front_axle(load_kg: Number, ahead_of_rear_m: Number, wheelbase_m: Number) -> Number:
    """Part of a load that a rigid vehicle's front axle takes.

    W d / L

    Args:
        load_kg: load [kg]
        ahead_of_rear_m: load's centre ahead of the rear axle [m]
        wheelbase_m: wheelbase [m]

    Returns:
        load on the front axle [kg]

    Valid for:
        load_kg >= 0
        wheelbase_m > 0

    Example:
        Derived: one third of the way.

        >>> print(payload_on_front_axle(3000.0, 2.0, 6.0))
        1000.0

    References:
        Automotive dictionary, load distribution: load base over wheelbase
    """
    return load_kg * ahead_of_rear_m / wheelbase_m
