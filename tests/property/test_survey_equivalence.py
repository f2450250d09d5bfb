"""Cutting a road in two, drawing it the other way, renaming and reordering change no value at any position."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.memory_site import EXACT, make_site, make_terrain
from travel.domain.site import Terrain
from travel.survey import Survey, build_survey


@dataclass
class Drawn:
    """A site as rows, before it is built, and where each original road stands in it: (road, from, to, sign)."""

    roads: list[dict[str, Any]]
    places: list[dict[str, Any]]
    layers: dict[str, list[dict[str, Any]]]
    terrain: Terrain | None

    def build(self) -> Survey:
        return build_survey(make_site(self.roads, self.places, terrain=self.terrain, **self.layers), EXACT)


def draw(seed: int, heights: str) -> Drawn:
    """Draw a random network of bent roads with features on, over and beside it."""
    rng = np.random.default_rng(seed)
    corner = np.stack(np.meshgrid(np.arange(3), np.arange(3), indexing="ij"), -1) * 45.0
    corner = corner + rng.uniform(-9, 9, corner.shape)
    level = rng.uniform(0, 4, (3, 3))
    roads: list[dict[str, Any]] = []
    for i in range(3):
        for j in range(3):
            for di, dj in ((1, 0), (0, 1)):
                if i + di > 2 or j + dj > 2 or rng.random() < 0.35:
                    continue
                inner = int(rng.integers(0, 4))
                t = np.linspace(0, 1, inner + 2)[:, None]
                xy = corner[i, j] + t * (corner[i + di, j + dj] - corner[i, j])
                xy[1:-1] += rng.uniform(-2.5, 2.5, (inner, 2))
                z = level[i, j] + t[:, 0] * (level[i + di, j + dj] - level[i, j])
                z[1:-1] += rng.uniform(-0.6, 0.6, inner)
                own = heights == "z" or (heights == "mixed" and rng.random() < 0.6)
                row: dict[str, Any] = {
                    "id": f"r{len(roads)}",
                    "width_m": float(rng.uniform(3, 8)),
                    "surface": "asphalt",
                }
                row |= {"xyz": np.column_stack((xy, z))} if own else {"xy": xy, "grade_pct": float(rng.uniform(-9, 9))}
                if rng.random() < 0.6:
                    row["cross_slope_pct"] = float(rng.uniform(-5, 5))
                roads.append(row)
    if not roads:
        roads.append({"id": "r0", "width_m": 4.0, "xyz": np.array([[0, 0, 0], [40, 10, 2.0]])})
    roads += _side_road(rng, roads[0]) + _ring(rng, heights)
    places, layers = _around(rng, roads)
    terrain = None
    if heights == "terrain":
        terrain = make_terrain(
            lambda x, y: 2 * np.sin(x / 9) + np.cos(y / 6) + x * y / 900,
            west=-30,
            south=-30,
            columns=110,
            rows=75,
            cell_m=2.0,
        )
    return Drawn(roads, places, layers, terrain)


def _side_road(rng: np.random.Generator, main: dict[str, Any]) -> list[dict[str, Any]]:
    """Draw a road that starts in the middle of another."""
    key = "xyz" if "xyz" in main else "xy"
    points = np.asarray(main[key])
    start = points[0] + float(rng.uniform(0.2, 0.8)) * (points[1] - points[0])
    away = np.zeros(len(start))
    away[:2] = rng.uniform(-25, 25, 2)
    row = {"id": "side", "width_m": 4.0, "surface": "clay", key: np.vstack((start, start + away))}
    return [row] if key == "xyz" else [row | {"grade_pct": 3.0}]


def _ring(rng: np.random.Generator, heights: str) -> list[dict[str, Any]]:
    """Draw a ring no other road meets, now and then."""
    if rng.random() < 0.5:
        return []
    angle = np.sort(rng.uniform(0, 2 * np.pi, 9))
    radius = rng.uniform(14, 20, 9)
    xy = np.column_stack((150 + radius * np.cos(angle), 40 + radius * np.sin(angle)))
    xyz = np.column_stack((xy, rng.uniform(0, 1.5, 9)))
    key, points = ("xyz", xyz) if heights in ("z", "mixed") else ("xy", xy)
    row: dict[str, Any] = {"id": "ring", "width_m": 5.0, "surface": "clay", key: np.vstack((points, points[:1]))}
    return [row | ({"grade_pct": 2.0} if heights == "grade" else {})]


def _around(rng: np.random.Generator, roads: list[dict[str, Any]]) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    places, overheads, ground, limits = [], [], [], []
    for k in range(3):
        line = _xy(roads[int(rng.integers(len(roads)))])
        spot = line[0] + rng.uniform(0.1, 0.9) * (line[1] - line[0])
        places.append({"id": f"p{k}", "kind": "waiting", "xy": tuple(spot + rng.uniform(-1, 1, 2))})
        a = spot + rng.uniform(-15, 15, 2)
        overheads.append(
            {
                "id": f"w{k}",
                "kind": "wire",
                "xy": [tuple(a), tuple(a + rng.uniform(-30, 30, 2))],
                "half_spread_m": float(rng.uniform(0, 2)),
            }
        )
        b = spot + rng.uniform(-12, 12, 2)
        corners = [(0, 0), (float(rng.uniform(5, 25)), 0), (float(rng.uniform(3, 20)), float(rng.uniform(5, 25)))]
        ground.append({"id": f"g{k}", "polygon": [tuple(b + c) for c in corners]})
        limits.append({"id": f"l{k}", "kind": "posted", "gross_kg": 20000.0, "xy": tuple(spot + rng.uniform(-1, 1, 2))})
    return places, {"overheads": overheads, "ground": ground, "limits": limits}


def _xy(row: dict[str, Any]) -> np.ndarray:
    return np.asarray(row["xyz"] if "xyz" in row else row["xy"], dtype=float)[:, :2]


def chainage(points: np.ndarray) -> np.ndarray:
    """Give the chainage of every vertex."""
    return np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points[:, :2], axis=0).T))))


def reversed_row(row: dict[str, Any]) -> dict[str, Any]:
    """Draw a road the other way."""
    key = "xyz" if "xyz" in row else "xy"
    out = row | {key: np.asarray(row[key])[::-1]}
    for signed in ("grade_pct", "cross_slope_pct"):
        if signed in row:
            out[signed] = -row[signed]
    return out


def cut_row(row: dict[str, Any], at: float) -> list[dict[str, Any]]:
    """Cut a road in two at a chainage, with a new vertex there unless one is."""
    key = "xyz" if "xyz" in row else "xy"
    points = np.asarray(row[key], dtype=float)
    s = chainage(points)
    here = np.array([np.interp(at, s, column) for column in points.T])
    head, tail = points[s < at - 1e-6], points[s > at + 1e-6]
    exact = points[np.abs(s - at) <= 1e-6]
    here = exact[0] if len(exact) else here
    return [
        row | {"id": row["id"] + "_1", key: np.vstack((head, here))},
        row | {"id": row["id"] + "_2", key: np.vstack((here, tail))},
    ]


def values_at(survey: Survey, road: int, at: float, sign: int) -> dict[str, Any]:
    """Give everything the survey says at a position, turned to the original sense of drawing."""
    pieces = survey.pieces
    own = np.flatnonzero((pieces.road == road) & (pieces.from_m <= at + 1e-7) & (pieces.to_m >= at - 1e-7))
    piece = int(own[np.argmin(np.abs((pieces.from_m + pieces.to_m)[own] / 2 - at))])
    out: dict[str, Any] = {
        "cell": pieces.cell_to_m[piece] - pieces.cell_from_m[piece],
        "bend": pieces.curvature_per_m[piece],
        "width": survey.number("width_m")[piece],
        "twist": survey.cross_change(2.7)[piece],
        "cross": sign * survey.cross_slope_ratio[piece],
        "cross band": survey.cross_slope_band[piece],
        "height": survey.height_at(road, at),
        "source": survey.height_source[piece],
    }
    for window in (3.0, 12.0, 60.0):
        grades = survey.windowed(window)
        pair = sign * grades.grade_max[piece], sign * grades.grade_min[piece]
        out[f"steepest up {window}"], out[f"steepest down {window}"] = max(pair), min(pair)
        if any(np.isnan(pair)):
            out[f"steepest up {window}"] = out[f"steepest down {window}"] = np.nan
        out[f"band {window}"] = grades.half_band[piece]
    for layer in ("overheads", "ground", "limits"):
        for beside in (None, 9.0):
            found = survey.pairs(layer, 6.0, beside)
            for k in np.flatnonzero(found.piece == piece):
                name = f"{layer} {beside} {survey.site.layers[layer].ids[found.feature[k]]}"
                out[name] = found.distance_m[k]
                out[name + " side"] = sign * found.side[k]
                out[name + " over"] = found.over[k]
    return out


def same(one: dict[str, Any], two: dict[str, Any], where: str) -> None:
    """Compare two answers of :func:`values_at`."""
    assert one.keys() == two.keys(), where
    for name, value in one.items():
        if isinstance(value, str):
            assert value == two[name], f"{where} {name}"
        else:
            assert two[name] == pytest.approx(value, rel=1e-6, abs=2e-6, nan_ok=True), f"{where} {name}"


SITES = st.tuples(st.integers(0, 10**6), st.sampled_from(["z", "terrain", "grade", "mixed"]))
QUICK = settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])


def positions(survey: Survey) -> list[tuple[int, float]]:
    """Give the middle of every piece."""
    middle = (survey.pieces.from_m + survey.pieces.to_m) / 2
    return list(zip(survey.pieces.road.tolist(), middle.tolist(), strict=True))


@QUICK
@given(site=SITES, share=st.floats(0.02, 0.98), which=st.integers(0, 50), at_vertex=st.booleans())
def test_cutting_a_road_in_two_changes_no_value(
    site: tuple[int, str], share: float, which: int, at_vertex: bool
) -> None:
    drawn = draw(*site)
    road = which % len(drawn.roads)
    s = chainage(_xy(drawn.roads[road]))
    at = float(s[1 + which % (len(s) - 2)]) if at_vertex and len(s) > 2 else share * float(s[-1])
    parts = cut_row(drawn.roads[road], at)
    cut = Drawn([*drawn.roads[:road], *parts, *drawn.roads[road + 1 :]], drawn.places, drawn.layers, drawn.terrain)
    whole = drawn.build()
    spot = shapely.Point(whole.xy(road, at, at)[0])
    others = [line for k, line in enumerate(whole.site.layers["roads"].geometry) if k != road]
    assume(
        not others or shapely.distance(others, spot).min() > 2 * whole.site.header.snap_m
    )  # else the ends would join
    halves = cut.build()
    for row, position in positions(whole):
        if row == road:
            moved = (row, position) if position <= at else (row + 1, position - at)
        else:
            moved = (row + (row > road), position)
        same(values_at(whole, row, position, 1), values_at(halves, *moved, 1), f"road {row} at {position:.2f}")


@QUICK
@given(site=SITES, turned=st.sets(st.integers(0, 20)))
def test_drawing_roads_the_other_way_changes_no_value(site: tuple[int, str], turned: set[int]) -> None:
    drawn = draw(*site)
    rows = [reversed_row(row) if k in turned else row for k, row in enumerate(drawn.roads)]
    before, after = drawn.build(), Drawn(rows, drawn.places, drawn.layers, drawn.terrain).build()
    length = after.fabric.lines.length
    for row, position in positions(before):
        there = float(length[row]) - position if row in turned else position
        sign = -1 if row in turned else 1
        same(values_at(before, row, position, 1), values_at(after, row, there, sign), f"road {row} at {position:.2f}")


@QUICK
@given(site=SITES, order=st.randoms(use_true_random=False))
def test_renaming_and_reordering_changes_no_value(site: tuple[int, str], order: Any) -> None:
    drawn = draw(*site)
    numbers = list(range(len(drawn.roads)))
    order.shuffle(numbers)
    rows = [drawn.roads[k] | {"id": f"x{99 - k}"} for k in numbers]
    before, after = drawn.build(), Drawn(rows, drawn.places, drawn.layers, drawn.terrain).build()
    for row, position in positions(before):
        same(
            values_at(before, row, position, 1),
            values_at(after, numbers.index(row), position, 1),
            f"road {row} at {position:.2f}",
        )
