"""Bearing capacity of ground under tyres, pads and mats: what it carries at failure."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def ultimate_bearing(
    cohesion_pa: Number,
    nc_ratio: Number,
    surcharge_pa: Number,
    nq_ratio: Number,
    unit_weight_n_per_m3: Number,
    width_m: Number,
    ng_ratio: Number,
) -> Number:
    """Pressure at which the ground under a strip fails; shapes and depths enter through the factors.

    q_u = c Nc + q Nq + 0.5 γ B Nγ, each N already times its shape and depth factors (1 for a strip at the surface)

    Args:
        cohesion_pa: cohesion, c [Pa]
        nc_ratio: factor for cohesion, Nc [-]
        surcharge_pa: pressure of the soil beside the base, q [Pa]
        nq_ratio: factor for surcharge, Nq [-]
        unit_weight_n_per_m3: unit weight of the soil, γ [N/m³]
        width_m: least width of the base, less twice any eccentricity, B [m]
        ng_ratio: factor for the soil's own weight, Nγ [-]

    Returns:
        pressure at failure, no factor of safety in it [Pa]

    Valid for:
        cohesion_pa >= 0
        nc_ratio >= 0
        surcharge_pa >= 0
        nq_ratio >= 0
        unit_weight_n_per_m3 >= 0
        width_m > 0
        ng_ratio >= 0

    Example:
        Das, Principles of Geotechnical Engineering, Ex 16.1: strip, 20°, 200 lb/ft², 110 lb/ft³, 3 ft deep,
        4 ft wide, a third of it: 2264.7 lb/ft².

        >>> round(float(ultimate_bearing(200.0, 17.69, 330.0, 7.44, 110.0, 4.0, 3.64)) / 3, 1)
        2264.7

    References:
        Terzaghi 1943; Das, Principles of Geotechnical Engineering, ch. 16 (any one set of units)
    """
    return cohesion_pa * nc_ratio + surcharge_pa * nq_ratio + 0.5 * unit_weight_n_per_m3 * width_m * ng_ratio


def ultimate_bearing_square_terzaghi(
    cohesion_pa: Number,
    nc_ratio: Number,
    surcharge_pa: Number,
    nq_ratio: Number,
    unit_weight_n_per_m3: Number,
    width_m: Number,
    ng_ratio: Number,
) -> Number:
    """Pressure at which the ground under a square base fails, Terzaghi.

    q_u = 1.3 c Nc + q Nq + 0.4 γ B Nγ, with Terzaghi's factors

    Args:
        cohesion_pa: cohesion, c [Pa]
        nc_ratio: factor for cohesion, Nc [-]
        surcharge_pa: pressure of the soil beside the base, q [Pa]
        nq_ratio: factor for surcharge, Nq [-]
        unit_weight_n_per_m3: unit weight of the soil, γ [N/m³]
        width_m: side of the base, B [m]
        ng_ratio: factor for the soil's own weight, Nγ [-]

    Returns:
        pressure at failure, no factor of safety in it [Pa]

    Valid for:
        cohesion_pa >= 0
        nc_ratio >= 0
        surcharge_pa >= 0
        nq_ratio >= 0
        unit_weight_n_per_m3 >= 0
        width_m > 0
        ng_ratio >= 0

    Example:
        Das, Principles of Foundation Engineering, Ex 3.1: 5 ft square, a quarter of it on 25 ft²: 67 269 lb.

        >>> round(float(ultimate_bearing_square_terzaghi(320.0, 17.69, 345.0, 7.44, 115.0, 5.0, 3.64)) / 4 * 25, 0)
        67269.0

    References:
        Terzaghi 1943; Das, Principles of Foundation Engineering, ch. 3 (any one set of units)
    """
    return 1.3 * cohesion_pa * nc_ratio + surcharge_pa * nq_ratio + 0.4 * unit_weight_n_per_m3 * width_m * ng_ratio


def ultimate_bearing_undrained(
    undrained_strength_pa: Number, width_m: Number, length_m: Number, surcharge_pa: Number
) -> Number:
    """Pressure at which clay fails under quick loading of a rectangle at or near the surface.

    q_u = (2 + π) c_u (1 + 0.2 B/L) + q; depth of the base left out, which is on the safe side

    Args:
        undrained_strength_pa: undrained shear strength, c_u [Pa]
        width_m: shorter side of the base, B [m]
        length_m: longer side of the base, L [m]
        surcharge_pa: pressure of the soil beside the base, q [Pa]

    Returns:
        pressure at failure, no factor of safety in it [Pa]

    Valid for:
        undrained_strength_pa > 0
        0 < width_m <= length_m
        surcharge_pa >= 0

    Example:
        A very long strip at the surface: 5.14 c_u.

        >>> round(float(ultimate_bearing_undrained(1.0, 1.0, 1e9, 0.0)), 2)
        5.14

    References:
        Prandtl 1921; shape factor 1 + 0.2 B/L, Skempton 1951 and EN 1997-1:2004 annex D.3
    """
    return (2.0 + np.pi) * undrained_strength_pa * (1.0 + 0.2 * width_m / length_m) + surcharge_pa


def ultimate_bearing_clay_on_rock(
    undrained_strength_pa: Number, width_m: Number, thickness_m: Number, surcharge_pa: Number
) -> Number:
    """Pressure at which a thin layer of clay on a hard bed fails under a square base.

    q_u = 5.14 [1 + (0.5 B/H - 0.707)/5.14] c_u + q, no gain where B/H is under 1.414

    Args:
        undrained_strength_pa: undrained shear strength, c_u [Pa]
        width_m: side of the base, B [m]
        thickness_m: thickness of the clay under the base, H [m]
        surcharge_pa: pressure of the soil beside the base, q [Pa]

    Returns:
        pressure at failure, no factor of safety in it [Pa]

    Valid for:
        undrained_strength_pa > 0
        width_m > 0
        thickness_m > 0
        surcharge_pa >= 0

    Example:
        Das, Principles of Foundation Engineering, Ex 4.2: 72 kPa, 1 m, 0.25 m, 18 kPa, a third of it: 160.4 kPa.

        >>> round(float(ultimate_bearing_clay_on_rock(72.0, 1.0, 0.25, 18.0)) / 3, 1)
        160.4

    References:
        Buisman 1940; Das, Principles of Foundation Engineering, ch. 4
    """
    gain = np.maximum(0.5 * width_m / thickness_m - 0.707, 0.0) / 5.14
    return 5.14 * (1.0 + gain) * undrained_strength_pa + surcharge_pa


def ultimate_bearing_sand_over_clay(
    undrained_strength_pa: Number,
    width_m: Number,
    thickness_m: Number,
    base_depth_m: Number,
    unit_weight_n_per_m3: Number,
    punching_ratio: Number,
    friction_rad: Number,
) -> Number:
    """Pressure at which a strip punches through strong sand into the clay below.

    q_u = 5.14 c_u + γ H² (1 + 2 D/H) K_s tan φ / B + γ D; never more than the sand alone carries

    Args:
        undrained_strength_pa: undrained shear strength of the clay, c_u [Pa]
        width_m: width of the strip, B [m]
        thickness_m: thickness of sand under the base, H [m]
        base_depth_m: depth of the base below the surface, D [m]
        unit_weight_n_per_m3: unit weight of the sand, γ [N/m³]
        punching_ratio: punching coefficient from Meyerhof and Hanna's chart, K_s [-]
        friction_rad: angle of friction of the sand, φ [rad]

    Returns:
        pressure at failure, no factor of safety in it; take the lesser of this and the sand's own [Pa]

    Valid for:
        undrained_strength_pa > 0
        width_m > 0
        thickness_m > 0
        base_depth_m >= 0
        unit_weight_n_per_m3 > 0
        punching_ratio >= 0
        0 < friction_rad < 0.88

    Example:
        The data of Das, Principles of Foundation Engineering, Ex 4.3, strip load at failure in kN/m.
        A copy of the solution prints 575.7: its last term takes γ H where the equation has γ D.

        >>> round(float(ultimate_bearing_sand_over_clay(30.0, 2.0, 1.5, 1.2, 17.5, 2.5, np.radians(40))) * 2, 1)
        565.2

    References:
        Meyerhof and Hanna 1978; Das, Principles of Foundation Engineering, ch. 4
    """
    deeper = 1.0 + 2.0 * base_depth_m / thickness_m
    side_pa = unit_weight_n_per_m3 * thickness_m**2 * deeper * punching_ratio * np.tan(friction_rad) / width_m
    return 5.14 * undrained_strength_pa + side_pa + unit_weight_n_per_m3 * base_depth_m


def platform_bearing_br_470_memory(
    undrained_strength_pa: Number,
    width_m: Number,
    length_m: Number,
    thickness_m: Number,
    unit_weight_n_per_m3: Number,
    punching_ratio: Number,
) -> Number:
    """Resistance of a granular working platform on clay. FROM MEMORY: not checked against the report.

    R = 5.14 c_u (1 + 0.2 W/L) + (γ_p D² / W) K_p tan δ (1 + W/L)

    Args:
        undrained_strength_pa: undrained shear strength of the clay, c_u [Pa]
        width_m: shorter side of the loaded area, W [m]
        length_m: longer side of the loaded area, L [m]
        thickness_m: thickness of the platform, D [m]
        unit_weight_n_per_m3: unit weight of the platform, γ_p [N/m³]
        punching_ratio: K_p tan δ; 3.1 at 35°, 5.5 at 40°, 10 at 45° [-]

    Returns:
        resistance, to be compared with the pressure times its load factor [Pa]

    Valid for:
        20000 <= undrained_strength_pa <= 80000
        0 < width_m <= length_m
        thickness_m >= 0
        2 * thickness_m <= 3 * width_m
        unit_weight_n_per_m3 > 0
        punching_ratio > 0

    Example:
        c_u 30 kPa, 0.5 m by 2.4 m, no platform at all: 160.6 kPa.

        >>> round(float(platform_bearing_br_470_memory(30e3, 0.5, 2.4, 0.0, 20e3, 5.5)) / 1000, 1)
        160.6

    References:
        BRE BR 470 (2004), Working platforms for tracked plant: equation and range recalled, not read
    """
    clay_pa = 5.14 * undrained_strength_pa * (1.0 + 0.2 * width_m / length_m)
    shear_pa = unit_weight_n_per_m3 * thickness_m**2 / width_m * punching_ratio * (1.0 + width_m / length_m)
    return clay_pa + shear_pa
