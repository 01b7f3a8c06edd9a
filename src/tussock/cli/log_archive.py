"""``tussock log export --format dwca``: captures as a Darwin Core Archive, to be passed on."""

from __future__ import annotations

import re
import zipfile
from dataclasses import dataclass, replace
from pathlib import Path

from tussock.cli.failures import say, written
from tussock.cli.log_job import LogOptions, reading
from tussock.clock import local_date
from tussock.errors import InputError, UsageError
from tussock.files import Outbox
from tussock.permit.permit_file import Permit, read_permit
from tussock.records.darwin_core import TERMS, Dataset, archive, dataset_of
from tussock.records.entries import CAPTURE
from tussock.records.finished_workbook import FIRST_ZIP_DATE
from tussock.records.sensitivity import read_sensitivity
from tussock.records.typed import Reader
from tussock.species.profiles import load_profiles

_COUNTRY = re.compile("[A-Z]{2}")


@dataclass(frozen=True)
class ArchiveOptions:
    """What is said of the archive; ``None`` where not given."""

    permit: Path | None = None
    sensitivity: Path | None = None
    licence: str | None = None
    title: str | None = None
    country: str | None = None

    @property
    def given(self) -> tuple[str, ...]:
        """The options that were given."""
        return tuple(f"--{name}" for name, value in vars(self).items() if value is not None)


def run_archive(options: LogOptions, about: ArchiveOptions, *, kind: str, out: Path, force: bool) -> int:
    """Write the captures of the logbook as a Darwin Core Archive.

    Raises
    ------
    UsageError
        For another kind of entries, and without a permit, whose holder and number the archive names.
    InputError
        When a file cannot be used, or something is in the way.
    """
    if kind != CAPTURE:
        raise UsageError(f"an archive holds captures, no {kind}s", where="--kind", fix="leave it out")
    path = _permit_path(options, about)
    dataset = _dataset(read_permit(path), options, about)
    sensitivity = read_sensitivity(about.sensitivity)
    reader = Reader(species=load_profiles(options.profiles or options.settings.defaults.get("profiles")))
    with reading(options) as logbook:
        captures = reader.captures(logbook.entries(CAPTURE))
        where = logbook.database.where
    reader.done()
    if not captures:
        raise InputError("no capture", where=where, fix="log or import captures first")
    inputs = [p for p in (Path(options.where), path, about.sensitivity) if p is not None and p.exists()]
    with Outbox(is_archive, force=force, inputs=inputs) as outbox:
        outbox.check([out])
        outbox.stage(out, archive(captures, dataset=dataset, sensitivity=sensitivity))
        written(outbox.send())
    say(f"{len(captures)} captures, their places generalised; see dataGeneralizations in each row")
    return 0


def _permit_path(options: LogOptions, about: ArchiveOptions) -> Path:
    """Return the permit whose book it is: the one given, or the only one of tussock.toml."""
    said = options.settings.defaults.get("permit")
    listed = said if isinstance(said, tuple) else (said,)
    path: Path | None = about.permit or (listed[0] if len(listed) == 1 else None)
    if path is None:
        fix = "name the permit file, here or in tussock.toml: the archive names its holder and number"
        raise UsageError("no permit is named", where="--permit", fix=fix)
    return path


def _dataset(permit: Permit, options: LogOptions, about: ArchiveOptions) -> Dataset:
    country = (about.country or "").upper()
    if country and not _COUNTRY.fullmatch(country):
        found, allowed = f"'{country[:20]}' is no country", "two letters of ISO 3166, such as AU"
        raise UsageError(found, where="--country", allowed=allowed)
    on = local_date(options.clock(), permit.zone)
    made = dataset_of(permit, on=on, licence=(about.licence or "").strip(), country=country)
    return replace(made, title=about.title.strip()) if about.title and about.title.strip() else made


def is_archive(path: Path) -> bool:
    """Return whether Tussock wrote an archive: its parts, their time, and the columns it begins with."""
    try:
        with zipfile.ZipFile(path) as parts:
            ours = [(p.filename, p.date_time) for p in parts.infolist()] == [
                (name, FIRST_ZIP_DATE) for name in ("eml.xml", "meta.xml", "occurrence.txt")
            ]
            return ours and parts.read("occurrence.txt").startswith("\t".join(TERMS).encode() + b"\n")
    except (OSError, ValueError, KeyError, zipfile.BadZipFile):
        return False
