"""A turn taken in one go that runs on to a road between its two: that road is asked whether it lets the machine on."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np
import pytest
import shapely

from tests.memory_site import make_site
from tests.planning import case_of, sheet
from tests.unit.checks.turn_cases import CLEAR, HEADER, ROAD, UNKNOWN, state_of
from travel.checks import Case, Turns, check_turns
from travel.checks.lies_beside import lies_there, ways_of
from travel.checks.mover import Towed
from travel.checks.movers import movers
from travel.checks.other_roads import OtherRoads
from travel.checks.strays import run_over, strays
from travel.checks.sweep import LADDER_M, Yard, swept_area
from travel.checks.turn_rules import first_of
from travel.survey.rooms import ARM_M

FIRM: dict[str, Any] = {
    "bearing_kpa": 900.0, "bearing_wet_kpa": 700.0, "edge_left": "none", "edge_right": "none", "width_m": 6.0,
    "proven_gross_kg": 40000.0, "proven_axle_kg": 15000.0,
}  # fmt: skip
TOLD: dict[str, Any] = {
    "axles__0__squash_m": 0.01, "axles__1__squash_m": 0.01, "gears__2__pull_kn": [[0.0, 60.0], [8.0, 40.0]],
}  # fmt: skip
ANGLES = {"west": 180.0, "north": 90.0, "east": 0.0, "south": 270.0}


def star(between: dict[str, Any] | None = None, angles: dict[str, float] | None = None) -> Case:
    """Give a trip where four roads meet at the origin and a fifth, ``between``, lies between those west and north."""
    said = ROAD | FIRM
    roads = [
        said | {"id": name, "xy": [(0.0, 0.0), (60.0 * math.cos(math.radians(a)), 60.0 * math.sin(math.radians(a)))]}
        for name, a in {**(angles or ANGLES), "between": 135.0}.items()
    ]
    roads[-1] |= between or {}
    places = [{"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"}]
    return case_of(make_site(roads, places, header=HEADER), sheet(**TOLD))


def answer(case: Case, travel: str = "forward") -> tuple[int, str]:
    """Give the verdict on room from west to north, a sharp left cut short over the road between, and what lies."""
    turns = check_turns(case)
    row = next(r for r in range(len(turns.corners)) if turns.name(r)[0] == "west > north")
    part = turns.parts(np.array([row]), np.array([state_of(case, travel)]))[0]
    return int(part.verdict[0, 0]), next((n for n, where in part.outcome.missing.items() if where.any()), "")


def test_a_firm_road_between_is_driven_over() -> None:
    assert answer(star()) == (CLEAR, "")


@pytest.mark.parametrize("travel", ["forward", "reverse"])
@pytest.mark.parametrize(
    ("between", "rule"),
    [
        ({"bearing_kpa": 50.0, "proven_gross_kg": None, "proven_axle_kg": None}, "bearing"),
        ({"bearing_kpa": None, "proven_gross_kg": None, "proven_axle_kg": None}, "bearing"),
        ({"cross_slope_pct": 25.0}, ""),
        ({"cross_slope_pct": None}, ""),
    ],
)
def test_a_road_between_that_does_not_bear_makes_the_turn_unknown(
    between: dict[str, Any], rule: str, travel: str
) -> None:
    verdict, named = answer(star(between), travel)
    assert verdict == UNKNOWN
    assert named.startswith(f"roads between ({rule}")
    assert lies_there(named)  # nobody accepts it on a form


def test_a_soft_road_on_the_other_side_does_not_matter() -> None:
    soft = {"bearing_kpa": 50.0, "proven_gross_kg": None, "proven_axle_kg": None, "xy": [(0.0, 0.0), (42.0, -42.0)]}
    assert answer(star(soft))[1] == "turn_radius_m"  # only the ground between west and north is still asked for


def corners_taken(case: Case) -> Iterator[tuple[Turns, int, float]]:
    """Give the corners of a star that can be driven at all in one go, each with its cut."""
    turns = check_turns(case)
    every = np.arange(len(turns.corners))
    cut = turns.swept(every, np.array([state_of(case)]))[1][:, 0]
    yield from ((turns, int(row), float(cut[row])) for row in np.flatnonzero(~np.isnan(cut)))


def test_few_points_never_miss_an_area_beyond_the_roads() -> None:
    """Against the whole area, laid down by another library: whatever leaves roads and mouth is seen to stray."""
    case = star()
    others, mover, seen = OtherRoads(case, check_turns(case).corners), movers(case)["front"], set()
    for turns, row, cut in corners_taken(case):
        mouth = others.about.mouth_m(row)
        found = strays(turns.corners, np.array([row]), np.array([cut]), mover, np.array([mouth]))[0] > 0.0
        area = turns.area(row, state_of(case))
        assert area is not None
        point = shapely.Point(turns.corners.x_m[row], turns.corners.y_m[row])
        aside = shapely.difference(area, shapely.union(point.buffer(mouth, quad_segs=64), ways_of(turns.corners, row)))
        left = shapely.area(aside) > 0.05
        assert found or not left
        seen.add((bool(found), bool(left)))
    assert {(True, True), (False, False)} <= seen


@pytest.mark.parametrize("rig", [False, True])
def test_nothing_is_swept_further_off_than_is_looked_for_what_lies_there(rig: bool) -> None:
    """Whole areas, laid down by another library, against the bound that says where nothing has to be asked."""
    towed = Towed(hitch_m=3.5, drawbar_m=9.5, front_x_m=1.5, rear_x_m=-12.0, width_m=2.55)
    case = star()
    mover, corners, seen = movers(case)["front"], check_turns(case).corners, 0
    mover = replace(mover, towed=towed) if rig else mover
    for row in range(len(corners)):
        least = Yard(corners, np.array([row])).least_radius(LADDER_M[None])[0]
        for cut in LADDER_M[least >= mover.least_radius_m][::4].tolist():
            points = shapely.get_coordinates(swept_area(corners, row, mover, cut))
            far = np.hypot(points[:, 0] - corners.x_m[row], points[:, 1] - corners.y_m[row]).max()
            assert far <= cut + mover.swept_m
            seen += 1
    assert seen > 20


SOFT: dict[str, Any] = {"bearing_kpa": 50.0, "proven_gross_kg": None, "proven_axle_kg": None}


@pytest.mark.parametrize("width_m", [6.0, 12.0, 24.0])
def test_a_wide_road_elsewhere_does_not_excuse_a_soft_one_between(width_m: float) -> None:
    said = ROAD | FIRM
    roads = [
        said | {"id": name, "xy": [(0.0, 0.0), (60.0 * math.cos(math.radians(a)), 60.0 * math.sin(math.radians(a)))]}
        for name, a in {**ANGLES, "between": 135.0}.items()
    ]
    roads[3]["width_m"] = width_m
    roads[4] |= SOFT
    places = [{"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"}]
    case = case_of(make_site(roads, places, header=HEADER), sheet(**TOLD))
    assert answer(case) == (UNKNOWN, "roads between (bearing)")


@pytest.mark.parametrize("layer", ["obstacles", "edges"])
def test_a_road_between_nobody_looked_at_makes_the_turn_unknown(layer: str) -> None:
    assert answer(star({"not_looked_at": layer}))[0] == UNKNOWN


def short_cut(**says: Any) -> Case:
    """Give a trip over two roads at a right angle and a third from one to the other, 6 m from their corner."""
    said = ROAD | FIRM
    roads = [
        said | {"id": "west", "xy": [(-60.0, 0.0), (-6.0, 0.0), (0.0, 0.0)]},
        said | {"id": "east", "xy": [(0.0, 0.0), (60.0, 0.0)]},
        said | {"id": "north", "xy": [(0.0, 0.0), (0.0, 6.0), (0.0, 60.0)]},
        said | {"id": "cut", "xy": [(-6.0, 0.0), (0.0, 6.0)]} | says,
    ]
    return case_of(make_site(roads, [{"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"}], header=HEADER), sheet(**TOLD))


@pytest.mark.parametrize("travel", ["forward", "reverse"])
def test_a_soft_road_that_meets_at_other_junctions_is_asked_as_well(travel: str) -> None:
    assert answer(short_cut(), travel) == (CLEAR, "")
    assert answer(short_cut(**SOFT), travel) == (UNKNOWN, "roads cut (bearing)")


@pytest.mark.parametrize(("says", "named"), [({}, ""), (SOFT, "roads cut (bearing)")])
def test_a_soft_road_inside_a_bend_is_asked(says: dict[str, Any], named: str) -> None:
    said = ROAD | FIRM
    roads = [
        said | {"id": "bent", "xy": [(-60.0, 0.0), (-6.0, 0.0), (0.0, 0.0), (0.0, 6.0), (0.0, 60.0)]},
        said | {"id": "cut", "xy": [(-6.0, 0.0), (0.0, 6.0)]} | says,
    ]
    case = case_of(make_site(roads, [], header=HEADER), sheet(**TOLD))
    turns = check_turns(case)
    row = next(r for r in range(len(turns.corners)) if turns.name(r)[1].startswith("bend"))
    part = turns.parts(np.array([row]), np.array([state_of(case)]))[0]
    assert next((n for n, where in part.outcome.missing.items() if where.any()), "") == named
    assert int(part.verdict[0, 0]) == (UNKNOWN if says else CLEAR)


def pointing_at(end: tuple[float, float]) -> Case:
    """Give two roads at a right angle, and one from the first of them that ends where it points at their corner."""
    said = ROAD | FIRM
    roads = [
        said | {"id": "west", "xy": [(-60.0, 0.0), (-30.0, 0.0), (0.0, 0.0)]},
        said | {"id": "east", "xy": [(0.0, 0.0), (60.0, 0.0)]},
        said | {"id": "north", "xy": [(0.0, 0.0), (0.0, 60.0)]},
        said | {"id": "stub", "xy": [(-30.0, 0.0), (-20.0, 20.0), end]},
    ]
    return case_of(make_site(roads, [{"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"}], header=HEADER), sheet(**TOLD))


@pytest.mark.parametrize("travel", ["forward", "reverse"])
def test_ground_past_the_end_of_another_road_is_no_room(travel: str) -> None:
    """A machine that stands at that end reaches past it; nobody measured the ground for one that turns elsewhere."""
    assert answer(pointing_at((-8.0, 8.0)), travel) == (UNKNOWN, "roads stub (its end)")


def test_ground_past_an_end_that_lies_on_another_road_is_room() -> None:
    said = ROAD | FIRM
    roads = [said | {"id": name, "xy": line} for name, line in (
        ("west", [(-60.0, 0.0), (-30.0, 0.0), (-6.0, 0.0), (0.0, 0.0)]), ("east", [(0.0, 0.0), (60.0, 0.0)]),
        ("north", [(0.0, 0.0), (0.0, 6.0), (0.0, 60.0)]), ("stub", [(-30.0, 0.0), (-20.0, 20.0), (-8.0, 8.0)]),
        ("cut", [(-6.0, 0.0), (0.0, 6.0)]))]  # fmt: skip
    case = case_of(make_site(roads, [{"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"}], header=HEADER), sheet(**TOLD))
    assert answer(case) == (CLEAR, "")


@pytest.mark.parametrize(("rises_m", "verdict"), [(0.0, CLEAR), (8.0, UNKNOWN)])
def test_a_road_that_leaves_and_comes_back_is_asked_at_both_its_ends(rises_m: float, verdict: int) -> None:
    """Its last stretch lies between the two roads of the turn; steep there, level where it leaves."""
    loop = [(0.0, 0.0, 0.0), (40.0, -30.0, 0.0), (80.0, 60.0, 0.0), (20.0, 90.0, 0.0), (-40.0, 60.0, 0.0)]
    said = ROAD | FIRM
    roads = [
        said | {"id": "west", "xy": [(-60.0, 0.0), (0.0, 0.0)]},
        said | {"id": "north", "xy": [(0.0, 0.0), (0.0, 60.0)]},
        said | {"id": "loop", "xyz": [*loop, (-14.0, 21.0, 0.0), (0.0, 0.0, rises_m)], "grade_pct": None},
    ]
    case = case_of(make_site(roads, [{"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"}], header=HEADER), sheet(**TOLD))
    assert answer(case)[0] == verdict


def bent(ahead_m: float, turn_deg: float, width_m: float) -> Case:
    """Give a road that turns off at a junction, on to a right angle to the left where a soft road leaves to its inner
    side."""
    first, on = math.radians(turn_deg), math.radians(turn_deg + 90.0)
    at = (ahead_m * math.cos(first), ahead_m * math.sin(first))
    inner = first + math.radians(135.0)
    said = ROAD | FIRM | {"width_m": width_m}
    roads = [
        said | {"id": "in", "xy": [(-60.0, 0.0), (0.0, 0.0)]},
        said | {"id": "out", "xy": [(0.0, 0.0), at, (at[0] + 60.0 * math.cos(on), at[1] + 60.0 * math.sin(on))]},
        said | {"id": "third", "xy": [(0.0, 0.0), (0.0, math.copysign(60.0, -turn_deg))]},
        said | SOFT | {"id": "soft", "xy": [at, (at[0] + 30.0 * math.cos(inner), at[1] + 30.0 * math.sin(inner))]},
    ]
    return case_of(make_site(roads, [], header=HEADER), sheet(**TOLD), steering=("front", "all"))


@pytest.mark.parametrize("bend", [(5.0, 80.0, 6.0), (6.0, -80.0, 7.0), (4.0, 60.0, 5.0), (3.0, -60.0, 7.0)])
def test_no_road_inside_a_bend_of_the_way_on_is_left_out(bend: tuple[float, float, float]) -> None:
    """Corners that surely stay on their own roads are not asked: those that are asked, against all of them."""
    case = bent(*bend)
    turns, every = (
        check_turns(case),
        [state_of(case, *one) for one in product(("forward", "reverse"), ("front", "all"))],
    )
    at, configs = (np.arange(len(turns.corners)), np.array(every)), first_of(case, np.array(every))
    some, whole = (run_over(turns.others, at, out_m, configs, turns._one_go)
                   for out_m in (turns._strays(*at), np.full((len(turns.corners), 4), ARM_M)))  # fmt: skip
    assert {name: where.tolist() for name, where in some.items()} == {n: w.tolist() for n, w in whole.items()}
    assert whole
