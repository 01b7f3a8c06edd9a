"""TOML files as people save them; every way to fail is one InputError."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from tussock.errors import InputError

MOST_BYTES = 2_000_000
"""Largest file read; a permit of a thousand clauses has a fifth of it (choice of this project)."""


def read_toml(path: Path) -> dict[str, Any]:
    """Return a TOML file as a table.

    Raises
    ------
    InputError
        When it cannot be read, is too large, no UTF-8, or no TOML; the line is named.
    """
    try:
        text = _bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"byte {error.start} is not UTF-8",
            where=path.name,
            allowed="TOML in UTF-8",
            fix="save it as UTF-8",
        ) from None
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise InputError(
            "it is nested too deeply", where=path.name, allowed="TOML", fix="correct it"
        ) from None
    except ValueError as error:
        # TOMLDecodeError names line and column; over-long numbers raise a bare ValueError
        reason = str(error)[:200].rstrip(".")
        raise InputError(
            f"it is not TOML: {reason}", where=path.name, allowed="TOML in UTF-8", fix="correct that line"
        ) from None


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = "there is no such file" if isinstance(error, FileNotFoundError) else _reason(error)
        raise InputError(reason, where=str(path), fix="check the path") from None
    if len(data) > MOST_BYTES:
        raise InputError(
            f"it has more than {MOST_BYTES} bytes",
            where=path.name,
            allowed=f"up to {MOST_BYTES} bytes",
            fix="check that it is the right file",
        )
    return data


def _reason(error: OSError | ValueError) -> str:
    return f"it cannot be read ({getattr(error, 'strerror', None) or error})"
