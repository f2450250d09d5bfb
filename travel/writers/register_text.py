"""What the register says, in words: decisions, standings, what was found in it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from travel.domain.decision import Closed, Decision, Flaw, Recorded, ReleaseCondition, Standing, State, why_not_go
from travel.writers.text import isolated, plain
from travel.writers.words import moment

OVER: tuple[State, ...] = ("refused", "suspended", "withdrawn", "lapsed", "handed back")
"""States in which the answer is no, whatever the ground says."""
AS_DECIDED = "GO AS DECIDED"
"""What stands beside a plan whose facts nobody has asked about just now."""
CLOCK_SET = "the time was set by {}, not by this computer's clock"
_DONE = {
    "enrol": "enrolled",
    "retire": "retired",
    "clock": "put the clock right",
    "submit": "submitted",
    "release": "released",
    "refuse": "refused",
    "suspend": "suspended",
    "withdraw": "withdrew",
    "accept": "accepted",
    "close_condition": "closed a condition of",
    "hand_back": "handed back",
    "renew": "renewed",
}


def recorded_text(recorded: Recorded, standing: Standing | None) -> str:
    """Give what was decided and where the plan then stands."""
    decision = recorded.decision
    lines = [f"Decision {decision_line(decision)}", f"  hash {grouped(decision.hash)}"]
    lines += [f"  {CLOCK_SET.format(decision.intent.clock)}"] if decision.intent.clock else []
    if standing is not None:
        lines += ["", *standing_lines(standing)]
    lines += [f"Note: {plain(doubt)}" for doubt in recorded.doubts]
    return "\n".join(lines)


def decision_line(decision: Decision) -> str:
    """Give a decision in one line: number, when, who, what."""
    intent = decision.intent
    what = _DONE[intent.kind]
    if intent.person is not None:
        roles = ", ".join(intent.person.roles) if intent.kind == "enrol" else ""
        what += f" {isolated(intent.person.name)}" + (f" as {roles}" if roles else "")
    elif intent.kind == "close_condition":
        what += f" the release: {isolated(intent.condition)}"
    elif intent.plan:
        what += " the plan"
    line = f"{decision.seq}  {moment(intent.at.isoformat())}  {isolated(intent.by)} ({intent.role}) {what}"
    return line + (f" until {moment(intent.until.isoformat())}" if intent.until else "")


def standing_lines(standing: Standing, void: bool | None = None) -> list[str]:
    """Give where a plan stands: state, until when, what is open, whether the machine may move.

    Args:
        standing: what was decided
        void: whether what the plan relied on is gone; None where nobody asked, and then the word is never plain *go*
    """
    subject = standing.subject
    lines = [f"{isolated(subject.plan_id)}  {isolated(subject.title)}"]
    against = [*(["the plan is void"] if void else []), *why_not(standing)]
    if against:
        lines.append("  NOT GO: " + "; ".join(against))
    else:
        lines.append("  GO" if void is False else f"  {AS_DECIDED}: travel status tells whether its facts still hold")
    lines.append(f"  {standing.state.upper()} by {isolated(standing.by)}, {moment(standing.since.isoformat())}")
    if standing.ends is not None and standing.state in ("released", "released with conditions", "lapsed"):
        word = "ended" if standing.state == "lapsed" else "holds until"
        hours = "" if standing.ends == standing.until else ", the end of the hours planned for"
        lines.append(f"  {word} {moment(standing.ends.isoformat())}{hours}")
    if standing.note:
        lines.append(f"  reason: {isolated(standing.note)}")
    if standing.accepted_by:
        lines.append(f"  accepted by {isolated(standing.accepted_by)}")
    if standing.open and standing.state not in OVER:
        lines.append("  open conditions:")
        for condition in standing.open:
            lines += [f"    {line}" for line in condition_lines(condition)]
    if standing.closed:
        lines.append("  closed conditions:")
        lines += [f"    {closed_line(item)}" for item in standing.closed]
    return lines


def why_not(standing: Standing) -> list[str]:
    """Give why the machine may not move in few words: conditions are counted, for they are listed beside it."""
    if standing.state not in ("released", "released with conditions"):
        return [f"the plan is {standing.state}"]
    count, begins = len(standing.open), standing.subject.begins
    found = [f"planned for {moment(begins.isoformat())}, not before"] if standing.early and begins else []
    found += [f"{count} condition{'s are' if count > 1 else ' is'} open"] if count else []
    return found if standing.accepted_by else [*found, "no operator has accepted it by name"]


def closed_line(item: Closed) -> str:
    """Give a closed condition in one line: which, by whom, when, shown by what."""
    when = moment(item.at.isoformat())
    return f"{isolated(item.condition.id)}: {isolated(item.evidence)} – {isolated(item.by)}, {when}"


def condition_lines(condition: ReleaseCondition) -> list[str]:
    """Give a condition: what; below it who, when, shown by what."""
    who = f"who: {isolated(condition.owner)}; when: {isolated(condition.due)}"
    return [
        f"{isolated(condition.id)}: {isolated(condition.text)}",
        f"  {who}; shown by: {isolated(condition.evidence)}",
    ]


def list_text(standings: Sequence[Standing], at: dt.datetime) -> str:
    """Give every plan in two lines."""
    if not standings:
        return "No plan was submitted yet."
    lines = [f"{len(standings)} plan{'s' if len(standings) != 1 else ''} at {moment(at.isoformat())}"]
    for each in standings:
        against = why_not_go(each)
        held = each.ends if each.state in ("released", "released with conditions") else None
        until = f" until {moment(held.isoformat())}" if held else ""
        open_ = f", {len(each.open)} open" if each.open else ""
        lines.append(f"{isolated(each.subject.plan_id)} ({each.subject.digest[:12]})  {isolated(each.subject.title)}")
        lines.append(f"  {'NOT GO' if against else AS_DECIDED}  {each.state}{until}{open_}, by {isolated(each.by)}")
    return "\n".join(lines)


def show_text(standing: Standing) -> str:
    """Give one plan's standing, what was accepted, and every decision on it."""
    subject = standing.subject
    lines = [*standing_lines(standing), "", f"  file SHA-256 {grouped(subject.digest)}"]
    lines.append(f"  fingerprint {grouped(subject.fingerprint)}")
    if subject.survey_ends is not None:
        lines.append(
            f"  survey of {isolated(subject.survey_first)} holds until {moment(subject.survey_ends.isoformat())}"
        )
    lines += [f"  unknown accepted: {isolated(u.id)}: {isolated(u.reason)}" for u in standing.unknowns]
    lines += [f"  beside plan {item.id[:12]}: {isolated(item.reason)}" for item in standing.beside]
    lines += ["", "Decisions"]
    for decision in standing.decisions:
        lines.append(decision_line(decision))
        intent = decision.intent
        lines += [f"     said: {isolated(intent.note)}"] if intent.note else []
        lines += [f"     shown by: {isolated(intent.evidence)}"] if intent.evidence else []
        lines += [f"     {CLOCK_SET.format(isolated(intent.clock))}"] if intent.clock else []
        lines.append(f"     hash {grouped(decision.hash)}")
    return "\n".join(lines)


def standing_json(standing: Standing) -> dict[str, Any]:
    """Give a standing as JSON holds it."""
    return {
        "plan_id": standing.subject.plan_id,
        "digest": standing.subject.digest,
        "fingerprint": standing.subject.fingerprint,
        "title": standing.subject.title,
        "state": standing.state,
        "go": not why_not_go(standing),
        "why_not_go": list(why_not_go(standing)),
        "since": standing.since.isoformat(),
        "by": standing.by,
        "submitted_by": list(standing.makers),
        "until": standing.until.isoformat() if standing.until else None,
        "ends": standing.ends.isoformat() if standing.ends else None,
        "accepted_by": standing.accepted_by or None,
        "open": [asdict(condition) for condition in standing.open],
        "closed": [
            {"id": c.condition.id, "by": c.by, "at": c.at.isoformat(), "evidence": c.evidence} for c in standing.closed
        ],
        "unknowns": [{"id": u.id, "reason": u.reason} for u in standing.unknowns],
        "decisions": [
            {
                "seq": d.seq,
                "kind": d.intent.kind,
                "by": d.intent.by,
                "role": d.intent.role,
                "at": d.intent.at.isoformat(),
                "note": d.intent.note,
                "clock": d.intent.clock,
                "hash": d.hash,
            }
            for d in standing.decisions
        ],
    }


def verify_text(flaws: Sequence[Flaw], count: int, head: str) -> str:
    """Give what a walk over the register found."""
    if flaws:
        found = [f"  {plain(flaw.text())}" for flaw in flaws]
        return "\n".join(["The register does NOT hold together; nothing in it counts as decided:", *found])
    return (
        f"The register holds together: {count} decision{'s' if count != 1 else ''}, each signed, chained and allowed.\n"
        f"  last hash {grouped(head)}"
    )


def export_text(identity: str, count: int, head: str, flaws: Sequence[Flaw], file: str) -> str:
    """Give what is to be kept on paper: the register, its count and its last hash."""
    lines = [
        "To be kept on paper, away from this computer:",
        f"  register {grouped(identity)}",
        f"  decisions {count}",
        f"  last hash {grouped(head)}",
        "Later: travel register verify --head with the first 16 digits or more.",
    ]
    lines += [f"written: {file}"] if file else []
    return "\n".join(lines + ([verify_text(flaws, count, head)] if flaws else []))


def refused_text(reasons: Sequence[str], tampered: bool) -> str:
    """Give why a decision was not made."""
    head = (
        "The register does NOT hold together; nothing in it counts as decided, and nothing was recorded:"
        if tampered
        else "Not done; nothing was recorded:"
    )
    return "\n".join([head, *(f"  {plain(reason)}" for reason in reasons)])


def password_text(name: str) -> str:
    """Say that a password was changed."""
    return f"{isolated(name)} has another password; the key is the same."


def grouped(digest: str) -> str:
    """Give a hash in groups of eight, as people compare them.

    >>> grouped("0123456789abcdef")
    '01234567 89abcdef'
    """
    return " ".join(plain(digest)[i : i + 8] for i in range(0, len(digest), 8))


def verify_json(flaws: Sequence[Flaw], count: int, head: str) -> dict[str, Any]:
    """Give what a walk over the register found as JSON holds it."""
    return {"whole": not flaws, "decisions": count, "head": head, "flaws": [asdict(flaw) for flaw in flaws]}
