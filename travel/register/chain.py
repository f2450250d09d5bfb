"""Decisions as kept: each statement names its number and the hash of the one before it, and is signed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from travel.domain.decision import Decision, Flaw, Intent
from travel.errors import Refused
from travel.register.canonical import canonical
from travel.register.keys import signed_by
from travel.register.ledger import Ledger
from travel.register.rules import ask

FORMAT = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the table of decisions, as it stands there."""

    seq: int
    statement: str
    hash: str
    signature: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """What reading the rows gave: the ledger as far as it holds, the hash of every row, and every flaw."""

    ledger: Ledger
    hashes: tuple[str, ...]
    flaws: tuple[Flaw, ...]


def make_row(register: str, ledger: Ledger, intent: Intent, sign: Callable[[bytes], bytes]) -> Row:
    """Give the row of the next decision.

    Raises:
        Refused: a text in it that cannot be written down (half a surrogate pair)
    """
    content = {
        "format": FORMAT,
        "register": register,
        "seq": ledger.count + 1,
        "previous": ledger.head,
        "decision": _adapter().dump_python(intent, mode="json", exclude_defaults=True),
    }
    try:
        statement = canonical(content)
    except ValueError as error:
        raise Refused((f"it cannot be written down: {error}",)) from error
    return Row(
        seq=ledger.count + 1,
        statement=statement.decode("utf-8"),
        hash=hashlib.sha256(statement).hexdigest(),
        signature=sign(statement).hex(),
    )


def decision_of(row: Row) -> tuple[Decision, str]:
    """Give the decision a row holds, and the register it names.

    Raises:
        ValueError: it is not what this program writes
    """
    content = json.loads(row.statement)
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise ValueError("it is of no format this program knows")
    intent: Intent = _adapter().validate_python(content["decision"])
    again = {**content, "decision": _adapter().dump_python(intent, mode="json", exclude_defaults=True)}
    if set(content) != {"format", "register", "seq", "previous", "decision"} or canonical(again) != _bytes(row):
        raise ValueError("it is not written as this program writes it")
    return Decision(
        seq=int(content["seq"]),
        previous=str(content["previous"]),
        hash=row.hash,
        signature=row.signature,
        intent=intent,
    ), str(content["register"])


def read_chain(register: str, rows: Iterable[Row]) -> Chain:
    """Replay every row in order and give every flaw: missing, changed, out of place, wrongly signed, not allowed.

    From the first flaw on, nothing more is taken into the ledger.
    """
    ledger = Ledger()
    flaws: list[Flaw] = []
    hashes: list[str] = []
    before = ""
    for expected, row in _numbered(rows, flaws):
        found = _flaws_of(register, row, before if expected == row.seq else None, ledger, bool(flaws))
        flaws += found
        hashes.append(row.hash)
        before = row.hash
        if not flaws:
            ledger.apply(decision_of(row)[0])
    return Chain(ledger=ledger, hashes=tuple(hashes), flaws=tuple(flaws))


def _numbered(rows: Iterable[Row], flaws: list[Flaw]) -> Iterable[tuple[int, Row]]:
    expected = 1
    for row in rows:
        if row.seq > expected:
            gone = f"decision {expected}" if row.seq == expected + 1 else f"decisions {expected} to {row.seq - 1}"
            flaws.append(Flaw(where=gone, what="missing: taken out of the register"))
        elif row.seq < expected:
            flaws.append(Flaw(where=f"decision {row.seq}", what="stands where no decision can stand"))
        yield expected, row
        expected = row.seq + 1


def _flaws_of(register: str, row: Row, before: str | None, ledger: Ledger, broken: bool) -> list[Flaw]:
    where = f"decision {row.seq}"
    if hashlib.sha256(_bytes(row)).hexdigest() != row.hash:
        return [Flaw(where=where, what="changed after it was signed: its text does not fit its hash")]
    try:
        decision, named = decision_of(row)
    except (ValueError, KeyError, TypeError) as error:
        return [Flaw(where=where, what=f"cannot be read: {str(error).partition(chr(10))[0]}")]
    found = []
    if decision.seq != row.seq or named != register:
        found.append(Flaw(where=where, what="was made in another place: it names another number or register"))
    if before is not None and decision.previous != before:
        found.append(Flaw(where=where, what="does not follow the decision before it: one of the two was put in"))
    intent = decision.intent
    key = _key(ledger, intent)
    if key and not signed_by(key, row.signature, _bytes(row)):
        found.append(Flaw(where=where, what=f"is not signed by {intent.by}: changed, or never decided"))
    if not found and not broken:
        found += [Flaw(where=where, what=f"was never allowed: {reason}") for reason in ask(ledger, intent)]
    return found


def _key(ledger: Ledger, intent: Intent) -> str:
    """Give the public key a decision has to be signed with; the first of a register brings its own."""
    if not ledger.people and intent.kind == "enrol" and intent.person:
        return intent.person.public_key
    person = ledger.people.get(intent.by)
    return person.public_key if person else ""


def _bytes(row: Row) -> bytes:
    return row.statement.encode("utf-8", "surrogatepass")


@cache
def _adapter() -> Any:
    from pydantic import TypeAdapter

    return TypeAdapter(Intent)
