"""Machine code for the inner loops: numba, asked for only when something is scanned."""

from __future__ import annotations

import functools
import importlib
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from tussock.errors import MissingDataError


@functools.cache
def compiled(function: Callable[..., None]) -> Callable[..., None]:
    """Return a loop over arrays as machine code that lets other threads run beside it.

    Raises
    ------
    MissingDataError
        Without numba.
    """
    try:
        numba: Any = importlib.import_module("numba")
    except ImportError as error:
        raise MissingDataError(
            "clusters are looked for with the package numba, which is not installed",
            allowed="everything else works without it",
            fix="pip install 'tussock[hotspots]'",
        ) from error
    try:
        made: Callable[..., None] = numba.njit(nogil=True, cache=True)(function)
    except RuntimeError:  # no folder to keep it in: then it is compiled in every run
        made = numba.njit(nogil=True)(function)
    return made


def in_threads(work: Callable[[int], None], count: int, *, threads: int | None) -> None:
    """Do pieces of work 0 … count − 1, several at a time; each writes to its own place.

    Parameters
    ----------
    threads
        How many at a time; None: as many as this process may use processors.
    """
    most = threads or _processors()
    if most == 1:
        for piece in range(count):
            work(piece)
        return
    with ThreadPoolExecutor(most) as pool:
        list(pool.map(work, range(count)))


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1
