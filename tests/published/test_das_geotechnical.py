"""B. M. Das, Principles of Geotechnical Engineering, examples 10.3, 16.1, 16.2.

Numbers as worked in the Python Textbook Companion notebooks of the book. Original units kept. Example 16.5 is left
out: the notebook drops the unit weight from its third term.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.bearing import bearing_factor_nq_terzaghi
from travel.mechanics.bearing_capacity import ultimate_bearing, ultimate_bearing_square_terzaghi
from travel.mechanics.stress_depth import stress_point_boussinesq


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_10_3_point_load() -> None:
    assert stress_point_boussinesq(5.0, np.hypot(3.0, 4.0), 2.0) == printed("0.0042")


def test_16_1_strip() -> None:
    assert ultimate_bearing(200.0, 17.69, 110.0 * 3.0, 7.44, 110.0, 4.0, 3.64) / 3 == printed("2264.7")


def test_16_2_square() -> None:
    assert bearing_factor_nq_terzaghi(np.radians(35.0)) == printed("41.44")
    # B is printed as 0.9 m for 30 t (294.3 kN): the load that fits must cross it there
    width = np.linspace(0.5, 1.5, 1001)
    allowed = ultimate_bearing_square_terzaghi(0.0, 0.0, 18.15, 41.44, 18.15, width, 45.41) / 3 * width**2
    needed = float(width[np.argmax(allowed >= 294.3)])
    assert needed == printed("0.9")
