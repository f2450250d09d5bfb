"""Australian Load Restraint Guide, direct restraint by angle effect: 15 t wheeled loader and 8 t roller (guide p 224).

The guide's table steps the angle effect (0.85, 0.70): 0.75 is taken as 0.70.
"""

from __future__ import annotations

import pytest

from travel.mechanics.lashing import angle_effect_capacity


def test_wheeled_loader() -> None:
    effect = 3400 / 3500
    assert effect == pytest.approx(0.9714, abs=5e-5)
    assert angle_effect_capacity(15000.0, 0.8, 3.4, 3.5) == pytest.approx(6176.0, abs=0.5)


def test_roller() -> None:
    assert 1.5 / 2.0 == 0.75
    assert angle_effect_capacity(8000.0, 0.8, 1.5, 2.0) == pytest.approx(4267.0, abs=0.5)
    assert angle_effect_capacity(8000.0, 0.8, 0.70, 1.0) == pytest.approx(4571.0, abs=0.5)
