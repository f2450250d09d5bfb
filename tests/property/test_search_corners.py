"""The search with corners against plain words: corners that shut, that cost, that are looked at only when a way takes
them, bends on links, standing changes, turning round in one go and in moves; every way enumerated, or every arrival
settled, on thousands of small graphs.
"""

from __future__ import annotations

import random
from collections.abc import Container, Iterator
from heapq import heapify, heappop, heappush
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.planning import settle_all
from tests.property.test_search import Cost, Drawn, Label, draw, plus
from travel.domain.verdict import Verdict
from travel.routing import search
from travel.routing.ahead import Ahead
from travel.routing.arcs import Step, passable_up_to, successors
from travel.routing.cornering import SHUT, CornerCosts
from travel.routing.graph import AIMS, fold_cost
from travel.routing.reach import reached
from travel.routing.search import corners_of, find_way, nearest_reached

Parts = dict[str, int]
NAMED = {Verdict.BLOCKED: "blocked", Verdict.UNKNOWN: "unknown", Verdict.CAUTION: "caution"}


class Cornered:
    """A drawn graph whose corners and bends have a truth that the search has to ask for."""

    def __init__(self, rng: random.Random, aim: str) -> None:
        self.drawn: Drawn = draw(rng, aim)
        graph = self.drawn.graph
        self.at: dict[Label, int] = {}
        self.on: dict[int, tuple[int, ...]] = {}
        self.truth: list[list[tuple[Parts, int]]] = []
        self.asked = 0
        for edge, head in enumerate(graph.head):
            for nxt in graph.leaving[head]:
                if nxt != edge ^ 1 and rng.random() < 0.7:
                    self.at[edge, nxt] = self._add(rng, graph.states)
        for edge in range(len(graph.tail)):
            if rng.random() < 0.15:
                self.on[edge] = tuple(self._add(rng, graph.states) for _ in range(rng.randint(1, 2)))
        self.returning = {edge: self._add(rng, graph.states, True) for edge in range(len(graph.tail))
                          if rng.random() < 0.5}  # fmt: skip
        self.one_go: dict[Label, tuple[Parts, int]] = {}
        for edge, row in self.returning.items():
            for state, room in enumerate(graph.turn[graph.head[edge]]):
                if room:
                    parts, verdict = self.truth[row][state]
                    self.one_go[edge, state] = {**parts, "time": 0}, verdict
        order = graph.aim
        self.groups = [rng.randrange(2) for _ in range(graph.states)]
        graph.corners.__init__(  # type: ignore[misc]
            at=self.at,
            on=self.on,
            returning=self.returning,
            in_one_go={at: (fold_cost(order, parts), worst) for at, (parts, worst) in self.one_go.items()},
            cost=[[fold_cost(order, {"time": parts["time"]}) for parts, _ in row] for row in self.truth],
            worst=[[0] * graph.states for _ in self.truth],
            settled=[[False] * graph.states for _ in self.truth],
            look=self._look,
        )
        for edge, state in self.one_go:
            graph.corners.settle([(self.returning[edge], state)])

    @classmethod
    def of(cls, drawn: Drawn, settled: CornerCosts) -> Cornered:
        """Give a graph whose corners have all been looked at, as their truth."""
        made = cls.__new__(cls)
        made.drawn, made.at, made.on = drawn, dict(settled.at), dict(settled.on)
        made.returning = dict(settled.returning)
        made.one_go = {at: (drawn.graph.parts(cost), worst) for at, (cost, worst) in settled.in_one_go.items()}
        made.truth = [
            [(drawn.graph.parts(cost), worst) for cost, worst in zip(*row, strict=True)]
            for row in zip(settled.cost, settled.worst, strict=True)
        ]
        return made

    def _add(self, rng: random.Random, states: int, returns: bool = False) -> int:
        row: list[tuple[Parts, int]] = []
        for _ in range(states):
            verdict, arc = Verdict(rng.choice([0, 0, 0, 1, 1, 2, 3])), rng.randint(1, 60)
            parts = {"time": rng.randint(0, 80), "exposure": rng.choice([0, 0, arc])}
            if returns and verdict == Verdict.BLOCKED:
                row.append(({"time": 0}, SHUT))
                continue
            row.append((parts | ({NAMED[verdict]: arc} if verdict in NAMED else {}), verdict))
        self.truth.append(row)
        return len(self.truth) - 1

    def _look(self, rows: list[int], state: int) -> Any:
        self.asked += len(rows)
        states = tuple(s for s, group in enumerate(self.groups) if group == self.groups[state])
        order = self.drawn.graph.aim
        return {row: [(fold_cost(order, self.truth[row][s][0]), int(self.truth[row][s][1])) for s in states]
                for row in rows}, states  # fmt: skip

    def link(self, edge: int, state: int, worst: Verdict) -> Cost | None:
        """Give what a link costs with its bends, None where it or a bend on it is shut."""
        graph = self.drawn.graph
        bends = [self.truth[row][state] for row in self.on.get(edge, ())]
        if graph.worst[edge, state] > worst or any(verdict > worst for _, verdict in bends):
            return None
        cost = self.drawn.tuple_of(self.drawn.parts[edge][state])
        for parts, _ in bends:
            cost = plus(cost, self.drawn.tuple_of(parts))
        return cost

    def leaves(self, label: Label, worst: Verdict) -> Iterator[tuple[Label, Cost]]:
        """Say what a machine that has arrived can do next: in words, not with the search's own arcs."""
        drawn, graph, (edge, state) = self.drawn, self.drawn.graph, label
        node = graph.head[edge]
        nose_back = drawn.travels[state] == "reverse"
        for nxt in (e for e, tail in enumerate(graph.tail) if tail == node):
            for to in range(graph.states):
                cost = self.link(nxt, to, worst)
                if cost is None:
                    continue
                flip = ((nxt == edge ^ 1) == (drawn.travels[to] == "forward")) != nose_back
                may_stand = graph.stand[edge]
                after = graph.turn[node][to] and (may_stand or to == state)
                rooms = [each for each, room in ((state, graph.turn[node][state]), (to, after)) if room]
                moves = may_stand and nxt == edge ^ 1 and not rooms and edge in self.returning
                if (flip and not rooms and not moves) or (to != state and not may_stand):
                    continue
                row = None if flip or nxt == edge ^ 1 else self.at.get((edge, nxt))
                if flip and moves:
                    row = self.returning[edge]
                elif flip:
                    every = (self.one_go.get((edge, each), ({}, 0)) for each in rooms)
                    costs = [drawn.tuple_of({"time": 0, **parts}) for parts, verdict in every if verdict <= worst]
                    if not costs:
                        continue
                    cost = plus(cost, min(costs))
                if row is not None:
                    parts, verdict = self.truth[row][to]
                    if verdict > worst:
                        continue
                    cost = plus(cost, drawn.tuple_of(parts))
                cost = plus(cost, drawn.tuple_of(drawn.change)) if to != state else cost
                yield (nxt, to), plus(cost, drawn.tuple_of(drawn.turn)) if flip and not moves else cost

    def first(self, start: int, worst: Verdict, came: Label | None) -> list[tuple[Label, Cost]]:
        graph = self.drawn.graph
        if came is not None:
            return list(self.leaves(came, worst))
        every = [((e, s), self.link(e, s, worst)) for e in graph.leaving[start] for s in range(graph.states)]
        return [(label, cost) for label, cost in every if cost is not None]

    def oracle(
        self, start: int, goal: int, worst: Verdict, came: Label | None, last: Container[Label] | None = None
    ) -> Cost | None:
        """Settle every arrival there is, least cost first; give the least of those at the goal, of ``last`` alone."""
        best: dict[Label, Cost] = {}
        todo = [(cost, label) for label, cost in self.first(start, worst, came)]
        heapify(todo)
        while todo:
            cost, label = heappop(todo)
            if label not in best:
                best[label] = cost
                for to, more in self.leaves(label, worst):
                    heappush(todo, (plus(cost, more), to))
        heads = self.drawn.graph.head
        ends = (cost for at, cost in best.items() if heads[at[0]] == goal and (last is None or at in last))
        return min(ends, default=None)

    def enumerated(self, start: int, goal: int, worst: Verdict, came: Label | None) -> Cost | None:
        """Try every way that repeats no arrival."""
        found: Cost | None = None
        todo = [(frozenset([label]), label, cost) for label, cost in self.first(start, worst, came)]
        while todo:
            seen, label, cost = todo.pop()
            if self.drawn.graph.head[label[0]] == goal:
                found = cost if found is None or cost < found else found
                continue
            todo += [(seen | {to}, to, plus(cost, more)) for to, more in self.leaves(label, worst) if to not in seen]
        return found


def ask(rng: random.Random, made: Cornered) -> tuple[int, int, Step | None]:
    graph = made.drawn.graph
    goal = rng.randrange(len(graph.leaving))
    if rng.random() < 0.5:
        return rng.randrange(len(graph.leaving)), goal, None
    came = Step(edge=rng.randrange(len(graph.tail)), state=rng.randrange(graph.states), before="drive")
    return graph.head[came.edge], goal, came


def check(rng: random.Random, made: Cornered, enumerate_all: bool) -> dict[str, int]:
    """Compare the search with the oracle, least verdict first, so that later searches find corners settled."""
    start, goal, came = ask(rng, made)
    label = None if came is None else (came.edge, came.state)
    counts = {"none": 0, "corner": 0, "bend": 0, "round": 0, "moves": 0}
    if start == goal:
        return counts
    graph, at = made.drawn.graph, set(made.at.values())
    for worst in (Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED):
        expected = made.oracle(start, goal, worst, label)
        if enumerate_all:
            assert expected == made.enumerated(start, goal, worst, label)
        way = find_way(graph, start, goal, worst, came)
        assert (way is None) == (expected is None)
        if way is None:
            counts["none"] += 1
            continue
        assert made.drawn.tuple_of(graph.parts(way.cost)) == expected
        for _, row, state in corners_of(graph, way.steps, came):
            assert graph.corners.settled[row][state], "a way rests on a corner nobody looked at"
            assert made.truth[row][state][1] <= worst
            counts["corner" if row in at else "bend"] += row not in made.returning.values()
        for kind, name in (("turn_round", "round"), ("turn_in_moves", "moves")):
            counts[name] += sum(step.before == kind for step in way.steps)
    blocked, driven = nearest_reached(graph, start, goal, came)
    if blocked is not None:
        shut = {number for number, row, state in corners_of(graph, blocked.steps, came)
                if made.truth[row][state][1] == Verdict.BLOCKED}  # fmt: skip
        shut |= {n for n, step in enumerate(blocked.steps) if graph.worst[step.edge, step.state] == Verdict.BLOCKED}
        assert driven == min(shut, default=len(blocked.steps))
    return counts


@settings(max_examples=1000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 2**32), st.sampled_from(list(AIMS)))
def test_no_way_is_cheaper_than_the_one_found(seed: int, aim: str) -> None:
    rng = random.Random(seed)
    check(rng, Cornered(rng, aim), enumerate_all=False)


@settings(max_examples=1000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 2**32), st.sampled_from(list(AIMS)))
def test_enumerating_every_way_finds_none_cheaper(seed: int, aim: str) -> None:
    rng = random.Random(seed)
    made = Cornered(rng, aim)
    small = len(made.drawn.graph.tail) * made.drawn.graph.states <= 8
    check(rng, made, enumerate_all=small)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 2**32), st.floats(0.0, 1.0))
def test_the_bound_holds_however_much_is_settled(seed: int, share: float) -> None:
    """It falls by no more than what follows costs, and never as corners are looked at."""
    rng = random.Random(seed)
    made = Cornered(rng, "exposure")
    graph, (start, goal, _) = made.drawn.graph, ask(rng, made)
    for worst in (Verdict.CAUTION, Verdict.UNKNOWN):
        ahead = Ahead(graph, start, goal, worst)
        before = [ahead.of(edge) for edge in range(len(graph.tail))]
        corners = [(row, state) for row in range(len(made.truth)) for state in range(graph.states)]
        graph.corners.settle(at for at in corners if rng.random() < share)
        old = ahead.far
        ahead.look()
        if ahead.far is None:
            assert find_way(graph, start, goal, worst) is None or start == goal
            continue
        assert old is not None
        assert old <= ahead.far
        passable = passable_up_to(graph, worst)
        for edge, least in enumerate(before):
            assert ahead.of(edge) >= least
            for state in range(graph.states):
                for cost, nxt, _, _ in successors(graph, edge, state, passable, worst):
                    assert ahead.of(edge) <= cost + ahead.of(nxt)


def test_a_way_that_may_not_end_anyhow_is_the_cheapest_that_ends_so() -> None:
    others = none = 0
    for seed in range(600):
        rng = random.Random(seed)
        made = Cornered(rng, "time")
        start, goal, came = ask(rng, made)
        graph = made.drawn.graph
        ends = [(edge, s) for edge, head in enumerate(graph.head) if head == goal for s in range(graph.states)]
        if start == goal or not ends:
            continue
        last = frozenset(rng.sample(ends, rng.randint(1, len(ends))))
        label = None if came is None else (came.edge, came.state)
        for worst in (Verdict.CAUTION, Verdict.UNKNOWN):
            expected = made.oracle(start, goal, worst, label, last)
            way = find_way(graph, start, goal, worst, came, last)
            assert (way is None) == (expected is None)
            none += way is None
            if way is not None:
                assert made.drawn.tuple_of(graph.parts(way.cost)) == expected
                assert (way.steps[-1].edge, way.steps[-1].state) in last
                others += expected != made.oracle(start, goal, worst, label)
    assert min(others, none) >= 30


def test_settling_many_at_once_changes_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search, "FEW_ROUNDS", 0)
    monkeypatch.setattr(search, "FEW_CORNERS", 2)
    for seed in range(300):
        rng = random.Random(seed)
        check(rng, Cornered(rng, "exposure"), enumerate_all=False)


def test_random_graphs_hold_what_the_tests_are_about() -> None:
    """Guard: ways do go round corners and bends, some have none, and not every corner is looked at."""
    totals = {"none": 0, "corner": 0, "bend": 0, "round": 0, "moves": 0}
    asked = there = 0
    for seed in range(300):
        rng = random.Random(seed)
        made = Cornered(rng, "time")
        for name, count in check(rng, made, enumerate_all=False).items():
            totals[name] += count
        asked, there = asked + made.asked, there + len(made.truth)
    assert totals.pop("moves") >= 5
    assert min(totals.values()) >= 30
    assert asked < there


def test_corners_settled_once_and_never_cheaper() -> None:
    rng = random.Random(5)
    made = Cornered(rng, "time")
    corners: CornerCosts = made.drawn.graph.corners
    before = [list(row) for row in corners.cost]
    settle_all(corners)
    asked = made.asked
    settle_all(corners)
    assert made.asked == asked
    assert all(a <= b for old, new in zip(before, corners.cost, strict=True) for a, b in zip(old, new, strict=True))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 2**32), st.sampled_from(list(AIMS)))
def test_one_search_for_all_places_finds_what_one_for_each_does(seed: int, aim: str) -> None:
    """Corners ask for road before and after them as well."""
    made = [asking_for_road(random.Random(seed), aim) for _ in range(2)]
    (together, alone), nodes = (each.drawn.graph for each in made), range(len(made[0].drawn.graph.leaving))
    start = seed % len(nodes)
    for worst in (Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED):
        ways = reached(together, start, worst, nodes)
        for goal in nodes:
            way = find_way(alone, start, goal, worst)
            assert (way is None) == (goal not in ways)
            if way is None:
                continue
            assert ways[goal].cost == way.cost
            assert not way.steps or together.head[ways[goal].steps[-1].edge] == goal
            assert all(together.corners.settled[row][state]
                       for _, row, state in corners_of(together, ways[goal].steps, None))  # fmt: skip


def asking_for_road(rng: random.Random, aim: str) -> Cornered:
    made = Cornered(rng, aim)
    corners, rows = made.drawn.graph.corners, range(len(made.truth))
    asks = {row: (rng.choice([0, rng.randint(0, 60)]), rng.randint(0, 60), rng.choice([0, rng.randint(1, 40)]),
                  rng.randint(0, 90)) for row in rows}  # fmt: skip
    corners.room = lambda some, state: [asks[row] for row in some]
    corners.as_one = lambda before, row, state: (None, True, False)[(before + row + state) % 3]
    corners.short_cost = 1
    return made
