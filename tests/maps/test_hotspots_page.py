"""The page of hotspots: sections in order, figures those of the result, escaped, the same bytes each time."""

from __future__ import annotations

import csv
import io
import json
import re

import pytest

from tests.maps.test_audit_report import Reader
from tests.support.hotspots import made_hotspots
from tussock.hotspots.found import Hotspots
from tussock.maps.hotspots_files import FILES, cells_csv, cells_geojson, edges_csv
from tussock.maps.hotspots_page import hotspots_page
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


def test_a_script_in_any_text_stays_text() -> None:
    evil, plain = (Reader(hotspots_page(*made_hotspots(evil=e))) for e in (True, False))
    assert evil.tags.count("script") == plain.tags.count("script")
    assert not evil.handlers and not evil.loads
    assert "{{7*7}}" in evil.text or "49" not in evil.text


def test_nothing_found_is_said_and_nothing_breaks() -> None:
    made, region = made_hotspots(nothing=True)
    read = Reader(hotspots_page(made, region))
    assert "nothing stands out" in read.text.lower() or "no place stands out" in read.text.lower()


def test_same_result_same_bytes(found: Hotspots) -> None:
    _, region = made_hotspots()
    for make in FILES.values():
        assert make(found, region) == make(*made_hotspots())
