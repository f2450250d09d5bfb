"""Every tampering is found, and said where; guards stand on both databases; both are made from nothing."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import create_engine, insert, inspect, text
from sqlalchemy.exc import DBAPIError

from tests.unit.register.tools import ANCHOR, BOTH, FILE, LIGHT, PASSWORDS, START, Desk, make_desk, subject
from travel.domain.decision import why_not_go
from travel.errors import InputError, Refused, Tampered
from travel.register import Register, tables
from travel.register.canonical import canonical
from travel.register.migrations import guards

KEYS = tables.GUARDED


class Intruder:
    """Somebody who may write into the database past the program, and takes the guards off."""

    def __init__(self, desk: Desk) -> None:
        self.engine = create_engine(desk.register.database.url)
        self.sqlite = self.engine.dialect.name == "sqlite"

    def run(self, *statements: str, guarded: bool = False, **values: Any) -> None:
        """Run statements; with ``guarded`` the guards are put on again as they were."""
        with self.engine.begin() as connection:
            for table in tables.GUARDED:
                for name in guards.names(table, self.engine.dialect.name):
                    connection.execute(text(f"DROP TRIGGER {name}" + ("" if self.sqlite else f" ON {table}")))
                if not self.sqlite:
                    connection.execute(text(f"DROP FUNCTION {table}_only_added_to"))
            for statement in statements:
                connection.execute(text(statement), values)
            if guarded:
                for table, key in KEYS.items():
                    for statement in guards.statements(table, key, self.engine.dialect.name):
                        connection.execute(text(statement))
        self.engine.dispose()

    def rows(self) -> list[dict[str, Any]]:
        """Give the decisions as kept."""
        with self.engine.connect() as connection:
            found = [dict(row) for row in connection.execute(text("SELECT * FROM decisions ORDER BY seq")).mappings()]
        self.engine.dispose()
        return found

    def put(self, row: dict[str, Any]) -> None:
        """Put a row in; the guards let rows be added."""
        with self.engine.begin() as connection:
            connection.execute(insert(tables.decisions).values(**row))
        self.engine.dispose()


def found(desk: Desk) -> str:
    """Give every flaw; and see that nothing counts as decided then."""
    flaws = "\n".join(flaw.text() for flaw in desk.register.verify())
    assert flaws, "nothing was found"
    with pytest.raises(Tampered):
        desk.register.standings(desk.now)
    with pytest.raises(Tampered):
        desk.register.people()
    with pytest.raises(Tampered):
        desk.submit(b"another")
    return flaws


# -- rows


@BOTH
@pytest.mark.parametrize(
    ("statement", "says"),
    [
        (
            "UPDATE decisions SET statement = replace(statement, 'Ruth', 'Rita') WHERE seq = 7",
            "decision 7: changed after it was signed",
        ),
        (
            "UPDATE decisions SET hash = substr(hash, 3) || substr(hash, 1, 2) WHERE seq = 7",
            "decision 7: changed after it was signed",
        ),
        (
            "UPDATE decisions SET signature = substr(signature, 3) || substr(signature, 1, 2) WHERE seq = 7",
            "decision 7: is not signed by",
        ),
        ("UPDATE decisions SET signature = '' WHERE seq = 7", "decision 7: is not signed by"),
        ("DELETE FROM decisions WHERE seq = 7", "decision 7: missing"),
        ("DELETE FROM decisions WHERE seq IN (6, 7)", "decisions 6 to 7: missing"),
        ("DELETE FROM decisions WHERE seq = 1", "decision 1: missing"),
        ("DELETE FROM decisions WHERE seq = 9", "anchor.json: remembers 9 decisions, the register holds 8"),
        ("DELETE FROM decisions", "anchor.json: remembers 9 decisions, the register holds 0"),
        ("UPDATE decisions SET seq = 99 WHERE seq = 9", "decisions 9 to 98: missing"),
        ("UPDATE decisions SET seq = -7 WHERE seq = 7", "decision -7: stands where no decision can stand"),
        ("UPDATE plans SET content = content || content", "the kept file is not the one submitted"),
        ("DELETE FROM plans", "was submitted, but its file is gone"),
        ("UPDATE register SET id = 'another'", "anchor.json: belongs to another register"),
        ("DELETE FROM register", "anchor.json: belongs to another register"),
    ],
)
def test_what_is_done_to_rows_is_found(desk: Desk, statement: str, says: str) -> None:
    desk.go()
    Intruder(desk).run(statement, guarded=True)
    if "plans" in statement:
        assert says in "\n".join(flaw.text() for flaw in desk.register.verify())
        with pytest.raises((Tampered, InputError), match=r"not the one submitted|is not kept here"):
            desk.register.content(subject().digest)
    else:
        assert says in found(desk)


@BOTH
def test_guards_taken_off_are_found(desk: Desk) -> None:
    desk.go()
    Intruder(desk).run()
    text_ = found(desk)
    last = "replace" if desk.register.database.file else "truncate"
    for table in tables.GUARDED:
        for verb in ("update", "delete", last):
            assert f"guard {table}_no_{verb}: missing or switched off" in text_


@BOTH
def test_a_guard_that_guards_nothing_is_found(desk: Desk) -> None:
    desk.go()
    intruder = Intruder(desk)
    intruder.run(guarded=True)
    assert desk.register.verify() == ()
    idle = "CREATE TRIGGER decisions_no_update BEFORE UPDATE ON decisions WHEN 0 BEGIN SELECT RAISE(ABORT, ''); END"
    emptied = (
        "CREATE OR REPLACE FUNCTION decisions_only_added_to() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RETURN NEW; END $$"
    )
    with intruder.engine.begin() as connection:
        if intruder.sqlite:
            connection.execute(text("DROP TRIGGER decisions_no_update"))
        connection.execute(text(idle if intruder.sqlite else emptied))
    intruder.engine.dispose()
    assert "guard decisions_no_update" in found(desk)


@pytest.mark.parametrize("location", ["postgresql"], indirect=True)
def test_a_guard_switched_off_is_found(desk: Desk) -> None:
    desk.go()
    engine = create_engine(desk.register.database.url)
    with engine.begin() as connection:
        connection.execute(text("ALTER TABLE decisions DISABLE TRIGGER decisions_no_update"))
    engine.dispose()
    assert found(desk) == "guard decisions_no_update: missing or switched off: rows could be changed"


@BOTH
def test_two_decisions_swapped_are_found(desk: Desk) -> None:
    desk.go()
    Intruder(desk).run(
        "UPDATE decisions SET seq = -1 WHERE seq = 7",
        "UPDATE decisions SET seq = 7 WHERE seq = 8",
        "UPDATE decisions SET seq = 8 WHERE seq = -1",
        guarded=True,
    )
    flaws = found(desk)
    assert "decision 7: was made in another place" in flaws
    assert "decision 8: was made in another place" in flaws


def forged(row: dict[str, Any], key: Ed25519PrivateKey | None = None, **changes: Any) -> dict[str, Any]:
    """Give a row with other words, hashed anew, and signed with another key where there is one."""
    content = json.loads(row["statement"])
    content.update({name: value for name, value in changes.items() if name in content})
    content["decision"].update({name: value for name, value in changes.items() if name not in content})
    statement = canonical(content)
    signature = key.sign(statement).hex() if key else row["signature"]
    new = {"statement": statement.decode(), "hash": hashlib.sha256(statement).hexdigest(), "signature": signature}
    return {**row, **new, "seq": content["seq"]}


@BOTH
def test_an_inserted_decision_is_found(desk: Desk) -> None:
    desk.submit()
    intruder = Intruder(desk)
    last = intruder.rows()[-1]
    more = {"kind": "withdraw", "by": "Ruth", "role": "supervisor", "note": "never said"}
    row = forged(last, Ed25519PrivateKey.generate(), seq=last["seq"] + 1, previous=last["hash"], **more)
    intruder.put(row)
    assert "decision 7: is not signed by Ruth: changed, or never decided" in found(desk)


@BOTH
def test_a_rewritten_decision_with_its_hash_made_anew_is_found(desk: Desk) -> None:
    desk.go()
    intruder = Intruder(desk)
    row = forged(intruder.rows()[6], until="2027-06-01T08:00:00Z")
    intruder.run("UPDATE decisions SET statement = :statement, hash = :hash WHERE seq = 7", guarded=True, **row)
    flaws = found(desk)
    assert "decision 7: is not signed by Ruth" in flaws
    assert "decision 8: does not follow the decision before it" in flaws


def test_a_decision_of_one_register_does_not_count_in_another(desk: Desk, folder: Path) -> None:
    other = make_desk(Register(str(folder / "other.sqlite"), folder / "other.json", cost=LIGHT))
    other.submit()
    row = Intruder(other).rows()[-1]
    Intruder(desk).put(row)
    assert "decision 6: was made in another place" in found(desk)


def test_a_decision_signed_by_the_right_key_but_never_allowed_is_found(desk: Desk) -> None:
    """Whoever holds a planner's own key and writes past the program releases nothing."""
    about = desk.submit()
    intruder = Intruder(desk)
    last = intruder.rows()[-1]
    with desk.register.database.reading() as connection:
        from travel.register.keys import SealedKey, unseal

        kept = connection.execute(text("SELECT * FROM people WHERE name = 'Hanne'")).mappings().one()
        values = {name: value for name, value in kept.items() if name != "name"}
        key = unseal("Hanne", PASSWORDS["Hanne"], SealedKey(**values))
    assert key is not None
    row = forged(last, key, seq=7, previous=last["hash"], kind="release", until="2026-11-25T09:00:00Z")
    intruder.put(row)
    flaws = found(desk)
    assert "decision 7: was never allowed: to release it takes a supervisor, not a planner" in flaws
    assert "decision 7: was never allowed: Hanne submitted this plan; somebody else has to release it" in flaws
    assert about.digest


@pytest.mark.parametrize("statement", ["", "{}", "[]", "null", "{", '{"format":1}', '{"format":2}', "\x00", "𝔸" * 10])
def test_a_row_of_nonsense_is_told_and_breaks_nothing(desk: Desk, statement: str) -> None:
    hashed = hashlib.sha256(statement.encode()).hexdigest()
    Intruder(desk).put({"seq": 6, "statement": statement, "hash": hashed, "signature": "00"})
    assert "decision 6: cannot be read" in found(desk)


# -- people and keys


@BOTH
@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("DELETE FROM people WHERE name = 'Ivo'", "person Ivo: is enrolled, but the key is gone"),
        (
            "UPDATE people SET public_key = substr(public_key, 3) || substr(public_key, 1, 2) WHERE name = 'Ivo'",
            "the key is not the one enrolled",
        ),
        ("UPDATE people SET name = 'Iva' WHERE name = 'Ivo'", "person Iva: has a key, but nobody enrolled him"),
    ],
)
def test_keys_that_were_exchanged_are_found(desk: Desk, statement: str, says: str) -> None:
    desk.go()
    engine = create_engine(desk.register.database.url)
    with engine.begin() as connection:
        connection.execute(text(statement))
    engine.dispose()
    assert says in "\n".join(flaw.text() for flaw in desk.register.verify())


def test_somebody_elses_sealed_key_put_under_a_name_signs_nothing(desk: Desk) -> None:
    about = desk.submit()
    engine = create_engine(desk.register.database.url)
    with engine.begin() as connection:
        columns = ("public_key", "salt", "nonce", "sealed", "time_cost", "memory_kib", "lanes")
        values = ", ".join(f"{name} = (SELECT {name} FROM people WHERE name = 'Hanne')" for name in columns)
        connection.execute(text(f"UPDATE people SET {values} WHERE name = 'Ruth'"))
    engine.dispose()
    intent = desk.intent("refuse", "Ruth", about, note="x")
    with pytest.raises(InputError, match="do not belong together"):
        desk.register.decide(intent, PASSWORDS["Hanne"])
    assert "person Ruth: the key is not the one enrolled" in desk.register.verify()[0].text()


# -- the anchor


def test_an_old_copy_put_back_is_found(desk: Desk, folder: Path) -> None:
    about = desk.submit()
    desk.release(about)
    shutil.copyfile(folder / FILE, folder / "old")
    desk.decide("suspend", "Ivo", about, note="the verge is giving way")
    shutil.copyfile(folder / "old", folder / FILE)
    flaws = found(desk)
    assert "remembers 8 decisions, the register holds 7: decisions at the end were deleted, or an old copy" in flaws


def test_an_old_copy_with_other_decisions_made_on_it_is_found(desk: Desk, folder: Path) -> None:
    about = desk.submit()
    shutil.copyfile(folder / FILE, folder / "old")
    shutil.copyfile(folder / ANCHOR, folder / "old.anchor")
    desk.decide("refuse", "Ruth", about, note="no spotter")
    shutil.copyfile(folder / ANCHOR, folder / "new.anchor")
    shutil.copyfile(folder / "old", folder / FILE)
    shutil.copyfile(folder / "old.anchor", folder / ANCHOR)
    desk.release(about)  # an hour of work on the old copy, with its own anchor
    shutil.copyfile(folder / "new.anchor", folder / ANCHOR)
    assert "anchor.json: remembers another decision 7: the register was rewritten" in found(desk)


def test_an_old_copy_put_back_with_its_anchor_is_found_by_the_hash_on_paper(desk: Desk, folder: Path) -> None:
    about = desk.submit()
    for name in (FILE, ANCHOR):
        shutil.copyfile(folder / name, folder / f"old.{name}")
    desk.decide("refuse", "Ruth", about, note="no spotter")
    _, rows = desk.register.export()
    printed = rows[-1].hash[:16]
    assert desk.register.verify(printed) == ()
    assert desk.register.verify(f"{printed[:8]} {printed[8:]}".upper()) == ()
    for name in (FILE, ANCHOR):
        shutil.copyfile(folder / f"old.{name}", folder / name)
    assert desk.register.verify() == ()  # by itself it holds together: that is what paper is for
    assert "is printed, but no decision here has it" in desk.register.verify(printed)[0].text()


@pytest.mark.parametrize(
    "content", [None, b"", b"{", b"[]", b'{"count": "9"}', b'{"register": 1, "count": 1, "head": ""}']
)
def test_an_anchor_that_is_gone_or_spoilt_is_found(desk: Desk, folder: Path, content: bytes | None) -> None:
    desk.submit()
    anchor = folder / ANCHOR
    anchor.unlink() if content is None else anchor.write_bytes(content)
    assert "anchor.json" in found(desk)


def test_a_lost_anchor_is_made_anew_only_on_the_word_of_paper(desk: Desk, folder: Path) -> None:
    desk.submit()
    _, rows = desk.register.export()
    (folder / ANCHOR).unlink()
    with pytest.raises(Refused, match="16 digits"):
        desk.register.anchor_anew(rows[-1].hash[:15])
    with pytest.raises(Tampered, match="no decision here has it"):
        desk.register.anchor_anew("0" * 16)
    desk.register.anchor_anew(rows[-1].hash[:16])
    assert desk.register.verify() == ()


def test_verify_moves_a_lagging_anchor_on_and_never_back(desk: Desk, folder: Path) -> None:
    old = (folder / ANCHOR).read_bytes()
    desk.submit()
    new = (folder / ANCHOR).read_bytes()
    (folder / ANCHOR).write_bytes(old)
    assert desk.register.verify() == ()
    assert (folder / ANCHOR).read_bytes() == new


def test_another_register_is_not_founded_on_the_anchor_of_the_first(desk: Desk, folder: Path) -> None:
    second = Register(str(folder / "second.sqlite"), folder / ANCHOR, cost=LIGHT)
    with pytest.raises(InputError, match="remembers another register"):
        second.create("Ruth", ("supervisor",), PASSWORDS["Ruth"], START)


# -- guards and migrations


@BOTH
@pytest.mark.parametrize("table", tables.GUARDED)
def test_guarded_rows_can_only_be_added(desk: Desk, table: str) -> None:
    desk.submit()
    sqlite = desk.register.database.file is not None
    key = KEYS[table]
    attempts = [f"UPDATE {table} SET {key} = {key}", f"DELETE FROM {table}"]
    attempts += [f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}"] if sqlite else [f"TRUNCATE {table}"]
    attempts += (
        []
        if sqlite
        else [f"INSERT INTO {table} SELECT * FROM {table} ON CONFLICT ({key}) DO UPDATE SET {key} = EXCLUDED.{key}"]
    )
    for attempt in attempts:
        engine = create_engine(desk.register.database.url)
        with pytest.raises(DBAPIError, match=f"{table} are only added to"), engine.begin() as connection:
            connection.execute(text(attempt))
        engine.dispose()
    assert desk.register.verify() == ()


@BOTH
def test_migrations_make_from_nothing_what_the_tables_say(register: Register) -> None:
    desk = make_desk(register)
    engine = create_engine(desk.register.database.url)
    with engine.connect() as connection:
        there = inspect(connection)
        assert set(there.get_table_names()) == {*tables.metadata.tables, "alembic_version"}
        for name, table in tables.metadata.tables.items():
            made = {column["name"]: column for column in there.get_columns(name)}
            assert list(made) == [column.name for column in table.columns]
            assert {n for n, c in made.items() if c["nullable"]} == set()
            assert there.get_pk_constraint(name)["constrained_columns"] == [c.name for c in table.primary_key]
        from alembic.autogenerate import compare_metadata
        from alembic.migration import MigrationContext

        assert compare_metadata(MigrationContext.configure(connection), tables.metadata) == []
    engine.dispose()


def test_a_database_that_is_no_register_is_told(folder: Path, desk: Desk) -> None:
    cases: dict[str, Callable[[Path], object]] = {
        "there is no register here": lambda path: None,
        "is not a register: the file is no database": lambda path: path.write_bytes(b"not a database" * 100),
        "is not a register of this program": lambda path: path.write_bytes(b""),
    }
    for number, (says, make) in enumerate(cases.items()):
        path = folder / f"{number}.sqlite"
        make(path)
        with pytest.raises(InputError, match=says):
            Register(str(path)).people()
    Intruder(desk).run("UPDATE alembic_version SET version_num = '0002'", guarded=True)
    with pytest.raises(InputError, match=r"was made by another version of this program \(step 0002\)"):
        desk.register.people()


@pytest.mark.parametrize("location", ["mysql://a/b", "postgresql://", "://", "sqlite+nonsense:///x"])
def test_a_place_no_register_can_be_kept_at_is_told(location: str) -> None:
    with pytest.raises(InputError, match="is not where a register can be kept"):
        Register(location)


def test_what_stands_in_the_way_of_go_is_nothing_only_while_the_register_holds(desk: Desk) -> None:
    about = desk.go()
    assert why_not_go(desk.standing(about)) == ()
    Intruder(desk).run()
    with pytest.raises(Tampered, match="guard"):
        desk.standing(about)
