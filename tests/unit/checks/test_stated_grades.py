"""Roads of which only a grade was stated, against the same roads with the heights those grades make."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from tests.memory_site import EXACT, make_site
from tests.unit.checks.overhead_cases import answer, case_under
from travel.checks import Case
from travel.checks.tops import tops_of
from travel.checks.underbody import clearances
from travel.domain.verdict import Verdict
from travel.survey import build_survey

COLUMNS = {"width_m": 6.0, "surface": "compacted_gravel", "cross_slope_pct": 0.0, "roughness_m": 0.0}
GRID_M = 0.05  # what rolling on heights adds for its grid


def roads(rng: np.random.Generator, stated: bool, grades: list[float]) -> list[dict[str, Any]]:
    """Give roads in a row, each of one grade, drawn either way; where ``stated``, some of them without heights."""
    out: list[dict[str, Any]] = []
    x, z = 0.0, 10.0
    for number, grade in enumerate(grades):
        to_x = x + float(rng.uniform(3.0, 15.0))
        to_z = z + grade * (to_x - x)
        ends, plain = [(x, 0.0, z), (to_x, 0.0, to_z)], rng.random() < 0.7
        turned = rng.random() < 0.5
        ends = ends[::-1] if turned else ends
        own: dict[str, Any] = {"id": f"r{number}"} | COLUMNS
        if stated and plain:
            own |= {"xy": [end[:2] for end in ends], "grade_pct": -100.0 * grade if turned else 100.0 * grade}
        else:
            own |= {"xyz": ends}
        out.append(own)
        x, z = to_x, to_z
    return out


def case_on(rows: list[dict[str, Any]], piece_m: float = 5.0, **layers: Any) -> Case:
    return dataclasses.replace(case_under(), survey=build_survey(make_site(rows, **layers), EXACT, piece_m))


def pair(seed: int, junction: bool) -> tuple[Case, Case]:
    """Give the same roads with heights, in short pieces, and some of them with grades alone; ``junction``: a road joins
    half way."""
    grades = np.random.default_rng(seed).uniform(-0.15, 0.15, 5).tolist()
    cases = []
    for stated in (False, True):
        rows = roads(np.random.default_rng(seed + 100), stated, grades)
        if junction:
            at = max(end[0] for end in rows[1].get("xyz") or rows[1]["xy"])
            rows.append({"id": "side", "xy": [(at, 0.0), (at, 30.0)], "grade_pct": 0.0} | COLUMNS)
        cases.append(case_on(rows, 5.0 if stated else 0.25))
    return cases[0], cases[1]


@pytest.mark.parametrize("junction", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_nothing_is_better_than_on_the_heights_that_the_grades_make(seed: int, junction: bool) -> None:
    with_heights, by_grades = pair(seed, junction)
    short, long = with_heights.survey.pieces, by_grades.survey.pieces
    within = (short.road[:, None] == long.road) & (short.from_m[:, None] > long.from_m - 1e-6)
    within &= (short.to_m[:, None] < long.to_m + 1e-6) & (short.road[:, None] < 5)
    one, other = np.nonzero(within)
    assert len(one) > len(long.road)
    high, higher = (tops_of(case, np.arange(len(case.survey.pieces))).height_m for case in (with_heights, by_grades))
    assert np.all(higher[other] >= high[one] - GRID_M)
    belly, lower = (clearances(case)[0] for case in (with_heights, by_grades))
    assert np.all(lower[other] <= belly[one] + GRID_M)


def test_one_grade_all_along_asks_no_more_than_before() -> None:
    """A row of roads of one grade is one slope; only where another begins does the body stand over both."""
    even = case_on(roads(np.random.default_rng(3), True, [0.1, 0.1, 0.1, 0.1]))
    tops = tops_of(even, np.arange(len(even.survey.pieces)))
    assert tops.height_m == pytest.approx(3.0 * np.sqrt(1.01), abs=1e-9)


def test_under_a_bridge_behind_a_crest_the_tail_stands_higher() -> None:
    """Level, then 15 % down: the tail, 1.4 m behind the rear axle, 15 % of that above the level stretch."""
    rows = [{"id": "a", "xy": [(0, 0), (30, 0)], "grade_pct": 0.0} | COLUMNS,
            {"id": "b", "xy": [(30, 0), (60, 0)], "grade_pct": -15.0} | COLUMNS]  # fmt: skip
    bridge = {"id": "w", "kind": "structure", "clearance_m": 3.3, "xy": [(28.0, -5.0), (28.0, 5.0)]}
    verdict, numbers, missing = answer(case_on(rows, overheads=[bridge]), "under_overheads")
    assert numbers["demand"] >= 3.0 + 1.4 * 0.15
    assert (verdict, missing) == (Verdict.UNKNOWN, set())
