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
Bools = NDArray[np.bool_]

SHARES = (0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 1.0, 1.15, 1.3, 1.5, 1.75, 2.0, 2.25, 2.5)
"""Shares of the machine's width that are tried at corners, ascending."""
OWN = SHARES.index(1.0)


class CornerWidths:
    """Which widths corners let through, driven either way: at first any, then none that surely do not pass; once
    settled, by trying widths.

    The road a turn needs grows by no more than the width itself does, so that what is told is never too much. ``_sure``
    is what a corner surely lets through. It is all of it where the shares of the width that pass and that do not meet
    (``_pass``, −1 for none, and ``_fail``, one past the last for none), and all states were looked at in the greatest
    that passes, in moves too (``_whole``).
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
        self._sure, self._whole = np.full(len(corners), -np.inf), np.zeros(len(corners), dtype=bool)
        self._pass, self._fail = np.full(len(corners), -1), np.full(len(corners), len(SHARES))
        self._ways: dict[tuple[int, ...], Ints] = {}
        self._most = self._told()

    def on(self, edge: int) -> float:
        """Give what the bends of an edge let through."""
        return min((self._most[row] for row in self._corners.by_edge.get(edge, ())), default=np.inf)

    def between(self, edge: int, nxt: int) -> float:
        """Give what the corner between two edges lets through."""
        row = self._corners.by_pair.get((edge, nxt))
        return np.inf if row is None else self._most[row]

    def _told(self) -> list[float]:
        """Give what every corner lets through, as far as is known."""
        least_fail = np.array((*SHARES, np.inf))[self._fail] * self._prepared.case.body.width_m
        return np.where(self._settled, self._sure, np.maximum(self._sure, least_fail)).tolist()  # type: ignore[no-any-return]

    @property
    def _met(self) -> Bools:
        """Where the shares that pass and that do not meet."""
        return np.asarray(self._pass + 1 == self._fail)

    @property
    def _settled(self) -> Bools:
        return np.asarray(self._met & (self._whole | (self._pass < 0)))

    def settle(self, ways: Sequence[tuple[list[int], float]]) -> bool:
        """Come one step nearer to knowing those corners on some ways that may let through less than the way does (its
        number); tell whether there were any. What is found may make other ways the widest."""
        apart, least = self._asked([(self._on(way), through) for way, through in ways])
        self._bring_together(*_columns(apart))
        self._measure(*_columns(least))
        self._most = self._told()
        return bool(apart or least)

    def _on(self, way: list[int]) -> Ints:
        """Give the corners on a way."""
        key = tuple(way)
        if key not in self._ways:
            bends = [row for edge in way for row in self._corners.by_edge.get(edge, ())]
            pairs = [self._corners.by_pair[pair] for pair in pairwise(way) if pair in self._corners.by_pair]
            self._ways[key] = np.unique(np.array([*bends, *pairs], dtype=np.int64))
        return self._ways[key]

    def _asked(self, on: list[tuple[Ints, float]]) -> tuple[dict[int, float], dict[int, float]]:
        """Give what is to be done next about the corners on some ways that may let through less than is known of their
        way, and how much that is: shares brought together at all of them; then, on each way, what is left measured at
        the one that surely lets through least."""
        apart, least, met, settled = dict[int, float](), dict[int, float](), self._met, self._settled
        for rows, through in on:
            most_m = min(through, float(self._sure[rows[settled[rows]]].min(initial=np.inf)))
            left = rows[~settled[rows] & (self._sure[rows] < most_m)]
            some, into = left[~met[left]], apart
            if not len(some):
                some, into = left[np.argsort(self._sure[left], kind="stable")[:1]], least
            into.update((row, max(most_m, into.get(row, most_m))) for row in some.tolist())
        return apart, least

    def _bring_together(self, rows: Ints, most_m: Floats) -> None:
        """Try one share at each of some corners: its own width first; then, between those that pass and those that do
        not, the next above what surely passes, or halfway where none does; none far beyond what is asked."""
        low, high = self._pass[rows] + 1, self._fail[rows] - 1
        widths = np.array(SHARES) * self._prepared.case.body.width_m
        enough = np.clip(np.searchsorted(widths, most_m), low, high)
        above = np.clip(np.searchsorted(widths, self._sure[rows], side="right"), low, enough)
        share = np.where(np.isfinite(self._sure[rows]), above, (low + enough) // 2)
        share = np.where((low <= OWN) & (high >= OWN), OWN, share)
        for each in np.unique(share).tolist():
            some = rows[share == each]
            one_go = self._at(each).one_go_left_m(some, self._states, every=False)
            best = self._in_moves(each, some, one_go, np.zeros(len(some)))
            passes = best >= 0.0
            self._note(each, some[passes], best[passes])
            self._pass[some[passes]], self._fail[some[~passes]] = each, each

    def _measure(self, rows: Ints, most_m: Floats) -> None:
        """Find what is left at the greatest share that passes some corners, until it is as much as is asked."""
        for each in np.unique(self._pass[rows]).tolist():
            here = self._pass[rows] == each
            some, enough_m = rows[here], most_m[here] - self._prepared.case.body.width_m * SHARES[each]
            one_go = self._at(each).one_go_left_m(some, self._states, every=True)
            best = self._in_moves(each, some, one_go, enough_m)
            self._note(each, some, best)
            self._whole[some] = best < enough_m

    def _note(self, share: int, rows: Ints, left_m: Floats) -> None:
        """Note what is left at some corners at a share of the width."""
        width_m = self._prepared.case.body.width_m * SHARES[share]
        self._sure[rows] = np.maximum(self._sure[rows], width_m + left_m)
        self._tried += len(rows)
        self._tell(self._tried)

    def _in_moves(self, share: int, rows: Ints, one_go_m: Floats, enough_m: Floats) -> Floats:
        """Give the most that is left at some corners in any state, −∞ where it is not known to pass [m]: in moves where
        one go does not, until it is enough; the states with most left in one go first."""
        best: Floats = np.where(one_go_m >= 0.0, one_go_m, -np.inf).max(axis=1)
        for column in np.argsort(-one_go_m, axis=1, kind="stable").T:
            lacks = (best < enough_m) & (one_go_m[np.arange(len(rows)), column] < 0.0)
            for number in np.unique(column[lacks]).tolist():
                some = np.flatnonzero(lacks & (column == number))
                left = self._at(share).in_moves_left_m(rows[some], int(self._states[number]))
                best[some] = np.maximum(best[some], np.where(left >= 0.0, left, -np.inf))
        return best

    def _at(self, share: int) -> Turns:
        """Give the corners for a machine as wide as a share of this one's width."""
        if share not in self._turns:
            case = self._prepared.case
            if share != OWN:
                case = replace(case, body=changed_body(case.body, "width_m", case.body.width_m * SHARES[share]))
            self._turns[share] = check_turns(case, self._prepared.turns.accepted, from_sides=False)
        return self._turns[share]


def _columns(asked: dict[int, float]) -> tuple[Ints, Floats]:
    return np.array(list(asked), dtype=np.int64), np.array(list(asked.values()), dtype=np.float64)
