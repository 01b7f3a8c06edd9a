"""The page of hotspots: sections in order, figures those of the result, escaped, the same bytes each time."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import sys
from dataclasses import replace
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pyogrio.raw
import pytest
import shapely
from scipy.stats import binomtest

from tests.maps.test_audit_report import Reader
from tests.support.hotspots import EVIL, made_hotspots
from tussock.hotspots.found import Hotspots
from tussock.maps.hotspots_files import FILES, cells_csv, cells_geojson, edges_csv, is_ours
from tussock.maps.hotspots_page import hotspots_page
from tussock.maps.hotspots_places import clusters_csv
from tussock.maps.hotspots_words import CALLS_NOT_SNAKES

SECTIONS = ("edges", "counted", "clusters", "when", "rates", "repeats", "odds", "method")


@pytest.fixture(scope="module")
def found() -> Hotspots:
    return made_hotspots()[0]


@pytest.fixture(scope="module")
def html() -> str:
    return hotspots_page(*made_hotspots())


def test_the_sections_come_in_the_order_of_their_weight(html: str) -> None:
    at = [html.index(f'<section id="{name}"') for name in SECTIONS]
    assert at == sorted(at)
    assert html.index("<h1>") < at[0]


def test_the_page_says_that_calls_are_no_snakes_and_whose_it_is(html: str) -> None:
    read = Reader(html)
    assert read.text.count(CALLS_NOT_SNAKES) >= 2
    assert "not for publication" in read.text


def test_the_totals_on_the_page_are_those_of_the_result(html: str, found: Hotspots) -> None:
    c = found.counted
    assert c.read == c.left_out + c.calls
    sums = re.findall(r'<th scope="row">([^<]+)</th><td class="figure">([^<]+)</td>', html)
    told = {k: int(re.sub(r"\D", "", v)) for k, v in sums}
    assert (told["Callouts in the book"], told["Calls counted"], told["Incidents"]) == (
        c.read, c.calls, c.incidents,
    )  # fmt: skip


def test_every_edge_and_cell_stands_in_the_tables_and_nothing_is_lost(found: Hotspots) -> None:
    edges = list(csv.DictReader(io.StringIO(edges_csv(found))))
    assert len(edges) == sum(len(e.bands) for e in found.edges)
    for effect in found.edges:
        own = [
            r
            for r in edges
            if r["layer"] == effect.edge.layer and r["edge"] == (effect.edge.name or r["edge"])
        ]
        assert sum(int(r["incidents"]) for r in own) == sum(b.incidents for b in effect.bands)
    assert found.rates is not None
    cells = list(csv.DictReader(io.StringIO(cells_csv(found))))
    assert sum(int(r["incidents"]) for r in cells) == int(found.rates.cells.incidents.sum())
    places = json.loads(cells_geojson(found))["features"]
    assert [f["properties"]["cell"] for f in places] == [r["cell"] for r in cells]
    for feature in places:
        ring = feature["geometry"]["coordinates"][0]
        assert ring[0] == ring[-1] and all(-180 <= x <= 180 and -90 <= y <= 90 for x, y in ring)


def test_a_script_in_any_text_stays_text(html: str) -> None:
    evil = hotspots_page(*made_hotspots(evil=True))
    read = Reader(evil)
    assert read.tags.count("script") == Reader(html).tags.count("script")
    assert "img" not in read.tags
    assert not read.handlers and not read.loads
    # region, note, missing, edge, species, places found, odds of cells, rerun, zone, slice, file: as text
    assert read.text.count(EVIL) > 12
    assert f"Hotspots of Quern Bay{EVIL}" in read.text
    assert len(re.findall("<style>", evil)) == len(re.findall("</style>", evil)) == 4
    assert len(re.findall("<script>", evil)) == len(re.findall("</script>", evil))


def test_nothing_is_loaded_and_no_script_runs_but_its_own(html: str) -> None:
    read = Reader(html)
    assert not read.loads
    assert all(link.startswith("#") for link in read.links)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)
    assert policy is not None
    assert "default-src 'none'" in policy[1]
    assert "http" not in policy[1] and "unsafe-inline" not in policy[1].split("script-src")[1]
    styles = "".join(re.findall(r"<style>(.*?)</style>", html, re.S))
    rules = re.sub(r"/\*.*?\*/", "", styles, flags=re.S)  # Leaflet's comments name addresses
    assert "@import" not in rules and "http" not in rules
    assert all(a.startswith("#") for a in re.findall(r"url\(([^)]*)\)", rules))
    assert '"Calls to this logbook, not snakes"' in styles  # in the margin of each printed page


def test_the_headline_is_the_ratio_of_the_counts_with_its_exact_interval(html: str, found: Hotspots) -> None:
    effect = found.headline
    assert effect is not None
    near, far = effect.bands[0], effect.bands[-1]
    ends, ratios = [], []
    for homes_near, homes_far in ((near.homes.low, far.homes.high), (near.homes.high, far.homes.low)):
        # scipy's exact interval of a share: given both counts, the first is binomial
        share = binomtest(near.incidents, near.incidents + far.incidents).proportion_ci(0.95, "exact")
        ends += [p / (1 - p) * homes_far / homes_near for p in share]
        ratios.append(near.incidents / far.incidents * homes_far / homes_near)
    said = f"{sqrt(ratios[0] * ratios[1]):.1f} ({min(ends):.1f}–{max(ends):.1f}) times as often"
    head = re.search(r"<h1>(.*?)</h1>", html)
    assert head is not None
    assert said in head[1]
    assert f"{near.incidents} incidents, {near.homes.low:.0f}–{near.homes.high:.0f} homes" in html


def test_a_cluster_is_told_with_both_p_values_and_where_but_to_no_home(html: str) -> None:
    text = Reader(html).text
    assert "27 incidents where 9.2 were to be expected from 180–204 homes: 3.3 times" in text
    assert "Against chance p = 0.001; against the usual unevenness between places p = 0.002." in text
    assert "a place with 5 % of the calls expected and less than 4 times the usual rate" in text.replace(
        "\u202f", " "
    )
    assert "Combination A" in text and "November 2023 to December 2023" in text
    # 0.0001 degrees are ten metres: the corner of a cell, no home; hypot(420, 100) = 431.7 m
    told = html[html.index('id="clusters"') : html.index('id="when"')]
    assert re.findall(r"In 3 cells round -?\d+\.\d{4}, \d+\.\d{4}, the farthest corner 440.m away", told)
    assert not re.findall(r"\d\.\d{5,}", re.sub(r"<svg.*?</svg>", "", told, flags=re.S))


def test_nothing_found_is_a_result_and_is_said() -> None:
    read = Reader(hotspots_page(*made_hotspots(nothing=True)))
    assert "At none of 2 mapped edges is it shown that homes nearby called more often" in read.text
    assert "Nothing stands out" in read.text
    assert "No combination of place and months stands out." in read.text
    assert "times: more often" not in read.text


def test_what_could_not_be_found_is_said_with_its_reason(found: Hotspots) -> None:
    names = ("rates", "clusters", "space_time", "when", "repeats", "district_odds", "standby")
    parts: dict[str, Any] = dict.fromkeys(names)
    why = {name: f"{name} for want of calls" for name in ("edges", *parts)}
    bare = replace(found, **parts, edges=(), reruns=(), missing=why)
    _, region = made_hotspots()
    text = Reader(hotspots_page(bare, region)).text
    assert all(text.count(f"{name} for want of calls") >= 1 for name in why)
    assert all(make(bare, region) for make in FILES.values())


def test_same_result_same_bytes(found: Hotspots) -> None:
    _, region = made_hotspots()
    for make in FILES.values():
        assert make(found, region) == make(*made_hotspots())


def test_same_bytes_in_another_process() -> None:
    code = (
        "import hashlib; from tests.support.hotspots import made_hotspots;"
        "from tussock.maps.hotspots_files import FILES; made = made_hotspots();"
        "parts = [m(*made) for m in FILES.values()];"
        "print([hashlib.sha256(p if isinstance(p, bytes) else p.encode()).hexdigest() for p in parts])"
    )
    runs = {
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": ":".join(sys.path)},
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert len(runs) == 1


def test_the_geopackage_holds_cells_edges_and_circles(found: Hotspots, tmp_path: Path) -> None:
    path = tmp_path / "where.gpkg"
    made = FILES[".gpkg"](*made_hotspots())
    assert isinstance(made, bytes)
    path.write_bytes(made)
    assert found.rates is not None and found.clusters is not None and found.space_time is not None
    circles = len(found.clusters.told) + len(found.clusters.told_with_base)
    assert {
        name: pyogrio.read_info(path, layer=name)["features"] for name, _ in pyogrio.list_layers(path)
    } == {
        "tussock_hotspots_cells": len(found.rates.cells.names),
        "tussock_hotspots_edges": len(found.edges),
        "tussock_hotspots_circles": circles + len(found.space_time.scan.cylinders),
    }
    meta, _, shapes, values = pyogrio.raw.read(path, layer="tussock_hotspots_cells")
    columns = dict(zip(meta["fields"].tolist(), values, strict=True))
    assert columns["incidents"].sum() == found.rates.cells.incidents.sum()
    # pyproj's way back from degrees: the middle of a cell is where it was, to the metre
    middle = shapely.centroid(shapely.from_wkb(shapes[0]))
    x, y = found.plane.project(middle.x, middle.y)
    was = shapely.centroid(found.rates.cells.polygons[0])
    assert (float(x), float(y)) == pytest.approx((was.x, was.y), abs=1.0)


def test_our_own_files_are_known_and_others_are_not(found: Hotspots, tmp_path: Path) -> None:
    _, region = made_hotspots()
    for end, make in FILES.items():
        content, path = make(found, region), tmp_path / f"where{end}"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        assert is_ours(path), end
    other = tmp_path / "other.gpkg"
    pyogrio.raw.write(str(other), np.array([shapely.to_wkb(shapely.Point(1, 2))], dtype=object), [], [],
                      geometry_type="Point", crs="EPSG:4326", layer="mine", driver="GPKG")  # fmt: skip
    assert not is_ours(other)
    for name, text in (("a.csv", "name,x\n"), ("a.json", "{}")):
        (tmp_path / name).write_text(text)
        assert not is_ours(tmp_path / name)


def test_clusters_as_a_table(found: Hotspots) -> None:
    rows = list(csv.DictReader(io.StringIO(clusters_csv(found))))
    assert [(r["kind"][:6], r["incidents"], r["stands_out"]) for r in rows] == [
        ("circle", "27", "True"), ("circle", "6", "False"), ("circle", "27", "True"), ("place ", "9", "True"),
    ]  # fmt: skip
    assert (rows[-1]["first_month"], rows[-1]["last_month"]) == ("2023-11", "2023-12")
