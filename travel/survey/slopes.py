"""Slopes by piece: grades over windows, cross slope, and its change over a wheelbase."""

from __future__ import annotations

import numpy as np

from travel.domain.site import Site, Terrain
from travel.mechanics.slope import grade_half_band, grade_over_window
from travel.survey.amendments import ranged_rows
from travel.survey.arrays import Bools, Floats, Ints, expand, group_search
from travel.survey.columns import spread_number
from travel.survey.fabric import Fabric
from travel.survey.profile import COVERAGE
from travel.survey.records import Pieces, Tolerance, Windowed
from travel.survey.terrain import cell_m, half_cell_m, sample
from travel.survey.windows import Profile, range_max, rises
from travel.units import RATIO_PER_PCT

CHORD_M = 1.0
"""Half the chord whose direction stands for the road's when terrain is read across it."""


def windowed(
    fabric: Fabric, pieces: Pieces, tolerance: Tolerance, given: Floats, regraded: Bools, window_m: float
) -> Windowed:
    """Give grades by piece; ``given`` are the grades of roads without heights, and of regraded pieces.

    Where a piece was regraded the old heights say nothing: without a grade its grade is not known.
    """
    up, down, band = _cell_grades(fabric, window_m)
    cell, drawn = pieces.cell, pieces.sign > 0
    greatest = np.where(drawn, up[cell], -down[cell])
    least = np.where(drawn, down[cell], -up[cell])
    half_band = band[cell]
    flat = (fabric.heights.source[pieces.road] == "grade") | regraded
    greatest, least = np.where(flat, given, greatest), np.where(flat, given, least)
    half_band = np.where(flat, tolerance.grade_ratio, half_band)
    missing = np.isnan(greatest) | np.isnan(least) | np.isnan(half_band)
    for column in (greatest, least, half_band):
        column[missing] = np.nan
    worst = np.where(np.abs(least) > np.abs(greatest), least, greatest)
    for column in (greatest, least, half_band, worst):
        column.setflags(write=False)
    return Windowed(grade_max=greatest, grade_min=least, grade_worst=worst, half_band=half_band)


def _cell_grades(fabric: Fabric, window_m: float) -> tuple[Floats, Floats, Floats]:
    """Give the greatest and least grade along the chain and the half-band, by cell; NaN for cells without a run."""
    cells, course, heights = fabric.cells, fabric.course, fabric.heights
    out = [np.full(len(cells), np.nan) for _ in range(3)]
    row = course.row_at(cells.chain, (cells.from_m + cells.to_m) / 2.0)
    pick = np.flatnonzero(heights.run[row] >= 0)
    if not len(pick):
        return out[0], out[1], out[2]
    profile = heights.profile()
    run = heights.run[row[pick]]
    window = _window_of_runs(fabric, profile, window_m)
    up, down = rises(profile, window, run, cells.from_m[pick], cells.to_m[pick])
    length = window[run]
    out[0][pick], out[1][pick] = grade_over_window(up, length), grade_over_window(down, length)
    out[2][pick] = grade_half_band(_spread(fabric, run, cells.from_m[pick] - length, cells.to_m[pick] + length), length)
    return out[0], out[1], out[2]


def _window_of_runs(fabric: Fabric, profile: Profile, window_m: float) -> Floats:
    """Give the window of each run: its own length where that is shorter; half a ring that is shorter than the window.

    A ring returns to its own height, so a window as long as the ring would always read level.
    """
    window = np.minimum(window_m, profile.high - profile.low)
    chain = fabric.course.row_chain[fabric.heights.run_row_start]
    ring = np.isin(chain, fabric.chains.ring)
    around = fabric.chains.length[chain]
    return np.where(ring & (window > around), around / 2.0, window)


def _spread(fabric: Fabric, run: Ints, from_m: Floats, to_m: Floats) -> Floats:
    """Give the largest standard deviation of heights among the rows a cell's windows reach."""
    heights, course = fabric.heights, fabric.course
    start, stop = heights.run_row_start[run], heights.run_row_stop[run]
    first = np.clip(group_search(course.row_from, start, stop, from_m, "right") - 1, start, stop - 1)
    last = np.clip(group_search(course.row_from, start, stop, to_m, "left"), first + 1, stop)
    return range_max(heights.sd_m, first, last)


def across(site: Site, fabric: Fabric, pieces: Pieces, tolerance: Tolerance) -> tuple[Floats, Floats]:
    """Give cross slope (+ falls to the right as drawn) and its half-band by piece.

    The road's own value; else terrain across the road where its cells are no wider than the road, the worst along
    the parent cell; else missing.
    """
    ranged, roads = ranged_rows(site), site.layers["roads"]
    slope = spread_number(roads, pieces, ranged, "cross_slope_pct") * RATIO_PER_PCT
    band = np.where(np.isnan(slope), np.nan, tolerance.cross_slope_ratio)
    width = spread_number(roads, pieces, ranged, "width_m")
    if site.terrain is not None:
        pick = np.flatnonzero(np.isnan(slope) & (width >= cell_m(site.terrain)))
        if len(pick):
            slope[pick] = _terrain_across(fabric, pieces, pick, width[pick], site.terrain)
            sd_m = site.terrain.vertical_sd_m
            sd_m = tolerance.height_m / COVERAGE if sd_m is None else sd_m
            band[pick] = grade_half_band(np.full(len(pick), sd_m), width[pick])
    missing = np.isnan(slope) | np.isnan(band)
    slope[missing], band[missing] = np.nan, np.nan
    return slope, band


def _terrain_across(fabric: Fabric, pieces: Pieces, pick: Ints, width: Floats, terrain: Terrain) -> Floats:
    course = fabric.course
    low, high = pieces.cell_from_m[pick], pieces.cell_to_m[pick]
    parts = np.maximum(np.ceil((high - low) / half_cell_m(terrain) - 1e-6), 1).astype(np.int64)
    owner, k = expand(np.zeros_like(parts), parts + 1)
    chain = pieces.chain[pick][owner]
    at = low[owner] + (high - low)[owner] * k / parts[owner]
    x, y = course.locate(chain, at)
    x0, y0 = course.locate(chain, np.maximum(at - CHORD_M, course.low[chain]))
    x1, y1 = course.locate(chain, np.minimum(at + CHORD_M, course.high[chain]))
    run = np.hypot(x1 - x0, y1 - y0)
    reach = width[owner] / 2.0 / np.where(run > 0, run, np.nan)
    left_x, left_y = -(y1 - y0) * reach, (x1 - x0) * reach
    fall = sample(terrain, x + left_x, y + left_y) - sample(terrain, x - left_x, y - left_y)
    slope = fall / width[owner]
    start = np.cumsum(parts + 1) - (parts + 1)
    most, least = np.maximum.reduceat(slope, start), np.minimum.reduceat(slope, start)
    return np.where(np.abs(least) > np.abs(most), least, most) * pieces.sign[pick]


def cross_change(fabric: Fabric, pieces: Pieces, slope: Floats, base_m: float) -> Floats:
    """Give the greatest change of cross slope between two points a wheelbase apart that straddle or touch a cell."""
    chain, order = pieces.chain, np.lexsort((_middle(fabric, pieces), pieces.chain))
    along = (slope * pieces.sign)[order]
    start, stop = _piece_ends(fabric, pieces, order)
    profile = _steps_profile(fabric, chain[order], (start, stop, along))
    length = profile.high - profile.low
    window = np.minimum(base_m, length)
    cells = fabric.cells
    run = np.unique(cells.chain, return_inverse=True)[1]
    up, down = rises(profile, window, run, cells.from_m, cells.to_m)
    change = np.maximum(np.abs(up), np.abs(down))
    short = length <= window + 1e-9
    change = np.where(short[run], _span(profile)[run], change)
    return change[pieces.cell]


def _middle(fabric: Fabric, pieces: Pieces) -> Floats:
    middle = (pieces.from_m + pieces.to_m) / 2.0
    return fabric.chains.position(fabric.links, pieces.link, middle)


def _piece_ends(fabric: Fabric, pieces: Pieces, order: Ints) -> tuple[Floats, Floats]:
    ends = [fabric.chains.position(fabric.links, pieces.link, s)[order] for s in (pieces.from_m, pieces.to_m)]
    return np.minimum(*ends), np.maximum(*ends)


def _steps_profile(fabric: Fabric, chain: Ints, piece: tuple[Floats, Floats, Floats]) -> Profile:
    """Give cross slope along chains as a profile of steps; rings are laid out three times."""
    start, stop, value = piece
    ring: Bools = np.isin(chain, fabric.chains.ring)
    around = fabric.chains.length[chain]
    which = np.concatenate((chain, chain[ring], chain[ring]))
    low = np.concatenate((start, start[ring] - around[ring], start[ring] + around[ring]))
    high = np.concatenate((stop, stop[ring] - around[ring], stop[ring] + around[ring]))
    values = np.concatenate((value, value[ring], value[ring]))
    order = np.lexsort((low, which))
    which = np.repeat(which[order], 2)
    position = np.column_stack((low[order], high[order])).ravel()
    chains = np.unique(which)
    return Profile(
        position=position,
        value=np.repeat(values[order], 2),
        start=np.searchsorted(which, chains, "left"),
        stop=np.searchsorted(which, chains, "right"),
    )


def _span(profile: Profile) -> Floats:
    return np.maximum.reduceat(profile.value, profile.start) - np.minimum.reduceat(profile.value, profile.start)
