"""Stabiliser pads: a printed example of a mobile crane operating manual, and Queensland's 0.65 rule as restated.

Manual: 25 t on ground good for 40 t/m2 asks for 0.625 m2 (6250 cm2); a foot of 2000 cm2 is too small.
Queensland: area = 0.65 (crane + load) / greatest permissible ground pressure.
"""

from __future__ import annotations

import pytest

from travel.mechanics.contact import contact_pressure
from travel.mechanics.setup import leg_force_by_fraction, pad_area, pad_side
from travel.units import G_MPS2


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_operating_manual() -> None:
    force, allowed = 25e3 * G_MPS2, 40e3 * G_MPS2
    assert pad_area(force, allowed) == printed("0.625")
    assert contact_pressure(force, 0.2) > allowed
    assert contact_pressure(force, pad_area(force, allowed)) == pytest.approx(allowed)


def test_queensland_rule() -> None:
    force = leg_force_by_fraction(20e3, 3e3, 0.65)
    assert force / G_MPS2 == pytest.approx(0.65 * 23e3)
    area = pad_area(force, 20e3 * G_MPS2)
    assert area == pytest.approx(0.7475)
    assert pad_side(force, 20e3 * G_MPS2) ** 2 == pytest.approx(area)
