"""Which widths of machine corners let through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from travel.checks import Turns, check_turns
from travel.planning.remedy_machine import changed_body
from travel.planning.trips import Prepared

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SHARES = (0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 1.0, 1.15, 1.3, 1.5, 1.75, 2.0, 2.25, 2.5)
"""Shares of the machine's width that are tried at corners, ascending."""
OWN = SHARES.index(1.0)


class CornerWidths:
    """Which widths corners let through, driven either way: at first any; once settled, by trying widths.

    The road a turn needs grows by no more than the width itself does, so that what is told is never too much. ``_sure``
    is what a corner surely lets through. It is all of it where the shares of the width that pass and that do not meet
    (``_pass``, −1 for none, and ``_fail``, one past the last for none), each tried in all states (``_whole``).
    ``_room``: by corner and state, what is left at the greatest share that passes [m]; at first it says where the
    search looked.
    """

    def __init__(self, prepared: Prepared, tell: Callable[[int], None] = lambda count: None) -> None:
        """Take a case.

        Args:
            prepared: the case with its graph
            tell: called with how many widths were tried at corners so far
        """
        self._prepared, self._tell, self._tried, case = prepared, tell, 0, prepared.case
        self._turns: dict[int, Turns] = {}
        self._corners = corners = prepared.turns.corners
        alike = {(travel, steering): n for n, (travel, _, steering, _) in enumerate(case.configurations.states)}
        self._states = np.array(list(alike.values()))
        self._sure, self._whole = np.full(len(corners), -np.inf), np.ones(len(corners), dtype=bool)
        self._pass, self._fail = np.full(len(corners), -1), np.full(len(corners), len(SHARES))
        self._room = prepared.turns.judged[:, self._states].astype(np.float64)

    def on(self, edge: int) -> float:
        """Give what the bends of an edge let through."""
        return min((self._through(row) for row in self._corners.by_edge.get(edge, ())), default=np.inf)

    def between(self, edge: int, nxt: int) -> float:
        """Give what the corner between two edges lets through."""
        row = self._corners.by_pair.get((edge, nxt))
        return np.inf if row is None else self._through(row)

    def _through(self, row: int) -> float:
        settled = self._whole[row] and self._pass[row] + 1 == self._fail[row]
        return float(self._sure[row]) if settled else np.inf

    def settle(self, ways: Sequence[tuple[list[int], float]]) -> bool:
        """Find what the corners on some ways let through, as far as it may be less than the way does (its number); tell
        whether there were any."""
        rows, most_m = self._left(*self._on(ways))
        decided = bool(len(rows))
        while len(rows):
            self._try(rows, most_m)
            rows, most_m = self._left(rows, most_m)
        return decided

    def _on(self, ways: Sequence[tuple[list[int], float]]) -> tuple[Ints, Floats]:
        """Give the corners on some ways, and the most that any of these ways lets through."""
        most, by_pair = dict[int, float](), self._corners.by_pair
        for way, through in ways:
            rows = [row for edge in way for row in self._corners.by_edge.get(edge, ())]
            for row in (*rows, *(by_pair[pair] for pair in pairwise(way) if pair in by_pair)):
                most[row] = max(through, most.get(row, through))
        return np.array(list(most), dtype=np.int64), np.array(list(most.values()))

    def _left(self, rows: Ints, most_m: Floats) -> tuple[Ints, Floats]:
        """Give those corners that are not settled and may let through less than is asked."""
        settled = self._whole[rows] & (self._pass[rows] + 1 == self._fail[rows])
        left = ~settled & (self._sure[rows] < most_m)
        return rows[left], most_m[left]

    def _try(self, rows: Ints, most_m: Floats) -> None:
        """Try one share at each of some corners: its own width first; then, between those that pass and those that do
        not, the next above what surely passes, or halfway where none does; none far beyond what is asked. Again where a
        share was not tried in all states."""
        low, high = self._pass[rows] + 1, self._fail[rows] - 1
        widths = np.array(SHARES) * self._prepared.case.body.width_m
        enough = np.clip(np.searchsorted(widths, most_m), low, high)
        above = np.clip(np.searchsorted(widths, self._sure[rows], side="right"), low, enough)
        share = np.where(np.isfinite(self._sure[rows]), above, (low + enough) // 2)
        share = np.where((low <= OWN) & (high >= OWN), OWN, share)
        share = np.where(self._whole[rows], share, self._pass[rows])
        for each in np.unique(share).tolist():
            some, most = rows[share == each], most_m[share == each]
            width = self._prepared.case.body.width_m * SHARES[each]
            self._tried += len(some)
            self._tell(self._tried)
            room, best = self._left_at(each, some, np.maximum(most - width, 0.0))
            passes = best >= 0.0
            self._sure[some[passes]] = np.maximum(self._sure[some[passes]], width + best[passes])
            self._whole[some] = ~passes | (width + best < most)
            self._pass[some[passes]], self._fail[some[~passes]] = each, each
            self._room[some[passes]] = room[passes]

    def _left_at(self, share: int, rows: Ints, enough_m: Floats) -> tuple[Floats, Floats]:
        """Give what is left at some corners by a share of the width, by state and the most, −∞ where it is not known to
        pass [m]: the states with most left at a narrower one first, until it is enough, and none that did not pass."""
        turns, room, every = self._at(share), self._room[rows].copy(), np.arange(len(rows))
        best = np.full(len(rows), -np.inf)
        for number in np.argsort(-np.maximum(room, 0.0).sum(axis=0), kind="stable").tolist():
            some = every[(room[:, number] >= 0.0) & (best < enough_m)]
            if len(some):
                state = int(self._states[number])
                room[some, number] = turns.room_left_m(rows[some], state, best[some], enough_m[some])
                best[some] = np.maximum(best[some], room[some, number])
        return room, best

    def _at(self, share: int) -> Turns:
        """Give the corners for a machine as wide as a share of this one's width."""
        if share not in self._turns:
            case = self._prepared.case
            if share != OWN:
                case = replace(case, body=changed_body(case.body, "width_m", case.body.width_m * SHARES[share]))
            self._turns[share] = check_turns(case, self._prepared.turns.accepted, from_sides=False)
        return self._turns[share]
