"""Heights between the cell centres of a grid."""

from __future__ import annotations

import numpy as np

from travel.domain.site import Terrain
from travel.survey.arrays import Floats


def sample(terrain: Terrain, x_m: Floats, y_m: Floats) -> Floats:
    """Give bilinear heights; NaN outside the cell centres and where any cell that is used is NaN."""
    rows, columns = terrain.heights.shape
    column = _settle((x_m - terrain.west_m) / terrain.cell_x_m - 0.5)
    row = _settle((terrain.north_m - y_m) / terrain.cell_y_m - 0.5)
    inside = (column >= 0) & (column <= columns - 1) & (row >= 0) & (row <= rows - 1)
    column, row = np.where(inside, column, 0.0), np.where(inside, row, 0.0)
    left, top = np.floor(column).astype(np.int64), np.floor(row).astype(np.int64)
    across, down = column - left, row - top
    right, bottom = np.minimum(left + 1, columns - 1), np.minimum(top + 1, rows - 1)
    flat = terrain.heights.ravel()
    height = np.zeros_like(column)
    for r, c, weight in (
        (top, left, (1 - down) * (1 - across)),
        (top, right, (1 - down) * across),
        (bottom, left, down * (1 - across)),
        (bottom, right, down * across),
    ):
        height += np.where(weight > 0, flat.take(r * columns + c), 0.0) * weight
    return np.where(inside, height, np.nan)


def _settle(index: Floats) -> Floats:
    """Round off what a division adds to a point lying on a cell centre."""
    near = np.round(index)
    return np.where(np.abs(index - near) < 1e-9, near, index)


def half_cell_m(terrain: Terrain) -> float:
    """Give half the smaller side of a cell: the spacing at which heights along a road are sampled."""
    return min(terrain.cell_x_m, terrain.cell_y_m) / 2.0


def cell_m(terrain: Terrain) -> float:
    """Give the wider side of a cell."""
    return max(terrain.cell_x_m, terrain.cell_y_m)
