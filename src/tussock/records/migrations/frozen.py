"""Tables whose rows are added and never changed: the database itself refuses."""

from __future__ import annotations

from alembic import op

_SQLITE = """CREATE TRIGGER {table}_stay_{verb} BEFORE {verb} ON {table}
BEGIN SELECT RAISE(ABORT, 'nothing in the book is overwritten'); END"""
_FUNCTION = """CREATE FUNCTION {table}_stay() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'nothing in the book is overwritten'; END $$"""
_POSTGRESQL = """CREATE TRIGGER {table}_stay BEFORE UPDATE OR DELETE ON {table}
FOR EACH ROW EXECUTE FUNCTION {table}_stay()"""


def freeze(table: str) -> None:
    """Let a table's rows neither be changed nor taken out."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(_SQLITE.format(table=table, verb=verb))
    else:
        op.execute(_FUNCTION.format(table=table))
        op.execute(_POSTGRESQL.format(table=table))
