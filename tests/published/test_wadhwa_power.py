"""C. L. Wadhwa, Electrical Power Systems, ch. 7, mid-span height between towers of 30 and 90 m.

Number as worked in the Python Textbook Companion notebook. Weights and tensions in kgf, kept.
"""

from __future__ import annotations

import pytest

from travel.mechanics.conductor import parabola_sag, wire_height


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_mid_span_height() -> None:
    assert wire_height(30.0, 90.0, parabola_sag(1.0, 300.0, 2000.0), 0.5) == printed("54.375")
