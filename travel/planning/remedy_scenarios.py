"""Remedies that change the question: a later start, drier ground, the load left behind."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace

from travel.checks import Case, make_body
from travel.domain.plan import RemedyPart
from travel.domain.rules import RemedyRow
from travel.planning.remedies import Question
from travel.planning.remedy_causes import Blocked

DAY_S = 86400.0
FIRST_HORIZON = dt.timedelta(hours=1)
GROUND_ORDER = ("dry", "damp", "wet", "mud")
"""From good to bad; frozen and thawing ground stand outside it and may become any of these."""
MOST_STARTS = 3


@dataclass(frozen=True, eq=False, kw_only=True)
class Scenario:
    """The question changed in one respect, by one row of the rulebook."""

    question: Question
    row: RemedyRow
    parts: tuple[RemedyPart, ...]
    cost: float
    feature: str = ""


def scenarios(question: Question, blocked: tuple[Blocked, ...]) -> Iterator[Scenario]:
    """Give every change of the question that the rulebook offers against what shuts the ways."""
    rules = {cause.rule for one in blocked for cause in one.seen}
    for row in question.out.rulebook.remedies:
        if row.forbidden or not rules & set(row.rules):
            continue
        if row.layer == "weather":
            yield from _weather(question, row)
        elif row.layer == "request" and row.fields == ("at",):
            yield from _later(question, row, blocked)
        elif row.layer == "request" and row.fields == ("load",):
            yield from _unloaded(question, row)


def _weather(question: Question, row: RemedyRow) -> Iterator[Scenario]:
    """Wait for better ground; of a way back that has the weather of the way out nothing is said apart."""
    now = question.out.weather.ground
    for value in row.values:
        parts: list[RemedyPart] = []

        def change(case: Case, value: str = str(value)) -> Case:
            if not _drier(case.weather.ground, value):
                return case
            return replace(case, weather=case.weather.model_copy(update={"ground": value}))

        if _drier(now, str(value)):
            parts.append(RemedyPart(layer="weather", feature="", field="ground", old=now, value=value))
        then = None if question.back is None else question.back.weather.ground
        if then != now and _drier(then, str(value)):
            parts.append(RemedyPart(layer="weather", feature="back", field="ground", old=then, value=value))
        if parts:
            yield Scenario(question=question.changed(change), row=row, parts=tuple(parts), cost=row.price)


def _drier(now: str | None, value: str) -> bool:
    if now is None or value == now:
        return False
    return now not in GROUND_ORDER or GROUND_ORDER.index(value) < GROUND_ORDER.index(now)


def _later(question: Question, row: RemedyRow, blocked: tuple[Blocked, ...]) -> Iterator[Scenario]:
    """Start when a closure has ended; the way back moves by as much, or gets its hour after the way out."""
    layer = question.out.survey.site.layers["closures"]
    shut = {cause.feature for one in blocked for cause in one.seen if cause.rule == "closure" and cause.feature >= 0
            and cause.layer == "closures"}  # fmt: skip
    ends = {}
    for feature in sorted(shut):
        until = layer.text("closed_until")[feature]
        if until is not None:
            ends[dt.datetime.fromisoformat(until)] = layer.ids[feature]
    now = question.out.at
    for end in sorted(end for end in ends if now is None or end > now)[:MOST_STARTS]:
        span = (question.out.until - now) if now is not None and question.out.until is not None else FIRST_HORIZON
        parts = [RemedyPart(layer="request", feature="", field="at", old=_said(now), value=_said(end))]
        back = question.back
        if back is not None:
            later = _whole_minute(end + span) if back.at is None or now is None else back.at + (end - now)
            parts.append(
                RemedyPart(layer="request", feature="back", field="at", old=_said(back.at), value=_said(later))
            )
            back = replace(back, at=later, until=later + span)
        asked = replace(question, out=replace(question.out, at=end, until=end + span), back=back)
        days = max((end - now).total_seconds() / DAY_S, 0.0) if now is not None else 0.0
        cost = row.price + row.price_per_unit * days
        yield Scenario(question=asked, row=row, parts=tuple(parts), cost=cost, feature=ends[end])


def _whole_minute(at: dt.datetime) -> dt.datetime:
    whole = at.replace(second=0, microsecond=0)
    return whole if whole == at else whole + dt.timedelta(minutes=1)


def _said(at: dt.datetime | None) -> str | None:
    return None if at is None else at.isoformat()


def _unloaded(question: Question, row: RemedyRow) -> Iterator[Scenario]:
    """Leave the load of either way behind."""
    parts: list[RemedyPart] = []
    cases: list[Case] = []
    for feature, case in zip(("", "back"), question.cases, strict=False):
        stowed = case if case.load is None else _stowed(case) if case.body.attitude in row.attitudes else None
        if stowed is None:
            return
        cases.append(stowed)
        if case.load is not None:
            parts.append(RemedyPart(layer="request", feature=feature, field="load", old=case.load.name, value=None))
    if parts:
        asked = replace(question, out=cases[0], back=cases[1] if len(cases) > 1 else None)
        yield Scenario(question=asked, row=row, parts=tuple(parts), cost=row.price)


def _stowed(case: Case) -> Case | None:
    body = make_body(case.machine, None)
    return None if body is None else replace(case, body=body, load=None)
