"""The entries of a kind as files for other programs; the same entries give the same bytes.

What goes out is what the entries say, as text: residents' details are no part of them, and photos are named
without their folders.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

from tussock.errors import InputError
from tussock.position import LATITUDE, LONGITUDE, UNCERTAINTY
from tussock.records import finished_workbook
from tussock.records.entries import CONSENT, CONTAINER, ID_COLUMN, Entry
from tussock.records.kinds import DATES, INSTANTS
from tussock.records.sheets import WALL
from tussock.records.spot_entry import file_name
from tussock.records.typed import LIST
from tussock.tables import csv_text

PHOTO = "associatedMedia"
_FIRST = ("calloutID", "captureID", "disposalID", "checkID", "consentID", "incidentID", "containerID",
          "eventDate", LATITUDE, LONGITUDE, UNCERTAINTY, "geodeticDatum")  # fmt: skip
"""Columns that come first; the others follow as the entries bring them."""
_WRITTEN = datetime(1980, 1, 1)
"""Time of writing in every file: the content says when things happened."""
_STAMP = f"{_WRITTEN.isoformat()}.000Z"
_MOST_CHARACTERS = 32_767
"""Most that a cell of a workbook holds (a limit of the format, from memory)."""


def columns_of(kind: str, entries: Iterable[Entry]) -> tuple[str, ...]:
    """Return the columns of an export: the id, when and where, then the rest as they come."""
    there = dict.fromkeys(c for e in entries for c in e.cells)
    first = [c for c in dict.fromkeys((ID_COLUMN[kind], *_FIRST)) if c in there]
    return tuple(dict.fromkeys([*first, *there])) or (ID_COLUMN[kind],)


def as_shared(entry: Entry) -> dict[str, str]:
    """Return an entry's cells with photos named without their folders."""
    return shared_cells(entry.cells)


def shared_cells(given: Mapping[str, str]) -> dict[str, str]:
    """Return cells with photos named without their folders."""
    cells = dict(given)
    if PHOTO in cells:
        parts = (p.strip() for p in cells[PHOTO].split(LIST))
        cells[PHOTO] = f" {LIST} ".join(p if "://" in p else file_name(p) for p in parts)
    return cells


def to_csv(kind: str, entries: Sequence[Entry]) -> str:
    """Return entries as CSV, a row each; formulas are inert, and come back as they were."""
    return csv_text(columns_of(kind, entries), (as_shared(e) for e in entries))


def to_workbook(kind: str, entries: Sequence[Entry]) -> bytes:
    """Return entries as a workbook: the header stays in sight and filters, text is text, counts are numbers.

    Local dates are real dates. An instant keeps its offset as text, and has a real date of its own wall
    clock in a column beside, to sort and to filter by.

    Raises
    ------
    InputError
        For a text longer than a cell of a workbook holds.
    """
    book = finished_workbook.new_book(_WRITTEN)
    columns = _with_wall_clocks(columns_of(kind, entries), entries)
    rows = [{c: _typed(c, cells) for c in columns} for cells in map(as_shared, entries)]
    for entry, row in zip(entries, rows, strict=True):
        _refuse_long(row, f"{kind} {entry.id[:40]}")
    finished_workbook.add_sheet(book, kind, columns, rows)
    return finished_workbook.finished(book)


def _with_wall_clocks(columns: Iterable[str], entries: Iterable[Entry]) -> tuple[str, ...]:
    """Return the columns, each of instants followed by one of real dates."""
    there = {c for e in entries for c in INSTANTS if _wall_clock(e.get(c)) is not None}
    return tuple(c for column in columns for c in ((column, column + WALL) if column in there else (column,)))


def _wall_clock(text: str) -> datetime | None:
    with suppress(ValueError):
        return datetime.fromisoformat(text).replace(tzinfo=None, microsecond=0)
    return None


def _typed(column: str, cells: Mapping[str, str]) -> object:
    """Return what goes into a cell. Coordinates stay text: how many decimals were written says something."""
    if column.endswith(WALL):
        return _wall_clock(cells.get(column.removesuffix(WALL), ""))
    text = cells.get(column, "")
    if column in DATES:
        with suppress(ValueError):
            return date.fromisoformat(text)
    if column == "individualCount" and text.isascii() and text.isdigit() and text == str(int(text)):
        return int(text)
    return text or None


def _refuse_long(row: Mapping[str, object], where: str) -> None:
    """Refuse a text that would be cut."""
    for column, value in row.items():
        if isinstance(value, str) and len(value) > _MOST_CHARACTERS:
            found, allowed = f"a text of {len(value)} characters", f"{_MOST_CHARACTERS} in a workbook's cell"
            raise InputError(found, where=f"{where}, {column}", allowed=allowed, fix="export as CSV")


def to_geojson(kind: str, entries: Sequence[Entry]) -> str:
    """Return entries as GeoJSON (RFC 7946), each a feature; one without a place has no geometry.

    Raises
    ------
    InputError
        For a kind that has no places.
    """
    _refuse_placeless(kind)
    features = []
    for entry in entries:
        place = _place(entry)
        point = {"type": "Point", "coordinates": list(place)} if place else None
        features.append({"type": "Feature", "geometry": point, "properties": as_shared(entry)})
    made = {"type": "FeatureCollection", "tussock": f"logbook, {kind}s", "features": features}
    return json.dumps(made, ensure_ascii=False, indent=1) + "\n"


def to_geopackage(kind: str, entries: Sequence[Entry]) -> bytes:
    """Return entries as a GeoPackage with one layer of points, EPSG:4326; columns are text.

    Raises
    ------
    InputError
        For a kind that has no places.
    """
    _refuse_placeless(kind)
    import numpy as np
    import pyogrio
    import pyogrio.raw
    import shapely

    columns = columns_of(kind, entries)
    cells = [as_shared(e) for e in entries]
    places = [_place(e) for e in entries]
    points = np.array([shapely.to_wkb(shapely.Point(p)) if p else None for p in places], dtype=object)
    values = [np.array([row.get(c) for row in cells], dtype=object) for c in columns]
    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": _STAMP})
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "logbook.gpkg"
            pyogrio.raw.write(
                str(path), points, values, list(_distinct(columns)), layer=f"{kind}s", driver="GPKG",
                crs="EPSG:4326", geometry_type="Point",
            )  # fmt: skip
            return path.read_bytes()
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": before})


def _distinct(columns: Iterable[str]) -> Iterable[str]:
    """Yield names that a database keeps apart: it does not tell capitals, and has columns of its own."""
    taken = {"fid", "geom"}
    for column in columns:
        name, n = column, 2
        while name.lower() in taken:
            name, n = f"{column}_{n}", n + 1
        taken.add(name.lower())
        yield name


def _place(entry: Entry) -> tuple[float, float] | None:
    """Return longitude and latitude; ``None`` where none are recorded."""
    texts = [entry.get(c).replace("−", "-") for c in (LONGITUDE, LATITUDE)]
    if not all(texts):
        return None
    return float(texts[0]), float(texts[1])


def _refuse_placeless(kind: str) -> None:
    if kind in (CONSENT, CONTAINER):
        raise InputError(f"a {kind} has no place of its own", where="--format", allowed="csv, xlsx")


FORMATS: Mapping[str, Callable[[str, Sequence[Entry]], str | bytes]] = {
    "csv": to_csv,
    "xlsx": to_workbook,
    "geojson": to_geojson,
    "gpkg": to_geopackage,
}
"""End of a file's name → what is in it."""


def is_ours(path: Path) -> bool:
    """Return whether Tussock exported a file, by what stands in it. A table in CSV may be anybody's."""
    try:
        content = path.read_bytes()
    except OSError:
        return False
    if content.startswith(b"PK"):
        return finished_workbook.is_ours(content)
    if content.startswith(b"SQLite format 3\0"):
        return _STAMP.encode() in content and b"gpkg_contents" in content
    return content.startswith(b'{\n "type": "FeatureCollection",\n "tussock": "logbook, ')
