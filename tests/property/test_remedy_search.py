"""Least sets against plain enumeration: on random graphs, and on random small sites planned again and again."""

from __future__ import annotations

import functools
import random
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.property.test_search import draw
from tests.unit.planning.remedy_cases import FLAT, book, opens, question_of
from travel.domain.plan import RemedyPart
from travel.domain.site import Site
from travel.domain.verdict import Verdict
from travel.planning import remedy_search
from travel.planning.remedy_list import remedies_of
from travel.planning.remedy_phases import Phase, Phases
from travel.planning.remedy_search import least_openings
from travel.routing import follows
from travel.routing.cornering import CornerCosts
from travel.routing.graph import Graph
from travel.routing.search import find_way

NUMBER = 7


def drawn_phase(seed: int) -> Phase:
    """Draw a graph with nearly every link shut, each asking for one or two small sets; at least two sets open it."""
    rng = random.Random(seed)
    while True:
        graph = draw(rng).graph
        if graph.states > 2 or len(graph.leaving) < 3:
            continue
        worst = np.array([[rng.choice([1, 2, 3, 3, 3, 3, 3]) for _ in range(graph.states)] for _ in graph.tail])
        needs = {}
        for edge, state in zip(*np.nonzero(worst == Verdict.BLOCKED), strict=True):
            sets = [sum(1 << n for n in rng.sample(range(NUMBER), rng.randint(1, 3))) for _ in range(rng.randint(1, 2))]
            needs[int(edge), int(state)] = tuple(sets)
        start, goal = rng.sample(range(len(graph.leaving)), 2)
        bends, opened = drawn_corners(rng, graph)
        length_mm = [1000 * length for length in graph.length_mm]
        graph = replace(graph, worst=worst.astype(np.uint8), length_mm=length_mm, corners=bends)
        phase = Phase(graph=graph, needs=needs, start=start, goal=goal, corners=opened)
        if len(least_masks(phase)) > 1:
            return phase


def drawn_corners(rng: random.Random, graph: Graph) -> tuple[CornerCosts, dict[tuple[int, int], tuple[int, ...]]]:
    """Draw corners between edges and bends on them, settled, some of them shut, and what opens most of those."""
    pairs = [(edge, nxt) for edge in range(len(graph.tail)) for nxt in graph.leaving[graph.head[edge]]]
    pairs = [pair for pair in pairs if pair[1] != pair[0] ^ 1 and rng.random() < 0.5]
    bent = [edge for edge in range(len(graph.tail)) if rng.random() < 0.3]
    count = len(pairs) + len(bent)
    worst = [[rng.choice([0, 1, 3, 3]) for _ in range(graph.states)] for _ in range(count)]
    needs = {
        (row, state): tuple(1 << rng.randrange(NUMBER) for _ in range(rng.randint(1, 2)))
        for row in range(count)
        for state in range(graph.states)
        if worst[row][state] == Verdict.BLOCKED and rng.random() < 0.9
    }
    corners = CornerCosts(
        at={pair: row for row, pair in enumerate(pairs)},
        on={edge: (len(pairs) + number,) for number, edge in enumerate(bent)},
        cost=[[0] * graph.states for _ in range(count)],
        worst=worst,
        settled=[[True] * graph.states for _ in range(count)],
    )
    return corners, needs


def is_open(phase: Phase, mask: int) -> bool:
    """Tell by the plain search whether a way is open with a set bought."""
    worst = phase.graph.worst.copy()
    for key, sets in phase.needs.items():
        if any(one & mask == one for one in sets):
            worst[key] = Verdict.CAUTION
    corners = [list(row) for row in phase.graph.corners.worst]
    for (row, state), sets in phase.corners.items():
        if any(one & mask == one for one in sets):
            corners[row][state] = int(Verdict.CAUTION)
    graph = replace(phase.graph, worst=worst, corners=replace(phase.graph.corners, worst=corners))
    return find_way(graph, phase.start, phase.goal, Verdict.UNKNOWN) is not None


@functools.cache
def least_masks(phase: Phase) -> frozenset[int]:
    """Give every set that opens and holds no smaller one that does, by trying all that hold none, the small first."""
    least: list[int] = []
    for mask in sorted(range(1 << NUMBER), key=int.bit_count):
        if not any(one & mask == one for one in least) and is_open(phase, mask):
            least.append(mask)
    return frozenset(least)


@pytest.mark.parametrize("seed", range(80))
def test_every_least_set_is_found_cheapest_first(seed: int) -> None:
    phase = drawn_phase(seed)
    rng = random.Random(seed)
    prices = [rng.randint(1, 20) for _ in range(NUMBER)]
    found = [opening.mask for opening in least_openings((phase,), prices)]
    assert len(found) == len(set(found))
    assert set(found) == least_masks(phase)
    cost = [sum(p for n, p in enumerate(prices) if mask >> n & 1) for mask in found]
    assert cost == sorted(cost)


def test_what_follows_an_arrival_is_looked_up_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, int]] = []
    successors = follows.successors

    def noted(graph: Graph, edge: int, state: int, *args: Any) -> Any:
        asked.append((edge, state))
        return successors(graph, edge, state, *args)

    monkeypatch.setattr(follows, "successors", noted)
    assert len(list(least_openings((drawn_phase(3),), [1] * NUMBER))) > 1
    assert len(asked) == len(set(asked))


def test_purchases_only_ever_bought_together_are_left_out_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    phase = drawn_phase(5)
    doubled = {key: tuple(mask | mask << NUMBER for mask in masks) for key, masks in phase.needs.items()}
    corners = {key: tuple(mask | mask << NUMBER for mask in masks) for key, masks in phase.corners.items()}
    barred: list[int] = []
    repriced = remedy_search._repriced

    def noted(phases: Phases, prices: list[int], shut: int) -> Any:
        barred.append(shut)
        return repriced(phases, prices, shut)

    monkeypatch.setattr(remedy_search, "_repriced", noted)
    monkeypatch.setattr(remedy_search, "MOST_LABELS", 0)
    single = [opening.mask for opening in least_openings((phase,), [2] * NUMBER)]
    asked, barred[:] = list(barred), []
    twice = [opening.mask for opening in least_openings((replace(phase, needs=doubled, corners=corners),), [1] * 14)]
    assert twice == [mask | mask << NUMBER for mask in single]
    assert barred == asked
    assert len(asked) > 1


@pytest.mark.parametrize("seed", range(40))
def test_additive_prices_open_too_and_never_undercut(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    phase = drawn_phase(1000 + seed)
    rng = random.Random(seed)
    prices = [rng.randint(1, 20) for _ in range(NUMBER)]
    least = least_masks(phase)
    monkeypatch.setattr(remedy_search, "MOST_LABELS", 0)
    found = [opening.mask for opening in least_openings((phase,), prices)]
    assert bool(found) == bool(least)
    assert all(is_open(phase, mask) for mask in found)
    if found:
        best = min(sum(p for n, p in enumerate(prices) if mask >> n & 1) for mask in least)
        assert min(sum(p for n, p in enumerate(prices) if mask >> n & 1) for mask in found) >= best


def drawn_site(seed: int) -> tuple[Site, dict[str, tuple[RemedyPart, ...]]]:
    """Draw a site of five places with things in the way; give what removes each.

    Slabs may cover two roads at once, so that a remedy is shared.
    """
    rng = random.Random(seed)
    spots = [(0.0, 0.0), (60.0, 40.0), (60.0, -40.0), (120.0, 0.0), (60.0, 0.0)]
    pairs = [pair for pair in combinations(range(5), 2) if pair not in ((0, 3), (1, 2))]
    rng.shuffle(pairs)
    roads: list[dict[str, Any]] = []
    limits: list[dict[str, Any]] = []
    overheads: list[dict[str, Any]] = []
    fixes: dict[str, tuple[RemedyPart, ...]] = {}
    for number, (a, b) in enumerate(pairs[: rng.randint(5, 7)]):
        (x0, y0), (x1, y1) = spots[a], spots[b]
        name = f"r{number}"
        roads.append({"id": name, "xyz": [(x0, y0, 10.0), (x1, y1, 10.0)], **FLAT})
        at = ((x0 + x1) / 2, (y0 + y1) / 2)
        if len(fixes) > 9:
            continue
        kind = rng.choice(["gateway", "pipe", "slab", "none", "gateway", "pipe"])
        if kind == "gateway":
            limits.append({"id": f"g{number}", "xy": at, "kind": "gateway", "road": name, "width_m": 2.0})
            fixes[f"g{number}"] = (part("limits", f"g{number}", "width_m", 9.0),)
        elif kind == "pipe":
            away = (at[0] - (y1 - y0) / 10, at[1] + (x1 - x0) / 10)
            line = [away, (2 * at[0] - away[0], 2 * at[1] - away[1])]
            overheads.append({"id": f"o{number}", "xy": line, "kind": "pipe", "road": name, "clearance_m": 2.0})
            fixes[f"o{number}"] = (part("overheads", f"o{number}", "clearance_m", 9.0),)
    for spot in rng.sample(range(1, 5), rng.randint(1, 2)):
        x, y = spots[spot]
        if spot != 3:
            ring = [(x - 6, y - 6), (x + 6, y - 6), (x + 6, y + 6), (x - 6, y + 6)]
            limits.append({"id": f"s{spot}", "polygon": ring, "kind": "slab", "gross_kg": 5000.0})
            fixes[f"s{spot}"] = (part("limits", f"s{spot}", "gross_kg", 60000.0),)
    places = [
        {"id": f"p{n}", "xy": xy, "kind": "turning", "may_stop": True, "turn_radius_m": 15.0}
        for n, xy in enumerate(spots)
        if any(n in pair for pair in pairs[: len(roads)])
    ]
    return make_site(roads, places, limits=limits, overheads=overheads), fixes


def part(layer: str, feature: str, field: str, value: float) -> RemedyPart:
    return RemedyPart(layer=layer, feature=feature, field=field, old=None, value=value)


@pytest.mark.parametrize("seed", range(1, 11))
def test_least_found_is_the_least_of_all_sets(seed: int) -> None:
    site, fixes = drawn_site(seed)
    rulebook = book(lambda row: row.layer in ("limits", "overheads"), price_per_unit=0.0)
    rows = {row.id: row.price for row in rulebook.remedies}
    price = {"g": rows["widen-gateway"], "o": rows["raise-overhead"], "s": rows["strengthen-structure"]}
    question = question_of(site, rulebook, places=("p0", "p3"))
    assert not opens(question, ())
    assert len(fixes) <= 12
    sets = [some for size in range(1, len(fixes) + 1) for some in combinations(fixes, size)]
    sets.sort(key=lambda some: sum(price[name[0]] for name in some))
    least = next((s for s in sets if opens(question, tuple(p for name in s for p in fixes[name]))), None)
    found = [remedy for remedy in remedies_of(question) if remedy.kind == "change"]
    assert bool(found) == (least is not None)
    if least is not None:
        assert found[0].cost == pytest.approx(sum(price[name[0]] for name in least))
        assert opens(question, found[0].amendments)
