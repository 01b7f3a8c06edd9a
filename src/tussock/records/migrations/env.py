"""Runs upgrades on the connection that it is given, inside that connection's transaction."""

from __future__ import annotations

from alembic import context


def run() -> None:
    """Run the upgrades that are asked for."""
    context.configure(
        connection=context.config.attributes["connection"],
        version_table="tussock_schema",
        transactional_ddl=True,  # SQLite too: an upgrade that is cut off leaves the logbook as it was
    )
    with context.begin_transaction():
        context.run_migrations()


if __name__ == "env_py":  # the name under which alembic runs it; imported, it does nothing
    run()
