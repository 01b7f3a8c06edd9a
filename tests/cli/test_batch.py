"""``tussock plan --captures``: many captures, one after the other."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.cli.running import DATA, GROUND, Given, Ran, Runner, handed

QUESTIONS = [
    "identification",
    "origin",
    "animalCondition",
    "lifeStage",
    "gravid",
    "individualCount",
    "foundIn",
]


def _rows() -> list[dict[str, str]]:
    with (DATA / "captures.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _captures(path: Path, *names: str, **changed: str) -> str:
    """Write some of the district's captures; ``changed`` sets a column of the last."""
    rows = [row for name in names for row in _rows() if row["captureID"] == name]
    rows[-1] |= changed
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return str(path)


def _batch(run: Runner, table: str, *more: str) -> Ran:
    return run("plan", *[w for pair in GROUND.items() for w in pair], "--captures", table, *more)


def _csv(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_0_when_every_row_has_a_site_and_1_otherwise(run: Runner, tmp_path: Path) -> None:
    assert _batch(run, _captures(tmp_path / "a.csv", "C-061", "C-060")).code == 0
    ran = _batch(run, _captures(tmp_path / "b.csv", "C-061", "C-022"))  # C-022 is injured
    assert ran.code == 1
    assert "C-022: STOP." in ran.err and "vet or a licensed carer" in ran.err
    assert [line.split()[0] for line in ran.out.splitlines()[2:]] == ["C-022", "C-061"], (
        "in order of eventDate"
    )


def test_4_when_a_layer_is_missing(run: Runner, district: Path, tmp_path: Path) -> None:
    text = (district / "region.toml").read_text("utf-8")
    start, end = text.index("[layers.roads]"), text.index("[layers.railways]")
    (district / "region.toml").write_text(text[:start] + text[end:], "utf-8")
    table = _captures(tmp_path / "a.csv", "C-061", "C-022")
    assert _batch(run, table, "--region", str(district)).code == 4


def test_an_unanswered_row_is_not_planned_and_the_others_are(run: Runner, tmp_path: Path) -> None:
    ran = _batch(run, _captures(tmp_path / "a.csv", "C-060", "C-061", gravid=""), "--format", "csv")
    assert ran.code == 1
    assert "C-061: not planned. a.csv, row 3: fill in gravid." in ran.err
    rows = _csv(ran.out)
    assert rows[0]["rank"] == "1"
    assert (rows[-1]["captureID"], rows[-1]["verdict"], rows[-1]["rank"]) == ("C-061", "not planned", "")


def test_3_with_every_fault_before_any_planning(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = _captures(tmp_path / "a.csv", "C-060", "C-061", decimalLongitude="150.2")
    with handed(monkeypatch) as given:
        ran = _batch(run, table)
    assert (ran.code, given.captures) == (3, [])
    assert "a.csv, row 3, capture C-061: latitude -42.10258, longitude 150.20000 lies outside" in ran.err


def _times(given: Given) -> list[tuple[str, str]]:
    return [(s.now.isoformat(), s.start.isoformat()) for s in given.settings]


def test_each_capture_has_its_own_clock_and_an_assumed_release(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = _captures(tmp_path / "a.csv", "C-061")
    with handed(monkeypatch) as given:
        _batch(run, table)
        _batch(run, table, "--now", "2026-11-20T08:00+11:00")
        _batch(run, table, "--now", "2026-11-20T08:00+11:00", "--release-at", "2026-11-21T09:00+11:00")
    own, walked = "2026-11-14T10:42:00+11:00", "2026-11-13T23:46:00+00:00"  # 200 m at 3 km/h: 4 min
    now, then = "2026-11-20T08:00:00+11:00", "2026-11-19T21:04:00+00:00"
    assert _times(given) == [(own, walked), (now, then), (now, "2026-11-21T09:00:00+11:00")]


def test_an_assumed_release_is_said_and_recorded(run: Runner, tmp_path: Path) -> None:
    table = _captures(tmp_path / "a.csv", "C-022")
    ran = _batch(run, table, "--format", "json")
    (record,) = json.loads(ran.out)
    assert "time of release is assumed" in record["warnings"][0] and "time of release is assumed" in ran.err
    assert record["parameters"]["release_assumed"] is True
    given = _batch(run, table, "--format", "json", "--release-at", "2026-11-21T09:00+11:00")
    (record,) = json.loads(given.out)
    assert "time of release is assumed" not in given.err
    assert record["parameters"]["release_assumed"] is False


@pytest.mark.parametrize("option", ["--now", "--release-at"])
def test_2_for_a_time_before_a_capture(option: str, run: Runner, tmp_path: Path) -> None:
    ran = _batch(run, _captures(tmp_path / "a.csv", "C-061"), option, "2026-11-14T10:00+11:00")
    assert ran.code == 2
    assert f"{option}: 2026-11-14T10:00:00+11:00 is before capture C-061" in ran.err


def test_the_first_site_of_each_counts_for_the_later_ones(run: Runner, tmp_path: Path) -> None:
    """Four animals of one place: not all go to the site that each would have alone."""
    rows = _rows()
    (case,) = [row for row in rows if row["captureID"] == "C-061"]
    same = [{**case, "captureID": f"S-{k}", "eventDate": f"2026-11-14T1{k}:00:00+11:00"} for k in range(4)]
    with (tmp_path / "a.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(case))
        writer.writeheader()
        writer.writerows(same)
    first = [r for r in _csv(_batch(run, "a.csv", "--format", "csv", "--top", "1").out) if r["rank"] == "1"]
    assert [r["captureID"] for r in first] == ["S-0", "S-1", "S-2", "S-3"]
    places = [(r["decimalLatitude"], r["decimalLongitude"]) for r in first]
    assert len(set(places)) > 1
    # the same four, each alone: all go to the one best place
    alone = set()
    for row in same[:2]:
        with (tmp_path / "b.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(case))
            writer.writeheader()
            writer.writerow(row)
        (site,) = _csv(_batch(run, "b.csv", "--format", "csv", "--top", "1").out)
        alone.add((site["decimalLatitude"], site["decimalLongitude"]))
    assert alone == {places[0]}


def test_releases_of_the_batch_are_replaced_by_its_sites(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = _captures(tmp_path / "a.csv", "C-001")
    with handed(monkeypatch) as given:
        _batch(run, table, "--releases", str(DATA / "releases.csv"))
        _batch(run, table)
    with (DATA / "releases.csv").open(encoding="utf-8", newline="") as file:
        others = [
            r for r in csv.DictReader(file) if r["disposal"] == "released" and r["captureID"] != "C-001"
        ]
    assert [len(s.counted) for s in given.settings] == [len(others), 0]


def test_files_of_a_batch(run: Runner, tmp_path: Path) -> None:
    table = _captures(tmp_path / "a.csv", "C-061", "C-022", captureID="C/022 x")
    ran = _batch(run, table, "--out", "out/season")
    suffixes = ("html", "geojson", "gpx", "json")
    expected = {f"season-{name}.{s}" for name in ("C-061", "C_022_x") for s in suffixes} | {"season.csv"}
    assert {p.name for p in (tmp_path / "out").iterdir()} == expected
    assert "Written: 9 files" in ran.err
    written = (tmp_path / "out/season.csv").read_text("utf-8")
    assert written == _batch(run, table, "--format", "csv").out
    assert _csv(written)[0]["occurrenceRemarks"] == "struck by a mower, open wound", (
        "unknown columns are kept"
    )
    before = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    assert _batch(run, table, "--out", "out/season").code == 1
    assert {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()} == before


def test_ids_that_would_share_a_file(run: Runner, tmp_path: Path) -> None:
    ran = _batch(run, _captures(tmp_path / "a.csv", "C-061", "C-060", captureID="c 061"), "--out", "x")
    assert ran.code == 0
    ran = _batch(run, _captures(tmp_path / "a.csv", "C-061", "C-060", captureID="c-061"), "--out", "y")
    assert ran.code == 3
    assert "would give the same file name" in ran.err
    assert not list(tmp_path.glob("y*"))


def test_a_batch_that_fails_late_writes_nothing(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tussock.planning import plan as planner

    real, calls = planner.plan, []

    def fails(*given: object) -> object:
        calls.append(given)
        if len(calls) == 2:
            raise RuntimeError("no more")
        return real(*given)  # type: ignore[arg-type]  # handed on as it came

    monkeypatch.setattr(planner, "plan", fails)
    ran = _batch(run, _captures(tmp_path / "a.csv", "C-061", "C-022"), "--out", "out")
    assert ran.code == 70
    assert {p.name for p in tmp_path.iterdir()} == {"a.csv"}


def test_the_table_of_captures_is_never_written_over(run: Runner, tmp_path: Path) -> None:
    table = _captures(tmp_path / "season.csv", "C-022")
    before = Path(table).read_bytes()
    ran = _batch(run, table, "--out", "season", "--force")
    assert ran.code == 3
    assert "it is one of the inputs" in ran.err
    assert Path(table).read_bytes() == before


def test_a_batch_to_pass_on_has_numbers_for_ids(run: Runner, tmp_path: Path) -> None:
    table = _captures(tmp_path / "a.csv", "C-022", "C-061")
    ran = _batch(run, table, "--out", "out/x", "--share")
    names = {p.name for p in (tmp_path / "out").iterdir()}
    assert "x-1.json" in names and not any("C-0" in n for n in names)
    for text in (ran.out, (tmp_path / "out/x.csv").read_text("utf-8")):
        assert "C-022" not in text and "-42.1" not in text and "mower" not in text
