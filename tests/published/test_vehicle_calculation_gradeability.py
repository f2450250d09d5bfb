"""Vehicle calculation note for drive motors, gradeability: 1,000 lb in, reduction 12, radius 15 in, 10,000 lb.

Printed answer 6.5 % on good concrete. The note's table of rolling resistance was not readable; 8.0 % before
rolling resistance leaves 1.5 %, which is the 30 lb/ton of radial tyres on concrete in a construction methods
text (table 4-1, from memory). So the test fixes the first term, and 1.5 % only as that text has it.
"""

from __future__ import annotations

from travel.mechanics.pull import gradeability
from travel.units import M_PER_IN, N_PER_LBF

TORQUE_NM = 1000 * N_PER_LBF * M_PER_IN
RADIUS_M = 15 * M_PER_IN
WEIGHT_N = 10_000 * N_PER_LBF


def test_gradeability_on_good_concrete() -> None:
    assert abs(100 * gradeability(TORQUE_NM, 12.0, RADIUS_M, WEIGHT_N, 30 / 2000) - 6.5) <= 0.05


def test_metric_constant_10200_agrees_to_its_digits() -> None:
    """G % = 10200 T R / (r GVW) in N m, mm and kg: 10200 is 100 000 / g to three digits."""
    by_formula = 100 * gradeability(113.0, 12.0, 0.381, 4536 * 9.80665, 0.0)
    by_print = 10200 * 113.0 * 12.0 / (381 * 4536)
    assert abs(by_formula / by_print - 1) <= 50 / 10200
