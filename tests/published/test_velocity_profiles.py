"""Velocity-time profiles.

1. "Velocity-time profiles, trapezoidal and triangular": 100 m rest to rest, 2 and 4 m/s2. The page prints the
   set-up and the peak formula; the numbers below are that formula and the phase times by hand, to 3 decimals.
   (Its time formulas show v0 and vf, but its peak formula holds for both zero only.)
2. "How to calculate velocity": in a symmetric triangle the peak is twice the average, acceleration half the time.
Not used: 900 ft at 14 mph "about 0.09 h", which is wrong (0.0122 h).
"""

from __future__ import annotations

import pytest

from travel.mechanics.timing import peak_speed_triangle, time_changing_speed, time_rest_to_rest


def test_peak_speed() -> None:
    assert abs(peak_speed_triangle(100.0, 2.0, 4.0) - 16.330) <= 0.0005


def test_phases_and_whole_time() -> None:
    peak = peak_speed_triangle(100.0, 2.0, 4.0)
    up_m, down_m = peak**2 / (2 * 2.0), peak**2 / (2 * 4.0)
    assert abs(time_changing_speed(up_m, 0.0, peak) - 8.165) <= 0.0005
    assert abs(time_changing_speed(down_m, peak, 0.0) - 4.082) <= 0.0005
    assert abs(time_rest_to_rest(100.0, 2.0, 4.0, 99.0) - 12.247) <= 0.0005


def test_symmetric_triangle_peak_is_twice_the_average() -> None:
    time = time_rest_to_rest(50.0, 1.5, 1.5, 99.0)
    peak = peak_speed_triangle(50.0, 1.5, 1.5)
    assert peak == pytest.approx(2 * 50.0 / time)
    assert time_changing_speed(25.0, 0.0, peak) == pytest.approx(time / 2)
