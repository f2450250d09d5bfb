"""The hand-made plan, a small site with terrain to draw it on, and a small rulebook."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyproj
import pytest
from shapely import LineString, Point, box

from travel.domain.plan import Nearest, Remedy, TravelPlan, Where
from travel.domain.rules import BookLayer, Control, Limit, Patterns, Rule, Rulebook, Source, Vocabulary
from travel.domain.site import InputFile, Layer, Site, SiteHeader, Terrain
from travel.writers.plan_json import plan_from_bytes

T_PLAN = Path(__file__).parents[2] / "data" / "t_junction" / "plan.json"


@pytest.fixture(scope="session")
def plan_bytes() -> bytes:
    return T_PLAN.read_bytes()


@pytest.fixture(scope="session")
def plan(plan_bytes: bytes) -> TravelPlan:
    return plan_from_bytes(plan_bytes)


def column(*values: object) -> np.ndarray:
    return np.array(values, dtype=object)


def shapes(*geometries: object) -> np.ndarray:
    out = np.empty(len(geometries), dtype=object)
    out[:] = geometries
    return out


def layers_of(mark: str) -> dict[str, Layer]:
    """The T-junction as layers; ``mark`` is added to every name and free text."""
    e, n = 500000.0, 5300000.0
    roads = Layer(
        name="roads", ids=("R1", "R2", "R3"),
        geometry=shapes(
            LineString([(e, n, 100), (e + 60, n, 100), (e + 120, n, 100)]),
            LineString([(e + 60, n, 100), (e + 60, n + 20, 100), (e + 60, n + 80, 108.4)]),
            LineString([(e + 120, n, 100), (e + 120, n + 50, 101)]),
        ),
        numbers={"width_m": np.array([5.0, 5.0, np.nan])},
        texts={
            "name": column(f"Haul road{mark}", f"Ramp{mark}", None),
            "surface": column("compacted_gravel", "concrete", None),
        },
        extra={"remark": column(mark, mark, mark)},
    )  # fmt: skip
    places = Layer(
        name="places", ids=("G", "J", "S", "P"),
        geometry=shapes(*(Point(e + x, n + y) for x, y in ((0, 0), (60, 0), (60, 10), (60, 80)))),
        numbers={
            "turn_radius_m": np.array([np.nan, np.nan, np.nan, 12.0]),
            "may_stop": np.array([1.0, np.nan, 1.0, 1.0]),
        },
        texts={
            "name": column(f"West gate{mark}", None, f"Lay-by{mark}", f"Steel stack{mark}"),
            "kind": column("gate", "junction", "waiting", "pick_point"),
        },
    )  # fmt: skip
    overheads = Layer(
        name="overheads", ids=("OH1",), geometry=shapes(LineString([(e + 90, n - 30), (e + 90, n + 40)])),
        numbers={"clearance_m": np.array([7.2]), "voltage_kv": np.array([20.0])},
        texts={"name": column(f"Line{mark}"), "kind": column("power_line"), "owner": column(f"owner{mark}")},
    )  # fmt: skip
    edges = Layer(
        name="edges", ids=("E1",), geometry=shapes(LineString([(e + 70, n + 25), (e + 72, n + 75)])),
        numbers={"depth_m": np.array([2.5])}, texts={"name": column(f"Pit{mark}"), "kind": column("excavation")},
    )  # fmt: skip
    people = Layer(
        name="people", ids=("W1",), geometry=shapes(box(e + 20, n + 6, e + 50, n + 14)),
        numbers={},
        texts={"name": column(f"Walkway{mark}"), "kind": column("walkway"), "control": column(f"fence{mark}")},
    )  # fmt: skip
    closures = Layer(
        name="closures", ids=("C1",), geometry=shapes(box(e + 112, n + 20, e + 128, n + 40)),
        numbers={}, texts={"name": column(f"Closed{mark}"), "reason": column(f"works{mark}")},
    )  # fmt: skip
    limits = Layer(
        name="limits", ids=("L1",), geometry=shapes(Point(e + 30, n)), numbers={"width_m": np.array([4.2])},
        texts={"name": column(f"Gateway{mark}"), "kind": column("gateway"), "road": column("R1")},
    )  # fmt: skip
    areas = Layer(
        name="areas", ids=("A1",), geometry=shapes(Point(e + 60, n + 86).buffer(14)), numbers={},
        texts={"name": column(f"Yard{mark}"), "use": column("set_up")},
    )  # fmt: skip
    obstacles = Layer(
        name="obstacles", ids=("B1",), geometry=shapes(Point(e + 45, n - 8).buffer(3)),
        numbers={"height_m": np.array([3.0])},
        texts={"name": column(f"Hut{mark}")},
    )  # fmt: skip
    found = (roads, places, overheads, edges, people, closures, limits, areas, obstacles)
    return {layer.name: layer for layer in found}


def terrain() -> Terrain:
    """A hill rising northwards like R2, with a knoll in the west."""
    y, x = np.mgrid[0:80, 0:90]
    east, north = 499_970 + (x + 0.5) * 2.0, 5_300_120 - (y + 0.5) * 2.0
    heights = 100 + 0.14 * np.clip(north - 5_300_020, 0, 60)
    heights = heights + 6 * np.exp(-(((east - 500_010) / 18) ** 2 + ((north - 5_300_060) / 22) ** 2))
    heights[:3, :5] = np.nan
    return Terrain(heights=heights, west_m=499_970, north_m=5_300_120, cell_x_m=2.0, cell_y_m=2.0, vertical_sd_m=0.05)


@pytest.fixture(scope="session")
def make_site() -> Callable[..., Site]:
    def make(mark: str = "", with_terrain: bool = True) -> Site:
        header = SiteHeader(
            format=1,
            name=f"T-junction{mark}",
            crs="EPSG:32632",
            timezone="Europe/Berlin",
            surveyed_on=dt.date(2026, 1, 10),
        )
        return Site(
            header=header,
            crs_wkt=pyproj.CRS.from_epsg(32632).to_wkt(),
            layers=layers_of(mark),
            terrain=terrain() if with_terrain else None,
            inputs=(InputFile(role="site", name="site.toml", sha256="0" * 64),),
        )

    return make


@pytest.fixture(scope="session")
def site(make_site: Callable[..., Site]) -> Site:
    return make_site()


@pytest.fixture(scope="session")
def rulebook() -> Rulebook:
    rules = (
        Rule(
            id="grade-limit", title="Grade against what the machine is permitted", group="A", kind="limit", unit="%",
            scope="piece",
            say={
                "blocked": "{road} is {demand} steep; {capacity} is permitted.",
                "caution": "{road} is {demand} steep; {capacity} permitted, {margin} left, tolerance {tolerance}.",
                "unknown": "The grade is not known: {missing}.",
            },
        ),
        Rule(id="gear-for-grade", title="Low range on grades", group="A", kind="permit", unit="%", scope="piece"),
        Rule(id="width", title="Width for the wheels", group="A", kind="limit", unit="m", scope="piece"),
    )  # fmt: skip
    limits = (
        Limit(id="width.wander_m", value=0.3, unit="m", sense="at_least", status="practice", source=""),
        Limit(
            id="gear-for-grade.high_range_pct", value=8.0, unit="%", sense="at_most", status="site",
            source="site-rules",
            when={"surface": "clay", "grade_over": 5.0}, clause="4.2", known="read", layer="site",
        ),
    )  # fmt: skip
    return Rulebook(
        rules={rule.id: rule for rule in rules},
        limits=limits,
        sources={
            "machine-sheet": Source(key="machine-sheet", title="Machine sheet of the invented handler", edition="2026"),
            "site-rules": Source(key="site-rules", title="Site rules"),
        },
        controls={
            "banksman": Control(
                id="banksman",
                text="A banksman walks ahead",
                owner="supervisor",
                due="before the leg",
                evidence="name on the card",
            )
        },
        vocabulary=Vocabulary(lists={}),
        patterns=Patterns(sentences={"unknown.layer": "Nobody is recorded as having looked for {missing}."}),
        cautions=(),
        books=(BookLayer(layer="default", name="by hand", sha256="0" * 64),),
    )


@pytest.fixture(scope="session")
def no_way(plan: TravelPlan) -> TravelPlan:
    """The same question with R2 too steep from chainage 20 on, and one line nobody knows the height of."""
    steep, line = plan.findings
    blocked = dataclasses.replace(
        steep, leg=None, verdict="blocked", demand=19.0, margin=-3.566, severity=-1.78,
        why="", where=dataclasses.replace(steep.where, lonlat=None),
    )  # fmt: skip
    unknown = dataclasses.replace(
        line, leg=None, rule="line-clearance", trip="out", verdict="unknown", why="", reason="missing",
        missing=("clearance_m",), demand=None, capacity=None, margin=None, tolerance=None, severity=None, unit="m",
        terms={}, limit=None, acceptable=False,
        where=Where(scope="stretch", road="R1", from_m=85.0, to_m=95.0, at_m=90.0, layer="overheads", feature="OH1"),
    )  # fmt: skip
    return dataclasses.replace(
        plan,
        outcome="no_way", verdict="blocked", legs=(), turns=(), stops=(), profile=(),
        trips=tuple(dataclasses.replace(trip, found=False, verdict="blocked", climb_m=None) for trip in plan.trips),
        findings=(blocked, unknown),
        nearest=(
            Nearest(
                trip="out", place="S", road="R2", at_m=20.0, remaining_m=60.0, lonlat=None,
                stopped_by=({"rule": "grade-limit", "road": "R2", "demand": 19.0, "capacity": 16.0, "unit": "%"},),
            ),
        ),
        remedies=(
            Remedy(
                remedy=1, rank=1, amendments=(), cost=1.0, who="site manager", lead_time_days=3.0,
                side_effects="longer ramp", proven=True, text="Regrade R2 from 20 to 80 m to 13.5 %",
            ),
        ),
    )  # fmt: skip
