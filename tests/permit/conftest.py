"""Permit files for the tests: written as text, read as users' files are."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path
from typing import Any

import pytest

from tussock.permit.condition import Condition
from tussock.permit.permit_file import Permit, read_permit


def toml_value(value: object) -> str:
    """Return a value as TOML text."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_value(v) for v in value) + "]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{toml_value(k)} = {toml_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, date | time):
        return value.isoformat()
    # an integer of more digits than Python prints is written in hexadecimal
    return hex(value) if isinstance(value, int) and value > 10**300 else repr(value)


@dataclass(frozen=True)
class Desk:
    """Where tests write permit files and read them back."""

    folder: Path
    head: str = (
        'id = "T-1"\nholder = "Nobody"\nauthority = "None"\ntimezone = "Australia/Hobart"\n'
        'authorised_persons = ["N. O. Body"]\n'
    )

    def write(self, text: str | bytes, name: str = "permit.toml") -> Path:
        """Return the path of a file with that content."""
        path = self.folder / name
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    def table(self, table: Mapping[str, Any], *, key: str = "versions.conditions") -> str:
        """Return a TOML table of a list."""
        return f"[[{key}]]\n" + "".join(f"{k} = {toml_value(v)}\n" for k, v in table.items())

    def text(self, *clauses: Mapping[str, Any]) -> str:
        """Return the text of a permit of one version with those clauses."""
        return self.head + "[[versions]]\nvalid_from = 2025-07-01\n" + "".join(map(self.table, clauses))

    def whole(self, raw: Mapping[str, Any]) -> str:
        """Return a whole file; what is nested is written inline."""
        return "".join(f"{toml_value(key)} = {toml_value(value)}\n" for key, value in raw.items())

    def permit(self, *clauses: Mapping[str, Any]) -> Permit:
        """Return a permit of one version with those clauses."""
        return read_permit(self.write(self.text(*clauses)))

    def clause(self, kind: str, **fields: Any) -> Condition:
        """Return one clause as read from a file."""
        return self.permit({"id": "1", "kind": kind, **fields}).versions[0].conditions[0]

    def versions(self, *dates: str) -> Permit:
        """Return a permit of empty versions; each text holds the lines of one."""
        return read_permit(self.write(self.head + "".join(f"[[versions]]\n{lines}\n" for lines in dates)))


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


@dataclass(frozen=True)
class Beast:
    """What was answered about an animal; a fit wild adult unless said."""

    scientific_name: str = "Notechis scutatus"
    danger: str = "dangerously_venomous"
    origin: str = "wild_local"
    life_stage: str = "adult"
    gravid: str = "no"
    condition: str = "fit"
    found_in: str = "yard"
    release_month: int = 11


@pytest.fixture
def beast() -> Callable[..., Beast]:
    return Beast
