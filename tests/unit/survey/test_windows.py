"""Grades over windows against sliding the window along the profile a centimetre at a time."""

from __future__ import annotations

import numpy as np
import pytest

from tests.memory_site import EXACT, make_site, make_terrain
from travel.survey import Survey, Tolerance, build_survey

STEP_M = 0.01


def profile(rng: np.random.Generator, knots: int) -> np.ndarray:
    """Draw a straight road with random heights at random chainages."""
    x = np.concatenate(([0.0], np.cumsum(rng.uniform(0.3, 9.0, knots))))
    return np.column_stack((x, np.zeros_like(x), np.cumsum(rng.uniform(-0.9, 1.0, len(x)))))


def slide(x: np.ndarray, z: np.ndarray, window: float, low: float, high: float) -> tuple[float, float]:
    """Give the greatest and least grade over windows that touch low … high, the window moved by small steps."""
    total = float(x[-1])
    if total <= window:
        return ((z[-1] - z[0]) / total,) * 2
    first, last = max(low - window, 0.0), min(high, total - window)
    start = np.linspace(first, last, max(int((last - first) / STEP_M), 2))
    grade = (np.interp(start + window, x, z) - np.interp(start, x, z)) / window
    return float(grade.max()), float(grade.min())


def survey_of(points: np.ndarray) -> Survey:
    return build_survey(make_site([{"id": "r", "xyz": points, "width_m": 5.0}]), EXACT)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("window", [1.0, 4.0, 12.5, 300.0])
def test_extremes_are_those_of_a_sliding_window(seed: int, window: float) -> None:
    points = profile(np.random.default_rng(seed), 24)
    survey = survey_of(points)
    found, pieces = survey.windowed(window), survey.pieces
    steepest = np.abs(np.diff(points[:, 2]) / np.diff(points[:, 0])).max()
    missed = 2 * STEP_M * steepest / window
    for k in range(len(pieces)):
        up, down = slide(points[:, 0], points[:, 2], window, pieces.cell_from_m[k], pieces.cell_to_m[k])
        assert up - 1e-6 <= found.grade_max[k] <= up + missed + 1e-6
        assert down - missed - 1e-6 <= found.grade_min[k] <= down + 1e-6


def test_worst_is_the_one_of_larger_size() -> None:
    survey = survey_of(np.array([[0, 0, 0], [20, 0, 1.0], [40, 0, -1.5], [60, 0, -1.5]]))
    found = survey.windowed(5.0)
    larger = np.where(np.abs(found.grade_min) > np.abs(found.grade_max), found.grade_min, found.grade_max)
    assert found.grade_worst == pytest.approx(larger)
    assert found.grade_worst.min() == pytest.approx(-0.125)


def test_window_runs_on_where_the_file_is_cut() -> None:
    whole = survey_of(np.array([[0, 0, 0], [10, 0, 0], [14, 0, 1.0], [30, 0, 1.0]]))
    roads = [
        {"id": "a", "xyz": [(0, 0, 0), (10, 0, 0), (12, 0, 0.5)], "width_m": 5.0},
        {"id": "b", "xyz": [(30, 0, 1.0), (14, 0, 1.0), (12, 0, 0.5)], "width_m": 5.0},
    ]
    cut = build_survey(make_site(roads), EXACT)
    last = np.flatnonzero(cut.pieces.road == 0)[-1]
    assert cut.windowed(8.0).grade_max[last] == pytest.approx(0.125)
    assert cut.windowed(8.0).grade_max[last] == pytest.approx(whole.windowed(8.0).grade_max.max())
    assert cut.windowed(8.0).grade_min.min() == pytest.approx(-0.125)


def test_window_does_not_run_across_a_junction_of_three() -> None:
    roads = [
        {"id": "a", "xyz": [(0, 0, 0), (20, 0, 0)], "width_m": 5.0},
        {"id": "b", "xyz": [(20, 0, 0), (40, 0, 10)], "width_m": 5.0},
        {"id": "c", "xyz": [(20, 0, 0), (20, 30, 0)], "width_m": 5.0},
    ]
    survey = build_survey(make_site(roads), EXACT)
    flat = survey.pieces.road == 0
    assert survey.windowed(10.0).grade_max[flat] == pytest.approx(0.0, abs=1e-9)


def test_short_chain_takes_its_whole_rise_and_its_own_uncertainty() -> None:
    survey = survey_of(np.array([[0, 0, 0], [2, 0, 0.5], [4, 0, 0.4]]))
    found = survey.windowed(10.0)
    assert found.grade_max == pytest.approx(0.1)
    assert found.grade_min == pytest.approx(0.1)
    assert found.half_band == pytest.approx(np.sqrt(2) * EXACT.height_m / 4.0)


def test_step_between_roads_counts_as_a_rise() -> None:
    roads = [
        {"id": "a", "xyz": [(0, 0, 0), (20, 0, 0)], "width_m": 5.0},
        {"id": "b", "xyz": [(20, 0, 0.6), (40, 0, 0.6)], "width_m": 5.0},
    ]
    survey = build_survey(make_site(roads), EXACT)
    assert survey.windowed(4.0).grade_max.max() == pytest.approx(0.15)
    near = np.abs(survey.pieces.x_m - survey.fabric.lines.x[1]) < 2.0
    assert survey.windowed(4.0).grade_max[near] == pytest.approx(0.15)
    assert any("heights differ by 0.60 m" in doubt.message for doubt in survey.doubts)


def test_missing_height_makes_every_window_that_needs_it_unknown() -> None:
    terrain = make_terrain(
        lambda x, y: np.where(np.abs(x - 50) < 1.0, np.nan, 0.1 * x), west=-5, south=-10, columns=110, rows=20
    )
    survey = build_survey(make_site([{"id": "r", "xy": [(0, 0), (100, 0)], "width_m": 5.0}], terrain=terrain), EXACT)
    found, pieces = survey.windowed(6.0), survey.pieces
    touched = (pieces.cell_from_m - 6.0 < 51.5) & (pieces.cell_to_m + 6.0 > 48.5)
    clear = (pieces.cell_from_m - 6.0 > 53.0) | (pieces.cell_to_m + 6.0 < 47.0)
    assert np.isnan(found.grade_max[touched]).all()
    assert np.isnan(found.half_band[touched]).all()
    assert found.grade_max[clear] == pytest.approx(0.1)
    assert touched.any()
    assert clear.any()


def test_given_grades_are_taken_as_given_and_cut_the_windows_of_heights() -> None:
    roads = [
        {"id": "a", "xyz": [(0, 0, 0), (30, 0, 3)], "width_m": 5.0},
        {"id": "b", "xy": [(60, 0), (30, 0)], "width_m": 5.0, "grade_pct": -4.0},
        {"id": "c", "xy": [(60, 0), (90, 0)], "width_m": 5.0},
    ]
    survey = build_survey(make_site(roads), EXACT)
    found, road = survey.windowed(8.0), survey.pieces.road
    assert found.grade_max[road == 0] == pytest.approx(0.1)
    assert found.grade_min[road == 1] == pytest.approx(-0.04)
    assert found.half_band[road == 1] == pytest.approx(EXACT.grade_ratio)
    assert np.isnan(found.grade_worst[road == 2]).all()
    assert [survey.height_source[road == k][0] for k in range(3)] == ["z", "grade", "none"]
    assert np.isnan(survey.height_at(1, 3.0))


@pytest.mark.parametrize(("sd", "expected"), [(0.2, 1.96 * np.sqrt(2) * 0.2 / 10), (0.0, 0.0)])
def test_half_band_comes_from_the_terrain(sd: float, expected: float) -> None:
    terrain = make_terrain(lambda x, y: 0 * x, west=-5, south=-10, columns=60, rows=20, sd_m=sd)
    survey = build_survey(make_site([{"id": "r", "xy": [(0, 0), (40, 0)], "width_m": 5.0}], terrain=terrain), EXACT)
    assert survey.windowed(10.0).half_band == pytest.approx(expected)


def test_terrain_of_unknown_quality_takes_the_class_value_or_leaves_grades_missing() -> None:
    terrain = make_terrain(lambda x, y: 0 * x, west=-5, south=-10, columns=60, rows=20, sd_m=None)
    site = make_site([{"id": "r", "xy": [(0, 0), (40, 0)], "width_m": 5.0}], terrain=terrain)
    assert build_survey(site, EXACT).windowed(10.0).half_band == pytest.approx(np.sqrt(2) * EXACT.height_m / 10)
    blind = Tolerance(height_m=np.nan, width_m=0.1, grade_ratio=0.01, cross_slope_ratio=0.01, plan_m=0.1)
    assert np.isnan(build_survey(site, blind).windowed(10.0).grade_max).all()


def test_ring_without_a_junction_has_no_seam() -> None:
    angle = np.linspace(0, 2 * np.pi, 81)
    xyz = np.column_stack((30 * np.cos(angle), 30 * np.sin(angle), np.sin(angle)))
    answers = []
    for turn in (0, 17, 55):
        turned = np.vstack((np.roll(xyz[:-1], -turn, axis=0), np.roll(xyz[:-1], -turn, axis=0)[:1]))
        survey = build_survey(make_site([{"id": "ring", "xyz": turned, "width_m": 5.0}]), EXACT)
        bearing = np.arctan2(survey.pieces.y_m - 5_000_000.0, survey.pieces.x_m - 500_000.0)
        order = np.argsort(bearing)
        found = survey.windowed(12.0)
        assert np.isfinite(found.grade_max).all()
        answers.append(
            (found.grade_max.max(), found.grade_min.min(), np.interp(0.5, bearing[order], found.grade_max[order]))
        )
        assert survey.network.n_links in (1, 2)
    assert answers[1] == pytest.approx(answers[0], rel=1e-3)
    assert answers[2] == pytest.approx(answers[0], rel=1e-3)
    steepest = np.abs(np.roll(xyz[:-1, 2], -1) - xyz[:-1, 2]).max() / np.hypot(*np.diff(xyz[:2, :2], axis=0)[0])
    assert 0.9 * steepest < answers[0][0] <= steepest + 1e-9


def test_a_step_where_roads_meet_is_that_of_the_whole_cell_wherever_the_file_cuts_the_road() -> None:
    fork = [{"id": "a", "xyz": [(0, 0, 0), (40, 0, 0)]}, {"id": "c", "xyz": [(40, 0, 0), (40, 40, 0)]}]
    whole = [{"id": "b", "xyz": [(40, 0, 0.3), (80, 0, 0.3)]}]
    cut = [{"id": "b1", "xyz": [(40, 0, 0.3), (41, 0, 0.3)]}, {"id": "b2", "xyz": [(41, 0, 0.3), (80, 0, 0.3)]}]
    for rest in (whole, cut):
        survey = build_survey(make_site([road | {"width_m": 5.0} for road in (*fork, *rest)]), EXACT)
        here = (survey.pieces.x_m > 500_040.0) & (survey.pieces.y_m == 5_000_000.0)
        assert survey.junction_steps_m[here] == pytest.approx(np.where(survey.pieces.x_m[here] < 500_045.0, 0.3, 0.0))
