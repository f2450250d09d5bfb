"""Printed numbers that the rules about lane and edge come back to.

Widening of bends (IRC problem: 2 lanes, 7 m, 220 m: 0.223 m); 29 CFR 1926.651(j)(2), 2 ft, and table B-1; a printed
comparison of pad-to-edge rules (4 m deep, 1.5 to 1 from the toe: 6 m); 2:1 spread (6.1 m by 15.25 m, 300 kPa, 4.58 m
down: 132 kPa); 30 CFR 56.14101 table M-1 (10 to 20 mph, rounded up to whole feet); Soil and Tillage Research 96 (2007).
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.beside import edge_standoff, sight_on_one_lane, support_standoff, swept_width, wheel_gap
from travel.mechanics.edges import batter_angle
from travel.mechanics.ground_load import tyre_pressure_under_load
from travel.units import M_PER_FT, MPS_PER_MPH

FACE = np.pi / 2


def test_widening_of_a_bend() -> None:
    bend = 7.0 / 220.0
    thin, reach = 0.001, 7.0  # a line from the rear axle to the front one, as the formula has it
    assert 2 * (swept_width(thin, 7.0, 0.0, reach, 7.0, bend, 1.0) - thin) == pytest.approx(0.223, abs=5e-4)
    inside = wheel_gap(5.0, 2.0, 7.0, 0.0, 1.0, 0.0, 0.0) - wheel_gap(5.0, 2.0, 7.0, bend, 1.0, 0.0, 0.0)
    assert 2 * inside == pytest.approx(0.223, abs=5e-4)


@pytest.mark.parametrize("run", [0.75, 1.0, 1.5])
def test_a_face_at_the_tables_slope_leaves_the_two_feet(run: float) -> None:
    least = 2 * M_PER_FT
    assert edge_standoff(5.0, batter_angle(run), batter_angle(run), least, 5.0) == pytest.approx(0.61, abs=5e-4)
    assert edge_standoff(5.0, FACE, batter_angle(run), least, 99.0) == pytest.approx(5.0 * run)


def test_one_and_a_half_to_one_from_the_toe() -> None:
    assert edge_standoff(4.0, FACE, batter_angle(1.5), 0.61, 99.0) == pytest.approx(6.0)


def test_spread_read_backwards() -> None:
    """132 kPa printed (131.77 exactly) 4.58 m down: the stand-off is half of that depth."""
    load = 300e3 * 6.1 * 15.25
    assert 2 * support_standoff(load, 6.1, 15.25, 131.77e3) == pytest.approx(4.58, abs=0.002)


@pytest.mark.parametrize(("mph", "feet"), [(10, 34), (12, 43), (15, 59), (18, 76), (20, 89)])
def test_two_stopping_distances_of_table_m_1(mph: int, feet: int) -> None:
    """System response 0.5 s (to 36,000 lb), 1 s of the operator, 9.66 ft/s²."""
    speed = mph * MPS_PER_MPH
    both = sight_on_one_lane(speed, speed, 1.5, 0.0, 9.66 * M_PER_FT) / M_PER_FT
    assert 0.0 <= 2 * feet - both <= 2 * 1.3


def test_stress_above_inflation() -> None:
    assert tyre_pressure_under_load(100e3, 0.39, 3300.0, 3300.0) / 1e3 == pytest.approx(139.0)
