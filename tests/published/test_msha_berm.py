"""30 CFR 56.9300 and the MSHA surface haulage slides: mid-axle height 3 ft asks for a berm of 3 ft."""

from __future__ import annotations

import pytest

from travel.mechanics.edges import berm_height_mid_axle_msha, berm_height_three_quarter_tyre
from travel.units import M_PER_FT


def test_slide_37() -> None:
    assert berm_height_mid_axle_msha(3 * M_PER_FT) / M_PER_FT == pytest.approx(3.0)


def test_the_other_rule_is_higher() -> None:
    # a mining page asks for about three quarters of the tyre: half as much again as mid-axle of the same tyre
    assert berm_height_three_quarter_tyre(2.0) == pytest.approx(1.5 * berm_height_mid_axle_msha(1.0))
