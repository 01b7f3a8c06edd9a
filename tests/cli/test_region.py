"""``tussock region``."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import DATA, Runner


def test_check_prints_what_was_read(run: Runner) -> None:
    ran = run("region", "check", str(DATA))
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Pellerwick (invented): 14 layers read")


def test_check_reports_every_fault_at_once(run: Runner, district: Path) -> None:
    (district / "parcels.gpkg").unlink()
    (district / "cover.tif").write_bytes(b"no raster")
    text = (district / "region.toml").read_text("utf-8")
    (district / "region.toml").write_text(
        text.replace('class_field = "highway"', 'class_field = "kinds"'), "utf-8"
    )
    ran = run("region", "check", str(district))
    assert (ran.code, ran.out) == (3, "")
    for part in ("3 faults", "parcels.gpkg", "cover.tif", "there is no field kinds"):
        assert part in ran.err


def test_check_names_what_stands_unlisted_keys(run: Runner, district: Path) -> None:
    path = district / "region.toml"
    path.write_text(path.read_text("utf-8").replace("cell_m = 10.0", "cell_m = 0.0"), "utf-8")
    ran = run("region", "check", str(district))
    assert ran.code == 3
    assert "cell_m" in ran.err


@pytest.fixture
def extract(test_data: Path) -> Path:
    return next((test_data / "osm").glob("*.osm.pbf"))


def test_from_osm_hands_over_every_option(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from datetime import date

    from tussock.errors import InputError
    from tussock.ground import osm

    given: dict[str, object] = {}

    def noted(pbf: Path, **named: object) -> None:
        given.update(named, pbf=pbf)
        raise InputError("seen")

    monkeypatch.setattr(osm, "region_from_osm", noted)
    run("region", "from-osm", "a.osm.pbf", "--out", "b")
    assert given == {
        "pbf": Path("a.osm.pbf"),
        "out": Path("b"),
        "extent": None,
        "as_of": None,
        "country": None,
        "force": False,
    }
    run(
        "region",
        "from-osm",
        "a.osm.pbf",
        "--out",
        "b",
        "--extent",
        "e.geojson",
        "--as-of",
        "2026-03-01",
        "--country",
        "AU",
        "--force",
    )
    assert given == {
        "pbf": Path("a.osm.pbf"),
        "out": Path("b"),
        "extent": Path("e.geojson"),
        "as_of": date(2026, 3, 1),
        "country": "AU",
        "force": True,
    }


@pytest.mark.parametrize(
    ("more", "code", "words"),
    [
        (["--as-of", "March"], 3, "is not a date"),
        (["--country", "Australia"], 2, "--country"),
        ([], 3, "there is no such file"),
    ],
)
def test_from_osm_refuses(more: list[str], code: int, words: str, run: Runner, tmp_path: Path) -> None:
    ran = run("region", "from-osm", "none.osm.pbf", "--out", "b", *more)
    assert (ran.code, ran.out) == (code, "")
    assert words in ran.err
    assert list(tmp_path.iterdir()) == []


def test_a_real_town_from_extract_to_map(run: Runner, extract: Path, tmp_path: Path) -> None:
    built = run("region", "from-osm", str(extract), "--out", "town")
    assert built.code == 0, built.err
    assert "OpenStreetMap" not in built.err and "dwellings" in built.out
    assert run("region", "check", "town").code == 0
    (tmp_path / "permit.toml").write_text(
        'id = "T-1"\nholder = "h"\nauthority = "a"\ntimezone = "Europe/Berlin"\n'
        "[[versions]]\nvalid_from = 2020-01-01\n"
        '[[versions.conditions]]\nid = "1"\nkind = "max_distance_from_capture"\nlimit_m = 3000\n',
        "utf-8",
    )
    place = {
        "--region": "town",
        "--permit": "permit.toml",
        "--at": "53.5550,13.2600",
        "--species": "Vipera berus",
    }
    ran = run.plan({**place, "--out": "today"})
    assert ran.code == 0, ran.err
    page = (tmp_path / "today.html").read_text("utf-8")
    assert "© OpenStreetMap contributors" in page
    assert len(page) < 4_000_000
