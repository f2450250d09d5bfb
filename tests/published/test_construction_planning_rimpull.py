"""Peurifoy et al., Construction Planning, Equipment, and Methods: rimpull = 375 hp x efficiency / mph.

140 hp, 0.85, 3.25 mph: 13,730 lb (from memory, recomputed; 375 = 33,000 x 60 / 5,280).
Not used: 66,000 + 48,000 lb up 5.5 % at 7.30 mph, of which only the question was readable.
"""

from __future__ import annotations

from travel.mechanics.timing import pull_at_power, speed_at_power
from travel.units import M_PER_FT, MPS_PER_MPH, N_PER_LBF

W_PER_HP = 550 * M_PER_FT * N_PER_LBF


def test_rimpull_printed_to_ten_pounds() -> None:
    assert abs(pull_at_power(140 * W_PER_HP, 0.85, 3.25 * MPS_PER_MPH) / N_PER_LBF - 13_730) <= 5


def test_speed_from_the_same_numbers() -> None:
    assert abs(speed_at_power(140 * W_PER_HP, 0.85, 13_730 * N_PER_LBF) / MPS_PER_MPH - 3.25) <= 0.005
