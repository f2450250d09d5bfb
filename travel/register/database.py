"""Where the register is kept: SQLite in one file, or PostgreSQL by its URL; transactions, and their faults in words."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from travel.errors import Fault, InputError
from travel.register import tables
from travel.register.migrations import guards

WAIT_S = 15
"""How long somebody waits while another decides."""
REVISION = "0001"


class Database:
    """One database. Every use opens a connection and closes it again."""

    def __init__(self, location: str) -> None:
        self.url = _url(location)
        self.file = Path(str(self.url.database)) if self.url.get_backend_name() == "sqlite" else None
        self.name = str(self.file) if self.file else self.url.render_as_string(hide_password=True)

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one moment of a register that is there."""
        with self._connected(writing=False, make=False) as connection:
            self._insist_current(connection)
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection on which nobody else decides meanwhile; kept whole at the end, or not at all."""
        with self._connected(writing=True, make=False) as connection:
            self._insist_current(connection)
            if self.file is None:
                connection.execute(text("LOCK TABLE decisions IN SHARE ROW EXCLUSIVE MODE"))
            yield connection

    @contextlib.contextmanager
    def making(self) -> Iterator[Connection]:
        """Give a connection with the tables made, for the first decision; nothing stays if that fails.

        Raises:
            InputError: a register is there already
        """
        with self._connected(writing=True, make=True) as connection:
            if inspect(connection).has_table(tables.register.name):
                raise self.fault("is a register already; nothing is overwritten")
            _migrate(connection)
            yield connection

    def missing_guards(self, connection: Connection) -> tuple[str, ...]:
        """Give the triggers that ought to keep rows from being changed and are not there, switched off or others."""
        dialect = self.url.get_backend_name()
        there = {(name, told) for name, told in connection.execute(text(guards.in_force(dialect)))}
        wanted = (pair for table, key in tables.GUARDED.items() for pair in guards.told(table, key, dialect).items())
        return tuple(name for name, told in wanted if (name, told) not in there)

    def fault(self, message: str, allowed: str = "") -> InputError:
        """Give a fault of this database."""
        return InputError([Fault(file=self.name, message=message, allowed=allowed)])

    @contextlib.contextmanager
    def _connected(self, *, writing: bool, make: bool) -> Iterator[Connection]:
        if self.file is not None and not make and not self.file.is_file():
            raise self.fault("there is no register here", "travel register init makes one")
        engine = self._engine()
        options: dict[str, Any] = {"writing": writing}
        if self.file is None and not writing:
            options["isolation_level"] = "REPEATABLE READ"
        try:
            with engine.connect().execution_options(**options) as connection, connection.begin():
                yield connection
        except DBAPIError as error:
            raise self.fault(_said(error)) from error
        except SQLAlchemyError as error:
            raise self.fault(str(error).partition("\n")[0]) from error
        finally:
            engine.dispose()

    def _engine(self) -> Engine:
        if self.file is not None:
            engine = create_engine(self.url, poolclass=NullPool, connect_args={"timeout": WAIT_S})
            event.listen(engine, "connect", _prepare_sqlite)
            event.listen(engine, "begin", _begin_sqlite)
            return engine
        try:
            arguments = {"connect_timeout": WAIT_S, "options": f"-c lock_timeout={WAIT_S * 1000}"}
            return create_engine(self.url, poolclass=NullPool, connect_args=arguments)
        except ModuleNotFoundError as error:
            raise self.fault(f"the driver for this database is not installed: {error.name}", "psycopg") from error

    def _insist_current(self, connection: Connection) -> None:
        there = inspect(connection)
        if not all(there.has_table(name) for name in ("alembic_version", *tables.GUARDED, tables.people.name)):
            raise self.fault("is not a register of this program", "travel register init makes one")
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalars().all()
        if found != [REVISION]:
            raise self.fault(
                f"was made by another version of this program (step {', '.join(map(str, found))})", REVISION
            )


def _url(location: str) -> URL:
    if "://" not in location:
        return URL.create("sqlite", database=location)
    try:
        url = make_url(location)
        if url.drivername in ("postgresql", "postgres"):
            url = url.set(drivername="postgresql+psycopg")
        if url.get_backend_name() not in ("sqlite", "postgresql") or not url.database:
            raise ArgumentError("no such kind")
        url.get_dialect()
    except (ArgumentError, NoSuchModuleError) as error:
        message = "is not where a register can be kept"
        allowed = "a file, or postgresql://USER@HOST/DATABASE"
        raise InputError([Fault(file="command", field="--register", message=message, allowed=allowed)]) from error
    return url


def _prepare_sqlite(connection: Any, record: Any) -> None:
    connection.isolation_level = None
    for pragma in ("foreign_keys = ON", "journal_mode = WAL", f"busy_timeout = {WAIT_S * 1000}", "synchronous = FULL"):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin_sqlite(connection: Connection) -> None:
    writing = connection.get_execution_options().get("writing")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def _migrate(connection: Connection) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def _said(error: DBAPIError) -> str:
    """Give what a database complained of, in words of ours where it is known."""
    said = str(error.orig).strip().partition("\n")[0]
    known = {
        "database is locked": "somebody else is deciding right now; try again",
        "lock timeout": "somebody else is deciding right now; try again",
        "database or disk is full": "the disk is full; nothing was recorded",
        "disk I/O error": "the disk cannot be written; nothing was recorded",
        "No space left": "the disk is full; nothing was recorded",
        "readonly database": "this file can only be read, so nothing was recorded; to look it over, copy it",
        "unable to open": "cannot be opened",
        "file is not a database": "is not a register: the file is no database",
        "disk image is malformed": "is damaged: the database cannot be read",
    }
    return next((words for part, words in known.items() if part in said), said)
