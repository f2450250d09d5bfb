"""Grip: what the tyres can hold, what slope and motion ask of them, how load moves between the wheels.

Signs as in ``slope``: grade + uphill in travel, cross slope + falling to the right, acceleration + gaining speed.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.slope import demand_across, demand_along, share_across, share_along, share_normal
from travel.units import G_MPS2


def usable_pull(grip_ratio: Number, driven_load_n: Number) -> Number:
    """Pull (or brake force) the ground can take from driven or braked wheels.

    P = f W_d

    Args:
        grip_ratio: coefficient of traction [-]
        driven_load_n: load on the driven (or braked) wheels, square to the ground [N]

    Returns:
        force the tyres can pass to the ground [N]

    Valid for:
        0 <= grip_ratio <= 1.5
        driven_load_n >= 0

    Example:
        Earthmoving problems, no. 3: 18,000 lb on the drivers, f 0.30: 5,400 lb.

        >>> print(round(usable_pull(0.30, 18000.0), 1))
        5400.0

    References:
        Formulas for earth moving (restating a civil-engineering formula handbook), usable pull
    """
    return grip_ratio * driven_load_n


def front_axle_load(
    weight_n: Number,
    grade_ratio: Number,
    cross_slope_ratio: Number,
    along_mps2: Number,
    cg_back_m: Number,
    cg_height_m: Number,
    wheelbase_m: Number,
) -> Number:
    """Load of the front axle, square to the ground, on a slope and while gaining or losing speed.

    N_f = W ((L - a) n - h (sin(theta) + acc / g)) / L

    Args:
        weight_n: weight [N]
        grade_ratio: grade in the direction the machine faces, + uphill [-]
        cross_slope_ratio: cross slope [-]
        along_mps2: acceleration in the direction the machine faces, - braking forward [m/s2]
        cg_back_m: centre of gravity behind the front axle [m]
        cg_height_m: centre of gravity above the ground [m]
        wheelbase_m: distance between the axles [m]

    Returns:
        load of the front axle; negative means that it would lift [N]

    Valid for:
        weight_n >= 0
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        abs(along_mps2) < 20
        0 <= cg_back_m <= wheelbase_m
        cg_height_m > 0
        wheelbase_m > 0

    Example:
        Derived: on the level at rest the lever law.

        >>> print(round(front_axle_load(100.0, 0.0, 0.0, 0.0, 1.2, 1.2, 3.0), 4))
        60.0

    References:
        Derived: moments about the rear contact line of a rigid body; no publication
    """
    demand = share_along(grade_ratio) + along_mps2 / G_MPS2
    lever = (wheelbase_m - cg_back_m) * share_normal(grade_ratio, cross_slope_ratio) - cg_height_m * demand
    return weight_n * lever / wheelbase_m


def rear_axle_load(
    weight_n: Number,
    grade_ratio: Number,
    cross_slope_ratio: Number,
    along_mps2: Number,
    cg_back_m: Number,
    cg_height_m: Number,
    wheelbase_m: Number,
) -> Number:
    """Load of the rear axle, square to the ground, on a slope and while gaining or losing speed.

    N_r = W (a n + h (sin(theta) + acc / g)) / L

    Args:
        weight_n: weight [N]
        grade_ratio: grade in the direction the machine faces, + uphill [-]
        cross_slope_ratio: cross slope [-]
        along_mps2: acceleration in the direction the machine faces, - braking forward [m/s2]
        cg_back_m: centre of gravity behind the front axle [m]
        cg_height_m: centre of gravity above the ground [m]
        wheelbase_m: distance between the axles [m]

    Returns:
        load of the rear axle; negative means that it would lift [N]

    Valid for:
        weight_n >= 0
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        abs(along_mps2) < 20
        0 <= cg_back_m <= wheelbase_m
        cg_height_m > 0
        wheelbase_m > 0

    Example:
        Derived: on the level at rest the lever law.

        >>> print(round(rear_axle_load(100.0, 0.0, 0.0, 0.0, 1.2, 1.2, 3.0), 4))
        40.0

    References:
        Derived: moments about the front contact line of a rigid body; no publication
    """
    demand = share_along(grade_ratio) + along_mps2 / G_MPS2
    lever = cg_back_m * share_normal(grade_ratio, cross_slope_ratio) + cg_height_m * demand
    return weight_n * lever / wheelbase_m


def low_wheel_load(axle_load_n: Number, across_ratio: Number, cg_height_m: Number, track_m: Number) -> Number:
    """Load of the lower (or outer) wheel of an axle that carries its own share of the sideways demand.

    N_w = N (1/2 + d h / t)

    Args:
        axle_load_n: load of the axle square to the ground [N]
        across_ratio: tangent demanded across, either side (``demand_across``) [-]
        cg_height_m: height at which that axle feels the load [m]
        track_m: track [m]

    Returns:
        load of the more loaded wheel; from d = t/2h on the other wheel is off the ground and it carries all [N]

    Valid for:
        axle_load_n >= 0
        abs(across_ratio) < 2
        cg_height_m >= 0
        track_m > 0

    Example:
        Derived: at d = t/2h one wheel carries all.

        >>> print(round(low_wheel_load(80.0, 0.8, 1.25, 2.0), 4))
        80.0

    References:
        Derived: moments about the upper wheel; no publication
    """
    return axle_load_n * np.minimum(0.5 + np.abs(across_ratio) * cg_height_m / track_m, 1.0)


def grip_demand(along_ratio: Number, across_ratio: Number) -> Number:
    """Grip asked for along and across together.

    sqrt(along^2 + across^2)

    Args:
        along_ratio: force along the ground over weight, or over load [-]
        across_ratio: force across over the same [-]

    Returns:
        demand over the same [-]

    Valid for:
        abs(along_ratio) < 10
        abs(across_ratio) < 10

    Example:
        Derived: 3 and 4 are 5.

        >>> print(round(grip_demand(0.3, 0.4), 4))
        0.5

    References:
        Friction circle: Coulomb friction with one coefficient for all directions
    """
    return np.sqrt(along_ratio**2 + across_ratio**2)


def grip_demand_driving(
    grade_ratio: Number, cross_slope_ratio: Number, rolling_ratio: Number, along_mps2: Number
) -> Number:
    """Grip, per weight, that driven wheels must find to keep going (or gain speed) on a slope.

    sqrt(max(0, sin(theta) + c_rr n + acc / g)^2 + across^2)

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope [-]
        rolling_ratio: coefficient of rolling resistance, of all wheels [-]
        along_mps2: acceleration along the travel, + gaining speed [m/s2]

    Returns:
        force needed over weight; compare with ``grip_available`` of the driven wheels [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        0 <= rolling_ratio < 1
        0 <= along_mps2 < 20

    Example:
        Derived: level ground, steady: rolling resistance alone.

        >>> print(round(grip_demand_driving(0.0, 0.0, 0.05, 0.0), 4))
        0.05

    References:
        Derived from ``total_resistance`` and the friction circle; whole sideways demand laid on the same wheels,
          which errs on the safe side
    """
    pull = share_along(grade_ratio) + rolling_ratio * share_normal(grade_ratio, cross_slope_ratio)
    along = np.maximum(pull + along_mps2 / G_MPS2, 0.0)
    return grip_demand(along, share_across(grade_ratio, cross_slope_ratio))


def grip_demand_braking(
    grade_ratio: Number, cross_slope_ratio: Number, rolling_ratio: Number, decel_mps2: Number
) -> Number:
    """Grip, per weight, that braked wheels must find to hold the speed, or to lose it, on a slope.

    sqrt(max(0, dec / g - sin(theta) - c_rr n)^2 + across^2)

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope [-]
        rolling_ratio: coefficient of rolling resistance, least value (it helps here) [-]
        decel_mps2: deceleration wanted, 0 = hold the speed [m/s2]

    Returns:
        force needed over weight; compare with ``grip_available`` of the braked wheels [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        0 <= rolling_ratio < 1
        0 <= decel_mps2 < 20

    Example:
        Derived: down a 3 in 4 slope, steady, no rolling resistance.

        >>> print(round(grip_demand_braking(-0.75, 0.0, 0.0, 0.0), 4))
        0.6

    References:
        Derived from ``total_resistance`` and the friction circle; whole sideways demand laid on the same wheels,
          which errs on the safe side
    """
    help_along = share_along(grade_ratio) + rolling_ratio * share_normal(grade_ratio, cross_slope_ratio)
    along = np.maximum(decel_mps2 / G_MPS2 - help_along, 0.0)
    return grip_demand(along, share_across(grade_ratio, cross_slope_ratio))


def grip_available(grip_ratio: Number, axle_load_n: Number, weight_n: Number) -> Number:
    """Grip, per weight, that the driven or braked wheels can find.

    mu N / W, no less than zero for an axle that lifts

    Args:
        grip_ratio: coefficient of traction [-]
        axle_load_n: load of the driven (braked) wheels square to the ground [N]
        weight_n: weight of the machine [N]

    Returns:
        force available over weight [-]

    Valid for:
        0 <= grip_ratio <= 1.5
        weight_n > 0
        axle_load_n <= weight_n

    Example:
        Construction methods text, ex. 4-4: all wheels driven, f 0.45.

        >>> print(round(grip_available(0.45, 44000.0, 44000.0), 4))
        0.45

    References:
        Formulas for earth moving (restating a civil-engineering formula handbook), usable pull, per weight
    """
    return grip_ratio * np.maximum(axle_load_n, 0.0) / weight_n


def slide_demand(grade_ratio: Number, cross_slope_ratio: Number, along_mps2: Number, across_mps2: Number) -> Number:
    """Coefficient of grip all wheels together need, all of them holding, not to slide.

    sqrt(along^2 + across^2), each over the force square to the ground

    Args:
        grade_ratio: grade along the travel, + uphill [-]
        cross_slope_ratio: cross slope, + falling to the right [-]
        along_mps2: acceleration along the travel, + gaining speed [m/s2]
        across_mps2: acceleration across, + towards the left [m/s2]

    Returns:
        coefficient of grip needed [-]

    Valid for:
        abs(grade_ratio) < 1
        abs(cross_slope_ratio) < 1
        abs(along_mps2) < 20
        abs(across_mps2) < 20

    Example:
        Derived: at rest it is the tilt, here 3 % and 4 %.

        >>> print(round(slide_demand(0.03, 0.04, 0.0, 0.0), 4))
        0.05

    References:
        Derived: Coulomb friction on an inclined plane; no publication
        Spencer 1978, J. agric. Engng Res. 23:169-188: on slopes adhesion usually goes before overturning
    """
    along = demand_along(grade_ratio, cross_slope_ratio, along_mps2)
    across = demand_across(grade_ratio, cross_slope_ratio, across_mps2)
    return grip_demand(along, across)


def steepest_cross_slope_for_grip(grip_ratio: Number, grade_ratio: Number) -> Number:
    """Cross slope at which a machine at rest on a grade begins to slide.

    c = sqrt(mu^2 - g^2)

    Args:
        grip_ratio: coefficient of grip [-]
        grade_ratio: grade along the travel [-]

    Returns:
        cross slope [-]

    Valid for:
        0 <= grip_ratio <= 1.5
        abs(grade_ratio) < grip_ratio

    Example:
        Derived: 0.5 less a grade of 30 %.

        >>> print(round(steepest_cross_slope_for_grip(0.5, 0.3), 4))
        0.4

    References:
        Derived: ``slide_demand`` at rest set equal to the coefficient; no publication
    """
    return np.sqrt(grip_ratio**2 - grade_ratio**2)
