"""``tussock log photo`` and ``photos``: what is attached to entries, and copies to share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli import show
from tussock.cli.failures import say
from tussock.cli.log_job import LogOptions, kind_named, reading, writing
from tussock.cli.printable import printable
from tussock.errors import Faults, InputError

if TYPE_CHECKING:
    from tussock.records.logbook import Logbook


def run_photo(options: LogOptions, key: tuple[str, str], file: Path) -> int:
    """Attach a photo to an entry.

    Raises
    ------
    InputError
        Where there is no such entry or file, or the entry has another photo of that name.
    """
    kind, by, at = kind_named(key[0]), options.who(), options.clock()
    with writing(options, create=False) as logbook:
        kept = logbook.attach(kind, key[1], file, by=by, at=at)
        where = logbook.database.where
    say(f"Attached: {kept.name} to {kind} {key[1]}, SHA-256 {kept.sha256}, in {where}")
    return 0


def run_photos(options: LogOptions, among: Iterable[Path]) -> int:
    """Print what is attached, and how each file is found; return 1 where one is changed or missing."""
    from tussock.records.photos import Found, look_for

    lines, wanting = [], 0
    with reading(options) as logbook:
        folders = _folders(logbook, among)
        for (kind, name), photo in logbook.all_photos():
            found, place = look_for(photo, folders)
            wanting += found is not Found.THERE
            last = place or photo.path or "nobody wrote down where it was"
            lines.append(f"{kind} {name}: {photo.name}, {found} ({last})")
    show.data(printable("\n".join(lines) or "No photo."))
    if wanting:
        say(f"{wanting} of {len(lines)} are changed or missing: bring them back, or name their folder (--in)")
    return int(bool(wanting))


def _folders(logbook: Logbook, among: Iterable[Path]) -> tuple[Path, ...]:
    return (logbook.folder or Path(), *among)


@dataclass(frozen=True)
class Copies:
    """Copies of photos to be shared: where each goes → what is in it; and what they are made from."""

    files: Mapping[Path, bytes] = field(default_factory=dict)
    sources: tuple[Path, ...] = ()
    kept_back: int = 0

    @property
    def said(self) -> str:
        """What there is to say of them."""
        if not (self.files or self.kept_back):
            return ""
        one = len(self.files) == 1
        none = "is no picture and stays" if self.kept_back == 1 else "are no pictures and stay"
        back = f"; {self.kept_back} attached file{'' if self.kept_back == 1 else 's'} {none} here"
        photos = f", {len(self.files)} photo{'' if one else 's'} as pixels alone, without place or time"
        return photos + (back if self.kept_back else "")


def copies(logbook: Logbook, kind: str, folder: Path) -> Copies:
    """Return copies of the photos of a kind of entries; their names say the entry, not the file.

    Raises
    ------
    InputError
        Listing every photo that is changed or missing, or cannot be read as a picture.
    """
    from tussock.records.photos import Found, look_for
    from tussock.records.pixels import pixels_alone

    made: dict[Path, bytes] = {}
    faults, sources, kept_back = Faults(), [], 0
    for (of, name), photo in logbook.all_photos():
        if of != kind or not photo.is_picture:
            kept_back += of == kind
            continue
        found, place = look_for(photo, _folders(logbook, ()))
        if found is not Found.THERE or place is None:
            where, fix = f"{kind} {name[:40]}, {photo.name}", "bring it back, or leave --photos out"
            faults.add(f"the photo is {found}", where=where, allowed="the file as it was attached", fix=fix)
            continue
        try:
            made[_target(folder, f"{kind}-{name}", made)] = pixels_alone(place)
        except InputError as error:
            faults.take(error)
        sources.append(place)
    faults.raise_if_any()
    return Copies(made, tuple(sources), kept_back)


def _target(folder: Path, name: str, taken: Mapping[Path, bytes]) -> Path:
    """Return where the next copy of an entry's photos goes: ``capture-C-1-2.jpg``."""
    from tussock.records.pixels import END

    plain = "".join(c if c.isalnum() or c in "-_" else "-" for c in name)[:80]
    known = {p.name.lower() for p in taken}
    number = 1
    while f"{plain}-{number}{END}".lower() in known:
        number += 1
    return folder / f"{plain}-{number}{END}"
