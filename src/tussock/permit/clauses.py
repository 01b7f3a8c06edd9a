"""Clauses from the tables of a TOML file; faults are collected, not raised."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from tussock.errors import Faults
from tussock.permit.condition import Condition
from tussock.permit.explain import checked, did_you_mean, shown
from tussock.permit.kinds import KINDS


def read_clauses(raw: object, *, where: str, faults: Faults) -> tuple[Condition, ...]:
    """Return the clauses of a ``[[…conditions]]`` list.

    Parameters
    ----------
    raw
        What the key held.
    where
        File and version, named in every fault.
    faults
        Takes the faults; a clause with one is left out of the result.
    """
    listed = tables(raw, key="conditions", where=where, faults=faults)
    clauses = [
        _clause(table, where=f"{where}, {_name(table, number)}", faults=faults)
        for number, table in enumerate(listed, start=1)
    ]
    _check_ids(listed, where=where, faults=faults)
    return tuple(c for c in clauses if c is not None)


def tables(raw: object, *, key: str, where: str, faults: Faults) -> Sequence[Mapping[str, Any]]:
    """Return a list of tables, or note that it is none."""
    if isinstance(raw, list) and all(isinstance(one, dict) for one in raw):
        return raw
    faults.add(
        f"{key} is {shown(raw)}", where=where, allowed=f"one or more [[{key}]] tables", fix="write it so"
    )
    return ()


def _name(table: Mapping[str, Any], number: int) -> str:
    name = table.get("id")
    if isinstance(name, str) and name.strip() and name.strip().isprintable():
        return f"clause {name.strip()[:40]}"
    return f"condition no. {number}"


def _clause(table: Mapping[str, Any], *, where: str, faults: Faults) -> Condition | None:
    kind = table.get("kind")
    if isinstance(kind, str) and kind in KINDS:
        return checked(KINDS[kind], table, where=where, faults=faults)
    if kind is None:
        faults.add("kind is missing", where=where, allowed=", ".join(KINDS), fix="add kind")
    else:
        fix = did_you_mean(str(kind), KINDS) or "use attested for a clause that only a person can answer"
        faults.add(f"unknown kind {shown(kind)}", where=where, allowed=", ".join(KINDS), fix=fix)
    return None


def _check_ids(listed: Sequence[Mapping[str, Any]], *, where: str, faults: Faults) -> None:
    counts = Counter(t["id"].strip() for t in listed if isinstance(t.get("id"), str))
    for name in sorted(n for n, count in counts.items() if count > 1):
        faults.add(
            f"clause {shown(name)} stands {counts[name]} times",
            where=where,
            allowed="each id once in a version",
            fix='number its parts, such as "3(a)(i)" and "3(a)(ii)"',
        )
