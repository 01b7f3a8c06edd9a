"""A permit in plain words, clause by clause, to be laid beside the paper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from tussock.permit.permit_file import Permit, Version
from tussock.permit.plain.clause_words import COUNTED, ClauseWords, clause_words
from tussock.permit.plain.dates import day_words
from tussock.permit.plain.held import HeldRegion


@dataclass(frozen=True)
class VersionWords:
    """A version in plain words; ``dropped`` are clauses of the version before that it no longer has."""

    version: Version
    dates: str
    clauses: tuple[ClauseWords, ...]
    dropped: tuple[str, ...] = ()

    @property
    def counts(self) -> Mapping[str, int]:
        """How many clauses are decided by what."""
        found = Counter(c.counted for c in self.clauses)
        return {name: found[name] for name in COUNTED}


@dataclass(frozen=True)
class PermitWords:
    """A permit in plain words."""

    permit: Permit
    versions: tuple[VersionWords, ...]
    region: str = ""

    @property
    def warnings(self) -> tuple[str, ...]:
        """Everything that needs attention, with its place."""
        by_clause = [
            f"version {v.version.name}, clause {c.condition.id}: {words}"
            for v in self.versions
            for c in v.clauses
            for words in c.warnings
        ]
        empty = () if self.versions else ("the file has no version",)
        return (*self.permit.warnings, *empty, *by_clause)

    @property
    def cannot_know(self) -> tuple[str, ...]:
        """What no calculation settles, given the clauses there are."""
        return tuple(_cannot_know({c.counted for v in self.versions for c in v.clauses}))


def in_words(permit: Permit, *, region: HeldRegion | None = None) -> PermitWords:
    """Return a permit in plain words; with what a region holds of it where one is named."""
    befores = (None, *permit.versions)
    versions = tuple(_version(v, b, region) for b, v in zip(befores, permit.versions, strict=False))
    return PermitWords(permit, versions, region.name if region else "")


def _version(version: Version, before: Version | None, region: HeldRegion | None) -> VersionWords:
    clauses = tuple(
        clause_words(c, version=version, before=before, region=region) for c in version.conditions
    )
    here = {c.id for c in version.conditions}
    dropped = tuple(c.id for c in (before.conditions if before else ()) if c.id not in here)
    return VersionWords(version, _dates(version), clauses, dropped)


def _dates(version: Version) -> str:
    start = day_words(version.valid_from)
    return f"in force from {start}" + (
        f" to {day_words(version.valid_to)}, both included" if version.valid_to else ", with an open end"
    )


def _cannot_know(counted: set[str]) -> Iterator[str]:
    yield "whether this file says what the paper says: clauses left out, misread or simplified"
    yield "any other law or permit that binds you: land, parks, biosecurity, animal welfare"
    if "map" in counted:
        yield "ground that has changed since it was mapped, and what nobody mapped: look before you release"
    if "animal" in counted:
        yield "whether the animal is what it was taken for, and how it fares"
    if counted & {"clock", "record"}:
        yield "whether the times, places, names and consents in your record are true"
    if "attested" in counted:
        yield "what a person attests: the answer is taken as it is given"
