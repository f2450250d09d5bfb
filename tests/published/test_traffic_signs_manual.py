"""Traffic Signs Manual, ch. 4 (2013), 7.10 to 7.12, and the HSE page on vehicle height.

7.10: 14 ft 6 in measured shows 14 ft 3 in. 7.12: 4.19 m measured shows 4.1 m. HSE: the stated height is at least
75 mm under the measured one; 16 ft 6 in (5.03 m) is the standard minimum headroom. The greatest sign normally shown is
16 ft 0 in. Other rows follow from the paragraphs' words.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.signed_height import (
    headroom_left,
    headroom_without_sign,
    measured_from_signed_uk_imperial,
    measured_from_signed_uk_metric,
    signed_height_uk_imperial,
    signed_height_uk_metric,
)
from travel.rulebook import load_rulebook, resolve
from travel.units import M_PER_IN

BOOK = load_rulebook()


@pytest.mark.parametrize(
    ("measured_in", "signed_in"),
    [(14 * 12 + 6, 14 * 12 + 3), (15 * 12 + 9, 15 * 12 + 6), (13 * 12 + 4, 13 * 12)],
)
def test_feet_and_inches(measured_in: float, signed_in: float) -> None:
    assert signed_height_uk_imperial(measured_in * M_PER_IN) / M_PER_IN == pytest.approx(signed_in, abs=1e-6)


@pytest.mark.parametrize(("measured", "signed"), [(4.19, 4.1), (3.88, 3.8), (4.30, 4.2), (4.98, 4.9)])
def test_metres(measured: float, signed: float) -> None:
    assert signed_height_uk_metric(measured) == pytest.approx(signed, abs=1e-9)


def test_at_least_75_mm_is_taken_off() -> None:
    measured = np.arange(2.5, 6.5, 0.0013)
    assert np.all(measured - signed_height_uk_metric(measured) >= 0.075)
    assert np.all(measured - signed_height_uk_imperial(measured) >= 0.075)


def test_the_way_back_never_promises_more_than_was_measured() -> None:
    measured = np.arange(2.5, 6.5, 0.0013)
    for signed, back in (
        (signed_height_uk_metric, measured_from_signed_uk_metric),
        (signed_height_uk_imperial, measured_from_signed_uk_imperial),
    ):
        promised = back(signed(measured))
        assert np.all(promised <= measured + 1e-6)
        # and it is tight: a hair less than promised would have shown a lower sign
        assert np.all(signed(promised + 1e-5) == pytest.approx(signed(measured), abs=1e-9))
        assert np.all(signed(promised - 1e-4) < signed(measured) - 1e-6)


def test_what_is_less_than_the_standard_headroom_shows_16_ft_at_most() -> None:
    standard = 16 * 12 + 6
    below = np.arange(standard - 3.0, standard, 0.01)
    assert np.all(signed_height_uk_imperial(below * M_PER_IN) / M_PER_IN == pytest.approx(16 * 12))


def test_standard_headroom_is_5_03_m() -> None:
    found = resolve(BOOK, "road-size.sign_least", jurisdiction="gb")
    assert found is not None
    assert found.value == 5.03
    assert headroom_without_sign(0.0, 0.0, found.value) / M_PER_IN == pytest.approx(16 * 12 + 6, abs=0.2)


def test_advice_over_4_95_m_leaves_the_75_mm_under_the_standard() -> None:
    standard, advice = (resolve(BOOK, name, jurisdiction="gb", combination="rigid")
                        for name in ("road-size.sign_least", "road-size.height"))  # fmt: skip
    assert standard is not None
    assert advice is not None
    assert headroom_left(standard.value, advice.value, 0.0) == pytest.approx(0.075, abs=0.005 + 1e-9)


def test_cab_notice_is_asked_for_from_ten_feet() -> None:
    """A public page says 10 ft, the regulation (from memory) 3 m."""
    found = resolve(BOOK, "road-size.cab_notice", jurisdiction="gb")
    assert found is not None
    assert found.value == 3.0
    assert found.value <= 10 * 12 * M_PER_IN
