"""Static stability factor and overturning speed.

1. Definition as published with roll-over ratings: SSF = t / 2h.
2. Accident-reconstruction note on sideways slides: SSF 1.20 at 70 % and SSF 0.94 at 90 % both lift at 0.84 g.
3. Textbook: overturning on a level circular path, v = sqrt(g R t / 2h); car on 20 m, track 1.8 m, height 1.0 m
   (the formula is printed, no number; the number below is that formula by hand, g 9.81).
Not used: a truck item that takes the wheelbase 4.7 m for the track.
"""

from __future__ import annotations

import math

import pytest

from travel.mechanics.curve import overturning_speed
from travel.mechanics.stability import dynamic_tip_ratio, static_stability_factor


def test_definition() -> None:
    assert static_stability_factor(1.8, 1.0) == pytest.approx(1.8 / (2 * 1.0))


@pytest.mark.parametrize(("static", "share"), [(1.20, 0.70), (0.94, 0.90)])
def test_lift_at_0_84_g(static: float, share: float) -> None:
    """0.846 is printed as 0.84 for the second: 0.01 rather than half a digit."""
    assert 0.0 <= dynamic_tip_ratio(static, share) - 0.84 + 1e-9 < 0.01


def test_overturning_speed_on_a_level_bend() -> None:
    speed = overturning_speed(20.0, 0.0, static_stability_factor(1.8, 1.0))
    assert abs(speed - math.sqrt(9.81 * 20 * 1.8 / 2)) <= 0.005
    assert abs(speed - 13.3) <= 0.05
