"""What a machine puts on the ground while it moves: the worst axle or wheel, its pressure, the strength it needs."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.trafficability import vehicle_cone_index_fifty_passes, vehicle_cone_index_one_pass


def standing_load(
    axle_load_kg: Number,
    mass_kg: Number,
    arm_m: Number,
    cg_height_m: Number,
    along_ratio: Number,
    tyres_count: Number,
    aside_m: Number,
    track_m: Number,
) -> Number:
    """Load of the worst tyre of an axle (or of the axle) on a slope, braking downhill.

    (m_a + m h s / l) (1 + 2 y / t) / n

    Args:
        axle_load_kg: load of the axle on level ground, m_a [kg]
        mass_kg: mass of the machine with its load, m [kg]
        arm_m: wheelbase of two axles; of more, sum of (x - x_m)² over |x_i - x_m|, l [m]
        cg_height_m: height of the centre of gravity, h [m]
        along_ratio: sine of the grade, and braking over g, s [-]
        tyres_count: tyres on the axle; 1 for the axle as a whole, n [-]
        aside_m: how far from the axle's middle what it bears acts: tangent across times the height at which it takes
            it, and where the centre of gravity stands aside; 0 for the axle as a whole, y [m]
        track_m: track, t [m]

    Returns:
        mass whose weight the tyre (or axle) bears; the plumb share of a slope is not taken off [kg]

    Valid for:
        axle_load_kg >= 0
        mass_kg >= 0
        arm_m > 0
        cg_height_m >= 0
        along_ratio >= 0
        tyres_count >= 1
        aside_m >= 0
        track_m > 0

    Example:
        Derived: 8 t axle of a 16 t machine, 1.2 m high, 3 m wheelbase, 25 % braking: 1.6 t more. A tyre of it on 10 %
        across, the other axle free to swing at 0.6 m: 16 x 1.2 - 8 x 0.6 over 8 is 1.8 m, at 10 % 0.18 m aside.

        >>> print(standing_load(8000.0, 16000.0, 3.0, 1.2, 0.25, 1.0, 0.0, 2.0))
        9600.0
        >>> print(round(standing_load(8000.0, 16000.0, 3.0, 1.2, 0.0, 2.0, 0.18, 2.0), 3))
        4720.0

    References:
        ``grip.front_axle_load``, ``grip.low_wheel_load``: moments of a rigid body; more axles as equally stiff springs;
          each axle carries its own share of the sideways demand, one that swings at its pivot alone
    """
    moved_kg = mass_kg * cg_height_m * along_ratio / arm_m
    return (axle_load_kg + moved_kg) * (1.0 + 2.0 * aside_m / track_m) / tyres_count


def tyre_pressure_under_load(
    inflation_pa: Number, wall_ratio: Number, static_load_kg: Number, worst_load_kg: Number
) -> Number:
    """Contact pressure of a tyre that carries more than it does standing level and stowed.

    p = p_i (1 + k max(P/P_0, 1)): the air's part stays as the contact grows, the wall's part grows with the load

    Args:
        inflation_pa: inflation pressure, p_i [Pa]
        wall_ratio: what wall and lugs add at the static load, as a part of the inflation pressure, k [-]
        static_load_kg: load of the tyre, machine stowed on level ground, P_0 [kg]
        worst_load_kg: load of the tyre on the slope, braking, with what is carried, P [kg]

    Returns:
        contact pressure [Pa]

    Valid for:
        inflation_pa > 0
        wall_ratio >= 0
        static_load_kg > 0
        worst_load_kg >= 0

    Example:
        At the static load the measured 39 % above 100 kPa.

        >>> print(round(float(tyre_pressure_under_load(100e3, 0.39, 4000.0, 4000.0)) / 1000, 1))
        139.0

    References:
        Soil and Tillage Research 96 (2007) 284, abstract, for k; growth with the load: no publication
    """
    return inflation_pa * (1.0 + wall_ratio * np.maximum(worst_load_kg / static_load_kg, 1.0))


def vehicle_cone_index(mobility_ratio: Number, passes_count: Number) -> Number:
    """Soil strength a wheeled vehicle needs, by how many passes the ground takes in all.

    VCI1 for the one and only pass, VCI50 from the second on

    Args:
        mobility_ratio: mobility index, MI [-]
        passes_count: passes of plant so far and this one [-]

    Returns:
        vehicle cone index [Pa]

    Valid for:
        mobility_ratio > 0
        passes_count >= 1

    Example:
        The pass that follows one other needs what fifty need.

        >>> one, two = float(vehicle_cone_index(41.12, 1.0)), float(vehicle_cone_index(41.12, 2.0))
        >>> print(round(one / 6894.757, 2), round(two / 6894.757, 1))
        18.83 43.8

    References:
        ``trafficability``: Priddy and Willoughby 2006; nothing published between 1 and 50 was found, so the higher
          counts from the second pass on; nothing for more than 50 either, so the same is kept there
    """
    once = vehicle_cone_index_one_pass(mobility_ratio)
    often = vehicle_cone_index_fifty_passes(mobility_ratio)
    return np.where(np.asarray(passes_count) > 1.0, often, once)[()]
