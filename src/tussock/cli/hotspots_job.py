"""From the options of ``tussock hotspots`` to the page, the tables and the answer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli.failures import written
from tussock.cli.hotspots_show import show
from tussock.cli.log_job import LogOptions
from tussock.cli.options import Format
from tussock.cli.progress import progress
from tussock.cli.settings import read_settings
from tussock.clock import parse_date, parse_zone
from tussock.errors import InputError, UsageError
from tussock.files import Outbox
from tussock.ground.region import Region, open_region
from tussock.hotspots.found import Asked
from tussock.maps.hotspots_files import FILES, is_ours
from tussock.position import position_from_text
from tussock.records.calls import calls_of
from tussock.records.entries import CALLOUT, CAPTURE
from tussock.records.source import Book, open_book, open_logged

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from tussock.hotspots.found import Hotspots


@dataclass(frozen=True)
class HotspotsOptions:
    """The options of ``tussock hotspots``; ``None`` where not given."""

    observed: str
    logbook: str | None = None
    callouts: Path | None = None
    captures: Path | None = None
    region: Path | None = None
    timezone: str | None = None
    base: str | None = None
    standby: int = 0
    replicates: int = 999
    seed: int = 1
    now: str | None = None
    out: Path | None = None
    output: Format = Format.TABLE
    force: bool = False

    @property
    def log(self) -> LogOptions:
        """The logbook that is meant where no table is named."""
        return LogOptions(self.logbook, None, self.now)

    @property
    def tables(self) -> dict[str, Path]:
        """Kind of entry → table, of those given."""
        named = {CALLOUT: self.callouts, CAPTURE: self.captures}
        return {kind: path for kind, path in named.items() if path is not None}

    def targets(self) -> tuple[Path, ...]:
        """Every file that will be written."""
        return () if self.out is None else tuple(self.out.with_name(self.out.name + end) for end in FILES)


def run_hotspots(given: HotspotsOptions) -> int:
    """Carry out ``tussock hotspots``; return its exit code.

    Raises
    ------
    UsageError
        When an option is missing, or none of its sort.
    InputError
        When a file cannot be used, or something is in the way of what is written.
    MissingDataError
        When the region has no dwellings, or the packages of the extra are not installed.
    """
    asked, folder = _asked(given), _region(given)
    region, book = open_region(folder), _book(given)
    with Outbox(is_ours, force=given.force, inputs=given.tables.values()) as outbox:
        outbox.check(given.targets())
        found = _found(book, region, asked)
        for target, make in zip(given.targets(), FILES.values(), strict=False):
            outbox.stage(target, make(found, region))
        paths = outbox.send()
    show(found, given.output)
    written(paths)
    return 0


def _found(book: Book, region: Region, asked: Asked) -> Hotspots:
    from tussock.hotspots.finding import STEPS, find

    calls = calls_of(book.entries, plane=region.plane, inputs={**region.hashes(), **book.inputs})
    with progress(STEPS, "looking") as step:
        return find(calls, region, asked, step=step)


def _asked(given: HotspotsOptions) -> Asked:
    first, last = _days(given.observed)
    zone, words = _zone(given)
    now = given.log.clock()
    if last > (today := now.astimezone(zone).date()):
        fix = "end it today or before: days to come would make every rate too low"
        raise UsageError(f"{last} is still to come", where="--observed", allowed=f"up to {today}", fix=fix)
    return Asked(
        first=first,
        last=last,
        zone=zone,
        zone_words=words,
        now=now,
        base=_base(given.base),
        standby=given.standby,
        seed=given.seed,
        replicates=given.replicates,
    )


def _days(text: str) -> tuple[date, date]:
    where, allowed = "--observed", "two dates, such as 2025-09-01..2026-05-31"
    one, dots, other = text.partition("..")
    if not dots:
        fix = "state from when to when the book was kept"
        raise UsageError(f"'{text[:40]}'", where=where, allowed=allowed, fix=fix)
    first, last = parse_date(one, where=where), parse_date(other, where=where)
    if last < first:
        raise UsageError(f"{last} is before {first}", where=where, allowed=allowed, fix="swap them")
    return first, last


def _zone(given: HotspotsOptions) -> tuple[ZoneInfo, str]:
    """Return the district's time zone and where it is from: the option, or the permit of tussock.toml."""
    if given.timezone is not None:
        return parse_zone(given.timezone, where="--timezone"), ""
    said = read_settings(Path()).defaults.get("permit")
    listed = said if isinstance(said, tuple) else (said,)
    if listed[0] is None:
        fix = "name the district's time zone, such as Australia/Hobart"
        raise UsageError("no time zone is named", where="--timezone", fix=fix)
    from tussock.permit.permit_file import read_permit

    permit = read_permit(listed[0])
    return permit.zone, f"of permit {permit.id}"


def _base(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    try:
        at = position_from_text(text, 1.0, option="--base")
    except InputError as error:
        raise UsageError(error.found, where="--base", allowed=error.allowed, fix=error.fix) from None
    return at.longitude, at.latitude


def _region(given: HotspotsOptions) -> Path:
    folder = given.region or read_settings(Path()).defaults.get("region")
    if not isinstance(folder, Path):
        raise UsageError("no region is named", where="--region", fix="name the folder of the ground data")
    return folder


def _book(given: HotspotsOptions) -> Book:
    if given.tables and given.logbook is not None:
        raise UsageError("a logbook and tables are both named", where="--logbook", fix="name one")
    if given.captures is not None and given.callouts is None:
        raise UsageError("captures alone are no calls", where="--callouts", fix="name the table of callouts")
    return open_book(given.tables) if given.tables else open_logged(given.log.where)
