"""What must hold of whole plans: no drawing habit changes an answer, nothing added helps, nothing unknown is clear."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import math
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import CRS, Transformer

from tests import builders
from tests.memory_site import make_site, make_terrain
from tests.planning import DEMO, MILD, answer_of, case_of, on_day, plan_of, settle_all
from tests.property.test_search import Drawn
from tests.property.test_search_corners import Cornered
from travel.domain.layers import LAYERS
from travel.domain.machine import Machine
from travel.domain.plan import TravelPlan
from travel.domain.request import Acceptance, PlanRequest
from travel.domain.site import Site
from travel.domain.verdict import Verdict
from travel.planning import Trip, TripRequest, prepare, remedies, search
from travel.planning.remedy_stock import Stock
from travel.service.plan import exit_code, make_plan

Rows = dict[str, list[dict[str, Any]]]
FULL = {"width_m": 6.0, "surface": "compacted_gravel", "cross_slope_pct": 1.0, "traffic": "none", "bearing_kpa": 900.0,
        "bearing_wet_kpa": 900.0, "roughness_m": 0.02, "sight_m": 200.0, "lit": True, "passes_done": 50,
        "edge_left": "kerb", "edge_right": "kerb"}  # fmt: skip
SWAPPED = {"along": "against", "against": "along"}


def strong(**changes: Any) -> dict[str, Any]:
    """Give a machine whose sheet says everything, with room to spare on a gentle road."""
    pull = [[0.0, 140.0], [6.0, 100.0]]
    base = {
        "axles__0__squash_m": 0.01,
        "axles__1__squash_m": 0.01,
        "axles__0__track_m": 2.05,
        "axles__1__track_m": 2.05,
        "axles__1__parking_braked": True,
        "axles__1__stop_deg": 12.0,
        "attitudes__0__cg_z_m": 1.0,
        "gears": [
            {"name": "L1", "travel": "forward", "range": "low", "top_kmh": 6.0, "pull_kn": pull},
            {
                "name": "H1",
                "travel": "forward",
                "range": "high",
                "top_kmh": 20.0,
                "pull_kn": [[0.0, 90.0], [20.0, 40.0]],
            },
            {"name": "R1", "travel": "reverse", "range": "low", "top_kmh": 6.0, "pull_kn": pull},
        ],
        "brakes": {"service_mps2": 5.0, "lag_s": 0.2, "parking_grade_pct": 30.0},
        "retarding": {"kind": "hydrostatic", "power_kw": 200.0},
        "power_kw": 130.0,
        "view": [{"sector_deg": [0.0, 360.0], "kind": "clear"}],
    }
    return builders.machine(**(base | changes))


def rows() -> Rows:
    """Give a site with a choice of ways: a short steep road, a long level loop, features on and over both."""

    def road(id_: str, points: list[tuple[float, ...]], **values: Any) -> dict[str, Any]:
        return {"id": id_, "xyz": points} | FULL | values

    return {
        "roads": [
            road("in", [(0, 0, 0), (40, 0, 0), (60, 5, 0.4)], cross_slope_pct=1.5),
            road("steep", [(60, 5, 0.4), (80, 40, 4.5), (110, 60, 9.0)], width_m=4.2, edge_right="wall"),
            road("low", [(60, 5, 0.4), (120, -10, 0.9), (170, 0, 2.5)], one_way="along", edge_left="verge"),
            road("east", [(170, 0, 2.5), (175, 45, 6.0), (110, 60, 9.0)], speed_limit_kmh=8.0, cross_slope_pct=-2.0),
            road("home", [(170, 0, 2.5), (150, -40, 1.0), (60, -35, 0.5), (40, 0, 0)], surface="firm_earth"),
        ],
        "places": [
            {"id": "gate", "xy": (0, 0), "kind": "gate", "may_stop": True, "turn_radius_m": 12.0},
            {"id": "wait", "xy": (40, 0), "kind": "waiting", "may_stop": True},
            {"id": "corner", "xy": (170, 0), "kind": "turning", "turn_radius_m": 14.0, "may_stop": True},
            {"id": "pick", "xy": (110, 60), "kind": "pick_point", "turn_radius_m": 14.0},
        ],
        "overheads": [{"id": "pipe", "xy": [(110, -30), (125, 20)], "kind": "pipe", "clearance_m": 3.5,
                       "half_spread_m": 0.3}],
        "limits": [{"id": "cut", "xy": (90, 46), "kind": "gateway", "road": "steep", "width_m": 3.3},
                   {"id": "culvert", "xy": (172, 20), "kind": "culvert", "road": "east", "gross_kg": 26000.0,
                    "axle_kg": 11000.0, "wheel_kg": 6000.0, "cover_m": 3.0, "span_m": 1.0}],
        "areas": [{"id": f"mouth{n}", "use": "free_ground",
                   "polygon": [(x - 16, y - 16), (x + 16, y - 16), (x + 16, y + 16), (x - 16, y + 16)]}
                  for n, (x, y) in enumerate([(60, 5), (80, 40), (170, 0), (175, 45), (150, -40), (60, -35), (40, 0)])],
        "people": [{"id": "path", "xy": [(20, -8), (20, 8)], "kind": "crossing", "control": "gate"}],
        "edges": [{"id": "cutting", "xy": [(70, -60), (120, -62)], "kind": "drop", "depth_m": 2.0, "batter_deg": 30.0,
                   "soil": "rock"}],
    }  # fmt: skip


def site_of(given: Rows, **options: Any) -> Site:
    return make_site(**{k: v for k, v in given.items()}, **options)  # type: ignore[arg-type]


def seen(plan: TravelPlan, about: bool = False) -> dict[str, Any]:
    """Give what a reader takes from a plan, without names, chainages and times; ``about``: numbers to 2 mm (2e-3)."""

    def number(value: float | None) -> Any:
        return pytest.approx(value, abs=2e-3) if about and value is not None else value

    least: dict[tuple[Any, ...], float] = {}
    for f in plan.findings:  # one a road: a road cut in two in its file has two of the same
        key = (f.trip, f.rule, f.verdict, f.reason, f.missing, f.control)
        least[key] = min(least.get(key, np.inf), np.inf if f.margin is None else f.margin)
    trips = [
        (t.trip, t.verdict, *(number(v) for v in (t.length_m, t.climb_m, t.clear_m, t.caution_m, t.unknown_m)))
        for t in plan.trips
    ]
    checked = [
        (c.rule, number(c.clear_m), number(c.caution_m), number(c.unknown_m), number(c.smallest_margin))
        for c in plan.checked
    ]
    return {
        "outcome": plan.outcome,
        "verdict": plan.verdict,
        "trips": trips,
        "places": [(s.trip, s.place, s.kind, tuple((c.what, c.old, c.new) for c in s.changes)) for s in plan.stops],
        "turns": [(t.trip, t.place, t.kind) for t in plan.turns if t.kind == "turn_round"],
        "findings": {key: number(margin) for key, margin in least.items()},
        "checked": checked,
    }


@lru_cache(maxsize=1)
def base_plan() -> TravelPlan:
    return plan_of(site_of(rows()), "gate", "pick", strong(), with_return=True)


def test_the_site_is_worth_asking_about():
    """Guard: the base plan is a way out and back with findings, a choice of roads, and a caution on it."""
    plan = base_plan()
    assert plan.outcome == "way"
    assert [t.found for t in plan.trips] == [True, True]
    assert plan.findings
    assert len({leg.road for leg in plan.legs}) >= 3
    assert sum(c.applied_m > 0 for c in plan.checked) >= 15


# -- drawing habits


def turned(row: Mapping[str, Any]) -> dict[str, Any]:
    """Draw a road the other way round: points, signs, sides and one-way with it."""
    out = dict(row) | {"xyz": list(row["xyz"])[::-1]}
    for name in ("cross_slope_pct", "grade_pct"):
        if name in out:
            out[name] = -out[name]
    if out.get("one_way") in SWAPPED:
        out["one_way"] = SWAPPED[out["one_way"]]
    left, right = out.pop("edge_left", None), out.pop("edge_right", None)
    return out | {k: v for k, v in (("edge_left", right), ("edge_right", left)) if v}


@pytest.mark.parametrize("which", ["in", "steep", "low", "east", "home", "all"])
def test_a_road_drawn_the_other_way_round_changes_nothing(which):
    given = rows()
    given["roads"] = [turned(r) if which in (r["id"], "all") else r for r in given["roads"]]
    plan = plan_of(site_of(given), "gate", "pick", strong(), with_return=True)
    assert seen(plan) == seen(base_plan(), about=True)


@pytest.mark.parametrize("which", ["in", "low", "east"])
def test_a_road_cut_in_two_in_the_file_changes_nothing(which):
    given = rows()
    road = next(r for r in given["roads"] if r["id"] == which)
    points = [np.array(p, dtype=float) for p in road["xyz"]]
    middle = (points[0] * 0.55 + points[1] * 0.45).tolist()
    halves = [road | {"id": f"{which}-a", "xyz": [points[0].tolist(), middle]},
              road | {"id": f"{which}-b", "xyz": [middle, *(p.tolist() for p in points[1:])]}]  # fmt: skip
    given["roads"] = [r for r in given["roads"] if r["id"] != which] + halves
    for name in ("limits", "overheads"):
        given[name] = [{k: v for k, v in row.items() if not (k == "road" and v == which)} for row in given[name]]
    plain = rows()
    for name in ("limits", "overheads"):
        plain[name] = [{k: v for k, v in row.items() if not (k == "road" and v == which)} for row in plain[name]]
    before = plan_of(site_of(plain), "gate", "pick", strong(), with_return=True)
    assert seen(plan_of(site_of(given), "gate", "pick", strong(), with_return=True)) == seen(before, about=True)


def test_other_names_and_another_order_change_nothing():
    given = rows()
    renamed: Rows = {}
    for layer, features in given.items():
        renamed[layer] = [
            {k: (f"{layer}-{v}" if k == "id" and layer != "places" else f"roads-{v}" if k == "road" else v)
             for k, v in row.items()} for row in reversed(features)
        ]  # fmt: skip
    plan = plan_of(site_of(renamed), "gate", "pick", strong(), with_return=True)
    assert seen(plan) == seen(base_plan(), about=True)
    assert [leg.road for leg in plan.legs] == [f"roads-{leg.road}" for leg in base_plan().legs]


# -- the same ground in other coordinates and files

OTHER_CRS = {
    "transverse Mercator half a degree west": CRS.from_proj4(
        "+proj=tmerc +lat_0=0 +lon_0=14.5 +k=0.9996 +x_0=500000 +y_0=0 +datum=WGS84 +units=m"
    ),
    "local transverse Mercator": CRS.from_proj4(
        "+proj=tmerc +lat_0=45.1 +lon_0=15.0007 +k=1 +x_0=5000 +y_0=7000 +datum=WGS84 +units=m"
    ),
}


def moved(site: Site, crs: CRS) -> Site:
    """Give the site with every coordinate in another CRS."""
    there = Transformer.from_crs(CRS.from_wkt(site.crs_wkt), crs, always_xy=True)

    def change(points: np.ndarray) -> np.ndarray:
        x, y = there.transform(points[:, 0], points[:, 1])
        return np.column_stack((x, y, points[:, 2:]))

    layers = {}
    for name, layer in site.layers.items():
        geometry = np.empty(len(layer), dtype=object)
        geometry[:] = [shapely.transform(g, change, include_z=g.has_z) for g in layer.geometry]
        layers[name] = dataclasses.replace(layer, geometry=geometry)
    return dataclasses.replace(site, crs_wkt=crs.to_wkt(), layers=layers)


@pytest.mark.parametrize("name", OTHER_CRS)
def test_another_crs_gives_the_same_plan_to_tolerance(name):
    """Scale differs a little between the two; so may lengths and grades, but no verdict and no way."""
    plan = plan_of(moved(site_of(rows()), OTHER_CRS[name]), "gate", "pick", strong(), with_return=True)
    assert same_but_for_scale(plan, base_plan())


def same_but_for_scale(plan: TravelPlan, other: TravelPlan, scale: float = 1e-3) -> bool:
    assert (plan.outcome, plan.verdict) == (other.outcome, other.verdict)
    assert [(leg.road, leg.direction, leg.travel, leg.range) for leg in plan.legs] == [
        (leg.road, leg.direction, leg.travel, leg.range) for leg in other.legs
    ]
    for mine, theirs in zip(plan.trips, other.trips, strict=True):
        assert mine.length_m == pytest.approx(theirs.length_m, rel=scale)
    assert [(s.place, s.kind) for s in plan.stops] == [(s.place, s.kind) for s in other.stops]
    mine = sorted({(f.trip, f.rule, f.where.road, f.where.feature, f.verdict) for f in plan.findings}, key=str)
    theirs = sorted({(f.trip, f.rule, f.where.road, f.where.feature, f.verdict) for f in other.findings}, key=str)
    assert mine == theirs
    for leg, was in zip(plan.legs, other.legs, strict=True):
        np.testing.assert_allclose(np.array(leg.path_lonlat)[:, :2], np.array(was.path_lonlat)[:, :2], atol=1e-7)
    return True


def write_demo_as_geopackage(path: Path) -> Path:
    """Write the demo's layers into one GeoPackage, in the site's own CRS, header beside the layers."""
    import geopandas

    for name in LAYERS:
        content = json.loads((DEMO / "site" / f"{name}.geojson").read_text(encoding="utf-8"))
        if not content["features"]:
            continue
        frame = geopandas.GeoDataFrame.from_features(content["features"], crs="OGC:CRS84").to_crs("EPSG:32633")
        for flag in (field.name for field in LAYERS[name].fields if field.kind == "flag" and field.name in frame):
            frame[flag] = frame[flag].astype("boolean")
        frame.to_file(path, layer=name, driver="GPKG", engine="pyogrio")
    return path


# -- nothing added, raised or taken away helps


def ranked(plan: TravelPlan) -> int:
    return 4 if plan.outcome == "no_way" else int(Verdict[plan.verdict.upper()])


def worst_of(plan: TravelPlan, rule: str) -> int:
    """Give the worst answer of one rule on the way, judged alone; 4 where there is no way."""
    if plan.outcome == "no_way":
        return 4
    return max((int(Verdict[f.verdict.upper()]) for f in plan.findings if f.rule == rule), default=0)


CLOSED = {"id": "c", "polygon": [(78, 30), (100, 30), (100, 60), (78, 60)]}
ADDED = {
    "a closure": {"closures": [CLOSED]},
    "a closure of the other way": {"closures": [CLOSED | {"polygon": [(130, -20), (160, -20), (160, 10), (130, 10)]}]},
    "a weight limit": {"limits": [{"id": "w", "xy": (20, 0), "kind": "posted", "gross_kg": 9000.0}]},
    "a low sign": {"limits": [{"id": "h", "xy": (20, 0), "kind": "posted", "height_m": 3.0}]},
    "a narrow gate": {"limits": [{"id": "n", "xy": (20, 0), "kind": "gateway", "width_m": 2.6}]},
    "an unknown wire": {"overheads": [{"id": "u", "xy": [(30, -20), (30, 20)], "kind": "wire"}]},
    "a pipe": {"overheads": [{"id": "u", "xy": [(30, -20), (30, 20)], "kind": "pipe", "clearance_m": 3.15}]},
    "an edge": {"edges": [{"id": "e", "xy": [(0, -4), (40, -4)], "kind": "excavation", "depth_m": 4.0}]},
    "people": {"people": [{"id": "p", "polygon": [(10, -5), (20, -5), (20, 5)], "kind": "work_area"}]},
    "soft ground": {"ground": [{"id": "g", "polygon": [(10, -9), (30, -9), (30, 9)], "bearing_kpa": 60.0}]},
}


@pytest.mark.parametrize("name", ADDED)
def test_a_feature_added_never_makes_a_plan_better(name):
    given = rows()
    for layer, features in ADDED[name].items():
        given[layer] = given.get(layer, []) + features
    plan = plan_of(site_of(given), "gate", "pick", strong(), with_return=True)
    assert ranked(plan) >= ranked(base_plan())
    before = {trip.trip: trip for trip in base_plan().trips}
    if plan.verdict == base_plan().verdict and plan.outcome == "way":
        for trip in plan.trips:
            assert trip.unknown_m >= before[trip.trip].unknown_m - 1e-6


GRADES = {
    "headroom": ("attitudes__0__top_xz_m", [[[1.6, 1.2], [0.8, h - 0.5], [-1.2, h], [-4.6, 2.4]]
                                            for h in (2.9, 3.2, 3.35, 3.45, 3.6, 4.0)]),
    "width": ("attitudes__0__width_z_m", [[[0.0, w], [3.1, w]] for w in (2.3, 2.5, 2.8, 3.1, 3.4, 6.5)]),
    "posted-load": ("attitudes__0__mass_kg", [14000.0, 17000.0, 20000.0, 23000.0, 28000.0]),
    "grade-limit": ("limits__grade_pct", [40.0, 25.0, 18.0, 15.0, 12.0, 5.0]),
    "side-slope": ("limits__cross_slope_pct", [15.0, 8.0, 4.0, 2.5, 1.0, 0.2]),
    "hold": ("brakes__parking_grade_pct", [40.0, 25.0, 18.0, 12.0, 3.0]),
}  # fmt: skip


def only_way(**changes: Any) -> Site:
    """Give one road with a pipe, a culvert, a gateway and a slope on it."""
    road = {"id": "r", "xyz": [(0, 0, 0), (40, 0, 0), (80, 0, 5.6), (120, 0, 5.6)]} | FULL | {"cross_slope_pct": 2.0}
    return make_site(
        [road | changes],
        [{"id": "gate", "xy": (0, 0), "kind": "gate", "may_stop": True},
         {"id": "pick", "xy": (120, 0), "kind": "pick_point", "turn_radius_m": 20.0, "may_stop": True}],
        overheads=[{"id": "pipe", "xy": [(15, -9), (15, 9)], "kind": "pipe", "clearance_m": 3.55,
                    "half_spread_m": 0.2}],
        limits=[{"id": "culvert", "xy": (30, 0), "kind": "culvert", "road": "r", "gross_kg": 22000.0,
                 "axle_kg": 11000.0, "wheel_kg": 6000.0, "cover_m": 3.0},
                {"id": "gap", "xy": (105, 0), "kind": "gateway", "road": "r", "width_m": 3.2}],
    )  # fmt: skip


@pytest.mark.parametrize("rule", GRADES)
def test_a_bigger_heavier_weaker_machine_never_gets_a_better_answer(rule):
    path, values = GRADES[rule]
    answers = []
    for value in values:
        changes = {path: value}
        if rule == "posted-load":
            changes |= {f"axles__{i}__load_kg": value / 2 for i in (0, 1)}
        if rule == "width":
            changes |= {f"axles__{i}__over_tyres_m": 2.3 for i in (0, 1)}
        plan = plan_of(only_way(), "gate", "pick", strong(**changes))
        blocking = {str(by.get("rule")) for near in plan.nearest for by in near.stopped_by}
        assert plan.outcome == "way" or rule in blocking, f"{value}: stopped by {blocking}"
        answers.append(worst_of(plan, rule))
    assert answers == sorted(answers)
    assert (answers[0], answers[-1]) == (0, 4), answers


# -- each leg alone, and nothing unknown is clear


def test_each_leg_asked_alone_passes():
    """From stop to stop the machine is asked for alone: it passes, and not worse than within the whole."""
    given = rows()
    ends = ["gate", "wait", "corner", "pick"]
    for start, goal in [(a, b) for a in ends for b in ends if a != b]:
        whole = plan_of(site_of(given), start, goal, strong())
        assert whole.outcome == "way"
        for road in {leg.road for leg in whole.legs}:
            legs = [leg for leg in whole.legs if leg.road == road]
            alone = [f for f in whole.findings if f.where.road == road and f.where.scope != "turn"]
            worst = max((Verdict[leg.verdict.upper()] for leg in legs), default=Verdict.CLEAR)
            said = max((Verdict[f.verdict.upper()] for f in alone), default=Verdict.CLEAR)
            assert worst == said, "a leg is as good as its findings say"
    for leg in base_plan().legs:
        start, goal = ("a", "b") if leg.direction == "along" else ("b", "a")
        alone = with_ends(given, leg.road, leg.from_m, leg.to_m)
        again = plan_of(site_of(alone), start, goal, strong())
        assert again.outcome == "way", leg.road
        assert ranked(again) <= int(Verdict[leg.verdict.upper()])


def with_ends(given: Rows, road: str, from_m: float, to_m: float) -> Rows:
    """Add two places at the ends of a leg, so that it can be asked for alone."""
    row = next(r for r in given["roads"] if r["id"] == road)
    line = shapely.LineString(np.array(row["xyz"])[:, :2])
    ends = {"a": shapely.line_interpolate_point(line, from_m), "b": shapely.line_interpolate_point(line, to_m)}
    places = [{"id": name, "xy": (p.x, p.y), "kind": "waiting"} for name, p in ends.items()]
    return given | {"places": [*places, *given["places"]]}


NEEDED = {
    "width_m": "width",
    "surface": "grip",
    "cross_slope_pct": "side-slope",
    "roughness_m": "tip",
    "traffic": "traffic",
    "bearing_kpa": "bearing",
}


@pytest.mark.parametrize("column", NEEDED)
def test_unknown_never_routes_as_clear(column):
    """With a needed value missing on the only way: a way, verdict unknown, exit 3, told where and what."""
    clear = plan_of(only_way(), "gate", "pick", strong())
    assert ranked(clear) <= Verdict.CAUTION
    changes = {column: None} | ({"bearing_wet_kpa": None} if column == "bearing_kpa" else {})
    plan = plan_of(only_way(**changes), "gate", "pick", strong())
    assert (plan.outcome, plan.verdict, exit_code(plan)) == ("way", "unknown", 3)
    found = [f for f in plan.findings if f.verdict == "unknown"]
    assert NEEDED[column] in {f.rule for f in found}
    assert any(column in f.missing for f in found), [f.missing for f in found]
    assert plan.trips[0].unknown_m == pytest.approx(120.0)
    assert plan.trips[0].clear_m == 0.0
    assert {f.id for f in found} <= {c.id for c in plan.conditions if c.kind == "unknown"}
    for finding in found:
        assert finding.reason


def test_a_clear_way_round_is_taken_before_an_unknown_short_one():
    ends = [{"id": "gate", "xy": (0, 0), "kind": "gate"}, {"id": "pick", "xy": (80, 0), "kind": "pick_point"}]
    short = {"id": "short", "xyz": [(0, 0, 0), (80, 0, 0)]} | FULL
    half_circle = [(40 - 40 * math.cos(a), 40 * math.sin(a), 0) for a in np.linspace(0, math.pi, 40)]
    long = {"id": "long", "xyz": half_circle} | FULL
    assert [leg.road for leg in plan_of(make_site([short, long], ends), "gate", "pick", strong()).legs] == ["short"]
    plan = plan_of(make_site([short | {"roughness_m": None}, long], ends), "gate", "pick", strong())
    assert [leg.road for leg in plan.legs] == ["long"]
    assert (plan.outcome, plan.verdict) == ("way", "clear")
    both = plan_of(make_site([short | {"roughness_m": None}, long | {"width_m": 1.0}], ends), "gate", "pick", strong())
    assert [leg.road for leg in both.legs] == ["short"]
    assert (both.outcome, both.verdict) == ("way", "unknown")


def test_an_unknown_way_is_not_made_worse_than_it_must_be():
    """Where all of the only way is unknown anyway, the range with less to settle is still taken on the slope."""
    plan = plan_of(only_way(traffic=None), "gate", "pick", strong())
    assert {f.rule for f in plan.findings if f.verdict == "unknown"} == {"traffic"}
    assert "low" in {leg.range for leg in plan.legs}


def test_an_unknown_that_is_accepted_opens_the_way_and_is_never_clear():
    site = only_way(traffic=None)
    plan = plan_of(site, "gate", "pick", strong())
    (found,) = [f for f in plan.findings if f.verdict == "unknown"]
    assert found.acceptable
    accepted = plan_of(site, "gate", "pick", strong(), accept_unknown=(Acceptance(id=found.id, reason="seen today"),))
    assert (accepted.outcome, accepted.verdict, exit_code(accepted)) == ("way", "caution", 3)
    (again,) = [f for f in accepted.findings if f.id == found.id]
    assert (again.verdict, again.accepted) == ("unknown", "seen today")
    assert any(c.kind == "accepted_unknown" and c.id == found.id for c in accepted.conditions)
    other = plan_of(site, "gate", "pick", strong(), accept_unknown=(Acceptance(id="traffic-00000000", reason="x"),))
    assert other.verdict == "unknown"


def test_what_nobody_may_accept_stays_unknown():
    site = only_way()
    layers = dict(site.layers)
    layers["overheads"] = dataclasses.replace(layers["overheads"], numbers={})
    plan = plan_of(dataclasses.replace(site, layers=layers), "gate", "pick", strong())
    (found,) = [f for f in plan.findings if f.rule == "headroom" and f.verdict == "unknown"]
    assert not found.acceptable
    again = plan_of(
        dataclasses.replace(site, layers=layers),
        "gate",
        "pick",
        strong(),
        accept_unknown=(Acceptance(id=found.id, reason="I think it is high enough"),),
    )
    assert (again.verdict, exit_code(again)) == ("unknown", 3)


def test_terrain_or_heights_drawn_into_the_roads_give_the_same_grades():
    flat = {"id": "r", "xy": [(0, 0), (120, 0)]} | FULL | {"width_m": 6.0}
    places = [{"id": "gate", "xy": (0, 0), "kind": "gate"}, {"id": "pick", "xy": (120, 0), "kind": "pick_point"}]
    terrain = make_terrain(lambda x, y: 0.06 * x, west=-20, south=-20, columns=160, rows=40, sd_m=0.02)
    by_terrain = plan_of(make_site([flat], places, terrain=terrain), "gate", "pick", strong())
    drawn = {k: v for k, v in flat.items() if k != "xy"} | {"xyz": [(0, 0, 0), (120, 0, 7.2)]}
    by_z = plan_of(make_site([drawn], places), "gate", "pick", strong())
    assert by_terrain.trips[0].climb_m == pytest.approx(by_z.trips[0].climb_m, abs=1e-3)


@pytest.mark.slow
def test_demo_as_geopackage_gives_the_same_plan(tmp_path):
    import shutil
    import tomllib

    folder = tmp_path / "gpkg"
    folder.mkdir()
    write_demo_as_geopackage(folder / "site.gpkg")
    for name in ("site.toml", "terrain.tif"):
        shutil.copy(DEMO / "site" / name, folder / name)
    plans = []
    day = max(note["date"] for note in tomllib.loads((folder / "site.toml").read_text())["surveyed"].values())
    for site in (DEMO / "site", folder / "site.gpkg"):
        request = PlanRequest(site=site, machine=DEMO / "machines" / "middle.toml", from_place="G1", to_place="P1",
                              weather=MILD)  # fmt: skip
        with on_day(day + dt.timedelta(days=1)):
            plans.append(make_plan(request).plan)
    assert same_but_for_scale(plans[1], plans[0], scale=1e-6)


def test_answers_do_not_depend_on_who_asked_before():
    """The workspace is shared: a second question about the same site is not coloured by the first."""
    site = site_of(rows())
    first = answer_of(site, "gate", "pick", strong()).plan
    answer_of(site, "pick", "gate", strong(limits__grade_pct=2.0))
    assert seen(answer_of(site, "gate", "pick", strong()).plan) == seen(first, about=True)


# -- random small sites end to end


def small_site(seed: int) -> Site:
    """Draw a network of fully described roads, some steep, narrow, unknown or one-way, with places to stop and turn."""
    rng = np.random.default_rng(seed)
    corner = np.array([(i * 45.0, j * 45.0) for i in range(3) for j in range(2)]) + rng.uniform(-6, 6, (6, 2))
    level = rng.uniform(0, 5, 6)
    links = [(0, 1), (2, 3), (4, 5), (0, 2), (1, 3), (2, 4), (3, 5), (0, 3)]
    roads = []
    for number, (a, b) in enumerate(links):
        if rng.random() < 0.2:
            continue
        road = {"id": f"r{number}", "xyz": [(*corner[a], level[a]), (*corner[b], level[b])]} | FULL
        road |= {"width_m": float(rng.choice([2.6, 3.4, 6.0, 6.0])), "cross_slope_pct": float(rng.uniform(-4, 4))}
        road |= {"traffic": rng.choice(["none", "none", None]), "one_way": rng.choice([None, None, None, "along"])}
        roads.append(road)
    used = [i for i in range(6) if any(np.allclose(corner[i], p[:2]) for r in roads for p in r["xyz"])]
    places = [
        {"id": f"p{i}", "xy": tuple(corner[i]), "kind": "turning", "may_stop": bool(rng.random() < 0.6),
         "turn_radius_m": float(rng.choice([3.0, 15.0]))} for i in used
    ]  # fmt: skip
    return make_site(roads, places)


@pytest.mark.parametrize("seed", range(12))
def test_random_sites_end_to_end(seed):
    """The plan's way costs what settling every arrival costs, its pieces join, and its summaries add up."""
    site, machine = small_site(seed), Machine.model_validate(strong())
    prepared = prepare(case_of(site, machine))
    graph, nodes = prepared.graph, prepared.case.survey.network.place_node
    drawn = Drawn(
        graph=graph,
        parts=[[graph.parts(cost) for cost in row] for row in graph.cost],
        change=graph.parts(graph.change_cost),
        turn=graph.parts(graph.turn_cost),
        travels=[state[0] for state in prepared.case.configurations.states],
    )
    settled = prepare(prepared.case).graph
    settle_all(settled.corners)
    told = Cornered.of(drawn, settled.corners)
    for start in nodes:
        for goal in nodes:
            if nodes[start] == nodes[goal]:
                continue
            request = TripRequest(start=nodes[start], goal=nodes[goal], from_place=start, to_place=goal)
            trip = search(prepared, request)
            best = {worst: told.oracle(nodes[start], nodes[goal], worst, None) for worst in Verdict}
            wanted = best[Verdict.CAUTION] or best[Verdict.UNKNOWN]
            assert (trip.way is None) == (wanted is None)
            if trip.way is None:
                assert (trip.blocked_way is None) == (best[Verdict.BLOCKED] is None)
                continue
            assert drawn.tuple_of(graph.parts(trip.way.cost)) == wanted
            assert trip.worst <= Verdict.UNKNOWN
            ends = cell_ends(trip)
            np.testing.assert_allclose(ends[1:, 0], ends[:-1, 1], atol=1e-6)
    looked_for = "quick" if seed % 3 == 1 else "none"  # nothing here is about remedies
    check_summaries(answer_of(site, *random_ends(seed, list(nodes)), strong(), looked_for, with_return=True).plan)


def test_looking_ahead_at_corners_finds_the_same_remedies(monkeypatch):
    """Corners of further sets may be looked at with those of the next: fewer rounds, the same answers."""
    rounds, market = [0], Stock.market
    monkeypatch.setattr(Stock, "market", lambda *args: (rounds.append(rounds.pop() + 1), market(*args))[1])
    site, found = small_site(8), []
    for few in (remedies.FEW_ROUNDS, -3):
        monkeypatch.setattr(remedies, "FEW_ROUNDS", few)
        rounds.append(0)
        plan = plan_of(site, *random_ends(8, list(site.layers["places"].ids)), strong(), with_return=True)
        found.append([(remedy.kind, remedy.cost, remedy.text) for remedy in plan.remedies])
    assert rounds[-1] < rounds[-2]
    assert found[0] == found[1] != []


def random_ends(seed: int, places: list[str]) -> tuple[str, str]:
    start, goal = np.random.default_rng(seed).choice(len(places), 2, replace=False)
    return places[start], places[goal]


def cell_ends(trip: Trip) -> np.ndarray:
    """Give where each cell of a way is entered and left, (cells, 2, xy)."""
    survey, cells = trip.case.survey, trip.cells
    out = []
    for piece, sense in zip(cells.piece, cells.sense, strict=True):
        pieces = survey.pieces
        line = survey.xy(int(pieces.road[piece]), float(pieces.from_m[piece]), float(pieces.to_m[piece]))
        out.append((line[0], line[-1]) if sense > 0 else (line[-1], line[0]))
    return np.array(out)


def check_summaries(plan: TravelPlan) -> None:
    for trip in plan.trips:
        legs = [leg for leg in plan.legs if leg.trip == trip.trip]
        assert sum(leg.length_m for leg in legs) == pytest.approx(trip.length_m)
        if trip.found:
            assert trip.clear_m + trip.caution_m + trip.unknown_m == pytest.approx(trip.length_m)
            assert sum(leg.time_s for leg in legs) <= trip.time_s + 1e-9
    assert [f.flag for f in plan.findings] == list(range(1, len(plan.findings) + 1))
    assert len({f.id for f in plan.findings}) == len(plan.findings)
    assert [leg.leg for leg in plan.legs] == list(range(1, len(plan.legs) + 1))
    for leg in plan.legs:
        assert all(plan.findings[flag - 1].leg is not None for flag in leg.flags)
    for checked in plan.checked:
        parts = checked.clear_m + checked.caution_m + checked.unknown_m + checked.blocked_m
        assert parts == pytest.approx(checked.applied_m)
    if plan.outcome == "no_way":
        assert plan.nearest
        assert exit_code(plan) == 1
