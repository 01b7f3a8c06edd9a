"""Published figures through the command: what is not published; nothing is written then."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.publishing import (
    everything,
    plain,
    publish,
    row,
    settle,
)
from tests.cli.running import Runner


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
    run: Runner, district: Path, tmp_path: Path, more: dict[str, str], words: str
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
def test_options_that_make_no_sense(run: Runner, district: Path, tmp_path: Path, more: list[str]) -> None:
    settle(run)
    plain(tmp_path, row(1))
    before = everything(tmp_path)
    ran = publish(run, "unit", *more)
    assert (ran.code, ran.out) == (2, "")
    assert f"{more[0]}: it makes no sense together with --public" in ran.err
    assert everything(tmp_path) == before


def test_all_of_them_at_once(run: Runner, district: Path) -> None:
    ran = publish(run, "unit", "--out", "x", "--standby", "1", "--surface")
    assert all(option in ran.err for option in ("--out", "--standby", "--surface"))


@pytest.mark.parametrize("option", ["--by", "--dimension", "--species"])
def test_another_dimension_cannot_be_asked_for(run: Runner, district: Path, option: str) -> None:
    settle(run)
    ran = publish(run, "unit", option, "season")
    assert ran.code == 2 and not (district / "published").exists()


def test_without_units(run: Runner, district: Path, tmp_path: Path) -> None:
    plain(tmp_path, row(1))
    ran = publish(run)
    assert ran.code == 3 and "tussock region units" in ran.err
    assert not (district / "published").exists()


def test_units_that_were_changed(run: Runner, district: Path, tmp_path: Path) -> None:
    settle(run)
    path = district / "public-units.geojson"
    path.write_text(path.read_text("utf-8").replace('"unit"', '"season"'), "utf-8")
    plain(tmp_path, row(1))
    ran = publish(run)
    assert ran.code == 3 and "was changed" in ran.err
    assert not (district / "published").exists()


def test_a_plane_that_was_moved(run: Runner, district: Path, tmp_path: Path) -> None:
    settle(run)
    path = district / "region.toml"
    path.write_text(path.read_text("utf-8").replace("longitude = 147.6", "longitude = 147.7"), "utf-8")
    plain(tmp_path, row(1))
    ran = publish(run)
    assert ran.code == 3 and "another plane" in ran.err


def test_later_entries_do_not_change_what_is_out(run: Runner, district: Path, tmp_path: Path) -> None:
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
def test_a_row_that_cannot_be_read(run: Runner, district: Path, tmp_path: Path, line: str) -> None:
    settle(run)
    calls = plain(tmp_path, line)
    before = everything(tmp_path)
    ran = publish(run, calls=calls)
    assert (ran.code, ran.out) == (3, "") and "calls.csv" in ran.err and "Traceback" not in ran.err
    assert everything(tmp_path) == before


def test_an_empty_table_is_no_book(run: Runner, district: Path, tmp_path: Path) -> None:
    settle(run)
    ran = publish(run, calls=plain(tmp_path))
    assert ran.code == 3 and "calls.csv: no row" in ran.err
    assert not (district / "published").exists()


@pytest.mark.parametrize("in_the_way", ["file", "folder"])
def test_nothing_is_left_half_written(run: Runner, district: Path, tmp_path: Path, in_the_way: str) -> None:
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
