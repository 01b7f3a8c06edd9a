"""Published figures through the command: what is in the file and what leaves it as it was.

That no set of files narrows a count is shown by integer programming in tests/hotspots/test_public_attack.py;
here it is held that the commands release no more than what is attacked there: disjoint sums in bands.
"""

from __future__ import annotations

import csv
import json
import random
import re
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely.geometry import shape

from tests.cli.publishing import (
    BLOCKS,
    KEYS,
    SOME,
    Rows,
    demo_rows,
    plain,
    publish,
    published,
    row,
    settle,
    written,
)
from tests.cli.running import Runner
from tests.hotspots.test_public_attack import LEAST_WIDTH
from tussock.geodesy import Plane
from tussock.hotspots import public


@pytest.mark.parametrize("by", BLOCKS)
def test_any_call_moves_within_its_unit_and_season(
    run: Runner, district: Path, tmp_path: Path, by: str
) -> None:
    assert settle(run, by).code == 0
    rows = demo_rows()[::SOME]
    ran = publish(run, by, calls=written(rows, tmp_path / "calls.csv"))
    assert ran.code == 0, ran.err
    (path,) = (district / "published").iterdir()
    before = path.read_bytes()
    moved = _moved(rows, json.loads((district / "public-units.geojson").read_text("utf-8")))
    assert moved != rows
    path.unlink()
    again = publish(run, by, calls=written(moved, tmp_path / "moved.csv"))
    assert again.code == 0, again.err
    assert path.read_bytes() == before
    assert again.out == ran.out
    shown = publish(run, by, "--format", "json").out
    assert shown.encode() == before


@pytest.mark.parametrize("by", BLOCKS)
def test_calls_that_leave_their_unit_or_season_change_it(
    run: Runner, district: Path, tmp_path: Path, by: str
) -> None:
    """The control of the test above: the file does depend on the calls."""
    settle(run, by)
    rows = demo_rows()[::SOME]
    publish(run, by, calls=written(rows, tmp_path / "calls.csv"))
    other = {"eventDate": "2027-01-10T10:00:00+11:00"}
    if by == "unit":
        other = {"decimalLatitude": "-42.0990", "decimalLongitude": "147.5840"}
    ran = publish(run, by, calls=written([{**r, **other} for r in rows], tmp_path / "moved.csv"))
    assert ran.code == 3 and "other figures of the same seasons" in ran.err


def test_the_bands_are_those_of_the_calls(run: Runner, district: Path, tmp_path: Path) -> None:
    # the referee: the outlines of the stored units, as shapely reads them, and the calendar
    settle(run)
    rows = [r for r in demo_rows() if r["decimalLatitude"]][::SOME]
    publish(run, calls=written(rows, tmp_path / "calls.csv"))
    stored = json.loads((district / "public-units.geojson").read_text("utf-8"))
    counts: Counter[str] = Counter()
    for r in rows:
        if r["eventDate"][:10] <= "2026-06-30":
            at = shape(
                {
                    "type": "Point",
                    "coordinates": [float(r["decimalLongitude"]), float(r["decimalLatitude"])],
                }
            )
            counts.update(f["id"] for f in stored["features"] if shape(f["geometry"]).contains(at))
    (document,) = published(district)
    bands = {"0–4": (0, 4), "5–9": (5, 9), "10–19": (10, 19), "20–49": (20, 49)}
    assert len({f["calls"] for f in document["figures"]}) > 1
    for figure in document["figures"]:
        low, high = bands[figure["calls"]]
        assert low <= counts[figure["unit"]] <= high


@pytest.mark.parametrize("by", BLOCKS)
def test_only_keys_of_the_list_and_nothing_of_the_making(
    run: Runner, district: Path, tmp_path: Path, by: str
) -> None:
    settle(run, by)
    plain(tmp_path, *(row(n) for n in range(7)))
    publish(run, by)
    (path,) = (district / "published").iterdir()
    text = path.read_text("utf-8")
    document = json.loads(text)
    assert set(document) == KEYS
    for figure in document["figures"]:
        assert set(figure) == {by, "dwellings", "perhaps_dwellings", "calls", "rate_low", "rate_high"}
    assert not re.search(r"[0-9a-f]{32}", text)  # no hash
    for part in ("calls.csv", "district/", "2026-11-20", "tussock", "K-1", "-42.09", "147.58", "T10:00"):
        assert part not in text
    # 7 calls: no number of the file is their count
    assert not re.search(r"\b7\b", text)
    assert path.name == f"calls-by-{by}-{document['seasons'][0]}-to-{document['seasons'][-1]}.json"


@pytest.mark.parametrize("by", BLOCKS)
def test_whatever_is_asked_files_are_disjoint_and_in_bands(
    run: Runner, district: Path, tmp_path: Path, by: str
) -> None:
    settle(run, by)
    plain(tmp_path, *(row(n, time=f"20{25 + n % 3}-01-10T10:00:00+11:00") for n in range(30)))
    days = {"observed": "2015-01-01..2035-01-01", "now": "2035-06-01T00:00+10:00"}
    done = [year for year in range(2018, 2037) if publish(run, by, **days, public=str(year)).code == 0]
    # the block from 2034 on has not been observed to its end, the season from 2035 on has not ended
    assert done == {"unit": [2024, 2026, 2028, 2030, 2032], "season": [*range(2025, 2034)]}[by]
    documents = published(district)
    named = [name for d in documents for name in d["seasons"]]
    assert len(named) == len(set(named)) and len(documents) == len(done)
    assert _narrowest(documents) >= LEAST_WIDTH


def test_a_band_too_narrow_would_be_seen(
    run: Runner, district: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settle(run, "season")
    plain(tmp_path, *(row(n) for n in range(6)))
    monkeypatch.setattr(public, "BANDS", ((0, 4), (5, 7), (8, 19), (20, 49), (50, None)))
    assert publish(run, "season").code == 0
    assert _narrowest(published(district)) < LEAST_WIDTH


def test_formats_say_the_same(run: Runner, district: Path, tmp_path: Path) -> None:
    settle(run)
    plain(tmp_path, *(row(n) for n in range(7)))
    (document, table, text) = (publish(run, "unit", "--format", f).out for f in ("json", "csv", "table"))
    figures = json.loads(document)["figures"]
    for figure, line in zip(figures, csv.DictReader(table.splitlines()), strict=True):
        assert line["unit"] == figure["unit"] and line["calls"] == figure["calls"]
        assert float(line["rate_low"]) == figure["rate_low"]
        assert float(line["rate_high"]) == figure["rate_high"]
        assert re.search(rf"{figure['unit']} +{figure['dwellings']} +0 +{figure['calls']} ", text)


def _arrays(x: list[float], y: list[float]) -> Any:
    return np.array(x), np.array(y)


def _moved(rows: Rows, stored: dict[str, Any]) -> Rows:
    """Return the rows, each with a place moved in its unit and a time moved in its season, in another order.

    Seasons and units are worked out here from the calendar and from the stored edges.
    """
    chance = random.Random(5)
    plane = Plane(stored["plane"]["longitude"], stored["plane"]["latitude"])
    units = [f["properties"] for f in stored["features"]]
    out = []
    for r in rows:
        time = datetime.fromisoformat(r["eventDate"])
        if not r["decimalLatitude"] or time > datetime(2026, 6, 30, 13, tzinfo=UTC):
            out.append(r)
            continue
        x, y = plane.project(*_arrays([float(r["decimalLongitude"])], [float(r["decimalLatitude"])]))
        inside = [u for u in units if u["west"] <= x[0] < u["east"] and u["south"] <= y[0] < u["north"]]
        if not inside:
            out.append(r)
            continue
        (u,) = inside
        to = [chance.uniform(u["west"] + 1, u["east"] - 1)], [chance.uniform(u["south"] + 1, u["north"] - 1)]
        lon, lat = plane.unproject(*_arrays(*to))
        # seasons begin in July at 14:00 UTC on 30 June; Hobart is ten hours ahead then
        first = datetime(time.astimezone(UTC).year - (time.astimezone(UTC).month < 7), 6, 30, 14, tzinfo=UTC)
        then = datetime.fromtimestamp(first.timestamp() + chance.randrange(365 * 86_400), tz=UTC)
        moved = {"decimalLatitude": f"{lat[0]:.7f}", "decimalLongitude": f"{lon[0]:.7f}"}
        out.append({**r, **moved, "eventDate": then.isoformat()})
    chance.shuffle(out)
    return out


def _narrowest(documents: list[dict[str, Any]]) -> float:
    """Return the narrowest band of all files."""
    widths = []
    for document in documents:
        for figure in document["figures"]:
            low, _, high = figure["calls"].rstrip("+").partition("–")
            widths.append(int(high) - int(low) if high else float("inf"))
    return min(widths)
