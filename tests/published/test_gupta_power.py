"""J. B. Gupta, A Course in Power Systems, ch. 10, worked problems on sag.

Numbers as worked in the Python Textbook Companion notebook. Weights and tensions in kgf, kept. The problem
"sag at erection 2.3 m" (2.121 m elsewhere) is left out: its cubic is wrong, as the companion says.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.conductor import low_point_from_lower_support, parabola_sag, sag_below_support, wire_height
from travel.mechanics.conductor_load import ice_load, loaded_weight, vertical_sag, wind_load
from travel.units import G_MPS2


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_unequal_supports() -> None:
    x = low_point_from_lower_support(0.35, 160.0, 400.0, 5.0)
    assert 160 - x == printed("115.71")
    low = 65 - sag_below_support(0.35, 400.0, x)
    assert low == printed("64.142")
    assert wire_height(65.0, 70.0, parabola_sag(0.35, 160.0, 400.0), x / 160) == pytest.approx(low, abs=1e-9)
    assert sag_below_support(0.35, 400.0, 160 - x) - sag_below_support(0.35, 400.0, x) == pytest.approx(5.0)


def test_headroom_chain() -> None:
    ice = ice_load(0.0142, 0.0125, 913.5) / G_MPS2
    wind = wind_load(37.8, 0.0142, 0.0125)
    tension = 1050 * np.pi * 1.42**2 / 4
    slant = parabola_sag(loaded_weight(1.09, ice, wind), 250.0, tension)
    assert slant == printed("11.8756")
    vertical = vertical_sag(slant, 1.09 + ice, wind)
    assert vertical == printed("9.62")
    assert 7.62 + vertical + 1.43 == printed("18.67")
