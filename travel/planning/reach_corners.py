"""Which widths of machine corners let through."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from travel.checks import Turns, check_turns
from travel.planning.remedy_machine import changed_body
from travel.planning.trips import Prepared

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

Asked = dict[int, tuple[float, float, bool]]
"""By corner: how much is asked of it, what surely gets there elsewhere, and whether it is the first to look at on any
way."""

SHARES = (0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 1.0, 1.15, 1.3, 1.5, 1.75, 2.0, 2.25, 2.5)
"""Shares of the machine's width that are tried at corners, ascending."""
OWN = SHARES.index(1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Through:
    """What corners let through: by edge its bends, and by row, with +inf at the end for no corner."""

    by_edge: Floats
    by_row: list[float]


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
        self._one_go_fail = np.full(len(corners), len(SHARES))
        self._ways: dict[tuple[int, ...], Ints] = {}
        self._edges, self._bends = 2 * len(case.survey.network.link_a), _pairs(corners.by_edge)

    def told(self) -> tuple[Through, Through]:
        """Give what corners let through as far as is known, and surely."""
        least_fail = np.array((*SHARES, np.inf))[self._fail] * self._prepared.case.body.width_m
        most = np.where(self._settled, self._sure, np.maximum(self._sure, least_fail))
        return self._laid(most), self._laid(self._sure)

    def _laid(self, by_row: Floats) -> Through:
        bends = np.full(self._edges, np.inf)
        edge, row = self._bends
        np.minimum.at(bends, edge, by_row[row])
        return Through(by_edge=bends, by_row=[*by_row.tolist(), np.inf])

    @property
    def _met(self) -> Bools:
        """Where the shares that pass and that do not meet."""
        return np.asarray(self._pass + 1 == self._fail)

    @property
    def _settled(self) -> Bools:
        return np.asarray(self._met & (self._whole | (self._pass < 0)))

    def settle(self, ways: Sequence[tuple[list[int], float, float]]) -> bool:
        """Come one step nearer to knowing those corners on some ways that may let through less than the way does; tell
        whether there were any. What is found may make other ways the widest.

        Args:
            ways: edges, what the way lets through as far as is known, and what another way there surely does
        """
        on = [(self._on(way), through, elsewhere) for way, through, elsewhere in ways if through > elsewhere]
        apart, least = self._asked(on)
        self._bring_together(*_columns(apart))
        self._measure(*_columns(least)[:2])
        return bool(apart or least)

    def _on(self, way: list[int]) -> Ints:
        """Give the corners on a way."""
        key = tuple(way)
        if key not in self._ways:
            bends = [row for edge in way for row in self._corners.by_edge.get(edge, ())]
            pairs = [self._corners.by_pair[pair] for pair in pairwise(way) if pair in self._corners.by_pair]
            self._ways[key] = np.unique(np.array([*bends, *pairs], dtype=np.int64))
        return self._ways[key]

    def _asked(self, on: list[tuple[Ints, float, float]]) -> tuple[Asked, Asked]:
        """Give what is to be done next about the corners on some ways that may let through less than is known of their
        way, but more than surely gets there elsewhere: shares brought together at all of them, first at the one that
        surely lets through least; then, on each way, what is left measured at that one."""
        apart, least, met, settled = Asked(), Asked(), self._met, self._settled
        for rows, through, elsewhere in on:
            most_m = min(through, float(self._sure[rows[settled[rows]]].min(initial=np.inf)))
            left = rows[~settled[rows] & (self._sure[rows] < most_m)]
            left = left[np.argsort(self._sure[left], kind="stable")]
            unmet = left[~met[left]]
            some, into = (unmet, apart) if len(unmet) else (left[:1], least)
            for number, row in enumerate(some.tolist()):
                most, known, first = into.get(row, (most_m, elsewhere, False))
                into[row] = max(most_m, most), max(elsewhere, known), first or number == 0
        return apart, least

    def _bring_together(self, rows: Ints, most_m: Floats, elsewhere_m: Floats, first: Bools) -> None:
        """Try one share at each of some corners: its own width first; then, between those that pass and those that do
        not, the next above what surely passes, but none far below what does elsewhere, or halfway where none does; none
        far beyond what is asked. As long as one is to be tried in one go, none is in moves, which are dear."""
        low, high = self._pass[rows] + 1, self._fail[rows] - 1
        widths = np.array(SHARES) * self._prepared.case.body.width_m
        enough = np.clip(np.searchsorted(widths, most_m), low, high)
        sure = np.maximum(self._sure[rows], elsewhere_m)
        above = np.clip(np.searchsorted(widths, sure, side="right") - 1, low, enough)
        share = np.where(np.isfinite(sure), above, (low + enough) // 2)
        share = np.where((low <= OWN) & (high >= OWN) & (share <= OWN), OWN, share)
        new = share < self._one_go_fail[rows]
        for each in np.unique(share[new]).tolist():
            self._try_in_one_go(each, rows[new & (share == each)])
        for each in np.unique(share[first]).tolist() if not new.any() else ():
            self._try_in_moves(each, rows[first & (share == each)])

    def _try_in_one_go(self, share: int, rows: Ints) -> None:
        best = self._at(share).one_go_left_m(rows, self._states, every=False).max(axis=1)
        passes = best >= 0.0
        self._note(share, rows[passes], best[passes])
        self._count(rows)
        self._pass[rows[passes]], self._one_go_fail[rows[~passes]] = share, share

    def _try_in_moves(self, share: int, rows: Ints) -> None:
        one_go = self._at(share).one_go_left_m(rows, self._states, every=False)
        best = self._in_moves(share, rows, one_go, np.zeros(len(rows)))
        passes = best >= 0.0
        self._note(share, rows[passes], best[passes])
        self._count(rows)
        self._pass[rows[passes]], self._fail[rows[~passes]] = share, share

    def _measure(self, rows: Ints, most_m: Floats) -> None:
        """Find what is left at the greatest share that passes some corners, until it is as much as is asked."""
        for each in np.unique(self._pass[rows]).tolist():
            here = self._pass[rows] == each
            some, enough_m = rows[here], most_m[here] - self._prepared.case.body.width_m * SHARES[each]
            one_go = self._at(each).one_go_left_m(some, self._states, every=True)
            best = self._in_moves(each, some, one_go, enough_m)
            self._note(each, some, best)
            self._count(some)
            self._whole[some] = best < enough_m

    def _note(self, share: int, rows: Ints, left_m: Floats) -> None:
        """Note what is left at some corners at a share of the width."""
        width_m = self._prepared.case.body.width_m * SHARES[share]
        self._sure[rows] = np.maximum(self._sure[rows], width_m + left_m)

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

    def _count(self, rows: Ints) -> None:
        """Tell of so many more tries."""
        self._tried += len(rows)
        self._tell(self._tried)

    def _at(self, share: int) -> Turns:
        """Give the corners for a machine as wide as a share of this one's width."""
        if share not in self._turns:
            case = self._prepared.case
            if share != OWN:
                case = replace(case, body=changed_body(case.body, "width_m", case.body.width_m * SHARES[share]))
            self._turns[share] = check_turns(case, self._prepared.turns.accepted, from_sides=False)
        return self._turns[share]


def _pairs(by_edge: Mapping[int, tuple[int, ...]]) -> tuple[Ints, Ints]:
    pairs = [(edge, row) for edge, rows in by_edge.items() for row in rows]
    return tuple(np.array(pairs, dtype=np.int64).reshape(-1, 2).T)  # type: ignore[return-value]


def _columns(asked: Asked) -> tuple[Ints, Floats, Floats, Bools]:
    numbers = np.array(list(asked.values()), dtype=np.float64).reshape(-1, 3)
    return np.array(list(asked), dtype=np.int64), numbers[:, 0], numbers[:, 1], numbers[:, 2] > 0.0
