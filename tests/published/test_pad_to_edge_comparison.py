"""A printed comparison of five rules for a stabiliser pad near a cut, one case.

The figures fit a cut 4 m deep and a pad 2.4 m wide (both inferred); distances in metres from the toe.
"""

from __future__ import annotations

import pytest

from travel.mechanics.edges import toe_distance_by_slope, toe_distance_depth_back, toe_distance_pad_width_ciria


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


def test_rules_of_the_comparison() -> None:
    assert toe_distance_pad_width_ciria(2.4) == printed("9.6")
    assert toe_distance_by_slope(4.0, 1.5) == printed("6")
    assert toe_distance_by_slope(4.0, 2.0) == printed("8")
    assert toe_distance_depth_back(4.0, 1.0, 1.5, 1.5) == printed("10")
    assert toe_distance_depth_back(4.0, 1.5, 0.0, 1.5) == printed("12")
    # the least back-distance governs in a shallow cut
    assert toe_distance_depth_back(1.0, 1.0, 1.5, 1.5) == pytest.approx(3.0)
