"""Derived statics of a machine on a ramp (W 12 t, wheelbase 3.0, b 1.4, z 1.1), winch pulls, recovery crews' rule.

Rows agree with moments taken by hand; g 9.81 where newtons are printed.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.grip import front_axle_load, rear_axle_load
from travel.mechanics.ramp_statics import (
    free_axle_load,
    grade_resistance_degree_rule,
    grip_needed_on_slope,
    holding_axle_load,
    ramp_share,
    reaction_share,
    tip_back_ratio,
)
from travel.mechanics.resistance import total_resistance

W, L, B, Z = 12000.0, 3.0, 1.4, 1.1
ROWS = [
    (0, 5600.0, 6400.0, 0.0, 0.0),
    (10, 4750.9, 7066.8, 0.1763, 0.2949),
    (15, 4270.4, 7320.7, 0.2679, 0.4243),
    (20, 3757.4, 7518.9, 0.3640, 0.5459),
]


@pytest.mark.parametrize(("degrees", "front", "rear", "all_wheels", "rear_only"), ROWS)
def test_loads_and_grip(degrees: float, front: float, rear: float, all_wheels: float, rear_only: float) -> None:
    th = np.radians(degrees)
    slope, cos, sin = np.tan(th), np.cos(th), np.sin(th)
    assert front_axle_load(W, slope, 0.0, 0.0, L - B, Z, L) == pytest.approx(front, abs=0.05)
    assert rear_axle_load(W, slope, 0.0, 0.0, L - B, Z, L) == pytest.approx(rear, abs=0.05)
    cg_x = B * cos - Z * sin
    plumb = [reaction_share(W, cg_x, L * cos, 0.0), reaction_share(W, cg_x, 0.0, L * cos)]
    assert [v * cos for v in plumb] == pytest.approx([front, rear], abs=0.05)
    free = free_axle_load(W, cg_x, L * cos, L * sin, slope, 0.0, 0.0)
    assert free == pytest.approx(front, abs=0.05)
    assert holding_axle_load(W, slope, free, slope) == pytest.approx(rear, abs=0.05)
    assert front + rear == pytest.approx(W * cos, abs=0.11)
    if degrees:
        assert grip_needed_on_slope(W, slope, W * cos) == pytest.approx(all_wheels, abs=5e-5)
        assert grip_needed_on_slope(W, slope, rear) == pytest.approx(rear_only, abs=5e-5)


def test_tipping_back_and_each_ramp() -> None:
    assert np.degrees(np.arctan(tip_back_ratio(B, Z))) == pytest.approx(51.843, abs=5e-4)
    on_slope = rear_axle_load(W, np.tan(np.radians(15)), 0.0, 0.0, L - B, Z, L)
    assert ramp_share(on_slope, 0.0, 0.0, Z, 2.0) == pytest.approx(3660.0, abs=1.0)
    assert ramp_share(6400.0, 0.0, 0.0, Z, 2.0) == pytest.approx(3200.0)


@pytest.mark.parametrize(("degrees", "kn"), [(5, 12.605), (10, 22.760), (15, 32.742), (20, 42.475)])
def test_winch(degrees: float, kn: float) -> None:
    assert total_resistance(W * 9.81, 0.02, np.tan(np.radians(degrees))) / 1000 == pytest.approx(kn, abs=6e-4)


@pytest.mark.parametrize(("degrees", "pounds"), [(15, 1425), (30, 2850)])
def test_field_rule(degrees: float, pounds: float) -> None:
    assert grade_resistance_degree_rule(5700.0, np.radians(degrees)) == pytest.approx(pounds, abs=0.5)


def test_field_rule_is_low_below_thirty_degrees() -> None:
    th = np.radians(np.linspace(1.0, 29.9, 200))
    short = 1.0 - grade_resistance_degree_rule(1.0, th) / np.sin(th)
    assert np.all(short > 0.0)
    assert short.max() == pytest.approx(0.045, abs=0.001)
    assert 100 * grade_resistance_degree_rule(1.0, np.radians(5.0)) == pytest.approx(8.33, abs=0.005)


def test_flat_hard_ground_five_percent() -> None:
    assert total_resistance(5700.0, 0.05, 0.0) == pytest.approx(285.0)
