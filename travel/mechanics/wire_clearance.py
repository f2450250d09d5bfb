"""How low a wire hangs over ground that slopes, and how much lower it may come."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from travel.mechanics._types import Number


def lowest_clearance_place(attach_a_m: Number, attach_b_m: Number, sag_m: Number) -> Number:
    """Place in a span where a wire hangs lowest over a straight line of ground.

    t = 1/2 - (b - a) / (8 D), kept within the span

    Args:
        attach_a_m: height of the wire above the ground line at support A, a [m]
        attach_b_m: height of the wire above the ground line at support B, b [m]
        sag_m: sag below the chord at mid-span, D [m]

    Returns:
        place from A as a part of the span [-]

    Valid for:
        sag_m >= 0

    Example:
        Mehta, Principles of Power System, ch. 8: towers 40 and 90 m, sag 10 m: outside the span, so at A.

        >>> float(lowest_clearance_place(40.0, 90.0, 10.0))
        0.0

    References:
        minimum of a parabola over a straight line; Mehta, Principles of Power System, ch. 8 for the low point
    """
    ratio = (attach_b_m - attach_a_m) / np.maximum(8.0 * sag_m, 1e-12)
    return np.clip(0.5 - ratio, 0.0, 1.0)


def lowest_clearance(attach_a_m: Number, attach_b_m: Number, sag_m: Number) -> Number:
    """Least height of a wire over a straight line of ground, level or sloping.

    min over t of a + (b - a) t - 4 D t (1 - t); not the height of the wire's own low point

    Args:
        attach_a_m: height of the wire above the ground line at support A, a [m]
        attach_b_m: height of the wire above the ground line at support B, b [m]
        sag_m: sag below the chord at mid-span, D [m]

    Returns:
        least height over the ground line [m]

    Valid for:
        sag_m >= 0

    Example:
        Thareja, ch. 41: both towers 70 m, wire 2 m lower, sag 6.008 m: 62 m of clearance.

        >>> round(float(lowest_clearance(68.0, 68.0, 6.008)), 0)
        62.0

    References:
        minimum of a parabola over a straight line; Thareja, ch. 41 (level ground)
    """
    t = lowest_clearance_place(attach_a_m, attach_b_m, sag_m)
    return attach_a_m + (attach_b_m - attach_a_m) * t - 4.0 * sag_m * t * (1.0 - t)


def lowest_clearance_over_profile(
    attach_a_m: float,
    attach_b_m: float,
    sag_m: float,
    span_m: float,
    ground_x_m: NDArray[np.float64],
    ground_z_m: NDArray[np.float64],
) -> float:
    """Least height of a wire over ground of any piecewise linear shape. Procedure.

    On each straight piece of ground the height is a parabola less a line: its least value is at the
    vertex of that parabola, kept within the piece

    Args:
        attach_a_m: height of the wire at support A, in the datum of the ground [m]
        attach_b_m: height of the wire at support B, in the datum of the ground [m]
        sag_m: sag below the chord at mid-span [m]
        span_m: plan distance between the supports [m]
        ground_x_m: plan distances of the ground's vertices from A, ascending; shape (V,) [m]
        ground_z_m: heights of the ground's vertices; shape (V,) [m]

    Returns:
        least height over the ground within the span; NaN where no ground is known from A to B [m]

    Valid for:
        sag_m >= 0
        span_m > 0

    Example:
        Level ground, level supports at 10 m, sag 3 m.

        >>> float(lowest_clearance_over_profile(10.0, 10.0, 3.0, 80.0, np.array([0.0, 80.0]), np.zeros(2)))
        7.0

    References:
        minimum of a parabola over a straight line, piece by piece
    """
    if ground_x_m[0] > 0.0 or ground_x_m[-1] < span_m:
        return float(np.nan)
    inside = (ground_x_m > 0.0) & (ground_x_m < span_m)
    x_m = np.concatenate((np.zeros(1), ground_x_m[inside], np.full(1, span_m)))
    z_m = np.interp(x_m, ground_x_m, ground_z_m)
    t = x_m / span_m
    slope_m = attach_b_m - attach_a_m - np.diff(z_m) / np.diff(t)
    least_t = np.clip(0.5 - slope_m / max(8.0 * sag_m, 1e-12), t[:-1], t[1:])
    ground_m = np.interp(least_t * span_m, ground_x_m, ground_z_m)
    wire_m = attach_a_m + (attach_b_m - attach_a_m) * least_t - 4.0 * sag_m * least_t * (1.0 - least_t)
    return float(np.min(wire_m - ground_m))


def greatest_sag_thermal_only(span_m: Number, sag_m: Number, expansion_per_k: Number, warming_c: Number) -> Number:
    """Greatest sag a wire can reach when warmed, from a measured sag, its springiness not known.

    D2 = sqrt(D1² + (3/8) S² a ΔT (1 + 8 D1²/(3 S²)))

    The wire lengthens by heat alone; the shortening as its pull falls is left out, so the bound is on the safe side.
    Weight and stiffness need not be known. Ice is not in it

    Args:
        span_m: plan distance between the supports, S [m]
        sag_m: measured sag below the chord at mid-span, D1 [m]
        expansion_per_k: coefficient of thermal expansion, a [1/K]
        warming_c: greatest conductor temperature less the conductor temperature when measured, ΔT [K]

    Returns:
        bound on the sag [m]

    Valid for:
        span_m > 0
        0 < 8 * sag_m <= span_m
        expansion_per_k >= 0
        warming_c >= 0

    Example:
        A span of 100 m measured at 2 m of sag, 50 K warmer, 23e-6 per K.

        >>> round(float(greatest_sag_thermal_only(100.0, 2.0, 23e-6, 50.0)), 3)
        2.884

    References:
        length of a parabola S + 8 D²/(3 S) set equal before and after warming: geometry
    """
    stretch_ratio = expansion_per_k * warming_c * (1.0 + 8.0 * sag_m**2 / (3.0 * span_m**2))
    return np.sqrt(sag_m**2 + 0.375 * span_m**2 * stretch_ratio)
