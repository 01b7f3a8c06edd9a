"""``tussock log export``: entries and their photos out of the book, for others to use."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from tussock.cli import show
from tussock.cli.failures import say, written
from tussock.cli.log_archive import ArchiveOptions, run_archive
from tussock.cli.log_job import LogOptions, kind_named, reading
from tussock.cli.log_photos import Copies, copies
from tussock.errors import UsageError
from tussock.files import Outbox
from tussock.records import exporting
from tussock.records.entries import CAPTURE

_DWCA = "dwca"
_ENDS = {"xlsx": "xlsx", "gpkg": "gpkg", _DWCA: "zip"}
"""Format that needs a file → end of its name."""


@dataclass(frozen=True)
class Export:
    """What is to be exported, and where to; ``None`` where not given."""

    kind: str | None
    output: str = "csv"
    out: Path | None = None
    photos: Path | None = None
    about: ArchiveOptions = field(default_factory=ArchiveOptions)
    force: bool = False


def run_export(options: LogOptions, asked: Export) -> int:
    """Export the entries of a kind.

    Raises
    ------
    UsageError
        When no kind is named, a file that is needed is not, or an option is of another format.
    """
    kind = _kind(asked)
    _check(asked, kind)
    if asked.output == _DWCA:
        assert asked.out is not None  # checked
        return run_archive(options, asked.about, kind=kind, out=asked.out, force=asked.force)
    with reading(options) as logbook:
        entries = logbook.entries(kind)
        shared = copies(logbook, kind, asked.photos) if asked.photos else Copies()
    content = exporting.FORMATS[asked.output](kind, entries)
    files = dict(shared.files) if asked.out is None else {asked.out: content, **shared.files}
    inputs = [p for p in (Path(options.where), *shared.sources) if p.exists()]

    def is_ours(path: Path) -> bool:  # a copy of a photo bears no mark: it is ours where it would be the same
        return exporting.is_ours(path) or (path in shared.files and path.read_bytes() == shared.files[path])

    with Outbox(is_ours, force=asked.force, inputs=inputs) as outbox:
        outbox.check(files)
        for target, whole in files.items():
            outbox.stage(target, whole)
        sent = outbox.send()
    if asked.out is None:
        assert isinstance(content, str)  # the others need a file
        show.data(content)
    written(sent)
    say(f"{len(entries)} {kind}s{shared.said}")
    return 0


def _kind(asked: Export) -> str:
    if asked.kind is not None:
        return kind_named(asked.kind)
    if asked.output != _DWCA:
        raise UsageError("no kind of entries is named", where="--kind", fix="name it, such as capture")
    return CAPTURE


def _check(asked: Export, kind: str) -> None:
    if asked.output != _DWCA and asked.about.given:
        fix = "leave it out, or add --format dwca"
        raise UsageError("it goes with an archive alone", where=", ".join(asked.about.given), fix=fix)
    if asked.photos is not None and asked.output == _DWCA:
        fix = "export captures in another format, or leave it out"
        raise UsageError("an archive goes without photos", where="--photos", fix=fix)
    if asked.out is None and asked.output in _ENDS:
        fix = f"name the file, such as {kind}s.{_ENDS[asked.output]}"
        raise UsageError("no file is named", where="--out", fix=fix)
