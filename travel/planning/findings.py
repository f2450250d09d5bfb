"""Findings: the rules evaluated again on the cells of the way, joined into stretches, at their worst piece."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks import Answer, acceptance_id, answers_for
from travel.checks.answers import at
from travel.checks.lies_beside import lies_there
from travel.domain.plan import Finding, LimitUsed, Where
from travel.domain.rules import Rule
from travel.domain.verdict import Verdict
from travel.planning.cornered import TurnAnswer, id_of, turn_answers, where_turn
from travel.planning.past_ends import past_end_answers
from travel.planning.trips import Cells, Trip
from travel.units import SI_PER_UNIT

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Found:
    """A finding before it has its flag: with the cells it covers."""

    finding: Finding
    cells: Ints
    order: tuple[int, int]


def findings_of(
    trip: Trip, cells: Cells, accepted: dict[str, str], answers: tuple[Answer, ...] | None = None
) -> list[Found]:
    """Give the findings (caution, unknown, blocked) on some cells of a trip, in the order met.

    Args:
        trip: the trip
        cells: the cells, in the order driven
        accepted: finding id → the planner's reason
        answers: the rules' answers on these cells, where already evaluated
    """
    if not len(cells):
        return []
    answers = all_answers(trip, cells) if answers is None else answers
    found = [_found(trip, cells, stretch) for stretch in stretches_of(trip, cells, answers)]
    return _numbered_ids(found, accepted)


@dataclass(frozen=True, eq=False, kw_only=True)
class Stretch:
    """Rows of one answer that make one finding, and the worst of them."""

    answer: Answer
    rows: Ints
    worst: int

    @property
    def order(self) -> tuple[int, int]:
        """By what findings come one after the other: where they are met, the worse first."""
        return int(self.answer.position[self.rows].min()), -int(self.answer.verdict[self.worst])


def stretches_of(trip: Trip, cells: Cells, answers: Iterable[Answer]) -> list[Stretch]:
    """Give what makes the findings on some cells of a trip, in the order met."""
    found = [
        Stretch(answer=answer, rows=rows, worst=_worst_row(answer, rows))
        for answer in answers
        for rows in _stretches(trip, cells, answer)
    ]
    return sorted(found, key=lambda stretch: stretch.order)


def finding_among(trip: Trip, cells: Cells, accepted: dict[str, str], found: list[Stretch], number: int) -> Finding:
    """Give the finding of one of some stretches that come in the order met, as it is among those of all of them."""
    road = trip.case.survey.pieces.road

    def of(stretch: Stretch) -> tuple[str, str, int, int]:
        """What stretches that share an id share; corners are told by no more than their rule."""
        answer, at = stretch.answer, stretch.worst
        on = -1 if isinstance(answer, TurnAnswer) else int(road[cells.piece[answer.position[at]]])
        return answer.rule, answer.layer, int(answer.feature[at]), on

    alike = [stretch for stretch in found[: number + 1] if of(stretch) == of(found[number])]
    return _numbered_ids([_found(trip, cells, stretch) for stretch in alike], accepted)[-1].finding


def verdict_of(trip: Trip, accepted: Mapping[str, str]) -> Verdict:
    """Give the worst verdict; with acceptances each finding has to be accepted by its own id, as in a plan."""
    found = findings_of(trip, trip.cells, dict(accepted)) if accepted else ()
    is_open = any(each.finding.verdict == "unknown" and not each.finding.accepted for each in found)
    return max(trip.worst, Verdict.UNKNOWN) if is_open else trip.worst


def all_answers(trip: Trip, cells: Cells) -> tuple[Answer, ...]:
    """Give what every rule says on the cells of a trip's way and in its corners."""
    if not len(cells):
        return ()
    past = past_end_answers(trip) if cells is trip.cells else ()
    return (*answers_for(trip.case, cells.piece, cells.sense, cells.config), *turn_answers(trip, cells), *past)


def _numbered_ids(found: list[Found], accepted: dict[str, str]) -> list[Found]:
    """Tell apart findings that share rule, road and feature: the second gets ``.2``, and so on."""
    seen: dict[str, int] = {}
    out = []
    for item in found:
        base = item.finding.id
        seen[base] = seen.get(base, 0) + 1
        name = base if seen[base] == 1 else f"{base}.{seen[base]}"
        finding = item.finding
        if name != base or finding.verdict == "unknown":
            reason = accepted.get(name, "") if finding.acceptable and finding.verdict == "unknown" else ""
            finding = replace(finding, id=name, accepted=reason)
        out.append(Found(finding=finding, cells=item.cells, order=item.order))
    return out


def _stretches(trip: Trip, cells: Cells, answer: Answer) -> Iterator[Ints]:
    """Give the rows that belong together: same feature, verdict and reason on neighbouring cells of a road."""
    rows = np.flatnonzero(answer.applies() & (answer.verdict >= Verdict.CAUTION))
    if not len(rows):
        return
    if answer.not_looked and trip.case.survey.site.note(answer.layer) is None:
        yield rows
        return
    if isinstance(answer, TurnAnswer):
        yield from np.split(rows, len(rows))
        return
    words = answer.reasons(rows)
    numbers = {word: number for number, word in enumerate(dict.fromkeys(words))}
    reason = np.array([numbers[word] for word in words])
    order = np.lexsort((answer.position[rows], reason, answer.verdict[rows], answer.feature[rows]))
    rows, reason = rows[order], reason[order]
    piece = cells.piece[answer.position[rows]]
    road = trip.case.survey.pieces.road[piece]
    same = (
        (answer.feature[rows][1:] == answer.feature[rows][:-1])
        & (answer.verdict[rows][1:] == answer.verdict[rows][:-1])
        & (reason[1:] == reason[:-1])
        & (answer.position[rows][1:] - answer.position[rows][:-1] <= 1)
        & (road[1:] == road[:-1])
        & (np.abs(np.diff(piece)) <= 1)
    )
    yield from np.split(rows, np.flatnonzero(~same) + 1)


def _found(trip: Trip, cells: Cells, stretch: Stretch) -> Found:
    answer, positions = stretch.answer, np.unique(stretch.answer.position[stretch.rows])
    finding = finding_at(trip, cells, answer, stretch.worst, positions)
    return Found(finding=finding, cells=positions, order=stretch.order)


def _worst_row(answer: Answer, rows: Ints) -> int:
    outcome, shape = answer.outcome, answer.verdict.shape
    margins = np.broadcast_to(np.asarray(outcome.capacity) - outcome.demand, shape)[rows]
    return int(rows[int(np.argmin(np.where(np.isnan(margins), -np.inf, margins)))])


def finding_at(trip: Trip, cells: Cells, answer: Answer, row: int, positions: Ints) -> Finding:
    """Give one finding from one row of an answer, covering the cells ``positions``; flag and leg come later."""
    case, rule = trip.case, trip.case.rulebook.rules[answer.rule]
    verdict = Verdict(int(answer.verdict[row]))
    where = where_of(trip, cells, answer, row, positions)
    reason = answer.reason(row)
    if answer.not_looked and where.scope == "layer":
        reason = "layer"
    unit = SI_PER_UNIT[rule.unit]
    demand, capacity = answer.value("demand", row) / unit, answer.value("capacity", row) / unit
    tolerance = answer.value("tolerance", row) / unit
    margin = capacity - demand - tolerance
    limit = _limit(answer, row, rule, capacity)
    config = int(cells.config[answer.position[row]])
    names = case.configurations
    key = acceptance_id(rule.id, case.trip, where.road or "", where.layer or "", where.feature or "")
    if isinstance(answer, TurnAnswer):
        key = id_of(trip, answer, row)
    return Finding(
        flag=0,
        id=key,
        rule=rule.id,
        trip=case.trip,
        leg=None,
        where=where,
        configuration={
            "travel": names.travel[config],
            "range": names.range[config],
            "steering": names.steering[config],
            "drive": names.drive[config],
        },
        demand=_known(demand),
        capacity=_known(capacity),
        margin=_known(margin),
        unit=rule.unit,
        tolerance=_known(tolerance),
        severity=severity_of(answer, row, unit),
        verdict=verdict.word,  # type: ignore[arg-type]
        why=reason if verdict == Verdict.CAUTION else "",
        reason=reason if verdict == Verdict.UNKNOWN else "",
        missing=answer.missing(row) if verdict == Verdict.UNKNOWN else (),
        control=_control(answer, row, rule),
        formula=rule.formula,
        terms=_terms(answer.outcome.terms, row),
        capacity_formula=rule.capacity_formula,
        capacity_terms=_terms(answer.outcome.capacity_terms, row),
        limit=limit,
        source=limit.source if limit else "",
        acceptable=rule.acceptable and not any(lies_there(name) for name in answer.missing(row)),
    )


def severity_of(answer: Answer, row: int, unit: float) -> float | None:
    """Give the margin over the caution margin at one row; None where there is none. ``unit``: the rule's, in SI."""
    caution = answer.value("caution", row) / unit
    if not caution > 0 or answer.outcome.permitted is not None:
        return None
    demand, capacity, tolerance = (answer.value(name, row) / unit for name in ("demand", "capacity", "tolerance"))
    return _known((capacity - demand - tolerance) / caution)


def where_of(trip: Trip, cells: Cells, answer: Answer, row: int, positions: Ints) -> Where:
    """Give the place of a finding: its stretch of road and its worst point, or the layer nobody looked at."""
    survey = trip.case.survey
    if answer.not_looked and survey.site.note(answer.layer) is None:
        return Where(scope="layer", layer=answer.layer)
    if isinstance(answer, TurnAnswer):
        return where_turn(trip, int(answer.corner[row]))
    pieces, roads = survey.pieces, survey.site.layers["roads"]
    covered = cells.piece[positions]
    worst = int(cells.piece[answer.position[row]])
    feature = int(answer.feature[row])
    at_m = float(pieces.from_m[worst] + pieces.to_m[worst]) / 2
    point = survey.lonlat(np.array([[pieces.x_m[worst], pieces.y_m[worst]]]))[0]
    return Where(
        scope="stretch",
        road=roads.ids[int(pieces.road[worst])],
        from_m=float(pieces.from_m[covered].min()),
        to_m=float(pieces.to_m[covered].max()),
        at_m=at_m,
        layer=answer.layer or None,
        feature=survey.site.layers[answer.layer].ids[feature] if feature >= 0 else None,
        lonlat=(float(point[0]), float(point[1])),
    )


def _limit(answer: Answer, row: int, rule: Rule, capacity: float) -> LimitUsed | None:
    """Give the limit used: a row of the rulebook where it set the capacity, else the sheet's or the site's value."""
    column = answer.outcome.limit
    if column is not None:
        index = int(at(column.row, row))
        if index >= 0:
            won = column.rows[index]
            value = float(at(column.values, row)) / SI_PER_UNIT[rule.unit]
            if answer.outcome.limit_source == "" or np.isclose(value, capacity):
                return LimitUsed(
                    id=won.id,
                    value=value if won.unit == rule.unit else won.value,
                    layer=won.layer,
                    status=won.status,
                    source=" ".join(part for part in (won.source, won.clause) if part),
                )
    if not answer.outcome.limit_source:
        return None
    layer = "machine" if answer.outcome.limit_source == "manual" else "site"
    return LimitUsed(
        id=rule.id,
        value=_known(capacity),
        layer=layer,
        source=answer.outcome.limit_source,
        status="maker" if layer == "machine" else "site",
    )


def _control(answer: Answer, row: int, rule: Rule) -> str:
    if not bool(at(answer.outcome.controlled, row)):
        return ""
    return answer.outcome.control or rule.control


def _terms(terms: Mapping[str, Any], row: int) -> dict[str, float]:
    """Give the formula's numbers, none where one of them is not known: then there is nothing to work out."""
    values = {name: float(at(value, row)) for name, value in terms.items()}
    return values if all(math.isfinite(value) for value in values.values()) else {}


def _known(value: float) -> float | None:
    return None if np.isnan(value) or np.isinf(value) else float(value)
