"""What else the graph offers: links whose loss cuts every way, ways that really differ, room to turn back.

Everything asks the same exact search again, over the same graph with some links shut or made dearer.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from travel.domain.verdict import Verdict
from travel.routing.arcs import Step, passable_up_to, successors
from travel.routing.graph import BITS, Graph
from travel.routing.search import Way, find_way

SHARED_MOST_RATIO = 0.5
"""A way differs when it goes round at least half of what can be gone round of each way before it."""
SHUT = np.uint8(255)
"""Worse than any verdict."""
WEIGHT = 2
"""What a shared metre weighs against one of the aim's own, before sharing as little as possible comes first of all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One question to a graph: from where to where, how bad may be driven over, how the machine stands at the start."""

    start: int
    goal: int
    worst: Verdict
    came: Step | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """Another way: ``shared_mm`` of the best way's links are driven again, ``cut_mm`` of them had to be."""

    way: Way
    shared_mm: int
    cut_mm: int


def links_of(way: Way) -> tuple[int, ...]:
    """Give the links of a way in the order first driven, each once."""
    return tuple(dict.fromkeys(step.edge >> 1 for step in way.steps))


def shut(graph: Graph, links: Collection[int]) -> Graph:
    """Give the graph without some links, in both directions and every state."""
    worst = graph.worst.copy()
    rows = np.array(sorted(links), dtype=np.int64) * 2
    worst[rows] = worst[rows + 1] = SHUT
    return replace(graph, worst=worst)


def ask(graph: Graph, question: Ask) -> Way | None:
    """Search."""
    return find_way(graph, question.start, question.goal, question.worst, question.came)


# --- what every way needs -------------------------------------------------------------------------------------------


def single_links(graph: Graph, question: Ask, best: Way) -> frozenset[int]:
    """Give the links without which no way is left: those every way drives.

    Only links shared with the way that shares least with the best one can be among them. A link whose loss parts start
    and goal even for somebody on foot over every open link is one; each of the rest is taken out and the search asked
    again, and a way found without it clears every other link it does not need either.

    Args:
        graph, question: what was asked
        best: its answer
    """
    links = links_of(best)
    dearer, _ = _dearer(graph, links, 1, len(graph.aim) - 2)
    least = ask(dearer, question)
    left = set(links) & set(links_of(least)) if least else set(links)
    single = _parting(graph, question, left)
    open_ = [link for link in links if link in left and link not in single]
    while open_:
        link = open_.pop(0)
        found = ask(shut(graph, {link}), question)
        if found is None:
            single.add(link)
        else:
            needed = set(links_of(found))
            open_ = [other for other in open_ if other in needed]
    return frozenset(single)


def cuts(graph: Graph, question: Ask, links: Collection[int]) -> bool:
    """Tell whether no way is left once all these links are lost together."""
    return ask(shut(graph, links), question) is None


def _parting(graph: Graph, question: Ask, candidates: set[int]) -> set[int]:
    """Give the candidates that part start and goal, whatever direction and state: exact for those, silent on others.

    What hangs together without any candidate is one lump; the candidates are the few links between lumps.
    """
    open_link = (graph.worst.reshape(-1, 2 * graph.states).min(axis=1) <= question.worst).tolist()
    root = list(range(len(graph.leaving)))
    for link, is_open in enumerate(open_link):
        if is_open and link not in candidates:
            root[_root(root, graph.tail[2 * link])] = _root(root, graph.head[2 * link])
    ends = {
        link: (_root(root, graph.tail[2 * link]), _root(root, graph.head[2 * link]))
        for link in candidates
        if open_link[link]
    }
    start, goal = _root(root, question.start), _root(root, question.goal)
    return {link for link in ends if not _joined(ends, link, start, goal)}


def _root(root: list[int], node: int) -> int:
    while root[node] != node:
        root[node] = root[root[node]]
        node = root[node]
    return node


def _joined(ends: dict[int, tuple[int, int]], without: int, start: int, goal: int) -> bool:
    beside: dict[int, list[int]] = {}
    for link, (a, b) in ends.items():
        if link != without:
            beside.setdefault(a, []).append(b)
            beside.setdefault(b, []).append(a)
    seen, todo = {start}, [start]
    while todo:
        for lump in beside.get(todo.pop(), ()):
            if lump not in seen:
                seen.add(lump)
                todo.append(lump)
    return goal in seen


# --- other ways -----------------------------------------------------------------------------------------------------


def other_ways(graph: Graph, question: Ask, best: Way, single: Collection[int], most: int) -> tuple[Other, ...]:
    """Give the next best ways that really differ from the best one and from each other.

    Of each way before it, a way drives at most ``SHARED_MOST_RATIO`` of the length that can be gone round at all, all
    but the links no way can do without. Shared links are made dearer: first a shared metre weighs as much as two
    metres (two seconds for time) of what the aim counts first; where that is not enough the least sharing comes before
    all else. They are given cheapest first.

    Args:
        graph, question: what was asked
        best: its answer
        single: the links no way can do without
        most: how many to give at most
    """
    known, out = [best], list[Other]()
    while len(out) < most:
        way = _differing(graph, question, known, single)
        if way is None:
            break
        known.append(way)
        shared = set(links_of(best)) & set(links_of(way))
        out.append(Other(way=way, shared_mm=_length(graph, shared), cut_mm=_length(graph, shared & set(single))))
    return tuple(sorted(out, key=lambda other: other.way.cost))


def _differing(graph: Graph, question: Ask, known: Sequence[Way], single: Collection[int]) -> Way | None:
    used = {link for way in known for link in links_of(way)} - set(single)
    if not used:
        return None
    last = len(graph.aim) - 1
    for weight, place in ((WEIGHT, last - 2), (1, last)):
        dearer, extra = _dearer(graph, used, weight, place)
        way = ask(dearer, question)
        if way is not None and all(_differs(graph, way, other, single) for other in known):
            return replace(way, cost=way.cost - sum(extra.get(step.edge, 0) for step in way.steps))
    return None


def _dearer(graph: Graph, links: Iterable[int], weight: int, place: int) -> tuple[Graph, dict[int, int]]:
    """Give the graph with the lengths of some links added to one component of the cost, and what was added by edge.

    The folded cost is one integer, so that what is added to a component stays an exact cost.

    Args:
        graph: the trip's graph
        links: what is to be avoided
        weight: of a millimetre, in the component's own unit
        place: of the component, counted from the least important one
    """
    cost, extra = list(graph.cost), dict[int, int]()
    for edge in (2 * link + way for link in links for way in range(2)):
        extra[edge] = (weight * graph.length_mm[edge]) << (BITS * place)
        cost[edge] = [own + extra[edge] for own in cost[edge]]
    return replace(graph, cost=cost), extra


def _differs(graph: Graph, way: Way, other: Way, single: Collection[int]) -> bool:
    theirs = set(links_of(other)) - set(single)
    return _length(graph, theirs & set(links_of(way))) <= SHARED_MOST_RATIO * _length(graph, theirs) and bool(theirs)


def _length(graph: Graph, links: Iterable[int]) -> int:
    return sum(graph.length_mm[2 * link] for link in links)


# --- turning back ---------------------------------------------------------------------------------------------------


def turns_back(graph: Graph, start: int, worst: Verdict, came: Step, without: int) -> bool:
    """Tell whether a machine that has just driven a step can turn round at its head and get back to the trip's start.

    Args:
        graph: the trip's graph
        start: the node the trip started at
        worst: the worst verdict still driven over
        came: the step just driven
        without: the link ahead that turned out to be shut
    """
    left = shut(graph, {without})
    passable, back = passable_up_to(left, worst), came.edge ^ 1
    for _, edge, state, kind in successors(left, came.edge, came.state, passable):
        if edge == back and kind in ("turn_round", "turn_in_moves"):
            after = Step(edge=edge, state=state, before=kind, old_state=came.state)
            if find_way(left, graph.head[back], start, worst, after) is not None:
                return True
    return False
