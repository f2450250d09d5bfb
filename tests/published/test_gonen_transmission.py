"""T. Gönen, Electric Power Transmission System Engineering: Analysis and Design, ch. 13, examples 13.1 and 13.2.

Numbers as worked in the Python Textbook Companion notebook of the book. Feet and pounds, kept.
"""

from __future__ import annotations

import pytest

from travel.mechanics.conductor import (
    catenary_length,
    catenary_sag,
    catenary_tension,
    parabola_length,
    parabola_sag,
    parabola_tension,
)
from travel.mechanics.conductor_load import ice_load, loaded_weight, vertical_sag, wind_load
from travel.units import KG_PER_LB, M_PER_FT, M_PER_IN, N_PER_LBF

W = 4122 / 5280  # lb/ft
C, S = 1600.0, 500.0  # ft


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_13_1_length() -> None:
    assert catenary_length(C, S) == printed("502.037")
    # the book's series takes the parabola's sag S²/8c
    assert parabola_length(S, S**2 / (8 * C)) == printed("502.0345")


def test_13_1_sag() -> None:
    assert catenary_sag(C, S) == printed("19.6")
    assert parabola_sag(W, S, W * C) == pytest.approx(catenary_sag(C, S), rel=0.003)


def test_13_1_tensions() -> None:
    assert catenary_tension(W, C, 0.0) == printed("1249.1")
    assert catenary_tension(W, C, catenary_sag(C, S)) == printed("1264.4")
    assert parabola_tension(W, S, catenary_sag(C, S)) == printed("1246.55")


def test_13_2_loads() -> None:
    ice_lb_per_ft = ice_load(1.093 * M_PER_IN, 0.5 * M_PER_IN, 913.0) / N_PER_LBF * M_PER_FT
    # the book's 1.25 t (d + t) lb/ft stands for ice of 57.3 lb/ft³
    density = 1.25 * 144 / 3.141592653589793 * KG_PER_LB / M_PER_FT**3
    book_lb_per_ft = ice_load(1.093 * M_PER_IN, 0.5 * M_PER_IN, density) / N_PER_LBF * M_PER_FT
    assert book_lb_per_ft == printed("0.9956")
    assert ice_lb_per_ft == pytest.approx(book_lb_per_ft, rel=0.01)
    vertical = 5399 / 5280 + 0.995625
    assert vertical == printed("2.0182")
    wind = wind_load(4.0, 1.093 / 12, 0.5 / 12)
    assert wind == printed("0.6977")
    assert loaded_weight(5399 / 5280, 0.995625, wind) == printed("2.1354")


def test_13_2_sags() -> None:
    wind = wind_load(4.0, 1.093 / 12, 0.5 / 12)
    slant = parabola_sag(loaded_weight(5399 / 5280, 0.995625, wind), 500.0, 28500 / 2)
    assert slant == printed("4.68")
    assert vertical_sag(slant, 5399 / 5280 + 0.995625, wind) == printed("4.43")
