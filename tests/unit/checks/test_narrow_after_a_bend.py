"""A wide road bends, a narrow one goes on from it: what front and tail sweep there, driven by brute force."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import shapely

from tests.memory_site import EXACT, make_site
from tests.unit.checks.beside_cases import LOW, ROAD, UNKNOWN, case_of, on_grid
from travel.checks import Case
from travel.survey import build_survey

MARGIN_M = 0.25
WIDE_M = 8.0


def roads(radius_m: float, gap_m: float) -> tuple[list[tuple[float, float]], tuple[float, float]]:
    """Give the line of the wide road, a quarter circle and some of the straight after it, and the narrow one's end."""
    angles = np.linspace(0.0, math.pi / 2.0, 41)
    arc = [(radius_m * math.sin(a), radius_m * (1.0 - math.cos(a))) for a in angles.tolist()]
    return [(-30.0, 0.0), *arc, (radius_m, radius_m + gap_m)], (radius_m, radius_m + gap_m + 40.0)


def case_on(radius_m: float, gap_m: float, front_m: float, narrow_m: float) -> Case:
    wide, end = roads(radius_m, gap_m)
    rows = [ROAD | {"id": "wide", "xy": wide, "width_m": WIDE_M},
            ROAD | {"id": "narrow", "xy": [wide[-1], end], "width_m": narrow_m}]  # fmt: skip
    outline = {f"attitudes__0__{side}_xz_m": [[front_m, z], [-4.6, z]] for side, z in (("top", 2.0), ("under", 0.9))}
    site = make_site(rows, header={"jurisdiction": "none"})
    return dataclasses.replace(case_of(sheet=outline), survey=build_survey(site, EXACT))


def swept_m(case: Case, radius_m: float, gap_m: float) -> float:
    """Give the width that is swept on the narrow road: both sides at one place, the rear axle drawn after the front."""
    wide, end = roads(radius_m, gap_m)
    line, body = shapely.LineString([*wide, end]), case.body
    way = shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(0.0, line.length, 0.05)))
    along = np.linspace(body.rear_x_m, body.front_x_m, 60)
    rear = way[0] - [body.wheelbase_m, 0.0]
    right, left = np.zeros(40), np.zeros(40)
    for front in way:
        ahead = (front - rear) / np.hypot(*(front - rear))
        rear = front - body.wheelbase_m * ahead
        for side, out in ((1.0, right), (-1.0, left)):
            point = front + along[:, None] * ahead + side * body.width_m / 2.0 * np.array([ahead[1], -ahead[0]])
            place = np.floor((point[:, 1] - wide[-1][1]) * 2.0).astype(int)
            here = (place >= 0) & (place < 40)
            np.maximum.at(out, place[here], side * (point[here, 0] - radius_m))
    return float((left + right).max())


@pytest.mark.parametrize(("radius_m", "gap_m"), [(12.0, 0.0), (12.0, 1.5), (15.0, 2.5), (20.0, 1.0)])
@pytest.mark.parametrize("front_m", [1.6, 3.5, 5.5])
def test_a_narrow_road_after_a_bend_is_wide_enough_for_what_still_swings_out(
    radius_m: float, gap_m: float, front_m: float
) -> None:
    needed = swept_m(case_on(radius_m, gap_m, front_m, 4.0), radius_m, gap_m) + 2.0 * MARGIN_M
    for short_m in (0.1, 0.3, 0.6):
        case = case_on(radius_m, gap_m, front_m, needed - short_m)
        narrow = case.survey.pieces.road == case.survey.site.layers["roads"].ids.index("narrow")
        assert np.all(on_grid(case, "width")[narrow, :, LOW].max(axis=0) >= UNKNOWN)


def test_a_road_as_wide_as_the_bend_is_asked_for_no_more_than_before() -> None:
    """Only where the road gets narrower does the bend reach on to the next piece."""
    case = case_on(12.0, 1.5, 3.5, WIDE_M)
    narrower = case_on(12.0, 1.5, 3.5, 3.5)
    straight = case.survey.pieces.curvature_per_m == 0.0
    assert straight.any()
    assert np.all(on_grid(case, "width")[straight, :, LOW] == 0)
    assert (on_grid(narrower, "width")[narrower.survey.pieces.curvature_per_m == 0.0][:, :, LOW] > 0).any()
