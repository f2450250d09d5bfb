"""Small tools on flat arrays: ranges, searches inside groups, unions of intervals, connected sets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Objects = NDArray[np.object_]


def expand(starts: Ints, counts: Ints) -> tuple[Ints, Ints]:
    """Give, for ranges ``starts[i] … starts[i] + counts[i]``, the flat (owner, index) of every element.

    >>> expand(np.array([5, 9]), np.array([2, 1]))
    (array([0, 0, 1]), array([5, 6, 9]))
    """
    owner = np.repeat(np.arange(len(counts), dtype=np.int64), counts)
    before = np.cumsum(counts) - counts
    index = np.arange(int(counts.sum()), dtype=np.int64) - before[owner] + starts[owner]
    return owner, index


def group_search(values: Floats, start: Ints, stop: Ints, query: Floats, side: Literal["left", "right"]) -> Ints:
    """Search each query inside its own sorted slice ``values[start:stop]``; gives an index into ``values``.

    >>> group_search(np.array([0.0, 2.0, 0.0, 1.0]), np.array([2]), np.array([4]), np.array([0.5]), "left")
    array([3])
    """
    low, high = start.astype(np.int64), stop.astype(np.int64)
    last = max(len(values) - 1, 0)
    while bool((low < high).any()):
        middle = (low + high) // 2
        value = values[np.minimum(middle, last)]
        right = (value < query) if side == "left" else (value <= query)
        active = low < high
        low, high = np.where(active & right, middle + 1, low), np.where(active & ~right, middle, high)
    return low


def bounds(keys: Ints, count: int) -> tuple[Ints, Ints]:
    """Give where each of the groups 0 … count − 1 starts and stops in sorted ``keys``."""
    wanted = np.arange(count)
    return np.searchsorted(keys, wanted, "left"), np.searchsorted(keys, wanted, "right")


def merge_intervals(group: Ints, low: Floats, high: Floats, gap: float) -> tuple[Ints, Floats, Floats]:
    """Unite intervals of one group that overlap or lie no more than ``gap`` apart.

    >>> merge_intervals(np.array([0, 0, 1]), np.array([0.0, 1.0, 0.0]), np.array([1.0, 2.0, 1.0]), 0.0)
    (array([0, 1]), array([0., 0.]), array([2., 1.]))
    """
    if not len(group):
        return group, low, high
    order = np.lexsort((low, group))
    group, low, high = group[order], low[order], high[order]
    by_end = np.argsort(high, kind="stable")
    rank = np.empty(len(high), dtype=np.int64)
    rank[by_end] = np.arange(len(high))
    reached = np.maximum.accumulate(group * len(high) + rank)
    furthest = high[by_end[reached % len(high)]]
    first = np.ones(len(group), dtype=bool)
    first[1:] = (group[1:] != group[:-1]) | (low[1:] > furthest[:-1] + gap)
    starts = np.flatnonzero(first)
    ends = np.append(starts[1:], len(group)) - 1
    return group[starts], low[starts], furthest[ends]


def connect(count: int, left: Ints, right: Ints) -> Ints:
    """Give a label per element so that elements joined by a pair, directly or not, share one (the least index).

    >>> connect(4, np.array([0, 3]), np.array([2, 2]))
    array([0, 1, 0, 0])
    """
    label = np.arange(count, dtype=np.int64)
    while True:
        least = np.minimum(label[left], label[right])
        new = label.copy()
        np.minimum.at(new, label[left], least)
        np.minimum.at(new, label[right], least)
        while bool((new[new] != new).any()):
            new = new[new]
        new = new[label]
        if bool((new == label).all()):
            return label
        label = new


def interpolate(at: Floats, below: Ints, position: Floats, value: Floats) -> Floats:
    """Interpolate linearly between the knots ``below`` and ``below + 1``; a knot itself needs no neighbour."""
    return interpolated(at, below, position, (value,))[0]


def interpolated(at: Floats, below: Ints, position: Floats, values: Sequence[Floats]) -> list[Floats]:
    """Interpolate several values at the same places."""
    start = position[below]
    run = position[below + 1] - start
    share = np.minimum(np.maximum(np.divide(at - start, run, out=np.zeros_like(at), where=run > 0), 0.0), 1.0)
    at_first, at_second, out = share == 0.0, share == 1.0, []
    for value in values:
        first, second = value[below], value[below + 1]
        between = first + share * (second - first)
        out.append(np.where(at_first, first, np.where(at_second, second, between)))
    return out
