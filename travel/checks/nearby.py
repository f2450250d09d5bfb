"""What lies within a length of each piece along the roads: on its chain, and where the machine goes straight on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from travel.survey import Survey, past_ends, ways_onward
from travel.survey.arrays import expand, group_search

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def cells_within(survey: Survey, reach_m: float) -> tuple[Ints, Ints, Bools]:
    """Give cell by cell the cells within a length of it along its chain, itself too, and straight on over a junction;
    and whether their chain runs the other way round."""
    return survey.kept(("within", float(reach_m)), lambda: _made(survey, float(reach_m)))


def _made(survey: Survey, reach_m: float) -> tuple[Ints, Ints, Bools]:
    cells, chains, course = survey.fabric.cells, survey.fabric.chains, survey.fabric.course
    every = np.arange(len(cells))
    ring = np.flatnonzero(np.isin(cells.chain, chains.ring))
    around = chains.length[cells.chain[ring]]
    asked = [(every, cells.chain, cells.from_m - reach_m, cells.to_m + reach_m, np.zeros(len(every), dtype=bool))]
    for shift in (around, -around):
        asked.append((ring, cells.chain[ring], cells.from_m[ring] - reach_m + shift,
                      cells.to_m[ring] + reach_m + shift, np.zeros(len(ring), dtype=bool)))  # fmt: skip
    pieces, onward = survey.pieces, ways_onward(survey)
    row, way = past_ends(survey, np.arange(len(pieces)), reach_m, onward)
    chain, entered = onward.to_chain[way], onward.to_far[way]
    low = np.where(entered, course.high[chain] - reach_m, course.low[chain])
    high = np.where(entered, course.high[chain], course.low[chain] + reach_m)
    asked.append((pieces.cell[row], chain, low, high, onward.far[way] == entered))
    cell, on, from_m, to_m, turned = (np.concatenate(column) for column in zip(*asked, strict=True))
    start, stop = cells.start[on], cells.stop[on]
    first = group_search(cells.to_m, start, stop, from_m, "right")
    last = group_search(cells.from_m, start, stop, to_m, "left")
    owner, other = expand(first, np.maximum(last - first, 0))
    return cell[owner], other, turned[owner]
