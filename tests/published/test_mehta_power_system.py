"""V. K. Mehta and R. Mehta, Principles of Power System, ch. 8, worked problems on sag.

Numbers as worked in the Python Textbook Companion notebook of the book. Weights and tensions in kgf, kept.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.conductor import low_point_from_lower_support, parabola_sag, wire_height
from travel.mechanics.wire_clearance import lowest_clearance, lowest_clearance_over_profile


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_support_height_with_10_m_of_clearance() -> None:
    assert 10 + parabola_sag(0.680, 260.0, 3100 / 2) == printed("13.7")


def test_low_point_outside_the_span() -> None:
    # towers of 40 and 90 m, 400 m apart, 2000 kg, 1 kg/m
    assert low_point_from_lower_support(1.0, 400.0, 2000.0, 50.0) == printed("-50")
    sag = parabola_sag(1.0, 400.0, 2000.0)
    assert wire_height(40.0, 90.0, sag, 0.5) == printed("55")
    assert lowest_clearance(40.0, 90.0, sag) == printed("40")  # the lower support itself


def test_hillside() -> None:
    # gradient with sine 1/20, towers of 22 m, wire 2 m lower, 300 m along the slope, 1500 kg, 1 kg/m
    rise = 300 / 20
    span = np.sqrt(300.0**2 - rise**2)
    sag = parabola_sag(1.0, span, 1500.0)
    at = low_point_from_lower_support(1.0, span, 1500.0, rise) / span
    assert wire_height(20.0, 20.0 + rise, sag, at) - rise * at == printed("14.40")
    # the book asks for the wire's low point; the least height over the slope is less
    least = lowest_clearance(20.0, 20.0, sag)
    assert 12.0 < least < 14.39
    ground = lowest_clearance_over_profile(20.0, 20.0 + rise, sag, span, np.array([0.0, span]), np.array([0.0, rise]))
    assert ground == pytest.approx(least, abs=1e-12)
