"""Gaining and losing speed laid over a way: the closed form on one leg, standing at stops, never over a top speed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.memory_site import make_site
from tests.planning import case_of, plan_of, sheet
from travel.mechanics.timing import time_rest_to_rest
from travel.routing import lay_over, rates

GROUND = {"width_m": 6.0, "surface": "asphalt", "cross_slope_pct": 0.0, "edge_left": "none", "edge_right": "none",
          "traffic": "none", "sight_m": 300.0, "lit": True, "bearing_kpa": 900.0, "bearing_wet_kpa": 900.0,
          "roughness_m": 0.0, "passes_done": 100}  # fmt: skip


def straight(length_m: float, **changes):
    return make_site(
        roads=[{"id": "R1", "xyz": [(0, 0, 10), (0, length_m, 10)], **GROUND, **changes}],
        places=[{"id": "G", "xy": (0, 0), "kind": "gate"}, {"id": "P", "xy": (0, length_m), "kind": "pick_point"}],
    )


@pytest.mark.parametrize("length_m", [2.0, 24.0, 400.0])
@pytest.mark.parametrize("cells", [1, 7, 100])
def test_one_leg_is_the_closed_form(length_m, cells):
    """Triangle and trapezoid, whatever the cells are."""
    cut = np.full(cells, length_m / cells)
    laid = lay_over(cut, np.full(cells, 4.0), np.zeros(cells + 1, dtype=bool), 0.5, 1.0)
    assert laid.time_s.sum() == pytest.approx(time_rest_to_rest(length_m, 0.5, 1.0, 4.0), abs=1e-6)


def test_a_plan_of_one_straight_leg_is_the_closed_form():
    plan = plan_of(straight(200.0, speed_limit_kmh=7.2), "G", "P")
    assert len(plan.legs) == 1
    caps = {s.speed_kmh for s in plan.legs[0].speeds}
    assert caps == {7.2}
    wanted = time_rest_to_rest(200.0, 0.5, 1.0, 2.0)
    assert wanted == pytest.approx(103.0)  # 200 m at 2 m/s; 2 s and 1 s more for gaining and losing 2 m/s
    assert plan.legs[0].time_s == pytest.approx(wanted, abs=1e-6)
    assert plan.trips[0].time_s == pytest.approx(wanted, abs=1e-6)


def test_a_weak_service_brake_holds_the_rate():
    weak, strong = ({"brakes__service_mps2": value} for value in (0.4, 5.0))
    site = straight(100.0)
    assert rates(case_of(site, sheet(**weak))) == (0.5, 0.4)
    assert rates(case_of(site, sheet(**strong))) == (0.5, 1.0)


def test_a_stop_in_between_is_two_legs():
    cells = np.full(20, 5.0)
    stands = np.zeros(21, dtype=bool)
    stands[8] = True
    laid = lay_over(cells, np.full(20, 3.0), stands, 0.5, 1.0)
    assert laid.end_mps[[0, 8, 20]] == pytest.approx(0.0)
    assert laid.time_s[:8].sum() == pytest.approx(time_rest_to_rest(40.0, 0.5, 1.0, 3.0), abs=1e-6)
    assert laid.time_s[8:].sum() == pytest.approx(time_rest_to_rest(60.0, 0.5, 1.0, 3.0), abs=1e-6)


def test_a_slow_stretch_is_braked_for_before_it():
    """Down from 4 to 2 m/s at 1 m/s² takes 6 m, so the last 6 m before the slow cells are no longer driven at 4."""
    laid = lay_over(np.full(60, 2.0), np.r_[np.full(30, 4.0), np.full(30, 2.0)], np.zeros(61, dtype=bool), 0.5, 1.0)
    assert laid.end_mps[[26, 27, 28, 29, 30]] == pytest.approx([4.0, 4.0, np.sqrt(12.0), np.sqrt(8.0), 2.0])


@given(
    st.lists(st.tuples(st.floats(0.01, 6.0), st.floats(0.05, 8.0), st.booleans()), min_size=1, max_size=40),
    st.floats(0.05, 3.0),
    st.floats(0.05, 6.0),
)
def test_no_cell_over_its_top_speed_nor_faster_than_it(cells, gain, loss):
    length, cap, stop = (np.array(column) for column in zip(*cells, strict=True))
    stands = np.r_[stop, False]
    laid = lay_over(length, cap, stands, gain, loss)
    assert (laid.peak_mps <= cap * (1 + 1e-12)).all()
    assert (laid.time_s >= length / cap * (1 - 1e-9)).all()
    assert laid.end_mps[stands] == pytest.approx(0.0)
    change = np.diff(laid.end_mps**2) / (2 * length)
    assert (change <= gain * (1 + 1e-6) + 1e-6).all()
    assert (change >= -loss * (1 + 1e-6) - 1e-6).all()


def test_nothing_driven_takes_no_time():
    assert lay_over(np.zeros(0), np.zeros(0), np.ones(1, dtype=bool), 0.5, 1.0).time_s.sum() == 0.0
