"""The command line: parse, one call into the library, print."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; return its exit code.

    0 done; 1 done and something needs attention; 2 usage; 3 bad input; 4 data missing; 70 a fault of
    Tussock itself; 130, 141 and 143 as shells have them for Ctrl-C, a closed pipe and a request to end.
    """
    from tussock.cli.failures import guarded

    return guarded(lambda: _run(arguments))


def _run(arguments: Sequence[str] | None) -> int:
    from tussock.cli.app import run

    return run(arguments)
