"""Bridges, culverts, slabs: what a posted load or a load class is compared with.

Military load classes do not govern civil bridges (STANAG 2021 says so itself).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from travel.mechanics._types import Number
from travel.units import G_MPS2, KG_PER_SHORT_TON


def gross_from_tyres_expedient(contact_area_m2: Number, pressure_pa: Number, tyres_count: Number) -> Number:
    """Gross mass of a wheeled vehicle from its tyre prints.

    W = A p N (the manual: A in in², p in psi, over 2000 for short tons; 75 psi where unknown)

    Args:
        contact_area_m2: contact area of one tyre, A [m²]
        pressure_pa: tyre pressure, p [Pa]
        tyres_count: number of tyres, N [-]

    Returns:
        gross mass [kg]

    Valid for:
        contact_area_m2 > 0
        pressure_pa > 0
        tyres_count >= 1

    Example:
        60 in², 75 psi, four tyres: 9 short tons.

        >>> round(float(gross_from_tyres_expedient(60 * 0.0254**2, 75 * 6894.757, 4)) / KG_PER_SHORT_TON, 3)
        9.0

    References:
        US Army FM 5-170 or FM 3-34-343 expedient method (text E-9 to E-11 as quoted)
    """
    return contact_area_m2 * pressure_pa * tyres_count / G_MPS2


def load_class_wheeled_expedient(gross_kg: Number) -> Number:
    """Military load class of a wheeled vehicle by the expedient rule; round up.

    class = 0.85 W, W in short tons

    Args:
        gross_kg: gross mass, W [kg]

    Returns:
        load class before rounding up [-]

    Valid for:
        gross_kg > 0

    Example:
        9 short tons: 7.65, class 8.

        >>> round(float(load_class_wheeled_expedient(9 * KG_PER_SHORT_TON)), 2)
        7.65

    References:
        US Army FM 3-34-343 app. B, expedient classification
    """
    return 0.85 * gross_kg / KG_PER_SHORT_TON


def load_class_towing_expedient(towing_class_ratio: Number, towed_class_ratio: Number) -> Number:
    """Combination class of a vehicle that tows another closer than 30.5 m.

    CCN = 0.9 (A + B) where A + B < 60, else A + B

    Args:
        towing_class_ratio: class of the towing vehicle, A [-]
        towed_class_ratio: class of the towed vehicle, B [-]

    Returns:
        combination class number [-]

    Valid for:
        towing_class_ratio > 0
        towed_class_ratio >= 0

    Example:
        20 and 30: 45.

        >>> float(load_class_towing_expedient(20.0, 30.0))
        45.0

    References:
        US Army FM 3-34-343 app. B, expedient classification
    """
    total_ratio = towing_class_ratio + towed_class_ratio
    return np.where(total_ratio < 60.0, 0.9, 1.0) * total_ratio


def greatest_load_within(axle_x_m: NDArray[np.float64], axle_load_kg: NDArray[np.float64], within_m: float) -> float:
    """Greatest sum of neighbouring axles that stand on a given length at once. Procedure.

    max over first axles of the loads from there to that axle + length

    Args:
        axle_x_m: places of the axles along the vehicle, in any order; shape (A,) [m]
        axle_load_kg: their loads; shape (A,) [kg]
        within_m: length of the span or of the axle group [m]

    Returns:
        greatest load at once [kg]

    Valid for:
        axle_load_kg >= 0
        within_m >= 0

    Example:
        Two axles of 8 t and 6 t, 3 m apart, on a slab of 2 m: one axle at a time.

        >>> float(greatest_load_within(np.array([0.0, -3.0]), np.array([8000.0, 6000.0]), 2.0))
        8000.0

    References:
        sum of loads on a span; an axle on the very end counts
    """
    order = np.argsort(axle_x_m)
    x_m, load_kg = axle_x_m[order], axle_load_kg[order]
    total_kg = np.concatenate(([0.0], np.cumsum(load_kg)))
    last = np.searchsorted(x_m, x_m + within_m + 1e-9, side="right")
    heaviest_kg: float = np.max(total_kg[last] - total_kg[:-1])
    return heaviest_kg
