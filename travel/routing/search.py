"""The search: arrivals (a link driven in one direction in one state) steered by a bound looked for backwards.

Before each search, Dijkstra backwards from the goal over directed links (``routing/ahead.py``) gives what is left at
least; A* over arrivals is then exact. Corners of the way found that were not looked at before are settled, which only
ever makes them dearer, and the way is searched again until none is left. Where that goes on, corners are settled in
waves as a search comes to them, so that few ways have to be found in vain.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from travel.domain.verdict import Verdict
from travel.routing.ahead import Ahead
from travel.routing.arcs import (
    Kind,
    Step,
    first_driven,
    onward,
    passable_up_to,
    rows_of,
)
from travel.routing.closeness import too_close
from travel.routing.graph import NOTHING, Graph
from travel.routing.labels import Label, Stood, labels_up_to


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A way: its steps and its folded cost."""

    steps: tuple[Step, ...]
    cost: int


Origin = dict[Label, tuple[Label | None, Kind]]
"""By label the one before it, and what happened between the two."""
Arrivals = frozenset[tuple[int, int]]
"""Arrivals: edge and state."""
_Waiting = tuple[int, int, int, int, int, int]
"""An arrival that waits: least cost to the goal by it, cost with and without its corners, edge, state, corner (−1 for
none)."""
FEW_ROUNDS, FEW_CORNERS, MOST_CORNERS = 12, 64, 2048
"""After so many searches corners are settled in waves of at least so many and at most so many."""
MORE = 4
"""After each search so many times as many corners as after the one before."""
WAVE, DEEP = 4, 4
"""A wave has a part of the corners settled before, and takes arrivals as dear as that part beyond what they cost at
least."""


def find_way(
    graph: Graph, start: int, goal: int, worst: Verdict, came: Step | None = None, last: Arrivals | None = None
) -> Way | None:
    """Give the cheapest way from one node to another, or None.

    Args:
        graph: the trip's graph
        start, goal: nodes
        worst: the worst verdict still driven over
        came: how the machine stands at the start (its last step); None = it may face either way, in any state
        last: the arrivals at the goal (edge, state) it may end with; None = any
    """
    if start == goal:
        return Way(steps=(), cost=0)
    ahead = Ahead(graph, start, goal, worst)
    for rounds in itertools.count():
        if ahead.far is None:
            return None
        way = _cheapest(graph, (start, goal), worst, came, ahead, last)
        if way is None or not _settled_anew(graph, way, worst, came):
            return way
        if rounds >= FEW_ROUNDS:
            _waves_from(graph, start, worst, came, ahead).settle(goal, FEW_CORNERS * MORE ** (rounds - FEW_ROUNDS))
            ahead.look()
    return None


def _waves_from(graph: Graph, start: int, worst: Verdict, came: Step | None, ahead: Ahead) -> _Waves:
    """Give waves that have not left the start."""
    waves = _Waves(graph, worst, ahead)
    for before, edge, state, _, row in first_driven(graph, start, came, passable_up_to(graph, worst)):
        waves.push(before, edge, state, row)
    return waves


@dataclass(eq=False)
class _Waves:
    """A search whose arrivals wait for their corners to be settled. One is taken up again where it turns out cheaper
    than before, so that others need not wait with it."""

    graph: Graph
    worst: Verdict
    ahead: Ahead
    heap: list[_Waiting] = field(default_factory=list)
    best: dict[tuple[int, int], int] = field(default_factory=dict)

    def settle(self, goal: int, most: int) -> None:
        """Settle corners that a search has to look at before it knows the cheapest way, or that there is none: those it
        comes to before the goal, and few more; no more waves once so many were looked at in this call."""
        looked = 0
        while looked < most:
            wanted, waiting = self.next(goal, max(FEW_CORNERS, looked // WAVE))
            if not wanted:
                return
            looked += len(wanted)
            self.graph.corners.settle(wanted)
            for _, _, before, edge, state, row in waiting:
                self.push(before, edge, state, None if row < 0 else row)

    def push(self, before: int, edge: int, state: int, row: int | None) -> None:
        """Let an arrival wait, ``before`` its corners are added to what it costs; none where one of them is shut."""
        graph, rows = self.graph, rows_of(self.graph, edge, row)
        if any(graph.corners.worst[each][state] > self.worst for each in rows):
            return
        cost = before + sum(graph.corners.cost[each][state] for each in rows)
        if cost < self.best.get((edge, state), cost + 1):
            heapq.heappush(
                self.heap, (cost + self.ahead.of(edge), cost, before, edge, state, -1 if row is None else row)
            )

    def next(self, goal: int, few: int) -> tuple[set[tuple[int, int]], list[_Waiting]]:
        """Give the corners to settle next, no fewer than ``few`` where there are, and the arrivals that wait for them.

        None where the goal is come to before any.
        """
        graph, heap, settled = self.graph, self.heap, self.graph.corners.settled
        passable, limit = passable_up_to(graph, self.worst), 0
        wanted, waiting = set[tuple[int, int]](), list[_Waiting]()
        while heap and len(wanted) < MOST_CORNERS and (heap[0][0] <= limit or len(wanted) < few):
            one = least, cost, before, edge, state, row = heapq.heappop(heap)
            if cost >= self.best.get((edge, state), cost + 1):
                continue
            rows = rows_of(graph, edge, None if row < 0 else row)
            unsettled = [(each, state) for each in rows if not settled[each][state]]
            if unsettled:
                limit = limit if wanted else least + (least - (self.ahead.far or 0)) // DEEP
                wanted.update(unsettled)
                waiting.append(one)
                continue
            if cost < before + sum(graph.corners.cost[each][state] for each in rows):
                self.push(before, edge, state, None if row < 0 else row)  # settled since for another arrival
                continue
            if graph.head[edge] == goal:
                heapq.heappush(heap, one)
                break
            self.best[edge, state] = cost
            for more, nxt, to, kind, corner in onward(graph, edge, state, passable):
                extra, shut = graph.round_cost(edge, state, to) if kind == "turn_round" else NOTHING
                if shut <= self.worst:
                    self.push(cost + more + extra, nxt, to, corner)
        return wanted, waiting


def _cheapest(
    graph: Graph,
    ends: tuple[int, int],
    worst: Verdict,
    came: Step | None,
    ahead: Ahead,
    last: Arrivals | None,
) -> Way | None:
    """Give the cheapest way by what is known of the corners so far."""
    labels, (start, goal), head = labels_up_to(graph, worst), ends, graph.head
    best: dict[Label, int] = {}
    origin: Origin = {}
    heap: list[tuple[int, int, Label]] = []
    most: dict[tuple[int, int], int] = {}
    stood: Stood = {}

    def push(before: int, behind: Label | None, arcs: Iterable[tuple[int, Label, Kind]]) -> None:
        for extra, label, kind in arcs:
            cost, old = before + extra, best.get(label)
            if old is None or cost < old:
                best[label], origin[label] = cost, (behind, kind)
                heapq.heappush(heap, (cost + ahead.of(label[0]), cost, label))

    push(0, None, labels.first(start, came))
    while heap:
        _, cost, label = heapq.heappop(heap)
        edge, state, (free, *_) = label
        if most.get((edge, state), free - 1) >= free:  # another one came cheaper, and with as much road behind it
            continue
        most[edge, state] = free
        if head[edge] == goal and (last is None or (edge, state) in last):
            return Way(steps=traced(origin, label, came), cost=cost)
        push(cost, label, labels.next(label, stood))
    return None


def corners_of(graph: Graph, steps: tuple[Step, ...], came: Step | None) -> Iterator[tuple[int, int, int]]:
    """Give the corners of some steps in the order driven: number of the step, corner, state."""
    before = came
    for number, step in enumerate(steps):
        if before is not None and step.before != "travel_change":
            row, state = _driven(graph, before, step)
            if row is not None:
                yield number, row, state
        for row in graph.corners.on.get(step.edge, ())[:: -1 if step.edge & 1 else 1]:
            yield number, row, step.state
        before = step


def _driven(graph: Graph, before: Step, step: Step) -> tuple[int | None, int]:
    """Give the corner between two steps and the state it is driven in; None for none."""
    corners = graph.corners
    if step.before == "turn_in_moves":
        return corners.returning.get(before.edge), step.state
    if step.before != "turn_round":
        return corners.at.get((before.edge, step.edge)), step.state
    state = graph.round_state(before.edge, before.state, step.state)
    return (None, step.state) if state is None else (corners.returning.get(before.edge), state)


def _settled_anew(graph: Graph, way: Way, worst: Verdict, came: Step | None) -> bool:
    """Settle the corners of a way; say whether that made it dearer or shut it."""
    rows = {(row, state) for _, row, state in corners_of(graph, way.steps, came)}
    corners = graph.corners
    old = {(row, state): corners.cost[row][state] for row, state in rows if not corners.settled[row][state]}
    short = list(too_close(graph, way.steps, came))
    corners.settle(old)
    dearer = any(corners.cost[row][state] > cost or corners.worst[row][state] > worst
                 for (row, state), cost in old.items())  # fmt: skip
    return dearer or list(too_close(graph, way.steps, came)) != short


def traced(origin: Origin, label: Label, came: Step | None) -> tuple[Step, ...]:
    """Give the steps to a label, by what each label came from."""
    steps = []
    at: Label | None = label
    while at is not None:
        before, kind = origin[at]
        old = before[1] if before else came.state if came else None
        steps.append(Step(edge=at[0], state=at[1], before=kind, old_state=old))
        at = before
    return tuple(reversed(steps))


def nearest_reached(graph: Graph, start: int, goal: int, came: Step | None = None) -> tuple[Way | None, int]:
    """Give the least-blocked way when none is open, and how many of its first steps can be driven."""
    way = find_way(graph, start, goal, Verdict.BLOCKED, came)
    return way, 0 if way is None else drivable_steps(graph, way, came)


def drivable_steps(graph: Graph, way: Way, came: Step | None) -> int:
    """Give how many of the first steps of a least-blocked way can be driven."""
    shut = {number for number, row, state in corners_of(graph, way.steps, came)
            if graph.corners.worst[row][state] == Verdict.BLOCKED}  # fmt: skip
    for number, step in enumerate(way.steps):
        if number in shut or graph.worst[step.edge, step.state] == Verdict.BLOCKED:
            return number
    return len(way.steps)
