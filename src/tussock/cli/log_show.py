"""``tussock log show`` and ``history``: the book on the terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

from tussock.cli import show
from tussock.cli.log_job import LogOptions, kind_named, reading
from tussock.cli.printable import printable
from tussock.errors import InputError
from tussock.records.entries import ID_COLUMN, KINDS, PARENT, Entry, Revision

if TYPE_CHECKING:
    from tussock.records.logbook import Logbook
    from tussock.records.photos import Photo

_IN_SHORT = ("eventDate", "validFrom", "cleanedDate", "scientificName", "vernacularName", "individualCount",
             "disposal", "outcome", "incident", "kind", "parcelID", "recordedBy")  # fmt: skip
"""Columns that say in a line what an entry is."""


_RETURNS = ("return", "returns")
"""What returns as they were filed are asked for by; they are no entries."""


def run_show(options: LogOptions, kind: str | None, name: str | None) -> int:
    """Print the book, a kind of entries or one of them, or the returns that were filed.

    Raises
    ------
    InputError
        Where there is no such entry.
    """
    with reading(options) as logbook:
        if kind is None:
            lines = list(_book(logbook))
        elif kind.strip().lower() in _RETURNS:
            lines = list(_returns(logbook, name))
        elif name is None:
            lines = [_in_short(e) for e in logbook.entries(kind_named(kind))]
        else:
            lines = list(_whole(logbook, kind_named(kind), name))
    show.data(printable("\n".join(lines) or "No entry."))
    return 0


def run_history(options: LogOptions, kind: str, name: str) -> int:
    """Print the states that an entry had.

    Raises
    ------
    InputError
        Where there is no such entry.
    """
    kind = kind_named(kind)
    with reading(options) as logbook:
        states, where = logbook.history(kind, name), logbook.database.where
    if not states:
        raise _none(where, kind, name)
    show.data(printable("\n".join(_states(states))))
    return 0


def _book(logbook: Logbook) -> Iterator[str]:
    counts = Counter(e.kind for e in logbook.entries())
    yield from (f"{counts[kind]:6} {kind}{'' if counts[kind] == 1 else 's'}" for kind in KINDS)
    yield f"{len(logbook.filings()):6} returns filed"


def _returns(logbook: Logbook, name: str | None) -> Iterator[str]:
    """Yield the returns filed, a line each, or the text of one as it was filed."""
    if name is None:
        yield from (f"{f.name}: filed {f.at.isoformat()} by {f.by}" for f in logbook.filings())
        return
    found = logbook.filed(name)
    if found is None:
        raise InputError(
            f"no return '{name[:40]}' is filed",
            where=logbook.database.where,
            allowed=", ".join(f.name for f in logbook.filings()) or "none is filed",
            fix="look it up with tussock log show return, or file it with tussock return --file",
        )
    yield f"{found.name}, filed {found.at.isoformat()} by {found.by}"
    yield found.text.rstrip("\n")


def _in_short(entry: Entry) -> str:
    said = [" ".join(entry.get(c).split()) for c in _IN_SHORT if entry.get(c)]
    return f"{entry.id}: {', '.join(said)}"


def _whole(logbook: Logbook, kind: str, name: str) -> Iterator[str]:
    entry = logbook.entry(kind, name)
    if entry is None:
        raise _none(logbook.database.where, kind, name)
    states = logbook.history(kind, name)
    yield f"{kind} {entry.id}, state {len(states)}"
    yield from (f"  {column}: {text}" for column, text in entry.cells.items())
    yield from (f"  {_attached(p)}" for p in logbook.photos(kind, name))
    for child in (k for k, above in PARENT.items() if above == kind):
        belonging = [e for e in logbook.entries(child) if e.parent == name]
        yield from (f"  {child} {_in_short(e)}" for e in belonging)


def _attached(photo: Photo) -> str:
    what = "photo" if photo.is_picture else "file"
    when = f", attached {photo.at.isoformat()} by {photo.by}" if photo.at else ""
    return f"{what} {photo.path or photo.name}{when}, SHA-256 {photo.sha256}"


def _none(where: str, kind: str, name: str) -> InputError:
    return InputError(
        f"no {kind} '{name[:40]}'",
        where=where,
        allowed=f"a {ID_COLUMN[kind]} that is there",
        fix=f"look it up with tussock log show {kind}",
    )


def _states(states: tuple[Revision, ...]) -> Iterator[str]:
    before: Entry | None = None
    for state in states:
        why = f": {state.why}" if state.why else ""
        yield f"{state.number}. {state.at.isoformat()} by {state.by}{why}"
        for column in dict.fromkeys([*(before.cells if before else ()), *state.entry.cells]):
            old, new = before.get(column) if before else "", state.entry.get(column)
            if old != new:
                yield (
                    f"   {column}: {_shown(new)}"
                    if before is None
                    else (f"   {column}: {_shown(old)} → {_shown(new)}")
                )
        before = state.entry


def _shown(text: str) -> str:
    return f"'{text}'" if text else "(empty)"
