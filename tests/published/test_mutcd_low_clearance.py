"""MUTCD 2009, 2C.27 (US: nearest inch not exceeding the actual, frost areas up to 3 in off); Canada: down to 0.1 m.

Both print a rule and no worked row; the rows are the rule's words carried out.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.signed_height import (
    measured_from_signed_canada,
    measured_from_signed_us_mutcd,
    signed_height_canada,
    signed_height_us_mutcd,
)
from travel.units import M_PER_IN


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
