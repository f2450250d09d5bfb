"""A. Chakrabarti, M. L. Soni, P. V. Gupta and U. S. Bhatnagar, A Text Book on Power System Engineering, ch. 5.

Examples 5.7, 5.8, 5.9 as worked in the Python Textbook Companion notebook. Weights and tensions in kgf, kept.
"""

from __future__ import annotations

import pytest

from travel.mechanics.conductor import low_point_from_lower_support, parabola_sag, wire_height
from travel.mechanics.conductor_load import ice_load, loaded_weight, tension_after_change, wind_load
from travel.units import G_MPS2


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_5_7_low_point() -> None:
    x = low_point_from_lower_support(0.428, 200.0, 1973 / 2, 3.0)
    assert x == printed("65.4")
    assert 200 - x == printed("134.6")


def test_5_8_mid_span() -> None:
    sag = parabola_sag(0.844, 300.0, 2000.0)
    assert wire_height(50.0, 80.0, sag, 0.5) == printed("60.25")


def test_5_9_change_of_state() -> None:
    # 300 m, 226 mm², d 19.53 mm, ice 0.95 cm and wind 39 kg/m² at -5 °C with half of 7950 kg; still air at 45 °C
    ice = ice_load(0.01953, 0.0095, 913.5) / G_MPS2
    wind = wind_load(39.0, 0.01953, 0.0095)
    before = loaded_weight(0.844, ice, wind)
    after = tension_after_change(7950 / 2, before, 0.844, 300.0, 226.0 * 9320.0, 18.44e-6, 50.0)
    # the book's hand solution: 1710 kg, 5.55 m; its own equation has the root 1644.8 kg, 5.773 m
    assert after == pytest.approx(1710, rel=0.04)
    assert parabola_sag(0.844, 300.0, after) == pytest.approx(5.55, rel=0.045)
    assert after == pytest.approx(1644.8, rel=0.002)
    assert parabola_sag(0.844, 300.0, after) == pytest.approx(5.773, rel=0.002)
