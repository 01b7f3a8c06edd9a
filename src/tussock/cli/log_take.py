"""``tussock log take``: a check at the spot into the book."""

from __future__ import annotations

from pathlib import Path

from tussock.cli.failures import say
from tussock.cli.log_job import LogOptions, writing
from tussock.errors import together
from tussock.records.spot_entry import photo_in, read_check


def run_take(options: LogOptions, file: Path, *, capture_id: str) -> int:
    """Log a check at the spot, and attach its file, and its photo where that is found.

    The entry holds what the file says and its SHA-256; attached, the file itself is looked after like a
    photo: where it was, who brought it in, and whether it is still the same.

    Raises
    ------
    InputError
        When the file is no check, or its capture is not in the book.
    """
    by, at = options.who(), options.clock()
    entry = read_check(file, capture_id=capture_id)
    faults = options.checker().faults_of(entry.kind, entry.cells, where=entry.where)
    if faults:
        raise together(faults)
    photo = photo_in(file, entry)
    with writing(options) as logbook:
        done = logbook.write([entry], by=by, at=at)
        for path in (file, *((photo,) if photo else ())):
            logbook.attach(entry.kind, entry.id, path, by=by, at=at)
        where = logbook.database.where
    say(f"{'Logged' if done.added else 'Nothing new'}: {entry.kind} {entry.id}, in {where}")
    if photo is None and entry.get("associatedMedia"):
        say("Its photo was not found as it was: attach it with tussock log photo when you have it.")
    return 0
