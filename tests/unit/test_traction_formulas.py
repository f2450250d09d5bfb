"""Second ways for the formulas of wheel groups: the two-axle formulas, ramp statics, slipping found by bisection."""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.braking import stopping_distance_coasting
from travel.mechanics.grip import (
    front_axle_load,
    grip_available,
    grip_demand_braking,
    grip_demand_driving,
    rear_axle_load,
)
from travel.mechanics.holding import hold_available, hold_needed, parking_brake_force
from travel.mechanics.slope import share_across, share_normal
from travel.mechanics.traction import (
    grade_held,
    grip_demand_steady,
    group_share,
    group_share_at_limit,
    speed_stopped_in_sight,
    tangent_left,
)

GRADES = np.linspace(-0.3, 0.3, 13)
AXLES = {"cg_back_m": 1.2, "cg_height_m": 1.3, "wheelbase_m": 3.0}


def test_share_of_one_axle_is_that_of_the_two_axle_formulas():
    normal = 1e5 * np.asarray(share_normal(GRADES, 0.06))
    front = np.asarray(front_axle_load(1e5, GRADES, 0.06, 0.0, **AXLES))
    rear = np.asarray(rear_axle_load(1e5, GRADES, 0.06, 0.0, **AXLES))
    np.testing.assert_allclose(group_share(0.6, 1.3 / 3.0, GRADES, 0.06), front / normal)
    np.testing.assert_allclose(group_share(0.4, -1.3 / 3.0, GRADES, 0.06), rear / normal)


@pytest.mark.parametrize(
    ("degrees", "front_kg", "rear_kg", "needed"),
    [(10, 4750.9, 7066.8, 0.2949), (15, 4270.4, 7320.7, 0.4243), (20, 3757.4, 7518.9, 0.5459)],
)
def test_ramp_statics(degrees: float, front_kg: float, rear_kg: float, needed: float):
    """12 t, 3.0 m, centre of gravity 1.4 m before the rear axle, 1.1 m up: loads on a ramp, grip of the rear alone."""
    grade = np.tan(np.radians(degrees))
    whole = 12000.0 * np.cos(np.radians(degrees))
    rear = group_share(1 - 1.4 / 3.0, -1.1 / 3.0, grade, 0.0)
    assert whole * rear == pytest.approx(rear_kg, abs=0.1)
    assert whole * group_share(1.4 / 3.0, 1.1 / 3.0, grade, 0.0) == pytest.approx(front_kg, abs=0.1)
    assert grade / rear == pytest.approx(needed, abs=1e-4)
    at_limit = group_share_at_limit(1 - 1.4 / 3.0, -1.1 / 3.0, needed)
    assert at_limit == pytest.approx(rear, abs=1e-4)


@pytest.mark.parametrize("transfer", [0.45, -0.45, 0.0])
@pytest.mark.parametrize("cross", [0.0, 0.08])
def test_grade_held_against_bisection_on_the_balance_of_forces(transfer: float, cross: float):
    """The steepest grade on which grip of the group, at the loads of that grade, still holds the weight."""

    def holds(grade: float) -> bool:
        share = group_share(0.55, transfer, grade, cross)
        normal, across = share * share_normal(grade, cross), share * share_across(grade, cross)
        return bool(hold_available(1e9, 0.4, normal, 1.0, across) >= hold_needed(1.0, grade))

    low, high = 0.0, 0.9
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    share = group_share_at_limit(0.55, transfer, tangent_left(0.4, low, cross))
    assert grade_held(0.99, 0.4, share, low, cross) == pytest.approx(low, rel=1e-9)
    assert grade_held(0.99, 0.4, share, 0.5 * low, cross) >= 0.5 * low


def test_grade_held_by_the_brake_is_the_stated_one():
    force = parking_brake_force(1e5, 0.3)
    assert hold_needed(1e5, grade_held(0.3, 0.9, 1.0, 0.2, 0.0)) == pytest.approx(force)


def test_one_demand_for_driving_and_braking():
    np.testing.assert_allclose(
        grip_demand_steady(GRADES, 0.05, 0.03, 1.0), grip_demand_driving(GRADES, 0.05, 0.03, 0.0), rtol=1e-12
    )
    np.testing.assert_allclose(
        grip_demand_steady(GRADES, 0.05, 0.03, -1.0), grip_demand_braking(GRADES, 0.05, 0.03, 0.0), rtol=1e-12
    )


def test_all_wheels_carry_all():
    np.testing.assert_allclose(group_share(1.0, 0.0, GRADES, 0.05), 1.0)
    assert grip_available(0.4, 1e5 * group_share(1.0, 0.0, 0.0, 0.0), 1e5) == pytest.approx(0.4)
    assert group_share_at_limit(0.6, -1.9, 1.4) == 1.0


@pytest.mark.parametrize("held", [0.0, 1.5, 3.0, np.inf])
def test_from_the_speed_given_the_machine_stands_in_sight(held: float):
    """By the drive line's speed held through the delay, or gaining speed through it: one of the two ways it stands."""
    speed = speed_stopped_in_sight(18.0, 1.9, 0.8, 2.2, held)
    free = stopping_distance_coasting(speed, 1.9, 0.8, 2.2)
    steady = stopping_distance_coasting(speed, 1.9, 0.0, 2.2)
    assert free <= 18.0 + 1e-9 or (speed <= held and steady <= 18.0 + 1e-9)
    assert min(abs(free - 18.0), abs(steady - 18.0), abs(speed - held)) < 1e-9
