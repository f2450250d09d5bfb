"""The road's own profile, knot by knot, round pieces: on their chain, and on to one that follows."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.ground_line import END_M
from travel.survey import Onward, Survey
from travel.survey.arrays import expand

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, slots=True)
class Line:
    """All runs of heights on one axis; ``slope`` of each stretch between two knots (∞ at a step, 0 between runs)."""

    position: Floats
    value: Floats
    base: Floats
    start: Ints
    stop: Ints
    slope: Floats


_LINES: WeakKeyDictionary[Survey, Line] = WeakKeyDictionary()


def line_of(survey: Survey) -> Line:
    """Give the heights of a survey on one axis, once."""
    if survey not in _LINES:
        profile = survey.heights.profile()
        length = profile.high - profile.low + 1.0
        base = np.cumsum(length) - length - profile.low
        position = profile.position + np.repeat(base, profile.stop - profile.start)
        step = np.diff(position)
        with np.errstate(invalid="ignore"):
            slope = np.diff(profile.value) / np.where(step > 0.0, step, np.nan)
        slope[np.isnan(slope) & (step <= 0.0) & (np.diff(profile.value) != 0.0)] = np.inf
        slope[profile.stop[:-1] - 1] = np.nan  # from one run to the next
        _LINES[survey] = Line(position, profile.value, base, profile.start, profile.stop, np.append(slope, np.nan))
    return _LINES[survey]


def slopes_round(survey: Survey, piece: Ints, run: Ints, reach: float) -> tuple[Ints, Ints, Floats, Floats, Bools]:
    """Give first and last knot, least and greatest slope under the body on the cell, and whether it is even."""
    line, pieces = line_of(survey), survey.pieces
    from_at = pieces.cell_from_m[piece] - reach + line.base[run]
    to_at = pieces.cell_to_m[piece] + reach + line.base[run]
    first = np.maximum(np.searchsorted(line.position, from_at, "right") - 1, line.start[run])
    last = np.minimum(np.searchsorted(line.position, to_at, "left"), line.stop[run] - 1)
    pairs = np.column_stack((first, np.maximum(last, first + 1))).ravel()
    low = np.minimum.reduceat(np.append(line.slope, np.nan), pairs)[::2]
    high = np.maximum.reduceat(np.append(line.slope, np.nan), pairs)[::2]
    return first, last, low, high, np.asarray(low == high)


def knots_round(survey: Survey, piece: Ints, run: Ints, first: Ints, last: Ints, reach: float) -> tuple[Floats, Floats]:
    """Give the profile round each piece from its cell's start, its ends carried on straight, padded there."""
    line, pieces = line_of(survey), survey.pieces
    count = int((last - first).max()) + 1
    index = np.minimum(first[:, None] + np.arange(count), last[:, None])
    start = pieces.cell_from_m[piece] + line.base[run]
    x, z = line.position[index] - start[:, None], line.value[index]
    length = (pieces.cell_to_m - pieces.cell_from_m)[piece]
    grades = [_end_grade(line, run, first_end) for first_end in (True, False)]
    before = np.minimum(x[:, 0], -reach) - 1.0
    after = np.maximum(x[:, -1], length + reach) + 1.0
    head = z[:, 0] + grades[0] * (before - x[:, 0])
    tail = z[:, -1] + grades[1] * (after - x[:, -1])
    beyond = np.arange(count) > (last - first)[:, None]
    x, z = np.where(beyond, after[:, None], x), np.where(beyond, tail[:, None], z)
    return np.column_stack((before, x, after)), np.column_stack((head, z, tail))


def _end_grade(line: Line, run: Ints, first: bool) -> Floats:
    """Give the grade of the first or last metres of each piece's run."""
    low, high = line.position[line.start[run]], line.position[line.stop[run] - 1]
    reach = np.minimum(END_M, high - low)
    a, b = (low, low + reach) if first else (high - reach, high)
    rise = np.interp(b, line.position, line.value) - np.interp(a, line.position, line.value)
    return np.asarray(rise / reach)


def knots_past(survey: Survey, piece: Ints, onward: Onward, reach: float) -> tuple[Bools, Floats, Floats]:
    """Give where the chain that goes on past a piece's own has heights too, and the profile over both.

    Args:
        survey: the survey
        piece, onward: pieces, and the way of each past the end of its chain, (p,)
        reach: how far from its cell the profile is wanted

    Returns:
        where there are heights on both; x from the cell's start and z as of :func:`knots_round`, of these alone
    """
    line, pieces, course, heights = line_of(survey), survey.pieces, survey.fabric.course, survey.fabric.heights
    (chain, other), (far, entered) = (onward.chain, onward.to_chain), (onward.far, onward.to_far)
    end, begin = (np.where(high, course.high[c], course.low[c]) for high, c in ((far, chain), (entered, other)))
    middle = (pieces.cell_from_m[piece] + pieces.cell_to_m[piece]) / 2.0
    here, own, run = (heights.run[course.row_at(c, at)] for c, at in ((chain, middle), (chain, end), (other, begin)))
    known = (here >= 0) & (own == here) & (run >= 0)
    if not known.any():
        return known, np.zeros((0, 3)), np.zeros((0, 3))
    piece, far, end, begin, own, run, entered = (c[known] for c in (piece, far, end, begin, own, run, entered))
    start = pieces.cell_from_m[piece]
    mine = _some(line, own, start - reach, pieces.cell_to_m[piece] + reach)
    theirs = _some(line, run, begin - reach, begin + reach)
    up = far != entered  # chainage there runs the same way
    parts = []
    for (first, last), base, sign, shift in (
        (mine, line.base[own], np.ones(len(piece)), -start),
        (theirs, line.base[run], np.where(up, 1.0, -1.0), end - start - np.where(up, begin, -begin)),
    ):
        owner, index = expand(first, last - first + 1)
        x = sign[owner] * (line.position[index] - base[owner]) + shift[owner]
        parts.append((owner, np.where(sign[owner] > 0, index, -index), x, line.value[index]))
    behind = np.concatenate((np.where(far, 0, 1)[parts[0][0]], np.where(far, 1, 0)[parts[1][0]]))
    owner, index, x, z = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.lexsort((index, behind, owner))
    grades = (
        _end_grade(line, own, True),
        _end_grade(line, own, False),
        _end_grade(line, run, True),
        _end_grade(line, run, False),
    )
    outer = np.where(up, np.where(far, grades[3], grades[2]), -np.where(entered, grades[2], grades[3]))
    head, tail = np.where(far, grades[0], outer), np.where(far, outer, grades[1])
    length = (pieces.cell_to_m - pieces.cell_from_m)[piece]
    return known, *_padded((owner[order], x[order], z[order]), (head, tail), reach, length)


def _some(line: Line, run: Ints, from_m: Floats, to_m: Floats) -> tuple[Ints, Ints]:
    """Give first and last knot of runs between two chain chainages, the knots before and after them among them."""
    first = np.searchsorted(line.position, from_m + line.base[run], "right") - 1
    last = np.searchsorted(line.position, to_m + line.base[run], "left")
    return np.maximum(first, line.start[run]), np.minimum(last, line.stop[run] - 1)


def _padded(
    knots: tuple[Ints, Floats, Floats], grades: tuple[Floats, Floats], reach: float, length: Floats
) -> tuple[Floats, Floats]:
    """Give knots (owner, x, z; sorted) one row an owner, carried on straight at both ends, padded there."""
    owner, x, z = knots
    rows = len(length)
    start, stop = (np.searchsorted(owner, np.arange(rows), side) for side in ("left", "right"))
    place = np.arange(int((stop - start).max(initial=1)))
    index = np.minimum(start[:, None] + place, stop[:, None] - 1)
    beyond = place >= (stop - start)[:, None]
    x, z = x[index], z[index]
    before, after = np.minimum(x[:, 0], -reach) - 1.0, np.maximum(x[:, -1], length + reach) + 1.0
    head, tail = z[:, 0] + grades[0] * (before - x[:, 0]), z[:, -1] + grades[1] * (after - x[:, -1])
    x, z = np.where(beyond, after[:, None], x), np.where(beyond, tail[:, None], z)
    return np.column_stack((before, x, after)), np.column_stack((head, z, tail))
