"""A printed design sheet for an unpaved road by J. P. Giroud and J. Han, J. Geotech. Geoenviron. Eng. 130(8), 2004.

P 60.9 kN, p 632.98 kPa, base CBR 25, subgrade CBR 10, rut 50 mm, bare. The sheet's final thickness (0.550 m) does not
follow from the published equation and its wheel load line is off; the intermediate values are tested.
"""

from __future__ import annotations

import pytest

from travel.mechanics.contact import contact_radius
from travel.mechanics.unpaved import (
    mobilisation_giroud_han_2004,
    modulus_ratio_giroud_han_2004,
    stiffness_factor_giroud_han_2004,
    undrained_strength_from_cbr,
    wheel_load_without_gravel_giroud_han_2004,
)


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_contact_radius() -> None:
    assert contact_radius(60.9e3, 632.98e3) == printed("0.175")


def test_strength() -> None:
    assert undrained_strength_from_cbr(0.10) / 1000 == printed("300")


def test_load_without_gravel() -> None:
    # the sheet's last digit (60.421) asks for r to five places; r = 0.175 gives 60.417
    load = wheel_load_without_gravel_giroud_han_2004(0.05, contact_radius(60.9e3, 632.98e3), 3.14, 300e3)
    assert load / 1000 == printed("60.421")


def test_modulus_ratio_and_factor() -> None:
    ratio = modulus_ratio_giroud_han_2004(0.25, 0.10)
    assert ratio == printed("0.91")
    assert stiffness_factor_giroud_han_2004(ratio) == printed("0.98")


def test_mobilisation() -> None:
    assert mobilisation_giroud_han_2004(0.05, 0.175, 0.55) == printed("0.12")
