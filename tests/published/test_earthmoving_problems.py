"""Solved problems on construction equipment (Latihan Soal Peralatan Konstruksi), problems 1 to 3. US units, lb.

The question of problem 2 is inferred from its printed solution.
"""

from __future__ import annotations

import pytest

from travel.mechanics.grip import usable_pull
from travel.mechanics.resistance import (
    effective_grade,
    grade_resistance_percent_rule,
    rolling_resistance,
    total_resistance_percent_rule,
)

LB_PER_TON = 2000.0


def test_problem_1_rolling_resistance_as_grade() -> None:
    assert abs(100 * effective_grade(0.0, 100 / LB_PER_TON) - 5) <= 0.5


@pytest.mark.parametrize(
    ("grade_pct", "gross_ton", "effective_pct", "resistance_lb"),
    [(4, 47, 9, 8460), (-4, 22, 1, 440)],
    ids=["out, loaded", "back, empty"],
)
def test_problem_1_effective_grade_and_resistance(
    grade_pct: float, gross_ton: float, effective_pct: float, resistance_lb: float
) -> None:
    rolling = 100 / LB_PER_TON
    assert abs(100 * effective_grade(grade_pct / 100, rolling) - effective_pct) <= 0.005
    total = total_resistance_percent_rule(gross_ton * LB_PER_TON, rolling, grade_pct / 100)
    assert abs(total - resistance_lb) <= 0.5


def test_problem_2_each_step() -> None:
    weight, rolling, grade = 72_000.0 + 100_000.0, 80 / LB_PER_TON, 0.05
    assert abs(rolling_resistance(weight, rolling, 0.0) - 6880) <= 0.5
    assert abs(grade_resistance_percent_rule(weight, grade) - 8600) <= 0.5
    assert abs(total_resistance_percent_rule(weight, rolling, grade) - 15480) <= 0.5


def test_problem_3_grip_limits_the_pull() -> None:
    assert abs(usable_pull(0.30, 18_000.0) - 5400) <= 0.5
