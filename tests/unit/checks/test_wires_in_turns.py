"""Wires beside a corner: the machine leaves the middle lines that the roads are asked about."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from tests.memory_site import ORIGIN, make_site
from tests.planning import case_of, sheet
from tests.unit.checks.turn_cases import CAUTION, CLEAR, HEADER, LEFT, ROAD, UNKNOWN, corner, junction, room, state_of
from travel.checks import Case, check_turns
from travel.checks.answers import answers_for
from travel.checks.circle import free_to_turn
from travel.checks.lies_beside import barred, too_near
from travel.checks.turns import Turns
from travel.domain.verdict import Verdict

KEEP_M = 3.0
"""What the table asks for at 11 kV; a spotter is due from further off."""
LINE: dict[str, Any] = {
    "id": "w", "kind": "power_line", "voltage_kv": 11.0, "owner_clearance_m": 2.0, "clearance_m": 3.6, "sag_m": 0.3,
    "sag_max_m": 0.3, "at_temperature_c": 10.0, "measured_at_c": 10.0, "half_spread_m": 0.0,
}  # fmt: skip


def passing(at_m: float, **line: Any) -> Case:
    """Give a left turn of 7.2 m roads with a wire that ends on its inner side, so far from both middle lines."""
    wire = LINE | {"xy": [(-at_m, at_m), (-40.0, 40.0)]} | line
    return junction(7.2, stated_m=0.5, overheads=[wire])


def named(case: Case) -> tuple[Verdict, list[str]]:
    """Give the answer on room, and what lies in the way."""
    part = room(case, hand=LEFT)
    return Verdict(int(part.verdict[0, 0])), [name for name, where in part.outcome.missing.items() if where.any()]


def of_roads(case: Case) -> Verdict:
    """Give the worst the rule on wires says along the roads."""
    pieces = np.arange(len(case.survey.pieces))
    found = answers_for(case, pieces, np.ones_like(pieces), np.zeros_like(pieces), frozenset({"line-clearance"}))
    return Verdict(max((int(answer.verdict[answer.applies()].max(initial=0)) for answer in found), default=0))


def swept_m(case: Case, line: shapely.LineString) -> float:
    """Give how near what is swept comes to a line in plan."""
    turns = check_turns(case)
    area = turns.area(corner(turns, "main", "side", LEFT), state_of(case))
    assert area is not None
    return float(shapely.distance(shapely.transform(area, lambda xy: xy - ORIGIN), line))


@pytest.mark.parametrize(("at_m", "clearance_m"), [(5.2, 3.6), (4.9, 4.5), (5.2, 4.5)])
def test_a_wire_the_roads_pass_may_be_too_near_to_what_the_turn_sweeps(at_m: float, clearance_m: float) -> None:
    case = passing(at_m, clearance_m=clearance_m)
    away = swept_m(case, shapely.LineString([(-at_m, at_m), (-40.0, 40.0)]))
    assert math.hypot(away, clearance_m - 3.1) < KEEP_M
    assert of_roads(case) == CAUTION
    assert named(case) == (UNKNOWN, ["overheads w"])


@pytest.mark.parametrize("line", [{"at_m": 6.5}, {"at_m": 5.2, "clearance_m": 6.4},
                                  {"at_m": 5.2, "kind": "structure", "voltage_kv": None}])  # fmt: skip
def test_one_further_off_or_higher_and_what_is_no_wire_is_not(line: dict[str, Any]) -> None:
    assert named(passing(**line))[1] == []


@pytest.mark.parametrize(("attached_m", "expected"), [(30.0, []), (14.0, ["overheads w"])])
def test_a_span_told_by_its_attachments_hangs_so_high_over_the_roads_there(
    attached_m: float, expected: list[str]
) -> None:
    """Roads at 10 m; over the corner the wire is at its lowest as high as the attachments less the sag."""
    span = LINE | {"clearance_m": None, "sag_max_m": 0.5, "attach_a_m": attached_m, "attach_b_m": attached_m,
                   "xy": [(-20.0, 3.0), (20.0, 3.0)]}  # fmt: skip
    roads = [ROAD | {"id": "main", "xyz": [(-60.0, 0.0, 10.0), (0.0, 0.0, 10.0), (60.0, 0.0, 10.0)], "width_m": 7.2},
             ROAD | {"id": "side", "xyz": [(0.0, 0.0, 10.0), (0.0, 60.0, 10.0)], "width_m": 7.2}]  # fmt: skip
    places = [{"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 0.5}]
    case = case_of(make_site(roads, places, header=HEADER, overheads=[span]), sheet())
    assert named(case)[1] == expected


@pytest.mark.parametrize("at_m", [4.6, 5.0, 5.4, 5.8, 6.2, 7.0])
def test_never_better_than_the_distance_in_space(at_m: float) -> None:
    case = passing(at_m)
    away = swept_m(case, shapely.LineString([(-at_m, at_m), (-40.0, 40.0)]))
    if named(case)[0] in (CLEAR, CAUTION):
        assert math.hypot(away, 3.6 - 3.1) >= KEEP_M


@pytest.mark.parametrize("slope", [{}, {"cross_slope_pct": 8.0}, {"grade_pct": 8.0}])
def test_on_a_slope_the_turning_body_leans_towards_it(slope: dict[str, float]) -> None:
    """0.42 m of swing and 0.1 m of survey leave 3.0 m from the body upright; 3.1 m high it leans out by 0.25 m."""
    wire = LINE | {"xy": [(-5.9, 5.9), (-40.0, 40.0)], "clearance_m": 3.6}
    case = junction(7.2, stated_m=0.5, overheads=[wire], roads_say=slope)
    away = swept_m(case, shapely.LineString([(-5.9, 5.9), (-40.0, 40.0)])) - 0.1 - (0.3 + 0.3) * math.sin(math.pi / 4)
    leaned = away - (3.1 * math.sin(math.atan(0.08)) if slope else 0.0)
    assert (math.hypot(leaned, 0.4) >= KEEP_M) == (not slope)
    assert named(case)[1] == (["overheads w"] if slope else [])


@pytest.mark.parametrize("slope", [{}, {"cross_slope_pct": 8.0}])
@pytest.mark.parametrize("sag_m", [0.3, 3.0, 6.0, None])
def test_no_wire_that_swings_to_what_is_swept_is_left_out(sag_m: float | None, slope: dict[str, float]) -> None:
    """Corners far enough from every wire are not asked: those that are asked, against all of them."""
    found, left_out = 0, 0
    for at_m in np.arange(5.0, 26.0, 0.5).tolist():
        wire = LINE | {"xy": [(-at_m, at_m), (-40.0, 40.0)], "sag_m": sag_m, "sag_max_m": sag_m}
        case = junction(7.2, stated_m=0.5, overheads=[wire], roads_say=slope)
        turns, states = check_turns(case), np.array([state_of(case)])
        rows = np.flatnonzero(~turns.corners.returns)
        near = turns._beside(rows, states)
        some, every = (barred(case, turns.corners, (rows, states), turns._one_go, beside)
                       for beside in (near, np.ones_like(near)))  # fmt: skip
        assert {name: where.tolist() for name, where in some.items()} == {n: w.tolist() for n, w in every.items()}
        found, left_out = found + len(every), left_out + int((~near).sum())
    assert found
    assert left_out


@pytest.mark.parametrize("sag_m", [0.3, 4.0])
def test_nothing_that_bars_a_shunt_is_left_out(sag_m: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Wires and people nearer and further off: what is shunted, and what is where everything counts as near."""

    def shunted(case: Case) -> list[list[bool]]:
        turns = check_turns(case)
        turns.judge(np.arange(len(turns.corners)))
        return turns.shunted.tolist()  # type: ignore[no-any-return]

    found = []
    for at_m in np.arange(4.0, 26.0, 2.0).tolist():
        wire = LINE | {"xy": [(-at_m, at_m), (-60.0, 60.0)], "sag_m": sag_m, "sag_max_m": sag_m, "clearance_m": 4.5}
        walk = {
            "id": "p",
            "kind": "work_area",
            "polygon": [(at_m, -9), (at_m + 4, -9), (at_m + 4, 9), (at_m, 9)],
        }
        case = junction(6.0, stated_m=1.0, stop=True, overheads=[wire], people=[walk])
        found.append(shunted(case))
        with monkeypatch.context() as all_near:
            all_near.setattr(Turns, "_nothing_within_m", property(lambda turns: np.zeros(len(turns.corners))))
            assert shunted(case) == found[-1]
    assert found[0] != found[-1]


def turning_place(at_m: float, **line: Any) -> Case:
    """Give a road that ends at a turning place, 30 m stated free, and a tall line across past its end."""
    wire = LINE | {"voltage_kv": 132.0, "clearance_m": 5.0, "xy": [(at_m, -60.0), (at_m, 60.0)]} | line
    road = ROAD | {"id": "main", "xy": [(-60.0, 0.0), (0.0, 0.0)], "width_m": 8.0}
    place = {"id": "yard", "xy": (0.0, 0.0), "kind": "turning", "turn_radius_m": 30.0}
    return case_of(make_site([road], [place], header=HEADER, overheads=[wire]), sheet())


def turns_round(case: Case) -> bool:
    """Tell whether the ground is free to turn round on in one go."""
    return free_to_turn(case)[case.survey.network.place_node["yard"]][state_of(case)]


@pytest.mark.parametrize("sag_m", [0.3, 4.0, 8.0, 12.0, 16.0])
def test_where_it_turns_round_a_wire_swings_to_where_a_spotter_is_due_and_no_nearer(sag_m: float) -> None:
    """10 m from a wire that swings out by 45 degrees with 1.5 m of insulators; 0.1 m of survey."""
    found = []
    for at_m in np.arange(15.0, 36.0, 0.5).tolist():
        case = turning_place(at_m, sag_m=sag_m, sag_max_m=sag_m)
        left = at_m - case.outer_radius_m["front"] - 0.1 - (sag_m + 1.5) * math.sin(math.pi / 4)
        found.append(turns_round(case))
        assert found[-1] == (left >= 10.0)
        middle = shapely.Point(case.survey.network.node_xy[case.survey.network.place_node["yard"]])
        if found[-1]:  # and what is asked of any other corner
            assert not too_near(case, middle.buffer(case.outer_radius_m["front"]))
    assert {*found} == {False, True}


@pytest.mark.parametrize("line", [{"sag_max_m": None, "sag_m": None}, {"sag_m_method": "told", "sag_max_m": None},
                                  {"sag_max_m_method": "told"}])  # fmt: skip
def test_a_wire_without_its_sag_is_kept_as_far_from_as_along_a_road(line: dict[str, Any]) -> None:
    """15.24 m, the greatest distance from which any spotter is due."""
    for at_m in np.arange(20.0, 30.0, 0.5).tolist():
        case = turning_place(at_m, **line)
        away = at_m - case.outer_radius_m["front"] - 0.1
        middle = shapely.Point(case.survey.network.node_xy[case.survey.network.place_node["yard"]])
        circle = middle.buffer(case.outer_radius_m["front"], 64)
        assert turns_round(case) == (away >= 15.24)
        assert bool(too_near(case, circle)) == (away < 15.24)


@pytest.mark.parametrize(("stated_m", "free"), [(3.0, True), (None, False)])
def test_an_outer_wire_nobody_stated_may_hang_further_out(stated_m: float | None, free: bool) -> None:
    """15 m out and swinging 6.7 m it hangs 8 m from where the machine turns round; along its road it is not known."""
    case = turning_place(38.0, half_spread_m=stated_m, sag_m=8.0, sag_max_m=8.0)
    assert of_roads(case) == (CLEAR if free else UNKNOWN)
    assert turns_round(case) == free


def test_a_lower_machine_is_never_worse() -> None:
    tops = [[[1.6, 1.2], [0.8, 2.2], [-1.2, height], [-4.6, 2.2]] for height in (3.1, 2.6, 2.3)]
    wire = LINE | {"xy": [(-5.2, 5.2), (-40.0, 40.0)], "clearance_m": 5.6}
    told = [named(junction(7.2, stated_m=0.5, overheads=[wire], changes={"attitudes__0__top_xz_m": top}))[0]
            for top in tops]  # fmt: skip
    assert told == sorted(told, reverse=True)
