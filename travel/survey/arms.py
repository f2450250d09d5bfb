"""Arms: the ways that lead to a corner and on from it, sampled by distance, many at once."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

import numpy as np

from travel.survey.arrays import Floats, Ints
from travel.survey.rooms import ARM_M, Roads

SAMPLE_M = 0.5
Arm = tuple[int, float | None]
"""An edge, and the chainage on it that the arm leads on from; None = from its tail."""


class Arms:
    """Ways from the tail of an edge, or from a chainage on it, made once each."""

    def __init__(self, roads: Roads) -> None:
        self._roads = roads
        self._made: dict[Arm, tuple[Floats, float]] = {}

    def of(self, wanted: Iterable[Arm]) -> tuple[Floats, Floats]:
        """Give some arms at even distances (p, n, 2), going on straight past their ends, and their lengths."""
        asked = list(wanted)
        new = [one for one in dict.fromkeys(asked) if one not in self._made]
        if new:
            lines, lengths = zip(*(self._line(*one) for one in new), strict=True)
            self._made.update(zip(new, zip(_sampled(list(lines)), lengths, strict=True), strict=True))
        made = [self._made[one] for one in asked]
        return np.stack([xy for xy, _ in made]), np.array([length for _, length in made])

    def _line(self, edge: int, from_m: float | None) -> tuple[Floats, float]:
        """Give the polyline of one arm, no shorter than arms reach where the road goes on, and its length."""
        parts: list[Floats] = []
        length, begin_m = 0.0, from_m
        for one in self._roads.onward(edge):
            xy, long_m = self._directed(one, begin_m)
            begin_m = None
            if not long_m:
                continue
            parts.append(xy if not parts else xy[1:])
            length += long_m
            if length >= ARM_M:
                break
        if not parts:  # a bend at the very end of a road goes on straight
            last = self._directed(edge, None)[0][-2:]
            parts = [last + (last[1] - last[0])]
        return np.vstack(parts), length

    def _directed(self, edge: int, from_m: float | None) -> tuple[Floats, float]:
        """Give the line of an edge as it is driven, or of the rest of it, and its length."""
        roads, link = self._roads, edge >> 1
        if from_m is None:
            return roads.lines.of(link)[0][:: -1 if edge & 1 else 1], float(self._long_m[link])
        network = roads.survey.network
        end = network.link_from_m[link] if edge & 1 else network.link_to_m[link]
        xy = roads.survey.fabric.lines.substring(int(network.link_road[link]), from_m, float(end))[1]
        return xy, float(np.hypot(*np.diff(xy, axis=0).T).sum())

    @cached_property
    def _long_m(self) -> Floats:
        """Length of every link."""
        lines = self._roads.lines
        part = np.flatnonzero(np.diff(lines.link) == 0)
        step = np.hypot(*(lines.xy[part + 1] - lines.xy[part]).T)
        return np.asarray(np.bincount(lines.link[part], weights=step, minlength=len(lines.start)), dtype=np.float64)


def _sampled(lines: list[Floats]) -> Floats:
    """Give polylines at even distances from their starts (p, n, 2), going on straight past their ends."""
    count = np.array([len(line) for line in lines], dtype=np.int64)
    of, xy = np.repeat(np.arange(len(lines)), count), np.vstack(lines)
    step = np.hypot(*np.diff(xy, axis=0, prepend=xy[:1]).T)
    first = np.r_[True, np.diff(of) != 0]
    keep = first | (step > 1e-9)
    of, xy, step = of[keep], xy[keep], np.where(first, 0.0, step)[keep]
    return _interpolated(xy, step, np.bincount(of, minlength=len(lines)))


def _interpolated(xy: Floats, step: Floats, count: Ints) -> Floats:
    """Give the same of polylines of ``count`` vertices each, one after the other, ``step`` from the one before [m]."""
    start, place = np.cumsum(count) - count, np.arange(int(count.max()))
    there = place < count[:, None]
    row = start[:, None] + np.minimum(place, count[:, None] - 1)
    at = np.cumsum(np.where(there, step[row], 0.0), axis=1)
    wanted = np.arange(0.0, ARM_M + SAMPLE_M / 2, SAMPLE_M)
    before = ((at[:, :, None] <= wanted) & there[:, :, None]).sum(axis=1) - 1
    every, end = np.arange(len(count))[:, None], (count - 1)[:, None]
    low = np.minimum(before, end - 1)
    from_m, to_m = at[every, low], at[every, low + 1]
    a, b = xy[start[:, None] + low], xy[start[:, None] + low + 1]
    slope = (b - a) / (to_m - from_m)[..., None]
    past = np.maximum(wanted - at[every, end], 0.0)[..., None]
    inside = np.where((before == end)[..., None], b, a + (wanted - from_m)[..., None] * slope)
    return np.asarray(inside + past * slope[:, -1:])
