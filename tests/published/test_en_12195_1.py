"""EN 12195-1:2010 (formulas from memory) against the EU best-practice quick guide's table and worked examples E1 to E6.

E1: Container Handbook 5.2.8; E2: training slides on the 2003 and 2010 editions; E3 to E6 derived with g 9.81.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.lashing import direct_needed, direct_restraint, top_over_friction, top_over_held, top_over_needed

G = 9.80665 / 9.81
"""The examples were worked with 9.81."""


@pytest.mark.parametrize(
    ("mu", "sideways", "forward", "printed_side", "printed_forward"),
    [
        (0.15, 0.307, 0.145, 0.31, 0.15),
        (0.20, 0.477, 0.210, 0.48, 0.21),
        (0.30, 1.074, 0.378, 1.1, 0.38),
        (0.35, 1.671, 0.490, 1.7, 0.49),
    ],
)
def test_quick_guide(mu: float, sideways: float, forward: float, printed_side: float, printed_forward: float) -> None:
    side = top_over_held(0.5, 1.0, mu, np.radians(75), 4000.0, 1.1) / 1000
    ahead = top_over_held(0.8, 1.0, mu, np.radians(75), 4000.0, 1.25) / 1000
    assert (side, ahead) == pytest.approx((sideways, forward), abs=1e-3)
    assert side == pytest.approx(printed_side, rel=0.03)
    assert ahead == pytest.approx(printed_forward, rel=0.04)


@pytest.mark.parametrize(("mu", "forward", "printed"), [(0.50, 1.050, 1.1), (0.60, 1.890, 1.9), (0.70, 4.411, 4.4)])
def test_quick_guide_no_sliding_sideways(mu: float, forward: float, printed: float) -> None:
    ahead = top_over_held(0.8, 1.0, mu, np.radians(75), 4000.0, 1.25) / 1000
    assert ahead == pytest.approx(forward, abs=2e-3)
    assert ahead == pytest.approx(printed, rel=0.05)
    assert top_over_needed(1000.0, 0.5, 1.0, mu, np.radians(75), 4000.0, 1.1) == 0.0


def test_e1_container_handbook() -> None:
    assert top_over_friction(5000.0, np.arcsin(0.80), 0.3, 1.0) / 10 == pytest.approx(120.0)


def test_e2_editions_differ_by_four() -> None:
    """(c - mu) f_s / (mu k) with c 0.5: 8 lashings by one set, 32 by the 2003 one, 9 with 2010 factors."""
    sets = ((0.4, 2.0, 1.0), (0.28, 1.5, 1.0), (0.4, 2.0, 1.1))
    needed = [(0.5 - mu) * fs / (top_over_friction(1.0, np.pi / 2, mu, k) / 1.0) for mu, k, fs in sets]
    assert needed == pytest.approx([0.125, 0.5238, 0.1375], abs=5e-5)
    assert needed[1] / needed[0] == pytest.approx(4.19, abs=5e-3)
    assert 8 * round(needed[1] / needed[0]) == 32
    assert np.ceil(8 * needed[2] / needed[0]) == 9


@pytest.mark.parametrize(
    ("mass", "mu", "degrees", "forward", "side", "numbers"),
    [(2000.0, 0.45, 90, 1.9075, 0.2398, (2, 1)), (10000.0, 0.30, 60, 23.599, 8.307, (24, 9))],
)
def test_e3_e4_over_the_top(
    mass: float, mu: float, degrees: float, forward: float, side: float, numbers: tuple[int, int]
) -> None:
    angle = np.radians(degrees)
    ahead = top_over_needed(mass, 0.8, 1.0, mu, angle, 5000.0, 1.25)
    across = top_over_needed(mass, 0.5, 1.0, mu, angle, 5000.0, 1.1)
    assert (ahead / G, across / G) == pytest.approx((forward, side), abs=1.5e-3)
    assert (np.ceil(ahead), np.ceil(across)) == numbers


@pytest.mark.parametrize(
    ("mu", "forward", "rear", "side"), [(0.6, 23.262, 3.323, 3.751), (0.3, 44.735, 21.395, 24.690)]
)
def test_e5_e6_two_direct_lashings_each_direction(mu: float, forward: float, rear: float, side: float) -> None:
    for c, plan, wanted in ((0.8, 40, forward), (0.5, 40, rear), (0.5, 50, side)):
        one = direct_restraint(1.0, np.radians(35), np.radians(plan), mu, 0.75)
        capacity = direct_needed(12000.0, c, 1.0, mu, 0.75) / (2 * one) / 1000
        assert capacity / G == pytest.approx(wanted, abs=6e-4)
