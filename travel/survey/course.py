"""The centreline of every chain end to end, as flat vertex arrays by chain chainage.

A chain is a row of links. A ring without a junction is laid out three times (chainage −T … 2T), so that windows and
bodies run on across its seam.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from travel.survey.arrays import Floats, Ints, Objects, bounds, expand, group_search, interpolate
from travel.survey.chains import Chains, Links
from travel.survey.lines import Lines


@dataclass(frozen=True, eq=False, kw_only=True)
class Course:
    """Rows (a link, once or by lap) in chain order, their vertices, and the segments between vertices.

    ``turn`` is the absolute change of heading [rad] at the start of a segment from the segment before it.
    """

    row_link: Ints
    row_shift: Floats
    row_chain: Ints
    row_from: Floats
    row_to: Floats
    row_start: Ints
    row_stop: Ints
    chain_row_start: Ints
    chain_row_stop: Ints
    low: Floats
    high: Floats
    position: Floats
    x: Floats
    y: Floats
    z: Floats
    chain_start: Ints
    chain_stop: Ints
    segment: Ints
    segment_row: Ints
    segment_chain_start: Ints
    segment_chain_stop: Ints
    bearing: Floats
    turn: Floats

    def below(self, chain: Ints, at: Floats) -> Ints:
        """Give the vertex at or before each chain chainage, never the chain's last."""
        found = group_search(self.position, self.chain_start[chain], self.chain_stop[chain], at, "right") - 1
        return np.clip(found, self.chain_start[chain], self.chain_stop[chain] - 2)

    def locate(self, chain: Ints, at: Floats) -> tuple[Floats, Floats]:
        """Give x and y at chain chainages."""
        below = self.below(chain, at)
        return interpolate(at, below, self.position, self.x), interpolate(at, below, self.position, self.y)

    def segment_at(self, chain: Ints, at: Floats) -> Ints:
        """Give the segment that holds each chain chainage."""
        start, stop = self.segment_chain_start[chain], self.segment_chain_stop[chain]
        return np.clip(group_search(self.position[self.segment], start, stop, at, "right") - 1, start, stop - 1)

    def row_at(self, chain: Ints, at: Floats) -> Ints:
        """Give the row that holds each chain chainage."""
        start, stop = self.chain_row_start[chain], self.chain_row_stop[chain]
        return np.clip(group_search(self.row_from, start, stop, at, "right") - 1, start, stop - 1)

    def stretches(self, chain: Ints, from_m: Floats, to_m: Floats) -> Objects:
        """Give the polylines between two chain chainages."""
        first = group_search(self.position, self.chain_start[chain], self.chain_stop[chain], from_m + 1e-9, "right")
        last = group_search(self.position, self.chain_start[chain], self.chain_stop[chain], to_m - 1e-9, "left")
        count = np.maximum(last - first, 0) + 2
        owner, place = expand(np.zeros_like(count), count)
        inner = np.clip(first[owner] + place - 1, 0, len(self.x) - 1)
        head, tail = place == 0, place == count[owner] - 1
        start, stop = self.locate(chain, from_m), self.locate(chain, to_m)
        coords = np.column_stack(
            [
                np.where(head, start[k][owner], np.where(tail, stop[k][owner], column[inner]))
                for k, column in enumerate((self.x, self.y))
            ]
        )
        out: Objects = np.asarray(shapely.linestrings(coords, indices=owner))
        return out

    def turning(self, chain: Ints, from_m: Floats, to_m: Floats) -> Floats:
        """Give the sum of all changes of heading between two chain chainages [rad]."""
        at = self.position[self.segment]
        start, stop = self.segment_chain_start[chain], self.segment_chain_stop[chain]
        total = np.concatenate(([0.0], np.cumsum(self.turn)))
        first = group_search(at, start, stop, from_m - 1e-9, "left")
        last = group_search(at, start, stop, to_m + 1e-9, "right")
        return total[last] - total[first]


def _rows(links: Links, chains: Chains) -> tuple[Ints, Floats]:
    """List the links in chain order, those of rings three times, with the shift of each lap."""
    laps = np.ones(len(chains.start), dtype=np.int64)
    laps[chains.ring] = 3
    count = chains.stop - chains.start
    chain, place = expand(np.zeros_like(count), count * laps)
    lap = place // count[chain]
    link = chains.order[chains.start[chain] + place % count[chain]]
    shift = np.where(laps[chain] == 3, (lap - 1) * chains.length[chain], 0.0)
    return link, shift


def _vertices(lines: Lines, links: Links, sign: Ints, link: Ints) -> tuple[Ints, Ints, Floats, tuple[Floats, ...]]:
    """Give, for every row's link in its sense: the count, the owner, road chainages, and x, y, z."""
    road, from_m, to_m = links.road[link], links.from_m[link], links.to_m[link]
    first = group_search(lines.s, lines.start[road], lines.stop[road], from_m + 1e-9, "right")
    last = group_search(lines.s, lines.start[road], lines.stop[road], to_m - 1e-9, "left")
    count = np.maximum(last - first, 0) + 2
    owner, place = expand(np.zeros_like(count), count)
    place = np.where(sign[link][owner] > 0, place, count[owner] - 1 - place)
    head, tail = place == 0, place == count[owner] - 1
    inner = np.clip(first[owner] + place - 1, 0, len(lines.s) - 1)
    ends = [lines.locate(road, from_m), lines.locate(road, to_m)]
    s = np.where(head, from_m[owner], np.where(tail, to_m[owner], lines.s[inner]))
    xyz = tuple(
        np.where(head, ends[0][k][owner], np.where(tail, ends[1][k][owner], column[inner]))
        for k, column in enumerate((lines.x, lines.y, lines.z))
    )
    return count, owner, s, xyz


def _segments(
    owner: Ints, row_chain: Ints, position: Floats, xy: tuple[Floats, ...]
) -> tuple[Ints, Ints, Floats, Floats]:
    """Give the first vertex, the chain, the bearing and the turn of every segment."""
    x, y = xy
    segment = np.flatnonzero((owner[1:] == owner[:-1]) & (np.diff(position) > 1e-9))
    segment_chain = row_chain[owner[segment]]
    bearing = np.arctan2(x[segment + 1] - x[segment], y[segment + 1] - y[segment])
    turn = np.zeros(len(segment))
    change = np.abs((np.diff(bearing) + np.pi) % (2 * np.pi) - np.pi)
    turn[1:] = np.where(segment_chain[1:] == segment_chain[:-1], change, 0.0)
    return segment, segment_chain, bearing, turn


def lay_course(lines: Lines, links: Links, chains: Chains) -> Course:
    """Lay out the centreline of every chain."""
    link, shift = _rows(links, chains)
    count, owner, s, (x, y, z) = _vertices(lines, links, chains.sign, link)
    position = chains.position(links, link[owner], s) + shift[owner]
    stop = np.cumsum(count)
    row_chain = chains.chain[link]
    chain_row = bounds(row_chain, len(chains.length))
    offset = chains.offset[link] + shift
    segment, segment_chain, bearing, turn = _segments(owner, row_chain, position, (x, y))
    segment_bounds = bounds(segment_chain, len(chains.length))
    first_vertex = stop - count
    return Course(
        row_link=link,
        row_shift=shift,
        row_chain=row_chain,
        row_from=offset,
        row_to=offset + (links.to_m - links.from_m)[link],
        row_start=first_vertex,
        row_stop=stop,
        chain_row_start=chain_row[0],
        chain_row_stop=chain_row[1],
        low=position[first_vertex[chain_row[0]]],
        high=position[stop[chain_row[1] - 1] - 1],
        position=position,
        x=x,
        y=y,
        z=z,
        chain_start=first_vertex[chain_row[0]],
        chain_stop=stop[chain_row[1] - 1],
        segment=segment,
        segment_row=owner[segment],
        segment_chain_start=segment_bounds[0],
        segment_chain_stop=segment_bounds[1],
        bearing=bearing,
        turn=turn,
    )
