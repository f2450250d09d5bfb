"""A real hill with real roads (``tests/data/maunga_whau``): the least attainable steepest grade up it, by window.

The survey's windowed grades, chained to a way, are compared with a computation that shares nothing with it: lines
merged by shapely, heights sampled every 5 cm, windows slid by 5 cm, the way found on a networkx graph.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import geopandas as gpd
import networkx as nx
import numpy as np
import pytest
import rasterio
import shapely
from scipy.interpolate import RegularGridInterpolator

from tests.memory_site import EXACT, make_site
from travel.domain.site import Terrain
from travel.survey import Survey, build_survey

DATA = Path(__file__).parents[2] / "data" / "maunga_whau"
STEP_M = 0.05
TABLE_PCT = {4: 44.6, 10: 40.9, 20: 33.0, 30: 30.0, 40: 28.2}


@lru_cache(maxsize=1)
def grid() -> Terrain:
    with rasterio.open(DATA / "terrain.tif") as file:
        to = file.transform
        return Terrain(
            heights=file.read(1).astype(float),
            west_m=to.c,
            north_m=to.f,
            cell_x_m=to.a,
            cell_y_m=-to.e,
            vertical_sd_m=0.5,
        )


@lru_cache(maxsize=1)
def survey() -> Survey:
    table = gpd.read_file(DATA / "roads.gpkg")
    roads = [{"id": str(k), "geometry": line, "width_m": 5.0} for k, line in enumerate(table.geometry)]
    return build_survey(make_site(roads, terrain=grid(), crs="EPSG:27200", origin=(0.0, 0.0)), EXACT)


def bottleneck(graph: nx.MultiGraph) -> tuple[float, float]:
    """Give the least attainable steepest grade from the lowest to the highest node, and the length of that way."""
    parts = list(nx.connected_components(graph))
    largest = max(parts, key=lambda part: graph.subgraph(part).size(weight="length"))
    part = graph.subgraph(largest)
    ends = [node for node in largest if graph.degree(node) != 2]
    low, high = (pick(ends, key=lambda node: graph.nodes[node]["z"]) for pick in (min, max))
    assert round(graph.nodes[low]["z"]) == 94
    assert round(graph.nodes[high]["z"]) == 192
    for steepest in sorted({data["grade"] for _, _, data in part.edges(data=True)}):
        passable = nx.MultiGraph([(a, b, data) for a, b, data in part.edges(data=True) if data["grade"] <= steepest])
        if low in passable and high in passable and nx.has_path(passable, low, high):
            return steepest, nx.shortest_path_length(passable, low, high, weight="length")
    raise AssertionError("no way up")


def by_survey(window: float) -> tuple[float, float]:
    whole = survey()
    network, pieces, worst = whole.network, whole.pieces, np.abs(whole.windowed(window).grade_worst)
    graph = nx.MultiGraph()
    for link in range(network.n_links):
        own = slice(network.link_piece_start[link], network.link_piece_stop[link])
        road = int(network.link_road[link])
        for node, at in (
            (network.link_a[link], network.link_from_m[link]),
            (network.link_b[link], network.link_to_m[link]),
        ):
            graph.add_node(int(node), z=whole.height_at(road, float(at)))
        graph.add_edge(
            int(network.link_a[link]),
            int(network.link_b[link]),
            grade=float(worst[own].max()),
            length=float(pieces.length_m[own].sum()),
        )
    return bottleneck(graph)


def by_hand(window: float) -> tuple[float, float]:
    terrain = grid()
    rows, columns = terrain.heights.shape
    north = terrain.north_m - terrain.cell_y_m * (np.arange(rows) + 0.5)
    east = terrain.west_m + terrain.cell_x_m * (np.arange(columns) + 0.5)
    height = RegularGridInterpolator((north[::-1], east), terrain.heights[::-1])
    graph = nx.MultiGraph()
    for line in shapely.line_merge(shapely.union_all(survey().site.layers["roads"].geometry)).geoms:
        at = np.append(np.arange(0.0, line.length, STEP_M), line.length)
        xy = shapely.get_coordinates(shapely.line_interpolate_point(line, at))
        z = height(xy[:, ::-1])
        ends: list[Any] = [tuple(np.round(xy[k], 3)) for k in (0, -1)]
        graph.add_node(ends[0], z=z[0])
        graph.add_node(ends[1], z=z[-1])
        span = min(window, line.length)
        start = np.append(np.arange(0.0, line.length - span, STEP_M), line.length - span)
        rise = np.interp(start + span, at, z) - np.interp(start, at, z)
        graph.add_edge(*ends, grade=float(np.abs(rise).max() / span), length=line.length)
    assert graph.number_of_edges() == 48
    return bottleneck(graph)


CHORD_M = 2 * 5.0**2 / 8 / 100
"""Between samples half a cell (5 m) apart a height is a chord. Under nine tenths of these roads (heights are
whole metres) the surface twists by at most 1 m over a cell of 10 m × 10 m, so a chord is off by at most
(5 m)² / 8 × 1 m / (10 m)², and a rise, having two ends, by twice that: 6 cm."""
START_M = 0.5 * 0.10
"""The table's windows start every metre, so the steepest is missed by up to half a metre; near the steepest window the
gradients under its two ends differ by about 10 %, so its rise by up to 5 cm."""
ROUNDED = 0.0005


def test_terrain_under_the_roads_twists_by_no_more_than_assumed() -> None:
    terrain, course = grid(), survey().fabric.course
    h = terrain.heights
    twist = np.abs(h[1:, 1:] - h[1:, :-1] - h[:-1, 1:] + h[:-1, :-1])
    row = np.floor((terrain.north_m - course.y) / terrain.cell_y_m - 0.5).astype(int)
    column = np.floor((course.x - terrain.west_m) / terrain.cell_x_m - 0.5).astype(int)
    assert np.mean(twist[row, column] <= 1.0) > 0.9


@pytest.mark.parametrize("window", TABLE_PCT)
def test_least_attainable_steepest_grade(window: int) -> None:
    (found, length), (expected, expected_length) = by_survey(window), by_hand(window)
    assert found == pytest.approx(expected, abs=CHORD_M / window)
    assert found == pytest.approx(TABLE_PCT[window] / 100, abs=(CHORD_M + START_M) / window + ROUNDED)
    assert length == pytest.approx(expected_length, abs=0.01)
    assert round(length) == 1171


def test_half_band_says_how_little_a_short_window_knows() -> None:
    whole = survey()
    length = whole.fabric.chains.length[whole.pieces.chain]
    for window in (4.0, 20.0):
        expected = 1.96 * np.sqrt(2) * 0.5 / np.minimum(window, length)
        assert whole.windowed(window).half_band == pytest.approx(expected)


def test_lengths_add_up_and_nothing_is_known_that_nobody_measured() -> None:
    whole = survey()
    assert whole.pieces.length_m.sum() == pytest.approx(4484, abs=1)
    assert len(set(whole.network.link_chain)) == 48
    assert set(whole.height_source) == {"terrain"}
    assert np.isnan(whole.cross_slope_ratio).all()  # cells of 10 m are wider than the roads
    assert np.isnan(whole.number("bearing_kpa")).all()
