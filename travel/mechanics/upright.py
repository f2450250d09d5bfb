"""Standing upright while travelling: share of the tipping limit used, load on the steered axle, twist, bend, wind.

Signs as in ``slope`` and ``tipping``: demands + towards the rear and + towards the right. A *tip line* is given
by the plan distance of the centre of gravity inside it and by its two levers.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.curve import overturning_speed, side_grip_speed
from travel.mechanics.setup import wind_factor_sail_en_13000
from travel.mechanics.stability import tilt_from_drop, twist_angle


def tip_line_share(
    reach_m: Number,
    lever_along_m: Number,
    lever_across_m: Number,
    along_ratio: Number,
    across_ratio: Number,
    tilt_along_ratio: Number,
    tilt_across_ratio: Number,
) -> Number:
    """Share of the tipping limit used about one tip line, with a tilt allowance that always tips.

    (d_x lever_x + d_y lever_y + t_x |lever_x| + t_y |lever_y|) / reach; 1 where it tips

    Args:
        reach_m: plan distance of the centre of gravity inside the line [m]
        lever_along_m: lever of the demand along [m]
        lever_across_m: lever of the demand across [m]
        along_ratio: tangent demanded along, + towards the rear [-]
        across_ratio: tangent demanded across, + towards the right [-]
        tilt_along_ratio: extra tilt along, tyres and bumps [-]
        tilt_across_ratio: extra tilt across, tyres and bumps [-]

    Returns:
        share; negative where the demand holds it down [-]

    Valid for:
        reach_m > 0
        abs(along_ratio) < 10
        abs(across_ratio) < 10
        0 <= tilt_along_ratio < 1
        0 <= tilt_across_ratio < 1

    Example:
        Derived: half a track of 1 m, height 1.25 m, cross slope 40 %, tilt 8 % more.

        >>> print(round(float(tip_line_share(1.0, 0.0, 1.25, 0.0, 0.40, 0.0, 0.08)), 3))
        0.6

    References:
        Derived: one over ``tip_line_factor``, the allowance added to the demand; no publication
    """
    demanded_m = along_ratio * lever_along_m + across_ratio * lever_across_m
    allowed_for_m = tilt_along_ratio * np.abs(lever_along_m) + tilt_across_ratio * np.abs(lever_across_m)
    return (demanded_m + allowed_for_m) / reach_m


def sideways_ratio_left(
    reach_m: Number,
    lever_along_m: Number,
    lever_across_m: Number,
    along_ratio: Number,
    tilt_along_ratio: Number,
    tilt_across_ratio: Number,
    share_ratio: Number,
) -> Number:
    """Tangent sideways that a tip line still bears beside the slope along, up to a share of its tipping limit.

    (k reach - d_x lever_x - t_x |lever_x|) / |lever_y| - t_y

    Args:
        reach_m: plan distance of the centre of gravity inside the line [m]
        lever_along_m: lever of the demand along [m]
        lever_across_m: lever of the demand across [m]
        along_ratio: tangent demanded along, + towards the rear [-]
        tilt_along_ratio: extra tilt along [-]
        tilt_across_ratio: extra tilt across [-]
        share_ratio: share of the tipping limit that may be used [-]

    Returns:
        tangent across; negative where the slope along alone uses more than the share [-]

    Valid for:
        reach_m > 0
        lever_across_m**2 > 0
        0 < share_ratio <= 1

    Example:
        Derived: t/2h at 70 %.

        >>> print(round(sideways_ratio_left(1.0, 0.0, 1.25, 0.0, 0.0, 0.0, 0.7), 3))
        0.56

    References:
        Derived: ``tip_line_share`` solved for the demand across; no publication
    """
    left_m = share_ratio * reach_m - along_ratio * lever_along_m - tilt_along_ratio * np.abs(lever_along_m)
    return left_m / np.abs(lever_across_m) - tilt_across_ratio


def curve_speed(radius_m: Number, superelevation_ratio: Number, grip_ratio: Number, tip_ratio: Number) -> Number:
    """Speed in a bend by side grip and by overturning, the lesser.

    min(sqrt(g R (mu + e) / (1 - mu e)), sqrt(g R (T + e) / (1 - T e)))

    Args:
        radius_m: radius of the bend [m]
        superelevation_ratio: superelevation, + falling to the inside [-]
        grip_ratio: side grip that may be used [-]
        tip_ratio: tangent sideways that may be used [-]

    Returns:
        greatest speed [m/s]

    Valid for:
        radius_m > 0
        abs(superelevation_ratio) < 0.5
        0 <= grip_ratio <= 1.5
        0 <= tip_ratio <= 1.9

    Example:
        Textbook bend of 20 m, t 1.8 m, h 1.0 m: overturning at 13.3 m/s; with grip 0.5 it slides first.

        >>> print(round(float(curve_speed(20.0, 0.0, 1.5, 0.9)), 1), round(float(curve_speed(20.0, 0.0, 0.5, 0.9)), 1))
        13.3 9.9

    References:
        ``side_grip_speed`` and ``overturning_speed``
    """
    sliding_mps = side_grip_speed(radius_m, superelevation_ratio, grip_ratio)
    tipping_mps = overturning_speed(radius_m, superelevation_ratio, tip_ratio)
    return np.minimum(sliding_mps, tipping_mps)


def side_grip_left(grip_ratio: Number, along_ratio: Number) -> Number:
    """Grip left sideways while the wheels hold or pull along.

    sqrt(mu^2 - d^2), 0 where the slope along takes it all

    Args:
        grip_ratio: grip that may be used in all [-]
        along_ratio: tangent demanded along [-]

    Returns:
        grip left across [-]

    Valid for:
        0 <= grip_ratio <= 1.5
        abs(along_ratio) < 1

    Example:
        A 3-4-5 triangle.

        >>> print(round(float(side_grip_left(0.5, 0.3)), 3))
        0.4

    References:
        Friction circle of a tyre, textbook mechanics
    """
    return np.sqrt(np.maximum(grip_ratio**2 - along_ratio**2, 0.0))


def axle_share_on_slope(level_share_ratio: Number, base_m: Number, cg_height_m: Number, along_ratio: Number) -> Number:
    """Share of the weight on an axle when the demand along shifts it.

    s - h d / b

    Args:
        level_share_ratio: share on the level [-]
        base_m: way forward of the centre of gravity that adds a whole share; of two axles L in front, -L behind [m]
        cg_height_m: centre of gravity above the ground [m]
        along_ratio: tangent demanded along, + towards the rear [-]

    Returns:
        share of the force square to the ground; negative where the axle lifts [-]

    Valid for:
        0 <= level_share_ratio <= 1
        base_m**2 > 0
        cg_height_m > 0
        abs(along_ratio) < 10

    Example:
        Derived: 40 % in front, wheelbase 3 m, height 1.2 m, 25 % uphill.

        >>> print(round(axle_share_on_slope(0.4, 3.0, 1.2, 0.25), 3))
        0.3

    References:
        Derived: ``front_axle_load`` over the force square to the ground; more than two axles equally stiff
    """
    return level_share_ratio - cg_height_m * along_ratio / base_m


def twist_of_ground(change_ratio: Number, bump_m: Number, track_m: Number) -> Number:
    """Greatest twist between the axles for a change of cross slope and a wheel on a bump.

    2 atan(dc / 2) + atan(b / t), the change split evenly to both sides of level, where it is largest as an angle

    Args:
        change_ratio: change of the cross slope over the wheelbase [-]
        bump_m: height of single bumps [m]
        track_m: track [m]

    Returns:
        twist [rad]

    Valid for:
        0 <= change_ratio < 2
        bump_m >= 0
        track_m > 0
        bump_m < track_m

    Example:
        Derived: 5 % to one side in front, 5 % to the other behind, no bump: 5.72 degrees.

        >>> print(round(float(np.degrees(twist_of_ground(0.10, 0.0, 2.0))), 2))
        5.72

    References:
        Derived: angle between two lines; no publication
    """
    ground_rad = twist_angle(change_ratio / 2.0, -change_ratio / 2.0)
    bump_rad = np.arctan(tilt_from_drop(bump_m, track_m))
    return ground_rad + bump_rad


def twist_taken_up(stop_rad: Number, squash_m: Number, lightest_ratio: Number, track_m: Number) -> Number:
    """Twist between the axles up to which every wheel stays loaded.

    stop + 4 s r / t: the swing, and the tyres of a frame that does not swing

    Args:
        stop_rad: swing of the axle to its stop, 0 for a rigid machine [rad]
        squash_m: how much further a tyre goes down under twice its load, 0 where it is not counted [m]
        lightest_ratio: load of the lightest wheel over that of the heaviest [-]
        track_m: track [m]

    Returns:
        twist at which a wheel begins to lift [rad]

    Valid for:
        0 <= stop_rad < 1.5
        squash_m >= 0
        0 <= lightest_ratio <= 1
        track_m > 0
        squash_m < track_m / 4

    Example:
        Derived: rigid, four equal wheels, 35 mm, track 2 m: 4.01 degrees.

        >>> print(round(float(np.degrees(twist_taken_up(0.0, 0.035, 1.0, 2.0))), 2))
        4.01

    References:
        Derived: four springs under a stiff frame, one unloaded by four equal and opposite shares; no publication.
          A frame that gives takes up more: on the safe side.
    """
    return stop_rad + 4.0 * squash_m * lightest_ratio / track_m


def wind_limit_of_load(wind_limit_mps: Number, load_kg: Number, shape_ratio: Number, area_m2: Number) -> Number:
    """Greatest wind with a load on, cut where the load has more sail than the limit was made for.

    v = v_limit min(1, sqrt(1.2 m / (c_w A)))

    Args:
        wind_limit_mps: limit without regard to the load's sail [m/s]
        load_kg: mass of the load, m [kg]
        shape_ratio: wind shape factor, c_w [-]
        area_m2: largest area of the load across the wind, A [m²]

    Returns:
        wind speed [m/s]

    Valid for:
        wind_limit_mps >= 0
        load_kg > 0
        shape_ratio > 0
        area_m2 > 0

    Example:
        A loader-crane manual: 2 t, 9 m², c_w 1, limit 10 m/s.

        >>> print(round(float(wind_limit_of_load(10.0, 2000.0, 1.0, 9.0)), 1))
        5.2

    References:
        ``wind_factor_sail_en_13000``: EN 13000 form, from memory
    """
    return wind_limit_mps * wind_factor_sail_en_13000(load_kg, shape_ratio, area_m2)
