"""MUTCD 2009, 2C.27 (US: nearest inch not exceeding the actual, frost areas up to 3 in off); Canada: down to 0.1 m.

Both print a rule and no worked row; the rows are the rule's words carried out. Signed where less is left than: US the
statutory height + 12 in; Canada the greatest legal height + 15 cm, or 4.3 m. FHWA: 13 ft 6 in to 14 ft, 102 in wide.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.signed_height import (
    headroom_without_sign,
    measured_from_signed_canada,
    measured_from_signed_us_mutcd,
    signed_height_canada,
    signed_height_us_mutcd,
)
from travel.rulebook import load_rulebook, resolve
from travel.units import M_PER_FT, M_PER_IN

BOOK = load_rulebook()


def held(limit: str) -> float:
    """Give the value that holds in the United States."""
    found = resolve(BOOK, f"road-size.{limit}", jurisdiction="us", combination="articulated")
    assert found is not None
    return found.value


@pytest.mark.parametrize(
    ("limit", "inches"),
    [("height", 162), ("width", 102), ("sign_over", 12), ("escort_width", 144), ("escort_two_width", 168),
     ("escort_height", 174), ("escort_length", 95 * 12)],
)  # fmt: skip
def test_sizes_of_the_rulebook(limit: str, inches: float) -> None:
    """Legal height and width, the sign's margin, and one state's escorts (12 and 14 ft wide, 14 ft 6 in, 95 ft)."""
    assert held(limit) / M_PER_IN == pytest.approx(inches, abs=5e-4)


@pytest.mark.parametrize(("legal_in", "signed_below_in"), [(162, 174), (168, 180)])
def test_us_without_a_sign(legal_in: float, signed_below_in: float) -> None:
    below = headroom_without_sign(legal_in * M_PER_IN, held("sign_over"), 0.0)
    assert below / M_PER_IN == pytest.approx(signed_below_in, abs=1e-6)


@pytest.mark.parametrize(("legal", "signed_below"), [(4.15, 4.3), (4.10, 4.3), (4.20, 4.35)])
def test_canada_without_a_sign(legal: float, signed_below: float) -> None:
    assert headroom_without_sign(legal, 0.15, 4.3) == pytest.approx(signed_below)


def test_us_14_ft_6_in_is_a_foot_over_the_legal_height() -> None:
    assert headroom_without_sign(held("height"), held("sign_over"), 0.0) / M_PER_FT == pytest.approx(14.5)


@pytest.mark.parametrize(("measured_in", "frost_in", "signed_in"), [(162.9, 0, 162), (162.0, 0, 162), (162.9, 3, 159)])
def test_us(measured_in: float, frost_in: float, signed_in: float) -> None:
    signed = signed_height_us_mutcd(measured_in * M_PER_IN, frost_in * M_PER_IN)
    assert signed / M_PER_IN == pytest.approx(signed_in, abs=1e-6)


@pytest.mark.parametrize(("measured", "signed"), [(4.29, 4.2), (4.30, 4.3), (4.399, 4.3)])
def test_canada(measured: float, signed: float) -> None:
    assert signed_height_canada(measured) == pytest.approx(signed, abs=1e-9)


def test_the_way_back_never_promises_more_than_was_measured() -> None:
    measured = np.arange(2.5, 6.5, 0.0013)
    assert np.all(measured_from_signed_canada(signed_height_canada(measured)) <= measured + 1e-6)
    for frost in (0.0, 3 * M_PER_IN):
        signed = signed_height_us_mutcd(measured, frost)
        assert np.all(measured_from_signed_us_mutcd(signed) <= measured + 1e-6)
        assert np.all(measured - frost - signed < M_PER_IN + 1e-6)
