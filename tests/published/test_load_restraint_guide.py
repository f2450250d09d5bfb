"""Australian Load Restraint Guide, direct restraint by angle effect: 15 t wheeled loader and 8 t roller (guide p 224).

The guide's table steps the angle effect (0.85, 0.70): 0.75 is taken as 0.70. Forces: 0.8 of the weight forward, 0.5 to
the side and rear, 0.2 up; no friction counts.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.lashing import angle_effect_capacity, direct_needed, direct_restraint
from travel.rulebook import load_rulebook, resolve

BOOK = load_rulebook()


def held(limit: str) -> float:
    """Give the value that holds in Australia."""
    found = resolve(BOOK, limit, jurisdiction="au", contact="tyres", ground="dry")
    assert found is not None
    return found.value


@pytest.mark.parametrize(
    ("direction", "share"), [("forward", 0.8), ("rearward", 0.5), ("side", 0.5), ("up", 0.2), ("friction_share", 0.0)]
)
def test_forces(direction: str, share: float) -> None:
    assert held(f"tie-down.{direction}") == share


@pytest.mark.parametrize(("mass", "apart", "length"), [(15000.0, 3.4, 3.5), (8000.0, 1.5, 2.0)])
def test_the_plan_asks_for_what_the_angle_effect_does(mass: float, apart: float, length: float) -> None:
    """A level angle of any split of apart over length: capacity times cos(alpha) cos(beta), without friction."""
    mu, share = held("tie-down.friction"), held("tie-down.friction_share")
    for down in (0.0, 0.1, np.arccos(apart / length)):
        plan = np.arccos(apart / length / np.cos(down))
        one = direct_restraint(1.0, down, plan, mu, share)
        needed = direct_needed(mass, held("tie-down.forward"), 1.0, mu, share) / (2 * one) / 9.80665
        assert needed == pytest.approx(angle_effect_capacity(mass, 0.8, apart, length), rel=1e-9)


def test_wheeled_loader() -> None:
    effect = 3400 / 3500
    assert effect == pytest.approx(0.9714, abs=5e-5)
    assert angle_effect_capacity(15000.0, 0.8, 3.4, 3.5) == pytest.approx(6176.0, abs=0.5)


def test_roller() -> None:
    assert 1.5 / 2.0 == 0.75
    assert angle_effect_capacity(8000.0, 0.8, 1.5, 2.0) == pytest.approx(4267.0, abs=0.5)
    assert angle_effect_capacity(8000.0, 0.8, 0.70, 1.0) == pytest.approx(4571.0, abs=0.5)
