"""The rolled body against brute force that shares nothing with it: circles let down on sampled ground, dense lines.

And what must hold whatever the numbers: mirrored the same, continuous in position, higher belly never worse.
"""

from __future__ import annotations

import dataclasses
import itertools
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from travel.mechanics.roll_engine import RollCase, roll, smallest_gap, stand
from travel.mechanics.rolling import rolled_clearance, trailing_wheel_place, wheel_centre_height, wheel_contact_slope

UNDER = np.array([[-4.25, 1.05], [-3.65, 0.66], [-2.10, 0.46], [-0.80, 0.46], [0.75, 0.58], [1.60, 0.78], [2.95, 0.62]])
PROFILES = {
    "ramp and deck": [(-20.0, 0.0), (-3.2, 0.0), (0.0, 0.9), (9.0, 0.9), (30.0, 0.9)],
    "beavertail": [(-20.0, 0.0), (-2.4, 0.0), (0.0, 0.55), (1.5, 0.95), (9.0, 0.95), (30.0, 0.95)],
    "hump and dip": [(-20.0, 0.3), (-5.0, 0.0), (-2.0, 0.4), (0.0, 0.1), (3.0, 0.6), (30.0, -1.0)],
    "kerb": [(-20.0, 0.0), (0.0, 0.0), (0.01, 0.12), (30.0, 0.12)],
}


def brute_centre(x: np.ndarray, z: np.ndarray, at: float, radius: float) -> float:
    """Let a circle down on ground sampled every 0.1 mm round it; parabola through the highest three."""
    here = np.linspace(at - radius, at + radius, 24001)
    here = np.union1d(here, x[(x > at - radius) & (x < at + radius)])
    room = np.maximum(radius**2 - (here - at) ** 2, 0.0)
    return float((np.interp(here, x, z) + np.sqrt(room)).max())


def brute_clearance(x: np.ndarray, z: np.ndarray, lead: float, radii: tuple[float, float], base: float) -> float:
    """Stand the body by root finding on brute circles; distance between densely sampled lines, or their overlap."""
    front = brute_centre(x, z, lead, radii[0])
    span = np.hypot(base, radii[0] - radii[1])
    rear = brentq(lambda at: np.hypot(lead - at, front - brute_centre(x, z, at, radii[1])) - span, lead - span - 1e-6,
                  lead - span * 0.5, xtol=1e-12)  # fmt: skip
    back = brute_centre(x, z, rear, radii[1])
    turn = np.arctan2(front - back, lead - rear) - np.arctan2(radii[0] - radii[1], base)
    spot = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    body = np.array([lead, front]) + (UNDER - [0.0, radii[0]]) @ spot.T
    share = np.linspace(0.0, 1.0, 3001)[:, None]
    under = np.vstack([a + share * (b - a) for a, b in itertools.pairwise(body)])
    gap = under[:, 1] - np.interp(under[:, 0], x, z)
    corners = [v for v in range(len(x)) if body[:, 0].min() < x[v] < body[:, 0].max()]
    plumb = [np.interp(x[v], body[:, 0], body[:, 1]) - z[v] for v in corners]
    least = min([gap.min(), *plumb])
    if least <= 0.0:
        return float(least)
    apart = [_point_line(p, np.column_stack((x, z))) for p in body]
    apart += [_point_line(np.array([x[v], z[v]]), body) for v in range(len(x))]
    return float(min(apart))


def _point_line(point: np.ndarray, line: np.ndarray) -> float:
    best = np.inf
    for a, b in itertools.pairwise(line):
        if np.allclose(a, b):
            continue
        along = np.clip(np.dot(point - a, b - a) / np.dot(b - a, b - a), 0.0, 1.0)
        best = min(best, float(np.linalg.norm(point - a - along * (b - a))))
    return best


@pytest.mark.parametrize("name", PROFILES)
def test_circle_let_down(name: str) -> None:
    x, z = np.array(PROFILES[name]).T
    for at in np.linspace(-6.0, 6.0, 41):
        for radius in (0.3, 0.62):
            assert wheel_centre_height(x, z, at, radius) == pytest.approx(brute_centre(x, z, at, radius), abs=1e-8)


@pytest.mark.parametrize("name", PROFILES)
def test_slope_of_the_contact_is_the_slope_of_the_centres_line(name: str) -> None:
    x, z = np.array(PROFILES[name]).T
    at = np.linspace(-6.0, 6.0, 1201) + 0.000123
    above, below = (wheel_centre_height(x, z, at + d, 0.62) for d in (1e-6, -1e-6))
    numeric, found = (above - below) / 2e-6, wheel_contact_slope(x, z, at, 0.62)
    smooth = np.abs(numeric) < 1.0
    assert smooth.sum() > 1000
    assert np.abs(numeric - found)[smooth].max() < 2e-3


@pytest.mark.parametrize("name", PROFILES)
@pytest.mark.parametrize("radii", [(0.62, 0.62), (0.55, 0.70)])
def test_rolled_body_against_brute_force(name: str, radii: tuple[float, float]) -> None:
    x, z = np.array(PROFILES[name]).T
    for lead in np.linspace(-3.5, 7.5, 23):
        found = rolled_clearance(x, z, lead, *radii, 2.9, *UNDER.T)
        assert found == pytest.approx(brute_clearance(x, z, lead, radii, 2.9), abs=1e-6), lead


def test_trailing_wheel_is_one_wheelbase_behind() -> None:
    x, z = np.array(PROFILES["hump and dip"]).T
    lead = np.linspace(-6.0, 8.0, 200)
    trail = trailing_wheel_place(x, z, lead, 0.55, 0.70, 2.9)
    rise = wheel_centre_height(x, z, lead, 0.55) - wheel_centre_height(x, z, trail, 0.70)
    np.testing.assert_allclose(np.hypot(lead - trail, rise), np.hypot(2.9, 0.15), atol=1e-9)


def case(profile: list[tuple[float, float]], under: np.ndarray = UNDER, base: float = 2.9) -> RollCase:
    x, z = np.array(profile).T
    one = np.ones(1)
    lines = {"profile_x": x, "profile_z": z, "under_x": under[:, 0], "under_z": under[:, 1]}
    numbers = {"lead_r": 0.62, "trail_r": 0.62, "base": base, "from_x": -6.0, "to_x": 8.0}
    return RollCase(**{k: v[None] for k, v in lines.items()}, **{k: v * one for k, v in numbers.items()})


def least(profile: list[tuple[float, float]], under: np.ndarray = UNDER) -> float:
    return float(roll(case(profile, under), 0.01).gap.value[0])


def ramp(deck: float, length: float) -> list[tuple[float, float]]:
    run = float(np.sqrt(length**2 - deck**2))
    return [(-30.0, 0.0), (-run, 0.0), (0.0, deck), (40.0, deck)]


@settings(max_examples=40, deadline=None)
@given(deck=st.floats(0.4, 1.1), length=st.floats(2.5, 6.0), more=st.floats(0.01, 2.0), lower=st.floats(0.0, 0.3))
def test_longer_ramp_higher_belly_lower_deck_are_never_worse(
    deck: float, length: float, more: float, lower: float
) -> None:
    first = least(ramp(deck, length))
    assert least(ramp(deck, length + more)) >= first - 1e-6
    assert least(ramp(deck, length), UNDER + np.array([0.0, 0.05])) >= first - 1e-6
    assert least(ramp(deck - lower, length)) >= first - 1e-6


@settings(max_examples=30, deadline=None)
@given(corners=st.lists(st.tuples(st.floats(0.3, 3.0), st.floats(-0.35, 0.35)), min_size=3, max_size=8))
def test_mirrored_the_same(corners: list[tuple[float, float]]) -> None:
    x = np.concatenate(([-20.0], -6.0 + np.cumsum([run for run, _ in corners]), [40.0]))
    z = np.concatenate(([0.0], np.cumsum([rise for _, rise in corners])))
    z = np.append(z, z[-1])
    lead = np.linspace(-3.0, 8.0, 60)
    there = rolled_clearance(x, z, lead, 0.55, 0.70, 2.9, *UNDER.T)
    trail = trailing_wheel_place(x, z, lead, 0.55, 0.70, 2.9)
    turned = UNDER[::-1] * [-1.0, 1.0] + [-2.9, 0.0]
    back = rolled_clearance(-x[::-1], z[::-1], -trail, 0.70, 0.55, 2.9, *turned.T)
    np.testing.assert_allclose(back, there, atol=2e-6)


def test_continuous_in_position() -> None:
    """No jump: a step of 1 mm moves the clearance by no more than the wheels' slopes can, but for the kerb's face."""
    for name in ("ramp and deck", "beavertail", "hump and dip"):
        x, z = np.array(PROFILES[name]).T
        lead = np.arange(-6.0, 8.0, 0.001)
        found = rolled_clearance(x, z, lead, 0.62, 0.62, 2.9, *UNDER.T)
        assert np.abs(np.diff(found)).max() < 0.002


def test_the_tightest_place_is_no_looser_than_any_position_tried() -> None:
    for profile in PROFILES.values():
        found = roll(case(profile), 0.01)
        x, z = np.array(profile).T
        dense = rolled_clearance(x, z, np.arange(-6.0, 8.0, 0.0005), 0.62, 0.62, 2.9, *UNDER.T)
        assert found.gap.value[0] <= np.nanmin(dense) + 1e-7
        assert found.gap.value[0] >= np.nanmin(dense) - 5e-4  # half a step of the dense positions, at most one to one


def test_the_two_points_are_as_far_apart_as_the_clearance() -> None:
    x, z = np.array(PROFILES["beavertail"]).T
    lead = np.linspace(-4.0, 6.0, 101)
    stood = stand(x, z, lead, (0.62, 0.62), 2.9)
    gap = smallest_gap(x, z, stood, 0.62, (UNDER[:, 0], UNDER[:, 1]))
    up = gap.body_z - 0.62
    at_x = stood.lead_x + gap.body_x * stood.cos - up * stood.sin
    at_z = stood.lead_z + gap.body_x * stood.sin + up * stood.cos
    apart = np.hypot(at_x - gap.profile_x, at_z - gap.profile_z)
    np.testing.assert_allclose(np.where(gap.value > 0, apart, -gap.value), np.abs(gap.value), atol=1e-9)


def test_beyond_the_profile_nothing_is_known() -> None:
    x, z = np.array(PROFILES["ramp and deck"]).T
    assert np.isnan(rolled_clearance(x, z, 31.0, 0.6, 0.6, 2.9, *UNDER.T))
    assert np.isnan(rolled_clearance(x, z, -19.0, 0.6, 0.6, 2.9, *UNDER.T))


@pytest.mark.slow
def test_a_thousand_cases_in_a_few_seconds() -> None:
    rng = np.random.default_rng(3)
    count = 1000
    one = case(PROFILES["beavertail"])
    given = {f.name: getattr(one, f.name) for f in dataclasses.fields(one)}
    many = {name: np.repeat(values, count, axis=0) for name, values in given.items() if values is not None}
    deck = rng.uniform(0.6, 1.1, count)
    many["profile_z"][:, 2:] += (deck - 0.95)[:, None]
    start = time.perf_counter()
    found = roll(RollCase(**many), 0.01)
    assert time.perf_counter() - start < 20.0
    assert np.isfinite(found.gap.value).all()
