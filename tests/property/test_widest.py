"""Directed widest paths against reachability on the edges that let a quantity through, by networkx."""

from __future__ import annotations

import random
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest

from travel.routing.reach import driven_on, widest


@pytest.mark.parametrize("seed", range(120))
def test_the_greatest_that_gets_there_is_the_greatest_threshold_with_a_path(seed: int) -> None:
    """With what corners let through a node is an edge, and a corner joins two."""
    rng = random.Random(seed)
    nodes, cornered = rng.randint(2, 9), seed % 2 == 1
    ends = [tuple(rng.sample(range(nodes), 2)) for _ in range(rng.randint(1, 22))]
    tail, head = [a for a, _ in ends], [b for _, b in ends]
    capacity = np.array([rng.choice([-np.inf, 1.0, 2.0, 3.0, 4.0, np.inf]) for _ in ends])
    corner = {
        (one, two): rng.choice([-np.inf, 1.5, 2.5, np.inf])
        for one in range(len(ends))
        for two in range(len(ends))
        if cornered and head[one] == tail[two]
    }
    roads = driven_on(tail, head, nodes, {pair: row for row, pair in enumerate(corner)})
    found = widest(roads, capacity.tolist(), [*corner.values(), np.inf], 0)
    for node in range(1, nodes):
        best = -np.inf
        for least in (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, np.inf):
            graph = nx.DiGraph()
            graph.add_nodes_from(["start", node])
            graph.add_edges_from(("start", ("e", e)) for e in range(len(ends)) if tail[e] == 0 and capacity[e] >= least)
            graph.add_edges_from((("e", e), node) for e in range(len(ends)) if head[e] == node and capacity[e] >= least)
            graph.add_edges_from(
                (("e", one), ("e", two))
                for one in range(len(ends))
                for two in range(len(ends))
                if head[one] == tail[two] and min(capacity[one], capacity[two], corner.get((one, two), np.inf)) >= least
            )
            if nx.has_path(graph, "start", node):
                best = least
        assert found.least[node] == best
        way = found.way(node)
        if best > -np.inf:
            assert tail[way[0]] == 0
            assert head[way[-1]] == node
            through = [*capacity[way], *(corner.get(pair, np.inf) for pair in pairwise(way))]
            assert min(through) == best
