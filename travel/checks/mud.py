"""Mud carried on tyres from soft ground onto paved roads."""

from __future__ import annotations

from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.rulebook import Axis
from travel.survey import Survey

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_KEPT: WeakKeyDictionary[Case, Bools] = WeakKeyDictionary()
_LINK_STEP_M = 1e7
"""Longer than any link, so that chainages of different links never meet when laid end to end."""


def mud_carried(case: Case) -> Bools | None:
    """Give the pieces whose surface takes mud and which lie near ground that gives it; None where none gives any.

    Tyres carry it along the roads, in either direction, as far as the rulebook says.
    """
    if case not in _KEPT:
        gives = _has(case, "grip.gives_mud")
        if not gives.any():
            return None
        takes = _has(case, "grip.takes_mud")
        near = distance_to(case.survey, gives) <= case.scalar("grip.mud_carried")
        _KEPT[case] = takes & near
    return _KEPT[case]


def _has(case: Case, limit_id: str) -> Bools:
    """Give the pieces on which a wheel may stand on a surface with such a row: the road's, or that of ground on it."""
    words, codes = case.surface.words, case.surface.codes
    by_word = case.resolved(limit_id, surface=Axis(np.append(np.arange(len(words)), -1), words)).values > 0.0
    out, (piece, other) = np.asarray(by_word[codes]), case.laid
    out[piece[by_word[other]]] = True
    return out


def carried_m(case: Case) -> float:
    """Give how far tyres carry mud along the roads from any ground that gives it in this weather [m]; 0: none does."""
    gives = case.resolved("grip.gives_mud", surface=Axis(np.arange(len(case.surface.words)), case.surface.words))
    return case.scalar("grip.mud_carried") if (gives.values > 0.0).any() else 0.0


def distance_to(survey: Survey, chosen: Bools) -> Floats:
    """Give the least distance along the roads from each piece to any of the chosen ones [m]; infinite where none is."""
    pieces, network = survey.pieces, survey.network
    start, stop = network.link_from_m[pieces.link], network.link_to_m[pieces.link]
    base = pieces.link * _LINK_STEP_M
    low, high = base + pieces.from_m - start, base + pieces.to_m - start
    before = np.maximum.accumulate(np.where(chosen, high, -np.inf))
    after = np.minimum.accumulate(np.where(chosen, low, np.inf)[::-1])[::-1]
    length = stop - start
    back, ahead = np.maximum(low - before, 0.0), np.maximum(after - high, 0.0)
    back, ahead = np.where(back <= length, back, np.inf), np.where(ahead <= length, ahead, np.inf)
    nodes = np.full(network.n_nodes, np.inf)
    np.minimum.at(nodes, network.link_a[pieces.link], np.where(chosen, low - base, np.inf))
    np.minimum.at(nodes, network.link_b[pieces.link], np.where(chosen, base + length - high, np.inf))
    nodes = _spread(survey, nodes)
    from_a = nodes[network.link_a[pieces.link]] + low - base
    from_b = nodes[network.link_b[pieces.link]] + base + length - high
    return np.asarray(np.where(chosen, 0.0, np.minimum(np.minimum(back, ahead), np.minimum(from_a, from_b))))


def _spread(survey: Survey, nodes: Floats) -> Floats:
    """Give least distances at nodes, passed on over links until nothing gets shorter."""
    network = survey.network
    length = network.link_to_m - network.link_from_m
    while True:
        old = nodes.copy()
        np.minimum.at(nodes, network.link_b, old[network.link_a] + length)
        np.minimum.at(nodes, network.link_a, old[network.link_b] + length)
        if np.array_equal(nodes, old):
            return nodes
