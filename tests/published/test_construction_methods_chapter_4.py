"""Nunnally, Construction Methods and Management, chapter 4, examples 4-1, 4-2, 4-4 (from memory, recomputed).

US units: lb, short tons, ft.
"""

from __future__ import annotations

import pytest

from travel.mechanics.grip import grip_available, usable_pull
from travel.mechanics.pull import altitude_pull_ratio_above_914m
from travel.mechanics.resistance import (
    effective_grade,
    grade_resistance_percent_rule,
    rolling_ratio_by_penetration,
    rolling_resistance,
    total_resistance_percent_rule,
)
from travel.units import M_PER_FT, M_PER_IN

LB_PER_TON = 2000.0


def test_example_4_1_rolling_resistance_factor() -> None:
    assert abs(rolling_ratio_by_penetration(2 * M_PER_IN) * LB_PER_TON - 100) <= 0.5


@pytest.mark.parametrize(("grade_pct", "total_lb", "effective_pct"), [(5, 20_000, 10), (-5, 0, 0)])
def test_example_4_1_total_resistance_and_effective_grade(
    grade_pct: float, total_lb: float, effective_pct: float
) -> None:
    rolling = rolling_ratio_by_penetration(2 * M_PER_IN)
    total = total_resistance_percent_rule(100 * LB_PER_TON, rolling, grade_pct / 100)
    assert abs(total - total_lb) <= 0.5
    assert abs(100 * effective_grade(grade_pct / 100, rolling) - effective_pct) <= 0.05


def test_example_4_2_crawler_towing_each_part_and_sum() -> None:
    """The crawler's own rolling resistance is taken as nothing."""
    towed = rolling_resistance(100_000.0, 100 / LB_PER_TON, 0.0)
    crawler_grade = grade_resistance_percent_rule(80_000.0, 0.04)
    towed_grade = grade_resistance_percent_rule(100_000.0, 0.04)
    assert abs(towed - 5000) <= 0.5
    assert abs(crawler_grade - 3200) <= 0.5
    assert abs(towed_grade - 4000) <= 0.5
    assert abs(towed + crawler_grade + towed_grade - 12_200) <= 0.5


def test_example_4_4_altitude_takes_21_percent() -> None:
    left = altitude_pull_ratio_above_914m(10_000 * M_PER_FT)
    assert abs(100 * (1 - left) - 21) <= 0.5
    assert abs(40_000 * left - 31_600) <= 0.5


def test_example_4_4_grip_is_the_limit() -> None:
    assert abs(usable_pull(0.45, 44_000.0) - 19_800) <= 0.5
    assert abs(grip_available(0.45, 44_000.0, 44_000.0) * 44_000 - 19_800) <= 0.5
    assert usable_pull(0.45, 44_000.0) < 22_000
