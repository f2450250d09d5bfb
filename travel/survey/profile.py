"""Heights along chains: where each road's come from, their knots, and the stretches windows may run along."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from travel.domain.site import Terrain
from travel.survey.arrays import Bools, Floats, Ints, Objects, expand, group_search, interpolate
from travel.survey.chains import Links
from travel.survey.course import Course
from travel.survey.lines import Lines
from travel.survey.records import Tolerance
from travel.survey.sampling import terrain_knots
from travel.survey.terrain import sample
from travel.survey.windows import Profile

COVERAGE = 1.96
"""Half-bands are two-sided 95 % of a normal distribution (JCGM 100:2008, annex G, table G.1), as in mechanics."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Heights:
    """Knots of all rows of a course; ``run`` −1 where a row has only a given grade. ``sd_m`` per row.

    A run is a row of rows whose heights (or lack of them) hang together; a chain changing between heights and given
    grades is cut there.
    """

    source: Objects
    position: Floats
    value: Floats
    row_start: Ints
    row_stop: Ints
    run: Ints
    run_row_start: Ints
    run_row_stop: Ints
    sd_m: Floats

    def profile(self) -> Profile:
        """Give the knots of the runs alone."""
        first, last = self.run_row_start, self.run_row_stop - 1
        knots = self.row_stop[last] - self.row_start[first]
        _, index = expand(self.row_start[first], knots)
        stop = np.cumsum(knots)
        return Profile(position=self.position[index], value=self.value[index], start=stop - knots, stop=stop)

    def at(self, row: Ints, position: Floats) -> Floats:
        """Give heights at chain chainages, each from its own row."""
        start, stop = self.row_start[row], self.row_stop[row]
        below = np.clip(group_search(self.position, start, stop, position, "right") - 1, start, stop - 2)
        return interpolate(position, below, self.position, self.value)


def sources(lines: Lines, terrain: Terrain | None, has_grade: Bools) -> Objects:
    """Say per road where its heights come from: ``z``, ``terrain``, ``grade`` (given, no heights) or ``none``.

    A road no vertex of which has terrain under it, and with a grade given, uses the grade.
    """
    has_z = np.logical_and.reduceat(np.isfinite(lines.z), lines.start)
    under = np.zeros(len(lines), dtype=bool)
    if terrain is not None:
        found = np.isfinite(sample(terrain, lines.x, lines.y))
        under = np.logical_or.reduceat(found, lines.start) | ~has_grade
    out = np.full(len(lines), "none", dtype=object)
    out[has_grade] = "grade"
    out[under] = "terrain"
    out[has_z] = "z"
    return out


def lay_heights(
    course: Course, links: Links, source: Objects, terrain: Terrain | None, tolerance: Tolerance
) -> Heights:
    """Lay heights along every chain."""
    kind = source[links.road[course.row_link]]
    parts = [_own_heights(course, kind == "z"), _no_heights(course, (kind == "none") | (kind == "grade"))]
    if terrain is not None:
        parts.append(terrain_knots(course, kind == "terrain", terrain))
    row, position, value = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.argsort(row, kind="stable")
    row, position, value = row[order], position[order], value[order]
    rows = np.arange(len(kind))
    run, run_start, run_stop = _runs(course, kind != "grade")
    return Heights(
        source=source,
        position=position,
        value=value,
        row_start=np.searchsorted(row, rows, "left"),
        row_stop=np.searchsorted(row, rows, "right"),
        run=run,
        run_row_start=run_start,
        run_row_stop=run_stop,
        sd_m=_spread(kind, terrain, tolerance),
    )


def _spread(kind: Objects, terrain: Terrain | None, tolerance: Tolerance) -> Floats:
    out = np.full(len(kind), tolerance.height_m / COVERAGE)
    if terrain is not None and terrain.vertical_sd_m is not None:
        out[kind == "terrain"] = terrain.vertical_sd_m
    return out


Knots = tuple[Ints, Floats, Floats]


def _own_heights(course: Course, rows: Bools) -> Knots:
    pick = np.flatnonzero(rows)
    owner, vertex = expand(course.row_start[pick], (course.row_stop - course.row_start)[pick])
    return pick[owner], course.position[vertex], course.z[vertex]


def _no_heights(course: Course, rows: Bools) -> Knots:
    pick = np.flatnonzero(rows)
    position = np.column_stack((course.row_from[pick], course.row_to[pick])).ravel()
    return np.repeat(pick, 2), position, np.full(2 * len(pick), np.nan)


def _runs(course: Course, rows: Bools) -> tuple[Ints, Ints, Ints]:
    """Number the runs of neighbouring rows of one chain that windows may run along."""
    pick = np.flatnonzero(rows)
    run = np.full(len(rows), -1, dtype=np.int64)
    if not len(pick):
        return run, pick, pick
    fresh = np.ones(len(pick), dtype=bool)
    fresh[1:] = (np.diff(pick) > 1) | (np.diff(course.row_chain[pick]) != 0)
    run[pick] = np.cumsum(fresh) - 1
    heads = np.flatnonzero(fresh)
    return run, pick[heads], pick[np.append(heads[1:], len(pick)) - 1] + 1
