"""The register: people, plans, decisions. Every reading replays the whole chain; a broken one decides nothing."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import secrets
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import Connection, insert, select, update

from travel.domain.decision import Flaw, Intent, Kind, Person, Recorded, Role, Standing
from travel.errors import Fault, InputError, Refused, Tampered
from travel.register import tables
from travel.register.anchor import Anchor, read_anchor, write_anchor
from travel.register.audit import Look, looking, people_flaws, plan_flaws, rows
from travel.register.chain import Row, decision_of, make_row
from travel.register.database import Database
from travel.register.keys import LEAST_PASSWORD, STRONG, Cost, SealedKey, new_key, seal, unseal
from travel.register.ledger import Ledger
from travel.register.rules import RULES, ask, insist


class Register:
    """A register at one place.

    Args:
        location: a file (SQLite), or the URL of a PostgreSQL database
        anchor: the file that remembers how far the register had got; beside the database without it
        cost: what sealing a key costs; a lighter one is for tests only, and no command can ask for it
    """

    def __init__(self, location: str, anchor: Path | None = None, cost: Cost = STRONG) -> None:
        self.database, self.cost = Database(location), cost
        file = self.database.file
        self.anchor = anchor or (file.with_name(file.name + ".anchor") if file else Path("travel-register.anchor"))

    def create(self, name: str, roles: tuple[Role, ...], password: str, at: dt.datetime, clock: str = "") -> Recorded:
        """Make the register with its first person, a supervisor; all of it or nothing."""
        _strong(password)
        kept = new_key(name, password, self.cost)
        key = _unsealed(name, password, kept)
        person = Person(name=name, roles=roles, public_key=kept.public_key)
        intent = Intent(kind="enrol", by=name, role="supervisor", at=at, person=person, clock=clock)
        identity = secrets.token_hex(16)
        insist(Ledger(), intent)
        with self.database.making() as connection:
            # before the first decision stands, so that a register without its anchor is always a flaw
            self._first_anchor(identity)
            connection.execute(insert(tables.register).values(single=1, id=identity))
            connection.execute(insert(tables.people).values(name=name, **asdict(kept)))
            row = _append(connection, identity, Ledger(), intent, key)
        return self._recorded(identity, row)

    def enrol(
        self, by: str, password: str, person: Person, new_password: str, at: dt.datetime, clock: str = ""
    ) -> Recorded:
        """Enrol a person, or give one already enrolled other roles and a new key. The key is made here."""
        _strong(new_password)
        kept = new_key(person.name, new_password, self.cost)
        enrolled = Person(name=person.name, roles=person.roles, public_key=kept.public_key)
        intent = Intent(kind="enrol", by=by, role="supervisor", at=at, person=enrolled, clock=clock)
        return self.decide(intent, password, key=kept)

    def retire(self, by: str, password: str, name: str, note: str, at: dt.datetime, clock: str = "") -> Recorded:
        """Let a person decide nothing any more; what was decided stays."""
        person = self.people().get(name) or Person(name=name, roles=(), public_key="")
        intent = Intent(kind="retire", by=by, role="supervisor", at=at, note=note, person=person, clock=clock)
        return self.decide(intent, password)

    def change_password(self, name: str, old: str, new: str) -> None:
        """Seal a person's key with another password."""
        _strong(new)
        with self.database.writing() as connection:
            values = asdict(seal(name, new, _unsealed(name, old, _kept(connection, name)), self.cost))
            connection.execute(update(tables.people).where(tables.people.c.name == name).values(**values))

    def decide(
        self, intent: Intent, password: str, content: bytes | None = None, key: SealedKey | None = None
    ) -> Recorded:
        """Make a decision: signed, chained, kept; all of it or nothing.

        Args:
            intent: what is decided
            password: of the person who decides
            content: the plan file, with a submission
            key: the new person's key, with an enrolment

        Raises:
            Refused: with every reason; nothing was recorded
            Tampered: the register does not hold together
            InputError: no register, wrong password, disk full
        """
        if content is not None and hashlib.sha256(content).hexdigest() != intent.plan:
            raise Refused(("the file is not the plan the decision names",))
        with self.database.reading() as connection:
            kept = _kept(connection, intent.by)
        own = _unsealed(intent.by, password, kept)
        with looking(self.database, self.anchor, writing=True) as (connection, seen):
            seen.insist_whole()
            insist(seen.chain.ledger, intent)
            if own.public_key().public_bytes_raw().hex() != seen.chain.ledger.people[intent.by].public_key:
                raise _wrong_password()
            _store(connection, content, intent, key)
            row = _append(connection, seen.id, seen.chain.ledger, intent, own)
        return self._recorded(seen.id, row)

    def ask(self, intent: Intent) -> tuple[str, ...]:
        """Ask what stands against a decision, without making it."""
        return ask(self._seen().chain.ledger, intent)

    def people(self) -> Mapping[str, Person]:
        """Give who may decide."""
        ledger = self._seen().chain.ledger
        return {name: person for name, person in ledger.people.items() if name not in ledger.gone}

    def role_of(self, name: str, kind: Kind) -> Role:
        """Give the role in which a person may decide a kind; the kind's first where he has none of them."""
        roles, person = RULES[kind].roles, self.people().get(name)
        return next((role for role in roles if person and role in person.roles), roles[0])

    def standings(self, now: dt.datetime) -> tuple[Standing, ...]:
        """Give where every plan stands, in the order they were first submitted.

        Raises:
            Tampered: the register does not hold together, so nothing in it counts as decided
        """
        ledger = self._seen().chain.ledger
        return tuple(found for digest in ledger.cases if (found := ledger.standing(digest, now)))

    def content(self, digest: str) -> bytes:
        """Give a plan file as it was submitted."""
        with self.database.reading() as connection:
            found = connection.execute(select(tables.plans.c.content).where(tables.plans.c.digest == digest)).scalar()
        if found is None:
            raise InputError([Fault(file=self.database.name, field="plan", value=digest, message="is not kept here")])
        if not isinstance(found, bytes) or hashlib.sha256(found).hexdigest() != digest:
            raise Tampered((f"plan {digest[:12]}: the kept file is not the one submitted",))
        return found

    def verify(self, head: str = "") -> tuple[Flaw, ...]:
        """Walk chain, signatures, rules, plan files, keys, guards and anchor; give every flaw and where it is.

        Args:
            head: a hash from a print-out; a register that does not hold it has lost decisions
        """
        with looking(self.database, self.anchor) as (connection, seen):
            flaws = [*seen.flaws, *plan_flaws(connection, seen.chain), *people_flaws(connection, seen.chain)]
        if head and not _holds(seen, head):
            flaws.append(Flaw(where=f"hash {head}", what="is printed, but no decision here has it: decisions are gone"))
        if not flaws:
            with contextlib.suppress(OSError, InputError):  # a register that can only be read can still be looked over
                self._advance(_anchor_of(seen))
        return tuple(flaws)

    def anchor_anew(self, head: str) -> None:
        """Write a lost anchor file anew, on the word of a printed hash.

        Raises:
            Tampered: any other flaw, or the hash is not of this register
        """
        if len(head) < 16:
            raise Refused(("at least 16 digits of a printed hash are needed",))
        with looking(self.database, self.anchor) as (_, seen):
            pass
        others = [flaw.text() for flaw in seen.flaws if flaw.where != self.anchor.name]
        if others or not _holds(seen, head):
            raise Tampered(tuple(others) or (f"hash {head}: no decision here has it",))
        self._write_anchor(_anchor_of(seen))

    def export(self) -> tuple[str, tuple[Row, ...]]:
        """Give the register's id and every row as kept, for paper and for other programs."""
        with looking(self.database, self.anchor) as (connection, seen):
            return seen.id, rows(connection)

    def _seen(self) -> Look:
        with looking(self.database, self.anchor) as (_, seen):
            seen.insist_whole()
            return seen

    def _recorded(self, identity: str, row: Row) -> Recorded:
        doubts: tuple[str, ...] = ()
        try:
            self._advance(Anchor(register=identity, count=row.seq, head=row.hash))
        except (OSError, InputError) as error:
            said = (error.strerror if isinstance(error, OSError) else "") or str(error)
            doubts = (f"the decision is recorded, but {self.anchor.name} could not be written: {said}",)
        return Recorded(decision=decision_of(row)[0], doubts=doubts)

    def _advance(self, anchor: Anchor) -> None:
        """Move the anchor on, never back: one at a time, so that the later of two decisions stands in it."""
        with self.database.writing():
            try:
                before = read_anchor(self.anchor)
            except ValueError:
                return
            if before is not None and before.register == anchor.register and before.count < anchor.count:
                write_anchor(self.anchor, anchor)

    def _first_anchor(self, identity: str) -> None:
        try:
            before = read_anchor(self.anchor)
        except ValueError as error:
            raise self._anchor_fault(str(error)) from error
        if before is not None and before.count:
            raise self._anchor_fault("remembers another register; move it away if that one is really given up")
        self._write_anchor(Anchor(register=identity, count=0, head=""))

    def _write_anchor(self, anchor: Anchor) -> None:
        try:
            write_anchor(self.anchor, anchor)
        except OSError as error:
            raise self._anchor_fault(f"cannot be written: {error.strerror or error}") from error

    def _anchor_fault(self, message: str) -> InputError:
        return InputError([Fault(file=str(self.anchor), message=message)])


def _strong(password: str) -> None:
    if len(password) < LEAST_PASSWORD:
        message = f"is shorter than {LEAST_PASSWORD} characters"
        raise InputError([Fault(file="command", field="password", message=message)])


def _wrong_password() -> InputError:
    return InputError([Fault(file="register", field="password", message="name and password do not belong together")])


def _unsealed(name: str, password: str, kept: SealedKey | None) -> Ed25519PrivateKey:
    key = unseal(name, password, kept) if kept else None
    if key is None:
        raise _wrong_password()
    return key


def _append(connection: Connection, identity: str, ledger: Ledger, intent: Intent, key: Ed25519PrivateKey) -> Row:
    """Write the row of the next decision."""
    row = make_row(identity, ledger, intent, key.sign)
    connection.execute(insert(tables.decisions).values(**asdict(row)))
    return row


def _store(connection: Connection, content: bytes | None, intent: Intent, key: SealedKey | None) -> None:
    """Keep the plan file of a submission, or the key of an enrolment, with its decision."""
    if intent.kind == "submit":
        known = select(tables.plans.c.digest).where(tables.plans.c.digest == intent.plan)
        if connection.execute(known).first() is None:
            if content is None:
                raise Refused(("the plan file is needed with its submission",))
            connection.execute(insert(tables.plans).values(digest=intent.plan, content=content))
    if key is not None and intent.person is not None:
        name, values = intent.person.name, asdict(key)
        if _kept(connection, name) is None:
            connection.execute(insert(tables.people).values(name=name, **values))
        else:
            connection.execute(update(tables.people).where(tables.people.c.name == name).values(**values))


def _kept(connection: Connection, name: str) -> SealedKey | None:
    found = connection.execute(select(tables.people).where(tables.people.c.name == name)).mappings().first()
    return SealedKey(**{key: value for key, value in found.items() if key != "name"}) if found else None


def _holds(seen: Look, head: str) -> bool:
    return any(known.startswith(head.lower().replace(" ", "")) for known in seen.chain.hashes)


def _anchor_of(seen: Look) -> Anchor:
    return Anchor(register=seen.id, count=len(seen.chain.hashes), head=seen.chain.hashes[-1])
