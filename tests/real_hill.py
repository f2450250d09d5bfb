"""The real hill of ``tests/data/maunga_whau`` and what a computation apart from the program finds on it.

Lines are merged by shapely, heights sampled every 5 cm, windows slid by 5 cm, the way found on a networkx graph.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import geopandas as gpd
import networkx as nx
import numpy as np
import rasterio
import shapely
from scipy.interpolate import RegularGridInterpolator

from travel.domain.site import Terrain

DATA = Path(__file__).parent / "data" / "maunga_whau"
CRS = "EPSG:27200"
STEP_M = 0.05
VERTICAL_SD_M = 0.5
"""Heights are whole metres."""
TABLE_PCT = {4: 44.6, 10: 40.9, 20: 33.0, 30: 30.0, 40: 28.2}
CHORD_M = 2 * 5.0**2 / 8 / 100
"""Between samples half a cell (5 m) apart a height is a chord. Under nine tenths of these roads (heights are
whole metres) the surface twists by at most 1 m over a cell of 10 m × 10 m, so a chord is off by at most
(5 m)² / 8 × 1 m / (10 m)², and a rise, having two ends, by twice that: 6 cm."""
START_M = 0.5 * 0.10
"""The table's windows start every metre, so the steepest is missed by up to half a metre; near the steepest window the
gradients under its two ends differ by about 10 %, so its rise by up to 5 cm."""
ROUNDED = 0.0005


@lru_cache(maxsize=1)
def grid() -> Terrain:
    """Give the height grid."""
    with rasterio.open(DATA / "terrain.tif") as file:
        to = file.transform
        return Terrain(
            heights=file.read(1).astype(float),
            west_m=to.c,
            north_m=to.f,
            cell_x_m=to.a,
            cell_y_m=-to.e,
            vertical_sd_m=VERTICAL_SD_M,
        )


@lru_cache(maxsize=1)
def roads() -> tuple[shapely.LineString, ...]:
    """Give the centrelines, in metres of ``CRS``."""
    return tuple(gpd.read_file(DATA / "roads.gpkg").geometry)


def lowest_and_highest(graph: nx.MultiGraph) -> tuple[Any, Any]:
    """Give the lowest and highest ends of the largest component; nodes carry ``z``, edges ``length``."""
    parts = list(nx.connected_components(graph))
    largest = max(parts, key=lambda part: graph.subgraph(part).size(weight="length"))
    ends = [node for node in largest if graph.degree(node) != 2]
    low, high = (pick(ends, key=lambda node: graph.nodes[node]["z"]) for pick in (min, max))
    assert round(graph.nodes[low]["z"]) == 94
    assert round(graph.nodes[high]["z"]) == 192
    return low, high


def bottleneck(graph: nx.MultiGraph) -> tuple[float, float]:
    """Give the least attainable steepest grade from the lowest to the highest node, and the length of that way."""
    low, high = lowest_and_highest(graph)
    for steepest in sorted({data["grade"] for _, _, data in graph.edges(data=True)}):
        passable = nx.MultiGraph([(a, b, data) for a, b, data in graph.edges(data=True) if data["grade"] <= steepest])
        if low in passable and high in passable and nx.has_path(passable, low, high):
            return steepest, nx.shortest_path_length(passable, low, high, weight="length")
    raise AssertionError("no way up")


@lru_cache(maxsize=8)
def by_hand(window: float) -> nx.MultiGraph:
    """Give the roads merged between junctions, each with its steepest grade over a window."""
    terrain = grid()
    rows, columns = terrain.heights.shape
    north = terrain.north_m - terrain.cell_y_m * (np.arange(rows) + 0.5)
    east = terrain.west_m + terrain.cell_x_m * (np.arange(columns) + 0.5)
    height = RegularGridInterpolator((north[::-1], east), terrain.heights[::-1])
    graph = nx.MultiGraph()
    for line in shapely.line_merge(shapely.union_all(roads())).geoms:
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
    return graph


def half_band(window_m: float) -> float:
    """Give the 95 % half-band of a rise between two heights, over a window: 1.96 · √2 · σ / w."""
    return float(1.96 * np.sqrt(2.0) * VERTICAL_SD_M / window_m)
