"""Slopes: rise over run, percent, degrees; a slope as one vector."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])


def grade_over_window(rise_m: Number, window_m: Number) -> Number:
    """Grade over a window, rise over run.

    g = rise / w, with the run measured in plan

    Args:
        rise_m: height at the end of the window less height at its start [m]
        window_m: plan length of the window [m]

    Returns:
        grade, + uphill in the direction of the window [-]

    Valid for:
        window_m > 0

    Example:
        TB 9-2350-292-10 p. 21: 25 ft in 100 ft is 25 %.

        >>> grade_over_window(25.0, 100.0)
        0.25

    References:
        US Army TB 9-2350-292-10, p. 21 (grade as rise over horizontal run)
    """
    return rise_m / window_m


def grade_half_band(height_sd_m: Number, window_m: Number) -> Number:
    """95 % half-band of a grade between two independently measured heights.

    u = 1.96 sqrt(2) sigma / w

    Args:
        height_sd_m: standard deviation of one height [m]
        window_m: plan length of the window [m]

    Returns:
        half-band of the grade [-]

    Valid for:
        height_sd_m >= 0
        window_m > 0

    Example:
        Heights to 0.5 m, window 20 m: about seven percent.

        >>> round(grade_half_band(0.5, 20.0), 4)
        0.0693

    References:
        JCGM 100:2008 (GUM), 5.1.2 law of propagation for a difference; coverage factor 1.96
    """
    return 1.96 * np.sqrt(2.0) * height_sd_m / window_m
