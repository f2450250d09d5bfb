"""A machine on ramps: loads of its axles and of each ramp, grip, tipping back, what the coupling and the bogie carry.

A machine that moves slowly on two different slopes is held along the ground by the wheels that drive or brake. How
much each does is not known from outside, so three ways are offered: each axle holding itself (plumb reactions), and
either axle holding all of it; a rule takes the worst.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.slope import slope_angle
from travel.units import G_MPS2


def tip_back_ratio(cg_ahead_m: Number, cg_height_m: Number) -> Number:
    """Slope at which a machine facing uphill tips backwards about its lower axle.

    tan(th) = b / z

    Args:
        cg_ahead_m: centre of gravity ahead of the lower contact, b [m]
        cg_height_m: centre of gravity above the ground, z [m]

    Returns:
        slope [-]

    Valid for:
        cg_ahead_m > 0
        cg_height_m > 0

    Example:
        Derived: b 1.4, z 1.1: 51.843 degrees.

        >>> print(round(float(np.degrees(np.arctan(tip_back_ratio(1.4, 1.1)))), 3))
        51.843

    References:
        Derived: weight through the lower contact; no publication
    """
    return cg_ahead_m / cg_height_m


def grip_needed_on_slope(weight_n: Number, slope_ratio: Number, gripping_load_n: Number) -> Number:
    """Coefficient of grip that the driven (braked) wheels need so that the machine neither slides nor rolls.

    mu = W sin(th) / N

    Args:
        weight_n: weight [N]
        slope_ratio: slope, either sign [-]
        gripping_load_n: load square to the ground on the wheels that drive, brake or hold [N]

    Returns:
        coefficient; infinite where those wheels carry nothing [-]

    Valid for:
        weight_n > 0
        abs(slope_ratio) < 2
        gripping_load_n > 0

    Example:
        Derived: all wheels on 3 in 4 need 0.75.

        >>> print(round(grip_needed_on_slope(100.0, 0.75, 80.0), 6))
        0.75

    References:
        Derived: Coulomb friction on an inclined plane; no publication
    """
    return weight_n * np.abs(slope_ratio) / np.sqrt(1.0 + slope_ratio**2) / gripping_load_n


def reaction_share(weight_n: Number, cg_x_m: Number, contact_x_m: Number, other_x_m: Number) -> Number:
    """Plumb reaction under one of two axles when each holds itself on its own slope.

    V = W (x_c - x_o) / (x_i - x_o)

    Args:
        weight_n: weight [N]
        cg_x_m: centre of gravity, plan [m]
        contact_x_m: contact of this axle, plan [m]
        other_x_m: contact of the other axle, plan [m]

    Returns:
        reaction; negative: it lifts [N]

    Valid for:
        weight_n >= 0
        abs(contact_x_m - other_x_m) > 0.01

    Example:
        Derived: a lever of 2 to 3.

        >>> print(round(reaction_share(100.0, 1.8, 3.0, 0.0), 6))
        60.0

    References:
        Derived: moments of plumb forces; no publication. On one even slope V cos(th) is ``front_axle_load``
    """
    return weight_n * (cg_x_m - other_x_m) / (contact_x_m - other_x_m)


def free_axle_load(
    weight_n: Number,
    cg_x_m: Number,
    contact_x_m: Number,
    contact_z_m: Number,
    slope_ratio: Number,
    other_x_m: Number,
    other_z_m: Number,
) -> Number:
    """Load square to the ground of an axle that rolls freely while the other one drives or holds.

    N = W (x_c - x_o) / ((x_i - x_o) cos(th) + (z_i - z_o) sin(th))

    Args:
        weight_n: weight [N]
        cg_x_m: centre of gravity, plan [m]
        contact_x_m: contact of the free axle, plan [m]
        contact_z_m: contact of the free axle, height [m]
        slope_ratio: slope of the ground under the free axle, + uphill towards + x [-]
        other_x_m: contact of the other axle, plan [m]
        other_z_m: contact of the other axle, height [m]

    Returns:
        load; negative: it lifts [N]

    Valid for:
        weight_n >= 0
        abs(slope_ratio) < 1
        (contact_x_m - other_x_m)**2 + (contact_z_m - other_z_m)**2 > 0.01

    Example:
        Derived: on one even slope it is the load by ``reaction_share`` times the cosine.

        >>> print(round(float(free_axle_load(100.0, 1.8, 3.0, 2.25, 0.75, 0.0, 0.0)), 6))
        48.0

    References:
        Derived: moments about the other contact, no force along the ground at the free axle; no publication
    """
    cos = 1.0 / np.sqrt(1.0 + slope_ratio**2)
    sin = slope_ratio * cos
    return weight_n * (cg_x_m - other_x_m) / ((contact_x_m - other_x_m) * cos + (contact_z_m - other_z_m) * sin)


def holding_axle_load(weight_n: Number, slope_ratio: Number, free_load_n: Number, free_slope_ratio: Number) -> Number:
    """Load square to the ground of the axle that drives or holds while the other one rolls freely.

    N = W cos(th) - N_f cos(th_f - th)

    Args:
        weight_n: weight [N]
        slope_ratio: slope under the axle that drives or holds [-]
        free_load_n: load of the free axle, ``free_axle_load`` [N]
        free_slope_ratio: slope under the free axle [-]

    Returns:
        load [N]

    Valid for:
        weight_n >= 0
        abs(slope_ratio) < 1
        abs(free_slope_ratio) < 1

    Example:
        Derived: on one even slope the two loads add up to W cos(th).

        >>> print(round(float(holding_axle_load(100.0, 0.75, 48.0, 0.75)), 6))
        32.0

    References:
        Derived: forces square to the ground under the holding axle; no publication
    """
    turn_rad = slope_angle(free_slope_ratio) - slope_angle(slope_ratio)
    return weight_n / np.sqrt(1.0 + slope_ratio**2) - free_load_n * np.cos(turn_rad)


def ramp_share(
    axle_load_n: Number, cg_side_m: Number, across_ratio: Number, cg_height_m: Number, track_m: Number
) -> Number:
    """Load of one ramp of a pair: side centre of gravity and slope across put more on the one, less on the other.

    R = N (1/2 + (y + z s) / t), no less than 0, no more than N

    Args:
        axle_load_n: load of the axle on the pair of ramps [N]
        cg_side_m: centre of gravity off the middle, towards this ramp + [m]
        across_ratio: slope across, falling towards this ramp + [-]
        cg_height_m: centre of gravity above the ground [m]
        track_m: track [m]

    Returns:
        load on this ramp [N]

    Valid for:
        axle_load_n >= 0
        abs(cg_side_m) < 1.5
        abs(across_ratio) < 1
        cg_height_m >= 0
        track_m > 0

    Example:
        Derived: middle and level: half each.

        >>> print(float(ramp_share(7320.0, 0.0, 0.0, 1.1, 2.0)))
        3660.0

    References:
        Derived: moments about the other ramp, each axle taking its own part; no publication
    """
    share = 0.5 + (cg_side_m + cg_height_m * across_ratio) / track_m
    return axle_load_n * np.minimum(np.maximum(share, 0.0), 1.0)


def coupling_share(load_n: Number, behind_m: Number, base_m: Number, height_m: Number, slope_ratio: Number) -> Number:
    """Part of a load on the trailer that the coupling carries; negative behind the bogie: the nose is lifted.

    K = W ((D - d) cos(th) - z sin(th)) / D

    Args:
        load_n: weight on the trailer [N]
        behind_m: its place behind the coupling, d [m]
        base_m: coupling to the middle of the bogie, D [m]
        height_m: its height above the line of coupling and bogie supports [m]
        slope_ratio: slope the rig stands on, + nose uphill [-]

    Returns:
        load on the coupling, square to the ground [N]

    Valid for:
        load_n >= 0
        base_m > 0
        abs(slope_ratio) < 1

    Example:
        Derived: 6 500 kg at a hinge 2.5 m behind the bogie, D 8.0 m: -2 031.25 kg.

        >>> print(round(float(coupling_share(6500.0, 10.5, 8.0, 0.0, 0.0)), 2))
        -2031.25

    References:
        Derived: moments about the bogie; no publication
    """
    cos = 1.0 / np.sqrt(1.0 + slope_ratio**2)
    return load_n * ((base_m - behind_m) * cos - height_m * slope_ratio * cos) / base_m


def bogie_share(load_n: Number, behind_m: Number, base_m: Number, height_m: Number, slope_ratio: Number) -> Number:
    """Part of a load on the trailer that the bogie carries.

    B = W (d cos(th) + z sin(th)) / D

    Args:
        load_n: weight on the trailer [N]
        behind_m: its place behind the coupling, d [m]
        base_m: coupling to the middle of the bogie, D [m]
        height_m: its height above the line of coupling and bogie supports [m]
        slope_ratio: slope the rig stands on, + nose uphill [-]

    Returns:
        load on the bogie, square to the ground [N]

    Valid for:
        load_n >= 0
        base_m > 0
        abs(slope_ratio) < 1

    Example:
        Derived: 12 000 kg 4.375 m behind the kingpin, D 8 m.

        >>> print(float(bogie_share(12000.0, 4.375, 8.0, 0.0, 0.0)))
        6562.5

    References:
        Derived: moments about the coupling; no publication
    """
    cos = 1.0 / np.sqrt(1.0 + slope_ratio**2)
    return load_n * (behind_m * cos + height_m * slope_ratio * cos) / base_m


def hinge_reaction(axle_load_n: Number, climbed_m: Number, run_m: Number) -> Number:
    """Part of an axle's load that the ramp passes on to the deck's edge; the rest goes into the ground at the foot.

    R = V s / S, between 0 and V

    Args:
        axle_load_n: plumb load of an axle on the ramp [N]
        climbed_m: level distance from the ramp's foot to the contact [m]
        run_m: level length of the ramp [m]

    Returns:
        load at the hinge [N]

    Valid for:
        axle_load_n >= 0
        run_m > 0

    Example:
        Derived: 5 500 kg, 0.5 m up a run of 3.5 m.

        >>> print(round(float(hinge_reaction(5500.0, 0.5, 3.5)), 2))
        785.71

    References:
        Lever law on a simply supported ramp
    """
    return axle_load_n * np.minimum(np.maximum(climbed_m / run_m, 0.0), 1.0)


def grade_resistance_degree_rule(weight_n: Number, angle_rad: Number) -> Number:
    """Grade resistance by the field rule of recovery crews, shown for comparison: low below 30 degrees.

    R = W degrees / 60

    Args:
        weight_n: weight [N]
        angle_rad: slope [rad]

    Returns:
        force [N]

    Valid for:
        weight_n >= 0
        0 <= angle_rad <= 0.7853981633974483

    Example:
        Field rule: 30 degrees, half the weight.

        >>> print(round(float(grade_resistance_degree_rule(5700.0, np.radians(30.0))), 6))
        2850.0

    References:
        Army recovery manuals (from memory), and a recovery write-up: weight times degrees over 60, for 0 to 45 degrees
    """
    return weight_n * np.degrees(angle_rad) / 60.0


def rig_hold_needed(weight_n: Number, slope_ratio: Number, machine_n: Number, shove_mps2: Number) -> Number:
    """Force that must hold a rig while a machine drives on or off.

    F = W |sin(th)| + W_m a / g

    Args:
        weight_n: weight of rig and machine on it [N]
        slope_ratio: slope the rig stands on, either sign [-]
        machine_n: weight of the machine [N]
        shove_mps2: how hard the machine starts or stops on ramp or deck [m/s2]

    Returns:
        force along the ground [N]

    Valid for:
        weight_n >= 0
        abs(slope_ratio) < 1
        machine_n >= 0
        shove_mps2 >= 0

    Example:
        Derived: on the level only the shove.

        >>> print(round(float(rig_hold_needed(400.0, 0.0, 100.0, 0.980665)), 6))
        10.0

    References:
        Derived: gravity on an inclined plane and the reaction to the machine's own deceleration; no publication
    """
    return weight_n * np.abs(slope_ratio) / np.sqrt(1.0 + slope_ratio**2) + machine_n * shove_mps2 / G_MPS2
