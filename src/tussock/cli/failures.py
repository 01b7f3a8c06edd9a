"""The one place where whatever goes wrong becomes a message and an exit code."""

from __future__ import annotations

import os
import signal
import sys
import threading
import traceback
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from tussock import ending
from tussock.cli.printable import printable
from tussock.errors import TussockError

INTERRUPTED = 130
"""Exit code after Ctrl-C (128 + SIGINT, as shells have it)."""
TERMINATED = 143
"""Exit code after a request to end (128 + SIGTERM)."""
PIPE_CLOSED = 141
"""Exit code when the reader of our output went away (128 + SIGPIPE)."""
INTERNAL = 70
"""Exit code of a fault of Tussock itself (EX_SOFTWARE of sysexits.h, from memory)."""
TRACE = "TUSSOCK_TRACE"


class PipeClosedError(Exception):
    """The reader of our output went away; typer would take the system's own error for exit 1."""


@contextmanager
def piped() -> Iterator[None]:
    """Print within it: a reader that went away is no error of ours."""
    try:
        yield
    except BrokenPipeError:
        raise PipeClosedError from None


def guarded(work: Callable[[], int]) -> int:
    """Return the exit code of the work; every exception is told on stderr, none as a traceback.

    With TUSSOCK_TRACE=1 in the environment the traceback of an internal error is printed too.
    """
    ending.forget()
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, _terminated)
        if (
            signal.getsignal(signal.SIGINT) is signal.default_int_handler
        ):  # else whoever started us ignores it
            signal.signal(signal.SIGINT, _interrupted)
    if not tracing() and not sys.warnoptions:
        warnings.simplefilter("ignore")  # notes of libraries to programmers; ours go to stderr in words
    try:
        _speak_utf8()
        code = work()
        ending.heed()
        sys.stdout.flush()
    except (BrokenPipeError, PipeClosedError):
        _drop_output()
        return PIPE_CLOSED
    except KeyboardInterrupt:
        return INTERRUPTED
    except TussockError as error:
        return told(error)
    except MemoryError:
        say("Not enough memory. Do: choose a larger cell_m in region.toml, or a smaller region.")
        return INTERNAL
    except Exception as error:
        return _internal(error)
    return code


def told(error: TussockError) -> int:
    """Print an error on stderr; return its exit code."""
    say(f"Error: {error.text()}")
    return error.exit_code


def say(text: str) -> None:
    """Print talk on stderr."""
    with piped():
        print(printable(text), file=sys.stderr, flush=True)


def written(paths: tuple[Path, ...]) -> None:
    """Say which files were written."""
    for path in paths:
        say(f"Written: {path}")


def tracing() -> bool:
    """Return whether the user asked for tracebacks."""
    return os.environ.get(TRACE, "") not in ("", "0")


def _internal(error: Exception) -> int:
    from tussock import __version__

    if tracing():
        traceback.print_exception(error)
    last = traceback.extract_tb(error.__traceback__)[-1:]
    place = "".join(f", in {f.name}, line {f.lineno} of {Path(f.filename).name}" for f in last)
    say(
        f"Internal error of Tussock {__version__}: {type(error).__name__}{place}.\n"
        f"Do: report it with the command you gave. With {TRACE}=1 the trace is printed too; take names and "
        "coordinates out of it first. Files are written whole or not at all."
    )
    return INTERNAL


def _terminated(number: int, frame: FrameType | None) -> None:
    raise ending.note(lambda: SystemExit(TERMINATED))  # so that files half made are taken away


def _interrupted(number: int, frame: FrameType | None) -> None:
    raise ending.note(KeyboardInterrupt)


def _speak_utf8() -> None:
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="backslashreplace")


def _drop_output() -> None:
    """Point stdout at nothing, so that the interpreter does not complain about the closed pipe at its end."""
    with open(os.devnull, "w") as nothing:  # noqa: PTH123 - a device, no path of ours
        os.dup2(nothing.fileno(), sys.stdout.fileno())
