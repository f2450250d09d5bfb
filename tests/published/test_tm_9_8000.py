"""US Army TM 9-8000, Principles of Automotive Vehicles, section 29-15: tractive factor and drawbar pull.

Light truck: engine torque 79 lb ft, reduction 36.7, gross weight 2,625 lb, tyre loaded radius 1.25 ft, 0.85.
The printed ratios 2.798 x 2.43 x 5.38 give 36.58, which the manual rounds to 36.7; 36.7 is used as printed.
"""

from __future__ import annotations

import pytest

from travel.mechanics.pull import drawbar_pull, tractive_factor
from travel.units import KG_PER_LB, M_PER_FT, N_PER_LBF, kg_to_n

TORQUE_NM = 79 * N_PER_LBF * M_PER_FT
RADIUS_M = 1.25 * M_PER_FT


def _weight_n(lb: float) -> float:
    return kg_to_n(lb * KG_PER_LB)


def test_tractive_factor() -> None:
    assert abs(tractive_factor(TORQUE_NM, 36.7, 0.85, RADIUS_M, _weight_n(2625)) - 0.75) <= 0.005


def test_drawbar_pull_printed_to_ten_pounds() -> None:
    assert abs(drawbar_pull(0.75, _weight_n(2625)) / N_PER_LBF - 1970) <= 5


def test_tractive_factor_with_1000_lb_more_printed_as_about() -> None:
    """The manual says "about 0.55"; 0.544 computed, so one unit of the last digit is allowed."""
    assert abs(tractive_factor(TORQUE_NM, 36.7, 0.85, RADIUS_M, _weight_n(3625)) - 0.55) <= 0.01


def test_pull_does_not_change_with_the_load() -> None:
    light = drawbar_pull(tractive_factor(TORQUE_NM, 36.7, 0.85, RADIUS_M, _weight_n(2625)), _weight_n(2625))
    heavy = drawbar_pull(tractive_factor(TORQUE_NM, 36.7, 0.85, RADIUS_M, _weight_n(3625)), _weight_n(3625))
    assert heavy == pytest.approx(light)
    assert abs(heavy / N_PER_LBF - 1970) <= 5
