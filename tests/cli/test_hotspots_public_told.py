"""Published figures through the command: what only their maker is told, on stderr."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.cli.publishing import (
    BLOCKS,
    SOME,
    demo_rows,
    everything,
    plain,
    publish,
    published,
    row,
    settle,
    written,
)
from tests.cli.running import DATA, Runner
from tussock.cli.hotspots_options import HotspotsOptions
from tussock.cli.hotspots_public import run_public
from tussock.geodesy import Plane
from tussock.records.entries import CALLOUT
from tussock.records.source import open_book

NOW = ("--now", "2026-11-20T09:00+11:00")


def test_every_row_is_accounted_for(run: Runner, district: Path, tmp_path: Path) -> None:
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


def test_a_circle_over_an_edge_is_told(run: Runner, district: Path, tmp_path: Path) -> None:
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
    run: Runner, district: Path, tmp_path: Path
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
    run: Runner, district: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
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


def test_a_logbook_says_the_same_as_its_table(run: Runner, district: Path, tmp_path: Path) -> None:
    settle(run)
    rows = written(demo_rows()[::SOME], tmp_path / "calls.csv")
    table = publish(run, calls=rows)
    assert run("log", "import", rows, "--by", "N. O. Body", *NOW).code == 0
    before = everything(district)
    options = ["--region", "district", "--public", "2024", "--observed", BLOCKS["unit"][2]]
    logged = run("hotspots", "--logbook", "logbook.db", *options, *NOW)
    assert (logged.code, logged.out) == (0, table.out), logged.err
    assert "Released before, and the same" in logged.err
    assert everything(district) == before


def test_a_logbook_without_callouts_publishes_nothing(run: Runner, district: Path, tmp_path: Path) -> None:
    settle(run)
    (tmp_path / "c.csv").write_text(
        "captureID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,scientificName\n"
        "C-1,2026-01-10T11:00:00+11:00,-42.0990,147.5840,20,Notechis scutatus\n",
        "utf-8",
    )
    assert run("log", "import", "c.csv", "--by", "N. O. Body", *NOW).code == 0
    options = ["--region", "district", "--public", "2024", "--observed", BLOCKS["unit"][2]]
    ran = run("hotspots", *options, *NOW)
    assert (ran.code, ran.out) == (3, "") and "holds no callout" in ran.err
    assert not (district / "published").exists()


def test_a_column_that_is_nearly_a_known_one_is_refused(run: Runner, district: Path, tmp_path: Path) -> None:
    settle(run)
    calls = plain(tmp_path, row(1))
    path = tmp_path / calls
    path.write_text(path.read_text("utf-8").replace("decimalLatitude", "decimalLatitud"), "utf-8")
    ran = publish(run, calls=calls)
    assert (ran.code, ran.out) == (3, "") and "decimalLatitud" in ran.err
    assert not (district / "published").exists()


def _arrays(x: list[float], y: list[float]) -> Any:
    return np.array(x), np.array(y)


def test_a_first_call_long_after_the_seasons_begin_makes_one_ask(run: Runner, district: Path) -> None:
    """The district's book begins on 1 September 2025, fourteen months into the first block of seasons."""
    assert settle(run).code == 0
    ran = publish(run, callouts=str(DATA / "callouts.csv"))
    assert ran.code == 0, ran.err
    assert "the first call in the book is of 2025-09-01, 427 days after these seasons begin" in ran.err


def test_a_slip_of_a_column_is_said_with_the_page(run: Runner, district: Path, tmp_path: Path) -> None:
    rows = (DATA / "callouts.csv").read_text("utf-8").splitlines()[:40]
    slip = [rows[0].replace(",outcome,", ",outcom,"), *rows[1:]]
    (tmp_path / "calls.csv").write_text("\n".join(slip) + "\n", "utf-8")
    options = ["--region", "district", "--observed", "2025-09-01..2026-06-30", "--replicates", "99"]
    ran = run("hotspots", "--callouts", "calls.csv", "--timezone", "Australia/Hobart", *options, *NOW)
    assert ran.code == 0 and "outcom" in ran.err and "outcome" in ran.err
