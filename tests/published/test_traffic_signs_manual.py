"""Traffic Signs Manual, ch. 4 (2013), 7.10 to 7.12, and the HSE page on vehicle height.

7.10: 14 ft 6 in measured shows 14 ft 3 in. 7.12: 4.19 m measured shows 4.1 m. HSE: the stated height is at least
75 mm under the measured one. Other rows follow from the paragraphs' words.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.signed_height import (
    measured_from_signed_uk_imperial,
    measured_from_signed_uk_metric,
    signed_height_uk_imperial,
    signed_height_uk_metric,
)
from travel.units import M_PER_IN


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
