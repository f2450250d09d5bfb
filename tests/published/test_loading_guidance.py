"""Guidance for loading: TM 55-2350-267-14 7-5, TI 850-02 8-5d, Minnesota FACE 92MN018, HSE workplace transport.

Loading no faster than 3 mph (4.8 km/h). Straight in line with the ramp for at least the longest vehicle's length. A
machine slid off a trailer standing across a road of 7 %. Site slopes no steeper than 1 in 10.
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from travel.mechanics.ramp_statics import grip_needed_on_slope
from travel.mechanics.slope import grade_over_window
from travel.rulebook import load_rulebook, resolve
from travel.units import MPS_PER_MPH, mps_to_kmh

BOOK = load_rulebook()


def held(limit: str, **case: str) -> float:
    found = resolve(BOOK, limit, **case)
    assert found is not None
    return found.value


def test_walking_pace_is_three_miles_an_hour() -> None:
    text = BOOK.controls["ramp-routine-straight"].text
    told = re.search(r"no faster than ([\d.]+) km/h", text)
    assert told is not None
    assert float(told.group(1)) == pytest.approx(mps_to_kmh(3 * MPS_PER_MPH), abs=0.05)


def test_in_line_for_the_length_of_the_rig_and_beyond_the_machine_s_own() -> None:
    assert "In line with the trailer for at least the rig's length" in BOOK.controls["ramp-routine-straight"].text
    assert held("unloading-place.run_off") > 0.0  # beyond the machine's length behind the ramp's foot


def test_the_road_across_which_a_machine_slid_off_is_no_unloading_place() -> None:
    """7 % is within the friction of wet steel at rest: the limit across is stricter than friction alone."""
    across = float(grip_needed_on_slope(1.0, 0.07, np.cos(np.arctan(0.07))))
    assert across < held("grip.coefficient", surface="steel_plate", ground="wet")
    assert held("unloading-place.cross_slope") / 100.0 < across


def test_no_unloading_steeper_than_one_in_ten() -> None:
    assert held("unloading-place.slope") / 100.0 <= grade_over_window(1.0, 10.0)
