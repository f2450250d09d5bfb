"""Axle loads and lengths as laws count them: general information, the authority decides."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import KG_PER_LB, M_PER_FT


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


def deemed_semitrailer_base(width_m: Number) -> Number:
    """Greatest distance from kingpin to the middle of the bogie that counts as turning within the EU swept ring.

    sqrt((12.50 - 2.04)^2 - (5.30 + w/2)^2)

    Args:
        width_m: width of the semitrailer [m]

    Returns:
        distance [m]

    Valid for:
        0 < width_m <= 3

    Example:
        2.55 m wide: 8.135 m.

        >>> print(round(float(deemed_semitrailer_base(2.55)), 3))
        8.135

    References:
        Directive 96/53/EC, Annex I, 1.5 and 4.4 (the formula from memory)
    """
    outer_m = 12.50 - 2.04
    inner_m = 5.30 + width_m / 2.0
    return np.sqrt(outer_m**2 - inner_m**2)


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
