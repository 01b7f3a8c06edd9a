"""The wire format of OpenStreetMap's PBF files: blocks, messages, packed numbers."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import BinaryIO

import numpy as np
import numpy.typing as npt

from tussock.errors import InputError

Whole = npt.NDArray[np.int64]
Message = dict[int, int | bytes]
MOST_HEADER, MOST_BLOB = 64 * 1024, 32 * 1024 * 1024
"""Largest blob header and blob [bytes] (source: OpenStreetMap wiki, "PBF Format")."""
DAMAGE = (IndexError, KeyError, struct.error, zlib.error, UnicodeDecodeError, OverflowError, ValueError)
"""What the functions here raise on bytes that are no such message."""


def blocks(path: Path) -> Iterator[tuple[str, bytes]]:
    """Yield kind and content of each block of a file.

    Raises
    ------
    InputError
        When the file is no PBF, is cut short or damaged, is packed in a way that is not read, or
        cannot be opened. A file that ends inside a block is an error, never just the end.
    """
    try:
        with path.open("rb") as stream:
            for n, (kind, blob) in enumerate(_blobs(stream)):
                if n == 0 and kind != "OSMHeader":
                    raise not_pbf(path)
                yield kind, _unpacked(blob, path)
            if stream.tell() == 0:
                raise not_pbf(path)
    except OSError as error:
        raise InputError(
            f"it cannot be read ({error.strerror})", where=str(path), fix="check the path and the permissions"
        ) from None


def not_pbf(path: Path) -> InputError:
    """Return the error for a file of another kind."""
    empty = path.stat().st_size == 0
    return InputError(
        "the file is empty" if empty else "it is not an OpenStreetMap PBF file",
        where=str(path),
        allowed="an extract ending in .osm.pbf",
        fix="download the extract again" if empty else "choose the .osm.pbf form of the extract",
    )


def broken(path: Path) -> InputError:
    """Return the error for a damaged file."""
    return InputError(
        "the file is cut short or damaged",
        where=str(path),
        allowed="a whole .osm.pbf extract",
        fix="download the extract again",
    )


def _blobs(stream: BinaryIO) -> Iterator[tuple[str, bytes]]:
    while size := stream.read(4):
        (length,) = struct.unpack(">I", size)
        head = message(_exactly(stream, length, MOST_HEADER))
        yield text(head[1]), _exactly(stream, int(head[3]), MOST_BLOB)


def _exactly(stream: BinaryIO, length: int, most: int) -> bytes:
    data = stream.read(length) if length <= most else b""
    if len(data) != length:
        raise ValueError("a block is cut short")
    return data


def _unpacked(blob: bytes, path: Path) -> bytes:
    """Blob: field 1 plain, field 3 zlib."""
    parts = message(blob)
    if isinstance(raw := parts.get(1), bytes):
        return raw
    if isinstance(packed := parts.get(3), bytes):
        return zlib.decompress(packed)
    raise InputError(
        "its blocks are packed neither plainly nor with zlib",
        where=str(path),
        allowed="zlib, the usual packing",
        fix="write the extract again with the usual packing",
    )


def message(data: bytes) -> Message:
    """Return the fields of a message; of a repeated one the last."""
    return dict(fields(data))


def fields(data: bytes) -> Iterator[tuple[int, int | bytes]]:
    """Yield number and value of each field of a message."""
    at, end = 0, len(data)
    while at < end:
        key, at = _varint(data, at)
        kind = key & 7
        if kind == 0:
            value, at = _varint(data, at)
            yield key >> 3, value
            continue
        if kind == 2:
            length, at = _varint(data, at)
        else:
            length = {1: 8, 5: 4}[kind]
        if at + length > end:
            raise ValueError("a field runs past its message")
        yield key >> 3, data[at : at + length]
        at += length


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = data[at]
        at += 1
        value |= (byte & 0x7F) << shift
        if byte < 0x80:
            return value, at
        shift += 7


def signed(value: int) -> int:
    """Return the number that a zigzag-coded field stands for."""
    return (value >> 1) ^ -(value & 1)


def text(value: int | bytes) -> str:
    """Return a text field."""
    return value.decode(errors="replace") if isinstance(value, bytes) else ""


def packed(data: int | bytes | None) -> Whole:
    """Return the numbers of a packed field."""
    return _packed(data if isinstance(data, bytes) else b"")[0]


def running(lists: Sequence[int | bytes | None]) -> tuple[Whole, Whole]:
    """Return the numbers of packed lists of zigzag-coded differences, and which list each is from.

    The differences start anew with each list. All lists are decoded in one go: one by one, a
    district's ways would take minutes.
    """
    parts = [p if isinstance(p, bytes) else b"" for p in lists]
    values, ends = _packed(b"".join(parts))
    steps = (values.view(np.uint64) >> np.uint64(1)).astype(np.int64) ^ -(values & 1)
    stops = np.searchsorted(ends, np.cumsum([len(p) for p in parts]))  # numbers up to the end of each list
    counts = np.diff(stops, prepend=0)
    total = np.cumsum(steps)
    before = np.concatenate([[0], total])[stops - counts]
    return total - np.repeat(before, counts), np.repeat(np.arange(len(parts)), counts)


def _packed(data: bytes) -> tuple[Whole, Whole]:
    """Return the numbers, and the place of the last byte of each."""
    raw = np.frombuffer(data, np.uint8)
    ends = np.flatnonzero(raw < 0x80)
    if len(raw) and raw[-1] >= 0x80:
        raise ValueError("a number is cut short")
    if not len(raw):
        return np.array([], np.int64), np.array([], np.int64)
    starts = np.concatenate([[0], ends[:-1] + 1])
    place = np.arange(len(raw)) - np.repeat(starts, ends - starts + 1)
    if place.max() > 9:
        raise ValueError("a number of more than ten bytes")
    bits = (raw & 0x7F).astype(np.uint64) << (7 * place).astype(np.uint64)
    return np.add.reduceat(bits, starts).view(np.int64), ends
