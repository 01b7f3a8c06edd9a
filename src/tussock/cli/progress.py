"""How far a long job has come, on a terminal; a request to end is heeded at each step."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from tussock.ending import heed


@contextmanager
def progress(total: int, what: str) -> Iterator[Callable[[int], None]]:
    """Give what is called with how many are done; where stderr is no terminal it shows nothing."""
    if not sys.stderr.isatty():
        yield lambda done: heed()
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=total)

        def shown(done: int) -> None:
            heed()
            bar.update(task, completed=done)

        yield shown
