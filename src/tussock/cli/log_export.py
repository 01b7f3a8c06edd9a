"""``tussock log export``: entries and their photos out of the book, for others to use."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from tussock.cli import show
from tussock.cli.failures import say
from tussock.cli.job import written
from tussock.cli.log_archive import ArchiveOptions, run_archive
from tussock.cli.log_job import LogOptions, kind_named, reading
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
    content = exporting.FORMATS[asked.output](kind, entries)
    if asked.out is None:
        assert isinstance(content, str)  # the others need a file
        show.data(content)
        return 0
    inputs = [p for p in (Path(options.where),) if p.exists()]
    with Outbox(exporting.is_ours, force=asked.force, inputs=inputs) as outbox:
        outbox.check([asked.out])
        outbox.stage(asked.out, content)
        written(outbox.send())
    say(f"{len(entries)} {kind}s")
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
    if asked.out is None and asked.output in _ENDS:
        fix = f"name the file, such as {kind}s.{_ENDS[asked.output]}"
        raise UsageError("no file is named", where="--out", fix=fix)
