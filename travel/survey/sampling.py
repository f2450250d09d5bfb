"""Where terrain is read along chains, and the knots that gives.

Heights are taken at every bend, wherever the road crosses a line between cell centres (where the surface has a kink),
and in equal parts of at most half a cell between. A cut in the file adds no sample of its own: the height there is
interpolated between its neighbours, so that cutting a road changes nothing.
"""

from __future__ import annotations

import numpy as np

from travel.domain.site import Terrain
from travel.survey.arrays import Bools, Floats, Ints, expand, group_search, interpolate
from travel.survey.course import Course
from travel.survey.terrain import half_cell_m, sample

STRAIGHT_RAD = 1e-5
"""A vertex that turns less than this is taken as lying on a straight line."""
SAME_M = 1e-6
Knots = tuple[Ints, Floats, Floats]


def terrain_knots(course: Course, rows: Bools, terrain: Terrain) -> Knots:
    """Give (row, chain chainage, height) of the knots of all rows that read terrain."""
    pick = np.flatnonzero(rows)
    if not len(pick):
        return pick, np.zeros(0), np.zeros(0)
    fresh = np.ones(len(pick), dtype=bool)
    fresh[1:] = (np.diff(pick) > 1) | (np.diff(course.row_chain[pick]) != 0)
    first = pick[fresh]
    last = np.append(pick[np.flatnonzero(fresh)[1:] - 1], pick[-1])
    which, position = _samples(course, rows, (first, last), terrain)
    x, y = course.locate(course.row_chain[first][which], position)
    value = sample(terrain, x, y)
    section = np.cumsum(fresh) - 1
    start = np.searchsorted(which, section, "left")
    stop = np.searchsorted(which, section, "right")
    return _by_row(course, pick, (start, stop), (position, value))


def _by_row(course: Course, pick: Ints, own: tuple[Ints, Ints], found: tuple[Floats, Floats]) -> Knots:
    """Give each row the samples inside it and its two ends."""
    (start, stop), (position, value) = own, found
    ends = []
    for at in (course.row_from[pick], course.row_to[pick]):
        below = np.clip(group_search(position, start, stop, at, "right") - 1, start, stop - 2)
        ends.append((pick, at, interpolate(at, below, position, value)))
    low = group_search(position, start, stop, course.row_from[pick] + 1e-9, "right")
    high = group_search(position, start, stop, course.row_to[pick] - 1e-9, "left")
    owner, inner = expand(low, np.maximum(high - low, 0))
    parts = [ends[0], (pick[owner], position[inner], value[inner]), ends[1]]
    row, at, height = (np.concatenate(column) for column in zip(*parts, strict=True))
    return row, at, height


def _samples(course: Course, rows: Bools, section: tuple[Ints, Ints], terrain: Terrain) -> tuple[Ints, Floats]:
    """Give section and chain chainage of every sample, sorted."""
    first, last = section
    section_of_row = np.full(len(rows), -1, dtype=np.int64)
    owner, row = expand(first, last - first + 1)
    section_of_row[row] = owner
    mine = np.flatnonzero(section_of_row[course.segment_row] >= 0)
    bend = mine[course.turn[mine] > STRAIGHT_RAD]
    kink, kink_at = _kinks(course, mine, terrain)
    numbers = np.arange(len(first))
    which = np.concatenate(
        (
            section_of_row[course.segment_row[bend]],
            section_of_row[course.segment_row[kink]],
            numbers,
            numbers,
        )
    )
    at = np.concatenate((course.position[course.segment[bend]], kink_at, course.row_from[first], course.row_to[last]))
    order = np.lexsort((at, which))
    which, at = which[order], at[order]
    tail = np.append(which[1:] != which[:-1], True)
    keep = np.ones(len(at), dtype=bool)
    keep[1:] = tail[:-1] | tail[1:] | (np.diff(at) > SAME_M)
    return _divide(which[keep], at[keep], half_cell_m(terrain))


def _divide(which: Ints, at: Floats, spacing: float) -> tuple[Ints, Floats]:
    """Add equal parts of at most the spacing between neighbours of one section."""
    same = np.append(which[1:] == which[:-1], False)
    run = np.append(np.diff(at), 0.0)
    parts = np.where(same, np.maximum(np.ceil(run / spacing - SAME_M), 1), 1).astype(np.int64)
    own, k = expand(np.zeros_like(parts), parts)
    return which[own], at[own] + run[own] * k / parts[own]


def _kinks(course: Course, segment: Ints, terrain: Terrain) -> tuple[Ints, Floats]:
    """Give segment and chain chainage wherever a segment crosses a line between cell centres."""
    vertex = course.segment[segment]
    length = course.position[vertex + 1] - course.position[vertex]
    found = []
    for values, corner, cell in (
        (course.x, terrain.west_m, terrain.cell_x_m),
        (-course.y, -terrain.north_m, terrain.cell_y_m),
    ):
        start, stop = ((values[v] - corner) / cell - 0.5 for v in (vertex, vertex + 1))
        low, high = np.minimum(start, stop), np.maximum(start, stop)
        line = np.floor(low).astype(np.int64) + 1
        count = np.maximum(np.ceil(high).astype(np.int64) - line, 0)
        owner, number = expand(line, count)
        share = (number - start[owner]) / (stop - start)[owner]
        found.append((segment[owner], course.position[vertex[owner]] + share * length[owner]))
    which, at = (np.concatenate(column) for column in zip(*found, strict=True))
    return which, at
