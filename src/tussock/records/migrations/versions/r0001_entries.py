"""Entries, and the states that each has had."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from tussock.records.migrations.frozen import freeze

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the two tables; a state that is written stays."""
    op.create_table(
        "entries",
        sa.Column("row", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.UniqueConstraint("kind", "id"),
    )
    op.create_table(
        "revisions",
        sa.Column("entry", sa.BigInteger, sa.ForeignKey("entries.row"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("parent", sa.BigInteger, sa.ForeignKey("entries.row")),
        sa.Column("cells", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("why", sa.Text, nullable=False),
    )
    op.create_index("revisions_at", "revisions", ["at"])
    freeze("entries")
    freeze("revisions")
