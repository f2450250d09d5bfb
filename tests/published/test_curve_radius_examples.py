"""Solved problems on the least radius of a bend.

1. 70 mph, e 8 %, f 0.10: printed 1,814.80 ft; recomputed 1,814.81, so the last digit was cut, not rounded.
2. 60 km/h, e 0.07 and f 0.15 (implied): printed 128.84 m; recomputed 128.85, cut likewise.
Tolerance one unit of the last digit for that reason.
"""

from __future__ import annotations

from travel.mechanics.curve import curve_radius_aashto_metric, curve_radius_aashto_us
from travel.units import M_PER_FT, MPS_PER_MPH, kmh_to_mps


def test_70_mph() -> None:
    assert 0.0 <= curve_radius_aashto_us(70 * MPS_PER_MPH, 0.08, 0.10) / M_PER_FT - 1814.80 < 0.0151


def test_60_kmh() -> None:
    assert 0.0 <= curve_radius_aashto_metric(kmh_to_mps(60.0), 0.07, 0.15) - 128.84 < 0.0101
