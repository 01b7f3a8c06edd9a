"""The demonstration's hotspots: where calls cluster per dwelling, and what the calls cannot say."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from tussock.clock import parse_date, parse_instant
from tussock.demo.cases import FILE, TABLES, Say
from tussock.hotspots.found import Asked, Hotspots
from tussock.maps.hotspots_circles import expected_words, place_words, power_sentence
from tussock.maps.hotspots_edges import claim
from tussock.maps.hotspots_files import FILES
from tussock.maps.hotspots_words import CALLS_NOT_SNAKES, edge_sentence
from tussock.maps.words import sentence
from tussock.permit.toml_file import read_toml
from tussock.planning.opened import Opened
from tussock.records.calls import calls_of
from tussock.records.entries import CALLOUT, CAPTURE, DISPOSAL
from tussock.records.source import open_book

HOTSPOTS = "hotspots"
HOTSPOTS_NAMES = tuple(f"{HOTSPOTS}{end}" for end in FILES)
"""Names of what is written."""


def hotspots_step(data: Path, opened: Opened, say: Say) -> dict[str, str | bytes]:
    """Look for patterns in the callouts; return name → content of what is written.

    Raises
    ------
    InputError
        When a table of the district cannot be used.
    MissingDataError
        When the packages of the extra ``hotspots`` are not installed.
    """
    from tussock.hotspots.finding import find

    say("10. Where calls cluster, per dwelling, over the time that the book was kept.")
    say("    (tussock hotspots --logbook logbook.db --region REGION --observed FIRST..LAST --out hotspots)")
    book = open_book({kind: data / TABLES[kind] for kind in (CALLOUT, CAPTURE, DISPOSAL)})
    region = opened.region
    found = find(calls_of(book.entries, plane=region.plane, inputs=book.inputs), region, _asked(data, opened))
    say(f"    {CALLS_NOT_SNAKES} {sentence(claim(found))}")
    for words in _told(found):
        say(f"    {sentence(words)}")
    return {f"{HOTSPOTS}{end}": make(found, region) for end, make in FILES.items()}


def _told(found: Hotspots) -> list[str]:
    shown = [edge_sentence(e) for e in found.edges if e.tested][1:3]
    out = found.clusters.standing_out if found.clusters else ()
    shown += [f"{expected_words(t.most)}, {place_words(t.spot)}" for t in out]
    missed = power_sentence(found)
    return [*shown, f"It does not say {missed[:1].lower()}{missed[1:]}"]


def _asked(data: Path, opened: Opened) -> Asked:
    raw = read_toml(data / FILE).get("hotspots", {})

    def day(key: str) -> date:
        return parse_date(str(raw.get(key, "")), where=f"{FILE}, hotspots, {key}")

    permit = opened.permits[0]
    now = parse_instant(str(raw.get("now", "")), where=f"{FILE}, hotspots, now")
    return Asked(day("first"), day("last"), permit.zone, now, zone_words=f"of permit {permit.id}", standby=1)
