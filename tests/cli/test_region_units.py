"""``tussock region units``: what is settled once for a region's published figures."""

from __future__ import annotations

import json
import re
from pathlib import Path

import geopandas
import pytest

from tests.cli.publishing import (
    UNITS_KEYS,
    everything,
    keys,
    plain,
    publish,
    row,
    settle,
)
from tests.cli.running import DATA, Runner


def test_it_says_what_is_settled(run: Runner, district: Path) -> None:
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


def test_the_same_choices_make_the_same_file(run: Runner, district: Path) -> None:
    made = []
    for _ in range(2):
        assert settle(run, "season").code == 0
        made.append((district / "public-units.geojson").read_bytes())
        (district / "public-units.geojson").unlink()
    assert made[0] == made[1]


def test_a_second_one_is_refused(run: Runner, district: Path) -> None:
    assert settle(run).code == 0
    before = everything(district)
    for by, more in (("unit", {}), ("season", {}), ("unit", {"least": "800"})):
        ran = settle(run, by, **more)
        assert (ran.code, ran.out) == (3, "") and "one set of units for ever" in ran.err
    assert everything(district) == before


def test_nor_once_figures_are_out_and_the_units_gone(run: Runner, district: Path, tmp_path: Path) -> None:
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
    run: Runner, district: Path, more: dict[str, str], code: int, words: str
) -> None:
    before = everything(district)
    ran = settle(run, **more)
    assert (ran.code, ran.out) == (code, ""), ran.err
    assert words in ran.err and "Traceback" not in ran.err
    assert everything(district) == before


def test_no_zone_is_guessed(run: Runner, district: Path) -> None:
    ran = run("region", "units", "district", "--by", "unit", "--season-starts", "7", "--first-season", "2024")
    assert ran.code == 2 and "no time zone is named" in ran.err
    assert not (district / "public-units.geojson").exists()


def test_buildings_of_unknown_use_are_no_homes(run: Runner, district: Path) -> None:
    path = district / "region.toml"
    crosswalk = '[layers.dwellings.crosswalk]\n"*" = "unknown"\n\n[layers.peopled_places]'
    path.write_text(path.read_text("utf-8").replace("[layers.peopled_places]", crosswalk), "utf-8")
    ran = settle(run)
    assert ran.code == 3 and "the region holds 0 dwellings" in ran.err


def test_buildings_of_unknown_use_make_no_unit_and_are_counted_in_it(run: Runner, district: Path) -> None:
    """The stored units add up to the rows of the region's own file, read by geopandas."""
    known = geopandas.read_file(district / "ground.gpkg", layer="dwellings")
    path = district / "region.toml"
    crosswalk = '[layers.dwellings.crosswalk]\napartments = "unknown"\n\n[layers.peopled_places]'
    path.write_text(path.read_text("utf-8").replace("[layers.peopled_places]", crosswalk), "utf-8")
    ran = settle(run)
    assert ran.code == 0 and "Perhaps homes: 55 buildings" in ran.out
    stored = json.loads((district / "public-units.geojson").read_text("utf-8"))
    perhaps = sum(f["properties"]["perhaps"] for f in stored["features"])
    assert perhaps == known.loc[known["class"] == "apartments", "homes"].sum()


def test_a_region_without_dwellings(run: Runner, district: Path) -> None:
    path = district / "region.toml"
    text = re.sub(r"\[layers\.dwellings\].*?(?=\[layers\.peopled)", "", path.read_text("utf-8"), flags=re.S)
    path.write_text(text, "utf-8")
    ran = settle(run)
    assert ran.code == 4 and "no layer of dwellings" in ran.err
