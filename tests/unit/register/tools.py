"""A register with four people and invented plans, for the tests beside this file."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import pytest

from travel.domain.decision import (
    Intent,
    Kind,
    OpenUnknown,
    Person,
    Recorded,
    ReleaseCondition,
    Role,
    Standing,
    Subject,
)
from travel.domain.request import Acceptance
from travel.register import Register
from travel.register.keys import Cost

LIGHT = Cost(time_cost=1, memory_kib=8, lanes=1)
"""Sealing that costs nothing, so that tests with hundreds of decisions take seconds."""
BOTH = pytest.mark.parametrize("location", ["sqlite", "postgresql"], indirect=True)
"""Runs a test on both kinds of database."""
START = dt.datetime(2026, 11, 25, 8, tzinfo=dt.UTC)
PASSWORDS = {name: f"{name}-{name}-pass" for name in ("Hanne", "Ruth", "Tomas", "Ivo", "Olek")}
PEOPLE: dict[str, tuple[Role, ...]] = {
    "Hanne": ("planner",),
    "Tomas": ("planner", "supervisor"),
    "Ivo": ("operator",),
    "Olek": ("crew",),
}
SPOTTER = ReleaseCondition(
    id="spotter", text="A spotter at PE1", owner="supervisor", due="before the stretch", evidence="name on the card"
)
FILE, ANCHOR = "register.sqlite", "anchor.json"


def subject(content: bytes = b"plan", **changes: Any) -> Subject:
    """Give what a register is told of a plan file."""
    own = Subject(
        digest=hashlib.sha256(content).hexdigest(),
        plan_id=f"TP-{content.decode(errors='replace')}",
        fingerprint="f" * 64,
        title="Middle on Thornlow Bank works, G1 → P1",
        site="Thornlow Bank works",
        roads=("R12", "R45"),
        outcome="way",
        verdict="caution",
        survey_ends=START + dt.timedelta(days=9),
        survey_first="edges",
        conditions=(SPOTTER,),
    )
    return replace(own, **changes)


@dataclass
class Desk:
    """A register with a clock of its own and everybody's passwords."""

    register: Register
    now: dt.datetime = START

    def intent(self, kind: Kind, by: str, about: Subject | None = None, **more: Any) -> Intent:
        """Give a decision somebody wants to make a minute later than the last."""
        self.now += dt.timedelta(minutes=1)
        role = more.pop("role", None) or self.register.role_of(by, kind)
        plan = {"plan": about.digest, "fingerprint": about.fingerprint} if about else {}
        return Intent(kind=kind, by=by, role=role, at=self.now, **plan, **more)

    def decide(self, kind: Kind, by: str, about: Subject, content: bytes | None = None, **more: Any) -> Recorded:
        """Make a decision."""
        return self.register.decide(self.intent(kind, by, about, **more), PASSWORDS[by], content)

    def submit(self, content: bytes = b"plan", by: str = "Hanne", **changes: Any) -> Subject:
        """Submit a plan."""
        about = subject(content, **changes)
        self.decide("submit", by, about, content, subject=about)
        return about

    def release(self, about: Subject, by: str = "Ruth", hours: float = 8.0, **more: Any) -> Recorded:
        """Release a plan for some hours, with the plan's own conditions and every unknown accepted."""
        more.setdefault("conditions", about.conditions)
        more.setdefault("unknowns", tuple(Acceptance(id=u.id, reason="seen on site") for u in about.unknowns))
        more.setdefault("until", self.now + dt.timedelta(hours=hours))
        return self.decide("release", by, about, **more)

    def close(self, about: Subject, by: str = "Ruth", ids: Sequence[str] = ("spotter",)) -> None:
        """Close conditions."""
        for name in ids:
            self.decide("close_condition", by, about, condition=name, evidence="seen by Ruth")

    def go(self, content: bytes = b"plan") -> Subject:
        """Bring a plan as far as go."""
        about = self.submit(content)
        self.release(about)
        self.close(about)
        self.decide("accept", "Ivo", about)
        return about

    def against(self, kind: Kind, by: str, about: Subject, **more: Any) -> str:
        """Give everything that stands against a decision, in one text; asking is all that is done."""
        return "; ".join(self.register.ask(self.intent(kind, by, about, **more)))

    def standing(self, about: Subject, later: dt.timedelta = dt.timedelta(0)) -> Standing:
        """Give where a plan stands."""
        return next(s for s in self.register.standings(self.now + later) if s.subject.digest == about.digest)

    def state(self, about: Subject, later: dt.timedelta = dt.timedelta(0)) -> str:
        """Give a plan's state."""
        found = {s.subject.digest: s.state for s in self.register.standings(self.now + later)}
        return found.get(about.digest, "draft")


def make_desk(register: Register) -> Desk:
    """Make a register with everybody enrolled."""
    desk = Desk(register)
    register.create("Ruth", ("supervisor",), PASSWORDS["Ruth"], START)
    for name, roles in PEOPLE.items():
        person = Person(name=name, roles=roles, public_key="")
        register.enrol("Ruth", PASSWORDS["Ruth"], person, PASSWORDS[name], START)
    return desk


UNKNOWN = OpenUnknown(id="headroom-1", text="headroom: not known (clearance_m)", acceptable=True)
