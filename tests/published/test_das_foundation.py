"""B. M. Das, Principles of Foundation Engineering, examples 3.1, 3.4, 4.2, 4.3, 4.5, 4.6, 5.1.

Numbers as worked in the Python Textbook Companion notebooks of the book. Original units kept (lb, ft or kN, m).
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.bearing import (
    bearing_factor_nc_terzaghi,
    bearing_factor_ng_vesic,
    bearing_factor_nq,
    bearing_factor_nq_terzaghi,
)
from travel.mechanics.bearing_capacity import (
    ultimate_bearing,
    ultimate_bearing_clay_on_rock,
    ultimate_bearing_sand_over_clay,
    ultimate_bearing_square_terzaghi,
)
from travel.mechanics.edges import ultimate_bearing_at_slope_clay_meyerhof, ultimate_bearing_at_slope_sand_meyerhof
from travel.mechanics.stress_depth import influence_corner_newmark, stress_centre_newmark


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_3_1_factors() -> None:
    assert bearing_factor_nc_terzaghi(np.radians(20.0)) == printed("17.69")
    assert bearing_factor_nq_terzaghi(np.radians(20.0)) == printed("7.44")


def test_3_1_square() -> None:
    ultimate = ultimate_bearing_square_terzaghi(320.0, 17.69, 115.0 * 3.0, 7.44, 115.0, 5.0, 3.64)
    assert ultimate / 4 * 25 == printed("67269")


def test_3_4_eccentric_strip() -> None:
    assert bearing_factor_nq(np.radians(35.0)) == printed("33.3")
    assert bearing_factor_ng_vesic(np.radians(35.0)) == printed("48.03")
    width = 6.0 - 2 * 0.5
    ultimate = ultimate_bearing(0.0, 0.0, 110.0 * 4.0, 33.3 * 1.1698, 110.0, width, 48.03)
    # the depth factor is printed to four places only: 151 738 lb/ft to one pound in the last digit of that factor
    assert ultimate * width == pytest.approx(151738, abs=0.00005 * 440 * 33.3 * 5 + 0.5)
    assert ultimate * width / 2000 == printed("75.87")


def test_4_2_thin_clay_on_rock() -> None:
    assert ultimate_bearing_clay_on_rock(72.0, 1.0, 0.25, 18.0) / 3 == printed("160.4")


def test_4_3_sand_over_clay() -> None:
    # the sand alone, in kPa
    friction = np.radians(40.0)
    sand = ultimate_bearing(
        0.0, 0.0, 17.5 * 1.2, bearing_factor_nq(friction), 17.5, 2.0, bearing_factor_ng_vesic(friction)
    )
    assert sand == pytest.approx(3262.7, abs=0.3)  # printed from Nq 64.2 and Ny 109.41, rounded
    assert ultimate_bearing(0.0, 0.0, 17.5 * 1.2, 64.2, 17.5, 2.0, 109.41) == pytest.approx(3262.7, abs=0.3)
    # The solution prints 575.7 kN/m with y H (1.5 m) in its last term, the equation has y D (1.2 m)
    strip = ultimate_bearing_sand_over_clay(30.0, 2.0, 1.5, 1.2, 17.5, 2.5, friction) * 2.0
    assert strip + 17.5 * (1.5 - 1.2) * 2.0 == printed("575.7")


def test_4_5_and_4_6_top_of_a_slope() -> None:
    assert ultimate_bearing_at_slope_clay_meyerhof(50.0, 6.3) == printed("315")
    assert ultimate_bearing_at_slope_clay_meyerhof(50.0, 6.3) / 4 == printed("78.75")
    assert ultimate_bearing_at_slope_sand_meyerhof(16.8, 1.5, 120.0) == printed("1512")


def test_5_1_stress_under_a_rectangle() -> None:
    assert influence_corner_newmark(2.5, 5.0, 12.5) == printed("0.0328")
    assert stress_centre_newmark(2000.0, 5.0, 10.0, 12.5) == printed("262.4")
    # the same by the book's table of centre values, 0.131
    assert stress_centre_newmark(1.0, 5.0, 10.0, 12.5) == printed("0.131")
