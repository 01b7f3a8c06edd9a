"""0 a site is offered; 1 none; 2 usage (test_usage.py); 3 bad input; 4 data missing."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.cli.running import AT, DATA, Runner, edited


def test_0_a_site_is_offered(run: Runner) -> None:
    ran = run.plan()
    assert ran.code == 0
    assert "STOP" not in ran.err


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"--condition": "injured"}, "vet or a licensed carer"),
        ({"--origin": "possible_escapee"}, "Call the wildlife authority"),
        ({"--identification": "unknown"}, "identification help"),
        ({"--species": "Ficticia exempli", "--identification": "probable"}, "Name those it may be (--or"),
        ({"--life-stage": "egg"}, "Eggs never get a release site"),
    ],
)
def test_1_no_site_for_this_animal_but_the_way_on(
    changed: dict[str, str | None], words: str, run: Runner
) -> None:
    ran = run.plan(changed)
    assert ran.code == 1
    assert words in ran.out
    assert "STOP." in ran.err


def test_1_no_version_of_the_permit_in_force(run: Runner) -> None:
    july = {"--now": "2026-07-19T12:00+10:00", "--time": None, "--release-at": None}
    ran = run.plan(july)
    assert ran.code == 1
    assert "STOP. Permit PDW-0417 has no version in force on 2026-07-19" in ran.err


def test_1_nothing_left_says_what_stands_in_the_way(run: Runner) -> None:
    with (DATA / "captures.csv").open(encoding="utf-8", newline="") as file:
        town = next(row for row in csv.DictReader(file) if row["captureID"] == "C-044")  # the middle of town
    place = f"{town['decimalLatitude']},{town['decimalLongitude']}"
    radius = town["coordinateUncertaintyInMeters"]
    ran = run.plan({"--at": place, "--uncertainty": radius, "--found-in": town["foundIn"]})
    assert ran.code == 1
    assert "What stands in the way (for a call to the authority, never a suggestion):" in ran.out
    assert "Ruled out of" in ran.out


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"--at": "-42.1,150.1"}, "lies outside the region"),
        ({"--region": "nowhere"}, "there is no such file"),
        ({"--permit": "nowhere.toml"}, "there is no such file"),
        ({"--weights": "nowhere.toml"}, "there is no such file"),
    ],
)
def test_3_bad_input(changed: dict[str, str | None], words: str, run: Runner) -> None:
    ran = run.plan(changed)
    assert ran.code == 3
    assert words in ran.err
    assert ran.out == ""


def test_3_all_faults_of_all_files_at_once(run: Runner) -> None:
    ran = run.plan({"--region": "no-region", "--permit": "no-permit", "--consents": "no-consents.csv"})
    assert ran.code == 3
    assert all(word in ran.err for word in ("3 faults", "no-region", "no-permit", "no-consents.csv"))


def test_3_outside_the_region_names_the_option(run: Runner) -> None:
    assert "Error: --at: latitude -42.10000, longitude 150.10000" in run.plan({"--at": "-42.1,150.1"}).err


def test_4_a_layer_that_a_clause_needs_is_not_there(run: Runner, district: Path) -> None:
    text = (district / "region.toml").read_text("utf-8")
    start, end = text.index("[layers.roads]"), text.index("[layers.railways]")
    (district / "region.toml").write_text(text[:start] + text[end:], "utf-8")
    ran = run.plan({"--region": str(district)})
    assert ran.code == 4
    assert "roads" in ran.err and "STOP." in ran.err
    assert "No site is offered." in ran.out


def test_a_wide_radius_is_planned_and_said(run: Runner) -> None:
    ran = run.plan({"--at": AT, "--uncertainty": "50000"})
    assert ran.code == 1
    assert "radius is 50000 m" in ran.err


def test_a_gate_is_no_exception_where_a_layer_is_missing(run: Runner, district: Path) -> None:
    edited(
        district / "region.toml",
        **{"[layers.roads]": "[layers.streets]", "[[layers.roads.sources]]": "[[layers.streets.sources]]"},
    )
    assert run.plan({"--region": str(district), "--condition": "sick"}).code == 1
