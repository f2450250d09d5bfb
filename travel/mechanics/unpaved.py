"""Gravel over weak ground: strength from CBR and penetrometer, and the pieces of an unpaved road's design."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import M_PER_IN, MM_PER_M, N_PER_LBF, RATIO_PER_PCT


def undrained_strength_from_cbr(cbr_ratio: Number) -> Number:
    """Undrained strength of soft clay from its California bearing ratio.

    c_u = 30 kPa for each percent of CBR

    Args:
        cbr_ratio: CBR as a part, 0.10 for 10 % [-]

    Returns:
        undrained shear strength [Pa]

    Valid for:
        0 < cbr_ratio <= 0.1

    Example:
        A printed unpaved-road sheet: CBR 10, 300 kPa.

        >>> round(float(undrained_strength_from_cbr(0.10)), 0)
        300000.0

    References:
        Giroud and Noiray, J. Geotech. Eng. 107(GT9), 1981, as printed on a design sheet
    """
    return 30e3 * cbr_ratio / RATIO_PER_PCT


def cbr_from_penetrometer(penetration_m: Number) -> Number:
    """California bearing ratio from a dynamic cone penetrometer, 60° cone.

    log CBR = 2.48 - 1.057 log DCP, CBR in percent, DCP in mm a blow

    Args:
        penetration_m: penetration a blow, DCP [m]

    Returns:
        CBR as a part [-]

    Valid for:
        0.002 <= penetration_m <= 0.1

    Example:
        10 mm a blow.

        >>> round(float(cbr_from_penetrometer(0.010)), 3)
        0.265

    References:
        TRL Overseas Road Note 8 form of the 60° cone relation, from memory and one weak public copy
    """
    return 10.0 ** (2.48 - 1.057 * np.log10(penetration_m * MM_PER_M)) * RATIO_PER_PCT


def modulus_ratio_giroud_han_2004(base_cbr_ratio: Number, subgrade_cbr_ratio: Number) -> Number:
    """Stiffness of gravel against the ground under it, limited to 5.

    R_E = min(3.48 CBR_bc^0.3 / CBR_sg, 5), CBR in percent

    Args:
        base_cbr_ratio: CBR of the gravel as a part [-]
        subgrade_cbr_ratio: CBR of the ground as a part [-]

    Returns:
        modulus ratio [-]

    Valid for:
        base_cbr_ratio > 0
        subgrade_cbr_ratio > 0

    Example:
        A printed sheet: gravel CBR 25 on CBR 10, 0.91.

        >>> round(float(modulus_ratio_giroud_han_2004(0.25, 0.10)), 2)
        0.91

    References:
        Giroud and Han, J. Geotech. Geoenviron. Eng. 130(8), 2004, constants as on a printed design sheet
    """
    base_pct = base_cbr_ratio / RATIO_PER_PCT
    subgrade_pct = subgrade_cbr_ratio / RATIO_PER_PCT
    return np.minimum(3.48 * base_pct**0.3 / subgrade_pct, 5.0)


def stiffness_factor_giroud_han_2004(modulus_ratio: Number) -> Number:
    """Factor by which stiff gravel spreads a wheel better.

    f_E = 1 + 0.204 (R_E - 1)

    Args:
        modulus_ratio: modulus ratio, R_E [-]

    Returns:
        modulus ratio factor [-]

    Valid for:
        0 < modulus_ratio <= 5

    Example:
        A printed sheet: R_E 0.91, f_E 0.98.

        >>> round(float(stiffness_factor_giroud_han_2004(0.914)), 2)
        0.98

    References:
        Giroud and Han, J. Geotech. Geoenviron. Eng. 130(8), 2004, constants as on a printed design sheet
    """
    return 1.0 + 0.204 * (modulus_ratio - 1.0)


def mobilisation_giroud_han_2004(rut_m: Number, radius_m: Number, thickness_m: Number) -> Number:
    """Part of the ground's bearing capacity that a permitted rut brings into play.

    m = (s / 75 mm) [1 - 0.9 exp(-(r/h)²)]

    Args:
        rut_m: permitted depth of rut, s [m]
        radius_m: radius of the wheel's contact, r [m]
        thickness_m: thickness of gravel, h [m]

    Returns:
        mobilisation coefficient [-]

    Valid for:
        0 < rut_m <= 0.1
        radius_m > 0
        thickness_m > 0

    Example:
        A printed sheet: rut 50 mm, r 0.175 m, h 0.55 m: 0.12.

        >>> round(float(mobilisation_giroud_han_2004(0.05, 0.175, 0.55)), 2)
        0.12

    References:
        Giroud and Han, J. Geotech. Geoenviron. Eng. 130(8), 2004, constants as on a printed design sheet
    """
    return rut_m / 0.075 * (1.0 - 0.9 * np.exp(-((radius_m / thickness_m) ** 2)))


def wheel_load_without_gravel_giroud_han_2004(
    rut_m: Number, radius_m: Number, nc_ratio: Number, undrained_strength_pa: Number
) -> Number:
    """Wheel load that bare ground carries at a permitted rut, no gravel at all.

    P = (s / 75 mm) π r² Nc c_u

    Args:
        rut_m: permitted depth of rut, s [m]
        radius_m: radius of the wheel's contact, r [m]
        nc_ratio: bearing capacity factor: 3.14 bare, 5.14 geotextile, 5.71 geogrid, Nc [-]
        undrained_strength_pa: undrained shear strength, c_u [Pa]

    Returns:
        wheel load [N]

    Valid for:
        0 < rut_m <= 0.1
        radius_m > 0
        nc_ratio > 0
        undrained_strength_pa > 0

    Example:
        A printed sheet: 60.42 kN.

        >>> round(float(wheel_load_without_gravel_giroud_han_2004(0.05, 0.175, 3.14, 300e3)) / 1000, 2)
        60.42

    References:
        Giroud and Han, J. Geotech. Geoenviron. Eng. 130(8), 2004, constants as on a printed design sheet
    """
    return rut_m / 0.075 * np.pi * radius_m**2 * nc_ratio * undrained_strength_pa


def unsurfaced_thickness_corps_memory(
    wheel_n: Number, contact_area_m2: Number, cbr_ratio: Number, passes_count: Number
) -> Number:
    """Thickness of better soil needed over ground of a given CBR, unsurfaced. FROM MEMORY: not checked.

    t = (0.176 log C + 0.12) sqrt(P / (8.1 CBR) - A/π), t in inches, P in lb, A in in², CBR in percent;
    nothing needed where the root is of a negative number

    Args:
        wheel_n: wheel load, P [N]
        contact_area_m2: contact area of the tyre, A [m²]
        cbr_ratio: CBR of the ground as a part [-]
        passes_count: passes (coverages), C [-]

    Returns:
        thickness [m]

    Valid for:
        wheel_n > 0
        contact_area_m2 > 0
        0 < cbr_ratio <= 0.8
        passes_count >= 1

    Example:
        10 000 lb on 100 in², CBR 4 %, 1000 coverages: 10.8 in.

        >>> round(float(unsurfaced_thickness_corps_memory(44482.2, 0.064516, 0.04, 1000.0)) / M_PER_IN, 1)
        10.8

    References:
        US Army Corps of Engineers unsurfaced soil equation: recalled, only its symbols seen (UFC 4-159-02)
    """
    load_lb = wheel_n / N_PER_LBF
    area_in2 = contact_area_m2 / M_PER_IN**2
    cbr_pct = cbr_ratio / RATIO_PER_PCT
    root_in = np.sqrt(np.maximum(load_lb / (8.1 * cbr_pct) - area_in2 / np.pi, 0.0))
    return (0.176 * np.log10(passes_count) + 0.12) * root_in * M_PER_IN
