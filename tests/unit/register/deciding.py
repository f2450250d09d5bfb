"""Work done in processes of their own: a series of every kind of decision, told in a file; one of several at once."""

from __future__ import annotations

import datetime as dt
import multiprocessing
import os
import resource
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tests.unit.register.tools import LIGHT, PASSWORDS, START, UNKNOWN, Desk, subject
from travel.domain.decision import Person, Recorded, ReleaseCondition
from travel.domain.request import Acceptance
from travel.errors import TravelError
from travel.register import Register

CONTEXT = multiprocessing.get_context("forkserver")
CONTEXT.set_forkserver_preload(
    ["tests.unit.register.deciding", "sqlalchemy.dialects.sqlite", "alembic.command", "psycopg"]
)
HOUR = dt.timedelta(hours=1)
PLAN = b"a plan of some length" * 2000


def series(desk: Desk) -> Iterator[tuple[str, Callable[[], Recorded | None]]]:
    """Give every kind of write there is, one after the other, from the founding of the register on."""
    ruth, register = PASSWORDS["Ruth"], desk.register
    about = subject(PLAN, unknowns=(UNKNOWN,), plan_id="TP-1")
    more = ReleaseCondition(id="supervisor-1", text="Look at the verge", owner="Ivo", due="first", evidence="said")

    def enrol(name: str, *roles: Any) -> Callable[[], Recorded]:
        person = Person(name=name, roles=roles, public_key="")
        return lambda: register.enrol("Ruth", ruth, person, PASSWORDS[name], desk.now)

    yield "init", lambda: register.create("Ruth", ("supervisor",), ruth, START)
    yield "enrol", enrol("Hanne", "planner")
    yield "enrol", enrol("Ivo", "operator")
    yield "enrol", enrol("Olek", "crew")
    yield "password", lambda: register.change_password("Olek", PASSWORDS["Olek"], PASSWORDS["Olek"])
    yield "retire", lambda: register.retire("Ruth", ruth, "Olek", "left", desk.now)
    yield "submit", lambda: desk.decide("submit", "Hanne", about, PLAN, subject=about)
    yield "refuse", lambda: desk.decide("refuse", "Ruth", about, note="no spotter")
    yield "submit", lambda: desk.decide("submit", "Hanne", about, PLAN, subject=about)
    yield "release", lambda: desk.release(about)
    yield "suspend", lambda: desk.decide("suspend", "Ivo", about, note="soft verge")
    yield "release", lambda: desk.release(about, unknowns=(Acceptance(id=UNKNOWN.id, reason="measured"),))
    yield "close", lambda: desk.decide("close_condition", "Ivo", about, condition="spotter", evidence="Olek")
    yield "accept", lambda: desk.decide("accept", "Ivo", about)
    yield "renew", lambda: desk.decide("renew", "Ruth", about, until=desk.now + 9 * HOUR, conditions=(more,))
    yield "close", lambda: desk.decide("close_condition", "Ivo", about, condition="spotter", evidence="Olek")
    yield "close", lambda: desk.decide("close_condition", "Ivo", about, condition="supervisor-1", evidence="seen")
    yield "accept", lambda: desk.decide("accept", "Ivo", about)
    yield "hand back", lambda: desk.decide("hand_back", "Ivo", about)
    yield "clock", lambda: register.decide(desk.intent("clock", "Ruth", note="ahead"), ruth)
    yield "submit", lambda: desk.submit(b"second", roads=("R9",)) and None
    yield "withdraw", lambda: desk.decide("withdraw", "Hanne", subject(b"second", roads=("R9",)), note="off")


def decide_all(location: str, anchor: str, told: str, limit_bytes: int = 0, pause: Any = None) -> None:
    """Make every decision of the series, and tell each in a file before it is begun and after it was acknowledged.

    Args:
        location, anchor: of the register
        told: file the lines are written to
        limit_bytes: no file may grow beyond it; 0 = no limit
        pause: waited for before the first decision
    """
    desk = Desk(Register(location, Path(anchor), cost=LIGHT))
    lines = os.open(told, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    if limit_bytes:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, resource.RLIM_INFINITY))
    if pause is not None:
        pause.wait()
    for name, make in series(desk):
        os.write(lines, f"begin {name}\n".encode())
        start = time.monotonic()
        try:
            done = make()
        except TravelError as error:
            os.write(lines, f"failed {name}: {error}".replace("\n", " ").encode() + b"\n")
            return
        lasted_s = time.monotonic() - start
        os.write(lines, f"done {done.decision.hash if done else '-'} {lasted_s}\n".encode())
    os.write(lines, b"over\n")


def try_one(
    location: str, anchor: str, now: dt.datetime, barrier: Any, answers: Any, kind: Any, by: str, about: Any, more: Any
) -> None:
    """Wait for the others, then make one decision and give what came of it."""
    desk = Desk(Register(location, Path(anchor), cost=LIGHT), now)
    intent = desk.intent(kind, by, about, **more)
    barrier.wait()
    try:
        answers.put(("done", desk.register.decide(intent, PASSWORDS[by], more.get("content")).decision.seq))
    except TravelError as error:
        answers.put((type(error).__name__, str(error)))


def submit_some(location: str, anchor: str, barrier: Any, answers: Any, who: int, count: int) -> None:
    """Wait for the others, then submit some plans of one's own."""
    desk = Desk(Register(location, Path(anchor), cost=LIGHT), START + HOUR)
    barrier.wait()
    done = 0
    for number in range(count):
        try:
            desk.now = START + HOUR  # everybody's clock says the same
            desk.submit(f"plan {who} {number}".encode(), roads=(f"R{who}-{number}",))
            done += 1
        except TravelError as error:
            answers.put(("failed", str(error)))
    answers.put(("done", done))


def look_over(location: str, anchor: str, answers: Any) -> None:
    """Verify a register as somebody who may only read it."""
    register = Register(location, Path(anchor), cost=LIGHT)
    register.verify()  # everything that is needed is imported by now
    if os.geteuid() == 0:
        os.setuid(65534)
    try:
        answers.put((register.verify(), [s.state for s in register.standings(START + HOUR)]))
    except TravelError as error:
        answers.put(str(error))
