"""A loader-crane operating manual, p. 23-24: wind on a load with large sail (the form of EN 13000).

Load 2 t, A 9 m2, c_w 1: ratio 0.2 under 2, factor printed as 0.5 (0.516, cut); table speeds 36 and 50 become 18 and
25 km/h with the cut factor.
"""

from __future__ import annotations

import pytest

from travel.mechanics.setup import wind_factor_sail_en_13000


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_factor() -> None:
    factor = wind_factor_sail_en_13000(2000.0, 1.0, 9.0)
    assert factor == printed("0.5")
    assert 36 * factor == pytest.approx(18, rel=0.04)
    assert 50 * factor == pytest.approx(25, rel=0.04)


def test_no_credit_above_one() -> None:
    assert wind_factor_sail_en_13000(20000.0, 1.0, 9.0) == 1.0
