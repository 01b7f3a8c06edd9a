"""From the options of ``tussock audit`` to the audits, printed and written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from tussock.cli import audit_show
from tussock.cli.failures import say, written
from tussock.cli.log_job import LogOptions
from tussock.cli.options import Format
from tussock.cli.progress import progress
from tussock.cli.settings import read_settings
from tussock.errors import InputError, UsageError
from tussock.files import Outbox
from tussock.ground.region import Region
from tussock.maps.audit_outputs import FILES, ends, is_ours
from tussock.permit.permit_file import Permit
from tussock.planning.opened import Files, Opened, Permits, open_files, open_permits
from tussock.records.audit_tables import releases_csv
from tussock.records.book import RecordBook, read_book
from tussock.records.entries import CALLOUT, CAPTURE, CHECK, CONSENT, CONTAINER, DISPOSAL, INCIDENT
from tussock.records.followed import followed
from tussock.records.source import Book, open_book, open_logged
from tussock.review.audit import Audit
from tussock.review.auditing import Beside, always, audit, under_version


@dataclass(frozen=True)
class AuditOptions:
    """The options of ``tussock audit``; ``None`` and empty where not given."""

    logbook: str | None = None
    captures: Path | None = None
    releases: Path | None = None
    permit: tuple[Path, ...] = ()
    region: Path | None = None
    callouts: Path | None = None
    consents: Path | None = None
    checks: Path | None = None
    incidents: Path | None = None
    containers: Path | None = None
    profiles: Path | None = None
    under: str | None = None
    now: str | None = None
    out: Path | None = None
    output: Format = Format.TABLE
    force: bool = False

    def tables(self) -> dict[str, Path]:
        """Return kind of entry → table, of those given."""
        named = {
            CAPTURE: self.captures,
            DISPOSAL: self.releases,
            CALLOUT: self.callouts,
            CONSENT: self.consents,
            CHECK: self.checks,
            INCIDENT: self.incidents,
            CONTAINER: self.containers,
        }
        return {kind: path for kind, path in named.items() if path is not None}

    def with_defaults(self) -> AuditOptions:
        """Return the options with region, permit and profiles of tussock.toml where none was given."""
        said = read_settings(Path()).defaults
        permit = said.get("permit", ())
        return replace(
            self,
            permit=self.permit or (permit if isinstance(permit, tuple) else (permit,)),
            region=self.region or said.get("region"),
            profiles=self.profiles or said.get("profiles"),
            consents=self.consents or (said.get("consents") if self.captures else None),
        )

    @property
    def log(self) -> LogOptions:
        """The logbook that is meant where no tables are named."""
        return LogOptions(self.logbook, None, self.now, self.profiles)


def run_audit(given: AuditOptions) -> int:
    """Carry out ``tussock audit``; return its exit code.

    Raises
    ------
    UsageError
        When no permit is named, or the clock is none.
    InputError
        When a file cannot be used, or something is in the way of what is written.
    """
    asked = given.with_defaults()
    _check(asked)
    now = asked.log.clock()
    opened, found = _opened(asked), _found(asked)
    for note in found.notes:
        say(f"Note: {note}.")
    region = opened.region if isinstance(opened, Opened) else None
    permits, under = _under(opened.permits, asked.under)
    book = read_book(found.entries, species=opened.book, now=now, keeps=found.keeps)
    with Outbox(is_ours, force=asked.force, inputs=_inputs(asked)) as outbox:
        outbox.check(p for permit in permits for p in _targets(asked, permit, alone=len(permits) == 1))
        beside = book.beside(now, {**opened.inputs, **found.inputs})
        audits = [_audited(book, p, region, beside, under) for p in permits]
        for one in audits:
            _stage(outbox, asked, one, region, alone=len(permits) == 1)
        paths = outbox.send()
    for one in audits:
        _print(one, asked.output)
    written(paths)
    return int(any(one.needs_attention for one in audits))


def _check(asked: AuditOptions) -> None:
    """Refuse what is not enough, or contradicts itself, before anything is read."""
    if not asked.permit:
        raise UsageError("no permit is named", where="--permit", fix="name the permit file")
    tables = asked.tables()
    if not tables:
        return
    if asked.logbook is not None:
        fix = "name the logbook, or the tables"
        raise UsageError("a logbook and tables are both named", where="--logbook", fix=fix)
    if absent := [k for k in (CAPTURE, DISPOSAL) if k not in tables]:
        where = "--captures" if absent[0] == CAPTURE else "--releases"
        raise UsageError("tables of both are needed", where=where, fix="name both tables, or a logbook")


def _found(asked: AuditOptions) -> Book:
    tables = asked.tables()
    return open_book(tables) if tables else open_logged(asked.log.where)


def _under(permits: tuple[Permit, ...], name: str | None) -> tuple[tuple[Permit, ...], str]:
    """Return the permits to judge by, and what all are judged under instead of their own versions."""
    if name is None:
        return permits, ""
    if any(v.name == name for p in permits for v in p.versions):
        return tuple(under_version(p, name) for p in permits), f"version {name}"
    if Path(name).is_file() and len(permits) == 1 and len(permits[0].versions) == 1:
        version = permits[0].versions[0]
        return (always(permits[0], version),), f"{Path(name).name}, version {version.name}"
    raise InputError(
        f"'{name[:60]}' is neither a version nor a permit file with one version",
        where="--under",
        allowed=", ".join(v.name for p in permits for v in p.versions),
        fix="name a version by its first day (with --permit), or a permit file with one version",
    )


def _opened(asked: AuditOptions) -> Opened | Permits:
    """Return region, permits and species; with ``--under FILE`` that permit stands in for the others."""
    other = Path(asked.under) if asked.under is not None and Path(asked.under).is_file() else None
    permits = asked.permit if other is None else (other,)
    if asked.region is None:
        return open_permits(permits, profiles=asked.profiles)
    return open_files(Files(asked.region, permits, profiles=asked.profiles))


def _audited(book: RecordBook, permit: Permit, region: Region | None, beside: Beside, under: str) -> Audit:
    with progress(len(book.kept), "judging") as step:
        told = replace(beside, progress=lambda done, _: step(done))
        return audit(followed(book.kept, book.checks, permit.id), permit, region, told, under=under)


def _inputs(asked: AuditOptions) -> Iterator[Path]:
    yield from (*asked.permit, *asked.tables().values())
    if asked.profiles is not None:
        yield asked.profiles


def _targets(asked: AuditOptions, permit: Permit, *, alone: bool) -> tuple[Path, ...]:
    """Return the files; with several permits each has its id in the name."""
    if asked.out is None:
        return ()
    name = asked.out.name.removesuffix(".csv")
    if not alone:
        name += "-" + "".join(c if c.isalnum() or c in "-_" else "-" for c in permit.id)
    return tuple(asked.out.with_name(name + end) for end in ends(ground=asked.region is not None))


def _stage(outbox: Outbox, asked: AuditOptions, one: Audit, region: Region | None, *, alone: bool) -> None:
    made = ends(ground=region is not None)
    for end, target in zip(made, _targets(asked, one.permit, alone=alone), strict=False):
        outbox.stage(target, FILES[end](one, region))


def _print(one: Audit, output: Format) -> None:
    match output:
        case Format.CSV:
            audit_show.data(releases_csv(one))
        case Format.JSON:
            audit_show.data(audit_show.as_json(one))
        case Format.TABLE:
            audit_show.table(one)
