"""Moments on a trailer: nose lift (derived), axle loads (S1), sliding bogie (S2), plate sum (S3), rule S5.

S2: a freight course's page (6 in holes move 400 lb each); S3: Commercial Motor, 30 November 1995; S4 (a military rule
of equal shares) is shown to differ from moments.
"""

from __future__ import annotations

import pytest

from travel.mechanics.axle_law import payload_on_front_axle
from travel.mechanics.ramp_statics import bogie_share, coupling_share, hinge_reaction


def test_nose_lift() -> None:
    first = coupling_share(6500.0, 10.5, 8.0, 0.0, 0.0)
    assert first == pytest.approx(-2031.25)
    at_hinge = hinge_reaction(5500.0, 0.5, 3.5)
    assert at_hinge == pytest.approx(785.71, abs=0.005)
    both = first + coupling_share(at_hinge, 10.5, 8.0, 0.0, 0.0)
    assert both == pytest.approx(-2276.79, abs=0.005)
    assert 2000.0 + first < 0.0  # lifts with the first axle already


def test_s1_axles_and_centre_of_gravity_agree() -> None:
    parts = ((6500.0, 3.0), (5500.0, 6.0))
    assert sum(coupling_share(w, d, 8.0, 0.0, 0.0) for w, d in parts) == pytest.approx(5437.5)
    assert sum(bogie_share(w, d, 8.0, 0.0, 0.0) for w, d in parts) == pytest.approx(6562.5)
    assert coupling_share(12000.0, 4.375, 8.0, 0.0, 0.0) == pytest.approx(5437.5)
    assert bogie_share(12000.0, 4.375, 8.0, 0.0, 0.0) == pytest.approx(6562.5)


def test_s2_sliding_the_bogie_moves_load_and_keeps_the_gross() -> None:
    """32 100 lb become 32 900 over two holes of 6 in: so it is by moments with the kingpin 41 ft from the bogie."""
    apart, drives, trailer = 41.0, 34700.0, 32100.0
    load, behind = drives + trailer, apart * trailer / (drives + trailer)
    moved = bogie_share(load, behind, apart - 1.0, 0.0, 0.0) - bogie_share(load, behind, apart, 0.0, 0.0)
    assert trailer + moved == pytest.approx(32900.0, abs=5.0)
    kept = coupling_share(load, behind, apart - 1.0, 0.0, 0.0)
    assert kept == pytest.approx(33900.0, abs=5.0)
    assert 11590.0 + kept + trailer + moved == pytest.approx(78390.0, abs=1e-6)
    hole = bogie_share(load, behind, apart - 0.5, 0.0, 0.0) - trailer
    assert hole == pytest.approx(400.0, abs=10.0)


def test_s3_what_is_left_when_the_axles_are_full_is_not_the_kingpin_load() -> None:
    """What two axles of 9 150 kg leave of the gross by the plate is not what the kingpin bears of an even load."""
    left = 27690.0 - 2 * 9150.0
    full = bogie_share(27690.0, 6.0, 9.0, 0.0, 0.0)
    assert coupling_share(27690.0, 6.0, 9.0, 0.0, 0.0) == pytest.approx(27690.0 - full)
    assert abs(27690.0 - full - 9390.0) > 100.0
    placed = 9.0 * (27690.0 - left) / 27690.0
    assert coupling_share(27690.0, placed, 9.0, 0.0, 0.0) == pytest.approx(9390.0)


def test_s4_equal_shares_are_not_moments() -> None:
    """A load of 5 000 lb over five axles is called 1 000 lb each; three bogie axles get 1 250 where it stands back."""
    assert bogie_share(5000.0, 6.0, 8.0, 0.0, 0.0) / 3 == pytest.approx(1250.0)
    assert coupling_share(5000.0, 6.0, 8.0, 0.0, 0.0) / 2 == pytest.approx(625.0)


def test_s5_payload_on_the_front_axle() -> None:
    assert payload_on_front_axle(6000.0, 1.2, 4.8) == pytest.approx(1500.0)


def test_on_a_grade_the_load_leans_on_the_bogie() -> None:
    level = coupling_share(12000.0, 4.0, 8.0, 1.5, 0.0)
    assert coupling_share(12000.0, 4.0, 8.0, 1.5, 0.05) < level < coupling_share(12000.0, 4.0, 8.0, 1.5, -0.05)
