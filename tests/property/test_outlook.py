"""What else a graph offers, against plain words on small random graphs: every link taken out, the oracle asked.

The oracle is that of the search's own tests; it knows nothing of bounds, lumps or dearer links.
"""

from __future__ import annotations

import dataclasses
import random

import numpy as np

from tests.property.test_search import Drawn, check_way, draw, leaves, oracle
from travel.domain.verdict import Verdict
from travel.routing.outlook import (
    SHARED_MOST_RATIO,
    Ask,
    ask,
    cuts,
    links_of,
    other_ways,
    shut,
    single_links,
    turns_back,
)

SEEDS = 800
WORST = Verdict.CAUTION


def drawn_way(seed: int):
    """Draw a graph with a way over it, or None."""
    rng = random.Random(seed)
    drawn = draw(rng)
    nodes = len(drawn.graph.leaving)
    question = Ask(start=0, goal=nodes - 1, worst=WORST)
    way = ask(drawn.graph, question)
    return None if way is None or not way.steps else (drawn, question, way)


def without(drawn: Drawn, links: set[int]) -> Drawn:
    worst = drawn.graph.worst.copy()
    for link in links:
        worst[[2 * link, 2 * link + 1]] = 200
    graph = dataclasses.replace(drawn.graph, worst=worst)
    return Drawn(graph, drawn.parts, drawn.change, drawn.turn, drawn.travels)


def test_single_links_are_those_whose_loss_leaves_no_way():
    seen = {"none": 0, "some": 0, "not a bridge": 0}
    for seed in range(SEEDS):
        case = drawn_way(seed)
        if case is None:
            continue
        drawn, question, way = case
        links = range(len(drawn.graph.tail) // 2)
        wanted = {
            link for link in links if oracle(without(drawn, {link}), question.start, question.goal, WORST) is None
        }
        assert single_links(drawn.graph, question, way) == wanted, seed
        seen["some" if wanted else "none"] += 1
        seen["not a bridge"] += any(on_foot(drawn, question, link) for link in wanted)
    assert min(seen.values()) > 20, f"the draw shows every kind: {seen}"


def on_foot(drawn: Drawn, question: Ask, without_link: int) -> bool:
    """Tell whether the goal is still joined to the start by open links, direction and state aside."""
    graph, reached = drawn.graph, {question.start}
    for _ in graph.leaving:
        for edge, tail in enumerate(graph.tail):
            link = edge >> 1
            is_open = link != without_link and graph.worst[2 * link : 2 * link + 2].min() <= WORST
            if is_open and tail in reached:
                reached.add(graph.head[edge])
    return question.goal in reached


def test_other_ways_are_ways_that_differ_and_cost_what_they_say():
    found = 0
    for seed in range(SEEDS):
        case = drawn_way(seed)
        if case is None:
            continue
        drawn, question, way = case
        graph = drawn.graph
        single = single_links(graph, question, way)
        others = other_ways(graph, question, way, single, 2)
        found += len(others)
        known = [way]
        for other in others:
            check_way(drawn, other.way, question.start, question.goal, WORST, None)
            assert other.way.cost >= way.cost
            for earlier in known:
                theirs = set(links_of(earlier)) - single
                shared = sum(graph.length_mm[2 * link] for link in theirs & set(links_of(other.way)))
                assert shared <= SHARED_MOST_RATIO * sum(graph.length_mm[2 * link] for link in theirs)
            known.append(other.way)
        if not others and set(links_of(way)) - single:
            assert not disjoint_exists(drawn, question, set(links_of(way)) - single), seed
    assert found > 50


def disjoint_exists(drawn: Drawn, question: Ask, links: set[int]) -> bool:
    """Tell whether a way shares nothing that can be gone round."""
    return oracle(without(drawn, links), question.start, question.goal, WORST) is not None


def test_cuts_is_the_oracle_without_all_of_them():
    for seed in range(400):
        case = drawn_way(seed)
        if case is None:
            continue
        drawn, question, way = case
        links = set(random.Random(seed).sample(links_of(way), k=min(2, len(links_of(way)))))
        gone = oracle(without(drawn, links), question.start, question.goal, WORST) is None
        assert cuts(drawn.graph, question, links) == gone


def test_turning_back_is_a_turn_and_a_way_home():
    """Turned round at the head of a step, every state tried, then settled by the oracle without the link ahead."""
    seen = {True: 0, False: 0}
    for seed in range(SEEDS):
        case = drawn_way(seed)
        if case is None or len(case[2].steps) < 2:
            continue
        drawn, question, way = case
        came, ahead = way.steps[0], way.steps[1].edge >> 1
        left = without(drawn, {ahead})
        back = came.edge ^ 1
        nose = drawn.travels[came.state]
        turned = [
            label
            for label, _ in leaves(left, (came.edge, came.state), WORST)
            if label[0] == back and drawn.travels[label[1]] == nose
        ]
        home = any(
            left.graph.head[back] == question.start
            or oracle(left, left.graph.head[back], question.start, WORST, label) is not None
            for label in turned
        )
        assert turns_back(drawn.graph, question.start, WORST, came, ahead) == home, seed
        seen[home] += 1
    assert min(seen.values()) > 20, seen


def test_a_shut_link_is_shut_both_ways_in_every_state():
    drawn, *_ = next(case for case in map(drawn_way, range(50)) if case)
    left = shut(drawn.graph, {0})
    assert (left.worst[:2] > Verdict.BLOCKED).all()
    assert np.array_equal(left.worst[2:], drawn.graph.worst[2:])
    assert drawn.graph.worst[:2].max() <= Verdict.BLOCKED
