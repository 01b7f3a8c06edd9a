"""A permit file: who holds it, and the versions that were in force on which dates."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field

from tussock.clock import parse_date, parse_zone
from tussock.errors import Faults, InputError
from tussock.permit.clauses import read_clauses, tables
from tussock.permit.condition import Condition, Strict
from tussock.permit.explain import MOST_FAULTS, checked, shown
from tussock.permit.fields import Line, Lines
from tussock.permit.record_kinds import HandledBy
from tussock.permit.toml_file import read_toml

_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Version:
    """The text of a permit in force from one local date to another, both included.

    ``valid_to`` ``None`` is open.
    """

    valid_from: date
    valid_to: date | None
    conditions: tuple[Condition, ...]

    @property
    def name(self) -> str:
        """A version is named by its first day."""
        return self.valid_from.isoformat()

    def in_force(self, day: date) -> bool:
        """Return whether it is in force on a local date."""
        return self.valid_from <= day and (self.valid_to is None or day <= self.valid_to)

    @cached_property
    def of_taking(self) -> tuple[Condition, ...]:
        """Clauses that the version at capture judges."""
        return tuple(c for c in self.conditions if c.of_taking)

    @cached_property
    def of_disposal(self) -> tuple[Condition, ...]:
        """Clauses that the version at disposal judges."""
        return tuple(c for c in self.conditions if not c.of_taking)


@dataclass(frozen=True)
class Permit:
    """What an authority wrote, as its holder typed it.

    Attributes
    ----------
    zone
        The permit's local dates and clock times are in it.
    versions
        In order of time; they never overlap.
    warnings
        Gaps between versions, versions without clauses; in words.
    file
        Name of the file it was read from.
    """

    id: str
    holder: str
    authority: str
    zone: ZoneInfo
    authorised_persons: tuple[str, ...]
    versions: tuple[Version, ...]
    warnings: tuple[str, ...] = ()
    file: str = ""

    @property
    def timezone(self) -> str:
        """The zone's IANA name."""
        return self.zone.key

    def version_on(self, day: date) -> Version | None:
        """Return the version in force on a local date; ``None`` when none is."""
        return next((v for v in self.versions if v.in_force(day)), None)


def _calendar_day(value: object) -> object:
    if isinstance(value, datetime) or not isinstance(value, str | date):
        raise ValueError("it is no date without a time")
    if isinstance(value, date):
        return value
    try:
        return parse_date(value, where="")
    except InputError:
        raise ValueError("it is no date") from None


def _open_end(value: object) -> object:
    return None if value == "" else _calendar_day(value)


class Head(Strict):
    """What stands at the top of a permit file."""

    id: Line
    holder: Line
    authority: Line
    timezone: Annotated[Line, Field(description="an IANA name such as Australia/Hobart")]
    authorised_persons: Annotated[Lines | None, Field(description="a list of names in square brackets")] = (
        None
    )
    versions: Annotated[Any, Field(description="one or more [[versions]] tables")]


class VersionHead(Strict):
    """What stands at the top of a version."""

    valid_from: Annotated[
        date, BeforeValidator(_calendar_day), Field(description="a local date, such as 2026-07-01")
    ]
    valid_to: Annotated[
        date | None,
        BeforeValidator(_open_end),
        Field(description="the last local date in force, or left out where it is open"),
    ] = None
    conditions: Annotated[Any, Field(description="[[versions.conditions]] tables")] = ()


def read_permit(path: Path) -> Permit:
    """Return the permit in a TOML file.

    Raises
    ------
    InputError
        When it is no permit file; lists every fault with version and clause.
    """
    return permit_of(read_toml(path), file=path.name)


def permit_of(raw: Mapping[str, Any], *, file: str) -> Permit:
    """Return the permit that the tables of a file hold; ``file`` is named in faults.

    Raises
    ------
    InputError
        When they are no permit; lists every fault with version and clause.
    """
    faults = Faults()
    head = checked(Head, raw, where=file, faults=faults)
    zone = _zone(raw.get("timezone"), where=file, faults=faults)
    versions = _versions(raw, file=file, faults=faults)
    if not raw.get("authorised_persons"):
        _check_persons(versions, file=file, faults=faults)
    faults.raise_if_any(most=MOST_FAULTS)
    if head is None or zone is None:  # pragma: no cover - either has noted a fault
        raise InputError("it is no permit file", where=file)
    return Permit(
        id=head.id,
        holder=head.holder,
        authority=head.authority,
        zone=zone,
        authorised_persons=head.authorised_persons or (),
        versions=versions,
        warnings=tuple(_warnings(versions)),
        file=file,
    )


def _zone(name: object, *, where: str, faults: Faults) -> ZoneInfo | None:
    if not isinstance(name, str) or not name.strip():
        return None  # the head has noted it
    try:
        return parse_zone(name.strip(), where=f"{where}, timezone")
    except InputError as error:
        faults.add(
            f"timezone {shown(name)} is not a time zone", where=where, allowed=error.allowed, fix=error.fix
        )
        return None


def _versions(raw: Mapping[str, Any], *, file: str, faults: Faults) -> tuple[Version, ...]:
    if "versions" not in raw:
        return ()  # the head has noted it
    listed = tables(raw["versions"], key="versions", where=file, faults=faults)
    if raw["versions"] == []:
        faults.add(
            "versions holds none", where=file, allowed="one or more [[versions]] tables", fix="add one"
        )
    read = [_version(table, file=file, number=n, faults=faults) for n, table in enumerate(listed, start=1)]
    versions = sorted((v for v in read if v is not None), key=lambda v: v.valid_from)
    _check_overlaps(versions, file=file, faults=faults)
    return tuple(versions)


def _check_overlaps(versions: Sequence[Version], *, file: str, faults: Faults) -> None:
    """Note every version that begins before an earlier one has ended; they come in order of time."""
    latest: Version | None = None
    for version in versions:
        if latest is not None and latest.in_force(version.valid_from):
            _note_overlap(latest, version, file=file, faults=faults)
        if latest is None or _ends(version) >= _ends(latest):
            latest = version


def _ends(version: Version) -> date:
    return version.valid_to or date.max


def _version(table: Mapping[str, Any], *, file: str, number: int, faults: Faults) -> Version | None:
    where = f"{file}, version {_day_words(table.get('valid_from')) or f'no. {number}'}"
    head = checked(VersionHead, table, where=where, faults=faults)
    conditions = read_clauses(table.get("conditions", []), where=where, faults=faults)
    if head is None:
        return None
    if head.valid_to is not None and head.valid_to < head.valid_from:
        faults.add(
            f"valid_to = {head.valid_to} is before valid_from = {head.valid_from}",
            where=where,
            allowed="valid_to on or after valid_from, or left out where it is open",
            fix="correct the dates",
        )
        return None
    return Version(head.valid_from, head.valid_to, conditions)


def _day_words(value: object) -> str:
    """Return a version's name as far as its first day can be read."""
    try:
        return str(_calendar_day(value))
    except ValueError:
        return ""


def _note_overlap(earlier: Version, later: Version, *, file: str, faults: Faults) -> None:
    end = f"to {earlier.valid_to}" if earlier.valid_to else "with an open end"
    faults.add(
        f"version {earlier.name} is in force {end}, so it overlaps version {later.name}",
        where=file,
        allowed="one version in force on any day; valid_to is the last day in force",
        fix=f"end version {earlier.name} on the day before {later.name}",
    )


def _check_persons(versions: tuple[Version, ...], *, file: str, faults: Faults) -> None:
    for version in versions:
        for clause in version.conditions:
            if isinstance(clause, HandledBy) and clause.persons is None:
                faults.add(
                    "handled_by names nobody, and the permit has no authorised_persons",
                    where=f"{file}, version {version.name}, clause {clause.id}",
                    fix="list them in authorised_persons at the top, or in persons here",
                )


def _warnings(versions: tuple[Version, ...]) -> Iterator[str]:
    for version in versions:
        if not version.conditions:
            yield f"version {version.name} holds no conditions, so nothing is checked under it"
    for earlier, later in pairwise(versions):
        if earlier.valid_to is not None and (later.valid_from - earlier.valid_to).days > 1:
            first, last = earlier.valid_to + _DAY, later.valid_from - _DAY
            yield (
                f"no version is in force from {first} to {last}, between {earlier.name} and {later.name}; "
                "captures and releases then are outside the permit"
            )
