"""A printed homework answer on the 2:1 spread (6.1 m by 15.25 m, 300 kPa, 4.58 m down)."""

from __future__ import annotations

import pytest

from travel.mechanics.stress_depth import influence_corner_newmark, stress_centre_newmark, stress_two_to_one


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_two_to_one() -> None:
    assert stress_two_to_one(300.0, 6.1, 15.25, 4.58) == printed("132")


def test_centre_by_the_corner_chart() -> None:
    # m 0.67, n 1.67 read off a chart as 0.16, hence 192 kPa; unrounded the same is 193.4
    assert influence_corner_newmark(3.05, 7.625, 4.58) == printed("0.16")
    assert stress_centre_newmark(300.0, 6.1, 15.25, 4.58) == pytest.approx(192.0, rel=0.01)
