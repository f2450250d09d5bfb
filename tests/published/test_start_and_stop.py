"""Nunnally, Construction Methods and Management, ch. 4 (altitude, traction); 30 CFR 56.14101 table M-1 read backwards.

The construction methods text is from memory, recomputed. Of the brake table, one cell is left out: 36,000 to 70,000 lb
at 14 mph is printed 62 ft where its own basis gives 63.1.
"""

from __future__ import annotations

import pytest

from travel.mechanics.traction import altitude_pull_ratio, speed_stopped_in_sight, start_pull

MPH, FT = 0.44704, 0.3048
TABLE_M_1 = {
    0.5: (34, 38, 43, 48, 53, 59, 64, 70, 76, 83, 89),
    1.0: (41, 46, 52, 58, None, 70, 76, 83, 90, 97, 104),
    1.5: (48, 54, 61, 67, 74, 81, 88, 95, 103, 111, 119),
    2.5: (63, 71, 78, 86, 94, 103, 111, 120, 129, 139, 148),
}


def test_example_4_4():
    """10,000 ft: 21 % lost, 40,000 lb become 31,600 lb; traction of 44,000 lb on wet earth (0.45) is 19,800 lb."""
    pull = 40000.0 * altitude_pull_ratio(10000 * FT, 3000 * FT, 0.03, 1000 * FT)
    assert pull == pytest.approx(31600.0)
    assert start_pull(pull, 0.45, 44000.0, 44000.0, 0.0) == pytest.approx(19800.0)


@pytest.mark.parametrize("lag_s", TABLE_M_1)
def test_table_m_1_backwards(lag_s: float):
    """1 s of the operator, 9.66 ft/s2; feet are rounded up: the printed distance suffices, 1.5 ft less does not."""
    for mph, feet in zip(range(10, 21), TABLE_M_1[lag_s], strict=True):
        if feet is not None:
            enough = speed_stopped_in_sight(feet * FT, 1.0 + lag_s, 0.0, 9.66 * FT, 0.0)
            short = speed_stopped_in_sight((feet - 1.5) * FT, 1.0 + lag_s, 0.0, 9.66 * FT, 0.0)
            assert short < mph * MPH <= enough
