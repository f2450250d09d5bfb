"""Formulas for earth moving, restating a civil-engineering formula handbook (US units, lb and short tons).

Only the constants are printed there, no worked numbers; what is tested is that the functions carry them.
Left out: the page's SI conversions 173 N/t and 86.3 N/t, which do not follow from 40 and 20 lb per short ton.
"""

from __future__ import annotations

import pytest

from travel.mechanics.grip import usable_pull
from travel.mechanics.pull import altitude_pull_ratio_above_762m
from travel.mechanics.resistance import (
    grade_resistance_percent_rule,
    rolling_ratio_by_penetration,
    total_resistance_percent_rule,
)
from travel.units import M_PER_FT, M_PER_IN

LB_PER_TON = 2000.0


@pytest.mark.parametrize(("penetration_in", "lb_per_ton"), [(0, 40), (1, 70), (2, 100), (4, 160)])
def test_rolling_resistance_is_40_lb_per_ton_and_30_for_each_inch(penetration_in: float, lb_per_ton: float) -> None:
    assert abs(rolling_ratio_by_penetration(penetration_in * M_PER_IN) * LB_PER_TON - lb_per_ton) <= 0.5


def test_grade_resistance_is_20_lb_per_ton_for_each_percent() -> None:
    assert abs(grade_resistance_percent_rule(LB_PER_TON, 0.01) - 20) <= 0.5
    assert abs(grade_resistance_percent_rule(LB_PER_TON, -0.01) + 20) <= 0.5


def test_total_resistance_is_2_percent_1_5_percent_an_inch_and_1_percent_a_percent() -> None:
    rolling = rolling_ratio_by_penetration(2 * M_PER_IN)
    assert abs(total_resistance_percent_rule(100.0, rolling, 0.04) - (2 + 1.5 * 2 + 1 * 4)) <= 0.05


@pytest.mark.parametrize(("altitude_ft", "lost_pct"), [(0, 0), (2500, 0), (3500, 3), (4500, 6)])
def test_three_percent_of_pull_lost_each_1000_ft_above_2500(altitude_ft: float, lost_pct: float) -> None:
    assert abs(100 * (1 - altitude_pull_ratio_above_762m(altitude_ft * M_PER_FT)) - lost_pct) <= 0.05


def test_usable_pull_is_coefficient_times_driven_weight() -> None:
    assert usable_pull(0.5, 1000.0) == pytest.approx(500.0)
