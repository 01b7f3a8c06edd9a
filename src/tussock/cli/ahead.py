"""Heavy libraries imported while others are still at work: time that the user does not wait."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from threading import Thread

READING = ("tussock.ground.gdal_alone", "cv2")
DRAWING = ("tussock.maps.canvas",)


def import_ahead(names: Iterable[str]) -> None:
    """Start importing modules beside; whoever needs one waits for it as for any import."""
    missing = [name for name in names if name not in sys.modules]
    if missing:
        Thread(target=_import_all, args=(missing,), daemon=True).start()


def _import_all(names: list[str]) -> None:
    for name in names:
        try:
            importlib.import_module(name)
        except Exception:  # a warning that was made an error, too
            return  # whoever needs it meets the same error, where it can be told


def read_ahead(folder: Path, layer: str, day: date) -> None:
    """Start reading a layer of a region beside; whoever asks for it waits for it, or reads it himself."""
    Thread(target=_read, args=(folder, layer, day), daemon=True).start()


def _read(folder: Path, layer: str, day: date) -> None:
    from tussock.errors import TussockError
    from tussock.ground.region import open_region

    try:
        region = open_region(folder)
        if region.has(layer):
            region.layer(layer).on(day)
    except (TussockError, ImportError, OSError):
        return  # whoever needs it meets the same error, where it can be told
