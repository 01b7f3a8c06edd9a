"""Settling and publishing figures through the commands, on a copy of the invented district."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

from tests.cli.running import DATA, Ran, Runner

ZONE = "Australia/Hobart"
HEAD = "calloutID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,outcome"
BLOCKS = {"unit": ("2", 2024, "2024-07-01..2026-06-30"), "season": ("1", 2025, "2025-07-01..2026-06-30")}
"""How many seasons, the first, and the days of the first block."""
KEYS = {"what", "region", "by", "seasons", "figures", "dwellings_from"}
UNITS_KEYS = {
    *("type", "name", "rule", "least_dwellings", "attribution", "plane", "published", "features", "checksum"),
    *("longitude", "latitude", "dimension", "first_season", "start_month", "zone", "seasons"),
    *("id", "properties", "geometry", "coordinates", "west", "south", "east", "north", "dwellings"),
    "perhaps",
}
SOME = 15
"""Of how many calls of the district one is taken where its bands would all be open otherwise."""
Rows = list[dict[str, str]]


def settle(run: Runner, like: str = "unit", /, **more: str) -> Ran:
    seasons, first, _ = BLOCKS[like]
    options = {
        "by": like,
        "season-starts": "7",
        "first-season": str(first),
        "seasons": seasons,
        "timezone": ZONE,
        **more,
    }
    return run("region", "units", "district", *(w for k, v in options.items() for w in (f"--{k}", v)))


def publish(run: Runner, by: str = "unit", *more: str, calls: str = "calls.csv", **changed: str) -> Ran:
    _, first, days = BLOCKS[by]
    options = {
        "callouts": calls,
        "region": "district",
        "public": str(first),
        "observed": days,
        "now": "2026-11-20T09:00+11:00",
        **changed,
    }
    return run("hotspots", *(w for k, v in options.items() for w in (f"--{k}", v)), *more)


def written(rows: Rows, path: Path) -> str:
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, list(rows[0]))
        table.writeheader()
        table.writerows(rows)
    return path.name


def demo_rows() -> Rows:
    with (DATA / "callouts.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def plain(folder: Path, *rows: str) -> str:
    (folder / "calls.csv").write_text("\n".join([HEAD, *rows]) + "\n", "utf-8")
    return "calls.csv"


def row(number: int, *, time: str = "2026-01-10T10:00:00+11:00", at: str = "-42.0990,147.5840") -> str:
    return f"K-{number},{time},{at},20,not_found"


def everything(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def published(district: Path) -> list[dict[str, Any]]:
    return [json.loads(p.read_text("utf-8")) for p in sorted((district / "published").iterdir())]


def keys(value: Any) -> set[str]:
    if isinstance(value, dict):
        return set(value) | set().union(*map(keys, value.values()))
    return set().union(*map(keys, value)) if isinstance(value, list) else set()
