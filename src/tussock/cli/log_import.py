"""``tussock log import``: tables into the book."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli.failures import say, written
from tussock.cli.log_job import LogOptions, kind_named, writing
from tussock.files import Outbox
from tussock.records.columns import Near, refuse_near
from tussock.records.entries import Entry
from tussock.records.importing import Imported, import_sheet, read_entries, refused_csv, refused_path
from tussock.records.tabled import Refused, Sheet
from tussock.records.times import RELATED, doubts
from tussock.species.profiles import load_profiles

if TYPE_CHECKING:
    from tussock.records.logbook import Logbook

_MOST_DOUBTS = 20
"""So many are printed; the audit has them all."""


def run_import(
    options: LogOptions,
    file: Path,
    *,
    kind: str | None,
    keep_good: bool,
    own_columns: bool = False,
    force: bool = False,
) -> int:
    """Import a table.

    The refused rows are written before the good ones are in the book, and take their place after: a row
    is in one of the two, or still in its file.

    Raises
    ------
    InputError
        Listing every refused row with everything that is wrong with it, where none is taken.
    """
    by, at = options.who(), options.clock()
    species = load_profiles(options.profiles or options.settings.defaults.get("profiles"))
    sheet = read_entries(file, kind_named(kind) if kind else "", species=species)
    near = refuse_near(sheet.kind, sheet.columns, where=sheet.path.name, keep=own_columns)
    beside = refused_path(sheet.path)
    made = ""

    def is_ours(path: Path) -> bool:  # a file that was corrected since is not written over
        return path.is_file() and path.read_bytes() == made.encode("utf-8")

    def put_aside(refused: Sequence[Refused]) -> None:
        nonlocal made
        made = refused_csv(sheet, refused)
        outbox.check([beside])
        outbox.stage(beside, made)

    with writing(options) as logbook, Outbox(is_ours, force=force, inputs=[file]) as outbox:
        done = import_sheet(logbook, sheet, by=by, at=at, keep_good=keep_good, aside=put_aside)
        paths, where = outbox.send(), logbook.database.where
        doubtful = doubts(done.added, related(logbook, sheet.kind))
    _tell(done, sheet, where)
    tell_near(near)
    tell_doubts(doubtful)
    written(paths)
    return int(bool(done.refused))


def related(logbook: Logbook, kind: str) -> Iterator[Entry]:
    """Yield the entries that those of a kind are compared with."""
    for other in RELATED.get(kind, ()):
        yield from logbook.entries(other)


def tell_doubts(words: Sequence[str]) -> None:
    """Say what cannot be true, of many the first."""
    for one in words[:_MOST_DOUBTS]:
        say(f"Note: {one}.".replace("?.", "?"))
    if (more := len(words) - _MOST_DOUBTS) > 0:
        say(f"Note: and {more} more of the kind; tussock audit lists them.")


def tell_near(near: Iterable[Near]) -> None:
    """Say which columns were kept though they are nearly known ones."""
    for one in near:
        say(f"Note: {one.words}: it is kept as your own.")


def _tell(done: Imported, sheet: Sheet, where: str) -> None:
    since = f" ({len(done.amended_since)} as logged, amended since)" if done.amended_since else ""
    parts = (
        f"{len(done.added)} added, {len(done.unchanged)} there already{since}, {len(done.refused)} refused"
    )
    say(f"{sheet.path.name}: {done.read} rows of {sheet.kind}s read: {parts}. Logbook: {where}")
