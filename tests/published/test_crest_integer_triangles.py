"""Crests and humps by integer triangles (11-60-61, 3-4-5, 7-24-25, 13-84-85) and tables derived from them.

Each case is also rolled: the engine has to find the same least clearance over every position.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.ramp_angles import (
    crest_clearance,
    crest_front_distance,
    crest_height,
    crest_height_at,
    crest_height_short_ramp,
    hump_radius_touching,
    hump_rise,
)
from travel.mechanics.roll_engine import RollCase, roll
from travel.mechanics.rolling import rolled_clearance


def rolled(x: list[float], z: list[float], base: float, h: float, r: float, span: tuple[float, float]) -> float:
    """Give the least clearance of a flat belly by the engine, 10 mm steps refined."""
    one = np.ones(1)
    case = RollCase(
        profile_x=np.array([x]), profile_z=np.array([z]), under_x=np.array([[-base, 0.0]]),
        under_z=np.array([[h, h]]), lead_r=r * one, trail_r=r * one, base=base * one, from_x=span[0] * one,
        to_x=span[1] * one,
    )  # fmt: skip
    return float(roll(case, 0.01).gap.value[0])


def two_lines(change: float) -> tuple[list[float], list[float]]:
    half = change / 2
    return [-30 * np.cos(half), 0.0, 30 * np.cos(half)], [-30 * np.sin(half), 0.0, -30 * np.sin(half)]


C3 = 2 * np.arctan(11 / 60)


@pytest.mark.parametrize(
    ("change", "r", "clearance"),
    [(np.radians(15), 0.0, 0.202521), (np.radians(15), 0.60, 0.207699), (C3, 0.60, 0.135), (C3, 0.0, 0.125)],
)
def test_c1_c2_c3_flat_belly_over_a_crest(change: float, r: float, clearance: float) -> None:
    assert crest_clearance(0.40, 3.0, r, change) == pytest.approx(clearance, abs=5e-7)
    assert rolled(*two_lines(change), 3.0, 0.40, r, (0.0, 3.1)) == pytest.approx(clearance, abs=5e-7)


def test_c1_height_and_c3_angle() -> None:
    assert 0.40 - crest_clearance(0.40, 3.0, 0.0, np.radians(15)) == pytest.approx(0.197479, abs=5e-7)
    assert np.degrees(C3) == pytest.approx(20.77772, abs=5e-6)


def test_c4_c5_crest_under_a_given_place() -> None:
    assert crest_height_at(1.0, 3.75, np.arctan(3 / 4)) == pytest.approx(0.5, abs=1e-12)
    assert crest_height_at(1.0, 3.0, np.radians(15)) == pytest.approx(0.175870, abs=5e-7)


@pytest.mark.parametrize(
    ("a", "b", "height"),
    [
        (0.5, 2.514245, 0.108456),
        (1.0, 2.022889, 0.174521),
        (1.5, 1.525885, 0.197464),
        (2.0, 1.023153, 0.176541),
        (2.5, 0.514576, 0.110985),
    ],
)
def test_c6_by_position(a: float, b: float, height: float) -> None:
    change = np.radians(15)
    assert crest_front_distance(a, 3.0, change) == pytest.approx(b, abs=5e-7)
    assert crest_height(a, 3.0, change) == pytest.approx(height, abs=5e-7)
    x, z = (np.array(part) for part in two_lines(change))
    lead = b * np.cos(change / 2)
    belly = np.array([-3.0, 0.0]), np.array([0.4, 0.4])
    assert rolled_clearance(x, z, lead, 0.0, 0.0, 3.0, *belly) == pytest.approx(0.4 - height, abs=1e-6)


def test_c7_ramp_shorter_than_the_wheelbase() -> None:
    height = crest_height_short_ramp(0.35, 1.25, 3.0)
    assert height == pytest.approx(0.207610, abs=5e-7)
    assert 1.5 * np.tan(np.arcsin(0.35 / 1.25) / 2) == pytest.approx(0.214286, abs=5e-7)  # the long ramp's formula
    found = rolled([-20.0, -1.2, 0.0, 20.0], [0.0, 0.0, 0.35, 0.35], 3.0, 0.40, 0.0, (-1.0, 4.0))
    assert found == pytest.approx(0.192390, abs=5e-7)


@pytest.mark.parametrize(
    ("degrees", "points", "tyres"),
    [
        (8, 0.29511, 0.29657),
        (10, 0.26877, 0.27106),
        (12, 0.24234, 0.24565),
        (15, 0.20252, 0.20770),
        (18, 0.16242, 0.16990),
        (20, 0.13551, 0.14477),
    ],
)
def test_table_of_clearances(degrees: float, points: float, tyres: float) -> None:
    change = np.radians(degrees)
    for r, wanted in ((0.0, points), (0.60, tyres)):
        assert crest_clearance(0.40, 3.0, r, change) == pytest.approx(wanted, abs=6e-6)
        assert rolled(*two_lines(change), 3.0, 0.40, r, (0.0, 3.1)) == pytest.approx(wanted, abs=6e-6)


def arc(radius: float, reach: float, step: float) -> tuple[list[float], list[float]]:
    x = np.arange(-reach, reach + step / 2, step)
    return list(x), list(np.sqrt(radius**2 - x**2))


@pytest.mark.parametrize(
    ("base", "h", "r", "hump", "rise", "clearance"),
    [(2.6, 0.40, 0.60, 7.9, 0.1, 0.3), (3.0, 0.40, 0.0, 10.0, 0.113140, 0.286860)],
)
def test_humps(base: float, h: float, r: float, hump: float, rise: float, clearance: float) -> None:
    assert hump_rise(base, hump, r) == pytest.approx(rise, abs=5e-7)
    assert h - hump_rise(base, hump, r) == pytest.approx(clearance, abs=5e-7)
    x, z = (np.array(part) for part in arc(hump, 4.0, 0.004))
    belly = np.array([-base, 0.0]), np.array([h, h])
    found = rolled_clearance(x, z, base / 2, r, r, base, *belly)
    assert found == pytest.approx(clearance, abs=3e-6)  # the arc is a polyline of 4 mm


def test_hump_that_touches() -> None:
    radius_in = hump_radius_touching(432.0, 5.0)
    assert radius_in == pytest.approx(4668.1, abs=0.05)
    assert radius_in / 12 == pytest.approx(389.008, abs=5e-4)
    assert hump_rise(432.0, radius_in, 0.0) == pytest.approx(5.0, abs=1e-9)
