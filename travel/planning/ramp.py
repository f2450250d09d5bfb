"""On and off a trailer: rules asked, answers into findings, conditions and one result."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks import acceptance_id
from travel.checks.answers import Answer
from travel.checks.ramp import RampAnswer, RampCase, RampFacts, ramp_answers, ramp_rules
from travel.checks.ramp_notice import escorts, notices, special_category
from travel.checks.ramp_road import Overall
from travel.domain.plan import Condition, Finding, LimitUsed, Where
from travel.domain.ramp import RampChecked
from travel.domain.rules import Rule, Rulebook
from travel.domain.verdict import Verdict
from travel.units import SI_PER_UNIT

GROUP = "trailer and ramps"
ROUTINE = "ramp-routine-"
DAY = dt.timedelta(days=1)


@dataclass(frozen=True, eq=False, kw_only=True)
class RampAsked:
    """Facts, every answer, and the findings made of them."""

    facts: RampFacts
    answers: tuple[RampAnswer, ...]
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """The worst of all."""
        return max((answer.verdict for answer in self.answers), default=Verdict.UNKNOWN)


def ask_ramp(case: RampCase) -> RampAsked:
    """Ask every rule of trailer and ramps."""
    facts = RampFacts(case=case)
    answers = ramp_answers(facts)
    open_ones = [answer for answer in answers if answer.verdict > Verdict.CLEAR]
    open_ones.sort(key=lambda answer: -int(answer.verdict))
    findings = tuple(_finding(answer, number + 1, case.rulebook) for number, answer in enumerate(open_ones))
    return RampAsked(facts=facts, answers=answers, findings=findings)


def _finding(answer: RampAnswer, flag: int, rulebook: Rulebook) -> Finding:
    rule, outcome = rulebook.rules[answer.rule], answer.outcome
    as_rows = Answer(
        rule=answer.rule,
        position=np.zeros(1, dtype=np.int64),
        feature=np.full(1, -1),
        layer="",
        verdict=np.array([int(answer.verdict)], dtype=np.uint8),
        outcome=outcome,
    )
    unit = SI_PER_UNIT[rule.unit]
    demand, capacity, tolerance, caution = (
        as_rows.value(name, 0) / unit for name in ("demand", "capacity", "tolerance", "caution")
    )
    margin = capacity - demand - tolerance
    reason = as_rows.reason(0)
    limit = _limit(answer, rule, capacity)
    unknown = answer.verdict == Verdict.UNKNOWN
    return Finding(
        flag=flag,
        id=acceptance_id(rule.id, "ramp", "", "", answer.part.partition(" kg ")[0]),
        rule=rule.id,
        trip="ramp",
        leg=None,
        where=Where(scope="trip", at_m=answer.at_m, feature=answer.part or None),
        configuration={"part": answer.part},
        demand=_known(demand),
        capacity=_known(capacity),
        margin=_known(margin),
        unit=rule.unit,
        tolerance=_known(tolerance),
        severity=_known(margin / caution) if caution > 0 and outcome.permitted is None else None,
        verdict=answer.verdict.word,  # type: ignore[arg-type]
        why=_why(answer, reason) if answer.verdict == Verdict.CAUTION else "",
        reason=reason if unknown else "",
        missing=as_rows.missing(0) if unknown else (),
        control=(outcome.control or rule.control) if bool(np.asarray(outcome.controlled).any()) else "",
        formula=rule.formula if outcome.terms else "",
        terms=_terms(outcome.terms),
        capacity_formula=rule.capacity_formula if outcome.capacity_terms else "",
        capacity_terms=_terms(outcome.capacity_terms),
        limit=limit,
        source=limit.source if limit else "",
        acceptable=rule.acceptable,
    )


def _why(answer: RampAnswer, reason: str) -> str:
    """A permit's numbers are over the limit by nature: what it passes by is the control."""
    return "control" if answer.outcome.permitted is not None else reason


def _limit(answer: RampAnswer, rule: Rule, capacity: float) -> LimitUsed | None:
    column = answer.outcome.limit
    if column is not None and len(column.rows):
        row = column.rows[0]
        source = " ".join(part for part in (row.source, row.clause) if part)
        value = float(np.asarray(column.values)) / SI_PER_UNIT[rule.unit]
        return LimitUsed(id=row.id, value=_known(value), layer=row.layer, source=source, status=row.status)
    if answer.outcome.limit_source == "manual":
        return LimitUsed(id=rule.id, value=_known(capacity), layer="machine", source="manual", status="maker")
    return None


def _terms(terms: Mapping[str, Any]) -> dict[str, float]:
    values = {name: float(np.asarray(value)) for name, value in terms.items()}
    return values if all(math.isfinite(value) for value in values.values()) else {}


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def checked_ramp(asked: RampAsked) -> tuple[RampChecked, ...]:
    """Give one row a rule of the group: its parts with their verdicts and the smallest margin."""
    rulebook, built = asked.facts.case.rulebook, set(ramp_rules())
    out = []
    for rule in (rule for rule in rulebook.rules.values() if rule.group == GROUP):
        mine = [answer for answer in asked.answers if answer.rule == rule.id]
        margins = [_margin(a) / SI_PER_UNIT[rule.unit] for a in mine]
        known = [margin for margin in margins if math.isfinite(margin)]
        worst = max((answer.verdict for answer in mine), default=Verdict.CLEAR)
        out.append(
            RampChecked(
                rule=rule.id,
                title=rule.title,
                built=rule.id in built,
                applied=bool(mine),
                verdict=worst.word if mine else None,  # type: ignore[arg-type]
                smallest_margin=min(known, default=None),
                unit=rule.unit,
                parts=tuple(_part(answer, rule.unit) for answer in mine),
            )
        )
    return tuple(out)


def _margin(answer: RampAnswer) -> float:
    outcome = answer.outcome
    return float(np.asarray(outcome.capacity) - np.asarray(outcome.demand) - np.asarray(outcome.tolerance))


def _part(answer: RampAnswer, unit: str) -> dict[str, Any]:
    factor = SI_PER_UNIT[unit]
    return {
        "part": answer.part,
        "verdict": answer.verdict.word,
        "demand": _known(float(np.asarray(answer.outcome.demand)) / factor),
        "capacity": _known(float(np.asarray(answer.outcome.capacity)) / factor),
        "at_m": answer.at_m,
    }


def conditions_ramp(asked: RampAsked) -> tuple[Condition, ...]:
    """Give the routine list of every loading, each control with its flags, and each unknown."""
    case = asked.facts.case
    controls = case.rulebook.controls
    out = [_condition(controls[name], "pre_travel", ()) for name in controls if name.startswith(ROUTINE)]
    flags: dict[str, list[int]] = {}
    for finding in asked.findings:
        if finding.control:
            flags.setdefault(finding.control, []).append(finding.flag)
    out += [_condition(controls[name], "control", tuple(numbers)) for name, numbers in flags.items()]
    for finding in asked.findings:
        if finding.verdict == "unknown":
            out.append(
                Condition(
                    id=finding.id,
                    kind="unknown",
                    flags=(finding.flag,),
                    text=f"{case.rulebook.rules[finding.rule].title}: not known ({_lacking(finding)}).",
                    owner="haulier",
                    due="before the machine moves",
                    evidence="measured or read off"
                    if finding.acceptable
                    else "measured or read off; nobody may accept it",
                    acceptable=finding.acceptable,
                )
            )
    return tuple(out)


def _lacking(finding: Finding) -> str:
    return ", ".join(finding.missing) or finding.reason.replace("_", " ")


def _condition(control: Any, kind: str, flags: tuple[int, ...]) -> Condition:
    return Condition(
        id=control.id,
        kind=kind,
        flags=flags,
        text=control.text,
        owner=control.owner,
        due=control.due,
        evidence=control.evidence,
        acceptable=True,
    )


def earliest_move(case: RampCase, today: dt.date, size: Overall) -> dict[str, Any]:
    """Give the notice asked for and the earliest date, in working days from today; public holidays are not known.

    ``unknown``: quantities that may ask for more and are not known; ``special``: category under the special types
    order; ``escorts``: by the rulebook's example.
    """
    asked = {name: value / DAY.total_seconds() for name, value in notices(case, size).items()}
    known = {name: value for name, value in asked.items() if not math.isnan(value)}
    most = max(known.values(), default=None)
    return {
        "working_days": most,
        "date": None if most is None else working_day(today, math.ceil(most)).isoformat(),
        "because": [name for name, value in known.items() if value == most and value > 0],
        "unknown": [name for name in asked if name not in known],
        "special": special_category(case, size),
        "escorts": escorts(case, size),
    }


def working_day(today: dt.date, days: int) -> dt.date:
    """Give the first day after so many whole working days (Monday to Friday) have passed."""
    day = today
    left = days
    while left > 0:
        day += DAY
        left -= day.weekday() < 5
    return day + DAY if days > 0 else day


def thinned(values: NDArray[np.float64], keep: NDArray[np.int64]) -> tuple[float | None, ...]:
    """Give some of a row's values, None where one is not known."""
    return tuple(_known(float(value)) for value in values[keep])
