"""Limits, inverses and second opinions for the formulas of motion, grip, braking, bends and time."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from travel.mechanics import (
    braking,
    curve,
    grip,
    holding,
    leaning,
    pull,
    resistance,
    retarding,
    stability,
    timing,
    turning,
)
from travel.mechanics import slope as slopes
from travel.units import G_MPS2

GRADES = np.linspace(-0.3, 0.3, 13)


@pytest.mark.parametrize(("grade_pct", "error_pct"), [(5, 0.12), (10, 0.5), (15, 1.1), (20, 2.0), (25, 3.1), (30, 4.4)])
def test_error_of_the_percent_rule(grade_pct: float, error_pct: float) -> None:
    """Derived table: how much the rule of one percent a percent is too large."""
    by_rule = resistance.grade_resistance_percent_rule(1.0, grade_pct / 100)
    exact = resistance.grade_resistance(1.0, grade_pct / 100)
    assert 100 * (by_rule / exact - 1) == pytest.approx(error_pct, abs=0.051)


def test_shares_of_the_weight_make_up_the_weight() -> None:
    grade, cross = np.meshgrid(np.linspace(-0.9, 0.9, 19), np.linspace(-0.9, 0.9, 19))
    along = np.asarray(slopes.share_along(grade))
    across, normal = np.asarray(slopes.share_across(grade, cross)), np.asarray(slopes.share_normal(grade, cross))
    np.testing.assert_allclose(along**2 + across**2 + normal**2, 1.0)
    np.testing.assert_allclose(np.hypot(along, across) / normal, slopes.tilt(grade, cross))


def test_axle_loads_make_up_the_load_and_lift_at_pitch_over() -> None:
    machine = {"cg_back_m": 1.2, "cg_height_m": 1.3, "wheelbase_m": 3.0}
    front = np.asarray(grip.front_axle_load(1e5, GRADES, 0.05, -1.5, **machine))
    rear = np.asarray(grip.rear_axle_load(1e5, GRADES, 0.05, -1.5, **machine))
    np.testing.assert_allclose(front + rear, 1e5 * np.asarray(slopes.share_normal(GRADES, 0.05)))
    down = stability.pitch_over_ratio(1.2, 1.3)
    assert grip.rear_axle_load(1e5, -down, 0.0, 0.0, **machine) == pytest.approx(0.0, abs=1e-6)


def test_low_wheel_takes_all_at_the_stability_factor() -> None:
    at_lift = stability.static_stability_factor(2.0, 1.25)
    assert grip.low_wheel_load(8e4, at_lift, 1.25, 2.0) == pytest.approx(8e4)
    assert grip.low_wheel_load(8e4, 2 * at_lift, 1.25, 2.0) == pytest.approx(8e4)
    assert grip.low_wheel_load(8e4, 0.0, 1.25, 2.0) == pytest.approx(4e4)


def test_steepest_grade_is_the_inverse_of_resistance() -> None:
    force = resistance.total_resistance(1e5, 0.06, GRADES)
    climbing = np.asarray(force) >= 0
    grade = np.asarray(pull.steepest_grade_for_pull(np.asarray(force)[climbing], 1e5, 0.06))
    np.testing.assert_allclose(grade, GRADES[climbing], atol=1e-12)


def test_total_resistance_is_its_two_parts() -> None:
    parts = np.asarray(resistance.grade_resistance(1e5, GRADES)) + np.asarray(
        resistance.rolling_resistance(1e5, 0.06, GRADES)
    )
    np.testing.assert_allclose(parts, resistance.total_resistance(1e5, 0.06, GRADES))


def test_cross_slope_for_grip_is_where_the_machine_slides() -> None:
    cross = grip.steepest_cross_slope_for_grip(0.5, 0.3)
    assert grip.slide_demand(0.3, cross, 0.0, 0.0) == pytest.approx(0.5)


def test_driving_needs_no_grip_where_the_machine_runs_by_itself() -> None:
    assert grip.grip_demand_driving(-0.2, 0.0, 0.05, 0.0) == 0.0
    assert grip.grip_demand_braking(-0.2, 0.0, 0.05, 0.0) > 0.0
    assert grip.grip_demand_braking(0.2, 0.0, 0.05, 0.0) == 0.0
    assert grip.grip_available(0.6, -100.0, 1e5) == 0.0


def test_downgrade_takes_from_the_brake_and_from_the_grip() -> None:
    sine = np.sin(np.arctan(0.2))
    brake_limited = braking.deceleration_on_grade(3.0, 0.8, 1.0, -0.2, 0.0)
    grip_limited = braking.deceleration_on_grade(9.0, 0.4, 1.0, -0.2, 0.0)
    assert brake_limited == pytest.approx(3.0 - G_MPS2 * sine)
    assert grip_limited == pytest.approx(G_MPS2 * (0.4 * np.cos(np.arctan(0.2)) - sine))
    assert braking.deceleration_on_grade(9.0, 0.4, 0.5, -0.25, 0.0) < 0.0  # half the load braked: it runs away


def test_cross_slope_beyond_grip_leaves_no_braking() -> None:
    assert braking.deceleration_on_grade(5.0, 0.3, 1.0, 0.0, 0.31) == 0.0


def test_stopping_distance_by_integration() -> None:
    """The machine coasts 1.7 s gaining 0.6 m/s2, then brakes at 2.1 m/s2 until it stands."""
    speed, delay, coast, decel = 4.0, 1.7, 0.6, 2.1
    biting = speed + coast * delay

    def standing(_: float, state: np.ndarray) -> float:
        return float(state[1])

    standing.terminal = True  # type: ignore[attr-defined]
    before = solve_ivp(lambda _, s: [s[1], coast], (0.0, delay), [0.0, speed], rtol=1e-10, atol=1e-12).y[0, -1]
    after = solve_ivp(
        lambda _, s: [s[1], -decel], (0.0, 60.0), [before, biting], events=standing, rtol=1e-10, atol=1e-12
    )
    assert braking.stopping_distance_coasting(speed, delay, coast, decel) == pytest.approx(after.y[0, -1])


def test_speed_that_stops_is_the_inverse_of_the_distance() -> None:
    speed = np.linspace(0.0, 12.0, 25)
    for delay, coast, decel in ((1.5, 0.0, 3.0), (3.0, 0.8, 0.5), (0.0, 0.0, 2.0)):
        distance = np.asarray(braking.stopping_distance_coasting(speed, delay, coast, decel))
        np.testing.assert_allclose(braking.speed_stopping_within(distance, delay, coast, decel), speed, atol=1e-9)
        if coast == 0.0:
            np.testing.assert_allclose(distance, braking.stopping_distance(speed, delay, 0.0, decel))
    assert braking.speed_stopping_within(0.5, 3.0, 0.8, 0.5) == 0.0  # rolls further than that even from rest


def test_parking_brake_stated_as_a_grade_holds_that_grade() -> None:
    force = holding.parking_brake_force(1e5, 0.18)
    assert holding.hold_needed(1e5, -0.18) == pytest.approx(force)
    assert holding.hold_available(force, 0.8, 1e5, 1e5, 0.0) == pytest.approx(force)
    assert holding.hold_available(force, 0.1, 5e4, 5e4, 0.0) == pytest.approx(5e3)


def test_retarder_power_is_spent_at_the_speed_held() -> None:
    speed = retarding.speed_held_by_retarder(8e4, 1.5e5, 0.04, -0.15)
    assert retarding.brake_power(1.5e5, 0.04, -0.15, speed) == pytest.approx(8e4)
    assert np.isinf(retarding.speed_held_by_retarder(8e4, 1.5e5, 0.04, -0.04))


def test_brake_energy_is_force_times_length_along_the_ground() -> None:
    along = 200.0 * np.sqrt(1 + 0.12**2)
    force = retarding.retarding_force(1.5e5, 0.03, -0.12)
    assert retarding.brake_energy(1.5e5, 0.03, -0.12, 200.0) == pytest.approx(force * along)


@pytest.mark.parametrize("superelevation", [-0.1, 0.0, 0.08])
def test_bend_speeds_balance_the_forces(superelevation: float) -> None:
    """In the road's plane: (v2/gR cos - sin) / (cos + v2/gR sin) is the tangent demanded outwards."""
    for speed, ratio in (
        (curve.side_grip_speed(15.0, superelevation, 0.45), 0.45),
        (curve.overturning_speed(15.0, superelevation, 0.7), 0.7),
    ):
        push = float(curve.sideways_acceleration(speed, 15.0)) / G_MPS2
        bank = np.arctan(superelevation)
        outwards = push * np.cos(bank) - np.sin(bank)
        pressing = np.cos(bank) + push * np.sin(bank)
        assert outwards / pressing == pytest.approx(ratio)


def test_superelevation_needed_is_the_radius_solved_for_it() -> None:
    speed, radius = 8.0, 40.0
    e = curve.superelevation_needed(speed, radius, 0.12)
    assert speed**2 / (G_MPS2 * (e + 0.12)) == pytest.approx(radius)


@pytest.mark.parametrize("cap", [1.0, 3.0, 50.0])
def test_time_rest_to_rest_is_the_sum_of_its_phases(cap: float) -> None:
    distance, up, down = 60.0, 0.5, 0.8
    top = min(cap, float(timing.peak_speed_triangle(distance, up, down)))
    up_m, down_m = top**2 / (2 * up), top**2 / (2 * down)
    phases = (
        timing.time_changing_speed(up_m, 0.0, top)
        + timing.time_over_distance(distance - up_m - down_m, top)
        + timing.time_changing_speed(down_m, top, 0.0)
    )
    assert timing.time_rest_to_rest(distance, up, down, cap) == pytest.approx(phases)
    assert timing.speed_after_distance(0.0, up, up_m) == pytest.approx(top)
    assert timing.speed_after_distance(top, -down, 2 * down_m) == 0.0


def test_power_without_resistance_sets_no_speed() -> None:
    assert np.isinf(timing.speed_at_power(1e5, 0.8, -100.0))


def test_body_on_a_slope_by_turning_its_corner() -> None:
    """Corner of a body 1.25 m to the uphill side and 3.9 m up, turned by the cross slope."""
    angle = np.arctan(0.12)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    corner, middle = turn @ np.array([1.25, 3.9]), turn @ np.array([0.0, 3.9])
    assert leaning.leaning_rise(1.25, -0.12) == pytest.approx(corner[1] - middle[1])
    assert leaning.leaning_offset(3.9, 0.12) == pytest.approx(-middle[0])
    foot_below = middle[0] * 0.12  # ground plumb below the top's middle
    assert leaning.leaning_height(3.9, 0.12) == pytest.approx(middle[1] - foot_below)


def test_steering_modes_meet_in_one_turning_centre() -> None:
    wheelbase, front, rear = 3.2, 0.5, 0.3
    radius = float(turning.turn_radius(wheelbase, front, rear))
    ahead = float(turning.turn_centre_ahead(wheelbase, front, rear))
    assert np.arctan2(wheelbase - ahead, radius) == pytest.approx(front)
    assert np.arctan2(ahead, radius) == pytest.approx(rear)
    assert turning.turn_radius(wheelbase, front, 0.0) == pytest.approx(2 * turning.turn_radius(wheelbase, front, front))
    assert turning.steer_for_radius(wheelbase, turning.turn_radius(wheelbase, front, front), 2.0) == pytest.approx(
        front
    )
    assert turning.point_radius(turning.turn_radius(wheelbase, front, 0.0), wheelbase) == pytest.approx(
        wheelbase / np.sin(front)
    )


def test_inner_and_outer_wheel_point_at_one_centre() -> None:
    inner, track, wheelbase = 0.6, 1.9, 3.2
    outer = float(turning.outer_wheel_steer(inner, track, wheelbase))
    assert wheelbase / np.tan(outer) - wheelbase / np.tan(inner) == pytest.approx(track)


def test_crab_and_corner_by_the_corners_of_a_rectangle() -> None:
    width, length, angle = 2.4, 6.2, 0.35
    corners = np.array([[x, y] for x in (0, length) for y in (-width / 2, width / 2)])
    across = corners @ np.array([np.sin(angle), np.cos(angle)])
    assert turning.crab_width(width, length, angle) == pytest.approx(np.ptp(across))
    centre = np.array([0.0, 5.0])
    distances = np.hypot(*(corners - centre).T)
    assert turning.outer_corner_radius(5.0, width, length) == pytest.approx(distances.max())
    assert turning.inner_edge_radius(5.0, width) == pytest.approx(distances.min())


def test_twist_lifts_a_wheel_beyond_the_stop() -> None:
    twist = stability.twist_angle(0.12, -0.12)
    assert twist == pytest.approx(2 * np.arctan(0.12))
    assert stability.wheel_lift_by_twist(twist, twist, 2.0) == 0.0
    assert stability.wheel_lift_by_twist(twist, 0.0, 2.0) == pytest.approx(2.0 * np.sin(twist))


def test_taking_a_part_away_undoes_adding_it() -> None:
    together = stability.combined_cg(10_000.0, -1.2, 2_000.0, -3.0)
    assert stability.combined_cg(12_000.0, together, -2_000.0, -3.0) == pytest.approx(-1.2)
