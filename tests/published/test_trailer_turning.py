"""Trailer turning: sum of squares, tractrix on a straight line (derived), the WHI formula of a scanned county manual.

12.5 m, tractor 5.0, trailer 9.0: 11.45644 and 7.08872 m; off-tracking 5.41128 m.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.tractrix import drawbar_angle_straight
from travel.mechanics.turning import off_tracking_steady, off_tracking_tractor_semitrailer


def test_sum_of_squares() -> None:
    first = 12.5 - off_tracking_steady(12.5, 5.0)
    second = first - off_tracking_steady(first, 9.0)
    assert (first, second) == pytest.approx((11.45644, 7.08872), abs=5e-6)
    assert 12.5 - second == pytest.approx(5.41128, abs=5e-6)
    assert off_tracking_steady(12.5, np.sqrt(5.0**2 + 9.0**2)) == pytest.approx(5.41128, abs=5e-6)


@pytest.mark.parametrize(
    ("start", "length", "driven", "left"),
    [(60, 8, 8, 23.98232), (90, 8, 8, 40.39506), (90, 8, 16, 15.41463), (45, 9, 4.5, 28.20545)],
)
def test_trailer_follows_a_straight_line(start: float, length: float, driven: float, left: float) -> None:
    found = drawbar_angle_straight(np.radians(start), driven, length)
    assert np.degrees(found) == pytest.approx(left, abs=6e-6)


@pytest.mark.parametrize(("wb", "tr", "ka", "mot"), [(14.0, 45.0, 35.0, 23.5020), (10.5, 50.0, 21.0, 6.2929)])
def test_greatest_off_tracking_in_feet(wb: float, tr: float, ka: float, mot: float) -> None:
    assert off_tracking_tractor_semitrailer(tr, wb, 3.21, 1.0, ka) == pytest.approx(mot, abs=6e-5)


@pytest.mark.parametrize(
    ("ka", "tr", "mot"),
    [(21, 50, 5.88), (21, 100, 2.71), (21, 200, 1.32), (19, 50, 4.92), (19, 100, 2.28), (19, 200, 1.11)],
)
def test_semitrailer_of_25_ft_behind_a_wheelbase_of_105_in(ka: float, tr: float, mot: float) -> None:
    """The manual has these as a chart only; the numbers come from its formula."""
    assert off_tracking_tractor_semitrailer(tr, 105 / 12, 3.21, 1.0, ka) == pytest.approx(mot, abs=5e-3)
