"""Palettised PNG pictures as data addresses, written with zlib alone (PNG specification, ISO/IEC 15948)."""

from __future__ import annotations

import base64
import struct
import zlib
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Colour = tuple[int, int, int, int]
"""Red, green, blue, alpha, each 0–255."""


def png_bytes(indexes: npt.NDArray[np.uint8], palette: Sequence[Colour]) -> bytes:
    """Return a PNG of palette indexes; the depth is the least of 1, 2, 4, 8 bits that holds the palette.

    Parameters
    ----------
    indexes
        (rows, columns), row 0 at the top, each below ``len(palette)``.
    palette
        At most 256 colours.
    """
    rows, columns = indexes.shape
    depth = next(d for d in (1, 2, 4, 8) if len(palette) <= 1 << d)
    lines = np.zeros((rows, 1 + (columns * depth + 7) // 8), np.uint8)
    lines[:, 1:] = _packed(indexes, depth)
    head = struct.pack(">IIBBBBB", columns, rows, depth, 3, 0, 0, 0)
    colours = b"".join(bytes(c[:3]) for c in palette)
    alphas = bytes(c[3] for c in palette)
    parts = (
        (b"IHDR", head),
        (b"PLTE", colours),
        (b"tRNS", alphas),
        (b"IDAT", zlib.compress(lines.tobytes(), 6)),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(k, d) for k, d in (*parts, (b"IEND", b"")))


def png_address(indexes: npt.NDArray[np.uint8], palette: Sequence[Colour]) -> str:
    """Return the same picture as a ``data:`` address, which asks no host for anything."""
    return "data:image/png;base64," + base64.b64encode(png_bytes(indexes, palette)).decode("ascii")


def _packed(indexes: npt.NDArray[np.uint8], depth: int) -> npt.NDArray[np.uint8]:
    """Return the rows with 8 / depth pixels a byte, the leftmost in the high bits."""
    if depth == 8:
        return indexes
    if depth == 1:
        return np.packbits(indexes, axis=1)
    per = 8 // depth
    rows, columns = indexes.shape
    padded = np.zeros((rows, -(-columns // per) * per), np.uint8)
    padded[:, :columns] = indexes
    groups = padded.reshape(rows, -1, per)
    out = np.zeros(groups.shape[:2], np.uint8)
    for k in range(per):
        out |= groups[:, :, k] << (8 - depth * (k + 1))
    return out


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
