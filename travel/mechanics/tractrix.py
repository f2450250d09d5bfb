"""Trailing axles: how a rear axle, a drawbar or a semitrailer follows any path (low speed, no slip).

The angle between the hitch's travel and the drawbar obeys d(phi)/ds = kappa - sin(phi) / L, exact forward
and in reverse (Sayers 1991, Vehicle System Dynamics 20(5):297-308, for the low-speed path as a tractrix).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from travel.mechanics._types import Number


def drawbar_angle_straight(initial_rad: Number, distance_m: Number, drawbar_m: Number) -> Number:
    """Angle of a drawbar after its hitch has moved along a straight.

    tan(phi / 2) = tan(phi_0 / 2) exp(-s / L)

    Args:
        initial_rad: angle between the hitch's travel and the drawbar at the start [rad]
        distance_m: distance the hitch moves [m]
        drawbar_m: length from hitch to axle [m]

    Returns:
        angle at the end [rad]

    Valid for:
        abs(initial_rad) < np.pi
        distance_m >= 0
        drawbar_m > 0

    Example:
        Derived: after one length of travel, from 90 degrees.

        >>> print(round(drawbar_angle_straight(np.pi / 2, 6.0, 6.0), 5))
        0.70503

    References:
        Derived: closed solution of the tractrix on a straight; equation as in Sayers 1991
    """
    shrink = np.exp(-distance_m / drawbar_m)
    return 2.0 * np.arctan(np.tan(initial_rad / 2.0) * shrink)  # type: ignore[no-any-return]  # np.tan is Any


def drawbar_angle_circle(radius_m: Number, drawbar_m: Number, distance_m: Number) -> Number:
    """Angle of a drawbar after its hitch has moved along a circle, beginning in line.

    tan(phi / 2) = (b (E - 1) + q (E + 1)) / (a (E - 1)), a = 1/R, b = 1/L, q = sqrt(b^2 - a^2),
    E = (b - q) / (b + q) exp(-q s); tends to asin(L / R)

    Args:
        radius_m: radius of the hitch's circle [m]
        drawbar_m: length from hitch to axle [m]
        distance_m: distance the hitch moves [m]

    Returns:
        angle between the hitch's travel and the drawbar [rad]

    Valid for:
        drawbar_m > 0
        radius_m > drawbar_m
        distance_m >= 0

    Example:
        Derived, checked by numerical integration: R 12, L 6, after 10 m.

        >>> print(round(drawbar_angle_circle(12.0, 6.0, 10.0), 5))
        0.41055

    References:
        Derived: closed solution of the tractrix on a circle; equation as in Sayers 1991
    """
    a = 1.0 / radius_m
    b = 1.0 / drawbar_m
    q = np.sqrt(b**2 - a**2)
    E = (b - q) / (b + q) * np.exp(-q * distance_m)
    return 2.0 * np.arctan((b * (E - 1.0) + q * (E + 1.0)) / (a * (E - 1.0)))


def trailing_axles(
    path_m: NDArray[np.float64],
    headings_rad: NDArray[np.float64],
    drawbars_m: NDArray[np.float64],
    hitches_m: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Places and headings of every trailing axle while the first axle's middle follows a path.

    Procedure: ``drawbar_angle_straight`` on each step of the path, unit after unit; each unit's coupling is the
    next unit's path. Exact for the first unit on a path of straights; for the others the error falls with the step.

    Args:
        path_m: points the first axle's middle passes, shape (n, 2) [m]
        headings_rad: heading of each unit at the first point, anticlockwise from x, shape (k,) [rad]
        drawbars_m: length of each unit from its coupling (first: front axle) to its axle, shape (k,) [m]
        hitches_m: distance of the next unit's coupling behind each unit's axle, shape (k,) [m]

    Returns:
        x, y and heading of each axle at each point of the path, shape (k, n, 3) [m, m, rad]

    Valid for:
        drawbars_m > 0
        hitches_m > -drawbars_m

    Example:
        Derived: a straight pull leaves a unit in line where it is.

        >>> line = np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]])
        >>> print(trailing_axles(line, np.array([0.0]), np.array([3.0]), np.array([0.0]))[0, :, 0])
        [-3. -2. -1.]

    References:
        Sayers 1991, Vehicle System Dynamics 20(5):297-308 (any path, forward and in reverse)
    """
    lead = np.asarray(path_m, dtype=np.float64)
    units = []
    for heading, drawbar, hitch in zip(headings_rad, drawbars_m, hitches_m, strict=True):
        heading_rad = _headings(lead, float(heading), float(drawbar))
        ahead = np.column_stack([np.cos(heading_rad), np.sin(heading_rad)])
        axle = lead - drawbar * ahead
        units.append(np.column_stack([axle, heading_rad]))
        lead = axle - hitch * ahead
    return np.array(units)


def _headings(lead_m: NDArray[np.float64], heading_rad: float, drawbar_m: float) -> NDArray[np.float64]:
    """Give the heading of one unit at each point of its coupling's path."""
    steps = np.diff(lead_m, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    travel = np.arctan2(steps[:, 1], steps[:, 0])
    headings = np.empty(len(lead_m))
    headings[0] = heading_rad
    for i, (length, direction) in enumerate(zip(lengths, travel, strict=True)):
        angle = np.angle(np.exp(1j * (direction - heading_rad)))
        if length > 0.0:
            heading_rad += angle - float(drawbar_angle_straight(angle, float(length), drawbar_m))
        headings[i + 1] = heading_rad
    return headings
