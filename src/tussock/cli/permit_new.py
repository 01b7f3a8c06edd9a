"""The dialogue of ``tussock permit new`` on a terminal, and its file: nothing lost, nothing half-written."""

from __future__ import annotations

import io
import shutil
import signal
import sys
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType

from tussock.cli import terminal
from tussock.cli.failures import INTERRUPTED, say
from tussock.cli.printable import printable
from tussock.ending import forget
from tussock.errors import InputError, UsageError
from tussock.files import Outbox
from tussock.permit.asking.draft import Draft
from tussock.permit.asking.session import begin, resume
from tussock.permit.asking.talk import EndedError
from tussock.permit.permit_file import Permit, permit_of, read_permit
from tussock.permit.toml_file import read_toml
from tussock.permit.writing import MARK, permit_text

_ATTENTION = 1
_HANGUP = 129
"""Exit code when the terminal goes away (128 + SIGHUP, as shells have it)."""


class TerminalTalk:
    """Asks on stderr, reads stdin."""

    def say(self, text: str) -> None:
        """Show a text, broken where the terminal ends."""
        with _ended_where_gone():
            say("\n".join(_broken(text)))

    def ask(self, prompt: str) -> str:
        """Return the line typed; raise EndedError when there will be no more."""
        self.say(f"\n{prompt}")
        with _ended_where_gone():
            print("> ", end="", file=sys.stderr, flush=True)
            line = sys.stdin.readline()
        if not line:
            raise EndedError
        return line.strip()


@contextmanager
def _ended_where_gone() -> Iterator[None]:
    """Within it, a terminal that has gone away is the end of the answers."""
    try:
        yield
    except OSError:
        raise EndedError from None


def _broken(text: str) -> Iterator[str]:
    columns = max(40, min(100, shutil.get_terminal_size((80, 24)).columns))
    for line in text.split("\n"):
        hang = len(line) - len(line.lstrip()) + (4 if line.startswith("  ") else 0)
        wrapped = textwrap.wrap(
            line, columns, subsequent_indent=" " * hang, replace_whitespace=False, break_on_hyphens=False
        )
        yield from [line] if len(line) <= columns else wrapped


def new_permit(file: Path, *, force: bool) -> tuple[Permit | None, int]:
    """Ask for a permit and write it; return it as read back, and the exit code so far.

    Raises
    ------
    UsageError
        When there is nobody to ask.
    InputError
        When the file may not be written, or what is there cannot be used.
    """
    if not terminal.interactive():
        raise UsageError(
            "there is no terminal to ask on",
            where="permit new",
            fix="run it on a terminal, or copy data-demo/permit.toml and change it",
        )
    before, draft = _opened(file, force=force)
    ask: Callable[[TerminalTalk, Draft], None] = resume if draft.savable else begin
    _read_any_text()
    code = 0
    try:
        with _hangups_noticed():
            ask(TerminalTalk(), draft)
    except EndedError:
        _tell("\nThe answers ended.")
        code = _ATTENTION
    except KeyboardInterrupt:
        _tell("\nInterrupted.")
        code = INTERRUPTED
    except BaseException:  # asked to end, or a fault of ours: finished clauses are kept all the same
        _write(file, draft, before=before, force=force)
        raise
    return _write(file, draft, before=before, force=force), code


def _opened(file: Path, *, force: bool) -> tuple[str, Draft]:
    """Return the text of the file so far and what it holds; both empty where a new one begins."""
    with Outbox(lambda _: True) as outbox:  # what no --force can help
        outbox.check([file])
    if not file.exists():
        return "", Draft()
    if not force and not _ours(file):
        raise InputError(
            "a file is there that tussock permit new did not write",
            where=str(file),
            fix="name another file, or add --force to add to it; its comments stay",
        )
    try:
        read_permit(file)
    except InputError:
        if not force:
            raise
        say(f"{file} is no permit file; it is replaced at the end.")
        return "", Draft()
    return file.read_bytes().decode("utf-8-sig"), Draft(read_toml(file))


def _ours(file: Path) -> bool:
    try:
        with file.open("rb") as stream:
            return stream.read(len(MARK) + 3).decode("utf-8-sig", "replace").startswith(MARK)
    except OSError:
        return False


def _tell(text: str) -> None:
    """Print talk where there still is a terminal to print on."""
    with suppress(OSError):
        say(text)


def _write(file: Path, draft: Draft, *, before: str, force: bool) -> Permit | None:
    """Write what is finished and return it as read back; ``None`` where nothing is."""
    forget()  # a request to end has ended the dialogue: it is heeded, and what is finished is kept
    if not draft.savable:
        _tell("Nothing was written: the head and the dates of a version were not complete.")
        return None
    text = permit_text(draft.raw, before=before)
    if text == before:
        _tell(f"{file}: nothing was changed.")
        return read_permit(file)
    try:
        _replace(file, text, before=before, force=force)
    except InputError:
        _tell("What you typed, so that it is not lost:")
        sys.stdout.write(printable(text))
        raise
    count = sum(len(v.get("conditions", ())) for v in draft.versions)
    clauses = f"{count} clause{'' if count == 1 else 's'}"
    _tell(f"\nWritten: {file} ({clauses}). To add or change: tussock permit new {file}")
    return read_permit(file)


def _replace(file: Path, text: str, *, before: str, force: bool) -> None:
    """Put the text in the file's place, if that is still as it was read."""
    import tomllib

    permit_of(tomllib.loads(text), file=file.name)  # what cannot be read back is not written
    if before and file.read_bytes().decode("utf-8-sig") != before:
        raise InputError(
            "it was changed while you answered", where=str(file), fix="put what follows into it by hand"
        )
    with Outbox(_ours, force=force) as outbox:
        outbox.stage(file, text)
        outbox.send()


def _read_any_text() -> None:
    """Let bytes that are no UTF-8 through as characters that the reader of permits refuses."""
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(encoding="utf-8", errors="surrogateescape")


@contextmanager
def _hangups_noticed() -> Iterator[None]:
    """Within it, a terminal that goes away ends the dialogue in good order."""
    number = getattr(signal, "SIGHUP", None)
    if number is None:
        yield
        return
    was = signal.signal(number, _hung_up)
    try:
        yield
    finally:
        signal.signal(number, was)


def _hung_up(number: int, frame: FrameType | None) -> None:
    raise SystemExit(_HANGUP)
