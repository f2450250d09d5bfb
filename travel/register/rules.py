"""What may be decided by whom and when. ``ask`` gives every reason against a decision, ``insist`` stops at them."""

from __future__ import annotations

import datetime as dt
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from travel.domain.decision import Intent, Kind, Role, State, Subject
from travel.errors import Refused
from travel.register.ledger import RELEASED, Case, Ledger

JOINERS = "\u200c\u200d"
"""Marks inside words of some scripts; every other invisible mark is refused in a name."""
LONGEST_NAME = 100


@dataclass(frozen=True, slots=True)
class Rule:
    """Who decides a kind, and in which states of the plan (none: it is not about a plan)."""

    roles: tuple[Role, ...]
    states: tuple[State, ...] = ()
    reason: bool = False


RULES: dict[Kind, Rule] = {
    "enrol": Rule(("supervisor",)),
    "retire": Rule(("supervisor",), reason=True),
    "clock": Rule(("supervisor",), reason=True),
    "submit": Rule(("planner",), ("draft", "refused")),
    "release": Rule(("supervisor",), ("submitted", "suspended")),
    "refuse": Rule(("supervisor",), ("submitted",), reason=True),
    "suspend": Rule(("supervisor", "operator", "crew", "planner"), RELEASED, reason=True),
    "withdraw": Rule(("supervisor", "planner"), ("submitted", *RELEASED, "suspended", "lapsed"), reason=True),
    "accept": Rule(("operator",), RELEASED),
    "close_condition": Rule(("supervisor", "operator", "crew"), ("released with conditions",)),
    "hand_back": Rule(("operator", "supervisor"), (*RELEASED, "suspended", "lapsed")),
    "renew": Rule(("supervisor",), (*RELEASED, "lapsed")),
}
WORDS: dict[Kind, str] = {
    "enrol": "enrol people",
    "retire": "retire people",
    "clock": "put the clock right",
    "close_condition": "close a condition",
    "hand_back": "hand it back",
    "submit": "submit a plan",
    "release": "release it",
    "refuse": "refuse it",
    "suspend": "suspend it",
    "withdraw": "withdraw it",
    "accept": "accept it",
    "renew": "renew it",
}


def insist(ledger: Ledger, intent: Intent) -> None:
    """Stop where anything stands against a decision.

    Raises:
        Refused: with every reason
    """
    reasons = ask(ledger, intent)
    if reasons:
        raise Refused(reasons)


def ask(ledger: Ledger, intent: Intent) -> tuple[str, ...]:
    """Give every reason why a decision may not be made; none where it may."""
    return tuple(_reasons(ledger, intent))


def _reasons(ledger: Ledger, intent: Intent) -> Iterator[str]:
    rule = RULES[intent.kind]
    yield from _who(ledger, intent, rule)
    yield from _when(ledger, intent)
    if rule.reason and not intent.note.strip():
        yield "a reason is needed"
    if intent.at.tzinfo is None:
        return
    if not rule.states:
        yield from _person(ledger, intent)
        return
    case = ledger.cases.get(intent.plan)
    state = case.at(ledger.moment(intent.at)) if case else "draft"
    if state not in rule.states:
        yield f"the plan is {state}; to {WORDS[intent.kind]} it has to be {' or '.join(rule.states)}"
        return
    subject = intent.subject if intent.kind == "submit" else case.subject if case else None
    if subject is None or subject.digest != intent.plan or subject.fingerprint != intent.fingerprint:
        yield "the decision does not name the plan it is about"
        return
    if case is not None:
        yield from _about(ledger, intent, case)


def _who(ledger: Ledger, intent: Intent, rule: Rule) -> Iterator[str]:
    if not ledger.people and intent.kind == "enrol":
        person = intent.person
        if person is None or person.name != intent.by or "supervisor" not in person.roles:
            yield "the first person of a register enrols himself, as a supervisor"
        return
    person = ledger.active(intent.by)
    if person is None:
        yield f"{intent.by} is not enrolled" if intent.by not in ledger.gone else f"{intent.by} is retired"
    elif intent.role not in person.roles:
        yield f"{intent.by} is not enrolled as {intent.role}"
    if intent.role not in rule.roles:
        yield f"to {WORDS[intent.kind]} takes a {' or '.join(rule.roles)}, not a {intent.role}"


def _when(ledger: Ledger, intent: Intent) -> Iterator[str]:
    if intent.at.tzinfo is None:
        yield "the time has no offset"
    elif intent.kind != "clock" and ledger.last_at and intent.at < ledger.last_at:
        yield (
            f"the clock says {intent.at.isoformat()}, but the last decision was made at {ledger.last_at.isoformat()}: "
            "the clock was set back, or was ahead then"
        )


def _person(ledger: Ledger, intent: Intent) -> Iterator[str]:
    if intent.kind == "clock":
        return
    person = intent.person
    if person is None:
        yield "nobody is named"
        return
    if intent.kind == "retire":
        if ledger.active(person.name) is None:
            yield f"{person.name} is not enrolled"
        if not _supervisors(ledger, person.name):
            yield "no supervisor would be left"
        return
    yield from _name(ledger, person.name)
    if not person.roles:
        yield "a person needs a role"
    if any(other.public_key == person.public_key and other.name != person.name for other in ledger.people.values()):
        yield "the key belongs to somebody else"
    if "supervisor" not in person.roles and not _supervisors(ledger, person.name):
        yield "no supervisor would be left"


def _supervisors(ledger: Ledger, without: str) -> list[str]:
    """Give who else may enrol and release."""
    others = (p for p in ledger.people.values() if p.name not in ledger.gone | {without})
    return [other.name for other in others if "supervisor" in other.roles]


def _name(ledger: Ledger, name: str) -> Iterator[str]:
    invisible = [c for c in name if unicodedata.category(c)[0] in "CZ" and c != " " and c not in JOINERS]
    if not name.strip() or name != name.strip() or len(name) > LONGEST_NAME:
        yield f"a name has 1 to {LONGEST_NAME} characters and no blank at its ends"
    if invisible or name != unicodedata.normalize("NFC", name):
        yield "a name holds letters people can see, composed as usual (Unicode NFC)"
    alike = [other for other in ledger.people if other != name and other.casefold() == name.casefold()]
    if alike:
        yield f"{alike[0]} is enrolled already; names that differ in capitals only are one person"


def _about(ledger: Ledger, intent: Intent, case: Case) -> Iterator[str]:
    if intent.kind in ("release", "refuse", "renew", "close_condition") and intent.by in _makers(ledger, case):
        yield f"{intent.by} submitted this plan; somebody else has to {WORDS[intent.kind]}"
    if intent.kind == "accept":
        yield from (f"condition {item.id} is open: {item.text}" for item in case.open.values())
    if intent.kind == "close_condition":
        if intent.condition not in case.open:
            yield f"“{intent.condition}” is not an open condition; open: {', '.join(case.open) or 'none'}"
        if not intent.evidence.strip():
            yield "what shows that it is done has to be said"
    if intent.kind == "hand_back" and not case.accepted_by:
        yield "no operator has accepted it, so nobody has it to hand back; withdraw it"
    if intent.kind == "renew":
        kept = {*case.open, *(item.condition.id for item in case.closed)}
        yield from (f"there is a condition {c.id} already" for c in intent.conditions if c.id in kept)
    if intent.kind in ("release", "renew"):
        yield from _release(case.subject, intent)
        yield from _until(case.subject, intent)
        yield from _clashes(ledger, intent, case)


def _makers(ledger: Ledger, case: Case) -> set[str]:
    """Give everybody who submitted this plan or the same question's plan written another time."""
    same = (c for c in ledger.cases.values() if c.subject.plan_id == case.subject.plan_id)
    return {name for each in (case, *same) for name in each.makers}


def _release(subject: Subject, intent: Intent) -> Iterator[str]:
    yield from subject.faults
    if subject.outcome != "way" or subject.verdict == "blocked":
        yield "the plan has no way"
    ids = [condition.id for condition in intent.conditions]
    if len(ids) != len(set(ids)):
        yield "two conditions have the same id"
    for condition in intent.conditions:
        lacking = [name for name in ("id", "text", "owner", "due", "evidence") if not getattr(condition, name).strip()]
        if lacking:
            yield f"condition {condition.id or condition.text} has no {', '.join(lacking)}"
    if intent.kind == "renew":
        return
    left_out = [condition.id for condition in subject.conditions if condition not in intent.conditions]
    if left_out:
        yield f"conditions of the plan are left out: {', '.join(left_out)}"
    accepted = {item.id: item.reason for item in intent.unknowns}
    for unknown in subject.unknowns:
        if not unknown.acceptable:
            yield f"{unknown.id} is unknown and nobody may accept it on a form: {unknown.text}"
        elif not accepted.get(unknown.id, "").strip():
            yield f"{unknown.id} is unknown and was not accepted by name and reason: {unknown.text}"
    strange = sorted(accepted.keys() - {unknown.id for unknown in subject.unknowns})
    if strange:
        yield f"not an unknown of this plan: {', '.join(strange)}"


def _until(subject: Subject, intent: Intent) -> Iterator[str]:
    until = intent.until
    if until is None or until.tzinfo is None:
        yield "until when it holds has to be said, with offset"
        return
    if until <= intent.at:
        yield f"it would end at {until.isoformat()}, before it begins"
    if subject.survey_ends is None:
        yield "until when the survey holds is not known"
    elif until > subject.survey_ends:
        yield f"the survey of {subject.survey_first} holds until {subject.survey_ends.isoformat()}, not longer"
    if subject.ends is not None and subject.ends <= intent.at:
        yield f"the hours planned for ended at {subject.ends.isoformat()}"


def _clashes(ledger: Ledger, intent: Intent, case: Case) -> Iterator[str]:
    """Find released plans on the same road at the same hour that are not said to be kept apart."""
    at = ledger.moment(intent.at)
    named = {item.id for item in intent.beside if item.reason.strip()}
    wanted = Case(subject=case.subject, state="released", since=at, by=intent.by, until=intent.until)
    for digest, other in ledger.cases.items():
        if digest == intent.plan or other.at(at) not in RELEASED or other.subject.site != case.subject.site:
            continue
        lane = [road for road in case.subject.roads if road in other.subject.roads]
        start, end = max(wanted.span(at)[0], other.span(at)[0]), min(wanted.span(at)[1], other.span(at)[1])
        if lane and start < end and digest not in named:
            yield (
                f"{other.subject.plan_id} ({other.subject.title}) is released on the same lane "
                f"({', '.join(lane)}) from {_said(start)} to {_said(end)}; "
                f"say how they are kept apart (plan {digest[:12]})"
            )


def _said(moment: dt.datetime) -> str:
    return moment.isoformat(timespec="minutes")
