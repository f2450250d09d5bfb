"""Bearing capacity of ground under tyres, pads and mats: factors."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def bearing_factor_nq(friction_rad: Number) -> Number:
    """Bearing capacity factor for surcharge, Prandtl and Reissner.

    Nq = e^(π tan φ) tan²(45° + φ/2)

    Args:
        friction_rad: angle of friction, φ [rad]

    Returns:
        Nq [-]

    Valid for:
        0 <= friction_rad < 0.88

    Example:
        Das, Principles of Foundation Engineering, Ex 3.4: 35° gives 33.3.

        >>> round(float(bearing_factor_nq(np.radians(35.0))), 1)
        33.3

    References:
        Reissner 1924; Das, Principles of Foundation Engineering, ch. 3
    """
    return np.tan(np.pi / 4.0 + friction_rad / 2.0) ** 2 * np.exp(np.pi * np.tan(friction_rad))


def bearing_factor_nc(friction_rad: Number) -> Number:
    """Bearing capacity factor for cohesion, Prandtl.

    Nc = (Nq - 1) cot φ, 2 + π at φ = 0

    Args:
        friction_rad: angle of friction, φ [rad]

    Returns:
        Nc [-]

    Valid for:
        0 <= friction_rad < 0.88

    Example:
        Clay under quick loading, φ = 0: 5.14.

        >>> round(float(bearing_factor_nc(0.0)), 2)
        5.14

    References:
        Prandtl 1921; Das, Principles of Foundation Engineering, ch. 3
    """
    shear_rad = np.maximum(friction_rad, 1e-7)
    Nq = np.exp(np.pi * np.tan(shear_rad)) * np.tan(np.pi / 4.0 + shear_rad / 2.0) ** 2
    return np.where(shear_rad > 1e-6, (Nq - 1.0) / np.tan(shear_rad), 2.0 + np.pi) * 1.0


def bearing_factor_ng_meyerhof(friction_rad: Number) -> Number:
    """Bearing capacity factor for the soil's own weight, Meyerhof.

    Nγ = (Nq - 1) tan 1.4φ; authors differ: at 30° 15.1, 15.7, 19.7, 22.4

    Args:
        friction_rad: angle of friction, φ [rad]

    Returns:
        Nγ [-]

    Valid for:
        0 <= friction_rad < 0.88

    Example:
        A printed table: 30° gives 15.7.

        >>> round(float(bearing_factor_ng_meyerhof(np.radians(30.0))), 1)
        15.7

    References:
        Meyerhof 1963, Some recent research on the bearing capacity of foundations
    """
    return (bearing_factor_nq(friction_rad) - 1.0) * np.tan(1.4 * friction_rad)


def bearing_factor_ng_hansen(friction_rad: Number) -> Number:
    """Bearing capacity factor for the soil's own weight, Hansen.

    Nγ = 1.5 (Nq - 1) tan φ

    Args:
        friction_rad: angle of friction, φ [rad]

    Returns:
        Nγ [-]

    Valid for:
        0 <= friction_rad < 0.88

    Example:
        A printed table: 30° gives 15.07.

        >>> round(float(bearing_factor_ng_hansen(np.radians(30.0))), 2)
        15.07

    References:
        Brinch Hansen 1970, A revised and extended formula for bearing capacity
    """
    return 1.5 * (bearing_factor_nq(friction_rad) - 1.0) * np.tan(friction_rad)


def bearing_factor_ng_vesic(friction_rad: Number) -> Number:
    """Bearing capacity factor for the soil's own weight, Vesic.

    Nγ = 2 (Nq + 1) tan φ

    Args:
        friction_rad: angle of friction, φ [rad]

    Returns:
        Nγ [-]

    Valid for:
        0 <= friction_rad < 0.88

    Example:
        Das, Principles of Foundation Engineering, Ex 3.4: 35° gives 48.03.

        >>> round(float(bearing_factor_ng_vesic(np.radians(35.0))), 2)
        48.03

    References:
        Vesic 1973, Analysis of ultimate loads of shallow foundations; Das, ch. 3
    """
    return 2.0 * (bearing_factor_nq(friction_rad) + 1.0) * np.tan(friction_rad)


def bearing_factor_nq_terzaghi(friction_rad: Number) -> Number:
    """Bearing capacity factor for surcharge, Terzaghi (rough base).

    Nq = e^(2 (0.75π - φ/2) tan φ) / (2 cos²(45° + φ/2))

    Args:
        friction_rad: angle of friction, φ [rad]

    Returns:
        Nq [-]

    Valid for:
        0 <= friction_rad < 0.88

    Example:
        Das, Principles of Foundation Engineering, Ex 3.1: 20° gives 7.44.

        >>> round(float(bearing_factor_nq_terzaghi(np.radians(20.0))), 2)
        7.44

    References:
        Terzaghi 1943, Theoretical Soil Mechanics; Das, ch. 3
    """
    exponent = 2.0 * (0.75 * np.pi - friction_rad / 2.0) * np.tan(friction_rad)
    return np.exp(exponent) / (2.0 * np.cos(np.pi / 4.0 + friction_rad / 2.0) ** 2)


def bearing_factor_nc_terzaghi(friction_rad: Number) -> Number:
    """Bearing capacity factor for cohesion, Terzaghi (rough base).

    Nc = (Nq - 1) cot φ, 3π/2 + 1 at φ = 0

    Args:
        friction_rad: angle of friction, φ [rad]

    Returns:
        Nc [-]

    Valid for:
        0 <= friction_rad < 0.88

    Example:
        Das, Principles of Foundation Engineering, Ex 3.1: 20° gives 17.69.

        >>> round(float(bearing_factor_nc_terzaghi(np.radians(20.0))), 2)
        17.69

    References:
        Terzaghi 1943, Theoretical Soil Mechanics; Das, ch. 3
    """
    shear_rad = np.maximum(friction_rad, 1e-7)
    Nq = bearing_factor_nq_terzaghi(shear_rad)
    return np.where(shear_rad > 1e-6, (Nq - 1.0) / np.tan(shear_rad), 1.5 * np.pi + 1.0) * 1.0
