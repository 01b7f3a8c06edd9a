"""What GDAL does not say about an OpenStreetMap file: its box, its date, and which outlines are not whole."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from tussock.errors import InputError
from tussock.ground.osm_protobuf import (
    DAMAGE,
    Message,
    Whole,
    blocks,
    broken,
    fields,
    message,
    not_pbf,
    packed,
    running,
    signed,
    text,
)

Box = tuple[float, float, float, float]
"""West, south, east, north [degrees]."""
_WAY = 1
_AREA_TYPES = frozenset({"multipolygon", "boundary"})


@dataclass(frozen=True)
class PbfFile:
    """What the file says about itself.

    Attributes
    ----------
    box
        The header's box; ``None`` where the header has none.
    replicated
        The header's replication instant; ``None`` where it has none.
    lost_areas
        Areas made of several ways some of which are not in the file: id of the relation → its tags.
        GDAL leaves them out without a word.
    clipped_ways, clipped_relations
        Ids of the ways some of whose nodes are not in the file, and of the areas made of such ways.
        GDAL joins what is left by straight lines.
    """

    box: Box | None
    replicated: datetime | None
    lost_areas: Mapping[int, Mapping[str, str]]
    clipped_ways: frozenset[int]
    clipped_relations: frozenset[int]


@dataclass(frozen=True)
class _Area:
    ways: Whole
    tags: Mapping[str, str]


@dataclass
class _Contents:
    """Ids of the nodes and ways seen, the nodes the ways refer to, and the areas."""

    nodes: list[Whole] = field(default_factory=list)
    ways: list[int] = field(default_factory=list)
    refs: list[Whole] = field(default_factory=list)
    ref_ways: list[Whole] = field(default_factory=list)
    areas: dict[int, _Area] = field(default_factory=dict)


def read_pbf(path: Path) -> PbfFile:
    """Return what a PBF file says about itself, having walked through every block of it.

    Raises
    ------
    InputError
        When it is no PBF file, is empty, cut short or damaged, or is packed in a way that is not read.

    Source: OpenStreetMap wiki, "PBF Format" (field numbers of fileformat.proto and osmformat.proto).
    """
    contents = _Contents()
    first = True
    header: Message = {}
    try:
        for kind, block in blocks(path):
            if kind == "OSMHeader":
                header = message(block)
            elif kind == "OSMData":
                _scan_block(block, contents)
            first = False
        box, replicated = _box(header), _replicated(header)
    except InputError:
        raise
    except DAMAGE:
        raise (not_pbf if first else broken)(path) from None
    clipped = _clipped_ways(contents)
    there = np.array(sorted(contents.ways), np.int64)
    lost = {n: a.tags for n, a in contents.areas.items() if not np.isin(a.ways, there).all()}
    cut = {n for n, a in contents.areas.items() if clipped.intersection(a.ways.tolist())}
    return PbfFile(box, replicated, lost, clipped, frozenset(cut - lost.keys()))


def _box(header: Message) -> Box | None:
    """HeaderBlock field 1: left 1, right 2, top 3, bottom 4 [1e-9 degrees]."""
    if not isinstance(inner := header.get(1), bytes):
        return None
    left, right, top, bottom = (signed(int(message(inner)[n])) / 1e9 for n in (1, 2, 3, 4))
    return left, bottom, right, top


def _replicated(header: Message) -> datetime | None:
    """HeaderBlock field 32: seconds since 1970."""
    seconds = header.get(32)
    return datetime.fromtimestamp(seconds, UTC) if isinstance(seconds, int) and seconds > 0 else None


def _scan_block(block: bytes, contents: _Contents) -> None:
    """PrimitiveBlock: field 1 is the table of texts, field 2 each group."""
    parts = list(fields(block))
    table = [v for n, t in parts if n == 1 and isinstance(t, bytes) for _, v in fields(t)]
    for number, group in parts:
        if number == 2 and isinstance(group, bytes):
            _scan_group(list(fields(group)), table, contents)


def _scan_group(group: list[tuple[int, int | bytes]], table: list[int | bytes], contents: _Contents) -> None:
    """PrimitiveGroup: single nodes are field 1, dense nodes 2, ways 3, relations 4."""
    singles = [signed(int(message(m)[1])) for m in _bodies(group, 1)]
    contents.nodes += [np.array(singles, np.int64)] if singles else []
    contents.nodes += [running([message(m).get(1)])[0] for m in _bodies(group, 2)]
    ways = [message(m) for m in _bodies(group, 3)]
    if ways:
        refs, which = running([w.get(8) for w in ways])
        contents.refs.append(refs)
        contents.ref_ways.append(which + len(contents.ways))
        contents.ways += [int(w[1]) for w in ways]
    for relation in map(message, _bodies(group, 4)):
        tags = _tags(relation, table)
        if tags.get("type") in _AREA_TYPES:
            contents.areas[int(relation[1])] = _Area(_member_ways(relation), tags)


def _bodies(group: list[tuple[int, int | bytes]], number: int) -> Iterator[bytes]:
    return (value for n, value in group if n == number and isinstance(value, bytes))


def _tags(relation: Message, table: list[int | bytes]) -> dict[str, str]:
    """Relation: numbers of its keys are field 2, of its values field 3."""
    pairs = zip(packed(relation.get(2)).tolist(), packed(relation.get(3)).tolist(), strict=True)
    return {text(table[k]): text(table[v]) for k, v in pairs}


def _member_ways(relation: Message) -> Whole:
    """Relation: ids of its members are field 9, their kinds field 10."""
    ids, kinds = running([relation.get(9)])[0], packed(relation.get(10))
    if len(ids) != len(kinds):
        raise ValueError("members and kinds differ in number")
    ways: Whole = ids[kinds == _WAY]
    return ways


def _clipped_ways(contents: _Contents) -> frozenset[int]:
    if not contents.refs:
        return frozenset()
    nodes = np.unique(np.concatenate(contents.nodes)) if contents.nodes else np.array([], np.int64)
    missing = ~np.isin(np.concatenate(contents.refs), nodes)
    ways = np.array(contents.ways, np.int64)
    return frozenset(ways[np.concatenate(contents.ref_ways)[missing]].tolist())
