"""Heights on the road: HSE's example (4.2 m vehicles, 4.65 m provided), sag curves by chord, and US legal height.

Sag rows are b^2/(8 R); TD 27/05's compensation table is from memory and lies within a few millimetres of a 25 m chord.
"""

from __future__ import annotations

import pytest

from travel.mechanics.headroom import loaded_height, sag_curve_loss, sag_curve_loss_at
from travel.mechanics.signed_height import headroom_left

MM = 1000.0


@pytest.mark.parametrize(
    ("base", "losses"),
    [
        (8, (160, 80, 40, 16, 8)),
        (10, (250, 125, 62.5, 25, 12.5)),
        (12, (360, 180, 90, 36, 18)),
        (14, (490, 245, 122.5, 49, 24.5)),
    ],
)
def test_sag_table(base: float, losses: tuple[float, ...]) -> None:
    for radius, loss in zip((50, 100, 200, 500, 1000), losses, strict=True):
        assert sag_curve_loss(base, radius) * MM == pytest.approx(loss, abs=1e-9)
        assert sag_curve_loss_at(base, radius, 0.0) * MM == pytest.approx(loss, abs=1e-9)


@pytest.mark.parametrize(
    ("radius", "chord", "remembered"),
    [(1000, 78.1, 80), (1200, 65.1, 70), (1500, 52.1, 55), (2000, 39.1, 45), (3000, 26.0, 25), (6000, 13.0, 15)],
)
def test_chord_of_25_m(radius: float, chord: float, remembered: float) -> None:
    assert sag_curve_loss(25.0, radius) * MM == pytest.approx(chord, abs=0.06)
    assert abs(sag_curve_loss(25.0, radius) * MM - remembered) < 7.0


def test_true_sum_of_a_page_that_slips() -> None:
    """A page calls 5 ft of deck and 8 ft 3 in of load 13 ft 6 in; it is 13 ft 3 in."""
    inch = 0.0254
    assert loaded_height(60 * inch, 99 * inch, 0.0, 0.0, 0.0) / inch == pytest.approx(159.0)


def test_hse_example() -> None:
    """Vehicles of 4.2 m, 4.65 m provided: 450 mm; a dip that takes 45 mm leaves 405."""
    height = loaded_height(0.9, 3.3, 0.0, 0.0, 0.0)
    assert headroom_left(4.65, height, 0.0) == pytest.approx(0.450, abs=5e-4)
    assert headroom_left(4.65, height, sag_curve_loss(12.0, 400.0)) == pytest.approx(0.405, abs=5e-4)
