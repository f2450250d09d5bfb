"""Cells: equal parts of a chain between breaks. Pieces: cells cut once more where a link ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from travel.survey.arrays import Floats, Ints, bounds, expand, group_search
from travel.survey.chains import Chains, Links
from travel.survey.course import Course
from travel.survey.records import Pieces

SAME_M = 1e-6
BEND_WINDOW_M = 10.0
"""Length over which bending is measured; common practice, no source."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Cells:
    """Cells sorted by chain and chainage; chain c owns ``start[c]`` … ``stop[c]``."""

    chain: Ints
    from_m: Floats
    to_m: Floats
    start: Ints
    stop: Ints

    def __len__(self) -> int:
        return len(self.chain)


@dataclass(frozen=True, eq=False, kw_only=True)
class Order:
    """Pieces in chain order: ``piece[start[cell]] … piece[stop[cell] − 1]`` are the pieces of a cell."""

    piece: Ints
    start: Ints
    stop: Ints


def cut_cells(chains: Chains, chain: Ints, position: Floats, piece_m: float) -> Cells:
    """Cut chains into equal parts of at most ``piece_m`` between their ends and the breaks given."""
    count = len(chains.length)
    inside = (position > SAME_M) & (position < chains.length[chain] - SAME_M)
    every = np.arange(count)
    which = np.concatenate((chain[inside], every, every))
    at = np.concatenate((position[inside], np.zeros(count), chains.length))
    order = np.lexsort((at, which))
    which, at = which[order], at[order]
    tail = np.append(np.diff(which) != 0, True)
    keep = np.ones(len(at), dtype=bool)
    keep[1:] = (np.diff(which) != 0) | (np.diff(at) > SAME_M) | tail[1:]
    which, at = which[keep], at[keep]
    between = np.flatnonzero(which[1:] == which[:-1])
    run = at[between + 1] - at[between]
    parts = np.maximum(np.ceil(run / piece_m - SAME_M), 1).astype(np.int64)
    owner, k = expand(np.zeros_like(parts), parts)
    head, length = at[between][owner], run[owner]
    last = k == parts[owner] - 1
    to_m = np.where(last, at[between + 1][owner], head + length * (k + 1) / parts[owner])
    cell_chain = which[between][owner]
    start, stop = bounds(cell_chain, count)
    return Cells(chain=cell_chain, from_m=head + length * k / parts[owner], to_m=to_m, start=start, stop=stop)


def cut_pieces(links: Links, chains: Chains, course: Course, cells: Cells) -> tuple[Pieces, Order]:
    """Cut cells at the ends of links; pieces come sorted by road and chainage."""
    cell, link, from_m, to_m = _split(links, chains, cells)
    low = chains.chainage(links, link, np.where(chains.sign[link] > 0, from_m, to_m))
    high = chains.chainage(links, link, np.where(chains.sign[link] > 0, to_m, from_m))
    order = np.lexsort((low, links.road[link]))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    start, stop = bounds(cell, len(cells))
    cell, link, low, high = cell[order], link[order], low[order], high[order]
    chain, sign = cells.chain[cell], chains.sign[link]
    middle = ((from_m + to_m) / 2.0)[order]
    x, y = course.locate(chain, middle)
    bearing = course.bearing[course.segment_at(chain, middle)] + np.where(sign > 0, 0.0, np.pi)
    pieces = Pieces(
        road=links.road[link],
        link=link,
        chain=chain,
        cell=cell,
        from_m=low,
        to_m=high,
        length_m=high - low,
        cell_from_m=cells.from_m[cell],
        cell_to_m=cells.to_m[cell],
        sign=sign,
        x_m=x,
        y_m=y,
        heading_rad=bearing % (2 * np.pi),
        curvature_per_m=_bending(course, cells)[cell],
    )
    return pieces, Order(piece=rank, start=start, stop=stop)


def _split(links: Links, chains: Chains, cells: Cells) -> tuple[Ints, Ints, Floats, Floats]:
    """Give cell, link, and chain chainages of every piece, in chain order."""
    order = chains.order
    cut_chain, cut = chains.chain[order], chains.offset[order]
    start, stop = cells.start[cut_chain], cells.stop[cut_chain]
    near = np.clip(group_search(cells.from_m, start, stop, cut - SAME_M, "left"), start, stop - 1)
    on_cell = (np.abs(cells.from_m[near] - cut) <= SAME_M) & (near > start)
    head = cut > SAME_M
    extra = head & ~on_cell & (chains.length[cut_chain] - cut > SAME_M)
    begin = cells.from_m.copy()
    begin[near[on_cell & head]] = cut[on_cell & head]
    which = np.concatenate((cells.chain, cut_chain[extra]))
    at = np.concatenate((begin, cut[extra]))
    sort = np.lexsort((at, which))
    which, at = which[sort], at[sort]
    end = np.append(at[1:], 0.0)
    last = np.append(np.diff(which) != 0, True)
    end[last] = chains.length[which[last]]
    middle = (at + end) / 2.0
    cell = group_search(begin, cells.start[which], cells.stop[which], middle, "right") - 1
    place = group_search(cut, chains.start[which], chains.stop[which], middle, "right") - 1
    return cell, order[place], at, end


def _bending(course: Course, cells: Cells) -> Floats:
    """Give the sum of changes of heading over 10 m round the middle of each cell, per metre; never past the chain."""
    low, high = course.low[cells.chain], course.high[cells.chain]
    length = np.minimum(BEND_WINDOW_M, high - low)
    middle = (cells.from_m + cells.to_m) / 2.0
    start = np.clip(middle - length / 2.0, low, high - length)
    return course.turning(cells.chain, start, start + length) / length
