"""What is found at the unloading place: its own parts and the ramp's, as findings of the plan like any other."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from travel.checks import acceptance_id
from travel.checks.answers import Answer
from travel.checks.unloading import RULE, PlaceAnswer
from travel.domain.plan import Checked, Finding, LimitUsed, Where
from travel.domain.rules import Rulebook
from travel.domain.verdict import Verdict
from travel.planning.haul_judge import ONCE, Candidate, Move, known
from travel.planning.ramp import checked_ramp
from travel.units import SI_PER_UNIT

TRIP_OF: dict[Move, str] = {"unload": "arrive", "load": "leave"}


def findings_at(
    candidate: Candidate, move: Move, rulebook: Rulebook, accepted: Mapping[str, str]
) -> tuple[Finding, ...]:
    """Give the findings of one move at the place chosen, flags to come; the place's own stand with the unloading."""
    place, trip = candidate.ground.name, TRIP_OF[move]
    first = min(candidate.moves, key=lambda name: name != "unload")
    answers = candidate.answers if move == first else candidate.later
    own = [_finding(answer, candidate, trip, rulebook) for answer in answers]
    found = [finding for finding in own if finding is not None]
    for finding in candidate.moves[move].findings:
        if move == first or finding.rule not in ONCE:
            part = finding.configuration.get("part", "")
            key = acceptance_id(finding.rule, trip, place, "ramp", part.partition(" kg ")[0])
            where = Where(scope="place", place=candidate.ground.place, lonlat=_lonlat(candidate))
            how = {**finding.configuration, "move": move}
            found.append(replace(finding, id=key, trip=trip, where=where, configuration=how))
    return tuple(_accepted(finding, accepted) for finding in found)


def _accepted(finding: Finding, accepted: Mapping[str, str]) -> Finding:
    if finding.verdict != "unknown" or not finding.acceptable:
        return finding
    return replace(finding, accepted=accepted.get(finding.id, ""))


def _lonlat(candidate: Candidate) -> tuple[float, float] | None:
    if candidate.arrive is None:
        return None
    point = candidate.arrive.case.survey.lonlat(np.array([candidate.ground.xy]))[0]
    return float(point[0]), float(point[1])


def _finding(answer: PlaceAnswer, candidate: Candidate, trip: str, rulebook: Rulebook) -> Finding | None:
    if answer.verdict == Verdict.CLEAR:
        return None
    outcome, unit = answer.outcome, SI_PER_UNIT[answer.unit]
    rows = Answer(
        rule=RULE, position=np.zeros(1, dtype=np.int64), feature=np.full(1, -1), layer="",
        verdict=np.array([int(answer.verdict)], dtype=np.uint8), outcome=outcome,
    )  # fmt: skip
    demand, capacity, tolerance, caution = (
        rows.value(name, 0) / unit for name in ("demand", "capacity", "tolerance", "caution")
    )
    margin = capacity - demand - tolerance
    unknown, permit = answer.verdict == Verdict.UNKNOWN, outcome.permitted is not None
    reason = rows.reason(0)
    caution_why = "control" if permit or bool(np.asarray(outcome.controlled)) else reason
    barred = "barred" if answer.verdict == Verdict.BLOCKED and permit else ""
    limit = _limit(answer, capacity)
    return Finding(
        flag=0,
        id=acceptance_id(RULE, trip, candidate.ground.name, answer.part, answer.feature),
        rule=RULE,
        trip=trip,
        leg=None,
        where=Where(
            scope="place",
            place=candidate.ground.place,
            layer=answer.layer or None,
            feature=answer.feature or None,
            lonlat=_lonlat(candidate),
        ),
        configuration={"part": answer.part[:1].upper() + answer.part[1:]},
        demand=known(demand),
        capacity=known(capacity),
        margin=known(margin),
        unit=answer.unit,
        tolerance=known(tolerance),
        severity=known(margin / caution) if caution > 0 and not permit else None,
        verdict=answer.verdict.word,  # type: ignore[arg-type]
        why=caution_why if answer.verdict == Verdict.CAUTION else "",
        reason=reason if unknown else barred,
        missing=rows.missing(0) if unknown else (),
        control=outcome.control if bool(np.asarray(outcome.controlled)) and not unknown else "",
        limit=limit,
        source=limit.source if limit else "",
        acceptable=answer.acceptable and rulebook.rules[RULE].acceptable,
    )


def _limit(answer: PlaceAnswer, capacity: float) -> LimitUsed | None:
    column = answer.outcome.limit
    if column is not None and len(column.rows):
        row = column.rows[0]
        value = float(np.asarray(column.values)) / SI_PER_UNIT[answer.unit]
        source = " ".join(part for part in (row.source, row.clause) if part)
        return LimitUsed(id=row.id, value=known(value), layer=row.layer, source=source, status=row.status)
    if answer.outcome.limit_source:
        return LimitUsed(id=RULE, value=known(capacity), layer="site", source="site", status="site")
    return None


def checked_at(rows: tuple[Checked, ...], candidate: Candidate, rulebook: Rulebook) -> tuple[Checked, ...]:
    """Put what was looked at about trailer and place among the rules: metres of the strip the rig takes."""
    metres = candidate.standing.need_m
    metres = 0.0 if math.isnan(metres) else metres
    at = Where(scope="place", place=candidate.ground.place)
    worst: dict[str, tuple[Verdict, float | None]] = {}
    for asked in candidate.moves.values():
        for row in checked_ramp(asked):
            if row.verdict is not None:
                old = worst.get(row.rule, (Verdict.CLEAR, None))
                both = [margin for margin in (old[1], row.smallest_margin) if margin is not None]
                worst[row.rule] = (max(old[0], Verdict[row.verdict.upper()]), min(both, default=None))
    worst[RULE] = (max((a.verdict for a in (*candidate.answers, *candidate.later)), default=Verdict.UNKNOWN), None)
    return tuple(_row(row, worst, metres, at) for row in rows)


def _row(row: Checked, worst: Mapping[str, tuple[Verdict, float | None]], metres: float, at: Where) -> Checked:
    if row.rule not in worst:
        return row
    verdict, margin = worst[row.rule]
    spread: dict[str, Any] = {f"{word.word}_m": metres if word == verdict else 0.0 for word in Verdict}
    return replace(row, built=True, applied_m=metres, smallest_margin=margin, at=at, **spread)
