"""Published figures through the commands: what is settled, what is written, what is refused.

That no set of files narrows a count is shown by integer programming in tests/hotspots/test_public_attack.py;
here it is held that the commands release no more than what is attacked there: disjoint sums in bands.
"""

from __future__ import annotations

import csv
import json
import random
import re
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import geopandas
import pytest
from shapely.geometry import shape

from tests.cli.running import DATA, Runner
from tests.hotspots.test_public_attack import LEAST_WIDTH
from tussock.cli.hotspots_options import HotspotsOptions
from tussock.cli.hotspots_public import run_public
from tussock.geodesy import Plane
from tussock.hotspots import public
from tussock.records.entries import CALLOUT
from tussock.records.source import open_book

ZONE = "Australia/Hobart"
HEAD = "calloutID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,outcome"
BLOCKS = {"unit": ("2", 2024, "2024-07-01..2026-06-30"), "season": ("1", 2025, "2025-07-01..2026-06-30")}
"""How many seasons, the first, and the days of the first block."""
KEYS = {"what", "region", "by", "seasons", "figures", "dwellings_from"}
UNITS_KEYS = {
    *("type", "name", "rule", "least_dwellings", "attribution", "plane", "published", "features", "checksum"),
    *("longitude", "latitude", "dimension", "first_season", "start_month", "zone", "seasons"),
    *("id", "properties", "geometry", "coordinates", "west", "south", "east", "north", "dwellings"),
}
SOME = 15
"""Of how many calls of the district one is taken where its bands would all be open otherwise."""
Rows = list[dict[str, str]]


def settle(run: Runner, like: str = "unit", /, **more: str) -> Any:
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


def publish(run: Runner, by: str = "unit", *more: str, calls: str = "calls.csv", **changed: str) -> Any:
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


class TestUnits:
    """``tussock region units``."""

    def test_it_says_what_is_settled(self, run: Runner, district: Path) -> None:
        ran = settle(run)
        assert ran.code == 0, ran.err
        stored = json.loads((district / "public-units.geojson").read_text("utf-8"))
        sizes = [f["properties"]["dwellings"] for f in stored["features"]]
        # the referee: pandas adds up the homes that stand in the middle of the block and lie in the extent
        homes = geopandas.read_file(DATA / "ground.gpkg", layer="dwellings")
        extent = geopandas.read_file(DATA / "known_extent.geojson").to_crs(homes.crs)
        built = ~(homes.valid_from.astype("datetime64[ns]") > "2025-07-01")
        at = homes.to_crs(32755).centroid.to_crs(homes.crs)
        within = built & at.within(extent.union_all())
        surely = ~homes["class"].isin(["unknown", "public", "commercial"])
        assert sum(sizes) == homes.homes[within & surely].fillna(1).sum()
        assert min(sizes) >= 500
        assert f"{len(sizes)} units, from {min(sizes)} to {max(sizes)} dwellings" in ran.out
        for part in ("figures by unit", "2 seasons in a file", "1st of July (Australia/Hobart)", "2024-25"):
            assert part in ran.out
        assert "2024-25 to 2025-26, from 2026-07-01 on" in ran.out
        assert "--public 2024 --observed 2024-07-01..2026-06-30" in ran.out
        assert keys(stored) <= UNITS_KEYS

    def test_the_same_choices_make_the_same_file(self, run: Runner, district: Path) -> None:
        made = []
        for _ in range(2):
            assert settle(run, "season").code == 0
            made.append((district / "public-units.geojson").read_bytes())
            (district / "public-units.geojson").unlink()
        assert made[0] == made[1]

    def test_a_second_one_is_refused(self, run: Runner, district: Path) -> None:
        assert settle(run).code == 0
        before = everything(district)
        for by, more in (("unit", {}), ("season", {}), ("unit", {"least": "800"})):
            ran = settle(run, by, **more)
            assert (ran.code, ran.out) == (3, "") and "one set of units for ever" in ran.err
        assert everything(district) == before

    def test_nor_once_figures_are_out_and_the_units_gone(
        self, run: Runner, district: Path, tmp_path: Path
    ) -> None:
        settle(run)
        plain(tmp_path, row(1))
        assert publish(run).code == 0
        (district / "public-units.geojson").unlink()
        ran = settle(run)
        assert ran.code == 3 and "released" in ran.err

    @pytest.mark.parametrize(
        ("more", "code", "words"),
        [
            ({"by": "month"}, 2, "--by"),
            ({"by": "species"}, 2, "--by"),
            ({"season-starts": "13"}, 2, "--season-starts"),
            ({"season-starts": "July"}, 2, "--season-starts"),
            ({"seasons": "1"}, 2, "a whole number, 2 to 20"),
            ({"seasons": "21"}, 2, "--seasons"),
            ({"first-season": "24"}, 2, "first_season is 24"),
            ({"first-season": "9" * 30}, 2, "first_season is 9"),
            ({"least": "99"}, 2, "100 dwellings or more"),
            ({"least": "-1"}, 2, "100 dwellings or more"),
            ({"least": "7000"}, 3, "the region holds"),
            ({"timezone": "Nowhere/None"}, 2, "--timezone"),
            ({"timezone": "../../etc/passwd"}, 2, "--timezone"),
        ],
    )
    def test_what_cannot_be_settled(
        self, run: Runner, district: Path, more: dict[str, str], code: int, words: str
    ) -> None:
        before = everything(district)
        ran = settle(run, **more)
        assert (ran.code, ran.out) == (code, ""), ran.err
        assert words in ran.err and "Traceback" not in ran.err
        assert everything(district) == before

    def test_no_zone_is_guessed(self, run: Runner, district: Path) -> None:
        ran = run(
            "region", "units", "district", "--by", "unit", "--season-starts", "7", "--first-season", "2024"
        )
        assert ran.code == 2 and "no time zone is named" in ran.err
        assert not (district / "public-units.geojson").exists()

    def test_buildings_of_unknown_use_are_no_homes(self, run: Runner, district: Path) -> None:
        path = district / "region.toml"
        crosswalk = '[layers.dwellings.crosswalk]\n"*" = "unknown"\n\n[layers.peopled_places]'
        path.write_text(path.read_text("utf-8").replace("[layers.peopled_places]", crosswalk), "utf-8")
        ran = settle(run)
        assert ran.code == 3 and "the region holds 0 dwellings" in ran.err

    def test_a_region_without_dwellings(self, run: Runner, district: Path) -> None:
        path = district / "region.toml"
        text = re.sub(
            r"\[layers\.dwellings\].*?(?=\[layers\.peopled)", "", path.read_text("utf-8"), flags=re.S
        )
        path.write_text(text, "utf-8")
        ran = settle(run)
        assert ran.code == 4 and "no layer of dwellings" in ran.err


class TestTheFile:
    """What is in the file and what leaves it as it was."""

    @pytest.mark.parametrize("by", BLOCKS)
    def test_any_call_moves_within_its_unit_and_season(
        self, run: Runner, district: Path, tmp_path: Path, by: str
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
        self, run: Runner, district: Path, tmp_path: Path, by: str
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

    def test_the_bands_are_those_of_the_calls(self, run: Runner, district: Path, tmp_path: Path) -> None:
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
        self, run: Runner, district: Path, tmp_path: Path, by: str
    ) -> None:
        settle(run, by)
        plain(tmp_path, *(row(n) for n in range(7)))
        publish(run, by)
        (path,) = (district / "published").iterdir()
        text = path.read_text("utf-8")
        document = json.loads(text)
        assert set(document) == KEYS
        for figure in document["figures"]:
            assert set(figure) == {by, "dwellings", "calls", "rate_low", "rate_high"}
        assert not re.search(r"[0-9a-f]{32}", text)  # no hash
        for part in ("calls.csv", "district/", "2026-11-20", "tussock", "K-1", "-42.09", "147.58", "T10:00"):
            assert part not in text
        # 7 calls: no number of the file is their count
        assert not re.search(r"\b7\b", text)
        assert path.name == f"calls-by-{by}-{document['seasons'][0]}-to-{document['seasons'][-1]}.json"

    @pytest.mark.parametrize("by", BLOCKS)
    def test_whatever_is_asked_files_are_disjoint_and_in_bands(
        self, run: Runner, district: Path, tmp_path: Path, by: str
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
        self, run: Runner, district: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        settle(run, "season")
        plain(tmp_path, *(row(n) for n in range(6)))
        monkeypatch.setattr(public, "BANDS", ((0, 4), (5, 7), (8, 19), (20, 49), (50, None)))
        assert publish(run, "season").code == 0
        assert _narrowest(published(district)) < LEAST_WIDTH

    def test_formats_say_the_same(self, run: Runner, district: Path, tmp_path: Path) -> None:
        settle(run)
        plain(tmp_path, *(row(n) for n in range(7)))
        (document, table, text) = (publish(run, "unit", "--format", f).out for f in ("json", "csv", "table"))
        figures = json.loads(document)["figures"]
        for figure, line in zip(figures, csv.DictReader(table.splitlines()), strict=True):
            assert line["unit"] == figure["unit"] and line["calls"] == figure["calls"]
            assert float(line["rate_low"]) == figure["rate_low"]
            assert float(line["rate_high"]) == figure["rate_high"]
            assert re.search(rf"{figure['unit']} +{figure['dwellings']} +{figure['calls']} ", text)


class TestTheMaker:
    """What only the maker is told, on stderr."""

    def test_every_row_is_accounted_for(self, run: Runner, district: Path, tmp_path: Path) -> None:
        settle(run)
        calls = plain(
            tmp_path,
            *(row(n) for n in range(5)),
            row(10, at="-41.0000,147.5840"),
            row(11, time="2023-01-10T10:00:00+11:00"),
            row(12, time="2026-07-01T00:00:00+10:00"),
            row(13, time="2027-01-10T10:00:00+11:00"),
            row(14, at=","),
        )
        ran = publish(run, calls=calls)
        assert ran.code == 0, ran.err
        assert "5 calls are in the figures." in ran.err
        left = "1 outside all units, 2 in other seasons, 1 still to come, 1 without a place"
        assert f"Not in them: {left}." in ran.err
        assert "Calls to this logbook, not snakes." in ran.err
        assert "For you alone" not in ran.out

    def test_a_circle_over_an_edge_is_told(self, run: Runner, district: Path, tmp_path: Path) -> None:
        settle(run)
        stored = json.loads((district / "public-units.geojson").read_text("utf-8"))
        unit = stored["features"][0]["properties"]
        plane = Plane(stored["plane"]["longitude"], stored["plane"]["latitude"])
        x = [unit["east"] - 15.0, unit["east"] - 400.0]
        lon, lat = plane.unproject(*_arrays(x, [unit["north"] - 700.0] * 2))
        calls = plain(tmp_path, *(row(n, at=f"{lat[n]:.7f},{lon[n]:.7f}") for n in range(2)))
        ran = publish(run, calls=calls)
        assert "2 calls are in the figures" in ran.err
        assert "1 may belong elsewhere" in ran.err

    def test_a_callout_without_a_place_stands_where_its_capture_does(
        self, run: Runner, district: Path, tmp_path: Path
    ) -> None:
        settle(run)
        calls = plain(tmp_path, row(1, at=","))
        (tmp_path / "captures.csv").write_text(
            "captureID,calloutID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,"
            "scientificName\nC-1,K-1,2026-01-10T11:00:00+11:00,-42.0990,147.5840,20,Notechis scutatus\n",
            "utf-8",
        )
        assert "0 calls are in the figures. Not in them: 1 without a place." in publish(run, calls=calls).err
        assert (
            "1 call is in the figures. Not in them: none."
            in publish(run, calls=calls, captures="captures.csv").err
        )

    def test_a_row_that_stands_there_twice_counts_once(
        self, run: Runner, district: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        # a table with an id twice is refused; a book that holds an entry twice has four calls here, in band
        # 0–4, where five would be in 5–9
        settle(run, "season")
        ran = publish(run, "season", calls=plain(tmp_path, *(row(n) for n in (0, 1, 2, 3, 3))))
        assert ran.code == 3 and "K-3" in ran.err and not (district / "published").exists()
        book = open_book({CALLOUT: tmp_path / plain(tmp_path, *(row(n) for n in range(4)))})
        twice = replace(book, entries=(*book.entries, book.entries[3]))
        given = HotspotsOptions(
            observed=BLOCKS["season"][2], region=district, public=2025, now="2026-11-20T09:00+11:00"
        )
        assert run_public(given, book=lambda _: twice) == 0
        assert published(district)[0]["figures"][0]["calls"] == "0–4"
        assert "4 calls are in the figures. Not in them: 1 the same row twice." in capsys.readouterr().err

    def test_a_logbook_says_the_same_as_its_table(self, run: Runner, district: Path, tmp_path: Path) -> None:
        settle(run)
        rows = written(demo_rows()[::SOME], tmp_path / "calls.csv")
        table = publish(run, calls=rows)
        assert run("log", "import", rows, "--by", "N. O. Body").code == 0
        before = everything(district)
        options = ["--region", "district", "--public", "2024", "--observed", BLOCKS["unit"][2]]
        logged = run("hotspots", "--logbook", "logbook.db", *options, "--now", "2026-11-20T09:00+11:00")
        assert (logged.code, logged.out) == (0, table.out), logged.err
        assert "Released before, and the same" in logged.err
        assert everything(district) == before

    def test_a_logbook_without_callouts_publishes_nothing(
        self, run: Runner, district: Path, tmp_path: Path
    ) -> None:
        settle(run)
        (tmp_path / "c.csv").write_text(
            "captureID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,scientificName\n"
            "C-1,2026-01-10T11:00:00+11:00,-42.0990,147.5840,20,Notechis scutatus\n",
            "utf-8",
        )
        assert run("log", "import", "c.csv", "--by", "N. O. Body").code == 0
        options = ["--region", "district", "--public", "2024", "--observed", BLOCKS["unit"][2]]
        ran = run("hotspots", *options, "--now", "2026-11-20T09:00+11:00")
        assert (ran.code, ran.out) == (3, "") and "holds no callout" in ran.err
        assert not (district / "published").exists()

    def test_a_column_that_is_nearly_a_known_one_is_refused(
        self, run: Runner, district: Path, tmp_path: Path
    ) -> None:
        settle(run)
        calls = plain(tmp_path, row(1))
        path = tmp_path / calls
        path.write_text(path.read_text("utf-8").replace("decimalLatitude", "decimalLatitud"), "utf-8")
        ran = publish(run, calls=calls)
        assert (ran.code, ran.out) == (3, "") and "decimalLatitud" in ran.err
        assert not (district / "published").exists()


class TestRefused:
    """What is not published; nothing is written then."""

    @pytest.mark.parametrize(
        ("more", "words"),
        [
            (
                {"now": "2026-06-30T23:59:59+10:00", "observed": "2024-07-01..2026-06-30"},
                "wait until 2026-07-01",
            ),
            ({"public": "2025"}, "begin with 2024-25, 2026-27"),
            ({"public": "2023"}, "begin with 2024-25"),
            ({"public": "2026"}, "has not ended"),
            ({"public": "0"}, "blocks of seasons"),
            ({"public": "-2024"}, "blocks of seasons"),
            ({"public": "9" * 25}, "blocks of seasons"),
            ({"public": "by-unit"}, "--public"),
            ({"observed": "2024-07-02..2026-06-30"}, "2024-07-01..2026-06-30, or more"),
            ({"observed": "2024-07-01..2026-06-29"}, "2024-07-01..2026-06-30, or more"),
            ({"observed": "2025-09-01..2026-11-16"}, "bands would be too low"),
            ({"observed": "2024-07-01..2026-11-21"}, "still to come"),
            ({"observed": "always"}, "two dates"),
            ({"timezone": "UTC"}, "Australia/Hobart"),
            ({"now": "2026-11-20T09:00"}, "--now"),
        ],
    )
    def test_other_seasons_and_books_kept_in_part(
        self, run: Runner, district: Path, tmp_path: Path, more: dict[str, str], words: str
    ) -> None:
        settle(run)
        plain(tmp_path, row(1))
        before = everything(tmp_path)
        ran = publish(run, **more)
        assert (ran.code, ran.out) == (2, ""), ran.err
        assert words in ran.err
        assert everything(tmp_path) == before

    @pytest.mark.parametrize(
        "more",
        [
            ["--out", "x"],
            ["--standby", "1"],
            ["--base", "-42.1,147.6"],
            ["--units", "areas.gpkg"],
            ["--units-name", "name"],
            ["--surface"],
            ["--replicates", "99"],
            ["--seed", "2"],
            ["--releases", "releases.csv"],
            ["--force"],
        ],
    )
    def test_options_that_make_no_sense(
        self, run: Runner, district: Path, tmp_path: Path, more: list[str]
    ) -> None:
        settle(run)
        plain(tmp_path, row(1))
        before = everything(tmp_path)
        ran = publish(run, "unit", *more)
        assert (ran.code, ran.out) == (2, "")
        assert f"{more[0]}: it makes no sense together with --public" in ran.err
        assert everything(tmp_path) == before

    def test_all_of_them_at_once(self, run: Runner, district: Path) -> None:
        ran = publish(run, "unit", "--out", "x", "--standby", "1", "--surface")
        assert all(option in ran.err for option in ("--out", "--standby", "--surface"))

    @pytest.mark.parametrize("option", ["--by", "--dimension", "--species"])
    def test_another_dimension_cannot_be_asked_for(self, run: Runner, district: Path, option: str) -> None:
        settle(run)
        ran = publish(run, "unit", option, "season")
        assert ran.code == 2 and not (district / "published").exists()

    def test_without_units(self, run: Runner, district: Path, tmp_path: Path) -> None:
        plain(tmp_path, row(1))
        ran = publish(run)
        assert ran.code == 3 and "tussock region units" in ran.err
        assert not (district / "published").exists()

    def test_units_that_were_changed(self, run: Runner, district: Path, tmp_path: Path) -> None:
        settle(run)
        path = district / "public-units.geojson"
        path.write_text(path.read_text("utf-8").replace('"unit"', '"season"'), "utf-8")
        plain(tmp_path, row(1))
        ran = publish(run)
        assert ran.code == 3 and "was changed" in ran.err
        assert not (district / "published").exists()

    def test_a_plane_that_was_moved(self, run: Runner, district: Path, tmp_path: Path) -> None:
        settle(run)
        path = district / "region.toml"
        path.write_text(path.read_text("utf-8").replace("longitude = 147.6", "longitude = 147.7"), "utf-8")
        plain(tmp_path, row(1))
        ran = publish(run)
        assert ran.code == 3 and "another plane" in ran.err

    def test_later_entries_do_not_change_what_is_out(
        self, run: Runner, district: Path, tmp_path: Path
    ) -> None:
        settle(run)
        assert publish(run, calls=plain(tmp_path, row(1))).code == 0
        before = everything(district)
        same = publish(run)
        assert same.code == 0 and "Released before, and the same" in same.err
        more = publish(run, calls=plain(tmp_path, *(row(n) for n in range(5))))
        assert (more.code, more.out) == (3, "") and "released before" in more.err
        assert everything(district) == before

    @pytest.mark.parametrize(
        "line",
        [
            "K-1,10.01.2026,-42.0990,147.5840,20,not_found",
            "K-1,2026-01-10T10:00:00,-42.0990,147.5840,20,not_found",
            "K-1,2026-01-10T10:00:00+11:00,nan,147.5840,20,not_found",
            "K-1,2026-01-10T10:00:00+11:00,-420.990,147.5840,20,not_found",
            "K-1,2026-01-10T10:00:00+11:00,-42.0990,,20,not_found",
        ],
    )
    def test_a_row_that_cannot_be_read(self, run: Runner, district: Path, tmp_path: Path, line: str) -> None:
        settle(run)
        calls = plain(tmp_path, line)
        before = everything(tmp_path)
        ran = publish(run, calls=calls)
        assert (ran.code, ran.out) == (3, "") and "calls.csv" in ran.err and "Traceback" not in ran.err
        assert everything(tmp_path) == before

    def test_an_empty_table_is_no_book(self, run: Runner, district: Path, tmp_path: Path) -> None:
        settle(run)
        ran = publish(run, calls=plain(tmp_path))
        assert ran.code == 3 and "calls.csv: no row" in ran.err
        assert not (district / "published").exists()

    @pytest.mark.parametrize("in_the_way", ["file", "folder"])
    def test_nothing_is_left_half_written(
        self, run: Runner, district: Path, tmp_path: Path, in_the_way: str
    ) -> None:
        settle(run)
        plain(tmp_path, row(1))
        if in_the_way == "file":
            (district / "published").write_text("mine", "utf-8")
        else:
            (district / "published" / "calls-by-unit-2024-25-to-2025-26.json").mkdir(parents=True)
        before = everything(tmp_path)
        ran = publish(run)
        assert (ran.code, ran.out) == (3, "") and "in the way" in ran.err
        assert "--out" not in ran.err
        assert everything(tmp_path) == before


def _arrays(x: list[float], y: list[float]) -> Any:
    import numpy as np

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
