"""A permit file in the making: its tables so far, and what is wrong with them."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from tussock.errors import InputError
from tussock.permit.permit_file import Permit, permit_of

HEAD = ("id", "holder", "authority", "timezone", "authorised_persons")
"""Keys at the top of the file, in their order."""
Table = dict[str, Any]


@dataclass
class Draft:
    """The tables of a permit file so far, and the version that is being typed.

    Attributes
    ----------
    raw
        As a TOML file would give them.
    current
        Index of the version in hand.
    history
        Before each change to the clauses of the version in hand: what they were, and the clause typed.
    """

    raw: Table = field(default_factory=dict)
    current: int = 0
    history: list[tuple[list[Table], Table]] = field(default_factory=list)

    @property
    def versions(self) -> list[Table]:
        """Every version, as in the file."""
        versions: list[Table] = self.raw.setdefault("versions", [])
        return versions

    @property
    def clauses(self) -> list[Table]:
        """The clauses of the version in hand."""
        clauses: list[Table] = self.versions[self.current].setdefault("conditions", [])
        return clauses

    @property
    def savable(self) -> bool:
        """Whether there is a file to write: the head and a version are done."""
        return bool(self.raw.get("versions"))

    @property
    def name(self) -> str:
        """The name of the version in hand."""
        return str(self.versions[self.current]["valid_from"])

    def permit(self) -> Permit:
        """Return the permit so far.

        Raises
        ------
        InputError
            Listing what is wrong with it.
        """
        return permit_of(self.raw, file="the permit")

    def put_head(self, head: Mapping[str, Any]) -> None:
        """Take the head; it stands before the versions."""
        versions = self.raw.pop("versions", None)
        self.raw.update({k: head[k] for k in HEAD if head.get(k)})
        if versions is not None:
            self.raw["versions"] = versions

    def take_up(self, number: int) -> None:
        """Take a version in hand."""
        self.current, self.history = number, []

    def faults_of_version(self, version: Mapping[str, Any], *, ended: date | None = None) -> str:
        """Return what is wrong with one more version; empty when nothing is.

        Parameters
        ----------
        ended
            The day on which the version with an open end then ends.
        """
        versions = [_ended(v, ended) for v in self.versions]
        try:
            permit_of({**self.raw, "versions": [*versions, dict(version)]}, file="the permit")
        except InputError as error:
            return error.text()
        return ""

    def open_before(self, day: date) -> Table | None:
        """Return the version with an open end that began before a day."""
        return next((v for v in self.versions if _open(v) and first_day(v) < day), None)

    def add_version(self, version: Mapping[str, Any], *, ended: date | None = None) -> None:
        """Put a version behind the others and take it in hand; one with an open end may end before it."""
        self.versions[:] = [*(_ended(v, ended) for v in self.versions), dict(version)]
        self.take_up(len(self.versions) - 1)

    def faults_of_clause(self, clause: Mapping[str, Any]) -> str:
        """Return what the file would say of a clause; empty when nothing."""
        trial = Draft(copy.deepcopy(self.raw), self.current)
        trial.put(dict(clause))
        try:
            trial.permit()
        except InputError as error:
            return error.text()
        return ""

    def clause(self, name: str) -> Table | None:
        """Return the clause of that number in the version in hand."""
        return next((c for c in self.clauses if c.get("id") == name), None)

    def put(self, clause: Table) -> None:
        """Put a clause in the place of the one with its number, or behind the others."""
        self.history.append((list(self.clauses), clause))
        at = next((n for n, c in enumerate(self.clauses) if c.get("id") == clause["id"]), len(self.clauses))
        self.clauses[at : at + 1] = [clause]

    def drop(self, name: str) -> None:
        """Take a clause out."""
        self.history.append((list(self.clauses), {}))
        self.clauses[:] = [c for c in self.clauses if c.get("id") != name]

    def take_back(self) -> Table | None:
        """Undo the last change of this run; return the clause typed then, ``None`` where there is none."""
        if not self.history:
            return None
        self.clauses[:], clause = self.history.pop()
        return clause


def _open(version: Mapping[str, Any]) -> bool:
    return version.get("valid_to") in (None, "")


def _ended(version: Table, day: date | None) -> Table:
    """Return the version, ending on a day where its end was open and it began by then."""
    if day is None or not _open(version) or first_day(version) > day:
        return version
    order = {"valid_from": version["valid_from"], "valid_to": day}
    return {**order, **{k: v for k, v in version.items() if k not in order}}


def first_day(version: Mapping[str, Any]) -> date:
    """Return a version's first day; files may hold it as a date or as text."""
    return date.fromisoformat(str(version["valid_from"]))


def day_before(day: date) -> date:
    """Return the day before."""
    return day - timedelta(days=1)
