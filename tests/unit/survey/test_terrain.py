"""Heights between cell centres, and slopes read from them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from tests.memory_site import EXACT, ORIGIN, make_site, make_terrain
from travel.domain.site import Terrain
from travel.survey import build_survey
from travel.survey.terrain import sample


def grid(seed: int) -> Terrain:
    rng = np.random.default_rng(seed)
    return Terrain(
        heights=rng.normal(size=(30, 40)), west_m=1000.0, north_m=5000.0, cell_x_m=2.0, cell_y_m=3.0, vertical_sd_m=0.1
    )


@pytest.mark.parametrize("seed", range(3))
def test_bilinear_agrees_with_an_independent_library(seed: int) -> None:
    terrain, rng = grid(seed), np.random.default_rng(seed + 50)
    x, y = rng.uniform(1001, 1079, 500), rng.uniform(4911.5, 4998.5, 500)
    rows, columns = (5000 - y) / 3 - 0.5, (x - 1000) / 2 - 0.5
    expected = map_coordinates(terrain.heights, [rows, columns], order=1)
    assert sample(terrain, x, y) == pytest.approx(expected, abs=1e-12)


def test_plane_is_read_back_exactly() -> None:
    terrain = make_terrain(lambda x, y: 3 + 0.2 * x - 0.1 * y, west=0, south=0, columns=50, rows=60, cell_m=2.0)
    rng = np.random.default_rng(1)
    x, y = rng.uniform(1, 99, 300), rng.uniform(1, 119, 300)
    assert sample(terrain, x + ORIGIN[0], y + ORIGIN[1]) == pytest.approx(3 + 0.2 * x - 0.1 * y)


def test_cell_centres_are_read_as_they_stand_and_beyond_them_nothing() -> None:
    terrain = grid(4)
    centre_x, centre_y = 1000 + 2 * (np.arange(40) + 0.5), 5000 - 3 * (np.arange(30) + 0.5)
    x, y = np.meshgrid(centre_x, centre_y)
    assert sample(terrain, x.ravel(), y.ravel()) == pytest.approx(terrain.heights.ravel())
    outside = sample(terrain, np.array([1000.9, 1079.1, 1040, 1040]), np.array([4950, 4950, 4998.6, 4911.4]))
    assert np.isnan(outside).all()


def test_a_missing_cell_counts_only_where_it_is_used() -> None:
    terrain = grid(5)
    terrain.heights[10, 20] = np.nan
    x, y = 1000 + 2 * 20.5, 5000 - 3 * 10.5
    assert np.isnan(sample(terrain, np.array([x, x + 1.9, x]), np.array([y, y, y + 2.9]))).all()
    assert np.isfinite(sample(terrain, np.array([x + 2.0, x]), np.array([y, y + 3.0]))).all()


def hillside(width: float | None, cell_m: float, **columns: float) -> tuple[float, float]:
    terrain = make_terrain(lambda x, y: 0.06 * y, west=-20, south=-20, columns=60, rows=40, cell_m=cell_m, sd_m=0.1)
    row = {"id": "r", "xy": [(2, 1), (30, 1)], "width_m": width, **columns}
    survey = build_survey(make_site([row], terrain=terrain), EXACT)
    assert survey.cross_slope_ratio == pytest.approx(survey.cross_slope_ratio[0], nan_ok=True)
    return float(survey.cross_slope_ratio[0]), float(survey.cross_slope_band[0])


def test_cross_slope_is_read_from_terrain_no_coarser_than_the_road() -> None:
    slope, band = hillside(5.0, 2.0)
    assert slope == pytest.approx(0.06)  # north is left and higher: it falls to the right
    assert band == pytest.approx(1.96 * np.sqrt(2) * 0.1 / 5.0)
    assert np.isnan(hillside(1.9, 2.0)).all()
    assert np.isnan(hillside(None, 2.0)).all()


def test_cross_slope_of_the_road_goes_before_terrain() -> None:
    assert hillside(5.0, 2.0, cross_slope_pct=-2.0) == pytest.approx((-0.02, EXACT.cross_slope_ratio))


def test_change_of_cross_slope_over_the_wheelbase() -> None:
    roads = [
        {"id": "a", "xy": [(0, 0), (40, 0)], "width_m": 5.0, "cross_slope_pct": 2.0},
        {"id": "b", "xy": [(80, 0), (40, 0)], "width_m": 5.0, "cross_slope_pct": 3.0},
        {"id": "c", "xy": [(80, 0), (120, 0)], "width_m": 5.0},
    ]
    survey = build_survey(make_site(roads), EXACT)
    change, x = survey.cross_change(3.0), survey.pieces.x_m - ORIGIN[0]
    assert change[np.abs(x - 40) < 2.5] == pytest.approx(0.05)  # as drawn b falls 3 % the other way
    assert change[x < 30] == pytest.approx(0.0)
    assert np.isnan(change[x > 80]).all()
    assert np.isnan(change[(x > 78) & (x < 80)]).all()


def test_change_of_cross_slope_on_terrain_that_twists() -> None:
    terrain = make_terrain(lambda x, y: 0.002 * x * y, west=-10, south=-20, columns=120, rows=40, sd_m=0.1)
    survey = build_survey(make_site([{"id": "r", "xy": [(0, 0.5), (90, 0.5)], "width_m": 5.0}], terrain=terrain), EXACT)
    middle = (survey.pieces.x_m > ORIGIN[0] + 12) & (survey.pieces.x_m < ORIGIN[0] + 78)
    twist = survey.cross_change(5.0)[middle]
    assert twist == pytest.approx(0.002 * 5.0, abs=1e-6)  # pieces of 5 m, each at its worst end
