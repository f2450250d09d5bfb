"""What may follow the arrivals of a graph: the same as its successors, each list kept once."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from tests.property.test_search import draw
from travel.domain.verdict import Verdict
from travel.routing.arcs import successors
from travel.routing.follows import arrival_number, follows_of


@pytest.mark.parametrize("seed", range(20))
def test_lists_are_the_successors_of_every_arrival(seed: int) -> None:
    graph = replace(draw(random.Random(seed)).graph, as_stated=True)
    follows = follows_of(graph)
    for edge in range(len(graph.tail)):
        for state in range(graph.states):
            after = successors(graph, edge, state, lambda edge, state: True, Verdict.BLOCKED)
            found = follows.lists[follows.of(edge, state)]
            assert [at for at, _ in found] == [arrival_number(graph, nxt, to) for _, nxt, to, _ in after]
    assert len(follows.lists) == len(set(follows.lists))
    assert follows_of(graph) is follows


def test_states_that_can_be_changed_into_each_other_share_a_list() -> None:
    drawn = next(graph for graph in (draw(random.Random(seed)).graph for seed in range(20)) if graph.states > 2)
    graph = replace(
        drawn,
        stand=[True] * len(drawn.tail),
        turn=[[False] * drawn.states for _ in drawn.leaving],
        same_travel=[[True] * drawn.states for _ in range(drawn.states)],
    )
    for edge in range(len(graph.tail)):
        assert len({follows_of(graph).of(edge, state) for state in range(graph.states)}) == 1
