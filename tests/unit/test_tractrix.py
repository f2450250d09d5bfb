"""Trailing axles against numerical integration of their differential equation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from travel.mechanics.tractrix import drawbar_angle_circle, drawbar_angle_straight, trailing_axles
from travel.mechanics.turning import (
    off_tracking_steady,
    off_tracking_tractor_semitrailer,
    trailing_radius_sum_of_squares,
)


def _integrated(curvature: float, drawbar: float, start: float, distance: float) -> float:
    answer = solve_ivp(
        lambda _, angle: curvature - np.sin(angle) / drawbar, (0.0, distance), [start], rtol=1e-11, atol=1e-13
    )
    return float(answer.y[0, -1])


@pytest.mark.parametrize("start", [-2.8, -1.0, 0.0, 0.4, 2.0, 3.1])
@pytest.mark.parametrize("distance", [0.3, 4.0, 25.0])
def test_straight(start: float, distance: float) -> None:
    assert drawbar_angle_straight(start, distance, 5.0) == pytest.approx(
        _integrated(0.0, 5.0, start, distance), abs=1e-8
    )


@pytest.mark.parametrize(("radius", "drawbar"), [(12.0, 6.0), (7.0, 6.5), (40.0, 3.0)])
@pytest.mark.parametrize("distance", [0.0, 1.0, 10.0, 40.0])
def test_circle(radius: float, drawbar: float, distance: float) -> None:
    expected = _integrated(1 / radius, drawbar, 0.0, distance) if distance else 0.0
    assert drawbar_angle_circle(radius, drawbar, distance) == pytest.approx(expected, abs=1e-8)


def test_circle_values_noted_with_the_formula_and_its_limit() -> None:
    assert drawbar_angle_circle(12.0, 6.0, 10.0) == pytest.approx(0.41055, abs=5e-6)
    assert drawbar_angle_circle(12.0, 6.0, 40.0) == pytest.approx(0.52216, abs=5e-6)
    assert drawbar_angle_circle(12.0, 6.0, 5000.0) == pytest.approx(np.arcsin(6.0 / 12.0))


def _circle(radius: float, turns: float, step: float) -> np.ndarray:
    angle = np.linspace(0.0, 2 * np.pi * turns, int(2 * np.pi * turns * radius / step))
    return np.column_stack([radius * np.sin(angle), radius * (1 - np.cos(angle))])


def test_two_units_with_overhung_hitch_on_a_wavy_path() -> None:
    """Both units and the coupling behind the first axle, as one system of equations in the path's parameter."""
    drawbars, hitches = np.array([4.0, 5.0]), np.array([0.8, 0.0])
    u = np.linspace(0.0, 30.0, 6001)
    path = np.column_stack([u, 2.0 * np.sin(u / 5.0)])

    def rates(at: float, headings: np.ndarray) -> list[float]:
        velocity = np.array([1.0, 0.4 * np.cos(at / 5.0)])
        turning = []
        for heading, drawbar, hitch in zip(headings, drawbars, hitches, strict=True):
            ahead, left = np.array([np.cos(heading), np.sin(heading)]), np.array([-np.sin(heading), np.cos(heading)])
            rate = float(velocity @ left) / drawbar
            turning.append(rate)
            velocity = (velocity @ ahead) * ahead - hitch * rate * left  # of the coupling behind this axle
        return turning

    start = np.array([0.3, -0.2])
    expected = solve_ivp(rates, (0.0, 30.0), start, rtol=1e-10, atol=1e-12).y[:, -1]
    axles = trailing_axles(path, start, drawbars, hitches)
    np.testing.assert_allclose(axles[:, -1, 2], expected, atol=2e-5)


def test_long_circle_reaches_the_steady_radii() -> None:
    radius, drawbars, hitches = 15.0, np.array([4.0, 6.0]), np.array([0.7, 0.0])
    axles = trailing_axles(_circle(radius, 3.0, 0.02), np.zeros(2), drawbars, hitches)
    reached = np.hypot(axles[:, -1, 0], axles[:, -1, 1] - radius)
    first = radius - off_tracking_steady(radius, 4.0)
    last = trailing_radius_sum_of_squares(radius, 4.0**2 + 6.0**2, 0.7**2)
    np.testing.assert_allclose(reached, [first, last], atol=1e-3)


def test_going_back_along_the_path_retraces_it() -> None:
    """The equation is exact in reverse, where a drawbar is unstable; a short push keeps rounding small."""
    path = _circle(12.0, 0.2, 0.01)
    forward = trailing_axles(path, np.zeros(1), np.array([5.0]), np.zeros(1))[0]
    back = trailing_axles(path[::-1], forward[-1:, 2], np.array([5.0]), np.zeros(1))[0]
    np.testing.assert_allclose(back[::-1], forward, atol=1e-6)


@pytest.mark.parametrize("turning_radius", [40.0, 50.0, 100.0, 200.0])
def test_tractor_and_semitrailer_form_is_the_sum_of_squares_from_the_outer_front_wheel(turning_radius: float) -> None:
    wheelbase, half_track, kingpin, trailer = 105 / 12, 3.21, 1.0, 21.0
    rear = np.sqrt(turning_radius**2 - wheelbase**2) - half_track
    front = np.hypot(rear, wheelbase)
    last = trailing_radius_sum_of_squares(front, wheelbase**2 + trailer**2, kingpin**2)
    assert off_tracking_tractor_semitrailer(turning_radius, wheelbase, half_track, kingpin, trailer) == pytest.approx(
        front - last
    )


@pytest.mark.parametrize(
    ("trailer_ft", "at_50", "at_100", "at_200"), [(21.0, 5.88, 2.71, 1.32), (19.0, 4.92, 2.28, 1.11)]
)
def test_tractor_and_semitrailer_recomputed_rows(trailer_ft: float, at_50: float, at_100: float, at_200: float) -> None:
    """The handbook prints charts only; these rows are its formula worked by hand, ft."""
    for radius, expected in ((50.0, at_50), (100.0, at_100), (200.0, at_200)):
        assert off_tracking_tractor_semitrailer(radius, 105 / 12, 3.21, 1.0, trailer_ft) == pytest.approx(
            expected, abs=0.005
        )
