"""Permit files written: a new one from its tables, or an earlier one with only what changed.

tomlkit writes TOML and keeps what stood there: comments, order and spacing of an earlier file stay as they
were.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT, Item, Table

MARK = "# Written by tussock permit new."
"""How a file begins that Tussock wrote."""
_HEAD = f"""{MARK}
# Compare it with the paper, clause by clause: tussock permit check FILE
# The text of a clause is the authority's; everything else is how it is worked out.
"""
_LAST = ("mandatory", "applies_to", "text")


def permit_text(raw: Mapping[str, Any], *, before: str = "") -> str:
    """Return the text of a permit file that reads back as those tables.

    Parameters
    ----------
    raw
        The tables as read from a permit file, or as answered.
    before
        Text of the file so far; what has not changed in it stays as it is. One that cannot be kept so
        (its versions stand in one line) is written anew.
    """
    if before:
        kept = _amended(before, raw)
        if kept and _said(tomllib.loads(kept)) == _said(raw):
            return kept
    return _anew(raw)


def _said(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Return the tables without what says nothing: an empty list of clauses."""
    versions = [{k: v for k, v in one.items() if k != "conditions" or v} for one in raw.get("versions", ())]
    return {**raw, "versions": versions}


def _anew(raw: Mapping[str, Any]) -> str:
    document = tomlkit.document()
    for key, value in raw.items():
        if key != "versions":
            document.add(key, _item(value))
    versions = tomlkit.aot()
    for version in raw.get("versions", ()):
        versions.append(_version(version))
    document.add("versions", versions)
    return f"{_HEAD}{tomlkit.dumps(document).rstrip()}\n"


def _version(raw: Mapping[str, Any]) -> Table:
    table = tomlkit.table()
    for key, value in raw.items():
        if key != "conditions":
            table.add(key, _item(value))
    clauses = tomlkit.aot()
    for clause in raw.get("conditions", ()):
        clauses.append(_clause(clause))
    if len(clauses):
        table.add("conditions", clauses)
    return table


def _clause(raw: Mapping[str, Any]) -> Table:
    table = tomlkit.table()
    for key in _ordered(raw):
        table.add(key, _item(raw[key]))
    return table


def _ordered(raw: Mapping[str, Any]) -> Sequence[str]:
    """Return the keys of a clause: the authority's text last, under what was made of it."""
    return sorted(raw, key=lambda k: _LAST.index(k) if k in _LAST else -1)


def _item(value: Any) -> Item:
    """Return a value as it is written: tables in one line."""
    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        for key, inner in value.items():
            table.append(key, _item(inner))
        return table
    written: Item = tomlkit.item(list(value) if isinstance(value, tuple) else value)
    return written


def _amended(before: str, raw: Mapping[str, Any]) -> str:
    """Return the earlier text with the changes in it; empty where its form does not allow that."""
    document = tomlkit.parse(before)
    versions = document.get("versions")
    if not isinstance(versions, AoT):
        return ""
    for number, version in enumerate(raw["versions"]):
        if number >= len(versions):
            versions.append(_set_off(_version(version), last=True))
        elif not _amend_version(versions[number], version, last=number == len(versions) - 1):
            return ""
    return f"{tomlkit.dumps(document).rstrip()}\n"


def _set_off(table: Table, *, last: bool) -> Table:
    """Return the table with an empty line above it at the end of the file, or else below it."""
    if last:
        table.trivia.indent = "\n"
    else:
        table.add(tomlkit.nl())
    return table


def _amend_version(table: Table, raw: Mapping[str, Any], *, last: bool) -> bool:
    for key in ("valid_from", "valid_to"):
        _amend_key(table, key, raw)
    clauses = table.get("conditions")
    if clauses is None:
        clauses = tomlkit.aot()
        for clause in raw.get("conditions", ()):
            clauses.append(_clause(clause))
        if len(clauses):
            table.add("conditions", clauses)
        return True
    return isinstance(clauses, AoT) and _amend_clauses(clauses, raw.get("conditions", ()), last=last)


def _amend_clauses(clauses: AoT, wanted: Sequence[Mapping[str, Any]], *, last: bool) -> bool:
    """Make a list of clauses equal to what is wanted: taken out, changed in place, put behind."""
    ids = {clause["id"] for clause in wanted}
    for number in reversed(range(len(clauses))):
        if clauses[number].get("id") not in ids:
            del clauses[number]
    for number, clause in enumerate(wanted):
        if number >= len(clauses):
            clauses.append(_set_off(_clause(clause), last=last))
        elif clauses[number].get("id") != clause["id"]:
            return False
        elif clauses[number].unwrap() != clause:
            _amend_clause(clauses[number], clause)
    return True


def _amend_clause(table: Table, raw: Mapping[str, Any]) -> None:
    for key in list(table):
        if key not in raw:
            table.remove(key)
    for key in _ordered(raw):
        _amend_key(table, key, raw)


def _amend_key(table: Table, key: str, raw: Mapping[str, Any]) -> None:
    if key in raw and (key not in table or table[key] != raw[key]):
        table[key] = _item(raw[key])
    elif key not in raw and key in table:
        table.remove(key)
