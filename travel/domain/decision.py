"""Decisions about plans, and what follows from them: decisions are kept, standings are computed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from travel.domain.request import Acceptance

Role = Literal["planner", "supervisor", "operator", "crew"]
Kind = Literal[
    "enrol",
    "retire",
    "clock",
    "submit",
    "release",
    "refuse",
    "suspend",
    "withdraw",
    "accept",
    "close_condition",
    "hand_back",
    "renew",
]
State = Literal[
    "draft",
    "submitted",
    "released",
    "released with conditions",
    "refused",
    "suspended",
    "withdrawn",
    "lapsed",
    "handed back",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Who may decide: name, roles, and the public key (Ed25519, hexadecimal) that decisions are checked with."""

    name: str
    roles: tuple[Role, ...]
    public_key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseCondition:
    """What has to be done before the move: by whom, when due, shown by what."""

    id: str
    text: str
    owner: str
    due: str
    evidence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenUnknown:
    """An unknown on the way; ``reason`` is the planner's where he accepted it, ``acceptable`` whether anybody may."""

    id: str
    text: str
    acceptable: bool
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What is decided about: the digest of a plan file, and what a decision on it has to know of its content.

    ``begins`` and ``ends`` span the hours planned for (None: any hour); ``survey_ends`` is when the first survey the
    way relies on is too old (None: not known, so nobody may release); ``faults`` say why nobody may release at all.
    """

    digest: str
    plan_id: str
    fingerprint: str
    title: str
    site: str
    roads: tuple[str, ...]
    outcome: str
    verdict: str
    begins: dt.datetime | None = None
    ends: dt.datetime | None = None
    survey_ends: dt.datetime | None = None
    survey_first: str = ""
    conditions: tuple[ReleaseCondition, ...] = ()
    unknowns: tuple[OpenUnknown, ...] = ()
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Intent:
    """A decision somebody wants to make.

    ``plan`` is the digest of the plan file; ``unknowns`` are accepted one by one; ``beside`` names released plans
    on the same lane at the same hour and how they are kept apart; ``condition`` is the one closed, ``evidence`` what
    shows it; ``clock`` says what the time was taken from where that was not the computer's own clock.
    """

    kind: Kind
    by: str
    role: Role
    at: dt.datetime
    plan: str = ""
    fingerprint: str = ""
    until: dt.datetime | None = None
    note: str = ""
    conditions: tuple[ReleaseCondition, ...] = ()
    unknowns: tuple[Acceptance, ...] = ()
    beside: tuple[Acceptance, ...] = ()
    condition: str = ""
    evidence: str = ""
    clock: str = ""
    subject: Subject | None = None
    person: Person | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """A decision as kept: numbered, holding the hash of the one before it, signed."""

    seq: int
    previous: str
    hash: str
    signature: str
    intent: Intent


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """A condition that was closed: by whom, when, shown by what."""

    condition: ReleaseCondition
    by: str
    at: dt.datetime
    evidence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where a plan stands after every decision on it, at one moment.

    ``until`` ends the release; ``open`` are its conditions not closed yet; ``accepted_by`` is the operator.
    """

    subject: Subject
    asked_at: dt.datetime
    state: State
    since: dt.datetime
    by: str
    makers: tuple[str, ...]
    until: dt.datetime | None = None
    open: tuple[ReleaseCondition, ...] = ()
    closed: tuple[Closed, ...] = ()
    unknowns: tuple[Acceptance, ...] = ()
    beside: tuple[Acceptance, ...] = ()
    accepted_by: str = ""
    note: str = ""
    decisions: tuple[Decision, ...] = ()

    @property
    def ends(self) -> dt.datetime | None:
        """When it stops holding: the release's end, or the end of the hours planned for where that comes first."""
        return min((end for end in (self.until, self.subject.ends) if end is not None), default=None)

    @property
    def early(self) -> bool:
        """Whether the hours planned for have not begun yet."""
        return self.subject.begins is not None and self.asked_at < self.subject.begins


@dataclass(frozen=True, slots=True, kw_only=True)
class Flaw:
    """Something in the register that no decision can have left there: where, and what it shows."""

    where: str
    what: str

    def text(self) -> str:
        """Give the flaw as one line."""
        return f"{self.where}: {self.what}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A decision that was made, and what could not be done beside it (the anchor file)."""

    decision: Decision
    doubts: tuple[str, ...] = ()


def why_not_go(standing: Standing) -> tuple[str, ...]:
    """Ask why the machine may not move on a plan; nothing where it may.

    A release is go only while it lasts and in the hours planned for, with every condition closed and the operator's
    acceptance by name.
    """
    if standing.state not in ("released", "released with conditions"):
        return (f"the plan is {standing.state}",)
    reasons = ["the hours planned for have not begun"] if standing.early else []
    reasons += [f"condition {item.id} is open: {item.text}" for item in standing.open]
    if not standing.accepted_by:
        reasons.append("no operator has accepted it by name")
    return tuple(reasons)
