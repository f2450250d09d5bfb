"""US Bureau of Mines IC 8758 (Kaufman & Ault 1977), recommended lane widths for tangent sections, ft.

Rows from memory; they follow the rule. Factor 3.5 for two lanes is confirmed by a mine road design guide.
Not tested: superelevation and runout tables (memory only), stopping distances (printed as graphs).
"""

from __future__ import annotations

import pytest

from travel.mechanics.curve import lane_width_ic8758
from travel.units import M_PER_FT

ROWS = {
    8: (16, 28, 40, 52),
    9: (18, 31.5, 45, 58.5),
    10: (20, 35, 50, 65),
    11: (22, 38.5, 55, 71.5),
    14: (28, 49, 70, 91),
    16: (32, 56, 80, 104),
    20: (40, 70, 100, 130),
}


@pytest.mark.parametrize(
    ("vehicle_ft", "lanes", "width_ft"),
    [(vehicle, lanes, width) for vehicle, row in ROWS.items() for lanes, width in enumerate(row, start=1)],
)
def test_lane_width(vehicle_ft: float, lanes: float, width_ft: float) -> None:
    assert abs(lane_width_ic8758(vehicle_ft * M_PER_FT, lanes) / M_PER_FT - width_ft) <= 0.05
