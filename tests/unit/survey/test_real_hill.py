"""A real hill with real roads (``tests/data/maunga_whau``): the least attainable steepest grade up it, by window.

The survey's windowed grades, chained to a way, are compared with a computation that shares nothing with it
(``tests/real_hill.py``).
"""

from __future__ import annotations

from functools import lru_cache

import networkx as nx
import numpy as np
import pytest

from tests.memory_site import EXACT, make_site
from tests.real_hill import CHORD_M, CRS, ROUNDED, START_M, TABLE_PCT, bottleneck, by_hand, grid, roads
from travel.survey import Survey, build_survey


@lru_cache(maxsize=1)
def survey() -> Survey:
    rows = [{"id": str(k), "geometry": line, "width_m": 5.0} for k, line in enumerate(roads())]
    return build_survey(make_site(rows, terrain=grid(), crs=CRS, origin=(0.0, 0.0)), EXACT)


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


def test_terrain_under_the_roads_twists_by_no_more_than_assumed() -> None:
    terrain, course = grid(), survey().fabric.course
    h = terrain.heights
    twist = np.abs(h[1:, 1:] - h[1:, :-1] - h[:-1, 1:] + h[:-1, :-1])
    row = np.floor((terrain.north_m - course.y) / terrain.cell_y_m - 0.5).astype(int)
    column = np.floor((course.x - terrain.west_m) / terrain.cell_x_m - 0.5).astype(int)
    assert np.mean(twist[row, column] <= 1.0) > 0.9


@pytest.mark.parametrize("window", TABLE_PCT)
def test_least_attainable_steepest_grade(window: int) -> None:
    (found, length), (expected, expected_length) = by_survey(window), bottleneck(by_hand(window))
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
