"""B. L. and A. K. Thareja, A Text-Book of Electrical Technology, ch. 41, clearance between two towers of 70 m.

Number as worked in the Python Textbook Companion notebook. Weights and tensions in kgf, kept.
"""

from __future__ import annotations

import pytest

from travel.mechanics.conductor import parabola_sag
from travel.mechanics.wire_clearance import lowest_clearance


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_clearance_at_mid_span() -> None:
    weight = 0.9e-4 * 8900.0  # 0.9 cm² at 8.9 g/cm³: kg/m
    sag = parabola_sag(weight, 300.0, 1500.0)
    assert lowest_clearance(68.0, 68.0, sag) == printed("62")
    assert lowest_clearance(68.0, 68.0, sag) == printed("61.99")
