"""A photo as a phone makes it: with the place in its EXIF, and turned by its orientation."""

from __future__ import annotations

import struct

LATITUDE, LONGITUDE = (42, 6, 9), (147, 34, 13)
"""Degrees, minutes, seconds, south and east."""
DEVICE = b"INVENTED-PHONE\0"


def with_place(jpeg: bytes, *, orientation: int = 6) -> bytes:
    """Return a JPEG with an EXIF segment put in: device, orientation, place, and XMP with the place too.

    Source: Exif 2.3 (CIPA DC-008) § 4.6.2 for the directories, tags 0x010F, 0x0112, 0x8825 and GPS 1–4.
    """
    assert jpeg[:2] == b"\xff\xd8"
    xmp = b"http://ns.adobe.com/xap/1.0/\0<x exif:GPSLatitude='42,6.15S'/>"
    return jpeg[:2] + _segment(b"Exif\0\0" + _tiff(orientation)) + _segment(xmp) + jpeg[2:] + b"GPS trailer"


def _segment(content: bytes) -> bytes:
    return b"\xff\xe1" + struct.pack(">H", len(content) + 2) + content


def _tiff(orientation: int) -> bytes:
    first = 8
    gps = first + 2 + 3 * 12 + 4
    data = gps + 2 + 4 * 12 + 4
    heap = DEVICE + b"".join(struct.pack("<II", v, 1) for v in (*LATITUDE, *LONGITUDE))
    place = data + len(DEVICE)
    entries = _entry(0x010F, 2, len(DEVICE), struct.pack("<I", data))
    entries += _entry(0x0112, 3, 1, struct.pack("<HH", orientation, 0))
    entries += _entry(0x8825, 4, 1, struct.pack("<I", gps))
    where = _entry(1, 2, 2, b"S\0\0\0") + _entry(2, 5, 3, struct.pack("<I", place))
    where += _entry(3, 2, 2, b"E\0\0\0") + _entry(4, 5, 3, struct.pack("<I", place + 24))
    return (
        b"II*\0" + struct.pack("<I", first) + struct.pack("<H", 3) + entries + b"\0\0\0\0"
        + struct.pack("<H", 4) + where + b"\0\0\0\0" + heap
    )  # fmt: skip


def _entry(tag: int, form: int, count: int, value: bytes) -> bytes:
    return struct.pack("<HHI", tag, form, count) + value
