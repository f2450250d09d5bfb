"""How high, wide and heavy a machine could still get to places: the widest way by the rule that limits each alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from travel.checks import Answer, Case, answers_for
from travel.checks.outcome import Outcome
from travel.domain.verdict import Verdict
from travel.planning.reach_corners import CornerWidths
from travel.planning.remedy_machine import changed_body
from travel.planning.trips import Prepared
from travel.routing.reach import driven_on, widest

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

RULES = {"height_m": "headroom", "width_m": "width", "mass": "posted-load"}
"""The rule behind each."""
WIRES = frozenset({"line-clearance"})
"""A higher machine comes nearer to them."""
SHUT = frozenset({"one-way", "closure"})
"""Rules that shut a link for any machine."""
TALL = 3.0
"""What a machine of so many times its height meets is all that limits heights."""
TRIES = 16
"""How often a size is asked again before what passed is taken, where nothing did none."""
NEAR_M = 0.005
"""How near what passes and what does not have to come."""
SURE = 1e-9
WIDTHS = 0.2
"""Share of the work that is done when widths are come to, which take most of it."""
Tell = Callable[[str, float], None]


def greatest_sizes(
    prepared: Prepared, start: int, tell: Tell = lambda what, share: None
) -> dict[str, dict[int, float]]:
    """Give, by quantity and node of a place, the greatest value some way lets through by the rule that limits it alone.

    A way is looked at in one steering mode at a time. What the body of the machine itself lacks or has to spare says
    what another may be; a height, and a width below its own, is then asked again of a body of that size, since it may
    meet what hangs and stands there elsewhere, and come within the distance of a wire.

    Args:
        prepared: the case with its graph
        start: node the machine starts at
        tell: called with what is being done and the share of it done
    """
    tell("looking for the greatest mass", 0.0)
    sizes = _Sizes(prepared, start, tell)
    body = prepared.case.body
    share = sizes.first("mass")
    out = {}
    for name, done in (("height_m", 0.1), ("width_m", WIDTHS)):
        tell(f"looking for the greatest {name.removesuffix('_m')}", done)
        out[name] = sizes.asked_again(name)
    for name, own in (("gross_kg", body.mass_kg), ("axle_kg", float(np.max(body.axle_load_kg)))):
        out[name] = {node: value * own for node, value in share.items()}
    return out


class _Sizes:
    """One machine's case from one place."""

    def __init__(self, prepared: Prepared, start: int, tell: Tell) -> None:
        self._prepared, self._start = prepared, start
        self._corners = CornerWidths(
            prepared, lambda count: tell(f"looking for the greatest width: {count} tries at corners", WIDTHS)
        )
        self._places = sorted(set(prepared.case.survey.network.place_node.values()))
        self._shut = np.stack([_shut(rows, self._count) for rows in self._answers(self._modes[0], SHUT)], axis=1)

    @property
    def _count(self) -> int:
        return len(self._prepared.case.survey.pieces)

    @property
    def _modes(self) -> list[int]:
        """One configuration that drives forwards for each steering mode."""
        configurations = self._prepared.case.configurations
        forward = np.flatnonzero(~configurations.reverse).tolist()
        return list({configurations.steering[each]: each for each in reversed(forward)}.values())

    def _answers(
        self, config: int, only: frozenset[str], case: Case | None = None
    ) -> tuple[tuple[Answer, ...], tuple[Answer, ...]]:
        """Ask some rules of every piece, along and against."""
        pieces, held = np.arange(self._count), case or self._prepared.case
        along, against = (
            answers_for(held, pieces, np.full(self._count, sense), np.full(self._count, config), only=only)
            for sense in (1, -1)
        )
        return along, against

    def first(self, name: str, value: float | None = None) -> dict[int, float]:
        """Give what gets to each place: as the machine itself has to spare or lacks it, or one of another size."""
        case = self._prepared.case
        own = 0.0 if name == "mass" else getattr(case.body, name) if value is None else value
        told = _share if name == "mass" else _margin
        if value is not None:
            case = replace(case, body=changed_body(case.body, name, value))
        out = np.full(self._prepared.case.survey.network.n_nodes, -np.inf)
        for config in self._modes:
            sides = self._answers(config, frozenset({RULES[name]}), case)
            limit = own + np.stack([_least(told, rows, RULES[name], self._count) for rows in sides], axis=1)
            shut = self._shut | self._too_near_to_wires(config, case) if name == "height_m" else self._shut
            out = np.maximum(out, self._through(name, np.where(shut, -np.inf, limit)))
        return {node: float(out[node]) for node in self._places}

    def _too_near_to_wires(self, config: int, case: Case) -> Bools:
        """Tell where a body of another height is not known to keep its distance from wires, by piece and sense."""
        if case is self._prepared.case or not len(case.survey.site.layers["overheads"]):
            return np.zeros((self._count, 2), dtype=bool)
        worst = [_worst(rows, self._count) for rows in self._answers(config, WIRES, case)]
        return np.stack(worst, axis=1) > Verdict.CAUTION

    def asked_again(self, name: str) -> dict[int, float]:
        """Give the same where a machine of each size told gets there itself."""
        told, own = self.first(name), float(getattr(self._prepared.case.body, name))
        free = TALL * own if name == "height_m" else np.inf
        tried = {
            node: _Tried(value)
            for node, value in ((node, free if value == np.inf else value) for node, value in told.items())
            if 0.0 < value < np.inf and (value < own - SURE or (name == "height_m" and value > own + SURE))
        }
        for _ in range(TRIES):
            left = {node: one for node, one in tried.items() if not one.settled}
            for value in {one.next for one in left.values()}:
                least = self.first(name, value)
                for node, one in left.items():
                    if one.next == value:
                        one.found(least[node])
        found = {node: one.passed for node, one in tried.items()}
        return told | {node: value for node, value in found.items() if value < told[node] and value != free}

    def _through(self, name: str, limit: Floats) -> Floats:
        """Give the widest paths by node; corners count for widths, those on ways to places where they may decide."""
        graph, network = self._prepared.graph, self._prepared.case.survey.network
        per_edge = np.minimum.reduceat(limit, np.asarray(network.link_piece_start), axis=0).ravel()
        if name != "width_m":
            roads = driven_on(graph.tail, graph.head, network.n_nodes)
            return widest(roads, per_edge.tolist(), (np.inf,), self._start).least
        roads = driven_on(graph.tail, graph.head, network.n_nodes, self._prepared.turns.corners.by_pair)
        while True:
            most, sure = (
                widest(roads, np.minimum(per_edge, told.by_edge).tolist(), told.by_row, self._start)
                for told in self._corners.told()
            )
            through = [(node, float(most.least[node]), float(sure.least[node])) for node in self._places]
            ways = [(most.way(node), told, known) for node, told, known in through if told > known]
            if not self._corners.settle(ways):
                return most.least


class _Tried:
    """One size as it is tried: down from what was told in growing steps until one passes, then between the two."""

    def __init__(self, told: float) -> None:
        self.next, self.passed, self._failed, self._step = told, 0.0, np.inf, 0.0

    @property
    def settled(self) -> bool:
        near = self._failed - self.passed <= NEAR_M or self._failed == np.inf
        return self.next <= 0.0 or (self.passed > 0.0 and near)

    def found(self, least: float) -> None:
        """Note what gets there by the outline of the size tried, and choose the next."""
        at = self.next
        if least >= at - SURE:
            self.passed = at
        else:
            self._failed, self._step = at, max(2.0 * self._step, min(at - least, at / 4.0))
        low = max(self._failed - self._step, 0.0) if self.passed == 0.0 else self.passed
        self.next = low if self.passed == 0.0 else (low + self._failed) / 2.0


def _shut(answers: tuple[Answer, ...], count: int) -> NDArray[np.bool_]:
    """Where no machine may go, whatever its size: one way the other way, closed."""
    shut = np.zeros(count, dtype=bool)
    for answer in answers:
        if answer.rule in SHUT:
            np.logical_or.at(shut, answer.position, answer.verdict == Verdict.BLOCKED)
    return shut


def _worst(answers: tuple[Answer, ...], count: int) -> NDArray[np.uint8]:
    """Give the worst verdict on every piece."""
    out = np.zeros(count, dtype=np.uint8)
    for answer in answers:
        np.maximum.at(out, answer.position, np.where(answer.applies(), answer.verdict, np.uint8(0)))
    return out


def _least(told: Callable[[Outcome], Floats], answers: tuple[Answer, ...], rule: str, count: int) -> Floats:
    """Give the least of a number told by a rule's parts on every piece; +inf where silent, −inf where not known."""
    out = np.full(count, np.inf)
    for answer in answers:
        if answer.rule != rule:
            continue
        outcome, shape = answer.outcome, answer.verdict.shape
        number = np.broadcast_to(told(outcome), shape)
        lacking = np.isnan(number)
        for where in (outcome.outside, *outcome.missing.values()):
            lacking = lacking | np.asarray(where, dtype=bool)
        number = np.where(answer.applies(), np.where(lacking, -np.inf, number), np.inf)
        np.minimum.at(out, answer.position, number)
    return out


def _margin(outcome: Outcome) -> Floats:
    """Give capacity − demand − tolerance."""
    return np.asarray(outcome.capacity - outcome.demand - outcome.tolerance)


def _share(outcome: Outcome) -> Floats:
    """Give the share of its own loads that a machine may have, whether its tolerance grows with them or not."""
    grown = np.asarray(outcome.capacity / (outcome.demand + outcome.tolerance))
    return np.asarray(np.minimum(grown, (outcome.capacity - outcome.tolerance) / outcome.demand))
