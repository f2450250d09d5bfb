"""Distance between a machine and a wire, and the distances a formula (not a table) asks for."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from travel.mechanics._types import Number
from travel.units import M_PER_FT, M_PER_IN, V_PER_KV


def working_clearance_osha_1926_600(voltage_v: Number) -> Number:
    """Least working distance from a live line by the US rule for motor vehicles and mechanised equipment.

    C = 10 ft, plus 0.4 in for each kV over 50 kV

    Args:
        voltage_v: nominal voltage between phases [V]

    Returns:
        least distance [m]

    Valid for:
        voltage_v > 0

    Example:
        230 kV: 16 ft.

        >>> round(float(working_clearance_osha_1926_600(230e3)) / M_PER_FT, 3)
        16.0

    References:
        29 CFR 1926.600(a)(6), working, text of the former 1926.550(a)(15)
    """
    over_kv = np.maximum(voltage_v / V_PER_KV - 50.0, 0.0)
    return 10.0 * M_PER_FT + 0.4 * M_PER_IN * over_kv


def working_clearance_osha_1926_600_insulator(insulator_m: Number) -> Number:
    """Least working distance over 50 kV by the same US rule's other limb, twice the insulator.

    C = 2 x insulator length, never under 10 ft

    Args:
        insulator_m: length of the line insulator [m]

    Returns:
        least distance [m]

    Valid for:
        insulator_m > 0

    Example:
        A short insulator: the floor of 10 ft governs.

        >>> round(float(working_clearance_osha_1926_600_insulator(1.0)), 3)
        3.048

    References:
        29 CFR 1926.600(a)(6), working, text of the former 1926.550(a)(15)
    """
    return np.maximum(2.0 * insulator_m, 10.0 * M_PER_FT)


def line_height_india_rule_77(voltage_v: Number) -> Number:
    """Least height of a wire above ground by the Indian rule for lines over 33 kV.

    h = 5.2 m + 0.3 m x ceil((kV - 33)/33)

    Args:
        voltage_v: nominal voltage [V]

    Returns:
        least height; along or across a street never take less than 6.1 m [m]

    Valid for:
        voltage_v > 33000

    Example:
        400 kV; a page that quotes the rule prints 8.84 m, from feet of 0.305 m.

        >>> round(float(line_height_india_rule_77(400e3)), 1)
        8.8

    References:
        Indian Electricity Rules 1956, rule 77
    """
    steps_count = np.ceil((voltage_v / V_PER_KV - 33.0) / 33.0 - 1e-9)
    return 5.2 + 0.3 * steps_count


def bar_height(wire_height_m: Number, clearance_m: Number, tolerance_m: Number) -> Number:
    """Height of the bar of a goalpost each side of a passage under a line.

    h = lowest wire - clearance - tolerance

    Args:
        wire_height_m: lowest wire at the passage, at its greatest sag [m]
        clearance_m: clearance the line's owner asks for [m]
        tolerance_m: tolerance of the height as known [m]

    Returns:
        greatest height of the bar above the road [m]

    Valid for:
        wire_height_m > 0
        clearance_m >= 0
        tolerance_m >= 0

    Example:
        Wire at 5.2 m, 6 ft (1.829 m) by 29 CFR 1926.1411 Table T, nothing for tolerance.

        >>> round(float(bar_height(5.2, 1.829, 0.0)), 2)
        3.37

    References:
        practice of passages fenced under overhead lines (HSE GS6, from memory); the clearance is the owner's
    """
    return wire_height_m - clearance_m - tolerance_m


def distance_across_wire(sideways_gap_m: Number, height_gap_m: Number) -> Number:
    """Distance from the nearest edge of a body to a wire, in the plane square to the wire.

    r = sqrt(dx² + dz²), each gap taken as nothing where body and wire overlap in it

    Args:
        sideways_gap_m: level distance from the body's side to the wire, swing and outer wire taken off, dx [m]
        height_gap_m: height of the wire above the body's top, dz [m]

    Returns:
        distance; 0 where the body reaches the wire [m]

    Valid for:
        -1e6 < sideways_gap_m < 1e6
        -1e6 < height_gap_m < 1e6

    Example:
        3 m aside and 4 m up.

        >>> float(distance_across_wire(3.0, 4.0))
        5.0

    References:
        geometry of a box edge and a straight level wire
    """
    return np.hypot(np.maximum(sideways_gap_m, 0.0), np.maximum(height_gap_m, 0.0))


def sideways_gap(offset_m: Number, half_spread_m: Number, swing_m: Number, body_half_width_m: Number) -> Number:
    """Level gap between a machine's side and the outer wire of a line alongside, swung towards it.

    dx = offset - half spread - swing - half width

    Args:
        offset_m: plan distance from the line's centre to the machine's centreline [m]
        half_spread_m: outer wire from the line's centre [m]
        swing_m: sideways swing of the outer wire [m]
        body_half_width_m: half the machine's width where it is nearest, wander included [m]

    Returns:
        gap; negative where the wire may stand over the machine [m]

    Valid for:
        offset_m >= 0
        half_spread_m >= 0
        swing_m >= 0
        body_half_width_m >= 0

    Example:
        A line 10 m off with wires 1.2 m out, swinging 1.5 m, machine 2.6 m wide.

        >>> round(float(sideways_gap(10.0, 1.2, 1.5, 1.3)), 6)
        6.0

    References:
        sum of distances
    """
    return offset_m - half_spread_m - swing_m - body_half_width_m


def distance_to_sloping_wire(sideways_m: Number, height_m: Number, wire_slope_ratio: Number) -> Number:
    """Distance in space from a point to a straight wire that slopes along its own line.

    r = sqrt(y² + z² / (1 + g²))

    Args:
        sideways_m: level distance from the point to the wire's vertical plane, y [m]
        height_m: plumb height of the wire over the point's foot in that plane, z [m]
        wire_slope_ratio: rise over run of the wire there, g [-]

    Returns:
        shortest distance [m]

    Valid for:
        -1e6 < sideways_m < 1e6
        -1e6 < height_m < 1e6

    Example:
        A level wire 3 m aside and 4 m up.

        >>> float(distance_to_sloping_wire(3.0, 4.0, 0.0))
        5.0

    References:
        distance of a point from a line in space
    """
    return np.sqrt(sideways_m**2 + height_m**2 / (1.0 + wire_slope_ratio**2))


def distance_to_wire_piece(
    point_xyz_m: NDArray[np.float64], end_a_xyz_m: NDArray[np.float64], end_b_xyz_m: NDArray[np.float64]
) -> Number:
    """Distance in space from a point to a straight piece of wire between two ends. Procedure.

    r = |P - A - t (B - A)|, t = (P - A)·(B - A) / |B - A|² kept within 0 and 1

    Args:
        point_xyz_m: the point; shape (…, 3) [m]
        end_a_xyz_m: one end of the wire; shape (…, 3) [m]
        end_b_xyz_m: the other end; shape (…, 3) [m]

    Returns:
        shortest distance; shape (…) [m]

    Valid for:
        -1e8 < point_xyz_m < 1e8

    Example:
        Beyond the end the end itself is nearest.

        >>> a, b = np.array([0.0, 0.0, 6.0]), np.array([10.0, 0.0, 6.0])
        >>> float(distance_to_wire_piece(np.array([13.0, 0.0, 2.0]), a, b))
        5.0

    References:
        distance of a point from a segment in space
    """
    along_m = end_b_xyz_m - end_a_xyz_m
    square_m2 = np.maximum(np.sum(along_m**2, axis=-1), 1e-24)
    t = np.clip(np.sum((point_xyz_m - end_a_xyz_m) * along_m, axis=-1) / square_m2, 0.0, 1.0)
    nearest_m = end_a_xyz_m + np.expand_dims(t, -1) * along_m
    distance_m: Number = np.linalg.norm(point_xyz_m - nearest_m, axis=-1)
    return distance_m
