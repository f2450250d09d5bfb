"""Soft and falling sides of the road in a corner: what the wheels keep from them in one go and in several moves."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from tests.memory_site import make_site
from tests.planning import DEMO, case_of, sheet
from tests.unit.checks.turn_cases import (
    BLOCKED,
    CAUTION,
    CLEAR,
    HEADER,
    LEFT,
    ROAD,
    UNKNOWN,
    answers,
    corner,
    junction,
    state_of,
)
from travel.checks import Case, check_turns
from travel.checks.movers import movers
from travel.checks.sweep import LADDER_M, Yard, sweep
from travel.checks.track import points_swept
from travel.checks.turn_cut import body_needs, wheel_needs
from travel.checks.turn_shoulder import wheel_yard, wheels_only, wheels_outside
from travel.domain.site import Weather
from travel.readers.sheets import read_machine
from travel.service.workspace import Workspace

SIDES: dict[str, Any] = {"edge_left": "drop", "edge_right": "drop"}


def sided(width_m: float, sides: dict[str, Any], **site: Any) -> Case:
    """Give two roads at a right angle whose sides are stated."""
    return junction(width_m, roads_say=sides, **site)


def shoulder(case: Case, **where: Any) -> tuple[int, float, float] | None:
    """Give verdict, what is kept and what there is, None where nothing is asked."""
    part = next((p for p in answers(case, **where) if p.rule == "shoulder"), None)
    if part is None:
        return None
    return int(part.verdict[0, 0]), *(float(np.asarray(v)[0, 0]) for v in (part.outcome.demand, part.outcome.capacity))


def test_firm_sides_ask_for_nothing() -> None:
    assert shoulder(sided(5.0, {"edge_left": "kerb", "edge_right": "wall"})) is None


@pytest.mark.parametrize("travel", ["forward", "reverse"])
def test_a_falling_side_counts_as_wheels_come_near_it(travel: str) -> None:
    seen = []
    for width in np.arange(4.4, 9.0, 0.2):
        case = sided(float(width), SIDES)
        found = shoulder(case, travel=travel)
        assert found is not None
        verdict, keep, there = found
        assert keep == pytest.approx(0.6)
        sure, band = there - keep, case.survey.tolerance.width_m / 2.0
        assert verdict == (
            BLOCKED if sure + band < 0 else UNKNOWN if sure - band < 0 else CAUTION if sure - band < 0.25 else CLEAR
        )
        seen.append(verdict)
    assert seen[0] == BLOCKED
    assert seen[-1] == CLEAR
    assert CAUTION in seen


def test_one_side_of_one_road_is_enough_and_the_worst_counts() -> None:
    case = junction(8.0, roads_say={"edge_left": "none", "edge_right": "none"}, side_says={"edge_left": "verge"})
    found = shoulder(case)
    assert found is not None
    assert found[1] == pytest.approx(0.3)
    worse = shoulder(junction(8.0, roads_say={"edge_left": "drop"}, side_says={"edge_left": "verge"}))
    assert worse is not None
    assert worse[1] == pytest.approx(0.6)


def test_what_the_wheels_keep_is_measured_as_another_library_measures_it() -> None:
    """Against the four wheels followed in small steps, and their distance from the two middle lines."""
    case = sided(8.0, SIDES)
    turns, state = check_turns(case), state_of(case)
    found = shoulder(case)
    assert found is not None
    row = corner(turns, "main", "side", LEFT)
    cut = turns.swept(np.array([row]), np.array([state]))[1][0]
    mover = wheels_only(movers(case)["front"], case)
    path = Yard(turns.corners, np.array([row])).path(np.array([0]), cut, mover, density=20)
    half = case.body.over_tyres_m / 2.0
    body = np.array([(x, y) for x in (0.0, -case.body.wheelbase_m) for y in (half, -half)])
    x, y = float(turns.corners.x_m[row]), float(turns.corners.y_m[row])
    ways = np.array([
        shapely.LineString([(x - 60, y), (x + 60, y)]), shapely.LineString([(x, y), (x, y + 60)])
    ], dtype=object)  # fmt: skip
    wheels = shapely.points(points_swept(path.xy, path.heading, body).reshape(-1, 2))
    inside = 4.0 - shapely.distance(ways[:, None], wheels[None, :]).min(axis=0)  # from the side of the road it is on
    assert found[2] == pytest.approx(float(inside.min()) - case.scalar("turn.margin"), abs=0.02)


def test_no_shunt_where_a_side_has_to_be_kept_from_or_a_road_is_one_way() -> None:
    def shunts(**says: Any) -> bool:
        case = junction(5.6, stop=True, roads_say=says, changes={"gears__2__pull_kn": [[0.0, 60.0], [8.0, 40.0]]})
        turns = check_turns(case)
        turns.judge(np.arange(len(turns.corners)))
        return bool(turns.shunted.any())

    assert shunts()
    assert shunts(edge_left="kerb", edge_right="kerb")
    assert not shunts(edge_left="drop")
    assert not shunts(one_way="along")
    assert shunts(one_way="no")


def test_the_wheels_alone_are_less_than_the_body() -> None:
    case = sided(6.0, SIDES)
    for mover in movers(case).values():
        wheels = wheels_only(mover, case)
        assert wheels.width_m <= mover.width_m
        assert wheels.front_x_m <= mover.front_x_m
        assert replace(wheels, front_x_m=0.0) == wheels


def test_the_cut_is_the_best_for_body_and_wheels() -> None:
    """Sharp corners of the demo's large machine in the wet, against every cut of the ladder tried by itself."""
    wet = Weather(ground="wet", temperature_c=8.0, wind_mps=4.0)
    case = case_of(Workspace(path=DEMO / "site"), read_machine(DEMO / "machines" / "large.toml")[0], weather=wet)
    turns, changed = check_turns(case), 0
    mover, one, floor = movers(case)["front"], np.array([0]), -np.inf
    wheels, (body, wheel), sides = wheels_only(mover, case), (body_needs(case), wheel_needs(case)), turns.sides
    for named in ("R51 > R38", "R65 > R03", "R51 > R37"):
        rows = np.array([next(r for r in range(len(turns.corners)) if turns.name(r)[0] == named)])
        kept, keep = turns._cuts(mover, rows), sides.keep_m[rows]
        chosen = max(body.worst(kept.outside_m[rows])[0], wheel.worst(kept.wheels_m[rows], keep)[0])
        yard, ground = Yard(turns.corners, rows), wheel_yard(turns.corners, rows, sides.link_m, keep)
        scores = {}
        for cut, radius in zip(LADDER_M, yard.least_radius(LADDER_M[None])[0], strict=True):
            at = np.array([cut])
            if radius >= mover.least_radius_m:
                both = yard.outside(one, at, mover, floor), wheels_outside(ground, one, at, wheels)
                scores[float(cut)] = max(body.worst(both[0])[0], wheel.worst(both[1], keep)[0])
        assert chosen == pytest.approx(min(scores.values()), abs=1e-6)
        changed += scores[float(sweep(turns.corners, rows, mover, body.clear_m).cut_m[0])] > chosen + 1e-6
    assert changed


def test_a_wall_beside_a_soft_road_is_no_soft_side() -> None:
    """The wheels may come as near to the sides of a walled lane as the body may; to the road's verge they may not."""
    wall = {"edge_left": "wall", "edge_right": "wall"}
    both = shoulder(junction(7.0, 7.0, roads_say={"edge_left": "drop", "edge_right": "drop"}))
    one = shoulder(junction(7.0, 7.0, roads_say={"edge_left": "drop", "edge_right": "drop"}, side_says=wall))
    assert both is not None
    assert one is not None
    assert one[1] == both[1]
    assert both[2] < one[2] <= both[2] + one[1] + 1e-9


@pytest.mark.parametrize("width_m", [7.5, 8.0])
def test_where_only_a_falling_side_bars_one_go_the_corner_is_shunted(width_m: float) -> None:
    found = []
    for stop in (False, True):
        case = sided(width_m, SIDES, stated_m=1.0, stop=stop)
        turns = check_turns(case)
        row, state = np.array([corner(turns, "main", "side", LEFT)]), np.array([state_of(case)])
        parts = {part.rule: int(part.verdict[0, 0]) for part in turns.parts(row, state)}
        found.append((bool(turns.shunted[row[0], state[0]]), parts["turn"], parts.get("shoulder")))
        if stop:
            shunt = turns.shunt(int(row[0]), int(state[0]))
            assert shunt is not None
            assert shunt.outside_m <= -turns.sides.keep_m[row[0]] - case.survey.tolerance.width_m / 2.0
    assert found == [(False, CLEAR, BLOCKED), (True, CAUTION, None)]


def further_on(from_m: float, *, bent: bool = False) -> Case:
    """Give a corner of 7.2 m roads, firm at their sides, whose way on falls away beside it from so far on.

    ``bent``: a road that bends there and has no other one meet it.
    """
    firm = ROAD | {"edge_left": "none", "edge_right": "none", "width_m": 7.2}
    roads = [firm | {"id": "main", "xy": [(-60.0, 0.0), (0.0, 0.0)] + [(0.0, from_m)] * bent}]
    if not bent:
        roads += [firm | {"id": "back", "xy": [(0.0, 0.0), (0.0, -60.0)]}]
        roads += [firm | {"id": "on", "xy": [(0.0, 0.0), (0.0, from_m)]}] * (from_m > 0.0)
    roads += [firm | SIDES | {"id": "side", "xy": [(0.0, from_m), (0.0, 60.0)]}]
    places = [{"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 0.5}] * (not bent)
    return case_of(make_site(roads, places, header=HEADER), sheet())


@pytest.mark.parametrize("travel", ["forward", "reverse"])
@pytest.mark.parametrize(("from_m", "bars"), [(0.0, True), (1.0, True), (2.0, True), (15.0, None)])
def test_a_side_that_falls_away_a_little_further_on_counts_as_well(
    from_m: float, bars: bool | None, travel: str
) -> None:
    """The wheels cut in beyond the end of a short firm road: there they still come as near to the side."""
    case = further_on(from_m)
    found = shoulder(case, before="main", after="on" if from_m else "side", travel=travel)
    assert (None if found is None else found[0] >= UNKNOWN) == bars
    nearer = [shoulder(further_on(at_m), before="main", after="on") for at_m in (1.0, 2.0, 3.0, 6.0)]
    capacities = [one[2] for one in nearer if one is not None]
    assert len(capacities) == 4
    assert capacities == sorted(capacities)


@pytest.mark.parametrize(("from_m", "expected"), [(2.0, BLOCKED), (15.0, None)])
def test_a_side_that_falls_away_behind_a_bend_counts_as_well(from_m: float, expected: int | None) -> None:
    case = further_on(from_m, bent=True)
    turns = check_turns(case)
    row = next(n for n in range(len(turns.corners)) if turns.name(n) == ("main", "bend at 60 m"))
    parts = turns.parts(np.array([row]), np.array([state_of(case)]))
    found = [int(part.verdict[0, 0]) for part in parts if part.rule == "shoulder"]
    assert found == ([] if expected is None else [expected])
