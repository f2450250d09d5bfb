"""The curve of a wire: sag, length, tension, and how low it hangs over the ground.

Symbols: span S (plan), weight per metre w, horizontal tension H, sag D below the chord at mid-span.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def parabola_sag(weight_n_per_m: Number, span_m: Number, tension_n: Number) -> Number:
    """Sag of a wire below its chord at mid-span, as a parabola.

    D = w S² / (8 H)

    Args:
        weight_n_per_m: weight per metre of wire, w [N/m]
        span_m: plan distance between the supports, S [m]
        tension_n: horizontal tension, H [N]

    Returns:
        sag at mid-span [m]

    Valid for:
        weight_n_per_m > 0
        span_m > 0
        tension_n > 0
        weight_n_per_m * span_m <= tension_n

    Example:
        Mehta, Principles of Power System, ch. 8: 0.68 kg/m, 260 m, 1550 kg; with 10 m of clearance
        the supports are 13.7 m high.

        >>> round(10 + float(parabola_sag(0.68 * 9.81, 260.0, 1550 * 9.81)), 1)
        13.7

    References:
        Mehta, Principles of Power System, ch. 8; Gönen, Electric Power Transmission, ch. 13
    """
    return weight_n_per_m * span_m**2 / (8.0 * tension_n)


def parabola_tension(weight_n_per_m: Number, span_m: Number, sag_m: Number) -> Number:
    """Horizontal tension of a wire from its sag, as a parabola.

    H = w S² / (8 D)

    Args:
        weight_n_per_m: weight per metre of wire, w [N/m]
        span_m: plan distance between the supports, S [m]
        sag_m: sag below the chord at mid-span, D [m]

    Returns:
        horizontal tension [N]

    Valid for:
        weight_n_per_m > 0
        span_m > 0
        sag_m > 0
        8 * sag_m <= span_m

    Example:
        Gönen, Electric Power Transmission, Ex 13.1: 4122 lb/mile, 500 ft, the exact sag 19.5713 ft.

        >>> round(float(parabola_tension(4122 / 5280, 500.0, 19.5713)), 1)
        1246.6

    References:
        Gönen, Electric Power Transmission, ch. 13 (any one set of units of force and length)
    """
    return weight_n_per_m * span_m**2 / (8.0 * sag_m)


def parabola_length(span_m: Number, sag_m: Number) -> Number:
    """Length of a wire between level supports, as a parabola, first two terms of the series.

    L = S + 8 D² / (3 S)

    Args:
        span_m: plan distance between the supports, S [m]
        sag_m: sag at mid-span, D [m]

    Returns:
        length of the wire [m]

    Valid for:
        span_m > 0
        0 <= 8 * sag_m <= span_m

    Example:
        Gönen, Electric Power Transmission, Ex 13.1: 500 ft, sag 19.53125 ft by the parabola.

        >>> round(float(parabola_length(500.0, 19.53125)), 4)
        502.0345

    References:
        Gönen, Electric Power Transmission, ch. 13
    """
    return span_m + 8.0 * sag_m**2 / (3.0 * span_m)


def catenary_sag(parameter_m: Number, span_m: Number) -> Number:
    """Sag of a wire between level supports, as a catenary.

    D = c (cosh(S / 2c) - 1), c = H/w

    Args:
        parameter_m: horizontal tension over weight per metre, c [m]
        span_m: plan distance between the supports, S [m]

    Returns:
        sag at mid-span [m]

    Valid for:
        parameter_m > 0
        span_m > 0

    Example:
        Gönen, Electric Power Transmission, Ex 13.1: c 1600 ft, 500 ft.

        >>> round(float(catenary_sag(1600.0, 500.0)), 1)
        19.6

    References:
        Gönen, Electric Power Transmission, ch. 13
    """
    return parameter_m * (np.cosh(span_m / (2.0 * parameter_m)) - 1.0)


def catenary_length(parameter_m: Number, span_m: Number) -> Number:
    """Length of a wire between level supports, as a catenary.

    L = 2 c sinh(S / 2c)

    Args:
        parameter_m: horizontal tension over weight per metre, c [m]
        span_m: plan distance between the supports, S [m]

    Returns:
        length of the wire [m]

    Valid for:
        parameter_m > 0
        span_m > 0

    Example:
        Gönen, Electric Power Transmission, Ex 13.1: c 1600 ft, 500 ft.

        >>> round(float(catenary_length(1600.0, 500.0)), 3)
        502.037

    References:
        Gönen, Electric Power Transmission, ch. 13
    """
    return 2.0 * parameter_m * np.sinh(span_m / (2.0 * parameter_m))


def catenary_tension(weight_n_per_m: Number, parameter_m: Number, above_low_point_m: Number) -> Number:
    """Tension in a catenary at a height above its low point; at a level support that height is the sag.

    T = w (c + D)

    Args:
        weight_n_per_m: weight per metre of wire, w [N/m]
        parameter_m: horizontal tension over weight per metre, c [m]
        above_low_point_m: height above the low point, D [m]

    Returns:
        tension [N]

    Valid for:
        weight_n_per_m > 0
        parameter_m > 0
        above_low_point_m >= 0

    Example:
        Gönen, Electric Power Transmission, Ex 13.1: least tension 1249.1 lb.

        >>> round(float(catenary_tension(4122 / 5280, 1600.0, 0.0)), 1)
        1249.1

    References:
        Gönen, Electric Power Transmission, ch. 13 (any one set of units of force and length)
    """
    return weight_n_per_m * (parameter_m + above_low_point_m)


def catenary_parameter(span_m: Number, sag_m: Number) -> Number:
    """Horizontal tension over weight per metre of a level catenary of known sag. Procedure.

    c from D = c (cosh(S / 2c) - 1), by Newton's method on u = S / 2c

    Args:
        span_m: plan distance between the supports, S [m]
        sag_m: sag at mid-span, D [m]

    Returns:
        parameter c [m]

    Valid for:
        span_m > 0
        0 < sag_m <= span_m

    Example:
        Beer and Johnston, Vector Mechanics, Sample Problem 7 (150 m, 30 m; the book's trial value is 99).

        >>> round(float(catenary_parameter(150.0, 30.0)), 3)
        98.379

    References:
        Beer and Johnston, Vector Mechanics for Engineers: Statics, ch. 7 (solved there by trial)
    """
    ratio = 2.0 * sag_m / span_m
    u = 2.0 * ratio  # the parabola: (cosh u - 1)/u = u/2, always beyond the root
    for _ in range(40):
        # sinh(u/2)² keeps the digits that cosh(u) - 1 loses in a tight span
        value = 2.0 * np.sinh(u / 2.0) ** 2 - ratio * u
        u = u - value / (np.sinh(u) - ratio)
    return span_m / (2.0 * u)


def low_point_from_lower_support(weight_n_per_m: Number, span_m: Number, tension_n: Number, rise_m: Number) -> Number:
    """Plan distance of a wire's low point from its lower support; negative when it lies outside the span.

    x1 = S/2 - H h / (w S)

    Args:
        weight_n_per_m: weight per metre of wire, w [N/m]
        span_m: plan distance between the supports, S [m]
        tension_n: horizontal tension, H [N]
        rise_m: height of the higher support above the lower, h [m]

    Returns:
        distance x1; below zero the lowest wire point is the lower support itself [m]

    Valid for:
        weight_n_per_m > 0
        span_m > 0
        tension_n > 0
        rise_m >= 0

    Example:
        Chakrabarti et al., Power System, Ex 5.7: 0.428 kg/m, 200 m, 986.5 kg, 3 m.

        >>> round(float(low_point_from_lower_support(0.428, 200.0, 1973 / 2, 3.0)), 1)
        65.4

    References:
        Chakrabarti et al., Ex 5.7 and 5.8; Mehta, Principles of Power System, ch. 8
    """
    return span_m / 2.0 - tension_n * rise_m / (weight_n_per_m * span_m)


def sag_below_support(weight_n_per_m: Number, tension_n: Number, distance_m: Number) -> Number:
    """Depth of a wire's low point below a support at a given plan distance.

    D1 = w x1² / (2 H)

    Args:
        weight_n_per_m: weight per metre of wire, w [N/m]
        tension_n: horizontal tension, H [N]
        distance_m: plan distance from the low point to the support, x1 [m]

    Returns:
        depth of the low point [m]

    Valid for:
        weight_n_per_m > 0
        tension_n > 0

    Example:
        Gupta, Power Systems, ch. 10: 0.35 kg/m, 400 kg, low point 44.286 m from the lower support of 65 m.

        >>> round(65 - float(sag_below_support(0.35, 400.0, 44.286)), 3)
        64.142

    References:
        Gupta J.B., ch. 10; Mehta, Principles of Power System, ch. 8 (any one set of units)
    """
    return weight_n_per_m * distance_m**2 / (2.0 * tension_n)


def wire_height(attach_a_m: Number, attach_b_m: Number, sag_m: Number, at_ratio: Number) -> Number:
    """Height of a wire at a place in its span, from the heights of its supports and its sag.

    y = a + (b - a) t - 4 D t (1 - t)

    Args:
        attach_a_m: height of the wire at support A, a [m]
        attach_b_m: height of the wire at support B, b [m]
        sag_m: sag below the chord at mid-span, D [m]
        at_ratio: place in the span from A, t = x/S [-]

    Returns:
        height above the datum of the supports [m]

    Valid for:
        sag_m >= 0
        0 <= at_ratio <= 1

    Example:
        Mehta, Principles of Power System, ch. 8: towers 40 and 90 m, sag w S²/8H = 10 m: 55 m at mid-span.

        >>> float(wire_height(40.0, 90.0, 10.0, 0.5))
        55.0

    References:
        Mehta, Principles of Power System, ch. 8; parabola over an inclined chord
    """
    return attach_a_m + (attach_b_m - attach_a_m) * at_ratio - 4.0 * sag_m * at_ratio * (1.0 - at_ratio)
