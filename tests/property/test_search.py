"""The search against plain words: every arrival settled, on thousands of small random graphs.

The oracle knows nothing of the search's own arcs, its folded cost or its bound. It says what a machine can do: it
arrives nose first or tail first; which travel takes it out again follows from where its nose points; turning round
flips the nose where there is room; a changed state asks for a place to stand. Costs are tuples, compared in order.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import pairwise
from typing import Any

import networkx as nx
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from travel.domain.verdict import Verdict
from travel.routing.ahead import Ahead
from travel.routing.arcs import Step, passable_up_to, successors
from travel.routing.graph import AIMS, Graph, fold_cost
from travel.routing.search import Way, find_way, nearest_reached

Label = tuple[int, int]
Cost = tuple[int, ...]


@dataclass
class Drawn:
    """A graph with its costs still apart: per edge and state, per manoeuvre."""

    graph: Graph
    parts: list[list[dict[str, int]]]
    change: dict[str, int]
    turn: dict[str, int]
    travels: list[str]

    def tuple_of(self, parts: dict[str, int]) -> Cost:
        return tuple(parts.get(name, 0) for name in self.graph.aim)


def draw(rng: random.Random, aim: str | None = None, ties: bool = False) -> Drawn:
    """Draw up to six places, up to nine links (loops and twins too), up to four states."""
    order = AIMS[aim or rng.choice(list(AIMS))]
    nodes, links, states = rng.randint(2, 6), rng.randint(1, 9), rng.randint(1, 4)
    ends = [(rng.randrange(nodes), rng.randrange(nodes)) for _ in range(links)]
    travels = [rng.choice(["forward", "reverse"]) for _ in range(states)]
    tail = [node for a, b in ends for node in (a, b)]
    head = [node for a, b in ends for node in (b, a)]
    leaving: list[list[int]] = [[] for _ in range(nodes)]
    for edge, node in enumerate(tail):
        leaving[node].append(edge)
    length = [rng.choice([1, 2, 5] if ties else range(1, 90)) for _ in ends]
    worst = np.array([[rng.choice([0, 0, 0, 1, 1, 2, 3]) for _ in range(states)] for _ in tail], dtype=np.uint8)
    parts = [
        [_parts(rng, Verdict(int(worst[e, s])), length[e >> 1], ties) for s in range(states)] for e in range(len(tail))
    ]
    change = {"time": rng.randint(0, 40), "changes": 1}
    turn = {"time": rng.randint(0, 90)}
    graph = Graph(
        tail=tail,
        head=head,
        leaving=leaving,
        states=states,
        cost=[[fold_cost(order, p) for p in row] for row in parts],
        worst=worst,
        length_mm=[length[e >> 1] for e in range(len(tail))],
        stand=[rng.random() < 0.5 for _ in tail],
        turn=[[rng.random() < 0.4 for _ in range(states)] for _ in range(nodes)],
        change_cost=fold_cost(order, change),
        turn_cost=fold_cost(order, turn),
        same_travel=[[a == b for b in travels] for a in travels],
        aim=order,
    )
    return Drawn(graph, parts, change, turn, travels)


def _parts(rng: random.Random, verdict: Verdict, length: int, ties: bool) -> dict[str, int]:
    named = {Verdict.BLOCKED: "blocked", Verdict.UNKNOWN: "unknown", Verdict.CAUTION: "caution"}
    return {
        "length": length,
        "time": length if ties else rng.randint(1, 400),
        "climb": rng.choice([0, 0, rng.randint(0, 30)]),
        "exposure": rng.choice([0, length]),
    } | ({named[verdict]: length} if verdict in named else {})


def leaves(drawn: Drawn, label: Label, worst: Verdict) -> list[tuple[Label, Cost]]:
    """Say what a machine that has arrived can do next, in the words of the module's docstring."""
    graph, (edge, state) = drawn.graph, label
    node = graph.head[edge]
    nose_back = drawn.travels[state] == "reverse"  # its nose points at the road it came by
    change, turn = drawn.tuple_of(drawn.change), drawn.tuple_of(drawn.turn)
    out = []
    for nxt in (edge for edge, tail in enumerate(graph.tail) if tail == node):
        for to in range(graph.states):
            if graph.worst[nxt, to] > worst:
                continue
            wants_nose_back = (nxt == edge ^ 1) == (drawn.travels[to] == "forward")
            flip = wants_nose_back != nose_back
            may_stand = graph.stand[edge]
            room = graph.turn[node][state] or (may_stand and graph.turn[node][to])
            if (flip and not room) or (to != state and not may_stand):
                continue
            cost = drawn.tuple_of(drawn.parts[nxt][to])
            cost = plus(cost, change) if to != state else cost
            out.append(((nxt, to), plus(cost, turn) if flip else cost))
    return out


def plus(a: Cost, b: Cost) -> Cost:
    return tuple(map(int.__add__, a, b))


def added(drawn: Drawn, *spent: dict[str, int]) -> Cost:
    return tuple(sum(column) for column in zip(*(drawn.tuple_of(p) for p in spent), strict=True))


def oracle(drawn: Drawn, start: int, goal: int, worst: Verdict, came: Label | None = None) -> Cost | None:
    """Settle every arrival there is, least cost tuple first; give the least of those at the goal."""
    graph, best = drawn.graph, dict[Label, Cost]()
    if came is None:
        first = [((e, s), drawn.tuple_of(drawn.parts[e][s])) for e in range(len(graph.tail)) if graph.tail[e] == start
                 for s in range(graph.states) if graph.worst[e, s] <= worst]  # fmt: skip
    else:
        first = leaves(drawn, came, worst)
    todo = [(cost, label) for label, cost in first]
    heapify(todo)
    while todo:
        cost, label = heappop(todo)
        if label in best:
            continue
        best[label] = cost
        for to, more in leaves(drawn, label, worst):
            heappush(todo, (plus(cost, more), to))
    return min((cost for (edge, _), cost in best.items() if graph.head[edge] == goal), default=None)


def check_way(drawn: Drawn, way: Way, start: int, goal: int, worst: Verdict, came: Step | None) -> None:
    """The way joins, is open, and its parts add up to its cost."""
    graph, spent = drawn.graph, []
    assert graph.tail[way.steps[0].edge] == start
    assert graph.head[way.steps[-1].edge] == goal
    before = came
    for step in way.steps:
        assert graph.worst[step.edge, step.state] <= worst
        spent.append(drawn.parts[step.edge][step.state])
        if before is None:
            assert step.before == "start"
            assert step.old_state is None
        else:
            assert graph.head[before.edge] == graph.tail[step.edge]
            assert step.old_state == before.state
            back, same = step.edge == before.edge ^ 1, drawn.travels[step.state] == drawn.travels[before.state]
            flip, change = back == same, step.state != before.state
            kind = "turn_round" if flip else "travel_change" if back else "change" if change else "drive"
            assert step.before == kind
            spent += [drawn.change] if change else []
            spent += [drawn.turn] if flip else []
        before = step
    total = dict(zip(graph.aim, added(drawn, *spent), strict=True))
    assert graph.parts(way.cost) == total


def check(drawn: Drawn, start: int, goal: int, came: Step | None = None, library: bool = True) -> None:
    """Everything that must hold of one question, at every level of what may be driven over."""
    graph = drawn.graph
    label = (came.edge, came.state) if came else None
    found = {}
    for worst in Verdict:
        way = found[worst] = find_way(graph, start, goal, worst, came)
        expected = oracle(drawn, start, goal, worst, label)
        if start == goal:
            assert way == Way(steps=(), cost=0)
            continue
        assert (way is None) == (expected is None)
        if way is not None:
            assert drawn.tuple_of(graph.parts(way.cost)) == expected
            check_way(drawn, way, start, goal, worst, came)
            assert not library or way.cost == plain_dijkstra(graph, start, goal, worst, came)
    if start != goal:
        check_passes(drawn, found, nearest_reached(graph, start, goal, came))


def check_passes(drawn: Drawn, found: dict[Verdict, Way | None], near: tuple[Way | None, int]) -> None:
    """Metres unknown (blocked) are zero exactly where a way without them exists; more open never costs more."""
    for name, without, within in (("unknown", Verdict.CAUTION, Verdict.UNKNOWN),
                                  ("blocked", Verdict.UNKNOWN, Verdict.BLOCKED)):  # fmt: skip
        way = found[within]
        if found[without] is not None:
            assert way is not None
            assert way.cost <= found[without].cost
        if way is not None:
            assert (drawn.graph.parts(way.cost)[name] == 0) == (found[without] is not None)
    way, driven = near
    assert (way is None) == (found[Verdict.BLOCKED] is None)
    if way is not None:
        assert way.cost == found[Verdict.BLOCKED].cost
        shut = [drawn.graph.worst[step.edge, step.state] == Verdict.BLOCKED for step in way.steps]
        assert driven == (shut.index(True) if any(shut) else len(shut))


def plain_dijkstra(graph: Graph, start: int, goal: int, worst: Verdict, came: Step | None) -> int:
    """Give the cost by an explicit graph of arrivals and another library's search."""
    passable, arcs = passable_up_to(graph, worst), nx.DiGraph()
    arcs.add_node("start")
    first: Any = successors(graph, came.edge, came.state, passable) if came else (
        (graph.cost[e][s], e, s, "start") for e in graph.leaving[start] for s in range(graph.states) if passable(e, s)
    )  # fmt: skip
    for cost, edge, state, _ in first:
        arcs.add_edge("start", (edge, state), weight=cost)
    for edge in range(len(graph.tail)):
        for state in range(graph.states):
            if graph.head[edge] == goal:
                arcs.add_edge((edge, state), "goal", weight=0)
            for cost, nxt, to, _ in successors(graph, edge, state, passable):
                arcs.add_edge((edge, state), (nxt, to), weight=cost)
    return nx.dijkstra_path_length(arcs, "start", "goal")


def check_bound(drawn: Drawn, goal: int) -> None:
    """The bound never overestimates what is left, and falls by no more than what follows costs: A* never reopens."""
    graph = drawn.graph
    for worst in (Verdict.CAUTION, Verdict.BLOCKED):
        passable = passable_up_to(graph, worst)
        for start in range(len(graph.leaving)):
            ahead = Ahead(graph, start, goal, worst)
            if ahead.far is None:
                assert oracle(drawn, start, goal, worst) is None or start == goal
                continue
            for edge, state in itertools.product(range(len(graph.tail)), range(graph.states)):
                assert ahead.of(edge) <= (0 if graph.head[edge] == goal else ahead.far)
                for cost, nxt, _, _ in successors(graph, edge, state, passable, worst):
                    assert ahead.of(edge) <= cost + ahead.of(nxt)
            if start != goal:
                left = oracle(drawn, start, goal, worst)
                if left is not None:
                    assert ahead.far <= fold_cost(graph.aim, dict(zip(graph.aim, left, strict=True)))


def questions(rng: random.Random, drawn: Drawn) -> list[tuple[int, int, Step | None]]:
    nodes = len(drawn.graph.leaving)
    edge, state = rng.randrange(len(drawn.graph.tail)), rng.randrange(drawn.graph.states)
    came = Step(edge=edge, state=state, before="drive")
    return [(rng.randrange(nodes), rng.randrange(nodes), None), (drawn.graph.head[edge], rng.randrange(nodes), came)]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.randoms(use_true_random=False), st.sampled_from(list(AIMS)), st.booleans())
def test_no_way_is_cheaper_than_the_one_found(rng, aim, ties):
    drawn = draw(rng, aim, ties)
    for start, goal, came in questions(rng, drawn):
        check(drawn, start, goal, came)


@pytest.mark.slow
@pytest.mark.parametrize("block", range(4))
def test_no_way_is_cheaper_over_thousands_of_graphs(block):
    for seed in range(block * 500, (block + 1) * 500):
        rng = random.Random(seed)
        drawn = draw(rng, ties=seed % 3 == 0)
        check(drawn, *questions(rng, drawn)[seed % 2], library=seed % 8 == 0)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.randoms(use_true_random=False))
def test_bound_is_consistent_and_never_too_large(rng):
    drawn = draw(rng)
    check_bound(drawn, rng.randrange(len(drawn.graph.leaving)))


def test_random_graphs_hold_what_the_tests_are_about():
    """Guard: the graphs drawn do have ways with changes, turning round, reversing, and questions without answer."""
    kinds: dict[str, int] = {}
    for seed in range(400):
        rng = random.Random(seed)
        drawn = draw(rng)
        for start, goal, came in questions(rng, drawn):
            way = find_way(drawn.graph, start, goal, Verdict.UNKNOWN, came)
            for name in ["none"] if way is None else [step.before for step in way.steps]:
                kinds[name] = kinds.get(name, 0) + 1
    assert all(kinds.get(kind, 0) >= 5 for kind in ("none", "start", "drive", "change", "turn_round", "travel_change"))


@pytest.mark.parametrize("aim", AIMS)
def test_folded_cost_comes_apart_and_keeps_the_order(aim):
    rng = random.Random(1)
    drawn = draw(rng, aim)
    rows = [{name: rng.choice([0, 1, 7, 2**43]) for name in AIMS[aim]} for _ in range(200)]
    folded = [fold_cost(AIMS[aim], row) for row in rows]
    for row, cost in zip(rows, folded, strict=True):
        assert drawn.graph.parts(cost) == row
    by_tuple = sorted(range(200), key=lambda i: tuple(rows[i][name] for name in AIMS[aim]))
    assert all(folded[a] <= folded[b] for a, b in pairwise(by_tuple))


def test_facing_at_the_start_matters():
    """A dead end without room: come in nose first, out again only in reverse, and only where one may stand."""

    def graph(**changes):
        rng = random.Random(0)
        drawn = draw(rng, "exposure")
        base = {
            name: getattr(drawn.graph, name) for name, made in drawn.graph.__dataclass_fields__.items() if made.init
        }
        plain = {"tail": [0, 1], "head": [1, 0], "leaving": [[0], [1]], "states": 2, "cost": [[5, 7], [5, 7]],
                 "worst": np.zeros((2, 2), dtype=np.uint8), "length_mm": [1, 1], "stand": [False, False],
                 "turn": [[False] * 2] * 2, "change_cost": 100, "turn_cost": 1000,
                 "same_travel": [[True, False], [False, True]]}  # fmt: skip
        return Graph(**(base | plain | changes))

    came = Step(edge=0, state=0, before="start")
    assert find_way(graph(), 1, 0, Verdict.CLEAR, came) is None
    reverse = find_way(graph(stand=[True, False]), 1, 0, Verdict.CLEAR, came)
    assert reverse is not None
    assert [(s.state, s.before) for s in reverse.steps] == [(1, "travel_change")]
    assert reverse.cost == 107
    turned = find_way(graph(turn=[[False] * 2, [True] * 2]), 1, 0, Verdict.CLEAR, came)
    assert turned is not None
    assert [(s.state, s.before) for s in turned.steps] == [(0, "turn_round")]
    assert turned.cost == 1005
    assert find_way(graph(), 1, 0, Verdict.CLEAR) is not None, "the first start may face either way"


def test_enumerating_every_way_finds_none_cheaper():
    """No clever order at all: every way without a repeated arrival, on graphs small enough for it."""
    compared = 0
    for seed in range(300):
        rng = random.Random(seed)
        drawn = draw(rng)
        if len(drawn.graph.tail) * drawn.graph.states > 12:
            continue
        start, goal = 0, len(drawn.graph.leaving) - 1
        ways = [cost for cost in every_way(drawn, start, goal, Verdict.UNKNOWN)]
        found = find_way(drawn.graph, start, goal, Verdict.UNKNOWN)
        assert (found is None) == (not ways)
        if found is not None:
            compared += 1
            assert drawn.tuple_of(drawn.graph.parts(found.cost)) == min(ways)
    assert compared >= 25


def every_way(drawn: Drawn, start: int, goal: int, worst: Verdict) -> Iterator[Cost]:
    graph = drawn.graph
    stack = [
        (frozenset([(e, s)]), (e, s), drawn.tuple_of(drawn.parts[e][s]))
        for e in graph.leaving[start]
        for s in range(graph.states)
        if graph.worst[e, s] <= worst
    ]
    while stack:
        seen, label, cost = stack.pop()
        if graph.head[label[0]] == goal:
            yield cost
            continue
        for to, more in leaves(drawn, label, worst):
            if to not in seen:
                stack.append((seen | {to}, to, plus(cost, more)))
