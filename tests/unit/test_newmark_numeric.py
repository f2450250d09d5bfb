"""Stress under loads: Newmark's corner, centre and circle against the integral of Boussinesq's point load."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate

from travel.mechanics.stress_depth import (
    influence_corner_newmark,
    stress_at_spread_angle,
    stress_centre_newmark,
    stress_circle_axis,
    stress_point_boussinesq,
    stress_two_to_one,
)


@pytest.mark.parametrize(
    ("width", "length", "depth"),
    [(1.0, 1.0, 1.0), (0.5, 2.0, 0.3), (3.0, 3.0, 1.0), (8.0, 1.5, 3.0), (0.2, 0.2, 4.0), (5.0, 5.0, 0.5)],
)
def test_corner(width: float, length: float, depth: float) -> None:
    integral, _ = integrate.dblquad(
        lambda y, x: float(stress_point_boussinesq(1.0, np.hypot(x, y), depth)), 0, width, 0, length, epsabs=1e-9
    )
    assert influence_corner_newmark(width, length, depth) == pytest.approx(integral, abs=1e-7)


def test_corner_values_worked_out_before() -> None:
    m = np.array([0.5, 1.0, 1.0, 1.0, 2.0, 3.0])
    n = np.array([0.5, 0.5, 1.0, 2.0, 2.0, 3.0])
    expected = [0.08403, 0.12018, 0.17522, 0.19994, 0.23247, 0.24394]
    assert influence_corner_newmark(m, n, 1.0) == pytest.approx(expected, abs=5e-6)


def test_corner_passes_the_change_of_quadrant_smoothly() -> None:
    # m²n² crosses V near m = n = 1.7; the branch of the arc must not jump there
    m = np.linspace(1.0, 3.0, 2001)
    steps = np.diff(influence_corner_newmark(m, m, 1.0))
    assert np.all(steps > 0)
    assert steps.max() < 2e-4


def test_corner_tends_to_a_quarter_at_the_surface_and_to_nothing_below() -> None:
    assert influence_corner_newmark(1.0, 1.0, 1e-6) == pytest.approx(0.25, abs=1e-6)
    assert influence_corner_newmark(1.0, 1.0, 1e3) == pytest.approx(0.0, abs=1e-6)


def test_centre() -> None:
    integral, _ = integrate.dblquad(
        lambda y, x: float(stress_point_boussinesq(200e3, np.hypot(x, y), 0.8)), -0.25, 0.25, -1.0, 1.0, epsabs=1e-3
    )
    assert stress_centre_newmark(200e3, 0.5, 2.0, 0.8) == pytest.approx(integral, rel=1e-6)


def test_circle_on_its_axis() -> None:
    integral, _ = integrate.quad(lambda r: 2 * np.pi * r * float(stress_point_boussinesq(1.0, r, 0.7)), 0, 0.4)
    assert stress_circle_axis(1.0, 0.4, 0.7) == pytest.approx(integral, rel=1e-9)


def test_far_down_the_shape_of_the_load_is_forgotten() -> None:
    point = stress_point_boussinesq(100e3, 0.0, 10.0)
    assert stress_centre_newmark(100e3 / 0.36, 0.6, 0.6, 10.0) == pytest.approx(point, rel=0.01)
    assert stress_circle_axis(100e3 / (np.pi * 0.3**2), 0.3, 10.0) == pytest.approx(point, rel=0.01)


def test_two_to_one_is_the_spread_whose_tangent_is_one_half() -> None:
    angle = np.arctan(0.5)
    assert stress_two_to_one(1.0, 0.4, 0.6, 1.3) == pytest.approx(stress_at_spread_angle(1.0, 0.4, 0.6, 1.3, angle))


def test_spread_keeps_the_load() -> None:
    depth = np.linspace(0.0, 3.0, 7)
    carried = stress_two_to_one(150e3, 0.5, 1.2, depth) * (0.5 + depth) * (1.2 + depth)
    assert carried == pytest.approx(150e3 * 0.6)


def test_neither_theory_nor_spread_is_the_worse_at_every_depth() -> None:
    # why a service takes the worse of the two: near the load the spread hides the middle, far down it holds more
    assert stress_centre_newmark(1.0, 0.5, 0.5, 0.25) > 1.3 * stress_two_to_one(1.0, 0.5, 0.5, 0.25)
    assert stress_centre_newmark(1.0, 0.5, 0.5, 2.0) < 0.8 * stress_two_to_one(1.0, 0.5, 0.5, 2.0)
