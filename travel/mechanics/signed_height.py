"""Signed heights: how each country rounds a measured headroom down, and what a sign still promises.

A signed height is already rounded down: never take the measuring tolerance off it a second time.
A reading within a millionth of a step counts as on the step (binary fractions of an inch or centimetre).
"""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number
from travel.units import M_PER_IN

_STEP_SLACK = 1e-6
_CM_PER_M = 100.0
_DM_PER_M = 10.0


def signed_height_uk_imperial(measured_m: Number) -> Number:
    """Height shown on a UK sign in feet and inches, from the measured headroom.

    S = 3 in x floor((h - 3 in) / 3 in)

    Args:
        measured_m: least measured headroom, h [m]

    Returns:
        height on the sign [m]

    Valid for:
        measured_m > 0

    Example:
        Traffic Signs Manual ch. 4: 14 ft 6 in measured, 14 ft 3 in signed (171 in).

        >>> round(float(signed_height_uk_imperial(174 * M_PER_IN)) / M_PER_IN, 6)
        171.0

    References:
        Traffic Signs Manual ch. 4 (2013), 7.10: subtract 3 in, round down to a multiple of 3 in
    """
    less_in = measured_m / M_PER_IN - 3.0
    return 3.0 * np.floor(less_in / 3.0 + _STEP_SLACK) * M_PER_IN


def measured_from_signed_uk_imperial(signed_m: Number) -> Number:
    """Least measured headroom that a UK sign in feet and inches can stand for.

    h >= S + 3 in

    Args:
        signed_m: height on the sign, S [m]

    Returns:
        least measured headroom [m]

    Valid for:
        signed_m > 0

    Example:
        Signed 14 ft 3 in (171 in): at least 174 in was measured.

        >>> round(float(measured_from_signed_uk_imperial(171 * M_PER_IN)) / M_PER_IN, 6)
        174.0

    References:
        Traffic Signs Manual ch. 4 (2013), 7.10, turned round
    """
    return signed_m + 3.0 * M_PER_IN


def signed_height_uk_metric(measured_m: Number) -> Number:
    """Height shown on a UK sign in metres, from the measured headroom.

    S = 0.1 m x floor((floor(100 h) - 8) / 10): second decimal 8 or 9 dropped, 0 to 7 dropped and 0.1 m taken off

    Args:
        measured_m: least measured headroom, h [m]

    Returns:
        height on the sign [m]

    Valid for:
        measured_m > 0

    Example:
        Traffic Signs Manual ch. 4: 4.19 m measured, 4.1 m signed.

        >>> round(float(signed_height_uk_metric(4.19)), 6)
        4.1

    References:
        Traffic Signs Manual ch. 4 (2013), 7.12
    """
    whole_cm = np.floor(measured_m * _CM_PER_M + _STEP_SLACK)
    return np.floor((whole_cm - 8.0) / 10.0 + _STEP_SLACK) / _DM_PER_M


def measured_from_signed_uk_metric(signed_m: Number) -> Number:
    """Least measured headroom that a UK sign in metres can stand for.

    h >= S + 0.08 m

    Args:
        signed_m: height on the sign, S [m]

    Returns:
        least measured headroom [m]

    Valid for:
        signed_m > 0

    Example:
        Signed 4.1 m: at least 4.18 m was measured.

        >>> round(float(measured_from_signed_uk_metric(4.1)), 6)
        4.18

    References:
        Traffic Signs Manual ch. 4 (2013), 7.12, turned round
    """
    return signed_m + 8.0 / _CM_PER_M


def signed_height_canada(measured_m: Number) -> Number:
    """Height shown on a Canadian sign, from the measured headroom.

    S = 0.1 m x floor(h / 0.1 m)

    Args:
        measured_m: least measured headroom, h [m]

    Returns:
        height on the sign [m]

    Valid for:
        measured_m > 0

    Example:
        4.29 m measured, rounded down.

        >>> round(float(signed_height_canada(4.29)), 6)
        4.2

    References:
        Canadian practice: sign under the legal height + 15 cm or under 4.3 m, rounded down to 0.1 m
    """
    return np.floor(measured_m * _DM_PER_M + _STEP_SLACK) / _DM_PER_M


def measured_from_signed_canada(signed_m: Number) -> Number:
    """Least measured headroom that a Canadian sign can stand for.

    h >= S, nothing is taken off before rounding

    Args:
        signed_m: height on the sign, S [m]

    Returns:
        least measured headroom [m]

    Valid for:
        signed_m > 0

    Example:
        Signed 4.2 m: at least 4.2 m was measured, no more is promised.

        >>> float(measured_from_signed_canada(4.2))
        4.2

    References:
        Canadian practice: rounded down to 0.1 m, turned round
    """
    return signed_m * 1.0


def signed_height_us_mutcd(measured_m: Number, frost_m: Number) -> Number:
    """Height shown on a US low-clearance sign, from the measured headroom.

    S = 1 in x floor((h - frost) / 1 in)

    Args:
        measured_m: least measured headroom, h [m]
        frost_m: allowance for frost heave, 0 to 3 in [m]

    Returns:
        height on the sign [m]

    Valid for:
        measured_m > 0
        0 <= frost_m <= 0.0763

    Example:
        170.7 in measured, no frost: shown to the nearest inch not exceeding it.

        >>> round(float(signed_height_us_mutcd(170.7 * M_PER_IN, 0.0)) / M_PER_IN, 6)
        170.0

    References:
        MUTCD 2009, 2C.27: nearest 1 in not exceeding the actual clearance; frost areas up to 3 in off
    """
    return np.floor((measured_m - frost_m) / M_PER_IN + _STEP_SLACK) * M_PER_IN


def measured_from_signed_us_mutcd(signed_m: Number) -> Number:
    """Least measured headroom that a US low-clearance sign can stand for.

    h >= S; an allowance for frost is not promised to have been taken off

    Args:
        signed_m: height on the sign, S [m]

    Returns:
        least measured headroom [m]

    Valid for:
        signed_m > 0

    Example:
        Signed 13 ft 6 in (162 in): at least 162 in was measured.

        >>> round(float(measured_from_signed_us_mutcd(162 * M_PER_IN)) / M_PER_IN, 6)
        162.0

    References:
        MUTCD 2009, 2C.27, turned round
    """
    return signed_m * 1.0


def headroom_without_sign(legal_m: Number, over_m: Number, least_m: Number) -> Number:
    """Headroom that must be there where no height is signed: below it the rule asks for a sign.

    the greater of legal height + a margin and a fixed height

    Args:
        legal_m: greatest legal height of vehicles; 0 where the rule counts from none [m]
        over_m: margin over it below which a sign is asked for; US 12 in, Canada 15 cm [m]
        least_m: fixed height below which a sign is asked for; Great Britain 16 ft 6 in, Canada 4.3 m, else 0 [m]

    Returns:
        least headroom without a sign [m]

    Valid for:
        legal_m >= 0
        over_m >= 0
        least_m >= 0

    Example:
        US, legal height 13 ft 6 in: signed below 14 ft 6 in (174 in).

        >>> round(float(headroom_without_sign(162 * M_PER_IN, 12 * M_PER_IN, 0.0)) / M_PER_IN, 6)
        174.0

    References:
        MUTCD 2009, 2C.27 (below statutory height + 12 in)
        Canadian practice: below the legal height + 15 cm or below 4.3 m
        HSE, vehicle height (standard minimum headroom 16 ft 6 in, 5.03 m)
    """
    return np.maximum(legal_m + over_m, least_m)


def headroom_left(headroom_m: Number, height_m: Number, sag_loss_m: Number) -> Number:
    """Room left over a rig under a bridge.

    headroom - travelling height - what a dip of the road takes off

    Args:
        headroom_m: headroom at the rig's path, no more than is sure [m]
        height_m: overall travelling height, tolerance included [m]
        sag_loss_m: loss of headroom under a long rig in a dip of the road [m]

    Returns:
        room left; negative: it strikes [m]

    Valid for:
        headroom_m > 0
        height_m > 0
        sag_loss_m >= 0

    Example:
        HSE: vehicles of 4.2 m, 4.65 m provided.

        >>> round(float(headroom_left(4.65, 4.2, 0.0)), 2)
        0.45

    References:
        difference of heights; HSE, vehicle height (4.65 m for 4.2 m)
    """
    return headroom_m - height_m - sag_loss_m
