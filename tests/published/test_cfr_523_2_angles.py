"""49 CFR 523.2, approach, departure and breakover angle on the static loaded radius: rows derived from its words.

Exact rows: x 0.9, z 0.4, r 0.6 has tan(a/2) = 1/4; x 1.2, z 0.45, r 0.6 has 1/5; wheelbase 3.3 is 4 atan(1/8).
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.ramp_angles import approach_angle, breakover_angle, foot_clearance


@pytest.mark.parametrize(
    ("x", "z", "r", "degrees"),
    [
        (0.900, 0.400, 0.60, 28.07249),
        (1.000, 0.500, 0.60, 30.94634),
        (1.200, 0.450, 0.00, 20.55605),
        (1.200, 0.450, 0.30, 21.4883),
        (1.200, 0.450, 0.45, 22.0243),
        (1.200, 0.450, 0.60, 22.61986),
        (1.500, 0.400, 0.60, 15.76436),
        (0.900, 0.400, 0.00, 23.96249),
        (1.000, 0.500, 0.00, 26.56505),
        (1.500, 0.400, 0.00, 14.93142),
    ],
)
def test_approach(x: float, z: float, r: float, degrees: float) -> None:
    assert np.degrees(approach_angle(x, z, r)) == pytest.approx(degrees, abs=6e-5)


@pytest.mark.parametrize(("x", "z", "half"), [(0.9, 0.4, 1 / 4), (1.2, 0.45, 1 / 5), (1.0, 0.5, 0.276820)])
def test_tangent_of_half_the_angle(x: float, z: float, half: float) -> None:
    assert np.tan(approach_angle(x, z, 0.6) / 2) == pytest.approx(half, abs=1e-6)


def test_a_point_at_the_angle_just_touches_the_ramp() -> None:
    for x, z, r in ((0.9, 0.4, 0.6), (1.2, 0.45, 0.6), (1.5, 0.4, 0.6), (1.2, 0.45, 0.0)):
        assert foot_clearance(x, z, r, approach_angle(x, z, r)) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("e", "r", "h", "ramp", "clearance"),
    [(1.2, 0.9, 0.45, np.arctan(9 / 40), 0.2025), (1.2, 0.6, 0.45, np.radians(15), 0.149627)],
)
def test_foot_of_the_ramp(e: float, r: float, h: float, ramp: float, clearance: float) -> None:
    assert foot_clearance(e, h, r, ramp) == pytest.approx(clearance, abs=5e-7)


@pytest.mark.parametrize(
    ("base", "h", "r", "rear", "degrees", "points"),
    [
        (3.30, 0.40, 0.60, 1.65, 28.50007, 27.25399),
        (3.00, 0.40, 0.60, 1.50, 31.52873, 29.86283),
        (2.80, 0.35, 0.55, 1.40, 29.51302, 28.07249),
        (3.00, 0.40, 0.60, 1.00, 36.38757, 33.11134),
    ],
)
def test_breakover(base: float, h: float, r: float, rear: float, degrees: float, points: float) -> None:
    assert np.degrees(breakover_angle(h, rear, base - rear, r)) == pytest.approx(degrees, abs=6e-6)
    assert np.degrees(breakover_angle(h, rear, base - rear, 0.0)) == pytest.approx(points, abs=6e-6)
