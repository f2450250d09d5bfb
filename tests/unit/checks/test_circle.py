"""Ground free to turn round on: what stands, hangs, gives way or is closed beside the road in the circle of a place."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.memory_site import DATE, make_site
from tests.planning import case_of, sheet
from tests.unit.checks.test_other_roads import FIRM, TOLD
from tests.unit.checks.turn_cases import ROAD as FLAT
from tests.unit.test_wrong_clear import AT, DRY, HEADER, MACHINE, PLACES, ROAD, Attempt, area, planned, wire
from travel.checks import check_turns, free_circle, turn_id
from travel.domain.layers import LAYERS
from travel.domain.machine import Machine
from travel.domain.plan import TravelPlan
from travel.domain.request import TripConditions

BACK: dict[str, Any] = {"with_return": True, "back": TripConditions(at=AT + dt.timedelta(hours=1), weather=DRY)}
EDGE: dict[str, Any] = {
    "id": "e", "kind": "excavation", "xy": [(110, 8.0), (130, 8.0)], "depth_m": 4.0, "soil": "type_c",
    "batter_deg": 90.0, "supported": False, "inspected_on": "2026-03-03",
}  # fmt: skip
PIPE: dict[str, Any] = {"id": "o", "kind": "pipe", "xy": [(110, 5.5), (130, 5.5)]}
ASIDE = (116.0, 126.0, 4.5, 9.0)


def back(tmp_path: Path, places: dict[str, Any] | None = None, **layers: Any) -> TravelPlan:
    """Give the plan out and back with something beside the pick point, where 30 m are stated free."""
    pick = PLACES[1] | (places or {})
    attempt = Attempt(rule="turn", verdicts=(), layers={"places": [PLACES[0], pick], **layers}, ask=BACK)
    return planned(attempt, tmp_path)


def turns_round(plan: TravelPlan) -> bool:
    """Tell whether it turns round at the pick point in one go; where it does not the plan says why."""
    found = any(turn.kind == "turn_round" and not turn.moves for turn in plan.turns)
    assert found != any(doubt.startswith("pick: turning round") for doubt in plan.doubts)
    return found


def test_the_ground_alone_is_turned_on(tmp_path: Path) -> None:
    assert turns_round(back(tmp_path))


@pytest.mark.parametrize(
    "layers",
    [
        {"obstacles": [{"id": "b", "xy": (120.0, 4.0), "height_m": 0.5}]},
        {"edges": [EDGE]},
        {"overheads": [PIPE | {"clearance_m": 2.6}]},
        {"overheads": [PIPE | {"clearance_m": None}]},
        {"overheads": [PIPE | {"clearance_m": 9.0, "clearance_m_method": "told"}]},
        {"overheads": wire(xy=[(100, 9.0), (140, 9.0)], clearance_m=5.0)},
        {"ground": [area("g", *ASIDE, bearing_kpa=60.0, bearing_wet_kpa=30.0)]},
        {"ground": [area("g", *ASIDE)]},
        {"ground": [area("g", *ASIDE, bearing_kpa=2000.0, bearing_wet_kpa=1500.0, valid_until="2026-03-02")]},
        {"people": [area("p", *ASIDE, kind="work_area")]},
        {"closures": [area("c", *ASIDE)]},
        {"limits": [area("l", *ASIDE, kind="slab", gross_kg=3000.0)]},
        {"limits": [area("l", *ASIDE, kind="buried_service", cover_m=0.4)]},
    ],
    ids=lambda layers: next(iter(layers)),
)
def test_what_lies_in_the_circle_takes_it_away(layers: dict[str, Any], tmp_path: Path) -> None:
    assert not turns_round(back(tmp_path, **layers))


@pytest.mark.parametrize(
    "layers",
    [
        {"obstacles": [{"id": "b", "xy": (120.0, 12.0), "height_m": 0.5}]},
        {"edges": [EDGE | {"xy": [(110, 16.0), (130, 16.0)]}]},
        {"overheads": [PIPE | {"clearance_m": 6.0}]},
        {"overheads": wire(xy=[(100, 9.0), (140, 9.0)], clearance_m=16.0)},
        {"ground": [area("g", *ASIDE, bearing_kpa=2000.0, bearing_wet_kpa=1500.0)]},
        {"closures": [area("c", *ASIDE, closed_until="2026-03-03T07:00:00+00:00")]},
        {"limits": [area("l", *ASIDE, kind="slab", gross_kg=40000.0, axle_kg=30000.0)]},
    ],
    ids=lambda layers: next(iter(layers)),
)
def test_what_lies_beyond_or_bears_it_leaves_the_circle_free(layers: dict[str, Any], tmp_path: Path) -> None:
    assert turns_round(back(tmp_path, **layers))


@pytest.mark.parametrize(("slopes", "free"), [((15.0, None), False), ((2.0, 12.0), False), ((2.0, 2.0), True)])
def test_every_slope_stands_across_a_machine_that_turns(
    slopes: tuple[float, float | None], free: bool, tmp_path: Path
) -> None:
    stated = dict(zip(("slope_pct", "cross_slope_pct"), slopes, strict=True))
    assert turns_round(back(tmp_path, stated)) is free


MOUTH = (49.0, 57.7, 2.3, 9.0)


CREST = {"id": "e", "kind": "excavation", "depth_m": 3.0, "soil": "type_c", "batter_deg": 90.0, "supported": False,
         "berm_height_m": 2.0, "inspected_on": "2026-03-02"}  # fmt: skip


def corner(yard: dict[str, Any] | None = None, accepted: bool = False, **layers: Any) -> tuple[int, tuple[str, ...]]:
    """Give how a corner with room stated round it is judged in front steering, cut over its inner side.

    ``accepted``: a planner accepts what is unknown of it; the verdict is then the one after that.
    """
    roads = [
        ROAD | {"id": name, "xyz": xyz, "width_m": 4.2}
        for name, xyz in (
            ("a", [(0, 0, 0), (60, 0, 0)]),
            ("b", [(60, 0, 0), (120, 0, 0)]),
            ("c", [(60, 0, 0), (60, 60, 0)]),
        )
    ]
    middle = {"id": "yard", "xyz": (60, 0), "kind": "junction", "turn_radius_m": 12.0} | (yard or {})
    site = make_site(roads, [PLACES[0], middle], header=HEADER, surveyed={n: {"date": DATE} for n in LAYERS}, **layers)
    turns = check_turns(case_of(site, Machine.model_validate(MACHINE), weather=DRY))
    row = next(n for n in range(len(turns.corners)) if turns.name(n)[0] == "a > c")
    if accepted:
        turns = check_turns(turns.case, frozenset({turn_id(turns.case, turns.corners, row, "turn")}))
        turns.judge(np.array([row]), np.array([0]))
        return int(turns.worst[row, 0]), ()
    part = turns.parts(np.array([row]), np.array([0]))[0]
    return int(part.verdict[0, 0]), tuple(name for name, where in part.outcome.missing.items() if where[0, 0])


@pytest.mark.parametrize(
    ("layers", "named"),
    [
        ({}, ()),
        ({"ground": [area("g", *MOUTH, bearing_kpa=30.0, bearing_wet_kpa=20.0)]}, ("ground g",)),
        ({"ground": [area("g", *MOUTH, bearing_kpa=2000.0, bearing_wet_kpa=1500.0)]}, ()),
        ({"ground": [area("g", *MOUTH, bearing_kpa=2000.0, valid_until="2026-03-03")]}, ()),
        ({"ground": [area("g", *MOUTH, bearing_kpa=2000.0, valid_until="2026-03-02")]}, ("ground g",)),
        ({"closures": [area("c", *MOUTH)]}, ("closures c",)),
        ({"limits": [area("l", *MOUTH, kind="slab", gross_kg=3000.0)]}, ("limits l",)),
        ({"limits": [area("l", *MOUTH, kind="slab", gross_kg=40000.0)]}, ()),
        ({"overheads": [PIPE | {"xy": [(49, 3.2), (57.6, 3.2)], "clearance_m": 2.0}]}, ("overheads o",)),
        ({"overheads": [PIPE | {"xy": [(49, 3.2), (57.6, 3.2)], "clearance_m": 6.0}]}, ()),
        ({"closures": [area("c", 20.0, 26.0, 2.3, 9.0)]}, ()),
        ({"edges": [CREST | {"xy": [(49, 5.6), (55, 5.6)]}]}, ("edges e",)),
        ({"edges": [CREST | {"xy": [(30, 12.0), (45, 12.0)]}]}, ()),
        # one polygon that lies in the mouth and over the road further on: the road asks about its own part alone
        ({"ground": [area("g", 49.0, 64.0, 2.3, 45.0, bearing_kpa=30.0, bearing_wet_kpa=20.0)]}, ("ground g",)),
        ({"limits": [area("l", *MOUTH, kind="height", height_m=2.0)]}, ("limits l",)),
        ({"limits": [area("l", *MOUTH, kind="height", height_m=6.0)]}, ()),
        ({"areas": [area("f", *MOUTH, use="free_ground", surface="clay", bearing_kpa=15.0)]}, ("areas f",)),
        ({"areas": [area("f", *MOUTH, use="free_ground", surface="concrete", bearing_kpa=15.0)]}, ()),
        (
            {"areas": [area("f", *MOUTH, use="free_ground", surface="clay", slope_pct=20.0, cross_slope_pct=20.0)]},
            ("areas f",),
        ),
        ({"yard": {"slope_pct": 20.0, "cross_slope_pct": 20.0}}, ("places yard slope",)),
    ],
)
def test_what_lies_in_free_ground_a_corner_is_cut_over_is_not_clear(
    layers: dict[str, Any], named: tuple[str, ...]
) -> None:
    assert corner(**layers) == (2 if named else 0, named)


@pytest.mark.parametrize(
    "layers",
    [
        {"limits": [area("l", *MOUTH, kind="slab", gross_kg=3000.0)]},
        {"closures": [area("c", *MOUTH)]},
        {"overheads": [PIPE | {"xy": [(49, 3.2), (57.6, 3.2)], "clearance_m": 2.0}]},
        {"edges": [CREST | {"xy": [(49, 5.6), (55, 5.6)]}]},
    ],
)
def test_nobody_accepts_on_a_form_what_lies_in_a_corner(layers: dict[str, Any]) -> None:
    assert corner(accepted=True, **layers)[0] == 2


ROADS: dict[str, Any] = FLAT | FIRM
SOFT_ROAD: dict[str, Any] = {
    "bearing_kpa": 50.0,
    "bearing_wet_kpa": 30.0,
    "proven_gross_kg": None,
    "proven_axle_kg": None,
}


def circle_of(*roads: dict[str, Any], **layers: Any) -> tuple[float, str]:
    """Give what is free, and what takes the rest, of 14 m stated at the end of a road; ``roads`` lie about it."""
    return circle_at([{"id": "way", "xy": [(-60.0, 0.0), (0.0, 0.0)]}, *roads], **layers)


def circle_at(roads: Any, **layers: Any) -> tuple[float, str]:
    """Give the same of these roads alone."""
    places = [{"id": "pick", "xy": (0.0, 0.0), "kind": "pick_point", "turn_radius_m": 14.0}]
    case = case_of(make_site([ROADS | road for road in roads], places, **layers), sheet(**TOLD))
    found = free_circle(case, case.survey.network.place_node["pick"], 14.0, [0])
    return found.radius_m, found.taken_by


def test_a_road_that_is_not_passed_takes_its_ground_from_a_circle() -> None:
    on, aside = [(0.0, 0.0), (40.0, 0.0)], [(-10.0, 3.2), (-10.0, 40.0)]
    assert circle_of() == (14.0, "")
    assert circle_of({"id": "on", "xy": on}, {"id": "aside", "xy": aside}) == (14.0, "")
    assert circle_of({"id": "on", "xy": on, **SOFT_ROAD}) == (0.0, "roads on")
    assert circle_of({"id": "aside", "xy": [(-8.0, 9.0), (-8.0, 40.0)], "level": 1, **SOFT_ROAD}) == (14.0, "")
    away, taken = circle_of({"id": "aside", "xy": [(-8.0, 9.0), (-8.0, 40.0)], **SOFT_ROAD})
    assert taken == "roads aside"
    assert away == pytest.approx(np.hypot(8.0, 9.0) - 3.0)


def test_a_road_drawn_in_two_parts_takes_no_more_of_a_circle_than_in_one() -> None:
    """The machine comes by it: where it is soft that is told on the way, whichever road of the file it is."""
    whole, cut = [(0.0, 0.0), (-10.0, 40.0)], (-1.5, 6.0)
    for own in ({**SOFT_ROAD}, {}):
        drawn = circle_at([{"id": "on", "xy": whole, **own}])
        assert drawn == circle_at(
            [{"id": "b", "xy": [cut, whole[1]], **own}, {"id": "a", "xy": [whole[0], cut], **own}]
        )
        assert drawn == (14.0, "")


def test_free_ground_that_says_it_is_soft_takes_itself_from_a_circle() -> None:
    soft = {"id": "a", "use": "free_ground", "polygon": [(4.0, -5.0), (12.0, -5.0), (12.0, 5.0), (4.0, 5.0)]}
    assert circle_of(areas=[soft | {"bearing_kpa": 900.0}])[0] == 14.0
    assert circle_of(areas=[soft | {"bearing_kpa": 40.0}])[1] == "areas a"
