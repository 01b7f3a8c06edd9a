"""``tussock hotspots``: areas of one's own, releases, the smooth surface, where to stand by; bad input.

The district is small and made here: 400 homes 50 m apart, a creek along their western side.
"""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pytest
import shapely

from tests.cli.running import Ran, Runner
from tests.support.regions import HOBART, Ground, Thing, written_region

HEAD = (
    "calloutID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,outcome,"
    "scientificName"
)
NOW = ("--now", "2026-07-20T12:00:00+10:00")
FIXED = ("--region", "district", "--timezone", "Australia/Hobart", *NOW)
OBSERVED = ("--observed", "2024-07-01..2026-06-30", "--replicates", "99")
SIDE, APART = 20, 50.0
WIDE = 78
"""Columns of the terminal in these tests."""
_ALL = {
    *("format", "software", "note", "claim", "headline", "region", "observed", "days", "zone", "base"),
    *(
        "yearly_figures_of",
        "warning",
        "seed",
        "replicates",
        "inputs",
        "counted",
        "homes",
        "district_rate",
        "by_species",
        "edges",
        "clusters",
    ),
    *("space_time", "when", "rates", "cells", "surface", "repeats", "odds", "standby", "reruns", "notes"),
    "missing",
}
KEYS: dict[str, set[str]] = {
    "": _ALL,
    "counted": {
        *("read", "without_place", "future", "other_times", "duplicates", "outside_region", "outside_extent"),
        *("left_out", "calls", "incidents", "without_homes", "in_no_unit", "untested", "too_vague", "tested"),
        *("calls_joined_by_radius", "calls_too_rough_to_join", "silence"),
    },
    "homes": {"low", "high", "outside", "others_given"},
    "district_rate": {"value", "low", "high", "unit"},
    "by_species[]": {"species", "incidents"},
    "edges[]": {
        *("edge", "layer", "tested", "found", "bands", "ratio_low", "ratio_high", "interval_low"),
        *("interval_high", "p", "p_adjusted", "p_more", "p_more_adjusted"),
        *("incidents_inside", "incidents_beyond", "incidents_vague"),
    },
    "edges[].bands[]": {"near_m", "far_m", "incidents", "homes", "per_1000_homes_observed"},
    "clusters": {
        *("resolution", "cells", "incidents", "variation_between_cells", "circles", "circles_with_base"),
        *("times_as_often_per_km_from_base", "power"),
    },
    "clusters.circles[]": {
        *("rank", "longitude", "latitude", "cells", "farthest_corner_m", "incidents", "expected"),
        *("relative_risk", "homes_low", "homes_high", "p_chance", "p_uneven", "stands_out", "species"),
        *(f"{figure}_sure_homes" for figure in ("incidents", "expected", "relative_risk", "p")),
    },
    "clusters.power[]": {"share", "expected", "relative_risk", "found"},
    "space_time": {"incidents", "combinations"},
    "space_time.combinations[]": {
        *("rank", "longitude", "latitude", "cells", "farthest_corner_m", "incidents", "expected"),
        *("relative_risk",),
        *("first_month", "last_month", "p", "stands_out"),
    },
    "when": {
        *(
            "days_by_month",
            "season_year_begins_in_month",
            "quiet_share",
            "calendars",
            "found_in",
            "captured",
            "attempts",
        ),
        *("share_captured", "no_attempt"),
    },
    "when.calendars[]": {
        *("species", "incidents", "by_month", "by_hour", "by_month_and_hour", "at_midnight", "hour"),
    },
    "rates": {
        *("resolution", "rule", "reached", "expected_by_resolution", "mean_expected", "cells", "tested"),
        *("probably_above", "ring_tested", "ring_flagged", "odds"),
    },
    "surface": {
        *("p", "above_envelope_ha", "shown_ha", "greatest_ratio", "bandwidth_m", "replicates"),
    },
    "repeats": {"within_days", "within_m", "at_place", "release_within_m", "after_release"},
    "repeats.at_place": {"of", "observed", "expected", "low", "high", "p", "marked", "left_out"},
    "odds": {
        *("area", "words", "incidents", "homes", "years", "one_in", "fewer_than_one_in", "left", "reason"),
    },
    "standby": {"distances", "points", "expected_m", "base_m", "exact", "verdict", "last_season", "slices"},
    "standby.last_season": {"calls", "base_m", "points_m", "saved_m", "better"},
    "reruns[]": {"what", "step", "size", "found", "stands"},
}
"""The keys of the JSON, by where they stand; ``[]`` is each item of a list."""


@pytest.fixture(autouse=True)
def district(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Write the district beside the tables, and fix how wide the terminal is."""
    monkeypatch.setenv("COLUMNS", str(WIDE))
    homes = [Thing(shapely.Point(*_home(k)), "house", id=str(k)) for k in range(SIDE * SIDE)]
    creek = Thing(shapely.LineString([(0, -100), (0, 1100)]), "stream")
    known = [shapely.box(-50, -50, 1050, 1050)]
    layers = {"dwellings": homes, "water": [creek]}
    return written_region(Ground(layers, known={"": known}), tmp_path / "district")


def _home(k: int) -> tuple[float, float]:
    return 25.0 + APART * (k % SIDE), 25.0 + APART * (k // SIDE)


def _row(n: int, k: int, day: date, *, hour: int = 12) -> str:
    longitude, latitude = HOBART.unproject(*(np.array([v]) for v in _home(k)))
    at = f"{latitude[0]:.6f},{longitude[0]:.6f}"
    time = datetime(day.year, day.month, day.day, hour).isoformat()
    return f"K-{n},{time}+10:00,{at},20,captured,Notechis scutatus"


def _calls(number: int = 240, *, east: bool = False) -> list[str]:
    """Return calls of two seasons, October to April, from homes drawn at random: all, or the east alone."""
    rng, rows = random.Random(5), []
    for n in range(number):
        x = rng.randrange(SIDE // 2, SIDE) if east else rng.randrange(SIDE)
        k = x + SIDE * rng.randrange(SIDE)
        day = date(2024 + n % 2, 10, 1) + timedelta(days=rng.randrange(211))
        rows.append(_row(n, k, day, hour=rng.randrange(8, 20)))
    return rows


def _run(run: Runner, folder: Path, rows: Sequence[str], *more: str) -> Ran:
    (folder / "calls.csv").write_text("\n".join([HEAD, *rows]) + "\n", "utf-8")
    return run("hotspots", "--callouts", "calls.csv", *FIXED, *OBSERVED, *more)


def _json(run: Runner, folder: Path, rows: Sequence[str], *more: str) -> Any:
    ran = _run(run, folder, rows, *more, "--format", "json")
    assert ran.code == 0, ran.err
    return json.loads(ran.out, parse_constant=lambda word: pytest.fail(f"{word} is no JSON (RFC 8259)"))


def _base(x: float, y: float) -> str:
    longitude, latitude = HOBART.unproject(np.array([x]), np.array([y]))
    return f"--base={latitude[0]:.5f},{longitude[0]:.5f}"


def _wards(path: Path, *bounds: tuple[float, float, float, float], crs: Any = HOBART.crs) -> None:
    names = [f"Ward {chr(65 + i)}" for i in range(len(bounds))]
    frame = geopandas.GeoDataFrame({"name": names}, geometry=[shapely.box(*b) for b in bounds], crs=crs)
    (frame.to_crs(4326) if crs is not None else frame).to_file(path)


def _keys(made: Any, *path: str) -> dict[str, set[str]]:
    """Return the keys that stand at each place of a JSON value."""
    if isinstance(made, list):
        parts = [_keys(one, *path[:-1], f"{path[-1]}[]") for one in made]
        return {at: set().union(*(p.get(at, set()) for p in parts)) for p in parts for at in p}
    if not isinstance(made, dict):
        return {}
    found = {".".join(path): set(made)}
    for key, value in made.items():
        found |= _keys(value, *path, key)
    return found


def test_the_json_holds_what_is_listed_and_nothing_is_nan(run: Runner, tmp_path: Path) -> None:
    release = "captureID,eventDate,decimalLatitude,decimalLongitude,disposal,scientificName\nC-1,"
    release += ",".join(_row(0, 5, date(2025, 1, 5)).split(",")[1:4]) + ",released,Notechis scutatus\n"
    (tmp_path / "releases.csv").write_text(release, "utf-8")
    more = ("--standby", "1", "--surface", "--releases", "releases.csv", _base(900, 900))
    told = _json(run, tmp_path, _calls(), *more)
    found = _keys(told)
    assert {at: found.get(at) for at in KEYS} == KEYS
    assert set(told["inputs"]) >= {"region.toml", "dwellings.gpkg", "calls.csv", "releases.csv"}
    assert told["repeats"]["after_release"]["of"] == 1
    near, *_, far = told["edges"][0]["bands"]
    assert (near["homes"]["low"], far["far_m"]) == (2 * SIDE, 1000)  # columns at 25 m and 75 m
    counted = told["counted"]
    assert counted["left_out"] + counted["calls"] == counted["read"] == 240


def test_the_terminal_is_as_wide_as_it_is_and_says_each_part(run: Runner, tmp_path: Path) -> None:
    more = ("--standby", "2", "--surface", _base(0, 0))
    ran = _run(run, tmp_path, _calls(), *more)
    assert ran.code == 0, ran.err
    lines = ran.out.splitlines()
    assert max(map(len, lines)) <= WIDE and lines[0] and "\u202f" not in ran.out
    heads = [line for line in lines if line and not line.startswith(" ")]
    order = ["What is counted", "Edges", "Clusters", "When", "Rates on the map", "Calls again", "Odds"]
    assert [h for h in heads if h in order] == order and "Where to stand by" in heads
    told = " ".join(ran.out.split())
    for words in (
        "in a straight line",
        "Smooth surface: ",
        "by chance",
        "With it allowed for",
        "One step finer",
    ):
        assert words in told


def test_points_far_from_a_bad_base_save_what_the_distances_say(run: Runner, tmp_path: Path) -> None:
    """All calls are in the eastern half, the base is 3 km west of it: what is saved is near 3 km."""
    told = _json(run, tmp_path, _calls(east=True), "--standby", "1", _base(-2250, 500))
    last = told["standby"]["last_season"]
    assert last["better"] and told["standby"]["verdict"].startswith("nearer than your base by")
    # mean |x| and |y| from the middle of a square of 500 m by 1,000 m: the point is some 280 m from a call
    assert 2500 < last["saved_m"]["low"] < last["saved_m"]["value"] < last["saved_m"]["high"] < 3000
    assert abs(last["base_m"] - 3000) < 100


def test_no_better_than_the_base_is_a_result(run: Runner, tmp_path: Path) -> None:
    ran = _run(run, tmp_path, _calls(), "--standby", "1", _base(500, 500))
    assert "No better than your base: that is a result." in ran.out


def test_areas_of_ones_own_are_counted_in(run: Runner, tmp_path: Path) -> None:
    _wards(tmp_path / "wards.gpkg", (-50, -50, 500, 1050), (500, -50, 900, 1050))
    told = _json(run, tmp_path, _calls(), "--units", "wards.gpkg")
    cells = {c["properties"]["cell"]: c["properties"] for c in told["cells"]}
    assert {n: c["homes_low"] for n, c in cells.items()} == {"Ward A": 200, "Ward B": 160}
    counted = told["counted"]
    inside = sum(c["incidents"] for c in cells.values())
    assert inside + counted["in_no_unit"] == counted["incidents"] and counted["in_no_unit"] > 0
    assert told["rates"]["resolution"] is None and "units: wards.gpkg" in told["inputs"]
    said = _run(run, tmp_path, _calls(), "--units", "wards.gpkg").out
    assert "2 areas as supplied" in said and "from none of the areas supplied" in said


def test_one_small_area_claims_nothing_and_says_that_it_is_small(run: Runner, tmp_path: Path) -> None:
    _wards(tmp_path / "one.geojson", (0, 0, 100, 100))
    ran = _run(run, tmp_path, _calls(40), "--units", "one.geojson", "--out", "where")
    assert ran.code == 0 and "None of 1 area is probably above" in ran.out
    assert "They are small" in ran.out and "Ward A" in (tmp_path / "where-cells.csv").read_text("utf-8")


@pytest.mark.parametrize(
    ("more", "code", "words"),
    [
        (["--units", "none.gpkg"], 3, "--units none.gpkg: there is no such file"),
        (["--units", "bare.gpkg"], 3, "no coordinate system"),
        (["--units", "overlap.gpkg"], 3, "'Ward A' and 'Ward B' overlap by"),
        (["--units", ""], 2, "--units: it is empty"),
        (["--units-name", "ward"], 2, "name the file of areas"),
        (["--base", "51.5,-0.1"], 2, "km from the homes of 'test'"),
        (["--base=-42.1,500"], 2, "--base"),
        (["--timezone", "Nowhere/Else"], 2, "--timezone"),
        (["--observed", "2025-02-31..2025-03-01"], 2, "'2025-02-31' is not a date"),
        (["--out", "."], 2, "it is a folder"),
        (["--out", ".."], 2, "it is a folder"),
        (["--out", "district"], 2, "it is a folder"),
        (["--releases", "none.csv"], 3, "none.csv"),
    ],
)
def test_what_cannot_be_asked_is_said(
    run: Runner, tmp_path: Path, more: list[str], code: int, words: str
) -> None:
    _wards(tmp_path / "overlap.gpkg", (0, 0, 600, 1000), (500, 0, 1000, 1000))
    frame = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 1, 1)])
    with pytest.warns(UserWarning, match="crs"):
        frame.to_file(tmp_path / "bare.gpkg")
    ran = _run(run, tmp_path, _calls(8), *more)
    assert (ran.code, words in ran.err, ran.out) == (code, True, ""), ran.err
    assert "Traceback" not in ran.err and "Do: " in ran.err


def test_tables_without_callouts_are_no_calls(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "releases.csv").write_text("captureID,eventDate\n", "utf-8")
    ran = run("hotspots", "--releases", "releases.csv", *FIXED, *OBSERVED)
    assert ran.code == 2 and "--releases alone: no calls" in ran.err


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("eventDate,decimalLatitude\n2026-01-01T10:00:00+10:00,-42\n", "missing column calloutID"),
        (HEAD + "\n", "no row below the header"),
        (f"{HEAD}\nK-1,2026-01-10T10:00:00+10:00,147.6,-42.1,20,captured,\n", "look swapped"),
        (f"{HEAD}\n" + f"{_row(1, 5, date(2026, 1, 1))}\n" * 2, "'K-1' stands in rows 2, 3"),
        (f"{HEAD}\n{_row(1, 5, date(2026, 1, 1)).replace('+10:00', '')}\n", "has no zone"),
    ],
)
def test_a_table_that_is_none_names_file_and_row(run: Runner, tmp_path: Path, table: str, words: str) -> None:
    (tmp_path / "calls.csv").write_text(table, "utf-8")
    ran = run("hotspots", "--callouts", "calls.csv", *FIXED, *OBSERVED)
    assert (ran.code, words in ran.err, ran.out) == (3, True, ""), ran.err
    assert "calls.csv" in ran.err and "Do: " in ran.err


def test_no_call_of_the_time_observed_is_said_with_the_days_of_the_book(run: Runner, tmp_path: Path) -> None:
    ran = _run(run, tmp_path, _calls(12), "--observed", "2010-01-01..2011-01-01", "--standby", "1")
    assert ran.code == 0
    assert ran.out.startswith("None of the 12 calls read is counted, so nothing is said of edges or places.")
    said = " ".join(ran.out.split())
    assert "12 at other times" in said and "No call is of the time observed: those in the book" in said


def test_one_day_scales_no_odds(run: Runner, tmp_path: Path) -> None:
    day = date(2026, 1, 10)
    ran = _run(run, tmp_path, [_row(n, 40 * n, day) for n in range(6)], "--observed", f"{day}..{day}")
    assert ran.code == 0 and "1 day was observed" in " ".join(ran.out.split())


def test_all_calls_from_one_home_are_one_incident_or_one_place(run: Runner, tmp_path: Path) -> None:
    soon = [_row(n, 5, date(2026, 1, 1) + timedelta(days=n)) for n in range(9)]
    assert _json(run, tmp_path, soon)["counted"]["incidents"] == 1
    apart = [_row(n, 5, date(2025, 1, 1) + timedelta(days=30 * n)) for n in range(9)]
    told = _json(run, tmp_path, apart)
    assert told["counted"]["incidents"] == 9
    assert told["clusters"]["circles"][0]["relative_risk"] is None  # none outside it: no number


def test_more_points_than_places_are_refused(run: Runner, tmp_path: Path) -> None:
    few = [Thing(shapely.Point(*_home(k)), "house", id=str(k)) for k in (0, 210)]
    known = [shapely.box(-50, -50, 1050, 1050)]
    written_region(Ground({"dwellings": few}, known={"": known}), tmp_path / "hamlet")
    rows = [_row(n, 210 * (n % 2), date(2025, 1, 1) + timedelta(days=40 * n)) for n in range(6)]
    ran = _run(run, tmp_path, rows, "--region", "hamlet", "--standby", "5")
    assert ran.code == 3 and "--standby: 5 points of 2 places to stand by at" in ran.err


@pytest.mark.parametrize("name", ["calls", "district/dwellings", "wards"])
def test_no_input_is_overwritten_even_with_force(run: Runner, tmp_path: Path, name: str) -> None:
    """Each name would make a file that is read: a table, a file of the region, the areas."""
    _wards(tmp_path / "wards.gpkg", (-50, -50, 1050, 1050))
    ran = _run(run, tmp_path, _calls(8), "--units", "wards.gpkg")
    (tmp_path / "calls-cells.csv").write_bytes((tmp_path / "calls.csv").read_bytes())
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    typed = ("--callouts", "calls-cells.csv", *FIXED, *OBSERVED, "--units", "wards.gpkg")
    ran = run("hotspots", *typed, "--out", name, "--force")
    assert ran.code == 3 and "it is one of the inputs" in ran.err
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before


def test_a_logbook_is_read_and_not_overwritten(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "calls.csv").write_text("\n".join([HEAD, *_calls(30)]) + "\n", "utf-8")
    imported = run("log", "import", "calls.csv", "--logbook", "book.gpkg", "--by", "Ines Tarrowby", *NOW)
    assert imported.code == 0, imported.err
    typed = ("--logbook", "book.gpkg", *FIXED, *OBSERVED)
    ran = run("hotspots", *typed, "--format", "json")
    assert ran.code == 0 and json.loads(ran.out)["counted"]["read"] == 30
    before = (tmp_path / "book.gpkg").read_bytes()
    ran = run("hotspots", *typed, "--out", "book", "--force")
    assert ran.code == 3 and "it is one of the inputs" in ran.err
    assert (tmp_path / "book.gpkg").read_bytes() == before
