"""The options of ``tussock hotspots``, and what is asked of the calls by them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli.log_job import LogOptions
from tussock.cli.options import Format, is_folder
from tussock.cli.settings import read_settings
from tussock.clock import parse_date, parse_zone
from tussock.errors import InputError, UsageError
from tussock.hotspots.found import Asked
from tussock.hotspots.supplied_file import UnitsFile
from tussock.maps.hotspots_files import FILES
from tussock.position import position_from_text
from tussock.records.entries import CALLOUT, CAPTURE, DISPOSAL

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class HotspotsOptions:
    """The options of ``tussock hotspots``; ``None`` where not given."""

    observed: str
    logbook: str | None = None
    callouts: Path | None = None
    captures: Path | None = None
    releases: Path | None = None
    region: Path | None = None
    timezone: str | None = None
    base: str | None = None
    standby: int = 0
    units: str | None = None
    units_name: str | None = None
    surface: bool = False
    replicates: int = 999
    seed: int = 1
    public: int | None = None
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
        named = {CALLOUT: self.callouts, CAPTURE: self.captures, DISPOSAL: self.releases}
        return {kind: path for kind, path in named.items() if path is not None}

    @property
    def books(self) -> tuple[Path, ...]:
        """The files that the calls are read from: the tables, or the logbook where it is a file."""
        if self.tables:
            return tuple(self.tables.values())
        where = self.log.where
        return () if "://" in where else (Path(where),)

    @property
    def units_file(self) -> UnitsFile | None:
        """The file of areas to count in.

        Raises
        ------
        UsageError
            When it is named in part.
        """
        if self.units is None:
            if self.units_name is not None:
                fix = "name the file of areas: --units FILE"
                raise UsageError("no file of areas is named", where="--units-name", fix=fix)
            return None
        if not self.units.strip():
            fix = "name the file of areas"
            raise UsageError("it is empty", where="--units", allowed="FILE or FILE:LAYER", fix=fix)
        return UnitsFile.named(self.units, name_field=self.units_name)

    def targets(self) -> tuple[Path, ...]:
        """Return every file that will be written.

        Raises
        ------
        UsageError
            When the name is none.
        """
        if self.out is None:
            return ()
        if self.out.name in ("", "..") or is_folder(self.out):
            fix = f"give a name in it, such as {self.out / 'where'}"
            raise UsageError("it is a folder", where=f"--out {self.out}", fix=fix)
        return tuple(self.out.with_name(self.out.name + end) for end in FILES)

    def folder(self) -> Path:
        """Return the folder of the region.

        Raises
        ------
        UsageError
            When none is named.
        """
        folder = self.region or read_settings(Path()).defaults.get("region")
        if not isinstance(folder, Path):
            raise UsageError("no region is named", where="--region", fix="name the folder of the ground data")
        return folder


def asked(given: HotspotsOptions) -> Asked:
    """Return what is asked, all but the areas, which need the region to be read.

    Raises
    ------
    UsageError
        When the time observed, the zone, the clock or the base is none.
    """
    first, last = _days(given.observed)
    zone, words = zone_of(given.timezone)
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
        surface=given.surface,
        seed=given.seed,
        replicates=given.replicates,
    )


def _days(text: str) -> tuple[date, date]:
    where, allowed = "--observed", "two dates, such as 2025-09-01..2026-05-31"
    one, dots, other = text.partition("..")
    if not dots:
        fix = "state from when to when the book was kept"
        raise UsageError(f"'{text[:40]}'", where=where, allowed=allowed, fix=fix)
    try:
        first, last = parse_date(one, where=where), parse_date(other, where=where)
    except InputError as error:
        fix = error.fix or "write both days so"
        raise UsageError(error.found, where=where, allowed=allowed, fix=fix) from None
    if last < first:
        raise UsageError(f"{last} is before {first}", where=where, allowed=allowed, fix="swap them")
    return first, last


def zone_of(timezone: str | None) -> tuple[ZoneInfo, str]:
    """Return the district's time zone and where it is from: the option, or the permit of tussock.toml.

    Raises
    ------
    UsageError
        When it is none, or none is named.
    """
    if timezone is not None:
        try:
            return parse_zone(timezone, where="--timezone"), ""
        except InputError as error:
            raise UsageError(error.found, where="--timezone", allowed=error.allowed, fix=error.fix) from None
    said = read_settings(Path()).defaults.get("permit")
    listed = said if isinstance(said, tuple) else (said,)
    if not listed or listed[0] is None:
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
