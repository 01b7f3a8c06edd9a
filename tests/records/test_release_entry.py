"""A release made of a check's file: what it takes over, what it does not, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tussock.errors import InputError
from tussock.records.checks import Checker
from tussock.records.entries import DISPOSAL
from tussock.records.release_entry import release_from_check
from tussock.species.profiles import load_profiles

CHECK: dict[str, Any] = {
    "format": "tussock check 1",
    "plan": {"file": "today.json", "sha256": "ab" * 32},
    "capture": {"id": "C-7", "time": "2026-11-14T10:42:00+11:00"},
    "animal": {
        "answers": {
            "scientificName": "Notechis scutatus",
            "vernacularName": "tiger snake",
            "individualCount": "3",
            "origin": "wild_local",
            "foundIn": "yard",
        },
        "vernacular_name": "tiger snake",
    },
    "site": {
        "number": 2,
        "position": {
            "latitude": -42.1056214,
            "longitude": 147.5637912,
            "radius_m": 30.0,
            "assumed": False,
            "note": "",
        },
    },
    "now": "2026-11-14T12:30:00+11:00",
    "fix": {
        "latitude": -42.10558,
        "longitude": 147.56381,
        "radius_m": 6.5,
        "assumed": False,
        "note": "",
    },
    "verdict": "met",
    "rejected": False,
    "conditions": [{"source": "PDW-0417", "id": "3(a)", "verdict": "met"}],
    "answers": [
        {"key": "refuge", "clause": "", "answer": "yes"},
        {"key": "8(b)", "clause": "8(b)", "answer": "yes"},
        {"key": "9(c)", "clause": "9(c)", "answer": None},
    ],
    "consents": [
        {"consent": "CN-1", "ground": "P-1"},
        {"consent": "CN-2", "ground": "P-1"},
        {"consent": "CN-3", "ground": "P-2"},
    ],
    "why": "",
    "photo": {"path": "/home/someone/spot.jpg", "sha256": "cd" * 32},
    "temperature_c": 18.5,
}


def written(folder: Path, **changed: Any) -> Path:
    path = folder / "today-check-2.json"
    path.write_text(json.dumps({**CHECK, **changed}), "utf-8")
    return path


def test_place_radius_and_time_are_the_actual_ones_and_the_planned_stand_beside(tmp_path: Path) -> None:
    entry = release_from_check(written(tmp_path))
    assert (entry.kind, entry.id, entry.where) == (DISPOSAL, "C-7", "today-check-2.json")
    assert dict(entry.cells) == {
        "captureID": "C-7",
        "eventDate": "2026-11-14T12:30:00+11:00",
        "decimalLatitude": "-42.1055800",
        "decimalLongitude": "147.5638100",
        "coordinateUncertaintyInMeters": "6.5",
        "disposal": "released",
        "scientificName": "Notechis scutatus",
        "vernacularName": "tiger snake",
        "individualCount": "3",
        "consentReference": "CN-1 | CN-3",
        "answer:8(b)": "yes",
        "airTemperature": "18.5",
        "associatedMedia": "spot.jpg",
        "photoSHA256": "cd" * 32,
        "planReference": "today.json",
        "planSHA256": "ab" * 32,
        "siteNumber": "2",
        "plannedDecimalLatitude": "-42.1056214",
        "plannedDecimalLongitude": "147.5637912",
        "plannedUncertaintyInMeters": "30",
        "checkReference": "C-7/2026-11-14T12:30:00+11:00/2",
        "checkVerdict": "met",
    }
    checker = Checker(load_profiles())
    assert checker.faults_of(DISPOSAL, entry.cells, where="") == ()


def test_what_is_said_instead_holds(tmp_path: Path) -> None:
    said = {
        "eventDate": "2026-11-14T12:41:00+11:00",
        "individualCount": "1",
        "organismID": "tail clipped",
        "airTemperature": "",
    }
    entry = release_from_check(written(tmp_path), changes=said)
    assert (entry.id, entry.get("individualCount")) == ("C-7/tail clipped", "1")
    assert entry.get("eventDate") == "2026-11-14T12:41:00+11:00"
    assert "airTemperature" not in entry.cells
    assert entry.get("checkReference").startswith("C-7/2026-11-14T12:30")


def test_a_check_that_said_no_is_recorded_all_the_same(tmp_path: Path) -> None:
    """Records say what happened: a release without a good check is flagged, never blocked."""
    entry = release_from_check(written(tmp_path, verdict="not_met", rejected=True))
    assert entry.get("checkVerdict") == "not_met"


def test_a_file_of_before_consents_were_kept_has_none(tmp_path: Path) -> None:
    path = tmp_path / "old-check-1.json"
    path.write_text(json.dumps({k: v for k, v in CHECK.items() if k != "consents"}), "utf-8")
    assert "consentReference" not in release_from_check(path).cells


def test_the_capture_is_named_where_the_plan_had_none(tmp_path: Path) -> None:
    path = written(tmp_path, capture={"id": "", "time": "2026-11-14T10:42:00+11:00"})
    assert release_from_check(path, capture_id="C-8").parent == "C-8"
    with pytest.raises(InputError, match="names no capture"):
        release_from_check(path)
    with pytest.raises(InputError, match="check of capture 'C-7', not 'C-8'"):
        release_from_check(written(tmp_path), capture_id="C-8")


@pytest.mark.parametrize(
    "changed",
    [
        {"format": "tussock plan 1"},
        {"animal": None},
        {"animal": {"answers": []}},
        {"site": {"number": 2, "position": None}},
        {"site": {"number": 2, "position": {"latitude": "north", "longitude": 1.0, "radius_m": 30}}},
        {"consents": [{"consent": "CN-1"}]},
        {"answers": [{"key": "8(b)", "answer": "yes"}]},
        {"consents": 3},
    ],
)
def test_what_is_no_check_is_told(changed: dict[str, Any], tmp_path: Path) -> None:
    with pytest.raises(InputError) as told:
        release_from_check(written(tmp_path, **changed))
    assert told.value.where == "today-check-2.json"
    assert "it is no check" in told.value.found
