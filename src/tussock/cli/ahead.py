"""Heavy libraries imported while others are still at work: time that the user does not wait."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterable
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
