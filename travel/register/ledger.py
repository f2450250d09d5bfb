"""Decisions replayed in their order: who may decide, and where each plan stands. Nothing here is ever kept."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from travel.domain.decision import (
    Closed,
    Decision,
    Intent,
    Person,
    ReleaseCondition,
    Standing,
    State,
    Subject,
)
from travel.domain.request import Acceptance

RELEASED: tuple[State, ...] = ("released", "released with conditions")


@dataclass(slots=True)
class Case:
    """One plan while decisions are replayed on it."""

    subject: Subject
    state: State
    since: dt.datetime
    by: str
    makers: list[str] = field(default_factory=list)
    until: dt.datetime | None = None
    open: dict[str, ReleaseCondition] = field(default_factory=dict)
    closed: list[Closed] = field(default_factory=list)
    unknowns: tuple[Acceptance, ...] = ()
    beside: tuple[Acceptance, ...] = ()
    accepted_by: str = ""
    note: str = ""
    decisions: list[Decision] = field(default_factory=list)

    def at(self, now: dt.datetime) -> State:
        """Give the state at a moment: a release that has run out is lapsed, and so is one whose hours are over."""
        ends = [end for end in (self.until, self.subject.ends) if end is not None]
        return "lapsed" if self.state in RELEASED and ends and now >= min(ends) else self.state

    def span(self, at: dt.datetime) -> tuple[dt.datetime, dt.datetime]:
        """Give from when to when the machine may be on its lane: the hours planned for, within the release."""
        until = self.until or at
        return max(self.subject.begins or at, at), min(self.subject.ends or until, until)


@dataclass(slots=True)
class Ledger:
    """People and plans after a number of decisions."""

    people: dict[str, Person] = field(default_factory=dict)
    gone: set[str] = field(default_factory=set)
    cases: dict[str, Case] = field(default_factory=dict)
    last_at: dt.datetime | None = None
    count: int = 0
    head: str = ""

    def moment(self, now: dt.datetime) -> dt.datetime:
        """Give the moment to judge by: a clock set back does not bring a lapsed release to life."""
        return max(now, self.last_at) if self.last_at else now

    def active(self, name: str) -> Person | None:
        """Give a person who may decide."""
        return None if name in self.gone else self.people.get(name)

    def standing(self, digest: str, now: dt.datetime) -> Standing | None:
        """Give where a plan stands, or None where the register has never seen it (a draft)."""
        case = self.cases.get(digest)
        if case is None:
            return None
        return Standing(
            subject=case.subject,
            asked_at=self.moment(now),
            state=case.at(self.moment(now)),
            since=case.since,
            by=case.by,
            makers=tuple(case.makers),
            until=case.until,
            open=tuple(case.open.values()),
            closed=tuple(case.closed),
            unknowns=case.unknowns,
            beside=case.beside,
            accepted_by=case.accepted_by,
            note=case.note,
            decisions=tuple(case.decisions),
        )

    def apply(self, decision: Decision) -> None:
        """Take a decision in. It has been asked about before."""
        intent = decision.intent
        self.count, self.head, self.last_at = decision.seq, decision.hash, intent.at
        if intent.kind == "enrol" and intent.person:
            self.people[intent.person.name] = intent.person
            self.gone.discard(intent.person.name)
        elif intent.kind == "retire" and intent.person:
            self.gone.add(intent.person.name)
        elif intent.kind == "submit" and intent.subject:
            self._submit(intent, intent.subject)
        if intent.plan in self.cases:
            case = self.cases[intent.plan]
            _apply(case, intent)
            case.decisions.append(decision)

    def _submit(self, intent: Intent, subject: Subject) -> None:
        before = self.cases.get(intent.plan)
        case = Case(subject=subject, state="submitted", since=intent.at, by=intent.by)
        case.makers = list(dict.fromkeys([*(before.makers if before else ()), intent.by]))
        case.decisions = before.decisions if before else []
        self.cases[intent.plan] = case


def _apply(case: Case, intent: Intent) -> None:
    kind = intent.kind
    if kind == "accept":
        case.accepted_by = intent.by
        return
    if kind == "close_condition":
        condition = case.open.pop(intent.condition)
        case.closed.append(Closed(condition=condition, by=intent.by, at=intent.at, evidence=intent.evidence))
        return
    case.since, case.by, case.note = intent.at, intent.by, intent.note
    if kind == "release":
        case.open = {condition.id: condition for condition in intent.conditions}
        case.unknowns = intent.unknowns
    if kind == "renew":
        again = [*(item.condition for item in case.closed), *case.open.values(), *intent.conditions]
        case.open = {condition.id: condition for condition in again}
    if kind in ("release", "renew"):
        case.state = "released with conditions" if case.open else "released"
        case.until, case.beside, case.accepted_by, case.closed = intent.until, intent.beside, "", []
        return
    ends: dict[str, State] = {
        "refuse": "refused",
        "suspend": "suspended",
        "withdraw": "withdrawn",
        "hand_back": "handed back",
    }
    case.state = ends.get(kind, case.state)
