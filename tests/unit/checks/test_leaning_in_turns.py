"""A body that leans on a slope asks for more room in a corner, as it does along a road."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from tests.memory_site import make_site
from tests.planning import case_of, sheet
from tests.unit.checks.turn_cases import HEADER, LEFT, ROAD, junction, outside, told
from travel.checks import Case
from travel.domain.verdict import Verdict

BOX: dict[str, Any] = {"attitudes__0__width_z_m": [[0.0, 2.4], [3.1, 2.4]]}


def sloping(width_m: float, cross_pct: float, grade_pct: float = 0.0, **changes: Any) -> tuple[Verdict, float]:
    """Give the answer on room of a left turn of two roads of one width and slope."""
    says = {"cross_slope_pct": cross_pct, "grade_pct": grade_pct}
    return told(junction(width_m, stated_m=0.5, roads_say=says, changes=changes), hand=LEFT)


@pytest.mark.parametrize(("cross_pct", "grade_pct"), [(8.0, 0.0), (-8.0, 0.0), (0.0, 8.0), (4.8, 6.4)])
def test_a_box_leans_out_by_its_height_times_the_whole_slope(cross_pct: float, grade_pct: float) -> None:
    """1.2 m of half width and 3.1 m of height at 4.57 degrees: 1.2 cos + 3.1 sin - 1.2 = 0.243 m, asked for twice."""
    angle = math.atan(0.08)
    by_hand = 1.2 * math.cos(angle) + 3.1 * math.sin(angle) - 1.2
    more = sloping(7.2, cross_pct, grade_pct, **BOX)[1] - sloping(7.2, 0.0, **BOX)[1]
    assert more == pytest.approx(2.0 * by_hand, abs=0.005)


def test_where_the_top_would_touch_the_wall_it_is_barred() -> None:
    """0.19 m are left upright, 0.24 m are leaned out."""
    case = junction(7.1, stated_m=0.5, changes=BOX)
    assert outside(case) == pytest.approx(-0.19, abs=0.01)
    assert [sloping(7.1, cross, **BOX)[0] for cross in (0.0, 8.0)] == [Verdict.CAUTION, Verdict.BLOCKED]


def test_a_steeper_road_never_asks_for_less_and_a_wider_one_passes() -> None:
    asked = [sloping(7.2, cross, **BOX)[1] for cross in (0.0, 2.0, 5.0, 8.0)]
    assert asked == sorted(asked)
    assert sloping(8.2, 8.0, **BOX)[0] == Verdict.CLEAR


def test_a_top_that_is_narrower_than_it_leans_asks_for_nothing_more() -> None:
    slim = {"attitudes__0__width_z_m": [[0.0, 2.4], [0.1, 2.4], [3.1, 1.4]]}
    assert sloping(7.2, 2.0, **slim)[1] == pytest.approx(sloping(7.2, 0.0, **slim)[1], abs=0.01)


def hanging(case: Case, head_m: float) -> float:
    """Give the width asked for with the same load hanging as high, from a boom head so high."""
    return told(replace(case, body=replace(case.body, hung_m=(0.5, 1.5, 1.2, head_m))), hand=LEFT)[1]


def test_a_load_hung_from_a_higher_boom_leans_out_further_whatever_was_asked_before() -> None:
    """It hangs plumb under the head: 1.2 m of half width, and 5 % of 3 m or of 12 m, 9 m more, asked for twice."""
    says = {"cross_slope_pct": 5.0}
    on_one_survey, alone = (junction(9.0, stated_m=0.5, roads_say=says, changes=BOX) for _ in range(2))
    low, high = hanging(on_one_survey, 3.1), hanging(on_one_survey, 12.0)
    assert high == hanging(alone, 12.0)
    assert high - low == pytest.approx(2.0 * (12.0 - 3.1) * math.sin(math.atan(0.05)), abs=0.01)


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("steep", [{"cross_slope_pct": 8.0}, {"grade_pct": 8.0}])
def test_a_slope_that_begins_a_little_further_on_counts_as_well(steep: dict[str, float], backwards: bool) -> None:
    """A level road of a metre or two leads on to a slope: most of the machine stands on that while it turns."""

    def asked(from_m: float) -> float:
        lines = {"main": [(-60.0, 0.0), (60.0, 0.0)], "on": [(0.0, 0.0), (0.0, from_m)],
                 "side": [(0.0, from_m), (0.0, 80.0)]}  # fmt: skip
        roads = [
            ROAD | {"id": name, "xy": line[::-1] if backwards else line, "width_m": 7.4}
            for name, line in lines.items()
            if line[0] != line[1]
        ]
        roads[-1] |= steep
        place = {"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 0.5}
        case = case_of(make_site(roads, [place], header=HEADER), sheet(**BOX))
        return told(case, hand=LEFT, after="on" if from_m else "side")[1]

    more = 2.0 * (1.2 * math.cos(math.atan(0.08)) + 3.1 * math.sin(math.atan(0.08)) - 1.2)
    level = asked(30.0)
    assert [asked(from_m) - level for from_m in (0.0, 1.0, 2.0, 6.0)] == pytest.approx([more] * 4, abs=0.005)
