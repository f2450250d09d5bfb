"""Soft ground: mobility index, vehicle cone index, rating cone index.

The equations are in US units; each takes SI and converts at its top. Cone index is a pressure
(1 psi of the US cone = 1 unit of index).
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import KG_PER_LB, M_PER_IN, PA_PER_PSI


def contact_pressure_factor(
    axle_kg: Number, tyres_count: Number, tyre_width_m: Number, tyre_diameter_m: Number
) -> Number:
    """Contact pressure factor of the mobility index of a wheeled vehicle.

    CPF = w / (0.5 n d b), w in lb, d and b in inches

    Args:
        axle_kg: mass on an axle, gross mass over number of axles, w [kg]
        tyres_count: tyres on an axle, n [-]
        tyre_width_m: nominal width of a tyre, b [m]
        tyre_diameter_m: outside diameter of a tyre, d [m]

    Returns:
        contact pressure factor [-]

    Valid for:
        axle_kg > 0
        tyres_count >= 1
        tyre_width_m > 0
        tyre_diameter_m > 0

    Example:
        9080 lb on an axle of two tyres, 22 in wide, 45 in across.

        >>> round(float(contact_pressure_factor(9080 * KG_PER_LB, 2, 22 * M_PER_IN, 45 * M_PER_IN)), 3)
        9.172

    References:
        US Army mobility index (FM 5-430-00-1 ch. 7 family), as cited after Priddy and Willoughby 2006
    """
    w_lb = axle_kg / KG_PER_LB
    b_in = tyre_width_m / M_PER_IN
    d_in = tyre_diameter_m / M_PER_IN
    return w_lb / (0.5 * tyres_count * d_in * b_in)


def axle_weight_factor(axle_kg: Number) -> Number:
    """Weight factor of the mobility index of a wheeled vehicle.

    X = w/1000 lb: under 2: 0.553 X; to 13.5: 0.033 X + 1.050; to 20: 0.142 X - 0.420; to 31.5: 0.278 X - 3.115;
    above: 0.836 X - 20.686

    Args:
        axle_kg: mass on an axle, gross mass over number of axles, w [kg]

    Returns:
        weight factor [-]

    Valid for:
        axle_kg > 0

    Example:
        9080 lb on an axle.

        >>> round(float(axle_weight_factor(9080 * KG_PER_LB)), 4)
        1.3496

    References:
        US Army mobility index family; the first coefficient (a public copy has 0.533, which does not join)
        and the last bracket are from memory
    """
    X = axle_kg / KG_PER_LB / 1000.0
    heavy = np.where(X < 20.0, 0.142 * X - 0.420, np.where(X < 31.5, 0.278 * X - 3.115, 0.836 * X - 20.686))
    return np.where(X < 2.0, 0.553 * X, np.where(X < 13.5, 0.033 * X + 1.050, heavy)) * 1.0


def tyre_factor(tyre_width_m: Number) -> Number:
    """Tyre factor of the mobility index of a wheeled vehicle.

    TF = (10 + b) / 100, b in inches

    Args:
        tyre_width_m: nominal width of a tyre, b [m]

    Returns:
        tyre factor [-]

    Valid for:
        tyre_width_m > 0

    Example:
        A tyre 22 in wide.

        >>> round(float(tyre_factor(22 * M_PER_IN)), 6)
        0.32

    References:
        US Army mobility index family (one public copy has it upside down)
    """
    return (10.0 + tyre_width_m / M_PER_IN) / 100.0


def wheel_load_factor(axle_kg: Number) -> Number:
    """Wheel load factor of the mobility index, single tyres.

    WLF = w / 2000, w in lb

    Args:
        axle_kg: mass on an axle, gross mass over number of axles, w [kg]

    Returns:
        wheel load factor [-]

    Valid for:
        axle_kg > 0

    Example:
        9080 lb on an axle.

        >>> round(float(wheel_load_factor(9080 * KG_PER_LB)), 6)
        4.54

    References:
        US Army mobility index family; public copies differ for dual tyres, so it is not for those
    """
    return axle_kg / KG_PER_LB / 2000.0


def clearance_factor(clearance_m: Number) -> Number:
    """Clearance factor of the mobility index.

    CF = clearance in inches / 10

    Args:
        clearance_m: least ground clearance [m]

    Returns:
        clearance factor [-]

    Valid for:
        clearance_m >= 0

    Example:
        21 in of clearance.

        >>> round(float(clearance_factor(21 * M_PER_IN)), 6)
        2.1

    References:
        US Army mobility index family
    """
    return clearance_m / M_PER_IN / 10.0


def mobility_index(
    pressure_factor_ratio: Number,
    weight_factor_ratio: Number,
    tyre_factor_ratio: Number,
    grouser_factor_ratio: Number,
    wheel_load_factor_ratio: Number,
    clearance_factor_ratio: Number,
    engine_factor_ratio: Number,
    transmission_factor_ratio: Number,
) -> Number:
    """Mobility index of a self-propelled wheeled vehicle, all wheels driven.

    MI = [CPF x WF / (TF x GF) + WLF - CF] x EF x TRF

    Args:
        pressure_factor_ratio: contact pressure factor, CPF [-]
        weight_factor_ratio: weight factor, WF [-]
        tyre_factor_ratio: tyre factor, TF [-]
        grouser_factor_ratio: 1.05 with chains, else 1.00, GF [-]
        wheel_load_factor_ratio: wheel load factor, WLF [-]
        clearance_factor_ratio: clearance factor, CF [-]
        engine_factor_ratio: 1.00 from 10 hp per short ton up, else 1.05, EF [-]
        transmission_factor_ratio: 1.00 automatic or hydraulic, 1.05 manual, TRF [-]

    Returns:
        mobility index [-]

    Valid for:
        pressure_factor_ratio > 0
        weight_factor_ratio > 0
        tyre_factor_ratio > 0
        1 <= grouser_factor_ratio <= 1.05
        wheel_load_factor_ratio > 0
        clearance_factor_ratio >= 0
        1 <= engine_factor_ratio <= 1.05
        1 <= transmission_factor_ratio <= 1.05

    Example:
        Four axles, 36 320 lb, 22 in by 45 in tyres, 21 in of clearance.

        >>> round(float(mobility_index(9.1717, 1.34964, 0.32, 1.0, 4.54, 2.1, 1.0, 1.0)), 2)
        41.12

    References:
        US Army mobility index (FM 5-430-00-1 ch. 7 family), as cited after Priddy and Willoughby 2006
    """
    soil_ratio = pressure_factor_ratio * weight_factor_ratio / (tyre_factor_ratio * grouser_factor_ratio)
    body_ratio = wheel_load_factor_ratio - clearance_factor_ratio
    return (soil_ratio + body_ratio) * engine_factor_ratio * transmission_factor_ratio


def vehicle_cone_index_one_pass(mobility_ratio: Number) -> Number:
    """Soil strength needed for one pass of a wheeled vehicle in fine-grained soil.

    VCI1 = 11.48 + 0.2 MI - 39.2/(MI + 3.74) to MI 115, above 4.1 MI^0.446, in psi

    Args:
        mobility_ratio: mobility index, MI [-]

    Returns:
        vehicle cone index for one pass [Pa]

    Valid for:
        mobility_ratio > 0

    Example:
        Mobility index 41.12: 18.83.

        >>> round(float(vehicle_cone_index_one_pass(41.12)) / PA_PER_PSI, 2)
        18.83

    References:
        Priddy and Willoughby, Clarification of vehicle cone index, J. Terramechanics 2006
    """
    MI = np.maximum(mobility_ratio, 0.0)
    index_psi = np.where(MI <= 115.0, 11.48 + 0.2 * MI - 39.2 / (MI + 3.74), 4.1 * MI**0.446)
    return index_psi * PA_PER_PSI


def vehicle_cone_index_fifty_passes(mobility_ratio: Number) -> Number:
    """Soil strength needed for fifty passes of a wheeled vehicle in fine-grained soil.

    VCI50 = 28.23 + 0.43 MI - 92.67/(MI + 3.74) to MI 115, above 9.0 MI^0.446, in psi

    Args:
        mobility_ratio: mobility index, MI [-]

    Returns:
        vehicle cone index for fifty passes [Pa]

    Valid for:
        mobility_ratio > 0

    Example:
        Mobility index 41.12: 43.8 (3.67 for 3.74 in some copies, 0.001 apart).

        >>> round(float(vehicle_cone_index_fifty_passes(41.12)) / PA_PER_PSI, 1)
        43.8

    References:
        US Army vehicle cone index family, as cited after Priddy and Willoughby 2006
    """
    MI = np.maximum(mobility_ratio, 0.0)
    index_psi = np.where(MI <= 115.0, 28.23 + 0.43 * MI - 92.67 / (MI + 3.74), 9.0 * MI**0.446)
    return index_psi * PA_PER_PSI


def deflection_correction(deflection_ratio: Number) -> Number:
    """Factor on the vehicle cone index for a tyre that squashes more than 15 % of its section.

    DCF = (0.15 / (δ/h))^0.25

    Args:
        deflection_ratio: tyre squash over section height, δ/h [-]

    Returns:
        factor on the one-pass vehicle cone index [-]

    Valid for:
        0 < deflection_ratio <= 0.5

    Example:
        At 15 % the equations stand as they are.

        >>> float(deflection_correction(0.15))
        1.0

    References:
        Priddy and Willoughby, Clarification of vehicle cone index, J. Terramechanics 2006
    """
    return (0.15 / deflection_ratio) ** 0.25


def rating_cone_index(cone_index_pa: Number, remoulding_ratio: Number) -> Number:
    """Strength that soil keeps under traffic; not for clean sand and gravel.

    RCI = CI x RI

    Args:
        cone_index_pa: cone index in the critical layer, CI [Pa]
        remoulding_ratio: remoulding index, RI [-]

    Returns:
        rating cone index [Pa]

    Valid for:
        cone_index_pa >= 0
        remoulding_ratio > 0

    Example:
        A printed worked row: 49 x 0.87, about 43.

        >>> round(float(rating_cone_index(49 * PA_PER_PSI, 0.87)) / PA_PER_PSI, 0)
        43.0

    References:
        US Army engineer correspondence course EN 5341, soil trafficability
    """
    return cone_index_pa * remoulding_ratio
