"""The one judge: demand against capacity, with tolerance and caution margin."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from travel.checks.outcome import Outcome, judge
from travel.domain.verdict import Verdict

CLEAR, CAUTION, UNKNOWN, BLOCKED = Verdict.CLEAR, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED
NAN = math.nan


def verdict(**values) -> Verdict:
    return Verdict(int(judge(Outcome(**values))))


@pytest.mark.parametrize(
    ("demand", "capacity", "tolerance", "caution", "expected"),
    [
        (1.0, 5.0, 0.5, 1.0, CLEAR),
        (1.0, 2.5, 0.5, 1.0, CLEAR),  # m − t = caution margin: equality passes
        (1.0, 2.25, 0.5, 1.0, CAUTION),
        (1.0, 1.5, 0.5, 1.0, CAUTION),  # m − t = 0: passes, thin
        (1.0, 1.25, 0.5, 1.0, UNKNOWN),
        (1.0, 1.0, 0.5, 1.0, UNKNOWN),
        (1.0, 0.5, 0.5, 1.0, UNKNOWN),  # m + t = 0: not blocked
        (1.0, 0.25, 0.5, 1.0, BLOCKED),
        (1.0, 1.0, 0.0, 0.0, CLEAR),  # no tolerance, no caution: equality passes
        (1.0, 1.0 - 2**-40, 0.0, 0.0, BLOCKED),
        (1.0, 1.0, 0.0, 1.0, CAUTION),
        (1.0, 1.5, 0.5, 0.0, CLEAR),
        (0.0, 0.0, 0.0, 0.0, CLEAR),
        (-3.0, -1.0, 1.0, 1.0, CLEAR),
        (1.0, math.inf, 0.5, 1.0, CLEAR),
        (1.0, -math.inf, 0.5, 1.0, BLOCKED),
    ],
)
def test_three_way(demand, capacity, tolerance, caution, expected):
    assert verdict(demand=demand, capacity=capacity, tolerance=tolerance, caution=caution) == expected


def test_whole_table_against_the_words_of_the_definition():
    values = (-2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0)
    for demand, capacity, tolerance, caution in itertools.product(values, values, (0.0, 0.5, 1.0), (0.0, 0.5, 2.0)):
        m, t = capacity - demand, tolerance
        if m + t < 0:
            expected = BLOCKED
        elif m - t < 0:
            expected = UNKNOWN
        elif m - t < caution:
            expected = CAUTION
        else:
            expected = CLEAR
        assert verdict(demand=demand, capacity=capacity, tolerance=tolerance, caution=caution) == expected


@pytest.mark.parametrize("name", ["demand", "capacity", "tolerance", "caution"])
def test_any_number_that_is_not_known_is_unknown(name):
    good = {"demand": 1.0, "capacity": 9.0, "tolerance": 0.1, "caution": 0.5}
    assert verdict(**good) == CLEAR
    assert verdict(**(good | {name: NAN})) == UNKNOWN
    assert verdict(**(good | {name: NAN}), applies=False) == CLEAR


def test_infinities_that_cancel_are_unknown():
    assert verdict(demand=math.inf, capacity=math.inf) == UNKNOWN


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({}, CLEAR),
        ({"missing": {"width_m": np.array(True)}}, UNKNOWN),
        ({"missing": {"width_m": np.array(False)}}, CLEAR),
        ({"outside": True}, UNKNOWN),
        ({"controlled": True}, CAUTION),
        ({"controlled": True, "capacity": 0.0}, BLOCKED),
        ({"controlled": True, "capacity": 1.05}, UNKNOWN),
        ({"controlled": True, "outside": True}, UNKNOWN),
        ({"capacity": 0.0, "missing": {"width_m": np.array(True)}}, UNKNOWN),
        ({"permitted": np.array(True)}, CLEAR),
        ({"permitted": np.array(False)}, BLOCKED),
        ({"permitted": np.array(True), "demand": NAN}, CLEAR),
        ({"permitted": np.array(True), "controlled": True}, CAUTION),
        ({"permitted": np.array(True), "missing": {"at": np.array(True)}}, UNKNOWN),
        ({"permitted": np.array(False), "outside": True}, UNKNOWN),
    ],
)
def test_beside_the_numbers(values, expected):
    base = {"demand": 1.0, "capacity": 9.0, "tolerance": 0.1, "caution": 0.5}
    assert verdict(**(base | values)) == expected
    assert verdict(**(base | values), applies=False) == CLEAR, "outside its mask a rule is silent"


def test_outcome_without_numbers_is_unknown():
    assert verdict() == UNKNOWN


def test_broadcasts_over_the_axes_given():
    judged = judge(
        Outcome(
            demand=np.array([1.0, 2.0, NAN]).reshape(-1, 1, 1),
            capacity=np.array([1.5, 1.5]).reshape(1, 2, 1),
            tolerance=0.0,
            caution=0.0,
            applies=np.array([True, False]).reshape(1, 1, 2),
        )
    )
    assert judged.shape == (3, 2, 2)
    assert judged.dtype == np.uint8
    assert judged[:, 0, 0].tolist() == [CLEAR, BLOCKED, UNKNOWN]
    assert not judged[:, :, 1].any()


def test_more_tolerance_or_caution_never_helps():
    rng = np.random.default_rng(2)
    demand, capacity = rng.normal(size=(2, 400))
    for name in ("tolerance", "caution"):
        small, large = np.sort(rng.uniform(0, 1, (2, 400)), axis=0)
        fixed = {"tolerance": 0.2, "caution": 0.2}
        before = judge(Outcome(demand=demand, capacity=capacity, **(fixed | {name: small})))
        after = judge(Outcome(demand=demand, capacity=capacity, **(fixed | {name: large})))
        passing = before <= CAUTION
        assert (after[passing] >= before[passing]).all()
        assert (after[~passing] >= UNKNOWN).all()
