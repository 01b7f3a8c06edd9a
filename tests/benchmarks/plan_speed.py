"""How fast a plan is, beside other ways to do its measuring, in one run on one machine.

Run it as ``python tests/benchmarks/plan_speed.py REGION LAT,LON`` with a region folder (such as
``tussock region from-osm`` makes). Seconds differ from machine to machine, the ratios hardly do.

The circle is 5 km at 10 m: about 785,000 cells. *Warm* is the second capture in one process: layer
files are looked at again, parsed files, indexes and dissolved patches are kept.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import numpy as np

from tussock.ground.region import Region, forget, open_region
from tussock.permit.house_rules import read_house_rules
from tussock.permit.permit_file import read_permit
from tussock.planning.criteria import read_weights
from tussock.planning.plan import plan
from tussock.planning.setting import Capture, Setting
from tussock.position import Position
from tussock.species.intake import read_animal
from tussock.species.profiles import load_profiles

PERMIT = """
id = "BENCH"
holder = "invented"
authority = "invented"
timezone = "UTC"
[[versions]]
valid_from = 2000-01-01
[[versions.conditions]]
id = "1"
kind = "max_distance_from_capture"
limit_m = 5000
[[versions.conditions]]
id = "2"
kind = "min_distance_from"
layer = "dwellings"
limit_m = 200
[[versions.conditions]]
id = "3"
kind = "min_patch_area"
limit_ha = 5
"""
RULES_IN_FULL = """
[[versions.conditions]]
id = "4"
kind = "max_holding_hours"
limit_h = 24
[[versions.conditions]]
id = "5"
kind = "same_calendar_day"
captured_after = "20:00"
then_within_h = 6
[[versions.conditions]]
id = "6"
kind = "release_window"
window = "daylight"
[[versions.conditions]]
id = "7"
kind = "release_window"
window = { from = "05:00", to = "22:00" }
[[versions.conditions]]
id = "8"
kind = "consent_recorded"
[[versions.conditions]]
id = "9"
kind = "attested"
question = "Is there a refuge within five metres?"
ask_at = "site"
[[versions.conditions]]
id = "10"
kind = "record_within_hours"
limit_h = 48
[[versions.conditions]]
id = "11"
kind = "species_not_released"
origin = ["exotic", "possible_escapee"]
[[versions.conditions]]
id = "12"
kind = "checked_every_hours"
limit_h = 2
[[versions.conditions]]
id = "13"
kind = "quota"
count = 100
per = "year"
"""
"""The clauses of the clock, the record, the animal and consent besides: they add what is measured."""
ANSWERS = {
    "scientificName": "Vipera berus",
    "identification": "certain",
    "origin": "wild_local",
    "animalCondition": "fit",
    "individualCount": "1",
    "lifeStage": "adult",
    "gravid": "no",
    "foundIn": "yard",
}
REACH_M = 5200.0


def main() -> None:
    """Print the timings and their ratios to the plan."""
    folder = Path(sys.argv[1])
    lat, lon = (float(v) for v in sys.argv[2].split(","))
    region = open_region(folder)
    setting = _setting(region)
    forget()
    cold = _seconds(lambda: _plan(setting, lat, lon))
    moved = [(lat + 0.0007 * n, lon + 0.0004 * n) for n in range(1, 8)]
    warm = min(_seconds(partial(_plan, setting, *at)) for at in moved)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    full = _setting(region, PERMIT + RULES_IN_FULL)
    plain_and_full = [
        (_seconds(partial(_plan, setting, *at)), _seconds(partial(_plan, full, *at))) for at in moved
    ]
    added = statistics.median(b / a for a, b in plain_and_full)
    rows = [("plan, warm", warm), ("plan, first in the process", cold)]
    rows += [("plan, warm, clauses of clock, record and consent besides", added * warm)]
    rows += [("command line, cold, with map", _command_line(folder, lat, lon))]
    rows += [("gdal_rasterize + gdal_proximity, two layers", _gdal(region, lat, lon))]
    rows += [("geopandas points, sjoin_nearest × 2, habitat join", _geopandas(region, lat, lon))]
    print(f"{'':58s} seconds  × warm plan")
    for name, seconds in rows:
        print(f"{name:58s} {seconds:7.2f}  {seconds / warm:8.1f}")
    print(f"largest memory of the planning process: {memory:.0f} MiB")


def _setting(region: Region, text: str = PERMIT) -> Setting:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "permit.toml"
        file.write_text(text, encoding="utf-8")
        permit = read_permit(file)
    now = datetime(2026, 6, 1, 9, tzinfo=UTC)
    return Setting(region, (permit,), read_house_rules(None).conditions, read_weights(), now=now)


def _plan(setting: Setting, lat: float, lon: float) -> None:
    animal = read_animal(ANSWERS, book=load_profiles())
    made = plan(Capture("B", Position(lon, lat, 10.0), setting.now, animal, ANSWERS), setting)
    assert made.counts["cells"] > 780_000


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _command_line(folder: Path, lat: float, lon: float) -> float:
    with tempfile.TemporaryDirectory() as out:
        permit = Path(out) / "permit.toml"
        permit.write_text(PERMIT, encoding="utf-8")
        command = [sys.executable, "-m", "tussock.cli", "plan", "--region", str(folder.resolve())]
        command += ["--permit", str(permit), "--at", f"{lat},{lon}", "--uncertainty", "10"]
        command += ["--species", "Vipera berus", "--count", "1"]
        command += ["--identification", "certain", "--origin", "wild_local", "--condition", "fit"]
        command += ["--life-stage", "adult", "--gravid", "no", "--found-in", "yard"]
        command += ["--now", "2026-06-01T09:00Z", "--out", str(Path(out) / "plan")]
        return min(
            _seconds(lambda: subprocess.run([*command, "--force"], check=True, capture_output=True, cwd=out))
            for _ in range(3)
        )


def _gdal(region: Region, lat: float, lon: float) -> float:
    """Rasterise and take the proximity of dwellings and roads on the same window with GDAL's tools."""
    with tempfile.TemporaryDirectory() as folder:
        total = 0.0
        for layer in ("dwellings", "roads"):
            features = Path(folder) / f"{layer}.gpkg"
            _write(region, layer, features)
            total += _seconds(partial(_proximity, features, region, lat, lon))
        return total


def _write(region: Region, layer: str, path: Path) -> None:
    import geopandas

    found = region.layer(layer).features
    geopandas.GeoDataFrame(geometry=found.geometries, crs=region.plane.crs).to_file(path)


def _proximity(features: Path, region: Region, lat: float, lon: float) -> None:
    x, y = (float(v) for v in region.plane.project(lon, lat))
    box = [str(v) for v in (x - REACH_M, y - REACH_M, x + REACH_M, y + REACH_M)]
    burnt, away = features.with_suffix(".tif"), features.with_suffix(".away.tif")
    cell = str(region.cell_m)
    burn = ["gdal_rasterize", "-q", "-at", "-burn", "1", "-ot", "Byte", "-tr", cell, cell, "-te", *box]
    subprocess.run([*burn, str(features), str(burnt)], check=True)
    subprocess.run(["gdal_proximity.py", "-q", "-distunits", "GEO", str(burnt), str(away)], check=True)


def _geopandas(region: Region, lat: float, lon: float) -> float:
    """Measure every cell's centre with geopandas joins in the plane."""
    import geopandas

    x, y = (float(v) for v in region.plane.project(lon, lat))
    c = region.cell_m
    steps = np.arange(-5000 // c, 5000 // c + 1)
    east, north = np.meshgrid((np.floor(x / c) + steps + 0.5) * c, (np.floor(y / c) + steps + 0.5) * c)
    inside = np.hypot(east - x, north - y) <= 5000
    layers = {n: region.layer(n).features for n in ("dwellings", "roads", "habitat")}

    def work() -> None:
        frame = geopandas.GeoDataFrame(geometry=geopandas.points_from_xy(east[inside], north[inside]))
        for name in ("dwellings", "roads"):
            other = geopandas.GeoDataFrame(geometry=layers[name].geometries)
            frame[["geometry"]].sjoin_nearest(other, distance_col="away")
        kinds = {"kind": layers["habitat"].classes}
        habitat = geopandas.GeoDataFrame(kinds, geometry=layers["habitat"].geometries)
        frame[["geometry"]].sjoin(habitat, how="left")

    return _seconds(work)


if __name__ == "__main__":
    main()
