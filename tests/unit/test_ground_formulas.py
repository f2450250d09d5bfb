"""Ground, edges, structures, hook: joins of piecewise formulas, limits, second ways to the same number."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from travel.mechanics.bearing import (
    bearing_factor_nc,
    bearing_factor_nc_terzaghi,
    bearing_factor_ng_hansen,
    bearing_factor_ng_meyerhof,
    bearing_factor_ng_vesic,
    bearing_factor_nq,
)
from travel.mechanics.bearing_capacity import (
    platform_bearing_br_470_memory,
    ultimate_bearing_clay_on_rock,
    ultimate_bearing_undrained,
)
from travel.mechanics.edges import crest_standoff_by_line, crest_standoff_depth_multiple, crest_standoff_from_toe
from travel.mechanics.hook import (
    machine_speed_for_load_pace,
    pendulum_offset,
    pendulum_period,
    radius_on_slope,
    radius_with_swing,
)
from travel.mechanics.line_distance import bar_height, sideways_gap
from travel.mechanics.setup import wind_pressure
from travel.mechanics.structures import greatest_load_within
from travel.mechanics.trafficability import (
    axle_weight_factor,
    clearance_factor,
    contact_pressure_factor,
    deflection_correction,
    mobility_index,
    tyre_factor,
    vehicle_cone_index_fifty_passes,
    vehicle_cone_index_one_pass,
    wheel_load_factor,
)
from travel.mechanics.unpaved import cbr_from_penetrometer, unsurfaced_thickness_corps_memory
from travel.units import KG_PER_LB, M_PER_IN, PA_PER_PSI


def test_factors_reach_their_limits_without_friction() -> None:
    tiny = 1e-5
    assert bearing_factor_nc(0.0) == pytest.approx(2 + np.pi)
    assert bearing_factor_nc(tiny) == pytest.approx(bearing_factor_nc(0.0), rel=1e-4)
    assert bearing_factor_nc_terzaghi(tiny) == pytest.approx(bearing_factor_nc_terzaghi(0.0), rel=1e-4)
    assert bearing_factor_nq(0.0) == pytest.approx(1.0)
    for factor in (bearing_factor_ng_hansen, bearing_factor_ng_meyerhof, bearing_factor_ng_vesic):
        assert factor(0.0) == pytest.approx(0.0)


def test_factors_rise_with_friction() -> None:
    friction = np.linspace(0.0, 0.87, 200)
    for factor in (bearing_factor_nc, bearing_factor_nc_terzaghi, bearing_factor_nq, bearing_factor_ng_vesic):
        assert np.all(np.diff(factor(friction)) > 0)


def test_clay() -> None:
    assert ultimate_bearing_undrained(40e3, 0.5, 0.5, 0.0) == pytest.approx(1.2 * (2 + np.pi) * 40e3)
    # a thick layer on rock gives no more than the layer alone
    assert ultimate_bearing_clay_on_rock(40e3, 0.5, 5.0, 0.0) == pytest.approx(5.14 * 40e3)


def test_platform_thickness_that_just_carries() -> None:
    # W 0.5 m, L 2.4 m, 40 degrees, 20 kN/m3, c_u 30 kPa, 200 kPa: 0.546 m with a load factor of 1.2, 0.774 m with 1.6
    for thickness, factor in ((0.546, 1.2), (0.774, 1.6)):
        resistance = platform_bearing_br_470_memory(30e3, 0.5, 2.4, thickness, 20e3, 5.5)
        assert resistance == pytest.approx(factor * 200e3, rel=2e-3)


def test_weight_factor_joins() -> None:
    for thousand_lb, tolerance in ((2.0, 0.011), (13.5, 0.03), (20.0, 0.03), (31.5, 0.05)):
        below, above = axle_weight_factor(np.array([thousand_lb - 1e-9, thousand_lb + 1e-9]) * 1000 * KG_PER_LB)
        assert abs(above - below) < tolerance
    assert np.all(np.diff(axle_weight_factor(np.linspace(200, 20000, 500))) > -0.03)


def test_mobility_index_of_one_vehicle() -> None:
    # 4 axles, 36 320 lb, 2 tyres an axle of 22 in by 45 in, clearance 21 in, hydraulic, strong engine
    axle = 36320 / 4 * KG_PER_LB
    pressure = contact_pressure_factor(axle, 2, 22 * M_PER_IN, 45 * M_PER_IN)
    weight, tyre = axle_weight_factor(axle), tyre_factor(22 * M_PER_IN)
    load, clear = wheel_load_factor(axle), clearance_factor(21 * M_PER_IN)
    assert (pressure, weight, tyre, load, clear) == pytest.approx((9.172, 1.3496, 0.32, 4.54, 2.1), abs=5e-4)
    index = mobility_index(pressure, weight, tyre, 1.0, load, clear, 1.0, 1.0)
    assert index == pytest.approx(41.12, abs=0.005)
    assert vehicle_cone_index_one_pass(index) / PA_PER_PSI == pytest.approx(18.83, abs=0.005)
    assert vehicle_cone_index_fifty_passes(index) / PA_PER_PSI == pytest.approx(43.85, abs=0.005)
    weak = mobility_index(pressure, weight, tyre, 1.0, load, clear, 1.05, 1.05)
    assert weak == pytest.approx(index * 1.05**2)


def test_cone_index_joins_and_rises() -> None:
    for formula in (vehicle_cone_index_one_pass, vehicle_cone_index_fifty_passes):
        below, above = formula(np.array([114.999, 115.001]))
        assert above == pytest.approx(below, rel=0.03)
        assert np.all(np.diff(formula(np.linspace(1, 114, 100))) > 0)
    index = np.linspace(5, 200, 50)
    assert np.all(vehicle_cone_index_fifty_passes(index) > vehicle_cone_index_one_pass(index))


def test_deflection_correction() -> None:
    assert deflection_correction(np.array([0.15, 0.25, 0.37])) == pytest.approx([1.0, 0.880, 0.798], abs=5e-4)


def test_penetrometer() -> None:
    assert cbr_from_penetrometer(np.array([0.010, 0.050])) * 100 == pytest.approx([26.5, 4.8], abs=0.05)


def test_unsurfaced_thickness_falls_with_strength_and_never_below_nothing() -> None:
    cbr = np.linspace(0.01, 0.5, 50)
    thickness = unsurfaced_thickness_corps_memory(50e3, 0.1, cbr, 500.0)
    assert np.all(np.diff(thickness) <= 0)
    assert thickness[-1] == 0.0


def test_standoff_in_two_ways() -> None:
    depth, batter, line = 3.0, np.radians(63.0), np.radians(34.0)
    toe = depth / np.tan(line)
    assert crest_standoff_by_line(depth, batter, line) == pytest.approx(crest_standoff_from_toe(toe, depth, batter))


def test_flat_batter_needs_no_more_standoff() -> None:
    assert crest_standoff_by_line(3.0, np.radians(30.0), np.radians(45.0)) == 0.0


def test_depth_multiple_has_a_floor() -> None:
    assert crest_standoff_depth_multiple(np.array([0.5, 3.0]), 2.0, 2.0) == pytest.approx([2.0, 6.0])


def test_axles_on_a_span_against_every_run_of_axles() -> None:
    rng = np.random.default_rng(11)
    for _ in range(50):
        x, load = rng.uniform(0, 12, 5), rng.uniform(1e3, 9e3, 5)
        span = rng.uniform(0.5, 10)
        subsets = (s for r in range(1, 6) for s in itertools.combinations(range(5), r))
        best = max(load[list(s)].sum() for s in subsets if np.ptp(x[list(s)]) <= span)
        assert greatest_load_within(x, load, span) == pytest.approx(best)


def test_hook_radius_against_a_turned_point() -> None:
    lean = np.arctan(0.05)
    turn = np.array([[np.cos(lean), np.sin(lean)], [-np.sin(lean), np.cos(lean)]])
    assert radius_on_slope(5.0, 9.0, 0.05) == pytest.approx((turn @ [5.0, 9.0])[0])
    assert radius_with_swing(5.0, 9.0, 0.05, 0.3) == pytest.approx(radius_on_slope(5.0, 9.0, 0.05) + 0.6)


def test_pendulum() -> None:
    angle = np.arctan(1.0 / 9.80665)
    assert pendulum_offset(6.0, 1.0) == pytest.approx(6.0 * np.sin(angle))
    assert pendulum_period(9.80665) == pytest.approx(2 * np.pi)


def test_load_on_the_inside_of_a_turn_allows_no_more() -> None:
    assert machine_speed_for_load_pace(0.4, 6.0, 3.0) == pytest.approx(0.4)
    assert machine_speed_for_load_pace(0.4, 6.0, 12.0) == pytest.approx(0.2)


def test_sums_of_distances() -> None:
    assert bar_height(5.2, 0.8, 0.1) == pytest.approx(4.3)
    assert sideways_gap(10.0, 1.0, 2.0, 1.3) == pytest.approx(5.7)
    assert wind_pressure(10.0, 1.25) == pytest.approx(62.5)
