"""A straight level yard road with a place to unload on an area of free ground, and the demo's rig and machine on it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.memory_site import EXACT, make_site
from tests.planning import DEMO, MILD, answer_of
from tests.unit.ramp.ramps import machine, ramp_case, sheet
from travel.checks import Case, make_configurations
from travel.checks.haul import HaulCase, haul_body, haul_machine, make_rig
from travel.checks.ramp import RampFacts
from travel.checks.unloading import PlaceAnswer, judge_place
from travel.checks.unloading_free import free_of
from travel.checks.unloading_ground import grounds_of
from travel.checks.unloading_stand import Standing, stand_on
from travel.domain.ramp import SLOPES
from travel.domain.site import Site, Weather
from travel.domain.verdict import Verdict
from travel.rulebook import load_rulebook
from travel.service.plan import Answer
from travel.survey import build_survey

RULEBOOK = load_rulebook()
TRAILER = DEMO / "trailers" / "semi_low_loader.toml"
AREA = {"id": "A", "use": "unloading", "surface": "asphalt", "bearing_kpa": 3000.0, "slope_pct": 0.0,
        "cross_slope_pct": 0.0, "heading_deg": 90.0}  # fmt: skip
ROAD = {"id": "r", "xyz": [(0, 0, 10), (100, 0, 10), (300, 0, 10)], "width_m": 12.0, "surface": "asphalt",
        "cross_slope_pct": 0.0, "roughness_m": 0.0, "traffic": "none", "edge_left": "kerb", "edge_right": "kerb",
        "lit": True, "sight_m": 100.0, "passes_done": 0}  # fmt: skip
WIDE = [(50.0, -12.0), (150.0, -12.0), (150.0, 12.0), (50.0, 12.0)]
RUN_M = math.sqrt(3.20**2 - 0.52**2)
"""Level length of the demo's ramp: 3.20 m along the slope up to 0.52 m."""
NEED_M = 15.90 + RUN_M + (7.2 + 3.0)
"""Rig, ramps, and the machine's own length with three metres."""


def without(row: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Give a row with changes; None leaves the column out."""
    return {key: value for key, value in (dict(row) | dict(changes)).items() if value is not None}


def yard(
    *,
    polygon: list[tuple[float, float]] | None = WIDE,
    area: Mapping[str, Any] | None = None,
    road: Mapping[str, Any] | None = None,
    place: Mapping[str, Any] | None = None,
    surveyed: Any = None,
    **layers: Any,
) -> Site:
    """Give the site: gate at 0, place U at 100, pick point at 300 m along an eastward road."""
    areas = [] if polygon is None else [without(AREA, area or {}) | {"polygon": polygon}]
    places = [
        {"id": "gate", "xy": (0, 0), "kind": "gate", "may_stop": True},
        without({"id": "U", "xy": (100, 0), "kind": "unloading", "may_stop": True}, place or {}),
        {"id": "pick", "xy": (300, 0), "kind": "pick_point", "may_stop": True, "turn_radius_m": 15.0},
    ]
    header = {"jurisdiction": "gb", "tolerance": {"grade_pct": 1.0, "cross_slope_pct": 1.0, "plan_m": 0.1}}
    return make_site([without(ROAD, road or {})], places, header=header, surveyed=surveyed, areas=areas, **layers)


def case_on(
    site: Site, *, laden: bool = True, weather: Weather = MILD, name: str = "semi_low_loader", **changes: Any
) -> HaulCase:
    """Give the combination's trip in on a site; changes of the trailer's sheet by key path."""
    ramp = ramp_case(name, **changes)
    rig = make_rig(ramp, laden)
    stand_in = haul_machine(ramp, rig)
    return HaulCase(
        trip="arrive",
        machine=stand_in,
        body=haul_body(rig),
        load=None,
        rulebook=RULEBOOK,
        survey=build_survey(site, EXACT),
        configurations=make_configurations(stand_in),
        weather=weather,
        rig=rig,
        laden=laden,
    )


def judged(
    site: Site, heading_deg: float | None = 90.0, weather: Weather = MILD, **changes: Any
) -> tuple[Standing, dict[str, list[PlaceAnswer]]]:
    """Give how the rig stands at U and every part's answers by name; the heading is the grid's, 90 = east."""
    case: Case = case_on(site, weather=weather, **changes)
    ground = grounds_of(case.survey)[0]
    heading = None if heading_deg is None else math.pi / 2.0 - math.radians(heading_deg)
    along, across = ground.slopes_at(heading)[0]
    asked = {"surface": ground.surface, "ground": weather.ground, "jurisdiction": "gb"}
    slopes = dict(zip(SLOPES, (along * 100.0, across * 100.0), strict=True))
    asked |= {name: value for name, value in slopes.items() if not math.isnan(value)}
    asked["not_stated"] = tuple(name for name, value in slopes.items() if math.isnan(value))
    told = zip(SLOPES, ground.slopes_told(heading), strict=True)
    asked["told"] = tuple(name for name, word in told if word and name not in asked["not_stated"])
    facts = RampFacts(case=ramp_case(request=asked, **changes))
    standing = stand_on(free_of(ground, [case]), facts, heading)
    out: dict[str, list[PlaceAnswer]] = {}
    for answer in judge_place(standing, facts, case):
        out.setdefault(answer.part, []).append(answer)
    return standing, out


def verdict(found: Mapping[str, list[PlaceAnswer]], part: str) -> Verdict:
    """Give the worst verdict of one part."""
    return max(answer.verdict for answer in found[part])


def hauled(site: Site, trailer: Path = TRAILER, **request: Any) -> Answer:
    """Give the plan from the gate over U to the pick point, and back."""
    content = machine().model_dump(mode="json", exclude_none=True)
    return answer_of(site, "gate", "pick", content, trailer=trailer, **({"with_return": True} | request))


__all__ = ["machine", "ramp_case", "sheet"]
