"""Which widths of machine corners let through."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from travel.checks import Turns, check_turns
from travel.planning.remedy_machine import changed_body
from travel.planning.trips import Prepared

Floats = NDArray[np.float64]

WIDER = (1.15, 1.3, 1.5, 1.75, 2.0)
NARROWER = (0.95, 0.9, 0.85, 0.8, 0.75, 0.7)
"""Shares of the machine's width that are tried at corners, first those where it fits, then those it is too wide for."""


class CornerWidths:
    """Which widths corners let through, driven either way: at first any; once settled, by trying widths in steps.

    The road a turn needs grows by no more than the width itself does, so that what is told is never too much.
    """

    def __init__(self, prepared: Prepared) -> None:
        self._prepared, case = prepared, prepared.case
        self._turns = check_turns(case, prepared.turns.accepted, from_sides=False)
        self._corners = corners = self._turns.corners
        alike = {(state[0], state[2]): number for number, state in enumerate(case.configurations.states)}
        self._states = np.array(list(alike.values()))
        self._known = np.zeros(len(corners), dtype=bool)
        self._own = np.full(len(corners), np.nan)
        self._width = np.full(len(corners), np.inf)
        self._settled = np.zeros(len(corners), dtype=bool)

    def on(self, edge: int) -> float:
        """Give what the bends of an edge let through."""
        return min((float(self._width[row]) for row in self._corners.by_edge.get(edge, ())), default=np.inf)

    def between(self, edge: int, nxt: int) -> float:
        """Give what the corner between two edges lets through."""
        row = self._corners.by_pair.get((edge, nxt))
        return np.inf if row is None else float(self._width[row])

    def deciding(self, ways: Sequence[tuple[list[int], float]]) -> set[int]:
        """Give the corners on ways that are not settled and may let through less than the way does (its number)."""
        on, by_pair = [], self._corners.by_pair
        for way, _ in ways:
            rows = [row for edge in way for row in self._corners.by_edge.get(edge, ())]
            on.append([*rows, *(by_pair[pair] for pair in pairwise(way) if pair in by_pair)])
        every = np.array(sorted({row for rows in on for row in rows}), dtype=np.int64)
        least = dict(zip(every.tolist(), self._least(every).tolist(), strict=True))
        return {
            row
            for rows, (_, through) in zip(on, ways, strict=True)
            for row in rows
            if not self._settled[row] and least[row] < through
        }

    def _least(self, rows: NDArray[np.int64]) -> Floats:
        """Give a width that some corners let through for sure: this machine's with the room it leaves; −∞ for none."""
        new = np.unique(rows[~self._known[rows]])
        if len(new):
            self._own[new], self._known[new] = _room_left(self._turns, new, self._states), True
        width = self._prepared.case.body.width_m
        return np.asarray(np.where(self._own[rows] >= 0.0, width + self._own[rows], -np.inf))

    def settle(self, rows: NDArray[np.int64]) -> None:
        """Find what some corners let through."""
        case, accepted = self._prepared.case, self._prepared.turns.accepted
        least = self._least(rows)
        found = least.copy()
        for side in (WIDER, NARROWER):
            left = np.flatnonzero((least > 0.0) == (side is WIDER))
            for share in side:
                if not len(left):
                    break
                width = case.body.width_m * share
                turns = check_turns(replace(case, body=changed_body(case.body, "width_m", width)), accepted, False)
                room = _room_left(turns, rows[left], self._states)
                passes = room >= 0.0
                found[left[passes]] = np.maximum(found[left[passes]], width + room[passes])
                left = left[passes] if side is WIDER else left[~passes]
        self._width[rows], self._settled[rows] = found, True


def _room_left(turns: Turns, rows: NDArray[np.int64], states: NDArray[np.int64]) -> Floats:
    """Give the greatest margin to turn over some states; −inf where something is missing."""
    best, unseen = np.full(len(rows), -np.inf), np.zeros(len(rows), dtype=bool)
    for part in turns.room(rows, states):
        outcome = part.outcome
        if part.not_looked:
            unseen |= np.asarray(outcome.applies).all(axis=1)
        else:
            margin = np.asarray(outcome.capacity) - outcome.demand - outcome.tolerance
            lacking = np.logical_or.reduce([np.broadcast_to(where, margin.shape) for where in outcome.missing.values()])
            best = np.where(lacking | np.isnan(margin), -np.inf, margin).max(axis=1)
    return np.where(unseen, -np.inf, best)
