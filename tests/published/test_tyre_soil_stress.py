"""Soil and Tillage Research 96 (2007) 284, abstract: at 10 cm depth stresses were on average 39 % above inflation.

Wheel loads 11, 15, 33 kN; 70, 100, 150 kPa.
"""

from __future__ import annotations

import pytest

from travel.mechanics.contact import tyre_contact_area_least, tyre_contact_pressure


@pytest.mark.parametrize(("load_n", "inflation_pa"), [(11e3, 70e3), (15e3, 100e3), (33e3, 150e3)])
def test_pressure_and_area_belong_together(load_n: float, inflation_pa: float) -> None:
    pressure = tyre_contact_pressure(inflation_pa, 0.39)
    assert pressure / inflation_pa - 1 == pytest.approx(0.39)
    assert tyre_contact_area_least(load_n, inflation_pa, 0.39) * pressure == pytest.approx(load_n)
