"""What lies between two positions that are looked at: the numbers told against the same way driven in small steps."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from tests.unit.checks.turn_cases import junction
from travel.checks import check_turns
from travel.checks.mover import Mover
from travel.checks.movers import movers
from travel.checks.sweep import Yard
from travel.survey.corners import Corners

WITHIN_M = 0.02


def driven_m(corners: Corners, row: int, mover: Mover, cut_m: float, post: shapely.Point) -> float:
    """Give how near a post the body comes in small steps, by another library."""
    path = Yard(corners, np.array([row])).path(np.array([0]), np.array([cut_m]), mover, density=40)
    body = shapely.box(mover.rear_x_m, -mover.width_m / 2.0, mover.front_x_m, mover.width_m / 2.0)
    ring = shapely.get_coordinates(body)
    c, s = np.cos(path.heading[0])[:, None], np.sin(path.heading[0])[:, None]
    x = path.xy[0, :, :1] + ring[:, 0] * c - ring[:, 1] * s
    y = path.xy[0, :, 1:] + ring[:, 0] * s + ring[:, 1] * c
    bodies = shapely.polygons(np.stack((x, y), axis=-1))
    return float(shapely.distance(bodies, post).min())


@pytest.mark.parametrize("steering", ["front", "all"])
@pytest.mark.parametrize("cut_m", [6.0, 8.0, 10.0])
@pytest.mark.parametrize("at", [(-2.5, 3.0), (-4.5, 2.0), (1.0, -2.5), (3.2, 4.0), (2.0, -1.0)])
def test_posts_beside_the_way_are_as_near_as_in_small_steps(
    steering: str, cut_m: float, at: tuple[float, float]
) -> None:
    case = junction(
        10.0, stated_m=10.0, steering=("front", "all"), obstacles=[{"id": "post", "xy": at, "height_m": 1.5}]
    )
    corners, mover = check_turns(case).corners, movers(case)[steering]
    rows = np.flatnonzero((corners.angle_rad > 0.0) & ~corners.returns)
    posts = case.survey.fabric.features["obstacles"]
    yard = Yard(corners, rows)
    told = yard.outside(np.arange(len(rows)), np.full(len(rows), cut_m), mover, -np.inf)
    for row, outside in zip(rows.tolist(), told.tolist(), strict=True):
        near = driven_m(corners, row, mover, cut_m, posts.plan[0]) - float(posts.spread_m[0])
        if near > 0.0:
            assert outside >= -near - WITHIN_M
        else:
            assert outside > 0.0 or near > -WITHIN_M
