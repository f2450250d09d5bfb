"""The tip factor against an independent balance of contact forces, solved by linear programming.

The balance knows nothing of polygons or lines: contact forces at the support points (never pulling), sideways
forces free to share themselves out, all six equations of a rigid body but the one along the travel (forces along
the travel act at the tyre contacts and their turning moment is taken by the tyres). The largest scale of the
demand for which such forces exist is the factor.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from travel.mechanics.slope import cross_slope_at_heading, demand_across, demand_along, grade_at_heading
from travel.mechanics.stability import oscillating_roll_ratio, pitch_over_ratio, static_stability_factor
from travel.mechanics.tipping import tip_factor, tip_factor_by_line
from travel.units import G_MPS2

LARGEST = 1e4


def _demand(grade: float, cross: float, along: float, across: float) -> tuple[float, float]:
    """Give the demand by turning gravity into body axes with a rotation built from the plane's own vectors."""
    forward = np.array([1.0, 0.0, grade])
    up = np.array([-grade, -cross, 1.0])
    forward, up = forward / np.linalg.norm(forward), up / np.linalg.norm(up)
    left = np.cross(up, forward)
    force = np.array([forward, left, up]) @ np.array([0.0, 0.0, -G_MPS2]) - np.array([along, across, 0.0])
    return force[0] / force[2], force[1] / force[2]


def _largest_scale(along: float, across: float, cg: np.ndarray, supports: np.ndarray) -> float:
    """Give the largest scale of the demand at which the machine still stands; unknowns: k, normals, sideways forces."""
    n = len(supports)
    x, y, z = supports.T
    none, one = np.zeros(n), np.ones(n)
    rows = [
        (0.0, one, none, 1.0),  # square to the ground, per weight square to the ground
        (-across, none, one, 0.0),  # sideways: contact forces to the left hold the demand to the right
        (cg[2] * across, y, -z, cg[1]),  # roll
        (cg[2] * along, x, none, cg[0]),  # pitch, forces along acting at the ground
        (-across * cg[0], none, x, 0.0),  # yaw of the sideways forces
    ]
    matrix = np.array([np.concatenate([[k], normals, sideways]) for k, normals, sideways, _ in rows])
    right = np.array([value for *_, value in rows])
    forces = [(0.0, None)] * n + [(None, None)] * n
    on_the_level = linprog(np.zeros(1 + 2 * n), A_eq=matrix, b_eq=right, bounds=[(0.0, 0.0), *forces], method="highs")
    if on_the_level.status == 2:  # a machine that does not stand without the demand has no factor to speak of
        return 0.0
    upwards = -np.eye(1, 1 + 2 * n)[0]
    answer = linprog(upwards, A_eq=matrix, b_eq=right, bounds=[(0.0, LARGEST), *forces], method="highs")
    assert answer.status == 0, answer.message
    return float(answer.x[0])


def _polygon(rng: np.random.Generator) -> np.ndarray:
    points = rng.uniform([-4.0, -1.6], [1.0, 1.6], size=(int(rng.integers(4, 9)), 2))
    hull = points[ConvexHull(points).vertices]  # counter-clockwise in the plane
    return np.column_stack([hull, np.zeros(len(hull))])


def _three_points(rng: np.random.Generator) -> np.ndarray:
    track, wheelbase, pivot = rng.uniform(1.6, 2.6), rng.uniform(2.2, 4.0), rng.uniform(0.0, 0.9)
    front = [[0.0, track / 2, 0.0], [-wheelbase, 0.0, pivot], [0.0, -track / 2, 0.0]]
    rear = [[0.0, 0.0, pivot], [-wheelbase, track / 2, 0.0], [-wheelbase, -track / 2, 0.0]]
    return np.array(front if rng.random() < 0.7 else rear)


@pytest.mark.parametrize("kind", ["polygon on the ground", "three points with pivot"])
def test_factor_equals_the_largest_scale_of_balanced_contact_forces(kind: str) -> None:
    rng = np.random.default_rng(20240611)
    stood = tipped = fell = 0
    for _ in range(300):
        supports = _polygon(rng) if kind.startswith("polygon") else _three_points(rng)
        middle = supports.mean(axis=0)
        cg = np.array([*(middle[:2] + rng.normal(0.0, [0.5, 0.2])), rng.uniform(1.0, 2.0)])
        grade, cross = rng.uniform(-0.4, 0.4, 2)
        along, across = rng.uniform(-4.0, 4.0, 2) * (rng.random() < 0.7)
        expected = _largest_scale(*_demand(grade, cross, along, across), cg, supports)
        factor = float(tip_factor(grade, cross, along, across, *cg, supports))
        assert min(factor, LARGEST) == pytest.approx(expected, rel=1e-6, abs=1e-8)
        stood, tipped, fell = stood + (factor > 1), tipped + (0 < factor <= 1), fell + (factor == 0)
    assert stood > 50  # the poses cover machines that stand, that tip, and that never stood
    assert tipped > 10
    assert fell > 3


def test_demand_equals_gravity_turned_into_body_axes() -> None:
    rng = np.random.default_rng(7)
    for grade, cross, along, across in rng.uniform([-0.9, -0.9, -5, -5], [0.9, 0.9, 5, 5], (100, 4)):
        expected_along, expected_across = _demand(grade, cross, along, across)
        assert demand_along(grade, cross, along) == pytest.approx(expected_along, abs=1e-12)
        assert demand_across(grade, cross, across) == pytest.approx(expected_across, abs=1e-12)


def test_whole_demand_at_rest_does_not_depend_on_heading() -> None:
    heading = np.linspace(0.0, 2 * np.pi, 73)
    grade = grade_at_heading(0.12, -0.07, heading)
    cross = cross_slope_at_heading(0.12, -0.07, heading)
    whole = np.hypot(demand_along(grade, cross, 0.0), demand_across(grade, cross, 0.0))
    np.testing.assert_allclose(whole, np.hypot(0.12, 0.07), rtol=1e-12)


BASE = np.array([[0.0, 1.0, 0.0], [-3.0, 1.0, 0.0], [-3.0, -1.0, 0.0], [0.0, -1.0, 0.0]])


@pytest.mark.parametrize(
    ("pivot_m", "degrees"), [(None, 39.81), (0.6, 32.01), (0.0, 26.57)], ids=["rigid", "0.6 m", "ground"]
)
def test_derived_row_side_tip_angles(pivot_m: float | None, degrees: float) -> None:
    """Track 2.0, wheelbase 3.0, height 1.2, cg 1.2 m behind the rigid axle (derived limits, two decimals)."""
    if pivot_m is None:
        ratio, supports = static_stability_factor(2.0, 1.2), BASE
    else:
        ratio = oscillating_roll_ratio(2.0, 3.0, 1.2, 1.2, pivot_m)
        supports = np.array([[0.0, 1.0, 0.0], [-3.0, 0.0, pivot_m], [0.0, -1.0, 0.0]])
    assert np.degrees(np.arctan(ratio)) == pytest.approx(degrees, abs=0.005)
    factor = tip_factor(0.0, 0.2, 0.0, 0.0, -1.2, 0.0, 1.2, supports)
    assert factor * 0.2 == pytest.approx(ratio)


@pytest.mark.parametrize(("grade", "to_lower_axle_m"), [(0.3, 1.8), (-0.3, 1.2)], ids=["up", "down"])
@pytest.mark.parametrize("supports", [BASE, np.array([[0.0, 1.0, 0.0], [-3.0, 0.0, 0.6], [0.0, -1.0, 0.0]])])
def test_pitch_over_up_and_down(grade: float, to_lower_axle_m: float, supports: np.ndarray) -> None:
    """A swinging axle passes pitch: uphill it tips about its tyre contacts, not about its pivot."""
    factor = tip_factor(grade, 0.0, 0.0, 0.0, -1.2, 0.0, 1.2, supports)
    assert factor * abs(grade) == pytest.approx(pitch_over_ratio(to_lower_axle_m, 1.2))


def test_pivot_limits() -> None:
    whole = static_stability_factor(2.0, 1.2)
    assert oscillating_roll_ratio(2.0, 3.0, 1.2, 1.2, 1.2) == pytest.approx(whole)
    assert oscillating_roll_ratio(2.0, 3.0, 1.2, 1.2, 0.0) == pytest.approx(whole * (1 - 1.2 / 3.0))
    assert oscillating_roll_ratio(2.0, 3.0, 0.0, 1.2, 0.6) == pytest.approx(whole)


def test_whole_mass_with_axle_below_pivot_is_not_on_the_safe_side() -> None:
    """Why the docstring says which height to put in: the axle's own mass does not roll with the body."""
    mass, axle, axle_height, pivot = 12_000.0, 2_000.0, 0.4, 0.8
    body = mass - axle
    body_back, body_height = (mass * 1.5 - axle * 3.0) / body, (mass * 1.3 - axle * axle_height) / body
    exact = oscillating_roll_ratio(2.0, 3.0, body_back, body_height, pivot)
    assert oscillating_roll_ratio(2.0, 3.0, 1.5, 1.3, pivot) > exact
    assert oscillating_roll_ratio(2.0, 3.0, 1.5, 1.3, axle_height) <= exact


def test_clockwise_points_fail_safe_and_missing_values_stay_missing() -> None:
    assert tip_factor(0.0, 0.1, 0.0, 0.0, -1.2, 0.0, 1.2, BASE[::-1]) == 0.0
    assert np.isnan(tip_factor(0.0, 0.1, 0.0, 0.0, np.nan, 0.0, 1.2, BASE))


def test_broadcasts_over_slopes_and_attitudes() -> None:
    grade, cross = np.linspace(-0.2, 0.2, 5)[:, None], np.linspace(-0.1, 0.1, 3)[None, :]
    heights = np.array([1.1, 1.2, 1.3])
    factors = tip_factor(grade, cross, 0.0, 0.0, -1.2, 0.0, heights, BASE)
    lines = tip_factor_by_line(grade, cross, 0.0, 0.0, -1.2, 0.0, heights, BASE)
    assert np.shape(factors) == (5, 3)
    assert np.shape(lines) == (5, 3, 4)
    for i in range(5):
        for j in range(3):
            one = tip_factor(float(grade[i, 0]), float(cross[0, j]), 0.0, 0.0, -1.2, 0.0, float(heights[j]), BASE)
            assert np.asarray(factors)[i, j] == pytest.approx(float(one))
