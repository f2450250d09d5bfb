"""29 CFR 1926.600(a)(6), working near lines: 10 ft to 50 kV, plus 0.4 in for each kV over; or twice the insulator.

Values follow from the rule's own words; the rule prints no table. Feet.
"""

from __future__ import annotations

import pytest

from travel.mechanics.line_distance import (
    working_clearance_osha_1926_600,
    working_clearance_osha_1926_600_insulator,
)
from travel.units import M_PER_FT, V_PER_KV


@pytest.mark.parametrize(
    ("voltage_kv", "feet"),
    [
        (0.4, 10.0),
        (50, 10.0),
        (69, 10.633),
        (115, 12.167),
        (138, 12.933),
        (161, 13.7),
        (230, 16.0),
        (345, 19.833),
        (500, 25.0),
    ],
)
def test_working_distance(voltage_kv: float, feet: float) -> None:
    assert working_clearance_osha_1926_600(voltage_kv * V_PER_KV) / M_PER_FT == pytest.approx(feet, abs=0.0005)


def test_insulator_limb_never_under_ten_feet() -> None:
    assert working_clearance_osha_1926_600_insulator(6 * M_PER_FT) / M_PER_FT == pytest.approx(12.0)
    assert working_clearance_osha_1926_600_insulator(4 * M_PER_FT) / M_PER_FT == pytest.approx(10.0)
