"""Files written whole or not at all, and never over anything that is not our own."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Callable, Container, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType

from tussock.ending import heed
from tussock.errors import Faults, InputError


@dataclass
class Outbox:
    """Collects outputs beside their targets; they take their places together, or none does.

    Use it as a context: what was not sent when the context ends leaves no trace.

    Parameters
    ----------
    ours
        Whether an existing file is one that Tussock wrote.
    force
        Replace other files too; an input or a folder is never replaced.
    inputs
        Files that the work reads.
    """

    ours: Callable[[Path], bool]
    force: bool = False
    inputs: Iterable[Path] = ()
    _staged: list[tuple[Path, Path]] = field(default_factory=list)

    def __enter__(self) -> Outbox:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for temporary, _ in self._staged:
            temporary.unlink(missing_ok=True)
        self._staged.clear()

    def check(self, targets: Iterable[Path]) -> None:
        """Refuse targets that may not be written.

        Raises
        ------
        InputError
            Listing every file or folder in the way, and every target that is one of the inputs.
        """
        read = {p.resolve() for p in self.inputs}
        faults = Faults()
        for target in targets:
            with _told(target):
                self._check(target, read, faults)
        faults.raise_if_any()

    def _check(self, target: Path, read: Container[Path], faults: Faults) -> None:
        where = str(target)
        if target.resolve() in read:
            faults.add("it is one of the inputs", where=where, fix="choose another --out")
        elif target.is_dir():
            faults.add("a folder is in the way", where=where, fix="choose another --out, or move it")
        elif target.exists() and not self.force and not self.ours(target):
            fix = "choose another --out, move the file, or add --force to replace it"
            faults.add("a file is in the way that Tussock did not write", where=where, fix=fix)
        elif not _can_hold(target.parent):
            faults.add(
                "a file is in the way of the folder", where=str(target.parent), fix="choose another --out"
            )

    def stage(self, target: Path, content: str | bytes) -> None:
        """Write a text, or bytes, beside its target, under a name of its own.

        Raises
        ------
        InputError
            When it cannot be written there.
        """
        heed()
        temporary = target.with_name(f".tussock-{secrets.token_hex(8)}.tmp")
        with _told(target):
            target.parent.mkdir(parents=True, exist_ok=True)
            self._staged.append((temporary, target))
            temporary.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)

    def send(self) -> tuple[Path, ...]:
        """Put every staged file in its place; return the places.

        When one cannot be placed, those placed before it are taken back and what stood there returns.

        Raises
        ------
        InputError
            When something has come into the way, or a file cannot be placed.
        """
        heed()
        self.check(target for _, target in self._staged)
        placed: list[tuple[Path, Path | None]] = []
        try:
            for temporary, target in self._staged:
                with _told(target):
                    placed.append((target, _set_aside(target)))
                    temporary.replace(target)
        except BaseException:
            for target, before in reversed(placed):
                _take_back(target, before)
            raise
        for _, before in placed:
            if before is not None:
                before.unlink(missing_ok=True)
        targets = tuple(target for _, target in self._staged)
        self._staged.clear()
        return targets


def _can_hold(folder: Path) -> bool:
    """Return whether the folder is there or can be made."""
    return folder.is_dir() or (not folder.exists() and (folder == folder.parent or _can_hold(folder.parent)))


def _set_aside(target: Path) -> Path | None:
    """Return a copy of what stands at the target; ``None`` when nothing does."""
    if not target.exists():
        return None
    copy = target.with_name(f".tussock-{secrets.token_hex(8)}.tmp")
    shutil.copy2(target, copy)
    return copy


def _take_back(target: Path, before: Path | None) -> None:
    if before is not None:
        before.replace(target)
    else:
        target.unlink(missing_ok=True)


@contextmanager
def _told(target: Path) -> Iterator[None]:
    """Turn what the system refuses into our own error."""
    try:
        yield
    except OSError as error:
        reason = os.strerror(error.errno) if error.errno else str(error)
        raise InputError(
            f"it cannot be written ({reason})", where=str(target), fix="choose another --out, or make room"
        ) from None
