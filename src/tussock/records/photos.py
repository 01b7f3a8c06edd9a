"""Photos, and other files that go with an entry: kept by reference, known again by their SHA-256."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path

import sqlalchemy as sa

from tussock.errors import InputError
from tussock.records.schema import entries, photos
from tussock.records.states import Key, instant, word

PICTURES = frozenset((".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".bmp", ".heic", ".heif"))
"""Ends of names of files that are pictures."""


@dataclass(frozen=True)
class Photo:
    """A file that goes with an entry.

    Attributes
    ----------
    path
        Where it was when it was attached, from the folder of the logbook; never given away. Empty where it
        is not known, as ``at`` and ``by`` are of photos that an older Tussock attached.
    """

    name: str
    sha256: str
    path: str = ""
    at: datetime | None = None
    by: str = ""

    @property
    def is_picture(self) -> bool:
        """Whether it is one, by the end of its name."""
        return Path(self.name).suffix.lower() in PICTURES


class Found(StrEnum):
    """How a file was found."""

    THERE = "there"
    CHANGED = "changed: it is not the file that was attached"
    MISSING = "missing"


def photo_of(path: Path, folder: Path | None, *, by: str, at: datetime) -> Photo:
    """Return the reference to a file.

    Parameters
    ----------
    folder
        That of the logbook; ``None`` where it is on a server.

    Raises
    ------
    InputError
        Where the file cannot be read.
    """
    instant(at)  # refuses a time without a zone
    name, whole = word(path.name, what="the photo's name"), path.absolute()
    inside = folder is not None and whole.is_relative_to(folder)
    kept = whole.relative_to(folder) if folder is not None and inside else whole
    who = word(by, what="the name of who writes")
    return Photo(name, digest_of(path), word(kept.as_posix(), what="the photo's folder"), at, who)


def attach(connection: sa.Connection, row: int, photo: Photo, *, key: Key) -> Photo:
    """Note a file beside an entry, and return it; the same name and content again change nothing.

    Raises
    ------
    InputError
        Where another file of that name is there.
    """
    others = {p.name: p for p in photos_of(connection, row)}
    there = others.get(photo.name)
    if there is None:
        assert photo.at is not None  # made by photo_of
        cells = {"path": photo.path, "at": instant(photo.at), "by": photo.by}
        named = {"entry": row, "name": photo.name, "sha256": photo.sha256}
        connection.execute(photos.insert(), [named | cells])
    elif there.sha256 != photo.sha256:
        found = f"another photo of that name goes with {key[0]} '{key[1][:40]}'"
        fix = "give the file a name of its own"
        raise InputError(found, where=photo.path, allowed="each name once", fix=fix)
    return there or photo


def photos_of(connection: sa.Connection, row: int) -> tuple[Photo, ...]:
    """Return the files of an entry by name."""
    asked = sa.select(photos).where(photos.c.entry == row)
    return tuple(sorted((_photo(r) for r in connection.execute(asked)), key=lambda p: p.name))


def all_photos(connection: sa.Connection) -> tuple[tuple[Key, Photo], ...]:
    """Return every file with the entry that it goes with, by kind, id and name."""
    asked = sa.select(photos, entries.c.kind, entries.c.id).join_from(
        photos, entries, photos.c.entry == entries.c.row
    )
    listed = [((r.kind, r.id), _photo(r)) for r in connection.execute(asked)]
    return tuple(sorted(listed, key=lambda pair: (pair[0], pair[1].name)))


def _photo(row: sa.Row[tuple[object, ...]]) -> Photo:
    at = datetime.fromisoformat(row.at) if row.at else None
    return Photo(row.name, row.sha256, row.path or "", at, row.by or "")


def look_for(photo: Photo, folders: Iterable[Path]) -> tuple[Found, Path | None]:
    """Return how a file is found, and where.

    Parameters
    ----------
    folders
        Where it is looked for, by its path and by its name alone: that of the logbook, and others.
    """
    changed: Path | None = None
    for place in (folder / name for folder in folders for name in (photo.path, photo.name) if name):
        if not place.is_file():
            continue
        if digest_of(place) == photo.sha256:
            return Found.THERE, place
        changed = changed or place
    return (Found.MISSING, None) if changed is None else (Found.CHANGED, changed)


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file.

    Raises
    ------
    InputError
        Where it cannot be read.
    """
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte in it
        found = f"it cannot be read ({getattr(error, 'strerror', None) or error})"
        raise InputError(found, where=str(path), allowed="a photo's file", fix="check the name") from error
