"""C. Venkatramaiah, Geotechnical Engineering, table 10.5 (after Spangler 1951): circle, under its centre, r/a = 0."""

from __future__ import annotations

import pytest

from travel.mechanics.stress_depth import stress_circle_axis


def printed(text: str) -> object:
    """Give what a printed number stands for: itself, give or take half its last digit."""
    digits = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits + 1e-9, rel=0)


@pytest.mark.parametrize(
    ("depth", "text"),
    [
        (0.5, "0.911"),
        (1.0, "0.646"),
        (1.5, "0.424"),
        (2.0, "0.284"),
        (2.5, "0.200"),
        (3.0, "0.146"),
        (4.0, "0.087"),
        (5.0, "0.057"),
        (10.0, "0.015"),
    ],
)
def test_influence(depth: float, text: str) -> None:
    assert stress_circle_axis(1.0, 1.0, depth) == printed(text)
