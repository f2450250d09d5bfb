"""Ice, wind and warmth on a wire: loads, swing, and the change of state between two conditions."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import G_MPS2


def ice_load(diameter_m: Number, ice_thickness_m: Number, ice_density_kg_per_m3: Number) -> Number:
    """Weight of a ring of ice per metre of wire.

    w_i = ρ g π t (d + t)

    Args:
        diameter_m: diameter of the bare wire, d [m]
        ice_thickness_m: thickness of ice all round, t [m]
        ice_density_kg_per_m3: density of the ice, ρ [kg/m³]

    Returns:
        weight per metre [N/m]

    Valid for:
        diameter_m > 0
        ice_thickness_m >= 0
        ice_density_kg_per_m3 > 0

    Example:
        Gupta, Power Systems, ch. 10: d 1.42 cm, ice 1.25 cm at 913.5 kg/m³: 0.958 kg/m.

        >>> round(float(ice_load(0.0142, 0.0125, 913.5)) / G_MPS2, 3)
        0.958

    References:
        Gupta J.B., ch. 10; Gönen, Electric Power Transmission, ch. 13 (there 1.25 t (d + t) lb/ft, inches)
    """
    return ice_density_kg_per_m3 * G_MPS2 * np.pi * ice_thickness_m * (diameter_m + ice_thickness_m)


def wind_load(wind_pa: Number, diameter_m: Number, ice_thickness_m: Number) -> Number:
    """Sideways push of the wind per metre of wire, on the full projected width.

    w_w = p (d + 2 t)

    Args:
        wind_pa: wind pressure on the projected area, p [Pa]
        diameter_m: diameter of the bare wire, d [m]
        ice_thickness_m: thickness of ice all round, t [m]

    Returns:
        push per metre [N/m]

    Valid for:
        wind_pa >= 0
        diameter_m > 0
        ice_thickness_m >= 0

    Example:
        Gönen, Electric Power Transmission, Ex 13.2: 4 lb/ft² on 1.093 in with 0.5 in of ice, 0.6977 lb/ft.

        >>> round(float(wind_load(4.0, 1.093 / 12, 0.5 / 12)), 4)
        0.6977

    References:
        Gönen, Electric Power Transmission, ch. 13 (any one set of units)
    """
    return wind_pa * (diameter_m + 2.0 * ice_thickness_m)


def loaded_weight(weight_n_per_m: Number, ice_n_per_m: Number, wind_n_per_m: Number) -> Number:
    """Resultant of weight, ice and wind per metre of wire.

    w_r = sqrt((w + w_i)² + w_w²)

    Args:
        weight_n_per_m: weight of the bare wire, w [N/m]
        ice_n_per_m: weight of ice, w_i [N/m]
        wind_n_per_m: sideways push, w_w [N/m]

    Returns:
        resultant per metre, in the slanting plane of the blown wire [N/m]

    Valid for:
        weight_n_per_m > 0
        ice_n_per_m >= 0
        wind_n_per_m >= 0

    Example:
        Gönen, Electric Power Transmission, Ex 13.2.

        >>> round(float(loaded_weight(5399 / 5280, 0.995625, 0.69767)), 4)
        2.1354

    References:
        Gönen, Electric Power Transmission, ch. 13 (any one set of units)
    """
    return np.sqrt((weight_n_per_m + ice_n_per_m) ** 2 + wind_n_per_m**2)


def vertical_sag(slant_sag_m: Number, vertical_n_per_m: Number, wind_n_per_m: Number) -> Number:
    """Vertical part of the slanting sag of a wire under wind.

    D_v = D (w + w_i) / w_r

    Args:
        slant_sag_m: sag in the plane of the blown wire, D [m]
        vertical_n_per_m: weight with ice, w + w_i [N/m]
        wind_n_per_m: sideways push, w_w [N/m]

    Returns:
        vertical sag [m]

    Valid for:
        slant_sag_m >= 0
        vertical_n_per_m > 0
        wind_n_per_m >= 0

    Example:
        Gönen, Electric Power Transmission, Ex 13.2: slant 4.68 ft, vertical 4.43 ft.

        >>> round(float(vertical_sag(4.6828, 2.0182, 0.6977)), 2)
        4.43

    References:
        Gönen, Electric Power Transmission, ch. 13
    """
    return slant_sag_m * vertical_n_per_m / np.sqrt(vertical_n_per_m**2 + wind_n_per_m**2)


def swing_offset(sag_m: Number, string_m: Number, vertical_n_per_m: Number, wind_n_per_m: Number) -> Number:
    """Sideways offset of a wire blown by the wind, insulator string swinging with it.

    e = (D + s) w_w / w_r, that is (D + s) sin of the swing angle

    Args:
        sag_m: sag at the place, in the plane of the blown wire, D [m]
        string_m: length of a string free to swing, s; 0 where the wire is held [m]
        vertical_n_per_m: weight with ice, w + w_i [N/m]
        wind_n_per_m: sideways push, w_w [N/m]

    Returns:
        sideways offset from the wire hanging still [m]

    Valid for:
        sag_m >= 0
        string_m >= 0
        vertical_n_per_m > 0
        wind_n_per_m >= 0

    Example:
        A push equal to the weight swings the wire to 45°.

        >>> round(float(swing_offset(2.0, 0.0, 5.0, 5.0)), 4)
        1.4142

    References:
        equilibrium of a hanging wire under an even side load; the string's own weight and drag left out
    """
    return (sag_m + string_m) * wind_n_per_m / np.sqrt(vertical_n_per_m**2 + wind_n_per_m**2)


def swing_offset_at_angle(sag_m: Number, string_m: Number, swing_rad: Number) -> Number:
    """Sideways offset of a wire swung to a given angle.

    e = (D + s) sin β

    Args:
        sag_m: sag at the place, D [m]
        string_m: length of a string free to swing, s; 0 where the wire is held [m]
        swing_rad: angle of swing from plumb, β [rad]

    Returns:
        sideways offset from the wire hanging still [m]

    Valid for:
        sag_m >= 0
        string_m >= 0
        0 <= swing_rad <= 1.5708

    Example:
        UK line heights hold for a wire swung up to 45°: a sag of 2 m goes 1.41 m aside.

        >>> round(float(swing_offset_at_angle(2.0, 0.0, np.pi / 4)), 2)
        1.41

    References:
        geometry; 45°: guidance on the Electricity Safety, Quality and Continuity Regulations 2002, schedule 2
    """
    return (sag_m + string_m) * np.sin(swing_rad)


def tension_after_change(
    tension_n: Number,
    weight_before_n_per_m: Number,
    weight_after_n_per_m: Number,
    span_m: Number,
    stiffness_n: Number,
    expansion_per_k: Number,
    warming_c: Number,
) -> Number:
    """Horizontal tension of a wire after its load or temperature has changed. Procedure.

    H2² [H2 - H1 + EA (w1 S)²/(24 H1²) + EA a (T2 - T1)] = EA (w2 S)²/24; the one positive root, by Newton's method
    from above it, where the cubic is convex

    Args:
        tension_n: horizontal tension before, H1 [N]
        weight_before_n_per_m: weight (resultant) per metre before, w1 [N/m]
        weight_after_n_per_m: weight (resultant) per metre after, w2 [N/m]
        span_m: plan distance between the supports, S [m]
        stiffness_n: elastic modulus times area, EA [N]
        expansion_per_k: coefficient of thermal expansion, a [1/K]
        warming_c: temperature after less before, T2 - T1 [K]

    Returns:
        horizontal tension after, H2 [N]

    Valid for:
        tension_n > 0
        weight_before_n_per_m > 0
        weight_after_n_per_m > 0
        span_m > 0
        stiffness_n > 0
        expansion_per_k >= 0

    Example:
        Nothing changes, nothing happens.

        >>> round(float(tension_after_change(5000.0, 4.0, 4.0, 100.0, 2.0e6, 23e-6, 0.0)), 6)
        5000.0

    References:
        Chakrabarti et al., Ex 5.9 (its hand solution is 4 % off its own equation); elastic and thermal parabola
    """
    shift_n = (
        stiffness_n * (weight_before_n_per_m * span_m) ** 2 / (24.0 * tension_n**2)
        + stiffness_n * expansion_per_k * warming_c
        - tension_n
    )
    cube_n3 = stiffness_n * (weight_after_n_per_m * span_m) ** 2 / 24.0
    after_n = np.cbrt(cube_n3) + np.maximum(-shift_n, 0.0)
    for _ in range(60):
        value = after_n**2 * (after_n + shift_n) - cube_n3
        after_n = after_n - value / (after_n * (3.0 * after_n + 2.0 * shift_n))
    return after_n


def sag_after_warming(
    sag_m: Number,
    weight_n_per_m: Number,
    span_m: Number,
    stiffness_n: Number,
    expansion_per_k: Number,
    warming_c: Number,
) -> Number:
    """Sag of a wire when warmer, from a measured sag and the wire's own data.

    H1 = w S²/(8 D1), H2 by the change of state, D2 = w S²/(8 H2)

    Args:
        sag_m: measured sag below the chord at mid-span, D1 [m]
        weight_n_per_m: weight per metre of wire, w [N/m]
        span_m: plan distance between the supports, S [m]
        stiffness_n: elastic modulus times area, EA [N]
        expansion_per_k: coefficient of thermal expansion, a [1/K]
        warming_c: greatest conductor temperature less the conductor temperature when measured [K]

    Returns:
        sag after warming [m]

    Valid for:
        0 < 8 * sag_m <= span_m
        weight_n_per_m > 0
        span_m > 0
        stiffness_n > 0
        expansion_per_k >= 0
        warming_c >= 0

    Example:
        The wire of Chakrabarti Ex 5.9 (300 m, 0.844 kg/m): hung at 5 m, 40 K warmer.

        >>> round(float(sag_after_warming(5.0, 0.844 * 9.81, 300.0, 226 * 9320 * 9.81, 18.44e-6, 40.0)), 2)
        6.54

    References:
        change of state as in Chakrabarti et al., Ex 5.9; creep and ageing are not in it
    """
    before_n = weight_n_per_m * span_m**2 / (8.0 * sag_m)
    after_n = tension_after_change(
        before_n, weight_n_per_m, weight_n_per_m, span_m, stiffness_n, expansion_per_k, warming_c
    )
    return weight_n_per_m * span_m**2 / (8.0 * after_n)
