"""Headroom over crests and sags: closed forms against a rigid body laid on the profile."""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.headroom import (
    bounce_rise,
    greatest_overhang_rise_at_crest,
    greatest_rise_between_axles_at_sag,
    height_over_profile,
    loaded_height,
    rise_at_grade_change,
    sag_curve_loss,
    sag_curve_loss_at,
    throw_height,
    top_height_on_slope,
)

L = 3.0


def _over_kink(before: float, after: float, point_x: float, point_z: float) -> np.ndarray:
    x = np.array([0.0, 50.0, 100.0])
    z = np.array([0.0, 50 * before, 50 * before + 50 * after])
    return np.asarray(height_over_profile(x, z, np.linspace(40, 55, 3001), L, point_x, point_z))


def test_even_slope_is_height_over_cosine() -> None:
    for grade in (-0.2, 0.0, 0.15):
        assert _over_kink(grade, grade, 1.2, 3.5) == pytest.approx(top_height_on_slope(3.5, 2.5, grade, 0.0), abs=1e-9)


def test_tilted_box_corner() -> None:
    cross, width, height = 0.1, 2.5, 3.0
    lean = np.arctan(cross)
    exact = height * np.cos(lean) + width / 2 * np.sin(lean)
    bound = top_height_on_slope(height, width, 0.0, cross)
    assert exact <= bound < exact + 0.02


@pytest.mark.parametrize("change", [0.05, 0.1, -0.08])
def test_grade_change_against_a_body_on_the_profile(change: float) -> None:
    rear = np.linspace(40, 55, 3001)
    for point in (-1.0, 0.0, 1.4, 3.0, 4.5):
        closed = rise_at_grade_change(point, L, 50.0 - rear, change)
        laid = _over_kink(change / 2, -change / 2, point, 0.0)
        assert closed == pytest.approx(laid, abs=3e-3)  # the closed form takes grades as small


def test_greatest_rises_are_the_tops_of_the_curve() -> None:
    kink = np.linspace(-10, 10, 20_001)
    for end, overhang in ((4.5, 1.5), (-1.2, 1.2)):
        rise = rise_at_grade_change(end, L, kink, 0.12)
        assert greatest_overhang_rise_at_crest(overhang, 0.12) == pytest.approx(rise.max(), abs=1e-4)
        assert rise_at_grade_change(end, L, kink, -0.12).max() == pytest.approx(0.0, abs=1e-9)
    middle = rise_at_grade_change(1.0, L, kink, -0.12)
    assert greatest_rise_between_axles_at_sag(1.0, L, 0.12) == pytest.approx(middle.max(), abs=1e-4)


def test_a_sag_costs_a_crest_nothing_and_the_other_way() -> None:
    assert greatest_overhang_rise_at_crest(1.5, -0.1) == 0.0
    assert greatest_rise_between_axles_at_sag(1.5, L, -0.1) == 0.0


def test_two_grade_changes_add() -> None:
    x, z = np.array([0.0, 49.0, 51.0, 100.0]), np.array([0.0, 2.45, 2.45, -1.0])
    after = -3.45 / 49
    rear = np.linspace(40, 55, 501)
    both = rise_at_grade_change(4.2, L, 49 - rear, 0.05) + rise_at_grade_change(4.2, L, 51 - rear, -after)
    assert both == pytest.approx(height_over_profile(x, z, rear, L, 4.2, 0.0), abs=2e-3)


def test_off_the_profile_is_not_a_number() -> None:
    x, z = np.array([0.0, 10.0]), np.zeros(2)
    height = height_over_profile(x, z, np.array([-1.0, 5.0, 8.0, 6.5]), L, 4.0, 3.0)
    assert np.isnan(height).tolist() == [True, False, True, True]


def test_sag_curve_against_a_circle() -> None:
    for chord, radius in ((8, 50), (12, 100), (14, 500)):
        circle = radius - np.sqrt(radius**2 - (chord / 2) ** 2)
        assert sag_curve_loss(chord, radius) == pytest.approx(circle, rel=0.01)
        assert sag_curve_loss_at(chord, radius, 0.0) == pytest.approx(sag_curve_loss(chord, radius))
        assert sag_curve_loss_at(chord, radius, chord / 2) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("chord", "millimetres"),
    [(8, (160, 80, 40, 16, 8)), (10, (250, 125, 62.5, 25, 12.5)), (12, (360, 180, 90, 36, 18))],
)
def test_sag_curve_table(chord: float, millimetres: tuple[float, ...]) -> None:
    assert sag_curve_loss(chord, np.array([50.0, 100.0, 200.0, 500.0, 1000.0])) * 1000 == pytest.approx(millimetres)


def test_bounce_is_the_worse_of_either_axle_and_both() -> None:
    for point in (-1.0, 0.0, 1.5, 3.0, 4.5):
        lifts = [u_rear + (u_front - u_rear) * point / L for u_rear in (0, 0.1) for u_front in (0, 0.1)]
        assert bounce_rise(0.1, point, L, 0.0) == pytest.approx(max(lifts))
        assert bounce_rise(0.1, point, L, 1.0) == pytest.approx(2 * max(lifts))


def test_throw_grows_with_the_square_of_speed_and_is_none_at_a_sag() -> None:
    assert throw_height(4.0, 0.1) == pytest.approx(4 * throw_height(2.0, 0.1))
    assert throw_height(4.0, -0.1) == 0.0


def test_squash_is_a_credit_and_tolerance_is_not() -> None:
    assert loaded_height(0.9, 2.6, 0.05, 0.02, 0.0) == pytest.approx(3.53)
    assert loaded_height(0.9, 2.6, 0.05, 0.0, 0.03) > loaded_height(0.9, 2.6, 0.05, 0.0, 0.0)
