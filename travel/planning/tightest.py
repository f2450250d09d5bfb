"""The tightest finding of many trips of one machine: the rules are asked once over all their cells.

Only the rules that give a trip its worst verdict are asked again on its own cells, for their numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks import answers_for
from travel.domain.plan import Finding
from travel.domain.verdict import Verdict
from travel.planning.cornered import turn_answers
from travel.planning.findings import finding_among, severity_of, stretches_of
from travel.planning.trips import Cells, Trip
from travel.units import SI_PER_UNIT

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False, kw_only=True)
class _Asked:
    """The worst verdict of each rule on some cells, each cell once."""

    key: Ints
    worst: dict[str, NDArray[np.uint8]]


def tightest_of(
    trips: Sequence[Trip], cells: Sequence[Cells], accepted: Mapping[str, str] | None = None
) -> tuple[Finding | None, ...]:
    """Give the tightest finding of every trip on its cells; None where all is clear.

    Args:
        trips: trips of one case
        cells: by trip, the cells of its way, or of its least-blocked way; then only what is blocked counts
        accepted: finding id → the planner's reason
    """
    if not trips:
        return ()
    asked = _ask(trips[0], cells)
    return tuple(_tightest(trip, some, asked, dict(accepted or {})) for trip, some in zip(trips, cells, strict=True))


def _ask(trip: Trip, cells: Sequence[Cells]) -> _Asked:
    piece, sense, config = (
        np.concatenate([getattr(some, name) for some in cells]) for name in ("piece", "sense", "config")
    )
    key, first = np.unique(_key(trip, piece, sense, config), return_index=True)
    worst: dict[str, NDArray[np.uint8]] = {}
    for answer in answers_for(trip.case, piece[first], sense[first], config[first]) if len(key) else ():
        here = worst.setdefault(answer.rule, np.zeros(len(key), dtype=np.uint8))
        np.maximum.at(here, answer.position, np.where(answer.applies(), answer.verdict, np.uint8(0)))
    return _Asked(key=key, worst=worst)


def _key(trip: Trip, piece: Ints, sense: Ints, config: Ints) -> Ints:
    return np.asarray((piece * 2 + (sense < 0)) * len(trip.case.configurations.state) + config)


def _tightest(trip: Trip, cells: Cells, asked: _Asked, accepted: dict[str, str]) -> Finding | None:
    if not len(cells):
        return None
    at = np.searchsorted(asked.key, _key(trip, cells.piece, cells.sense, cells.config))
    by_rule = {rule: int(worst[at].max()) for rule, worst in asked.worst.items()}
    in_corners = trip.worst_corner
    worst = max(*by_rule.values(), in_corners, 0)
    if worst < (Verdict.CAUTION if trip.way is not None else Verdict.BLOCKED):
        return None
    rules = frozenset(rule for rule, found in by_rule.items() if found == worst)
    answers = answers_for(trip.case, cells.piece, cells.sense, cells.config, rules) if rules else ()
    corners = turn_answers(trip, cells) if in_corners == worst else ()
    found = stretches_of(trip, cells, (*answers, *corners))
    if not found:
        return None
    units = {rule: SI_PER_UNIT[trip.case.rulebook.rules[rule].unit] for rule in {one.answer.rule for one in found}}

    def rank(number: int) -> tuple[int, float]:
        """By verdict, then by severity, the least first; without one last."""
        answer, worst = found[number].answer, found[number].worst
        severity = severity_of(answer, worst, units[answer.rule])
        return -int(answer.verdict[worst]), np.inf if severity is None else severity

    return finding_among(trip, cells, accepted, found, min(range(len(found)), key=rank))


def tightest(findings: Iterable[Finding]) -> Finding | None:
    """Give the worst finding: by verdict, then by severity (the least first; without one last)."""
    order = {"blocked": 0, "unknown": 1, "caution": 2, "clear": 3}
    return min(
        findings, default=None, key=lambda f: (order[f.verdict], f.severity if f.severity is not None else np.inf)
    )
