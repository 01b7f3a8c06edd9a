"""What GDAL warns of while it reads: kept from the terminal, and told among a layer's notes."""

from __future__ import annotations

import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

_ONE = threading.Lock()  # the filters of warnings belong to the whole process, and layers are read in threads


@contextmanager
def listening() -> Iterator[list[str]]:
    """Yield a list that holds, once the context ends, each warning said inside, once."""
    said: list[str] = []
    with _ONE, warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always")
        yield said
        said += dict.fromkeys(str(w.message) for w in heard)
