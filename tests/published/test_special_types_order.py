"""Special Types General Order (GB) categories 2 and 3 by axle distance, as restated on trade pages: D 9.0 m.

67 500 and 112 500 kg.
"""

from __future__ import annotations

import pytest

from travel.mechanics.axle_law import stgo_gross_category_2, stgo_gross_category_3


def test_by_axle_distance() -> None:
    assert stgo_gross_category_2(9.0) == pytest.approx(67500.0)
    assert stgo_gross_category_3(9.0) == pytest.approx(112500.0)
