"""The machine part of the way through a turn: slopes at its heading by hand, and standing and sliding there."""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
import pytest

from tests.builders import MACHINE
from tests.memory_site import make_site
from tests.planning import case_of, sheet
from travel.checks import Case, check_turns
from travel.checks.registry import ask, parts_for
from travel.checks.rows import Rows
from travel.checks.turn_rules import TurnPart
from travel.checks.turned import TurnedRows
from travel.domain.verdict import Verdict
from travel.survey import change_of_cross_slope

ROAD: dict[str, Any] = {
    "surface": "compacted_gravel",
    "cross_slope_pct": 0.0,
    "roughness_m": 0.0,
    "width_m": 9.0,
}


def case(
    grade_pct: float, cross_pct: float = 0.0, *, lacking: str = "", side: tuple[float, float] = (0.0, 0.0)
) -> Case:
    """Give a trip over a slope along x and a road (level unless told) that leaves it to the left.

    Nobody measured what is ``lacking`` on the slope; ``side``: grade and cross slope of the other road.
    """
    axles = copy.deepcopy(MACHINE["axles"])
    for axle in axles:
        axle["squash_m"] = 0.03
    roads = [
        ROAD | {"id": "main", "xy": [(-60.0, 0.0), (60.0, 0.0)], "grade_pct": grade_pct, "cross_slope_pct": cross_pct},
        ROAD | {"id": "side", "xy": [(0.0, 0.0), (0.0, 60.0)], "grade_pct": side[0], "cross_slope_pct": side[1]},
    ]
    roads[0].pop(lacking, None)
    return case_of(make_site(roads, header={"tolerance": {"plan_m": 0.1}}), sheet(axles=axles))


def turned(of: Case, heading_deg: float, drawn: int = 1) -> TurnedRows:
    """Give one cell of the slope with the machine turned on it."""
    one = np.ones(1, dtype=np.int64)
    return TurnedRows(
        case=of,
        piece=0 * one,
        sense=one,
        config=0 * one,
        drawn=drawn * one,
        heading_rad=np.radians([heading_deg]),
        change_ratio=np.zeros(1),
    )


@pytest.mark.parametrize(
    ("grade_pct", "cross_pct", "heading_deg", "drawn", "up", "right_down"),
    [
        (12.0, 0.0, 0.0, 1, 0.12, 0.0),
        (12.0, 0.0, 30.0, 1, 0.1039, -0.06),  # turned left on a climb, the hill is on the right
        (12.0, 0.0, -30.0, 1, 0.1039, 0.06),
        (12.0, 0.0, 90.0, 1, 0.0, -0.12),
        (12.0, 0.0, 30.0, -1, -0.1039, 0.06),  # driven down: turned left, the hill is on the left
        (0.0, 8.0, 90.0, 1, 0.08, 0.0),  # it fell to the right: turned left, the machine looks up
        (0.0, 8.0, 90.0, -1, -0.08, 0.0),
        (6.0, 8.0, 0.0, -1, -0.06, -0.08),
        (6.0, 8.0, 45.0, 1, 0.0990, 0.0141),  # (6 + 8) / sqrt 2, (8 - 6) / sqrt 2
    ],
)
def test_slopes_by_hand(
    grade_pct: float, cross_pct: float, heading_deg: float, drawn: int, up: float, right_down: float
) -> None:
    rows = turned(case(grade_pct, cross_pct), heading_deg, drawn)
    assert rows.grade[0] == pytest.approx(up, abs=1e-4)
    assert rows.cross[0] == pytest.approx(right_down, abs=1e-4)


@pytest.mark.parametrize("drawn", [1, -1])
def test_not_turned_at_all_is_the_cell_itself(drawn: int) -> None:
    of = case(9.0, 3.0)
    rows = turned(of, 0.0, drawn)
    one = np.ones(1, dtype=np.int64)
    plain = Rows(case=of, piece=0 * one, sense=drawn * one, config=0 * one)
    for name in ("uphill", "downhill", "grade_band", "cross_band"):
        assert getattr(rows, name)[0] == pytest.approx(getattr(plain, name)[0]), name
    for name in ("grade", "cross"):  # a plain cell tells these as drawn
        assert getattr(rows, name)[0] == pytest.approx(drawn * getattr(plain, name)[0]), name


def corner_parts(of: Case, hand: float = 1.0) -> dict[str, TurnPart]:
    """Give what standing and sliding say of the corner from the slope into the level road, driven up or down to it."""
    turns = check_turns(of)
    row = next(
        row
        for row in range(len(turns.corners))
        if turns.name(row)[0] == "main > side" and turns.corners.angle_rad[row] * hand > 0
    )
    return {part.rule: part for part in turns.parts(np.array([row]), np.array([0])) if part.rule != "turn"}


def number(value: Any) -> float:
    """Give the only number of a column."""
    return float(np.ravel(value)[0])


def standing(grade_pct: float, cross_pct: float) -> tuple[float, float]:
    """Give room left and demand of standing upright on a plain cell of these slopes."""
    of = case(grade_pct, cross_pct)
    plain = next(part for part in parts_for(of) if part.rule == "tip" and not part.layer)
    one = np.zeros(1, dtype=np.int64)
    answer = ask(plain, Rows(case=of, piece=one, sense=one + 1, config=one), of)
    return number(answer.capacity) - number(answer.demand) - number(answer.tolerance), number(answer.demand)


@pytest.mark.parametrize("hand", [1.0, -1.0])
@pytest.mark.parametrize("grade_pct", [10.0, 20.0])
def test_a_corner_stands_as_the_worst_of_plain_cells_at_its_headings(grade_pct: float, hand: float) -> None:
    """One and two thirds of a right angle on a grade g: along g cos a, across g sin a; then the level road.

    Up to the corner and left, or down to it and right: the hill is on the right either way.
    """
    at = [math.radians(30.0), math.radians(60.0)]
    plain = [standing(hand * grade_pct * math.cos(angle), -grade_pct * math.sin(angle)) for angle in at]
    demand = number(corner_parts(case(grade_pct), hand)["tip"].outcome.demand)
    assert demand == pytest.approx(min([*plain, standing(0.0, 0.0)])[1], rel=1e-6)


@pytest.mark.parametrize("cross_pct", [6.0, -6.0])
def test_the_road_after_the_corner_counts_at_headings_before_its_own(cross_pct: float) -> None:
    """Turned left into a climb g with cross slope c: before its own heading, so to the right of it, by 30 and 60
    degrees. Along g cos a - c sin a, across c cos a + g sin a: worse where the road falls to the right as well."""
    grade_pct, at = 15.0, [math.radians(30.0), math.radians(60.0)]
    plain = [
        standing(
            grade_pct * math.cos(angle) - cross_pct * math.sin(angle),
            cross_pct * math.cos(angle) + grade_pct * math.sin(angle),
        )
        for angle in at
    ]
    demand = number(corner_parts(case(0.0, side=(grade_pct, cross_pct)))["tip"].outcome.demand)
    assert demand == pytest.approx(min([*plain, standing(0.0, 0.0)])[1], rel=1e-6)


@pytest.mark.parametrize(
    ("grade_pct", "cross_pct", "by_hand"), [(10.0, 0.0, 0.10), (6.0, 8.0, 0.10), (0.0, 15.0, 0.15)]
)
def test_sliding_knows_no_heading(grade_pct: float, cross_pct: float, by_hand: float) -> None:
    """The whole slope, sqrt(g^2 + c^2), whichever way the machine looks."""
    assert number(corner_parts(case(grade_pct, cross_pct))["slide"].outcome.demand) == pytest.approx(by_hand, abs=1e-3)


def test_a_steeper_road_is_never_better_to_turn_on() -> None:
    demands, verdicts = [], []
    for grade_pct in (0.0, 5.0, 15.0, 20.0, 25.0, 35.0, 45.0):
        part = corner_parts(case(grade_pct))["tip"]
        demands.append(number(part.outcome.demand))
        verdicts.append(Verdict(int(part.verdict[0, 0])))
    assert demands == sorted(demands)
    assert verdicts == sorted(verdicts)
    assert verdicts[0] == Verdict.CLEAR
    assert verdicts[-1] > Verdict.CLEAR


@pytest.mark.parametrize("lacking", ["grade_pct", "cross_slope_pct"])
def test_a_slope_nobody_knows_is_unknown_in_the_corner(lacking: str) -> None:
    parts = corner_parts(case(5.0, 0.0, lacking=lacking))
    assert {rule: Verdict(int(parts[rule].verdict[0, 0])) for rule in ("tip", "slide", "twist")} == {
        "tip": Verdict.UNKNOWN,
        "slide": Verdict.UNKNOWN,
        "twist": Verdict.UNKNOWN if lacking == "cross_slope_pct" else Verdict.CLEAR,
    }


@pytest.mark.parametrize(("hand", "change"), [(1.0, 0.12), (-1.0, 0.02)])
def test_from_one_road_onto_another_the_cross_slope_changes_as_along_one_that_bends(hand: float, change: float) -> None:
    """Falling by 7 % to the right (driven back: to the left), then by 5 % to the left."""
    part = corner_parts(case(4.0, 7.0, side=(0.0, -5.0)), hand)["twist"]
    assert number(part.outcome.terms["change_ratio"]) == pytest.approx(change)


def test_a_side_road_hides_no_change_of_cross_slope() -> None:
    """Straight on over a junction of three, the cross slope swings from one side to the other."""
    roads = [
        ROAD | {"id": "a", "xy": [(-60.0, 0.0), (0.0, 0.0)], "grade_pct": 0.0, "cross_slope_pct": 7.0},
        ROAD | {"id": "b", "xy": [(60.0, 0.0), (0.0, 0.0)], "grade_pct": 0.0, "cross_slope_pct": 6.0},
    ]
    branch = ROAD | {"id": "c", "xy": [(0.0, 0.0), (0.0, 60.0)], "grade_pct": 0.0}
    changes = []
    for network in (roads, [*roads, branch]):
        of = case_of(make_site(network, header={"tolerance": {"plan_m": 0.1}}), sheet())
        of_road = [change_of_cross_slope(of.survey, 3.0)[of.survey.pieces.road == road] for road in (0, 1)]
        changes.append([float(values.max()) for values in of_road])
        assert [int((values > 0.01).sum()) for values in of_road] == [1, 1]
    assert changes[0] == changes[1] == [pytest.approx(0.13), pytest.approx(0.13)]


def test_a_side_road_that_is_not_taken_twists_nobody() -> None:
    roads = [
        ROAD | {"id": "a", "xy": [(-60.0, 0.0), (0.0, 0.0)], "grade_pct": 0.0},
        ROAD | {"id": "b", "xy": [(0.0, 0.0), (60.0, 0.0)], "grade_pct": 0.0},
        ROAD | {"id": "c", "xy": [(0.0, 0.0), (0.0, 60.0)], "grade_pct": 0.0, "cross_slope_pct": 9.0},
    ]
    of = case_of(make_site(roads), sheet())
    assert float(change_of_cross_slope(of.survey, 3.0).max()) == pytest.approx(0.0)
