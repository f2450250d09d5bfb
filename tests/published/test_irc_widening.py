"""Widening of pavement on horizontal curves after Indian Roads Congress practice, two solved problems, m and km/h.

1. National highway: 2 lanes, 7 m, 220 m, 80 km/h. The page's chosen option, 0.72 m, contradicts its own working
   and is not used; its total 0.791 is the sum of the rounded parts.
2. Common textbook problem: 2 lanes, 7 m, 250 m, 70 km/h (question read, answer from memory, recomputed).
"""

from __future__ import annotations

import pytest

from travel.mechanics.curve import widening_mechanical, widening_psychological_irc
from travel.units import kmh_to_mps


@pytest.mark.parametrize(
    ("radius_m", "speed_kmh", "mechanical_m", "psychological_m"),
    [(220.0, 80.0, 0.223, 0.568), (250.0, 70.0, 0.196, 0.466)],
)
def test_parts(radius_m: float, speed_kmh: float, mechanical_m: float, psychological_m: float) -> None:
    assert abs(widening_mechanical(2.0, 7.0, radius_m) - mechanical_m) <= 0.0005
    assert abs(widening_psychological_irc(kmh_to_mps(speed_kmh), radius_m) - psychological_m) <= 0.0005


@pytest.mark.parametrize(("radius_m", "speed_kmh", "total_m"), [(220.0, 80.0, 0.791), (250.0, 70.0, 0.662)])
def test_total_as_sum_of_rounded_parts(radius_m: float, speed_kmh: float, total_m: float) -> None:
    mechanical = round(widening_mechanical(2.0, 7.0, radius_m), 3)
    psychological = round(float(widening_psychological_irc(kmh_to_mps(speed_kmh), radius_m)), 3)
    assert abs(mechanical + psychological - total_m) <= 0.0005
