"""The graph the search runs on: directed links × states, with what each costs and where one may stand or turn.

Edge ``2·link`` drives a link as its road is drawn, ``2·link + 1`` the other way; ``edge ^ 1`` is the way back. No arcs
are stored: an arrival's successors follow from the place it arrives at.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from travel.checks import Case, Turns, free_to_turn, may_stand
from travel.domain.verdict import Verdict
from travel.routing.choice import MM_PER_M, MS_PER_S, Choice
from travel.routing.cornering import CornerCosts, corner_costs

if TYPE_CHECKING:
    from travel.routing.ahead import Backwards
    from travel.routing.follows import Follows
    from travel.routing.labels import Labels

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

AIMS: dict[str, tuple[str, ...]] = {
    "exposure": ("blocked", "unknown", "exposure", "caution", "time", "length"),
    "time": ("blocked", "unknown", "time", "exposure", "caution", "length"),
    "climb": ("blocked", "unknown", "climb", "exposure", "caution", "time", "length"),
    "changes": ("blocked", "unknown", "changes", "exposure", "caution", "time", "length"),
    "shortest": ("blocked", "unknown", "length", "exposure", "caution", "time"),
}
NOTHING = (0, 0)
BITS = 44
"""Width of one component: 17 592 km in millimetres, 557 years in milliseconds."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Graph:
    """Directed links × states. ``cost`` folds the aim's components into one integer, most important first.

    ``worst`` the worst verdict on a link in a state; ``stand`` where a configuration may be changed standing still at
    the head of an edge; ``turn`` where a node has room to turn round in one go, state by state. ``cost`` and ``worst``
    are of the links alone; what corners and bends add, and turning round, stands apart in ``corners``, and is settled
    when a way takes them. ``as_stated``: where the site states room to turn round in one go nothing else is asked of
    it, and turning round that is shut is passed: who asks looks after it. ``kept``: what follows labels of searches,
    and ``backwards``: what is before links, by the worst verdict driven over, as far as they were asked for;
    ``follows``: what may follow arrivals whatever is shut, once it was asked for.
    """

    tail: list[int]
    head: list[int]
    leaving: list[list[int]]
    states: int
    cost: list[list[int]]
    worst: NDArray[np.uint8]
    length_mm: list[int]
    stand: list[bool]
    turn: list[list[bool]]
    change_cost: int
    turn_cost: int
    same_travel: list[list[bool]]
    aim: tuple[str, ...]
    corners: CornerCosts = field(default_factory=CornerCosts)
    as_stated: bool = False
    kept: dict[Verdict, Labels] = field(init=False, default_factory=dict)
    backwards: dict[Verdict, Backwards] = field(init=False, default_factory=dict)
    follows: list[Follows] = field(init=False, default_factory=list)

    def round_state(self, edge: int, state: int, to: int) -> int | None:
        """Give the state in which turning round in one go is best where an edge arrives: that before or, changed
        standing, that after; None where neither has room."""
        rooms, found = self.turn[self.head[edge]], self.corners.in_one_go
        after = rooms[to] and (to == state or self.stand[edge])
        free = [each for each, room in ((state, rooms[state]), (to, after)) if room]

        def order(each: int) -> tuple[bool, int]:
            cost, worst = found.get((edge, each), NOTHING)
            return worst > Verdict.BLOCKED, cost

        return min(free, key=order, default=None)

    def round_cost(self, edge: int, state: int, to: int) -> tuple[int, int]:
        """Give what turning round in one go costs besides its time, and the worst verdict on it."""
        each = self.round_state(edge, state, to)
        return NOTHING if each is None or self.as_stated else self.corners.in_one_go.get((edge, each), NOTHING)

    def parts(self, cost: int) -> dict[str, int]:
        """Take a folded cost apart again."""
        out = {}
        for name in reversed(self.aim):
            out[name] = cost & ((1 << BITS) - 1)
            cost >>= BITS
        return out


def fold_cost(aim: tuple[str, ...], parts: dict[str, Any]) -> Any:
    """Fold components into one integer, the first the most important (plain integers: they never overflow)."""
    total: Any = 0
    for name in aim:
        total = (total << BITS) + parts.get(name, 0)
    return total


def make_graph(case: Case, choice: Choice, aim: str = "exposure", turns: Turns | None = None) -> Graph:
    """Give the graph of one trip.

    Args:
        case: the trip
        choice: the best gear on every piece
        aim: which way is best, a key of ``AIMS``
        turns: the corners of the trip; None = none are looked at
    """
    network = case.survey.network
    order = AIMS[aim]
    starts = np.asarray(network.link_piece_start)
    sums = {name: _per_link(values, starts) for name, values in _components(case, choice).items()}
    links, states = len(starts), choice.worst.shape[2]
    worst = np.maximum.reduceat(choice.worst, starts, axis=0)
    cost = [
        [
            fold_cost(order, {name: int(values[link, way, state]) for name, values in sums.items()})
            for state in range(states)
        ]
        for link in range(links)
        for way in range(2)
    ]
    tail = [int(v) for pair in zip(network.link_a, network.link_b, strict=True) for v in pair]
    head = [int(v) for pair in zip(network.link_b, network.link_a, strict=True) for v in pair]
    leaving: list[list[int]] = [[] for _ in range(len(network.node_xy))]
    for edge, node in enumerate(tail):
        leaving[node].append(edge)
    keys = case.configurations.states
    change_s, turn_s = case.scalar("hold.change_time"), case.scalar("turn.round_time")
    return Graph(
        tail=tail,
        head=head,
        leaving=leaving,
        states=states,
        cost=cost,
        worst=worst.reshape(links * 2, states),
        length_mm=[int(v) for v in np.repeat(np.add.reduceat(choice.length_mm, starts), 2)],
        stand=may_stand(case).tolist(),
        turn=turns.free_to_turn if turns else free_to_turn(case),
        change_cost=fold_cost(order, {"time": int(change_s * MS_PER_S), "changes": 1}),
        turn_cost=fold_cost(order, {"time": int(turn_s * MS_PER_S)}),
        same_travel=[[a[0] == b[0] for b in keys] for a in keys],
        aim=order,
        corners=corner_costs(turns, partial(fold_cost, order)) if turns else CornerCosts(),
    )


def _components(case: Case, choice: Choice) -> dict[str, Ints]:
    """Give what each piece costs. Metres in another steering mode than front count once more, like metres of caution: a
    driver keeps to front steering where it will do (common practice, no source)."""
    length = choice.length_mm.reshape(-1, 1, 1)
    rise = np.nan_to_num(case.window.grade_worst) * case.survey.pieces.length_m * MM_PER_M
    climb = np.stack([np.maximum(rise, 0), np.maximum(-rise, 0)], axis=1).reshape(-1, 2, 1)
    worst = choice.worst
    turned = np.array([state[2] != "front" for state in case.configurations.states])
    return {
        "blocked": np.where(worst == Verdict.BLOCKED, length, 0),
        "unknown": np.where(worst == Verdict.UNKNOWN, length * choice.unknowns, 0),
        "exposure": np.where(choice.exposed, length, 0),
        "caution": np.where(worst == Verdict.CAUTION, length, 0) + np.where(turned, length, 0),
        "time": choice.time_ms,
        "climb": np.broadcast_to(np.rint(climb).astype(np.int64), worst.shape),
        "length": np.broadcast_to(length, worst.shape),
    }


def _per_link(values: Ints, starts: Ints) -> Ints:
    return np.asarray(np.add.reduceat(values, starts, axis=0))
