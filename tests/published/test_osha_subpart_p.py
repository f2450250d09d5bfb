"""29 CFR 1926 Subpart P, appendix B, table B-1 (cuts under 20 ft): Type A 3/4:1 (53°), B 1:1 (45°), C 1½:1 (34°)."""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.edges import batter_angle


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


@pytest.mark.parametrize(("run", "text"), [(0.75, "53"), (1.0, "45"), (1.5, "34"), (0.0, "90")])
def test_batter(run: float, text: str) -> None:
    assert np.degrees(batter_angle(run)) == printed(text)
