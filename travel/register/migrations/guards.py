"""Triggers that refuse to change or delete what was recorded; they are written for each kind of database."""

from __future__ import annotations

from collections.abc import Iterator

VERBS = ("update", "delete")


def names(table: str, dialect: str) -> tuple[str, ...]:
    """Give the names of the triggers that guard a table."""
    last = "replace" if dialect == "sqlite" else "truncate"
    return tuple(f"{table}_no_{verb}" for verb in (*VERBS, last))


def statements(table: str, key: str, dialect: str) -> Iterator[str]:
    """Give the statements that guard a table: no UPDATE, no DELETE, nothing put in the place of a row.

    Args:
        table: its name
        key: its primary key, by which SQLite would replace a row without running the trigger for DELETE
        dialect: ``sqlite`` or ``postgresql``
    """
    if dialect == "sqlite":
        yield from _sqlite(table, key)
    else:
        yield from _postgresql(table)


def in_force(dialect: str) -> str:
    """Give the question which triggers are in force, each with the text that tells what it does."""
    if dialect == "sqlite":
        return "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
    return (
        "SELECT t.tgname, p.prosrc FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid "
        "WHERE t.tgenabled IN ('O', 'A') AND t.tgqual IS NULL AND NOT t.tgisinternal"
    )


def told(table: str, key: str, dialect: str) -> dict[str, str]:
    """Give the text each trigger of a table has to be told by, by its name."""
    if dialect == "sqlite":
        return dict(zip(names(table, dialect), _sqlite(table, key), strict=True))
    return dict.fromkeys(names(table, dialect), _body(table))


def _sqlite(table: str, key: str) -> Iterator[str]:
    for verb in VERBS:
        yield (
            f"CREATE TRIGGER {table}_no_{verb} BEFORE {verb.upper()} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{table} are only added to'); END"
        )
    yield (
        f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key}) "
        f"BEGIN SELECT RAISE(ABORT, '{table} are only added to'); END"
    )


def _body(table: str) -> str:
    return f" BEGIN RAISE EXCEPTION '{table} are only added to'; END "


def _postgresql(table: str) -> Iterator[str]:
    yield (f"CREATE FUNCTION {table}_only_added_to() RETURNS trigger LANGUAGE plpgsql AS $${_body(table)}$$")
    for verb in VERBS:
        yield (
            f"CREATE TRIGGER {table}_no_{verb} BEFORE {verb.upper()} ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION {table}_only_added_to()"
        )
    yield (
        f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_only_added_to()"
    )
