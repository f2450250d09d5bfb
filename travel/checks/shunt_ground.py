"""What a corner driven in several moves touches besides its two roads: crests and wires near it, other roads there.

What is driven along is judged along; a shunt leaves its roads' middle lines and may run on past the corner. Whatever is
not plainly passed there bars the shunt by name.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.case import Case
from travel.checks.lies_beside import people_in, too_near
from travel.checks.movers import movers
from travel.checks.other_roads import FAR_M, OtherRoads, length_m
from travel.checks.standing import may_stand
from travel.checks.turn_rules import other_gear
from travel.survey.corners import Corners


def may_shunt(case: Case, corners: Corners) -> NDArray[np.bool_]:
    """Give where corners may be taken in several moves, (corners, states): where one may stand on both roads, and the
    other gear is there."""
    stand, at_node = may_stand(case), np.isnan(corners.at_m)
    both = at_node & stand[corners.edge_in] & stand[corners.edge_out ^ 1] & ~np.isnan(corners.road_m)
    turns = np.array([state[2] in movers(case) for state in case.configurations.states])
    return np.asarray(both[:, None] & (turns & (other_gear(case) >= 0)))


def bars_shunt(
    others: OtherRoads, row: int, configs: tuple[int, ...], area: BaseGeometry, ends_m: tuple[float, float]
) -> str:
    """Name what bars a shunt besides its room; "" for nothing.

    Args:
        others: the roads that meet at the corners of the trip
        row: the corner
        configs: a configuration of the state it is driven in, and one of the other gear
        area: what the machine sweeps
        ends_m: how far from the corner the machine reaches on both roads when the moves begin and end
    """
    case, corners = others.case, others.corners
    for edge, reach in zip((corners.edge_in, corners.edge_out), ends_m, strict=True):
        if length_m(case, int(edge[row]) >> 1) < reach:
            return "roads too short before the next junction"
    people = people_in(case, area) if corners.returns[row] else ""
    return people or too_near(case, area) or others.over(row, configs, area, FAR_M + case.body.length_m)
