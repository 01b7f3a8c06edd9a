"""What the scripts that build the invented district share: its plane, its clock, its words, its tables."""

from __future__ import annotations

import csv
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pyproj import CRS, Transformer

LONGITUDE, LATITUDE = 147.6, -42.1
PLANE = CRS.from_proj4(
    f"+proj=tmerc +lat_0={LATITUDE} +lon_0={LONGITUDE} +k=1 +datum=WGS84 +units=m +no_defs"
)
TO_DEGREES = Transformer.from_crs(PLANE, "EPSG:4326", always_xy=True)
ZONE = ZoneInfo("Australia/Hobart")
HABITAT_CLASS = {
    "stringybark forest": "forest",
    "dry woodland": "woodland",
    "riparian woodland": "woodland",
    "heath": "shrubland",
    "tussock grassland": "grassland",
    "native pasture": "grassland",
    "improved pasture": "cropland",
    "marsh": "wetland",
    "rock outcrop": "rock",
    "quarry floor": "bare",
    "crop": "cropland",
    "house gardens": "garden",
    "park lawn": "garden",
    "town centre": "built",
    "works": "built",
    "transport corridor": "built",
    "open water": "water",
}
SPECIES = {
    "Notechis scutatus": "tiger snake",
    "Austrelaps superbus": "lowland copperhead",
    "Drysdalia coronoides": "white-lipped snake",
    "Pseudonaja textilis": "eastern brown snake",
}
PEOPLE = ("Ines Tarrowby", "Jory Quill", "Maud Fennimore")


def stamp(moment: datetime, *, standard: bool = False) -> str:
    """Local instant with its offset; some devices stay on standard time all year."""
    local = moment.replace(tzinfo=ZONE)
    if standard:
        shifted = local - (local.dst() or timedelta())
        return shifted.replace(tzinfo=None).isoformat(timespec="minutes") + ":00+10:00"
    return local.isoformat()


def degrees_text(xy: Any) -> tuple[str, str]:
    """Latitude and longitude with six decimals."""
    lon, lat = TO_DEGREES.transform(float(xy[0]), float(xy[1]))
    return f"{lat:.6f}", f"{lon:.6f}"


def write_csv(path: Path, rows: list[dict[str, Any]]) -> None:
    """Table with LF line ends."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
