"""What GDAL warns of while it reads: kept from the terminal, and told among a layer's notes."""

from __future__ import annotations

import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_READERS = {"pyogrio", "rasterio", "shapely", "numpy", "tussock", "tests"}
READING = threading.RLock()
"""Held by whoever reads a layer: reading turns the filters of warnings (so does shapely within it), and they
belong to the whole process, while planning asks for layers in several threads."""


@contextmanager
def listening() -> Iterator[list[str]]:
    """Yield a list that holds, once the context ends, each warning said inside, once."""
    said: list[str] = []
    with READING, warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always")
        yield said
        # libraries that another thread imports meanwhile have words of their own
        said += dict.fromkeys(str(w.message) for w in heard if _READERS & set(Path(w.filename).parts))
