"""Bends where two roads join end to end: the same as the bend of one road, wherever a file cuts it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
import shapely

from tests.memory_site import ORIGIN, make_site
from tests.planning import case_of, plan_of, sheet
from tests.unit.checks.test_other_roads import TOLD
from tests.unit.checks.turn_cases import BLOCKED, CAUTION, HEADER, UNKNOWN, state_of
from tests.unit.planning.remedy_cases import only, opens, question_of
from tests.unit.planning.test_close_corners import FRONT, SAID
from tests.unit.planning.test_corner_remedies import GATE, PICK, level, worst_corner
from travel.checks import check_turns
from travel.checks.movers import movers
from travel.checks.turns import Turns
from travel.domain.plan import TravelPlan
from travel.domain.site import Site
from travel.planning.remedy_list import remedies_of

Point = tuple[float, float]


def bent(angle_deg: float, off_m: float = 0.0) -> list[Point]:
    """Give a line of 40 m east and 40 m on after a turn to the left, with a vertex ``off_m`` past the bend."""
    angle = math.radians(angle_deg)
    along = [40.0, *([off_m] if off_m else [])]
    on = [(s * math.cos(angle), s * math.sin(angle)) for s in sorted(along)]
    return [(-40.0, 0.0), (0.0, 0.0), *on]


def site_of(lines: Sequence[Sequence[Point]], width_m: float, place: dict[str, Any] | None = None, **more: Any) -> Site:
    """Give roads one after another from a gate to a pick point, and a place."""
    roads = [SAID | {"id": f"r{n}", "xy": list(line), "width_m": width_m} for n, line in enumerate(lines)]
    first = min(lines, key=lambda line: min(x for x, _ in line))
    places: list[dict[str, Any]] = [
        {"id": "gate", "xy": (-40.0, 0.0), "kind": "gate"},
        {"id": "pick", "xy": more.pop("end"), "kind": "pick_point"},
    ]
    assert (-40.0, 0.0) in first
    return make_site(roads, places + ([place] if place else []), header=HEADER, **more)


def ways(line: list[Point], width_m: float, cut: int) -> list[Site]:
    """Give the same road as one, and cut in two at a vertex, drawn in all directions."""
    before, after = line[: cut + 1], line[cut:]
    drawn = [[line], [before, after], [before[::-1], after], [before, after[::-1]], [before[::-1], after[::-1]]]
    return [site_of(lines, width_m, end=line[-1]) for lines in drawn]


def told(site: Site) -> list[tuple[int, float]]:
    """Give verdict and asked width of every corner in the forward state, to the left first."""
    case = case_of(site, sheet(**TOLD, steering=FRONT))
    turns, state = check_turns(case), state_of(case)
    rows = np.argsort(-turns.corners.angle_rad, kind="stable")
    rows = rows[~turns.corners.returns[rows]]
    part = turns.parts(rows, np.array([state]))[0]
    return [(int(v), float(d)) for v, d in zip(part.verdict[:, 0], np.asarray(part.outcome.demand)[:, 0], strict=True)]


@pytest.mark.parametrize("angle_deg", [30.0, 60.0, 75.0, 90.0, 110.0])
@pytest.mark.parametrize("width_m", [4.0, 6.0, 9.0])
def test_two_roads_end_to_end_are_told_as_the_same_road_in_one(angle_deg: float, width_m: float) -> None:
    line = bent(angle_deg)
    one, *cut = [told(site) for site in ways(line, width_m, 1)]
    assert len(one) == 2
    for other in cut:
        assert [verdict for verdict, _ in other] == [verdict for verdict, _ in one]
        assert [demand for _, demand in other] == pytest.approx([demand for _, demand in one], abs=1e-6)


@pytest.mark.parametrize("off_m", [0.3, 0.9])
def test_a_road_cut_just_beside_its_bend_is_never_told_wider(off_m: float) -> None:
    """The bend then takes a little longer, so that its arcs begin further off."""
    for width_m in (4.0, 6.0, 9.0):
        one, *cut = [told(site) for site in ways(bent(90.0, off_m), width_m, 2)]
        for other in cut:
            assert len(other) == 2
            for (verdict, demand), (least, asked) in zip(other, one, strict=True):
                assert verdict >= least
                assert demand >= asked - 0.02


def plan(site: Site) -> TravelPlan:
    return plan_of(site, "gate", "pick", sheet(**TOLD, steering=FRONT))


def test_it_is_driven_once() -> None:
    line = bent(90.0)
    for site in ways(line, 9.0, 1):
        found = plan(site)
        assert [turn.kind for turn in found.turns if turn.kind != "turn_round"] == ["through"]
        assert found.verdict == "clear"


def test_a_post_inside_the_bend_is_seen_though_the_ground_there_is_stated_free() -> None:
    line, yard = bent(90.0), {"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": 9.0}
    post = [{"id": "post", "xy": (-2.0, 2.0), "height_m": 1.5}]
    free = site_of([line[:2], line[1:]], 5.0, yard, end=line[-1])
    shut = site_of([line[:2], line[1:]], 5.0, yard, end=line[-1], obstacles=post)
    assert plan(free).outcome == "way"
    one = told(shut)
    assert one[0][1] > told(free)[0][1] + 0.5, "the post takes room on the inner side of the turn"


def shunted(width_m: float, angle_deg: float, **place: Any) -> tuple[Turns, int, int]:
    line = bent(angle_deg)
    yard = {"id": "yard", "xy": (0.0, 0.0), "kind": "junction"} | place
    case = case_of(site_of([line[:2], line[1:]], width_m, yard, end=line[-1]), sheet(**TOLD, steering=FRONT))
    turns, state = check_turns(case), state_of(case)
    row = int(np.argmax(turns.corners.angle_rad * ~turns.corners.returns))
    turns.judge(np.array([row]), np.array([state]))
    return turns, row, state


@pytest.mark.parametrize(("angle_deg", "width_m"), [(75.0, 5.5), (90.0, 6.0)])
def test_it_is_shunted_where_one_may_stop(angle_deg: float, width_m: float) -> None:
    turns, row, state = shunted(width_m, angle_deg, may_stop=True)
    shunt = turns.shunt(row, state)
    assert shunt is not None
    assert turns.parts(np.array([row]), np.array([state]))[0].verdict[0, 0] == CAUTION
    parts = bent(angle_deg)[:2], bent(angle_deg)[1:]
    roads = [shapely.LineString(part).buffer(width_m / 2.0, quad_segs=64) for part in parts]
    area = shapely.transform(shunt.area(movers(turns.case)["front"]), lambda xy: xy - ORIGIN)
    assert shapely.difference(area, shapely.union_all(roads)).area < 1e-6
    none, row, state = shunted(width_m, angle_deg)
    assert none.shunt(row, state) is None
    assert none.worst[row, state] == BLOCKED


def test_what_lies_beyond_the_roads_is_not_guessed_at() -> None:
    """At a junction of three the ground may be wider than the roads; where one road goes on as another it is theirs."""
    turns, row, state = shunted(4.0, 90.0)
    assert turns.worst[row, state] == BLOCKED
    line = bent(90.0)
    third = [*[line[:2], line[1:]], [(0.0, 0.0), (40.0, 0.0)]]
    assert UNKNOWN in {verdict for verdict, _ in told(site_of(third, 4.0, end=line[-1]))}


def test_both_roads_are_widened_where_they_join() -> None:
    roads = [level("r1", [(-60, 0), (0, 0)], 3.6), level("r2", [(0, 60), (0, 0)], 3.6)]
    question = question_of(make_site(roads, [GATE, PICK], header={"tolerance": {"plan_m": 0.1}}))
    assert not opens(question, ())
    remedy = only(remedies_of(question), "widen-bend")
    assert remedy.proven
    near = {part.feature: (part.from_m, part.to_m) for part in remedy.amendments}
    assert set(near) == {"r1", "r2"}
    for first, last in near.values():
        assert first <= 48.0
        assert last == pytest.approx(60.0)
    for part in remedy.amendments:
        assert not opens(question, tuple(p for p in remedy.amendments if p is not part))
    assert worst_corner(question, remedy.amendments) == CAUTION
