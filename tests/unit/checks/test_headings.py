"""The heading of what trails along a way, all steps at once: against one step after the other, and by hand."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from travel.checks.track import headings
from travel.mechanics.tractrix import drawbar_angle_straight


def step_by_step(xy: np.ndarray, first: float, trail_m: float) -> list[float]:
    """Give the headings of one way by the stated formula, a step at a time."""
    out = [first]
    for (ax, ay), (bx, by) in pairwise(xy.tolist()):
        length, way = math.hypot(bx - ax, by - ay), math.atan2(by - ay, bx - ax)
        angle = (way - out[-1] + math.pi) % (2 * math.pi) - math.pi
        left = float(drawbar_angle_straight(angle, length, trail_m)) if length > 1e-9 else angle
        out.append(out[-1] + angle - left)
    return out


@pytest.mark.parametrize("trail_m", [0.8, 1.6, 3.2, 8.3])
def test_all_steps_at_once_are_as_one_after_the_other(trail_m: float) -> None:
    """On ways that wind round and round, and stand still here and there, none of which comes to point straight back."""
    rng = np.random.default_rng(11)
    way = np.cumsum(rng.uniform(-0.5, 0.7, (40, 120)), axis=1) + rng.uniform(-3, 3, (40, 1))
    length = trail_m * rng.uniform(0.02, 0.6, way.shape) * (rng.random(way.shape) > 0.1)
    xy = np.cumsum(np.stack((length * np.cos(way), length * np.sin(way)), axis=-1), axis=1)
    first = way[:, 0] + rng.uniform(-1, 1, 40)
    found = headings(xy, first, trail_m)
    for row in range(len(xy)):
        assert found[row] == pytest.approx(step_by_step(xy[row], float(first[row]), trail_m), abs=1e-9)
    assert np.abs(found[:, -1] - first).max() > 2 * math.pi


def test_after_a_right_angle_half_the_tangent_is_left_after_its_length() -> None:
    """tan(90°/2) = 1; after one length tan(phi/2) = 1/e: 0.70503 rad are left of the right angle."""
    xy = np.array([[[0.0, 0.0], [5.0, 0.0], [5.0, 3.2], [5.0, 3.2]]])
    found = headings(xy, np.array([0.0]), 3.2)[0]
    assert found == pytest.approx([0.0, 0.0, math.pi / 2 - 0.70503, math.pi / 2 - 0.70503], abs=1e-5)


def test_a_way_straight_back_is_a_number() -> None:
    """In line the wrong way round the tangent is boundless; the heading stays a number and of the same line."""
    xy = np.array([[[0.0, 0.0], [1.0, 0.0], [0.0, 0.0], [-1.0, 0.0]]])
    found = headings(xy, np.array([0.0]), 3.0)[0]
    assert np.isfinite(found).all()
    assert np.abs(found) == pytest.approx([0.0] * 4, abs=1e-9)


def test_standing_still_turns_nothing() -> None:
    found = headings(np.zeros((2, 4, 2)), np.array([0.3, -2.0]), 3.0)
    assert found == pytest.approx(np.array([[0.3] * 4, [-2.0] * 4]))


def test_a_way_alone_is_followed_as_among_others() -> None:
    """To the last bit: which other corners are looked at along with one changes nothing."""
    xy = np.cumsum(np.random.default_rng(5).uniform(-0.4, 0.6, (7, 90, 2)), axis=1)
    first = np.linspace(-2.0, 2.0, 7)
    alone = [headings(xy[[row]], first[[row]], 3.2)[0] for row in range(7)]
    assert np.array_equal(headings(xy, first, 3.2), alone)
