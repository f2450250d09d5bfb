"""Which cells of the terrain a plan relies on: those that touch its corridor, whatever way they are looked at."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from travel.planning.relied import _touching


@pytest.mark.parametrize("seed", range(60))
def test_cells_are_those_that_touch_the_corridor_asked_one_by_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points, size_m = rng.uniform(-50.0, 150.0, (int(rng.integers(2, 8)), 2)), rng.uniform(0.3, 4.0)
    way = shapely.buffer(shapely.LineString(points), rng.uniform(0.2, 30.0))
    rounds = shapely.union_all(shapely.buffer(shapely.points(points), rng.uniform(0.1, 20.0, len(points))))
    corridor = way if seed % 2 else shapely.difference(rounds, shapely.Point(points[0]).buffer(0.1))
    columns, rows = rng.integers(1, 90, 2)
    west, north = np.meshgrid(np.arange(columns) * size_m - 10.0, 120.0 - np.arange(rows) * size_m)
    sides = west, west + size_m, north - size_m, north
    one_by_one = shapely.intersects(corridor, shapely.box(sides[0], sides[2], sides[1], sides[3]))
    np.testing.assert_array_equal(_touching(corridor, *sides), one_by_one)
