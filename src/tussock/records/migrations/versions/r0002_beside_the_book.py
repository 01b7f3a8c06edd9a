"""What is kept beside the book: residents, photos, filed returns."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from tussock.records.migrations.frozen import freeze

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the three tables. That of residents has no key to another: it can be taken out whole."""
    op.create_table(
        "residents",
        sa.Column("callout", sa.Text, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("phone", sa.Text, nullable=False),
        sa.Column("address", sa.Text, nullable=False),
        sa.Column("keep_until", sa.Text, nullable=False),
    )
    op.create_table(
        "photos",
        sa.Column("entry", sa.BigInteger, sa.ForeignKey("entries.row"), primary_key=True),
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("sha256", sa.Text, nullable=False),
    )
    op.create_table(
        "filings",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
    )
    freeze("photos")
    freeze("filings")
