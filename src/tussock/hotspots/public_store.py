"""The file of a region's partition: GeoJSON with a checksum in it, written once.

The checksum shows a slip of the hand; it is no lock, as whoever changes the file can make a new one.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from tussock.errors import Faults, InputError
from tussock.files import Outbox
from tussock.geodesy import Floats, Plane
from tussock.hotspots.public_choice import PublicChoice
from tussock.hotspots.public_partition import Partition, not_rectangles
from tussock.hotspots.public_units import Unit

PARTITION_FILE = "public-units.geojson"
"""Name of the file beside the region."""
PUBLISHED_FOLDER = "published"
"""Folder beside the region that holds what was released."""
_RULE = (
    "Rectangles of whole squares of 100 m, made by cutting the plane in two again and again so that the "
    "dwellings on both sides are most alike, while both sides hold enough; from dwellings alone."
)
_KILOMETRE = 1000
_DEGREE_DECIMALS = 7


def store_partition(folder: Path, partition: Partition) -> Path:
    """Write a region's partition beside it, once; return the file.

    Raises
    ------
    InputError
        When the region has one, even the same; when figures were released by one that is gone; or when it
        cannot be written.
    """
    target = folder / PARTITION_FILE
    refuse_second(folder)
    write_once(target, partition_text(partition))
    return target


def write_once(target: Path, text: str) -> None:
    """Write a file that is not there yet, whole or not at all.

    Raises
    ------
    InputError
        When it cannot be written, or something is in its way.
    """
    try:
        with Outbox(ours=lambda _: False) as outbox:
            outbox.check((target,))
            outbox.stage(target, text)
            outbox.send()
    except InputError as error:
        fix = "see that the region's folder can be written to; this file has its one place there"
        raise InputError(error.found, where=error.where, allowed=error.allowed, fix=fix) from None


def refuse_second(folder: Path) -> None:
    """Refuse to make units where a region has some, or has figures that were made by others.

    Raises
    ------
    InputError
        With the reason.
    """
    target, released = folder / PARTITION_FILE, folder / PUBLISHED_FOLDER
    faults = Faults()
    allowed = "one set of units for ever: what two sets say of the same calls can be subtracted"
    if target.exists():
        fix = "use the stored one; if no figure was ever given away, delete it first"
        faults.add(
            "the region has its units for published figures", where=str(target), allowed=allowed, fix=fix
        )
    elif released.is_dir() and any(released.iterdir()):
        fix = f"restore {PARTITION_FILE}, by which they were made"
        faults.add("figures of other units were released", where=str(released), allowed=allowed, fix=fix)
    faults.raise_if_any()


def stored_partition(folder: Path, *, plane: Plane) -> Partition:
    """Return the partition that is stored beside a region.

    Raises
    ------
    InputError
        When there is none, it cannot be read, was changed, or is of another plane.
    """
    target = folder / PARTITION_FILE
    try:
        document = json.loads(target.read_text(encoding="utf-8"))
        said = document.pop("checksum", None)
        settled = said == _checksum(document)
        partition = _partition(document) if settled else None
    except FileNotFoundError:
        fix = "have the units made from the dwellings, once: tussock region units"
        raise InputError("there is no such file", where=str(target), fix=fix) from None
    except InputError as error:
        raise InputError(error.found, where=str(target), allowed=error.allowed, fix=error.fix) from None
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        raise _changed(target, "it cannot be read as a file of units") from None
    if partition is None:
        raise _changed(target, "it was changed: its checksum is of another text")
    if partition.plane != plane:
        raise _changed(target, "it was made for another plane than the region's")
    return partition


def _changed(target: Path, found: str) -> InputError:
    fix = "restore the file as it was made; changed units could be subtracted from those published"
    return InputError(found, where=str(target), allowed="the file as Tussock wrote it", fix=fix)


def partition_text(partition: Partition) -> str:
    """Return the GeoJSON of a partition, the same bytes for the same partition."""
    document: dict[str, Any] = {
        "type": "FeatureCollection",
        "name": partition.region,
        "rule": _RULE,
        "least_dwellings": partition.least,
        "attribution": partition.attribution,
        "plane": asdict(partition.plane),
        "published": asdict(partition.choice),
        "features": [_feature(unit, partition.plane) for unit in partition.units],
    }
    document["checksum"] = _checksum(document)
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _checksum(document: dict[str, Any]) -> str:
    """Return the SHA-256 of a document; how it is spaced does not matter."""
    plain = json.dumps(document, ensure_ascii=True, allow_nan=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(plain.encode("ascii")).hexdigest()


def _partition(document: dict[str, Any]) -> Partition:
    return Partition(
        region=str(document["name"]),
        plane=Plane(**{k: float(v) for k, v in document["plane"].items()}),
        choice=PublicChoice(**document["published"]),
        units=tuple(Unit(**_whole_edges(f["properties"])) for f in document["features"]),
        least=int(document["least_dwellings"]),
        attribution=str(document["attribution"]),
    )


def _whole_edges(properties: dict[str, Any]) -> dict[str, Any]:
    if any(type(value) is not int for key, value in properties.items() if key != "id"):
        raise not_rectangles()
    return properties


def _feature(unit: Unit, plane: Plane) -> dict[str, Any]:
    """Return a unit as a feature; its edges in the plane, among its properties, are those that count."""
    ring = _ring(unit)
    lon, lat = plane.unproject(ring[:, 0], ring[:, 1])
    places = [
        [round(float(a), _DEGREE_DECIMALS), round(float(b), _DEGREE_DECIMALS)]
        for a, b in zip(lon, lat, strict=True)
    ]
    return {
        "type": "Feature",
        "id": unit.id,
        "properties": asdict(unit),
        "geometry": {"type": "Polygon", "coordinates": [places]},
    }


def _ring(unit: Unit) -> Floats:
    """Return the outline, against the clock, with a place at each whole kilometre: edges bend in degrees."""
    across, up = _steps(unit.west, unit.east), _steps(unit.south, unit.north)
    south = [(x, unit.south) for x in across[:-1]]
    east = [(unit.east, y) for y in up[:-1]]
    north = [(x, unit.north) for x in across[:0:-1]]
    west = [(unit.west, y) for y in up[::-1]]
    return np.array([*south, *east, *north, *west], dtype=np.float64)


def _steps(low: int, high: int) -> list[int]:
    first = (low // _KILOMETRE + 1) * _KILOMETRE
    return [low, *range(first, high, _KILOMETRE), high]
