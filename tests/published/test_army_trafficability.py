"""US Army engineer correspondence course EN 5341, Soils Trafficability: rating cone index, printed examples.

One pass: cone index 49, remoulding index 0.87, about 43. Fifty passes: 56, 0.85, about 48.
"""

from __future__ import annotations

import pytest

from travel.mechanics.trafficability import rating_cone_index
from travel.units import PA_PER_PSI


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


@pytest.mark.parametrize(("cone", "remoulding", "text"), [(49.0, 0.87, "43"), (56.0, 0.85, "48")])
def test_rating_cone_index(cone: float, remoulding: float, text: str) -> None:
    assert rating_cone_index(cone * PA_PER_PSI, remoulding) / PA_PER_PSI == printed(text)
