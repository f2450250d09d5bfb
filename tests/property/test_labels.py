"""What follows a label of the search, as kept, against what one arc after the other comes to, while corners are
settled in between."""

from __future__ import annotations

import random

from tests.property.test_search_corners import Cornered
from travel.domain.verdict import Verdict
from travel.routing.arcs import passable_up_to, successors
from travel.routing.closeness import CAP_MM, NOTHING_BEHIND, Behind, corner_at, driven
from travel.routing.labels import Label, Stood, labels_up_to

WORST = (Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED)


def one_by_one(made: Cornered, label: Label, worst: Verdict) -> list[tuple[int, Label, str]]:
    """Give what follows a label, nothing kept."""
    graph, (edge, state, behind), out = made.drawn.graph, label, []
    for cost, nxt, to, kind in successors(graph, edge, state, passable_up_to(graph, worst), worst):
        left, short = driven(graph, behind, kind, corner_at(graph, edge, kind, nxt), (nxt, to), state)
        lacking = sum(mm for row, mm in short if not graph.corners.accepts(row))
        if not lacking or worst >= Verdict.UNKNOWN:
            out.append((cost + graph.corners.short_cost * lacking, (nxt, to, left), kind))
    return out


def some_road_behind(rng: random.Random, rows: int) -> Behind:
    """Give road behind a label: plenty, a little, or a corner that is not over yet."""
    if rng.random() < 0.2:
        return NOTHING_BEHIND
    free = rng.choice([rng.randint(-40, 120), rng.randint(0, CAP_MM)])
    if rng.random() < 0.3:
        return free, rng.randint(max(free, 0), CAP_MM), rng.randint(1, 60), rng.randrange(rows)
    return free, free, 0, rng.choice([-1, rng.randrange(rows)])


def test_what_is_kept_is_what_comes_of_every_arc() -> None:
    short = dear = changed = 0
    for seed in range(400):
        rng = random.Random(seed)
        made = Cornered(rng, "exposure")
        graph, rows = made.drawn.graph, len(made.truth)
        if not rows:
            continue
        asks = {row: (rng.randint(0, 60), rng.randint(0, 60), rng.choice([0, rng.randint(1, 40)]), rng.randint(0, 90))
                for row in range(rows)}  # fmt: skip
        graph.corners.room = lambda some, state, asks=asks: [asks[row] for row in some]
        graph.corners.as_one = lambda before, row, state: (None, True, False)[(before + row + state) % 3]
        graph.corners.short_cost = 1
        for _ in range(6):
            for _ in range(4):
                edge, state = rng.randrange(len(graph.tail)), rng.randrange(graph.states)
                label, worst = (edge, state, some_road_behind(rng, rows)), rng.choice(WORST)
                expected = sorted(one_by_one(made, label, worst))
                stood: Stood = {}
                assert sorted(labels_up_to(graph, worst).next(label, stood)) == expected
                once = sorted(labels_up_to(graph, worst).next(label, stood))  # it came there before itself
                assert not stood or once == [arc for arc in expected if arc[2] != "change"]
                changed += stood != {} and once != expected
                dear += any(cost > 0 for cost, _, _ in expected)
                short += label[2][0] < max(asks[0])
            graph.corners.settle([(rng.randrange(rows), rng.randrange(graph.states)) for _ in range(3)])
    assert short > 500
    assert dear > 500
    assert changed > 500
