"""What the answers of one block of pieces come to: the worst verdict and its rule, the least cap, what is unknown.

Answers are added up where configurations are alike, and brought together for each configuration once at the end.
Verdict and rule are one number, so that the worst is a maximum: the verdict above, below it how early the answer was
asked, for of two equal ones the earlier holds.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from travel.checks.alike import Alike
from travel.checks.outcome import Verdicts
from travel.domain.verdict import Verdict

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Counts = NDArray[np.uint8]

LAST_TURN = 255
"""Turns are told apart, and unknown answers counted, in one byte."""


class Summed:
    """Answers over the groups of alike configurations, 2 directions and the pieces of one block."""

    def __init__(self, pieces: int, alike: Alike) -> None:
        self.alike = alike
        shape = (len(alike), 2, pieces)
        self.rank = np.zeros(shape, dtype=np.uint16)
        self.unknowns = np.zeros(shape, dtype=np.uint8)
        self.spoke = False
        self.exposed: Bools | None = None
        self.cap_mps: Floats | None = None
        self.cap_turn: Counts | None = None

    def worse(self, rows: Ints | slice, turn: int, verdict: Verdicts) -> None:
        """Add verdicts over some pieces, asked in a turn from 1 on."""
        if not verdict.any():
            return
        rank = (verdict.astype(np.uint16) << 8) + np.uint16(LAST_TURN - turn)
        unknown = verdict == Verdict.UNKNOWN
        self.spoke = True
        self.rank[..., rows] = np.maximum(self.rank[..., rows], rank)
        self.unknowns[..., rows] += unknown

    def slower(self, rows: Ints | slice, turn: int, cap_mps: Floats) -> None:
        """Add caps over some pieces; NaN caps nothing."""
        if self.cap_mps is None or self.cap_turn is None:
            self.cap_mps = np.full(self.rank.shape, np.inf)
            self.cap_turn = np.zeros(self.rank.shape, dtype=np.uint8)
        old = self.cap_mps[..., rows]
        slower = cap_mps < old
        self.cap_mps[..., rows] = np.where(slower, cap_mps, old)
        self.cap_turn[..., rows] = np.where(slower, np.uint8(turn), self.cap_turn[..., rows])

    def expose(self, rows: Ints | slice, exposed: Bools) -> None:
        """Add where metres count as exposure."""
        if self.exposed is None:
            self.exposed = np.zeros(self.rank.shape, dtype=bool)
        self.exposed[..., rows] |= exposed


def worst_of(sums: Iterable[Summed], config: int, shape: tuple[int, int]) -> tuple[NDArray[np.uint16], Counts]:
    """Give the highest rank and the number of unknowns of one configuration."""
    rank, unknowns = np.zeros(shape, dtype=np.uint16), np.zeros(shape, dtype=np.uint8)
    for each in sums:
        if each.spoke:
            group = each.alike.group[config]
            np.maximum(rank, each.rank[group], out=rank)
            unknowns += each.unknowns[group]
    return rank, unknowns


def slowest_of(sums: Iterable[Summed], config: int, cap_mps: Floats) -> tuple[Floats, Counts]:
    """Lower the gear's own top speed to the least cap of one configuration; with the turn it was given in, else 0."""
    turn = np.zeros(cap_mps.shape, dtype=np.uint8)
    for each in sums:
        if each.cap_mps is not None and each.cap_turn is not None:
            group = each.alike.group[config]
            mine, asked = each.cap_mps[group], each.cap_turn[group]
            slower = (mine < cap_mps) | ((mine == cap_mps) & (asked < turn))
            np.copyto(cap_mps, mine, where=slower)
            np.copyto(turn, asked, where=slower)
    return cap_mps, turn


def exposed_of(sums: Iterable[Summed], config: int, exposed: Bools) -> Bools:
    """Add where metres of one configuration count as exposure."""
    for each in sums:
        if each.exposed is not None:
            exposed |= each.exposed[each.alike.group[config]]
    return exposed
