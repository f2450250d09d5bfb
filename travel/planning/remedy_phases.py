"""The trips a search for remedies goes through as one graph: arrivals numbered through, and what each one asks for."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from itertools import accumulate

import numpy as np

from travel.domain.verdict import Verdict
from travel.planning.remedy_causes import Masks
from travel.routing import Graph
from travel.routing.follows import arrival_number, corner_number, follows_of, round_number

Needs = dict[tuple[int, int], Masks]
Arrival = tuple[int, int, int]
Asked = tuple[tuple[int, int], ...]
"""Arrivals, each with what is asked for on the way to it, by their numbers."""

OPEN: Masks = (0,)
"""What a link asks for that is not shut."""
_OPEN, _SHUT = 0, 1
"""The numbers of nothing asked for, and of what nothing opens."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Phase:
    """One trip of the search: its graph, what shut links and corners (row, state) need, from node to node."""

    graph: Graph
    needs: Needs
    start: int
    goal: int
    corners: Needs = field(default_factory=dict)


class Phases:
    """Trips in order, the next starting as the last one ended.

    ``sets``: by number, the sets any of which opens something; ``lists``: by number, what may follow arrivals;
    ``ends``: the arrivals at the last goal.
    """

    def __init__(self, phases: tuple[Phase, ...]) -> None:
        self.sets: list[Masks] = [OPEN, ()]
        self.lists: list[Asked] = []
        self._phases = phases
        self._numbers: dict[Masks, int] = {masks: number for number, masks in enumerate(self.sets)}
        self._both: dict[tuple[int, int], int] = {}
        sizes = [len(phase.graph.head) * phase.graph.states for phase in phases]
        self.count = sum(sizes)
        self._first = [0, *accumulate(sizes[:-1])]
        self._corners = [self._at_corners(phase) for phase in phases]
        self._links = [self._on_links(*pair) for pair in zip(phases, self._corners, strict=True)]
        self._after: dict[int, tuple[int, ...]] = {}
        self._list_numbers: dict[tuple[int, int], int] = {}
        last = len(phases) - 1
        heads = enumerate(phases[last].graph.head)
        self.ends = frozenset(at for edge, head in heads if head == phases[last].goal for at in self._on(last, edge))

    def start(self) -> Asked:
        """Give what may be driven first, in any direction and state."""
        first = self._phases[0]
        return tuple((at, self._links[0][at]) for edge in first.graph.leaving[first.start] for at in self._on(0, edge))

    def after(self, at: int) -> tuple[int, ...]:
        """Give the numbers of the lists of what may follow an arrival, of the next trip first where one ends there."""
        if at not in self._after:
            phase, edge, state = self.arrival(at)
            here, last = self._phases[phase], phase == len(self._phases) - 1
            on = (phase,) if last or here.graph.head[edge] != here.goal else (phase + 1, phase)
            self._after[at] = tuple(self._list(number, edge, state) for number in on)
        return self._after[at]

    def arrival(self, at: int) -> Arrival:
        """Give the phase, edge and state of an arrival by its number."""
        phase = bisect_right(self._first, at) - 1
        return phase, *divmod(at - self._first[phase], self._phases[phase].graph.states)

    def _on(self, phase: int, edge: int) -> range:
        """Give the arrivals of an edge in every state."""
        graph = self._phases[phase].graph
        first = self._first[phase] + arrival_number(graph, edge, 0)
        return range(first, first + graph.states)

    def _list(self, phase: int, edge: int, state: int) -> int:
        follows = follows_of(self._phases[phase].graph)
        key = phase, follows.of(edge, state)
        if key not in self._list_numbers:
            self._list_numbers[key] = len(self.lists)
            first, links, corners = self._first[phase], self._links[phase], self._corners[phase]
            found = ((first + at, self._joined(corners[row], links[at])) for at, row in follows.lists[key[1]])
            self.lists.append(tuple((at, asked) for at, asked in found if asked != _SHUT))
        return self._list_numbers[key]

    def _at_corners(self, phase: Phase) -> list[int]:
        """Give what corners ask for, by their numbers; the last is that of no corner."""
        graph = phase.graph
        out = [_OPEN] * (2 * len(graph.corners.worst) * graph.states + 1)
        for row, worst in enumerate(graph.corners.worst):
            if max(worst) >= Verdict.BLOCKED:
                for state in (state for state, found in enumerate(worst) if found >= Verdict.BLOCKED):
                    out[corner_number(graph, row, state)] = self._number(phase.corners.get((row, state), ()))
        for (row, state), masks in phase.corners.items():
            out[round_number(graph, row, state)] = self._number(masks or OPEN)
        return out

    def _on_links(self, phase: Phase, corners: list[int]) -> list[int]:
        """Give what links ask for with the bends on them, by their arrivals."""
        graph = phase.graph
        out = [_OPEN] * (len(graph.head) * graph.states)
        for edge, state in np.argwhere(graph.worst >= Verdict.BLOCKED).tolist():
            out[arrival_number(graph, edge, state)] = self._number(phase.needs.get((edge, state), ()))
        for edge, rows in graph.corners.on.items():
            for row in rows:
                for state in range(graph.states):
                    at = arrival_number(graph, edge, state)
                    out[at] = self._joined(out[at], corners[corner_number(graph, row, state)])
        return out

    def _joined(self, one: int, other: int) -> int:
        """Give the number of what opens two things, by theirs."""
        if one == _OPEN or other == _OPEN:
            return one or other
        key = one, other
        if key not in self._both:
            self._both[key] = self._number(both(self.sets[one], self.sets[other]))
        return self._both[key]

    def _number(self, masks: Masks) -> int:
        number = self._numbers.setdefault(masks, len(self.sets))
        if number == len(self.sets):
            self.sets.append(masks)
        return number


def both(one: Masks, other: Masks) -> Masks:
    """Give the sets that open two things.

    >>> both((0b01, 0b10), (0b11,)), both((0,), (0b1,)), both((), (0,))
    ((3,), (1,), ())
    """
    if one == OPEN or other == OPEN:
        return other if one == OPEN else one
    return tuple(dict.fromkeys(a | b for a in one for b in other))
