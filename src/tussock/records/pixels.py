"""Pictures to be passed on: their pixels alone, without place, time, device or thumbnail.

A picture is decoded, turned upright as its own note says, and encoded anew: what is not a pixel cannot
come along, whatever a camera hides where.
"""

from __future__ import annotations

from pathlib import Path

from tussock.errors import InputError
from tussock.tables import read_bytes

END = ".jpg"
"""End of the names of the copies."""


def pixels_alone(path: Path) -> bytes:
    """Return a picture as JPEG without anything but its pixels; the same file gives the same bytes.

    Raises
    ------
    InputError
        When it cannot be read as a picture.
    """
    import cv2
    import numpy as np

    content = read_bytes(path)
    try:
        picture = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)  # turned upright
    except cv2.error:
        picture = None
    if picture is None:
        raise InputError(
            "it cannot be read as a picture",
            where=str(path),
            allowed="JPEG, PNG, TIFF, WebP or BMP",
            fix="save it as JPEG and attach that, or leave --photos out",
        )
    _, made = cv2.imencode(END, picture, [cv2.IMWRITE_JPEG_QUALITY, 95])
    return bytes(made.tobytes())
