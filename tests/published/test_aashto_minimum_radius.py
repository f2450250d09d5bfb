"""AASHTO, A Policy on Geometric Design of Highways and Streets (2001, 2004): minimum radius for limiting e and f.

From memory, recomputed. Not used: a handbook's radii for e_max 12 %, which come from a distributed-f method.
"""

from __future__ import annotations

import pytest

from travel.mechanics.curve import curve_radius_aashto_metric, curve_radius_aashto_us
from travel.units import M_PER_FT, MPS_PER_MPH, kmh_to_mps

METRIC = [
    (0.04, 20, 0.35, 8),
    (0.04, 30, 0.28, 22),
    (0.04, 40, 0.23, 47),
    (0.04, 50, 0.19, 86),
    (0.04, 60, 0.17, 135),
    (0.04, 80, 0.14, 280),
    (0.06, 30, 0.28, 21),
    (0.06, 40, 0.23, 43),
    (0.06, 50, 0.19, 79),
    (0.06, 60, 0.17, 123),
]
US = [(0.04, 15, 0.32, 42), (0.04, 20, 0.27, 86), (0.04, 25, 0.23, 154), (0.04, 30, 0.20, 250)]


@pytest.mark.parametrize(("superelevation", "kmh", "friction", "radius_m"), METRIC)
def test_metric(superelevation: float, kmh: float, friction: float, radius_m: float) -> None:
    assert abs(curve_radius_aashto_metric(kmh_to_mps(kmh), superelevation, friction) - radius_m) <= 0.5


@pytest.mark.parametrize(("superelevation", "mph", "friction", "radius_ft"), US)
def test_us(superelevation: float, mph: float, friction: float, radius_ft: float) -> None:
    computed_m = curve_radius_aashto_us(mph * MPS_PER_MPH, superelevation, friction)
    assert abs(computed_m / M_PER_FT - radius_ft) <= 0.5
