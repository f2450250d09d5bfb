"""Ramp lengths by deck height and angle (right triangles), and limits of operators' manuals and guides for ramps.

15 degrees = 26.8 %; tan of the grip's angle: mu 0.20 slides from 11.31 degrees, 0.35 from 19.29.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.ramp_angles import ramp_angle
from travel.mechanics.ramp_statics import grip_needed_on_slope


@pytest.mark.parametrize(
    ("deck", "lengths"),
    [
        (0.90, (6.467, 5.183, 4.329, 3.477, 2.912)),
        (1.00, (7.185, 5.759, 4.810, 3.864, 3.236)),
        (1.10, (7.904, 6.335, 5.291, 4.250, 3.560)),
    ],
)
def test_lengths(deck: float, lengths: tuple[float, ...]) -> None:
    for degrees, length in zip((8, 10, 12, 15, 18), lengths, strict=True):
        assert np.degrees(ramp_angle(deck, length)) == pytest.approx(degrees, abs=0.003)


@pytest.mark.parametrize(("degrees", "pct"), [(8, 14.05), (10, 17.63), (12, 21.26), (15, 26.79), (18, 32.49)])
def test_grades(degrees: float, pct: float) -> None:
    assert 100 * np.tan(ramp_angle(np.sin(np.radians(degrees)), 1.0)) == pytest.approx(pct, abs=0.006)


def test_grip_runs_out() -> None:
    for mu, degrees in ((0.20, 11.31), (0.35, 19.29)):
        slope = np.tan(np.radians(degrees))
        needed = grip_needed_on_slope(100.0, slope, 100.0 * np.cos(np.radians(degrees)))
        assert needed == pytest.approx(mu, abs=1e-4)
    assert grip_needed_on_slope(1.0, np.tan(np.radians(15)), np.cos(np.radians(15))) == pytest.approx(0.268, abs=5e-4)
