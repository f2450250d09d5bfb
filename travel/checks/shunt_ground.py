"""What a corner driven in several moves touches besides its two roads: crests and wires near it, other roads there.

What is driven along is judged along; a shunt leaves its roads' middle lines and may run on past the corner. Whatever is
not plainly passed there bars the shunt by name.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.case import Case
from travel.checks.lies_beside import barred, people_in, too_near
from travel.checks.movers import movers
from travel.checks.other_roads import FAR_M, OtherRoads, length_m
from travel.checks.shunts import Shunt
from travel.checks.standing import may_stand
from travel.checks.turn_rules import Asked, first_of, other_gear
from travel.survey.corners import Corners

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Find = Callable[[int, int], Shunt | None]


def may_shunt(case: Case, corners: Corners) -> NDArray[np.bool_]:
    """Give where corners may be taken in several moves, (corners, states): where one may stand on both roads, and the
    other gear is there."""
    stand, at_node = may_stand(case), np.isnan(corners.at_m)
    both = at_node & stand[corners.edge_in] & stand[corners.edge_out ^ 1] & ~np.isnan(corners.road_m)
    turns = np.array([state[2] in movers(case) for state in case.configurations.states])
    return np.asarray(both[:, None] & (turns & (other_gear(case) >= 0)))


def shunts_barred(others: OtherRoads, asked: Asked, done: Bools, shunt_of: Find, nothing_within_m: Floats) -> Bools:
    """Tell where something else than the room bars a shunt, (rows, states).

    What is swept is laid out only where anything may lie in it.

    Args:
        others: the roads that meet at the corners of the trip
        asked: corners and states
        done: where there is room in moves
        shunt_of: gives the moves of a corner in a state
        nothing_within_m: by corner of the site, how far from it nothing would bar in what is swept
    """
    case, corners, areas = asked.case, asked.corners, dict[tuple[int, int], BaseGeometry]()
    out, near = np.zeros(asked.shape, dtype=bool), np.zeros(asked.shape, dtype=bool)
    found, gear, some = movers(case), other_gear(case), asked.rows[done.any(axis=1)]
    every = first_of(case, np.unique(np.concatenate((asked.states, gear[asked.states]))))
    others.look(some, every, np.full(len(some), FAR_M + case.body.length_m))  # all at once

    def area(row: int, state: int) -> BaseGeometry | None:
        shunt = shunt_of(row, state)
        if shunt is not None and (row, state) not in areas:
            areas[row, state] = shunt.area(found[case.configurations.states[state][2]])
        return areas.get((row, state))

    for number, column in np.argwhere(done).tolist():
        row, state = int(asked.rows[number]), int(asked.states[column])
        shunt, (travel, _, steering, _) = shunt_of(row, state), asked.names[column]
        assert shunt is not None
        ends = shunt.reaches_m(found[steering])
        far_m = shunt.far_m(float(corners.x_m[row]), float(corners.y_m[row]), found[steering])
        # who stays to turn round keeps further from wires than who passes
        near[number, column] = corners.returns[row] or nothing_within_m[row] <= far_m
        both = tuple(first_of(case, np.array((state, gear[state]))).tolist())
        ends = ends[::-1] if travel == "reverse" else ends
        named = bars_shunt(others, (row, both), partial(area, row, state), ends, near=bool(near[number, column]))
        out[number, column] = bool(named)
    lies = barred(case, corners, (asked.rows, asked.states), area, near, alike=False)
    return np.asarray(np.logical_or.reduce([out, *lies.values()]))


def bars_shunt(
    others: OtherRoads,
    at: tuple[int, tuple[int, ...]],
    area: Callable[[], BaseGeometry | None],
    ends_m: tuple[float, float],
    *,
    near: bool,
) -> str:
    """Name what bars a shunt besides its room; "" for nothing.

    Args:
        others: the roads that meet at the corners of the trip
        at: the corner, and a configuration of the state it is driven in and one of the other gear
        area: gives what the machine sweeps, asked for only where anything may lie in it; None for nothing
        ends_m: how far from the corner the machine reaches on both roads when the moves begin and end
        near: whether anything would bar anywhere as near as the machine sweeps
    """
    (row, configs), case, corners = at, others.case, others.corners
    far_m = FAR_M + case.body.length_m
    for edge, reach in zip((corners.edge_in, corners.edge_out), ends_m, strict=True):
        if length_m(case, int(edge[row]) >> 1) < reach:
            return "roads too short before the next junction"
    asked = others.may_bar(row, configs, far_m)
    swept = area() if near or asked or corners.returns[row] else None
    if swept is None:
        return ""
    people = people_in(case, swept) if corners.returns[row] else ""
    beside = people or (too_near(case, swept) if near else "")
    return beside or (others.over(row, configs, swept, far_m) if asked else "")
