"""The tables of a logbook as they are now; `migrations` says how they came about."""

from __future__ import annotations

import sqlalchemy as sa

KNOWN = ("0001", "0002", "0003")
"""Revisions of the schema that can be opened, oldest first; the last is the present one."""
HEAD = KNOWN[-1]
VERSION_TABLE = "tussock_schema"

metadata = sa.MetaData()

entries = sa.Table(
    "entries",
    metadata,
    sa.Column("row", sa.BigInteger, primary_key=True, autoincrement=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("id", sa.Text, nullable=False),
    sa.UniqueConstraint("kind", "id"),
)
"""That there is an entry of this kind and id. Rows are counted from 1 in the order of writing."""

revisions = sa.Table(
    "revisions",
    metadata,
    sa.Column("entry", sa.BigInteger, sa.ForeignKey("entries.row"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("parent", sa.BigInteger, sa.ForeignKey("entries.row")),
    sa.Column("cells", sa.Text, nullable=False),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("by", sa.Text, nullable=False),
    sa.Column("why", sa.Text, nullable=False),
    sa.Index("revisions_at", "at"),
)
"""The states of the entries: cells as a JSON object in the order of the table they came from, `at` as UTC to
the microsecond so that text sorts as time does. The parent is the state's, since an amendment may move it."""

residents = sa.Table(
    "residents",
    metadata,
    sa.Column("callout", sa.Text, primary_key=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("phone", sa.Text, nullable=False),
    sa.Column("address", sa.Text, nullable=False),
    sa.Column("keep_until", sa.Text, nullable=False),
)
"""Who called; apart from the book, without history, taken out after the last day it may be kept."""

photos = sa.Table(
    "photos",
    metadata,
    sa.Column("entry", sa.BigInteger, sa.ForeignKey("entries.row"), primary_key=True),
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("sha256", sa.Text, nullable=False),
    sa.Column("path", sa.Text),
    sa.Column("at", sa.Text),
    sa.Column("by", sa.Text),
)
"""Files that go with an entry: by reference, where they were when, and who attached them; empty where that is
not known."""

filings = sa.Table(
    "filings",
    metadata,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("by", sa.Text, nullable=False),
)
"""Returns as they were filed."""
