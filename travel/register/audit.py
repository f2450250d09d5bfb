"""Looking the register over: chain, anchor, guards, plan files, keys; every flaw with where it is."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from travel.domain.decision import Flaw
from travel.errors import Tampered
from travel.register import tables
from travel.register.anchor import Anchor, read_anchor
from travel.register.chain import Chain, Row, read_chain
from travel.register.database import Database


@dataclass(frozen=True, eq=False, kw_only=True)
class Look:
    """One look at the register: which one, its chain, and every flaw of chain, anchor and guards."""

    id: str
    chain: Chain
    flaws: tuple[Flaw, ...]

    def insist_whole(self) -> None:
        """Stop where the register does not hold together.

        Raises:
            Tampered: with every flaw
        """
        if self.flaws:
            raise Tampered(tuple(flaw.text() for flaw in self.flaws))


@contextlib.contextmanager
def looking(database: Database, anchor_file: Path, *, writing: bool = False) -> Iterator[tuple[Connection, Look]]:
    """Read and check the chain, the anchor and the guards; give the connection they were read on with what was seen.

    Who only reads sees the rows of one moment while others go on deciding. So the anchor is read before that moment:
    read after it, it would remember decisions that are not among the rows, as after a theft.
    """
    remembered = None if writing else _remembered(anchor_file)
    with database.writing() if writing else database.reading() as connection:
        yield connection, _look(database, connection, anchor_file.name, remembered or _remembered(anchor_file))


def _remembered(anchor_file: Path) -> tuple[Anchor | None, str]:
    """Give what the anchor remembers, and what is wrong with its file."""
    try:
        return read_anchor(anchor_file), ""
    except ValueError as error:
        return None, str(error)


def _look(database: Database, connection: Connection, where: str, remembered: tuple[Anchor | None, str]) -> Look:
    found = connection.execute(select(tables.register.c.id)).scalars().all()
    identity = str(found[0]) if len(found) == 1 else ""
    chain = read_chain(identity, rows(connection))
    flaws = [*chain.flaws, *_anchor_flaws(where, identity, chain, *remembered)]
    flaws += [
        Flaw(where=f"guard {name}", what="missing or switched off: rows could be changed")
        for name in database.missing_guards(connection)
    ]
    if not chain.hashes:
        flaws.append(Flaw(where="decisions", what="there are none, not even who made the register"))
    return Look(id=identity, chain=chain, flaws=tuple(flaws))


def rows(connection: Connection) -> tuple[Row, ...]:
    """Give every row of decisions as it stands."""
    table = tables.decisions.c
    asked = select(table.seq, table.statement, table.hash, table.signature).order_by(table.seq)
    return tuple(
        Row(seq=seq, statement=str(statement), hash=str(own), signature=str(signature))
        for seq, statement, own, signature in connection.execute(asked)
    )


def _anchor_flaws(where: str, identity: str, chain: Chain, anchor: Anchor | None, broken: str) -> list[Flaw]:
    if anchor is None:
        what = broken or "the anchor file is missing: an old copy of the register could not be told"
    elif anchor.register != identity:
        what = "belongs to another register: this database was put in its place"
    elif anchor.count > len(chain.hashes):
        what = (
            f"remembers {anchor.count} decisions, the register holds {len(chain.hashes)}: "
            "decisions at the end were deleted, or an old copy was put back"
        )
    elif anchor.count and chain.hashes[anchor.count - 1] != anchor.head:
        what = f"remembers another decision {anchor.count}: the register was rewritten"
    else:
        return []
    return [Flaw(where=where, what=what)]


def plan_flaws(connection: Connection, chain: Chain) -> list[Flaw]:
    """Check the plan files: each submitted one is kept as it was, and no other is there."""
    kept = set(connection.execute(select(tables.plans.c.digest)).scalars())
    submitted = set(chain.ledger.cases)
    flaws = [_plan_flaw(digest, "was submitted, but its file is gone") for digest in sorted(submitted - kept)]
    if not chain.flaws:
        flaws += [_plan_flaw(digest, "is kept, but nobody submitted it") for digest in sorted(kept - submitted)]
    for digest in sorted(kept):
        content = connection.execute(select(tables.plans.c.content).where(tables.plans.c.digest == digest)).scalar_one()
        if not isinstance(content, bytes) or hashlib.sha256(content).hexdigest() != digest:
            flaws.append(_plan_flaw(digest, "the kept file is not the one submitted"))
    return flaws


def _plan_flaw(digest: str, what: str) -> Flaw:
    return Flaw(where=f"plan {digest[:12]}", what=what)


def people_flaws(connection: Connection, chain: Chain) -> list[Flaw]:
    """Check the kept keys against the people enrolled."""
    if chain.flaws:
        return []
    table = tables.people.c
    kept = {str(name): str(key) for name, key in connection.execute(select(table.name, table.public_key))}
    flaws = []
    for name, person in chain.ledger.people.items():
        if name not in kept:
            flaws.append(Flaw(where=f"person {name}", what="is enrolled, but the key is gone"))
        elif kept[name] != person.public_key:
            flaws.append(Flaw(where=f"person {name}", what="the key is not the one enrolled"))
    strange = sorted(kept.keys() - chain.ledger.people.keys())
    return flaws + [Flaw(where=f"person {name}", what="has a key, but nobody enrolled him") for name in strange]
