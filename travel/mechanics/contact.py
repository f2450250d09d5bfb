"""What a tyre or a pad presses on: contact radius, pressure, area."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def contact_radius(load_n: Number, pressure_pa: Number) -> Number:
    """Radius of the circle that carries a load at an even pressure.

    r = sqrt(P / (π p))

    Args:
        load_n: load on the contact, P [N]
        pressure_pa: contact pressure, p [Pa]

    Returns:
        radius of the equivalent circle [m]

    Valid for:
        load_n >= 0
        pressure_pa > 0

    Example:
        A printed unpaved-road sheet: 60.9 kN at 632.98 kPa, 0.175 m.

        >>> round(float(contact_radius(60.9e3, 632.98e3)), 3)
        0.175

    References:
        Giroud and Han, J. Geotech. Geoenviron. Eng. 130(8), 2004, wheel contact as a circle
    """
    return np.sqrt(load_n / (np.pi * pressure_pa))


def contact_pressure(load_n: Number, area_m2: Number) -> Number:
    """Even pressure under a tyre or a pad.

    p = F / A

    Args:
        load_n: load on the contact, F [N]
        area_m2: area that bears, A [m²]

    Returns:
        pressure [Pa]

    Valid for:
        load_n >= 0
        area_m2 > 0

    Example:
        245.25 kN (25 t) on 0.625 m² press with 392.4 kPa (40 t/m²).

        >>> round(float(contact_pressure(245.25e3, 0.625)), 6)
        392400.0

    References:
        definition of pressure
    """
    return load_n / area_m2


def tyre_contact_pressure(inflation_pa: Number, wall_ratio: Number) -> Number:
    """Greatest contact pressure of a tyre, from its inflation pressure and the share its stiff wall adds.

    p = p_i (1 + k)

    Args:
        inflation_pa: inflation pressure, p_i [Pa]
        wall_ratio: what wall and lugs add, as a part of the inflation pressure, k [-]

    Returns:
        contact pressure [Pa]

    Valid for:
        inflation_pa > 0
        wall_ratio >= 0

    Example:
        Measured 10 cm down, stresses were 39 % above the inflation pressure on average: 100 kPa gives 139 kPa.

        >>> round(float(tyre_contact_pressure(100e3, 0.39)) / 1000, 1)
        139.0

    References:
        Soil and Tillage Research 96 (2007) 284, abstract (wheel loads 11 to 33 kN, 70 to 150 kPa)
    """
    return inflation_pa * (1.0 + wall_ratio)


def tyre_contact_area_least(load_n: Number, inflation_pa: Number, wall_ratio: Number) -> Number:
    """Least area a tyre stands on, from its inflation pressure: a lower bound, so that pressures come out high.

    A = P / (p_i (1 + k))

    Args:
        load_n: load on the tyre, P [N]
        inflation_pa: inflation pressure, p_i [Pa]
        wall_ratio: what wall and lugs add, as a part of the inflation pressure, k [-]

    Returns:
        contact area [m²]

    Valid for:
        load_n >= 0
        inflation_pa > 0
        wall_ratio >= 0

    Example:
        33 kN at 150 kPa with 39 % more pressure than inside.

        >>> round(float(tyre_contact_area_least(33e3, 150e3, 0.39)), 4)
        0.1583

    References:
        Soil and Tillage Research 96 (2007) 284, abstract
    """
    return load_n / (inflation_pa * (1.0 + wall_ratio))
