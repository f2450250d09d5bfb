"""The four tables. What may not be changed is guarded by triggers, which stand in the migrations."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Column, Integer, LargeBinary, MetaData, String, Table, Text

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
    }
)

register = Table(
    "register",
    metadata,
    Column("single", Integer, CheckConstraint("single = 1", name="one_row"), primary_key=True, autoincrement=False),
    Column("id", String(32), nullable=False),
)
"""Which register this is: one row."""

people = Table(
    "people",
    metadata,
    Column("name", Text, primary_key=True),
    Column("public_key", String(64), nullable=False),
    Column("salt", LargeBinary, nullable=False),
    Column("nonce", LargeBinary, nullable=False),
    Column("sealed", LargeBinary, nullable=False),
    Column("time_cost", Integer, nullable=False),
    Column("memory_kib", Integer, nullable=False),
    Column("lanes", Integer, nullable=False),
)
"""Sealed keys. Names, roles and public keys count only as the decisions say."""

plans = Table(
    "plans",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("content", LargeBinary, nullable=False),
)
"""Plan files, byte by byte, under their SHA-256. Never changed, never deleted."""

decisions = Table(
    "decisions",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("statement", Text, nullable=False),
    Column("hash", String(64), nullable=False),
    Column("signature", String(128), nullable=False),
)
"""Decisions: the signed statement as canonical JSON, its hash, its signature. Never changed, never deleted."""

GUARDED = {"register": "single", "plans": "digest", "decisions": "seq"}
"""Tables that are only added to, with their primary keys."""
