"""Four legs: sum and moments hold; against least squares (all legs down) and linear programming (one lifts)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize

from travel.mechanics.setup import (
    greatest_leg_reaction,
    leg_reaction,
    leg_reaction_rebalanced,
    levelling_stroke,
    out_of_level,
    resultant_offset,
)

A, B, V = 2.4, 2.1, 230e3
CORNERS = np.array([(1, 1), (1, -1), (-1, 1), (-1, -1)])
BALANCE = np.array([np.ones(4), CORNERS[:, 0] * A, CORNERS[:, 1] * B])


def _legs(x: float, y: float, formula: object = leg_reaction_rebalanced) -> np.ndarray:
    return np.array([formula(V, sx * x, sy * y, A, B) for sx, sy in CORNERS])  # type: ignore[operator]


def _places(n: int) -> np.ndarray:
    return np.random.default_rng(3).uniform(-1, 1, (n, 2)) * (A, B)


def test_sum_and_both_moments_hold_everywhere() -> None:
    for x, y in _places(300):
        assert BALANCE @ _legs(x, y) == pytest.approx(V * np.array([1, x, y]), abs=1e-6)
        assert BALANCE @ _legs(x, y, leg_reaction) == pytest.approx(V * np.array([1, x, y]), abs=1e-6)


def test_no_leg_pulls_and_at_most_one_is_off_the_ground() -> None:
    for x, y in _places(300):
        legs = _legs(x, y)
        assert legs.min() > -1e-6
        if abs(x) / A + abs(y) / B > 1:
            assert np.sum(np.abs(legs) < 1e-6) == 1


def test_all_down_is_the_least_squares_answer() -> None:
    for x, y in _places(100):
        least, *_ = np.linalg.lstsq(BALANCE, V * np.array([1, x, y]), rcond=None)
        assert _legs(x, y, leg_reaction) == pytest.approx(least, abs=1e-6)


def test_one_lifted_leg_is_the_only_balanced_answer_that_keeps_it_down_to_nothing() -> None:
    # among pushes that balance, the lightest leg is bounded below by nothing: at that bound the rest is determined
    for x, y in _places(100):
        legs = _legs(x, y)
        lightest = int(legs.argmin())
        if legs[lightest] > 1e-6:
            continue
        cost = np.eye(4)[lightest]
        answer = optimize.linprog(cost, A_eq=BALANCE, b_eq=V * np.array([1, x, y]), bounds=[(0, None)] * 4)
        assert answer.success
        assert legs == pytest.approx(answer.x, rel=1e-6, abs=1e-3)


def test_greatest_leg() -> None:
    for x, y in _places(300):
        assert greatest_leg_reaction(V, x, y, A, B) == pytest.approx(_legs(x, y).max(), rel=1e-9)


def test_greatest_leg_is_never_lighter_than_the_rigid_frame_says() -> None:
    for x, y in _places(300):
        assert greatest_leg_reaction(V, x, y, A, B) >= _legs(x, y, leg_reaction).max() - 1e-6


def test_resultant_of_parts() -> None:
    fixed = 150e3 * 0.3
    for slew in np.radians([0, 40, 90, 200]):
        x = resultant_offset(fixed, 30e3, 3.0, 25e3, 8.0, 205e3, slew)
        y = resultant_offset(0.0, 30e3, 3.0, 25e3, 8.0, 205e3, slew - np.pi / 2)
        assert x == pytest.approx((fixed + (30e3 * 3 + 25e3 * 8) * np.cos(slew)) / 205e3)
        assert y == pytest.approx((30e3 * 3 + 25e3 * 8) * np.sin(slew) / 205e3, abs=1e-12)


def test_levelling_stroke_against_the_corners_of_a_plane() -> None:
    for grade, cross in [(0.02, 0.01), (-0.02, 0.01), (0.0, -0.03)]:
        corners = [grade * sx * 2.5 + cross * sy * 2.0 for sx, sy in CORNERS]
        assert levelling_stroke(grade, cross, 5.0, 4.0) == pytest.approx(max(corners) - min(corners))


def test_out_of_level_is_the_steepest_direction() -> None:
    turn = np.linspace(0, 2 * np.pi, 100_001)
    slopes = 0.03 * np.cos(turn) + 0.015 * np.sin(turn)
    assert out_of_level(0.03, 0.015) == pytest.approx(slopes.max(), abs=1e-9)
