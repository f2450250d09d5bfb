"""What corners cost the search: the least they can cost at first, what they do cost once they have been looked at.

Looking closely at a corner is dear and a way takes few of them. So a corner costs only its time until a way that was
found goes through it; then it is settled, and the way is searched again. A corner never gets cheaper by it, so that a
way all of whose corners are settled is the cheapest one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from travel.checks import Case, Turns, as_one, asks_m, close_id
from travel.domain.verdict import Verdict
from travel.routing.choice import MM_PER_M, MS_PER_S

SHUT = 255
"""Worse than any verdict: there the machine does not turn round, whatever may be passed."""
Costs = list[tuple[int, int]]
Look = Callable[[list[int], int], tuple[Mapping[int, Costs], tuple[int, ...]]]
Room = tuple[int, int, int, int]
AsOne = Callable[[int, int, int], bool | None]
Spot = tuple[int, int, int]
Fold = Callable[[Mapping[str, int]], int]


@dataclass(eq=False, kw_only=True)
class CornerCosts:
    """Corners of a graph. ``at``: corner between two edges; ``on``: the bends of an edge.

    ``cost`` and ``worst`` by corner and state; ``settled`` says which hold for good. ``look`` takes corners and a state
    and gives, by corner, cost and worst verdict in each of some states (that one among them), and those states.
    ``spots``: the bends of an edge that count for how close corners are, each with its distance from the tail and half
    its length [mm], those where it joins another (``joints``) among them; ``room``: what corners ask for before and
    after them in a state, how far off their arcs begin, and how much more after them leaves hardly an angle [mm];
    ``short_cost``: of each mm that is lacking; ``as_one``: whether two corners in a state are known to be driven as
    one, None where that is not looked at; ``accepts``: whether somebody accepted that a corner begins before the one
    behind it is over.

    ``told`` is called with the number of corners looked at at one go.

    ``returning``: the corner of turning round where an edge arrives, in several moves; ``in_one_go``, by edge and
    state, what turning round in one go costs more than its time, and its worst verdict.
    """

    at: Mapping[tuple[int, int], int] = field(default_factory=dict)
    on: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    returning: Mapping[int, int] = field(default_factory=dict)
    in_one_go: Mapping[tuple[int, int], tuple[int, int]] = field(default_factory=dict)
    cost: list[list[int]] = field(default_factory=list)
    worst: list[list[int]] = field(default_factory=list)
    settled: list[list[bool]] = field(default_factory=list)
    look: Look = lambda rows, state: ({}, ())
    spots: Mapping[int, tuple[Spot, ...]] = field(default_factory=dict)
    joints: frozenset[int] = frozenset()
    room: Callable[[list[int], int], list[Room]] = lambda rows, state: [(0, 0, 0, 0)] * len(rows)
    as_one: AsOne = lambda before, row, state: None
    accepts: Callable[[int], bool] = lambda row: False
    short_cost: int = 0
    told: Callable[[int], None] = lambda count: None
    _asks: dict[tuple[int, int], Room] = field(default_factory=dict)
    _unasked: dict[int, set[int]] = field(default_factory=dict)
    _least: dict[tuple[int, bool], dict[int, int | None]] = field(init=False, default_factory=dict)
    _touched: set[int] = field(init=False, default_factory=set)
    _at_first: list[int] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        """Note what corners that nothing is known of cost at least."""
        known = zip(self.settled, self.worst, strict=True)
        self._touched.update(row for row, (settled, worst) in enumerate(known) if any(settled) or any(worst))
        self._at_first += map(min, self.cost)

    def asks_mm(self, row: int, state: int) -> Room | None:
        """Give how much road a corner asks for before and after it, how far off its arcs begin, and how much more
        leaves hardly an angle [mm]; None until it is settled."""
        asked = self._asks.get((row, state))
        if asked is None and row in (rows := self._unasked.get(state, set())):
            order = sorted(rows)
            self._asks.update(zip(((each, state) for each in order), self.room(order, state), strict=True))
            rows.clear()
            asked = self._asks[row, state]
        return asked

    def least(self, row: int, worst: int, as_stated: bool) -> int | None:
        """Give what a corner costs at least in any state it is not shut in, as far as is known; None where it is shut
        in all."""
        if row not in self._touched:
            return self._at_first[row]
        kept = self._least.setdefault((worst, as_stated), {})
        if row not in kept:
            limit = SHUT if as_stated else worst
            costs = zip(self.cost[row], self.worst[row], strict=True)
            kept[row] = min((cost for cost, found in costs if found <= limit), default=None)
        return kept[row]

    def settle(self, wanted: Iterable[tuple[int, int]]) -> None:
        """Settle some corners in some states; those that are settled stay as they are."""
        by_state: dict[int, list[int]] = {}
        for row, state in wanted:
            if not self.settled[row][state]:
                by_state.setdefault(state, []).append(row)
        for state, rows in by_state.items():
            todo = [row for row in rows if not self.settled[row][state]]
            found, states = self.look(todo, state) if todo else ({}, ())
            self.told(len(found))
            for row, costs in found.items():
                for other, (cost, worst) in zip(states, costs, strict=True):
                    self.cost[row][other], self.worst[row][other] = cost, worst
                    self.settled[row][other] = True
                    self._unasked.setdefault(other, set()).add(row)
                self._touched.add(row)
                for kept in self._least.values():
                    kept.pop(row, None)

    def edge(self, edge: int, state: int) -> tuple[int, int]:
        """Give cost and worst verdict of all bends on an edge."""
        rows = self.on.get(edge, ())
        if not rows:
            return 0, 0
        return sum(self.cost[row][state] for row in rows), max(self.worst[row][state] for row in rows)


def corner_costs(turns: Turns, fold: Fold) -> CornerCosts:
    """Give the corners of one trip, none settled.

    Args:
        turns: the trip's corners
        fold: gives the aim's one integer for named components
    """
    case = turns.case
    time = np.ceil(turns.arc_m / case.scalar("turn.speed") * MS_PER_S).astype(np.int64)
    unit = fold({"time": 1})
    count, states = time.shape
    cost, worst = [[ms * unit for ms in row] for row in time.tolist()], [[0] * states for _ in range(count)]
    settled = [[False] * states for _ in range(count)]
    in_one_go, returning = _in_one_go(turns, fold), turns.corners.by_return
    for (edge, state), known in in_one_go.items():
        row = returning[edge]
        (cost[row][state], worst[row][state]), settled[row][state] = known, True
    return CornerCosts(
        at=turns.corners.by_pair,
        on=turns.corners.by_edge,
        returning=returning,
        in_one_go=in_one_go,
        cost=cost,
        worst=worst,
        settled=settled,
        look=lambda rows, state: _look(turns, fold, rows, state),
        spots=_spots(turns),
        joints=frozenset(_joints(turns).tolist()),
        room=lambda rows, state: _room(turns, rows, state),
        accepts=lambda row: bool(turns.accepted) and close_id(case, turns.corners, row) in turns.accepted,
        as_one=_once(lambda before, row, state: as_one(turns, before, row, state)),
        short_cost=fold({"unknown": 1}),
    )


def _in_one_go(turns: Turns, fold: Fold) -> dict[tuple[int, int], tuple[int, int]]:
    """Judge turning round in one go wherever there is room for it; give cost besides time and worst verdict."""
    out: dict[tuple[int, int], tuple[int, int]] = {}
    done: set[int] = set()
    for state in range(turns.circle.shape[1]):
        rows = np.flatnonzero(turns.circle[:, state])
        if state in done or not len(rows):
            continue
        costs, group = _look(turns, lambda parts: fold({**parts, "time": 0}), rows.tolist(), state)
        done |= set(group)
        for row, found in costs.items():
            edge = int(turns.corners.edge_in[row])
            out |= {(edge, each): cost for each, cost in zip(group, found, strict=True)}
    return out


def _spots(turns: Turns) -> dict[int, tuple[Spot, ...]]:
    """Give the bends of every edge in the order driven; one where two roads join is at the end of the first."""
    corners, network = turns.corners, turns.case.survey.network
    found: dict[int, list[Spot]] = {}
    for row in [*_joints(turns).tolist(), *np.flatnonzero(~np.isnan(corners.at_m)).tolist()]:
        edge, at = int(corners.edge_in[row]), float(corners.at_m[row])
        low, high = float(network.link_from_m[edge >> 1]), float(network.link_to_m[edge >> 1])
        along = high - low if np.isnan(at) else high - at if edge & 1 else at - low
        half = math.ceil(float(corners.half_m[row]) * MM_PER_M)
        found.setdefault(edge, []).append((row, round(min(max(along, 0.0), high - low) * MM_PER_M), half))
    return {edge: tuple(sorted(spots, key=lambda spot: spot[1])) for edge, spots in found.items()}


def _joints(turns: Turns) -> NDArray[np.int64]:
    """Give the bends where two roads join."""
    return np.flatnonzero(np.isnan(turns.corners.at_m) & turns.corners.bends)


def _once(look: AsOne) -> AsOne:
    known: dict[tuple[int, int, int], bool | None] = {}

    def once(before: int, row: int, state: int) -> bool | None:
        key = before, row, state
        if key not in known:
            known[key] = look(*key)
        return known[key]

    return once


def _room(turns: Turns, rows: list[int], state: int) -> list[Room]:
    asked = np.ceil(asks_m(turns, np.array(rows, dtype=np.int64), state) * MM_PER_M).astype(np.int64)
    return [(before, after, arcs, more) for before, after, arcs, more in asked.tolist()]


def _look(turns: Turns, fold: Fold, rows: list[int], state: int) -> tuple[dict[int, Costs], tuple[int, ...]]:
    """Judge corners in the states that share travel and steering with one state."""
    group = alike(turns.case, state)
    turns.judge(np.array(rows, dtype=np.int64), np.array(group, dtype=np.int64))
    named = {Verdict.BLOCKED: "blocked", Verdict.UNKNOWN: "unknown", Verdict.CAUTION: "caution"}
    out: dict[int, Costs] = {}
    for row in rows:
        out[row] = []
        for other in group:
            worst, (length, _, back) = Verdict(int(turns.worst[row, other])), turns.driven(row, other)
            mm = max(round(length * MM_PER_M), 1)
            exposed = mm if turns.exposed[row, other] else round(back * MM_PER_M)
            parts = {"time": math.ceil(turns.time_s(row, other) * MS_PER_S), "exposure": exposed}
            if worst == Verdict.BLOCKED and turns.corners.returns[row]:
                out[row].append((0, SHUT))
                continue
            if worst in named:
                count = int(turns.unknowns[row, other]) if worst == Verdict.UNKNOWN else 1
                parts[named[worst]] = mm * count
            out[row].append((fold(parts), int(worst)))
    return out, group


def alike(case: Case, state: int) -> tuple[int, ...]:
    """Give the states that turn alike: of one travel and steering mode."""
    states = case.configurations.states
    travel, _, steering, _ = states[state]
    return tuple(n for n, other in enumerate(states) if (other[0], other[2]) == (travel, steering))
