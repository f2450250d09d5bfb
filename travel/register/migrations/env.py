"""Alembic's way in: runs the steps on the connection it is handed, or on ``sqlalchemy.url`` of its own command."""

from __future__ import annotations

from typing import Any

from alembic import context
from sqlalchemy import create_engine

from travel.register.tables import metadata


def run(config: Any) -> None:
    """Run the migrations."""
    handed = config.attributes.get("connection")
    if handed is not None:
        _on(handed)
        return
    with create_engine(config.get_main_option("sqlalchemy.url")).begin() as connection:
        _on(connection)


def _on(connection: Any) -> None:
    context.configure(connection=connection, target_metadata=metadata, render_as_batch=True)
    context.run_migrations()


def _asked() -> Any:
    try:
        return context.config
    except (NameError, AttributeError):  # imported to be read, not run by alembic
        return None


if _asked() is not None:
    run(_asked())
