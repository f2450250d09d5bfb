"""Wires against a second opinion: exact catenary, numeric minimum, numeric root, brute force over ground."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, optimize

from travel.mechanics.conductor import (
    catenary_length,
    catenary_parameter,
    catenary_sag,
    low_point_from_lower_support,
    parabola_length,
    parabola_sag,
    parabola_tension,
    sag_below_support,
    wire_height,
)
from travel.mechanics.conductor_load import (
    sag_after_warming,
    swing_offset,
    swing_offset_at_angle,
    tension_after_change,
    vertical_sag,
)
from travel.mechanics.line_distance import (
    distance_across_wire,
    distance_to_sloping_wire,
    distance_to_wire_piece,
)
from travel.mechanics.wire_clearance import (
    greatest_sag_thermal_only,
    lowest_clearance,
    lowest_clearance_over_profile,
    lowest_clearance_place,
)

RNG = np.random.default_rng(7)


@pytest.mark.parametrize(("span", "sag"), [(40.0, 0.5), (150.0, 30.0), (300.0, 6.0), (20.0, 19.0), (1000.0, 1e-3)])
def test_catenary_parameter_against_a_bracketing_root(span: float, sag: float) -> None:
    c = catenary_parameter(span, sag)
    # 2 c sinh²(S/4c) is the same sag without the loss of digits
    root = optimize.brentq(lambda x: 2 * x * np.sinh(span / (4 * x)) ** 2 - sag, span / 20, span**2 / sag, xtol=1e-10)
    assert c == pytest.approx(root, rel=1e-8)


def test_catenary_length_against_integration() -> None:
    c, span = 98.379, 150.0
    length, _ = integrate.quad(lambda x: np.sqrt(1 + np.sinh(x / c) ** 2), -span / 2, span / 2)
    assert catenary_length(c, span) == pytest.approx(length, rel=1e-10)


def test_parabola_is_within_one_percent_of_the_catenary_up_to_a_sag_of_a_sixteenth() -> None:
    span = 80.0
    for sag in (0.5, 2.0, 5.0):
        c = catenary_parameter(span, sag)
        assert parabola_sag(1.0, span, c) == pytest.approx(sag, rel=0.01)
        assert parabola_length(span, sag) == pytest.approx(catenary_length(c, span), rel=1e-4)
        # the parabola's sag is the smaller: the exact wire hangs lower, by less than 2 cm here
        assert 0 <= catenary_sag(c, span) - parabola_sag(1.0, span, c) < 0.03


def test_low_point_lies_where_the_wire_is_lowest() -> None:
    w, span, tension, rise = 4.2, 160.0, 3900.0, 5.0
    sag = parabola_sag(w, span, tension)
    x = low_point_from_lower_support(w, span, tension, rise)
    found = optimize.minimize_scalar(lambda t: wire_height(65.0, 70.0, sag, t), bounds=(0, 1), method="bounded")
    assert x / span == pytest.approx(found.x, abs=1e-5)
    assert 65.0 - sag_below_support(w, tension, x) == pytest.approx(found.fun, abs=1e-8)
    assert parabola_tension(w, span, sag) == pytest.approx(tension)


def test_lowest_clearance_against_a_fine_walk_along_the_span() -> None:
    t = np.linspace(0.0, 1.0, 100_001)
    for _ in range(30):
        a, b, sag = RNG.uniform(5, 20), RNG.uniform(5, 20), RNG.uniform(0.0, 6.0)
        heights = wire_height(a, b, sag, t)
        assert lowest_clearance(a, b, sag) == pytest.approx(heights.min(), abs=1e-8)
        assert lowest_clearance_place(a, b, sag) == pytest.approx(t[heights.argmin()], abs=1e-4)


def test_straight_wire_is_lowest_at_its_lower_end() -> None:
    assert lowest_clearance(8.0, 12.0, 0.0) == pytest.approx(8.0)
    assert lowest_clearance(12.0, 8.0, 0.0) == pytest.approx(8.0)
    assert lowest_clearance(8.0, 8.0, 0.0) == pytest.approx(8.0)


def test_piecewise_ground_against_a_fine_walk() -> None:
    span = 120.0
    x = np.linspace(0.0, span, 240_001)
    for _ in range(20):
        ground_x = np.sort(np.concatenate(([-5.0, 125.0], RNG.uniform(0, span, 6))))
        ground_z = RNG.uniform(-2, 4, ground_x.size)
        a, b, sag = 12.0, 15.0, RNG.uniform(0.0, 5.0)
        walked = wire_height(a, b, sag, x / span) - np.interp(x, ground_x, ground_z)
        found = lowest_clearance_over_profile(a, b, sag, span, ground_x, ground_z)
        assert found <= walked.min() + 1e-9
        assert found == pytest.approx(walked.min(), abs=1e-3)


def test_ground_not_known_from_end_to_end_is_not_a_number() -> None:
    assert np.isnan(lowest_clearance_over_profile(10, 10, 1, 80, np.array([0.0, 79.0]), np.zeros(2)))
    assert np.isnan(lowest_clearance_over_profile(10, 10, 1, 80, np.array([1.0, 80.0]), np.zeros(2)))


def _equation(h2: float, h1: float, w1: float, w2: float, span: float, ea: float, alpha: float, dt: float) -> float:
    shift = ea * (w1 * span) ** 2 / (24 * h1**2) + ea * alpha * dt - h1
    return h2**2 * (h2 + shift) - ea * (w2 * span) ** 2 / 24


def test_change_of_state_against_a_bracketing_root() -> None:
    n = 200
    h1, w1, w2 = RNG.uniform(1e3, 4e4, n), RNG.uniform(2, 20, n), RNG.uniform(2, 20, n)
    span, ea = RNG.uniform(30, 400, n), RNG.uniform(1e6, 3e7, n)
    alpha, dt = RNG.uniform(1.1e-5, 2.4e-5, n), RNG.uniform(-60, 90, n)
    found = tension_after_change(h1, w1, w2, span, ea, alpha, dt)
    for i in range(n):
        args = (h1[i], w1[i], w2[i], span[i], ea[i], alpha[i], dt[i])
        root = optimize.brentq(_equation, 1e-3, 1e8, args=args, xtol=1e-8)
        assert found[i] == pytest.approx(root, rel=1e-7)


def test_change_of_state_keeps_the_wires_own_length() -> None:
    h1, w, span, ea, alpha, dt = 5000.0, 4.0, 100.0, 2.0e6, 2.3e-5, 40.0
    h2 = tension_after_change(h1, w, 6.0, span, ea, alpha, dt)
    before = (w * span) ** 2 / (24 * h1**2)  # lengthening of the parabola over the chord, as a part of the span
    after = (6.0 * span) ** 2 / (24 * h2**2)
    assert after - before == pytest.approx((h2 - h1) / ea + alpha * dt, abs=1e-12)


def test_thermal_bound_is_never_below_the_change_of_state() -> None:
    n = 500
    span, sag_share = RNG.uniform(20, 300, n), RNG.uniform(0.005, 0.05, n)
    w, ea, dt = RNG.uniform(1, 20, n), RNG.uniform(5e5, 3e7, n), RNG.uniform(0, 90, n)
    sag = span * sag_share
    exact = sag_after_warming(sag, w, span, ea, 2.3e-5, dt)
    bound = greatest_sag_thermal_only(span, sag, 2.3e-5, dt)
    assert np.all(bound >= exact - 1e-9)
    assert np.all(exact >= sag - 1e-9)


def test_a_stiff_wire_reaches_the_thermal_bound() -> None:
    exact = sag_after_warming(3.0, 4.0, 100.0, 1e13, 2.3e-5, 50.0)
    assert exact == pytest.approx(greatest_sag_thermal_only(100.0, 3.0, 2.3e-5, 50.0), rel=2e-3)


def test_swing_in_two_ways() -> None:
    angle = np.arctan2(3.0, 5.0)
    assert swing_offset(4.0, 1.0, 5.0, 3.0) == pytest.approx(swing_offset_at_angle(4.0, 1.0, angle))
    assert np.hypot(swing_offset(4.0, 0.0, 5.0, 3.0), vertical_sag(4.0, 5.0, 3.0)) == pytest.approx(4.0)


def test_distance_from_a_box_is_the_least_over_its_corner_faces() -> None:
    for dx, dz in [(3.0, 4.0), (-1.0, 4.0), (3.0, -2.0), (-1.0, -1.0)]:
        box_x, box_z = np.meshgrid(np.linspace(-5, 0, 501), np.linspace(-5, 0, 501))
        assert distance_across_wire(dx, dz) == pytest.approx(np.hypot(box_x - dx, box_z - dz).min(), abs=0.011)


def test_sloping_wire_and_wire_piece_agree_inside_the_piece() -> None:
    slope = 0.4
    ends = np.array([[-50.0, 0.0, -20.0], [50.0, 0.0, 20.0]])
    for y, z in [(3.0, 4.0), (0.0, 4.0), (2.0, 0.0)]:
        point = np.array([0.0, y, -z])
        assert distance_to_wire_piece(point, ends[0], ends[1]) == pytest.approx(distance_to_sloping_wire(y, z, slope))


def test_wire_piece_against_a_fine_walk() -> None:
    a, b = np.array([1.0, 2.0, 8.0]), np.array([9.0, -3.0, 6.0])
    points = RNG.uniform(-12, 12, (40, 3))
    walk = a + np.linspace(0, 1, 20_001)[:, None] * (b - a)
    least = np.linalg.norm(points[:, None, :] - walk[None, :, :], axis=-1).min(axis=1)
    assert distance_to_wire_piece(points, a, b) == pytest.approx(least, abs=1e-3)
