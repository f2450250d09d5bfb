"""Two corners driven one right behind the other: the machine comes to the second one before it is in line again.

Each corner by itself is looked at for a machine that comes in line. Here the way round both is driven as one, on the
same arcs, and looked at in the rooms of both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.mover import Mover
from travel.checks.sweep import Yard, body_points, hit
from travel.checks.track import Path, points_swept, swept_between
from travel.survey.corners import Corners
from travel.survey.rooms import ARM_M

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STEP_M = 0.25
"""Positions on the straight parts lie no further apart."""
POINTS = 40
"""Points on each side of the body."""
BETWEEN_M = 0.02
"""What may lie further out between two positions or points."""
APART_M = 0.05
"""Where the roads between two corners part by more than this, they are not one road."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Both:
    """How far the way round two corners sticks out of their rooms, and the area swept."""

    outside_m: float
    area: BaseGeometry


def sweep_both(corners: Corners, rows: tuple[int, int], cuts_m: tuple[float, float], mover: Mover) -> Both | None:
    """Give what a machine sweeps that drives two corners as one; None where their arcs overlap, or no road joins them.

    Args:
        corners: the corners of the site
        rows: two corners at nodes, the second one on the way on from the first
        cuts_m: where the arcs of each begin and end [m]
        mover: the machine
    """
    gap_m = corners.road_between(*rows)
    if gap_m is None or gap_m < sum(cuts_m):
        return None
    yard, cuts = Yard(corners, np.array(rows)), np.array(cuts_m)
    lead = yard.on_arm(0, _steps(cuts_m[0] + mover.lead_m, cuts_m[0]), into=True)
    road = yard.on_arm(0, _steps(cuts_m[0], gap_m - cuts_m[1]), into=False)
    tail = yard.on_arm(1, _steps(cuts_m[1], cuts_m[1] + mover.trail_m + mover.behind_m), into=False)
    arcs = [yard.arcs_driven(row, cuts) for row in (0, 1)]
    if math.dist(road[-1], yard.on_arm(1, cuts[1:], into=True)[0]) > APART_M:
        return None
    xy = np.concatenate((lead, arcs[0], road[1:], arcs[1], tail[1:]))
    middle = len(lead) + len(arcs[0]) + len(road) // 2
    path, drawn = yard.followed(xy, lead[1] - lead[0], mover), mover.drawn()
    outside = [_outside(yard, path, mover, middle)]
    areas = [swept_between(path.xy[0], path.heading[0], mover)]
    if drawn is not None and path.drawn is not None:
        outside.append(_outside(yard, path.drawn, drawn, middle))
        areas.append(swept_between(path.drawn.xy[0], path.drawn.heading[0], drawn))
    return Both(outside_m=max(outside) + BETWEEN_M, area=shapely.union_all(areas))


def _steps(first_m: float, last_m: float) -> Floats:
    return np.linspace(first_m, last_m, max(math.ceil(abs(last_m - first_m) / STEP_M), 1) + 1)


def _outside(yard: Yard, path: Path, body: Mover, middle: int) -> float:
    """Give how far a body sticks out: on the first part of its way of the room of the first corner, then of the
    other's."""
    worst = -math.inf
    for row, part in ((0, slice(0, middle + 1)), (1, slice(middle, None))):
        xy, heading = path.xy[:, part], path.heading[:, part]
        points = points_swept(xy, heading, body_points(body, POINTS))
        worst = max(worst, float(yard.beyond(np.array([row]), points, np.array([ARM_M]), -np.inf).max()))
        solid = yard.rooms[row].obstacles
        if len(solid):
            worst = max(worst, hit(solid, xy[0], heading[0], body))
    return worst
