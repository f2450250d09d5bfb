"""Worked breakover angles of a mailing list and a calculator page, contact at points: 10.38 and 28.07 degrees.

The same calculator page gives 27.04 degrees for 100 in and 12 in; 2 atan(0.24) is 26.99: its row is not used.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.ramp_angles import breakover_angle


@pytest.mark.parametrize(("base", "clear", "stated", "exact"), [(121, 5.5, 10.38, 10.3889), (120, 15, 28.07, 28.0725)])
def test_midway(base: float, clear: float, stated: float, exact: float) -> None:
    found = np.degrees(breakover_angle(clear * 0.0254, base * 0.0254 / 2, base * 0.0254 / 2, 0.0))
    assert found == pytest.approx(exact, abs=5e-5)
    assert found == pytest.approx(stated, abs=0.01)


def test_the_page_that_slips() -> None:
    found = np.degrees(breakover_angle(12.0, 50.0, 50.0, 0.0))
    assert found == pytest.approx(26.9915, abs=5e-5)
    assert found != pytest.approx(27.04, abs=0.04)
