"""Room beside a machine on its way: swept width, wheel to edge, body to people, one lane used both ways.

The front axle's middle follows the centreline. ``bend_ratio`` is wheelbase over radius of the bend (0 on a straight);
``lead_ratio`` is how far ahead of the turning centre's line the front axle runs, over the wheelbase: 1 with front
steer, 1/2 with equal all-wheel steer (``turning.turn_centre_ahead``). A crab angle goes with no bend.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.mechanics.braking import stopping_distance_coasting
from travel.mechanics.edges import crest_standoff_by_line
from travel.mechanics.turning import crab_width


def swept_width(
    body_width_m: Number,
    length_m: Number,
    crab_rad: Number,
    reach_m: Number,
    wheelbase_m: Number,
    bend_ratio: Number,
    lead_ratio: Number,
) -> Number:
    """Width of the ring that a body sweeps in a steady bend, or of the lane it sweeps set at an angle.

    W cos(d) + L sin(d) + sqrt((R + W/2)^2 + a^2) - (R + W/2), R = sqrt(R_f^2 - (l L_w)^2); about a^2 / 2R_f more
    than the body's width

    Args:
        body_width_m: width of the body [m]
        length_m: whole length of the body [m]
        crab_rad: angle between body and travel, 0 unless crabbing [rad]
        reach_m: farthest point of the body ahead of or behind the turning centre's line, a [m]
        wheelbase_m: wheelbase, L_w [m]
        bend_ratio: wheelbase over radius of the front axle's path [-]
        lead_ratio: 1 with front steer, 0.5 with equal all-wheel steer [-]

    Returns:
        swept width [m]

    Valid for:
        body_width_m > 0
        length_m > 0
        0 <= crab_rad <= 1.5
        reach_m >= 0
        wheelbase_m > 0
        bend_ratio >= 0
        0 <= lead_ratio <= 1
        bend_ratio * lead_ratio < 1

    Example:
        Derived: rear axle's middle on 3 m, front one on 5 m (3-4-5), 2 m wide, nothing ahead of the front axle: the
        outer corner runs on sqrt(4² + 4²), the inner side on 2 m.

        >>> print(round(float(swept_width(2.0, 4.0, 0.0, 4.0, 4.0, 0.8, 1.0)), 4))
        3.6569

    References:
        ``turning.outer_corner_radius`` less ``turning.inner_edge_radius``, written so that a straight is no special
          case; a^2 / 2R is the mechanical widening of bends (IRC)
    """
    lead = bend_ratio * lead_ratio
    middle = np.sqrt(np.maximum(1.0 - lead**2, 0.0)) + bend_ratio * body_width_m / (2.0 * wheelbase_m)
    corner = bend_ratio * reach_m / wheelbase_m
    kick_m = reach_m * corner / (np.sqrt(middle**2 + corner**2) + middle)
    return crab_width(body_width_m, length_m, crab_rad) + kick_m


def width_needed(
    body_width_m: Number,
    length_m: Number,
    crab_rad: Number,
    reach_m: Number,
    wheelbase_m: Number,
    bend_ratio: Number,
    lead_ratio: Number,
    allowance_m: Number,
) -> Number:
    """Width of road that a machine needs: what it sweeps, and what is kept beside it.

    swept width + sway + margin on both sides

    Args:
        body_width_m: width of the body [m]
        length_m: whole length of the body [m]
        crab_rad: angle between body and travel, 0 unless crabbing [rad]
        reach_m: farthest point of the body ahead of or behind the turning centre's line [m]
        wheelbase_m: wheelbase [m]
        bend_ratio: wheelbase over radius of the front axle's path [-]
        lead_ratio: 1 with front steer, 0.5 with equal all-wheel steer [-]
        allowance_m: lean on the cross slope, and the margins of both sides [m]

    Returns:
        width needed [m]

    Valid for:
        body_width_m > 0
        length_m > 0
        0 <= crab_rad <= 1.5
        reach_m >= 0
        wheelbase_m > 0
        bend_ratio >= 0
        0 <= lead_ratio <= 1
        bend_ratio * lead_ratio < 1
        allowance_m >= 0

    Example:
        Derived: 2.5 m on a straight, 0.25 m kept on each side.

        >>> print(float(width_needed(2.5, 7.0, 0.0, 6.0, 3.0, 0.0, 1.0, 0.5)))
        3.0

    References:
        sum of ``swept_width`` and allowances; the allowances are rows of the rulebook
    """
    swept_m = swept_width(body_width_m, length_m, crab_rad, reach_m, wheelbase_m, bend_ratio, lead_ratio)
    return swept_m + allowance_m


def lean_over(half_width_m: Number, height_m: Number, cross_slope_ratio: Number) -> Number:
    """Plan distance from the wheels' middle line to a point of the body, leaning downhill (or up: negative slope).

    (b + z s) / sqrt(1 + s^2)

    Args:
        half_width_m: half the body's width at that height, b [m]
        height_m: height of the point above level ground, z [m]
        cross_slope_ratio: cross slope, + towards the point's side, s [-]

    Returns:
        plan distance [m]

    Valid for:
        half_width_m >= 0
        height_m >= 0
        abs(cross_slope_ratio) < 1

    Example:
        Derived: 1 m out and 3 m up on a 3 in 4 slope: (1 + 2.25) / 1.25.

        >>> print(round(lean_over(1.0, 3.0, 0.75), 4))
        2.6

    References:
        Derived: rigid body turned about the wheels' middle line; no publication
    """
    return (half_width_m + height_m * cross_slope_ratio) / np.sqrt(1.0 + cross_slope_ratio**2)


def wheel_gap(
    distance_m: Number,
    over_tyres_m: Number,
    wheelbase_m: Number,
    bend_ratio: Number,
    lead_ratio: Number,
    crab_rad: Number,
    wander_m: Number,
) -> Number:
    """Distance from the outer side of the worse wheel to a line beside the centreline.

    D - (W cos(d) + L_w sin(d))/2 - off-tracking - wander, off-tracking = L_w b (2 l - 1) / (1 + sqrt(1 - b²(2 l - 1)))

    Args:
        distance_m: plan distance from the centreline to the line, D [m]
        over_tyres_m: outside to outside of the tyres, W [m]
        wheelbase_m: wheelbase, L_w [m]
        bend_ratio: wheelbase over radius of the front axle's path, b [-]
        lead_ratio: 1 with front steer, 0.5 with equal all-wheel steer, l [-]
        crab_rad: angle between body and travel, 0 unless crabbing, d [rad]
        wander_m: how far the machine may run off the centreline [m]

    Returns:
        gap; negative where the wheel would stand over the line [m]

    Valid for:
        distance_m >= 0
        over_tyres_m > 0
        wheelbase_m > 0
        bend_ratio >= 0
        0.5 <= lead_ratio <= 1
        bend_ratio**2 * (2 * lead_ratio - 1) < 1
        0 <= crab_rad <= 1.5
        wander_m >= 0

    Example:
        Derived: wheelbase 3 m on 5 m (3-4-5, 1 m inside), 5 m away, 2 m over tyres, 0.5 m of wander.

        >>> print(round(float(wheel_gap(5.0, 2.0, 3.0, 0.6, 1.0, 0.0, 0.5)), 4))
        2.5

    References:
        ``turning.off_tracking_steady``, written so that a straight is no special case; the inner side of the bend is
          taken whichever side the line is on
    """
    steered = 2.0 * lead_ratio - 1.0
    inside_m = wheelbase_m * bend_ratio * steered / (1.0 + np.sqrt(np.maximum(1.0 - bend_ratio**2 * steered, 0.0)))
    return distance_m - crab_width(over_tyres_m, wheelbase_m, crab_rad) / 2.0 - inside_m - wander_m


def body_gap(distance_m: Number, swept_width_m: Number, body_width_m: Number, wander_m: Number) -> Number:
    """Distance from the body to something beside the centreline, on whichever side it bulges out.

    D - (S - W/2) - wander: the body sweeps S in all, at least W/2 of it on the other side

    Args:
        distance_m: plan distance from the centreline, D [m]
        swept_width_m: swept width, S [m]
        body_width_m: width of the body, W [m]
        wander_m: how far the machine may run off the centreline [m]

    Returns:
        gap; negative where the body would be over it [m]

    Valid for:
        distance_m >= 0
        body_width_m > 0
        swept_width_m >= body_width_m
        wander_m >= 0

    Example:
        Derived: 5 m away, sweeping 3 m, 2 m wide, 0.5 m of wander.

        >>> print(body_gap(5.0, 3.0, 2.0, 0.5))
        2.5

    References:
        Derived: geometry, on the safe side; no publication
    """
    return distance_m - (swept_width_m - body_width_m / 2.0) - wander_m


def support_standoff(
    wheel_load_n: Number, contact_width_m: Number, contact_length_m: Number, surcharge_pa: Number
) -> Number:
    """Distance behind a support at which a wheel, spread 2:1, presses on it with no more than its surcharge.

    e = z/2, z from q = P / ((B + z)(l + z)): z = (sqrt((B - l)^2 + 4 P/q) - (B + l)) / 2, not under 0

    Args:
        wheel_load_n: load of the wheel, P [N]
        contact_width_m: width of its contact, B [m]
        contact_length_m: length of its contact, l [m]
        surcharge_pa: surcharge the support is designed for, q [Pa]

    Returns:
        least distance from the crest to the side of the contact [m]

    Valid for:
        wheel_load_n >= 0
        contact_width_m > 0
        contact_length_m > 0
        surcharge_pa > 0

    Example:
        Derived: 40 kN on 0.5 m by 0.3 m, 10 kPa: 1.5 m down the load is spread over 2 m by 2 m less 0.1 m each way.

        >>> print(round(float(support_standoff(40e3, 0.5, 0.3, 10e3)), 3))
        0.801

    References:
        ``stress_depth.stress_two_to_one`` solved for the depth: the edge of the spread reaches the support at a depth
          of twice the distance, and is strongest where it first does; no publication for the use
    """
    area_m2 = wheel_load_n / surcharge_pa
    root_m = np.sqrt((contact_width_m - contact_length_m) ** 2 + 4.0 * area_m2)
    depth_m = (root_m - contact_width_m - contact_length_m) / 2.0
    return np.maximum(depth_m, 0.0) / 2.0


def edge_standoff(depth_m: Number, batter_rad: Number, line_rad: Number, least_m: Number, support_m: Number) -> Number:
    """Distance a wheel keeps from a crest: behind the line from the toe, or as far as the support is designed for.

    max(e_min, min(d (cot λ - cot β), e_s))

    Args:
        depth_m: depth of the edge, d [m]
        batter_rad: angle of the face from the level, β [rad]
        line_rad: angle of the line from the toe, by soil, λ [rad]
        least_m: least distance whatever the depth, e_min [m]
        support_m: distance the support asks for, e_s; as far as the line where there is no support [m]

    Returns:
        distance to keep from the crest [m]

    Valid for:
        depth_m >= 0
        0 < batter_rad <= 1.5708
        0 < line_rad <= 1.5708
        least_m >= 0
        support_m >= 0

    Example:
        Derived: 3 m vertical, type B soil (45°), not supported.

        >>> print(round(float(edge_standoff(3.0, np.pi / 2, np.pi / 4, 0.61, 3.0)), 6))
        3.0

    References:
        ``edges.crest_standoff_by_line``; 29 CFR 1926.651(j)(2) for the least; slopes by soil from 29 CFR 1926
          Subpart P appendix B table B-1, as rows of the rulebook
    """
    line_m = crest_standoff_by_line(depth_m, batter_rad, line_rad)
    return np.maximum(least_m, np.minimum(line_m, support_m))


def keep_clear(height_m: Number, height_ratio: Number, margin_m: Number) -> Number:
    """Distance within which a machine or its load could hit somebody if it fell over.

    k H + m

    Args:
        height_m: height of the machine with its load, H [m]
        height_ratio: part of the height, k [-]
        margin_m: added to it, m [m]

    Returns:
        distance from the body to keep people out of [m]

    Valid for:
        height_m >= 0
        height_ratio >= 0
        margin_m >= 0

    Example:
        Derived: 3 m high, all of it, 1 m more.

        >>> print(keep_clear(3.0, 1.0, 1.0))
        4.0

    References:
        common practice, no source: what falls over reaches as far as it is high
    """
    return height_m * height_ratio + margin_m


def sight_on_one_lane(
    speed_mps: Number, other_speed_mps: Number, delay_s: Number, coast_mps2: Number, decel_mps2: Number
) -> Number:
    """Sight that two vehicles need to stop in front of each other on one lane, both as if downhill.

    sum over both of v t + a t²/2 + (v + a t)²/2d

    Args:
        speed_mps: speed of the one [m/s]
        other_speed_mps: speed of the other [m/s]
        delay_s: reaction and brake lag together, of each [s]
        coast_mps2: gain of speed during the delay, downhill with nothing holding, else 0 [m/s2]
        decel_mps2: deceleration of each [m/s2]

    Returns:
        distance between them at which both must have seen each other [m]

    Valid for:
        speed_mps >= 0
        other_speed_mps >= 0
        delay_s >= 0
        coast_mps2 >= 0
        decel_mps2 > 0

    Example:
        Basis of 30 CFR 56.14101 table M-1 twice: 10 mph, 1.5 s, 9.66 ft/s²: 33.1 ft each, printed 34.

        >>> print(round(sight_on_one_lane(4.4704, 4.4704, 1.5, 0.0, 9.66 * 0.3048) / 0.3048 / 2, 1))
        33.1

    References:
        sum of two ``braking.stopping_distance_coasting``
    """
    own_m = stopping_distance_coasting(speed_mps, delay_s, coast_mps2, decel_mps2)
    return own_m + stopping_distance_coasting(other_speed_mps, delay_s, coast_mps2, decel_mps2)
