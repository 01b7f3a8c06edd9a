"""A logbook of each kind: a file, and a database of a server that a team shares."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest

from tests.support.postgres import server


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """Give what the addresses of a running server end in."""
    with server() as ending:
        yield ending


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Return where a new logbook goes."""
    if request.param == "sqlite":
        return str(tmp_path / "logbook.db")
    return new_database(request.getfixturevalue("postgres"))


def new_database(ending: str) -> str:
    """Return the address of a new database of a server."""
    import psycopg

    name = f"t{uuid4().hex[:12]}"
    with psycopg.connect(f"postgresql://postgres@/postgres{ending}", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return f"postgresql://postgres@/{name}{ending}"
