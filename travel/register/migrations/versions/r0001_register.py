"""The register, people, plans and decisions, with the triggers that keep them from being changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from travel.register.migrations.guards import statements

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

KEYS = {"register": "single", "plans": "digest", "decisions": "seq"}


def upgrade() -> None:
    """Make the tables and their guards."""
    op.create_table(
        "register",
        sa.Column("single", sa.Integer, autoincrement=False),
        sa.Column("id", sa.String(32), nullable=False),
        sa.PrimaryKeyConstraint("single", name="pk_register"),
        sa.CheckConstraint("single = 1", name="ck_register_one_row"),
    )
    op.create_table(
        "people",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("public_key", sa.String(64), nullable=False),
        sa.Column("salt", sa.LargeBinary, nullable=False),
        sa.Column("nonce", sa.LargeBinary, nullable=False),
        sa.Column("sealed", sa.LargeBinary, nullable=False),
        sa.Column("time_cost", sa.Integer, nullable=False),
        sa.Column("memory_kib", sa.Integer, nullable=False),
        sa.Column("lanes", sa.Integer, nullable=False),
    )
    op.create_table(
        "plans",
        sa.Column("digest", sa.String(64), primary_key=True),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "decisions",
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("statement", sa.Text, nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("signature", sa.String(128), nullable=False),
    )
    dialect = op.get_bind().dialect.name
    for table, key in KEYS.items():
        for statement in statements(table, key, dialect):
            op.execute(sa.text(statement))


def downgrade() -> None:
    """Refuse: what was decided is not taken back by a program."""
    raise NotImplementedError("a register is not undone")
