"""Turning in several moves: forwards to one side and backwards to the other, so that the heading turns on one way.

The point that follows no other (the middle of the axle that does not steer, or the middle between axles that steer
alike) runs on arcs. Headings are measured from that at the start of all moves, towards the side turned to; a move
backwards has a negative radius, as its arc lies on the other side.
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def arc_along(radius_m: Number, from_rad: Number, to_rad: Number) -> Number:
    """How far one move on an arc carries a machine along the heading at the start of all moves.

    x = R (sin(b) - sin(a))

    Args:
        radius_m: radius of the arc, negative backwards [m]
        from_rad: heading at which the move begins [rad]
        to_rad: heading at which it ends [rad]

    Returns:
        distance along, + ahead [m]

    Valid for:
        abs(radius_m) > 0
        from_rad <= to_rad
        to_rad - from_rad <= 2 * np.pi

    Example:
        Derived: a quarter turn forwards on 5 m.

        >>> print(round(arc_along(5.0, 0.0, np.pi / 2), 4))
        5.0

    References:
        Derived: integral of the heading's cosine along an arc of a circle; no publication
    """
    return radius_m * (np.sin(to_rad) - np.sin(from_rad))


def arc_across(radius_m: Number, from_rad: Number, to_rad: Number) -> Number:
    """How far one move on an arc carries a machine across the heading at the start of all moves.

    y = R (cos(a) - cos(b))

    Args:
        radius_m: radius of the arc, negative backwards [m]
        from_rad: heading at which the move begins [rad]
        to_rad: heading at which it ends [rad]

    Returns:
        distance across, + to the side turned to [m]

    Valid for:
        abs(radius_m) > 0
        from_rad <= to_rad
        to_rad - from_rad <= 2 * np.pi

    Example:
        Derived: backwards on 5 m, from a third of a right angle on to two thirds.

        >>> print(round(arc_across(-5.0, np.pi / 6, np.pi / 3), 4))
        -1.8301

    References:
        Derived: integral of the heading's sine along an arc of a circle; no publication
    """
    return radius_m * (np.cos(from_rad) - np.cos(to_rad))
