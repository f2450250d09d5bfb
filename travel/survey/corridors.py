"""Corridors of all links on columns: their lines as drawn, and the capsules (segment, half width) they come to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from travel.survey.arrays import Bools, Floats, Ints, bounds, expand, group_search
from travel.survey.narrow import Narrows
from travel.survey.survey import Survey

END_M = 8.0
"""How far the body may stand past the end of a road, where the front axle stands at the end; no source."""
SIMPLE_M = 0.02
"""Vertices that lie within this of a straight line are left out of a corridor, which is narrowed by as much."""


@dataclass(frozen=True, eq=False, kw_only=True)
class LinkLines:
    """Vertices of all links as drawn, ends of pieces among them where the width changes, one link after the other.

    Link l owns the vertices ``start[l]`` … ``stop[l]``; ``half_m`` holds half widths by part, one between each two
    vertices: those of link l begin at ``start[l] − l``.
    """

    link: Ints
    xy: Floats
    start: Ints
    stop: Ints
    half_m: Floats

    def of(self, link: int) -> tuple[Floats, Floats]:
        """Give the vertices of one link and the half width of each of its parts."""
        start, stop = int(self.start[link]), int(self.stop[link])
        return self.xy[start:stop], self.half_m[start - link : stop - link - 1]


@dataclass(frozen=True, eq=False, kw_only=True)
class Capsules:
    """Capsules (ax, ay, bx, by, radius) of all links, one link after the other: l owns ``start[l]`` … ``stop[l]``.

    The radius is NaN where no width is known. ``past``: where one goes on past the end of a road.
    """

    rows: Floats
    past: Bools
    start: Ints
    stop: Ints

    def of(self, link: int) -> tuple[Floats, Bools]:
        """Give the capsules of one link, and which go on past its ends."""
        own = slice(int(self.start[link]), int(self.stop[link]))
        return self.rows[own], self.past[own]


def link_lines(survey: Survey, width: Floats, narrow: Narrows) -> LinkLines:
    """Give the lines of all links.

    Args:
        survey: the survey
        width: width of the road by piece, without what narrows it [m]; NaN where it is not known
        narrow: what narrows the roads, and where
    """
    network, pieces, lines = survey.network, survey.pieces, survey.fabric.lines
    road, low, high = np.asarray(network.link_road), np.asarray(network.link_from_m), np.asarray(network.link_to_m)
    every, half = np.arange(len(road)), width / 2.0
    slices = lines.start[road], lines.stop[road]
    first = group_search(lines.s, *slices, low + 1e-9, "right")
    last = group_search(lines.s, *slices, high - 1e-9, "left")
    between, vertex = expand(first, np.maximum(last - first, 0))
    change = np.flatnonzero((np.diff(half) != 0.0) & (np.diff(pieces.link) == 0)) + 1
    link = np.concatenate((every, every, between, pieces.link[change], narrow.link, narrow.link))
    at = np.concatenate((low, high, lines.s[vertex], pieces.from_m[change], narrow.from_m, narrow.to_m))
    order = np.lexsort((at, link))
    link, at = link[order], at[order]
    new = np.r_[True, (np.diff(link) != 0) | (np.diff(at) != 0.0)]
    link, at = link[new], at[new]
    x, y, _ = lines.locate(road[link], at)
    part = np.flatnonzero(np.diff(link) == 0)
    own, middle = link[part], (at[part + 1] + at[part]) / 2.0
    begin, end = np.asarray(network.link_piece_start)[own], np.asarray(network.link_piece_stop)[own]
    piece = np.clip(group_search(pieces.from_m, begin, end, middle, "right") - 1, begin, end - 1)
    start, stop = bounds(link, len(road))
    left = half[piece]
    for one, begins, ends, width_m in zip(narrow.link, narrow.from_m, narrow.to_m, narrow.width_m, strict=True):
        parts = slice(start[one] - one, stop[one] - one - 1)
        here = (middle[parts] > begins) & (middle[parts] < ends)
        left[parts] = np.where(here, np.minimum(left[parts], width_m / 2.0), left[parts])
    return LinkLines(link=link, xy=np.column_stack((x, y)), start=start, stop=stop, half_m=left)


def link_capsules(survey: Survey, lines: LinkLines) -> Capsules:
    """Give the capsules of all links, as few as do; each a little narrower for what was left out of its line."""
    inside, of_inside = _along(lines)
    past, of_past = past_ends(survey, lines)
    rows, link = np.vstack((inside, past)), np.concatenate((of_inside, of_past))
    beyond = np.arange(len(rows)) >= len(inside)
    order = np.argsort(link, kind="stable")
    start, stop = bounds(link[order], len(lines.start))
    return Capsules(rows=rows[order], past=beyond[order], start=start, stop=stop)


def _along(lines: LinkLines) -> tuple[Floats, Ints]:
    """Give the capsules along the links, and the link of each."""
    part = np.flatnonzero(np.diff(lines.link) == 0)
    half, link = lines.half_m, lines.link[part]
    run = np.flatnonzero(np.r_[True, (np.diff(link) != 0) | (np.diff(half) != 0.0)])  # one width and link each
    parts = np.diff(np.r_[run, len(part)])
    owner, vertex = expand(part[run], parts + 1)
    drawn = shapely.simplify(shapely.linestrings(lines.xy[vertex], indices=owner), SIMPLE_M)
    xy, of = shapely.get_coordinates(drawn, return_index=True)
    left_out = np.bincount(of, minlength=len(run)) < parts + 1
    radius = half[run] - np.where(left_out, SIMPLE_M, 0.0)
    leg = np.flatnonzero(np.diff(of) == 0)
    return np.column_stack((xy[leg], xy[leg + 1], radius[of[leg]])), link[run][of[leg]]


def past_ends(survey: Survey, lines: LinkLines) -> tuple[Floats, Ints]:
    """Give the capsules past the ends of links where no other one goes on, and the link of each: room for a body that
    stands there."""
    network, every = survey.network, np.arange(len(lines.start))
    head, tail = np.asarray(network.link_b), np.asarray(network.link_a)
    meeting = np.bincount(np.concatenate((head, tail)), minlength=network.n_nodes)
    rows, links = [], []
    for node, end, inward, half in (
        (head, lines.stop - 1, -1, lines.stop - every - 2),
        (tail, lines.start, 1, lines.start - every),
    ):
        some = np.flatnonzero(meeting[node] == 1)
        at, before = lines.xy[end[some]], lines.xy[end[some] + inward]
        step = at - before
        past = at + END_M * step / np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-9)[:, None]
        rows.append(np.column_stack((at, past, lines.half_m[half[some]])))
        links.append(some)
    return np.vstack(rows), np.concatenate(links)
