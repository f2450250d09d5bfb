"""Deciding about plans: the words of a command into a decision, and where things then stand."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import cast

from travel.domain.decision import Flaw, Intent, Kind, Person, Recorded, ReleaseCondition, Role, Standing, Subject
from travel.domain.request import Acceptance
from travel.errors import Fault, InputError, Refused
from travel.readers.files import read_bytes
from travel.readers.notes import Notes
from travel.register import Register
from travel.service.again import Now, still_valid
from travel.service.cases import clock_told
from travel.service.cases import now as clock
from travel.service.subject import same_words, subject_of, values_end
from travel.service.workspace import Progress
from travel.writers import register_text as texts
from travel.writers.changes_text import change_lines
from travel.writers.files import write_whole
from travel.writers.plan_json import plan_from_bytes

DEFAULT_LOCATION = "travel-register.sqlite"
SHORTEST_DIGEST = 6
"""Digits of a plan's digest that are enough to name it."""
ROLES: tuple[Role, ...] = ("planner", "supervisor", "operator", "crew")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the register is; without a location the file of the usual name in the current folder."""

    location: str | None = None
    anchor: Path | None = None

    def open(self) -> Register:
        """Give the register."""
        return Register(self.location or DEFAULT_LOCATION, self.anchor)

    def there(self) -> bool:
        """Tell whether one was named, or the usual file is there."""
        return self.location is not None or Path(DEFAULT_LOCATION).is_file()


@dataclass(frozen=True, slots=True, kw_only=True)
class Signer:
    """Who decides, with the password; in which role, where he has several."""

    name: str
    password: str
    role: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """The words of a release or renewal: until when, further conditions, unknowns accepted, plans kept apart from."""

    until: str
    conditions: tuple[str, ...] = ()
    accept_unknown: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()


def init(place: Place, signer: Signer, roles: tuple[str, ...]) -> str:
    """Make a register with its first supervisor."""
    own = tuple(dict.fromkeys((*roles_of(roles), "supervisor")))
    register = place.open()
    recorded = register.create(signer.name, own, signer.password, clock(), clock_told())
    return texts.recorded_text(recorded, None)


def person(place: Place, signer: Signer, name: str, roles: tuple[str, ...], new_password: str) -> str:
    """Enrol a person, or give one enrolled other roles and a new key."""
    if not roles:
        raise InputError([_fault("--role", "", "is needed", ", ".join(ROLES))])
    new = Person(name=name, roles=roles_of(roles), public_key="")
    enrolled = place.open().enrol(signer.name, signer.password, new, new_password, clock(), clock_told())
    return texts.recorded_text(enrolled, None)


def retire(place: Place, signer: Signer, name: str, reason: str) -> str:
    """Let a person decide nothing any more."""
    gone = place.open().retire(signer.name, signer.password, name, reason, clock(), clock_told())
    return texts.recorded_text(gone, None)


def change_password(place: Place, signer: Signer, new_password: str) -> str:
    """Seal a person's own key with another password."""
    place.open().change_password(signer.name, signer.password, new_password)
    return texts.password_text(signer.name)


def put_clock_right(place: Place, signer: Signer, reason: str) -> str:
    """Record that the clock was wrong when the last decision was made; later ones may then be earlier than it."""
    register = place.open()
    intent = Intent(kind="clock", by=signer.name, role="supervisor", at=clock(), note=reason, clock=clock_told())
    return texts.recorded_text(register.decide(intent, signer.password), None)


def submit(place: Place, plan_file: Path, signer: Signer, note: str = "") -> str:
    """Put a plan before the supervisors."""
    data = _read(plan_file)
    subject, _ = subject_of(data, plan_file.name)
    register = place.open()
    intent = Intent(
        kind="submit",
        by=signer.name,
        role=_role(register, signer, "submit"),
        at=clock(),
        plan=subject.digest,
        fingerprint=subject.fingerprint,
        note=note,
        clock=clock_told(),
        subject=subject,
    )
    return _said(register, register.decide(intent, signer.password, data), subject)


def release_or_renew(
    place: Place,
    plan: str,
    signer: Signer,
    terms: Terms,
    now: Now,
    renew: bool = False,
    tell: Progress | None = None,
) -> tuple[str, bool]:
    """Release a plan, or renew its release, after asking whether what it relied on is still there.

    Gives what was decided in words, and whether nothing stays open.

    Raises:
        Refused: with every reason: the plan is void, not everything was compared, or the register's rules
        Tampered: the register does not hold together
    """
    register = place.open()
    kind: Kind = "renew" if renew else "release"
    standing = find(register, plan, clock())
    subject = standing.subject
    told, kept = subject_of(register.content(subject.digest), subject.plan_id)
    validity = still_valid(kept, now, tell, to_the_letter=True)
    against = ["the plan is void:", *(f"  {line}" for line in change_lines(validity))] if validity.void else []
    against += [] if same_words(told, subject) else ["it was submitted with words that are not the plan file's"]
    against += [f"{name} was not given, so it was not compared" for name in validity.not_compared]
    beside = tuple(_beside(register, text) for text in terms.beside)
    intent = _intent(register, signer, kind, subject)
    intent = replace(
        intent,
        until=_until(terms.until),
        conditions=_conditions(standing, terms, beside, kind),
        unknowns=tuple(_pair("--accept-unknown", text) for text in terms.accept_unknown),
        beside=beside,
    )
    last, feature = values_end(kept)
    if last is not None and intent.until is not None and intent.until > last:
        against.append(f"what is said of {feature} holds until {last.isoformat()}, not longer")
    against += [*register.ask(intent), *_still_there(register, subject, intent)]
    if against:
        raise Refused(tuple(against))
    recorded = register.decide(intent, signer.password)
    standing = find(register, subject.digest, clock())
    return texts.recorded_text(recorded, standing), not standing.open


def decide(place: Place, plan: str, signer: Signer, kind: str, note: str = "") -> str:
    """Refuse, suspend, withdraw, accept or hand back."""
    register = place.open()
    standing = find(register, plan, clock())
    subject, taker = standing.subject, standing.accepted_by
    intent = replace(_intent(register, signer, cast(Kind, kind), subject), note=note)
    if kind == "hand_back" and intent.role == "operator" and taker not in ("", signer.name):
        raise Refused((f"{taker} took it, so {taker} hands it back, or a supervisor does",))
    return _said(register, register.decide(intent, signer.password), subject)


def close_condition(place: Place, plan: str, signer: Signer, condition: str, evidence: str) -> str:
    """Close one condition, with what shows that it is done."""
    register = place.open()
    subject = find(register, plan, clock()).subject
    intent = _intent(register, signer, "close_condition", subject)
    intent = replace(intent, condition=condition, evidence=evidence)
    return _said(register, register.decide(intent, signer.password), subject)


def listed(place: Place, as_json: bool) -> str:
    """Give every plan and where it stands."""
    at = clock()
    standings = place.open().standings(at)
    if as_json:
        return json.dumps([texts.standing_json(each) for each in standings], indent=2, ensure_ascii=False)
    return texts.list_text(standings, at)


def shown(place: Place, plan: str, as_json: bool) -> str:
    """Give one plan's standing with every decision on it."""
    standing = find(place.open(), plan, clock())
    if as_json:
        return json.dumps(texts.standing_json(standing), indent=2, ensure_ascii=False)
    return texts.show_text(standing)


def verify(place: Place, head: str, write_anchor: bool, as_json: bool = False) -> tuple[str, bool]:
    """Walk the whole register; give what was found, and whether it holds together."""
    register = place.open()
    if write_anchor:
        register.anchor_anew(head)
    flaws = register.verify(head)
    flaws += _subject_flaws(register) if not flaws else ()
    _, rows = register.export()
    last = rows[-1].hash if rows else ""
    if as_json:
        found = texts.verify_json(flaws, len(rows), last)
        return json.dumps(found, indent=2, ensure_ascii=False), not flaws
    return texts.verify_text(flaws, len(rows), last), not flaws


def export(place: Place, out: Path | None) -> tuple[str, bool]:
    """Give the head for paper and whether the register holds together; write every decision as kept into a file."""
    register = place.open()
    flaws = register.verify()
    identity, rows = register.export()
    if out is not None:
        content = {"format": 1, "register": identity, "decisions": [asdict(row) for row in rows]}
        write_whole(out, json.dumps(content, indent=2, ensure_ascii=False).encode("utf-8") + b"\n")
    head = rows[-1].hash if rows else ""
    return texts.export_text(identity, len(rows), head, flaws, str(out or "")), not flaws


def refusal(reasons: tuple[str, ...], tampered: bool) -> str:
    """Give why a decision was not made, in words."""
    return texts.refused_text(reasons, tampered)


def find(register: Register, plan: str, at: dt.datetime) -> Standing:
    """Give the standing of a plan by its file, its number or the first digits of its digest.

    Raises:
        Refused: a file that is not the one submitted
        InputError: nothing of that name, or several
    """
    standings = register.standings(at)
    path = Path(plan)
    if path.is_file():
        data = _read(path)
        digest = hashlib.sha256(data).hexdigest()
        own = next((s for s in standings if s.subject.digest == digest), None)
        if own is not None:
            return own
        number = plan_from_bytes(data, path.name).plan_id
        if any(s.subject.plan_id == number for s in standings):
            said = f"{path.name} is not the file submitted as {number}: it was changed since, or planned again"
            raise Refused((said,))
        raise InputError([_fault("PLAN", plan, "was never submitted", "travel submit")])
    start = plan if len(plan) >= SHORTEST_DIGEST else "no digest"
    found = [s for s in standings if s.subject.plan_id == plan or s.subject.digest.startswith(start)]
    if len(found) != 1:
        known = ", ".join(f"{s.subject.plan_id} ({s.subject.digest[:12]})" for s in (found or standings))
        message = "is several plans; name one by its digest" if found else "is no file and no plan of this register"
        raise InputError([_fault("PLAN", plan, message, known or "none")])
    return found[0]


def roles_of(words: tuple[str, ...]) -> tuple[Role, ...]:
    """Give roles by their words."""
    faults = [_fault("--role", word, "is not a role", ", ".join(ROLES)) for word in words if word not in ROLES]
    if faults:
        raise InputError(faults)
    return tuple(role for role in ROLES if role in words)


def _intent(register: Register, signer: Signer, kind: Kind, subject: Subject) -> Intent:
    return Intent(
        kind=kind,
        by=signer.name,
        role=_role(register, signer, kind),
        at=clock(),
        plan=subject.digest,
        fingerprint=subject.fingerprint,
        clock=clock_told(),
    )


def _role(register: Register, signer: Signer, kind: Kind) -> Role:
    return roles_of((signer.role,))[0] if signer.role else register.role_of(signer.name, kind)


def _said(register: Register, recorded: Recorded, subject: Subject) -> str:
    standing = find(register, subject.digest, clock())
    return texts.recorded_text(recorded, standing)


def _conditions(
    standing: Standing, terms: Terms, beside: tuple[Acceptance, ...], kind: Kind
) -> tuple[ReleaseCondition, ...]:
    """Give the plan's conditions, the supervisor's and those that keep two plans apart; a renewal keeps what it had."""
    kept = {c.id for c in (*standing.open, *(item.condition for item in standing.closed))} if kind == "renew" else set()
    first = 1 + sum(name.startswith("supervisor-") for name in kept)
    further = [_condition(text, number) for number, text in enumerate(terms.conditions, first)]
    further += [condition for item in beside if (condition := _apart(item)).id not in kept]
    return tuple(further) if kind == "renew" else (*standing.subject.conditions, *further)


def _condition(text: str, number: int) -> ReleaseCondition:
    parts = [part.strip() for part in text.split("|")]
    if len(parts) != 4 or not all(parts):
        allowed = "'what|who|when due|shown by what'"
        raise InputError([_fault("--condition", text, "cannot be read", allowed)])
    return ReleaseCondition(id=f"supervisor-{number}", text=parts[0], owner=parts[1], due=parts[2], evidence=parts[3])


def _pair(option: str, text: str) -> Acceptance:
    name, colon, reason = text.partition(":")
    if not colon or not name.strip() or not reason.strip():
        raise InputError([_fault(option, text, "needs an id and a reason", "ID:REASON")])
    return Acceptance(id=name.strip(), reason=reason.strip())


def _beside(register: Register, text: str) -> Acceptance:
    named = _pair("--beside", text)
    return Acceptance(id=find(register, named.id, clock()).subject.digest, reason=named.reason)


def _apart(item: Acceptance) -> ReleaseCondition:
    return ReleaseCondition(
        id=f"apart-{item.id[:12]}",
        text=f"Kept apart from plan {item.id[:12]} on the same lane: {item.reason}",
        owner="supervisor",
        due="before the machine moves",
        evidence="said to both operators by name",
    )


def _still_there(register: Register, subject: Subject, intent: Intent) -> list[str]:
    """Find plans an operator took and never handed back: whatever the hour, the machine may stand on the same lane."""
    named = {item.id for item in intent.beside if item.reason.strip()}
    said = []
    for other in register.standings(intent.at):
        own, lane = other.subject, [road for road in subject.roads if road in other.subject.roads]
        halted = other.accepted_by and other.state in ("suspended", "lapsed") and own.site == subject.site
        if halted and lane and own.digest not in named | {subject.digest}:
            said.append(
                f"{own.plan_id} ({own.title}) is {other.state}, but {other.accepted_by} took it and has not handed it "
                f"back: that machine may stand on the same lane ({', '.join(lane)}); have it handed back, or say how "
                f"they are kept apart (plan {own.digest[:12]})"
            )
    return said


def _until(text: str) -> dt.datetime:
    try:
        until = dt.datetime.fromisoformat(text)
    except ValueError:
        until = None
    if until is None or until.tzinfo is None:
        allowed = "RFC 3339 with offset, as in 2026-11-25T17:00:00+00:00"
        raise InputError([_fault("--until", text, "is not a time with offset", allowed)])
    return until


def _subject_flaws(register: Register) -> tuple[Flaw, ...]:
    """Check that what was submitted says what the plan file says."""
    flaws = []
    for standing in register.standings(clock()):
        own = standing.subject
        told, _ = subject_of(register.content(own.digest), own.plan_id)
        if not same_words(told, own):
            flaws.append(Flaw(where=f"plan {own.digest[:12]}", what="was submitted with words that are not the file's"))
    return tuple(flaws)


def _read(path: Path) -> bytes:
    notes = Notes(file=path.name)
    read = read_bytes(path, "plan", notes)
    if read is None:
        raise InputError(notes.faults)
    return read[0]


def _fault(field: str, value: str, message: str, allowed: str = "") -> Fault:
    return Fault(file="command", field=field, value=value, message=message, allowed=allowed)
