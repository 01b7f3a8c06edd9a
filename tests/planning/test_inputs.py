"""Tables of captures and releases: what is read, and every fault at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from tussock.errors import InputError
from tussock.geodesy import half_diagonal_m
from tussock.planning.inputs import CaptureRow, earlier, read_captures, read_releases
from tussock.species.profiles import load_profiles

BOOK = load_profiles()
COLUMNS = (
    "captureID",
    "eventDate",
    "decimalLatitude",
    "decimalLongitude",
    "coordinateUncertaintyInMeters",
    "scientificName",
    "identification",
    "origin",
    "animalCondition",
    "lifeStage",
    "gravid",
    "individualCount",
    "foundIn",
)
GOOD = {
    "captureID": "C-1",
    "eventDate": "2026-11-14T10:42:00+11:00",
    "decimalLatitude": "-42.10258",
    "decimalLongitude": "147.57047",
    "coordinateUncertaintyInMeters": "12",
    "scientificName": "Notechis scutatus",
    "identification": "certain",
    "origin": "wild_local",
    "animalCondition": "fit",
    "lifeStage": "adult",
    "gravid": "no",
    "individualCount": "1",
    "foundIn": "yard",
}
RELEASE = {
    "captureID": "C-1",
    "eventDate": "2026-11-14T12:00:00+11:00",
    "decimalLatitude": "-42.10258",
    "decimalLongitude": "147.57047",
    "coordinateUncertaintyInMeters": "12",
    "scientificName": "tiger snake",
    "individualCount": "2",
    "disposal": "released",
}


def _table(path: Path, *rows: dict[str, str], separator: str = ",", end: str = "\n", start: str = "") -> Path:
    columns = list(dict.fromkeys(c for row in rows for c in row))
    lines = [columns, *([row.get(c, "") for c in columns] for row in rows)]
    text = start + end.join(separator.join(line) for line in lines) + end
    path.write_bytes(text.encode("utf-8"))
    return path


def _captures(tmp_path: Path, *rows: dict[str, str], **how: str) -> tuple[CaptureRow, ...]:
    return read_captures(_table(tmp_path / "captures.csv", *rows, **how), book=BOOK)


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"start": "\ufeff"},
        {"separator": ";"},
        {"separator": "\t"},
        {"end": "\r\n"},
        {"end": "\r"},
        {"start": "\ufeff", "separator": ";", "end": "\r\n"},
    ],
)
def test_tables_as_people_save_them(how: dict[str, str], tmp_path: Path) -> None:
    (row,) = _captures(tmp_path, {**GOOD, "note": "by the fence"}, **how)
    assert row.capture is not None
    assert row.capture.animal.scientific_name == "Notechis scutatus"
    assert (row.capture.position.latitude, row.capture.position.radius_m) == (-42.10258, 12.0)
    assert row.others == {"note": "by the fence"}


def test_other_species_it_may_be_stand_in_a_column_of_their_own(tmp_path: Path) -> None:
    probable = {**GOOD, "identification": "probable", "captureID": "C-2"}
    named = {**probable, "orScientificName": "lowland copperhead | Pseudonaja textilis", "captureID": "C-3"}
    rows = {r.id: r for r in _captures(tmp_path, GOOD, probable, named)}
    names = {i: r.capture.animal.names for i, r in rows.items() if r.capture is not None}
    assert names["C-1"] == ("Notechis scutatus",)
    assert names["C-2"] == ("Notechis scutatus", *BOOK.find("Notechis scutatus").look_alikes)
    assert names["C-3"] == ("Notechis scutatus", "Austrelaps superbus", "Pseudonaja textilis")
    assert all("orScientificName" not in r.others for r in rows.values())


def test_faults_among_the_other_species(tmp_path: Path) -> None:
    rows = [
        {**GOOD, "orScientificName": "Austrelaps superbus"},
        {
            **GOOD,
            "captureID": "C-2",
            "identification": "probable",
            "orScientificName": "Pseudonaja textilus|copperhead",
        },
        {**GOOD, "captureID": "C-3", "identification": "", "orScientificName": "Austrelaps superbus"},
        {**GOOD, "captureID": "C-4", "identification": "", "orScientificName": "copperhead"},
    ]
    with pytest.raises(InputError, match=r"^4 faults") as caught:
        _captures(tmp_path, *rows)
    for part in (
        "row 2, identification: certain, yet other species are named: Austrelaps superbus",
        "row 3, orScientificName: there is no 'Pseudonaja textilus', but a name very like it",
        "row 3, orScientificName: 'copperhead' may be any of",
        "row 5, orScientificName: 'copperhead' may be any of",
    ):
        assert part in caught.value.text(), part


def test_a_row_that_names_others_and_is_not_said_to_be_probable_is_set_aside(tmp_path: Path) -> None:
    [row] = _captures(tmp_path, {**GOOD, "identification": "", "orScientificName": "Austrelaps superbus"})
    assert (row.capture, row.unanswered) == (None, ("identification",))


def test_a_line_break_in_a_cell_forges_no_line(tmp_path: Path) -> None:
    forged = '"2026\n  - captures.csv, row 9: all is well"'
    with pytest.raises(InputError) as caught:
        _captures(tmp_path, {**GOOD, "eventDate": forged}, {**GOOD, "captureID": "C-2", "origin": "wild"})
    head, *lines = caught.value.text().split("\n")
    assert head == "2 faults"
    assert len(lines) == 2


def test_the_order_of_columns_is_free(tmp_path: Path) -> None:
    turned = dict(reversed(GOOD.items()))
    assert _captures(tmp_path, turned) == _captures(tmp_path, GOOD)


def test_rows_come_in_order_of_their_instants_not_their_texts(tmp_path: Path) -> None:
    # 10:30+10:00 is 00:30 UTC, 11:00+11:00 is 00:00 UTC: the later clock time is the earlier instant
    later = {**GOOD, "captureID": "later", "eventDate": "2026-11-14T10:30+10:00"}
    sooner = {**GOOD, "captureID": "sooner", "eventDate": "2026-11-14T11:00+11:00"}
    assert [r.id for r in _captures(tmp_path, later, sooner)] == ["sooner", "later"]


@pytest.mark.parametrize("radius", ["", "0", "-3"])
def test_a_radius_that_is_not_recorded_is_assumed(radius: str, tmp_path: Path) -> None:
    (row,) = _captures(tmp_path, {**GOOD, "coordinateUncertaintyInMeters": radius})
    assert row.capture is not None
    assert (row.capture.position.radius_m, row.capture.position.assumed) == (30.0, True)


def test_decimals_count_over_the_whole_column(tmp_path: Path) -> None:
    short = {**GOOD, "captureID": "short", "decimalLatitude": "-42.1", "decimalLongitude": "147.57"}
    long, coarse = GOOD, {**short, "coordinateUncertaintyInMeters": "5"}
    together = {r.id: r.capture for r in _captures(tmp_path, long, coarse)}
    alone = {r.id: r.capture for r in _captures(tmp_path, coarse)}
    assert together["short"] is not None and alone["short"] is not None
    assert together["short"].position.radius_m == 5.0
    assert alone["short"].position.radius_m == half_diagonal_m(2, latitude=-42.1)


@pytest.mark.parametrize("column", [c for c in COLUMNS if c not in ("scientificName",)])
def test_a_missing_column_is_named(column: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=f"captures.csv: missing column {column}"):
        _captures(tmp_path, {c: v for c, v in GOOD.items() if c != column})


def test_a_vernacular_name_will_do(tmp_path: Path) -> None:
    named = {("vernacularName" if c == "scientificName" else c): v for c, v in GOOD.items()}
    (row,) = _captures(tmp_path, {**named, "vernacularName": "tiger snake"})
    assert row.capture is not None
    assert (row.capture.animal.scientific_name, row.capture.vernacular_name) == (
        "Notechis scutatus",
        "tiger snake",
    )
    with pytest.raises(InputError, match="missing column scientificName"):
        _captures(tmp_path, {c: v for c, v in named.items() if c != "vernacularName"})


def test_every_fault_at_once_with_row_and_column(tmp_path: Path) -> None:
    rows = [
        {**GOOD, "eventDate": "2026-11-14T10:42:00"},
        {**GOOD, "captureID": "", "decimalLatitude": "147.57", "decimalLongitude": "-42.1"},
        {**GOOD, "captureID": "C-3", "origin": "wild", "individualCount": "none"},
        {**GOOD, "captureID": "C-1", "decimalLongitude": ""},
        {
            **GOOD,
            "captureID": "C-5",
            "coordinateUncertaintyInMeters": "wide",
            "gravid": "",
            "lifeStage": "old",
        },
    ]
    with pytest.raises(InputError) as caught:
        _captures(tmp_path, *rows)
    said = caught.value.text()
    for part in (
        "captures.csv, row 2, eventDate: '2026-11-14T10:42:00' has no zone",
        "captures.csv, row 3: captureID is empty",
        "captures.csv, row 3: decimalLatitude 147.57 is out of range",
        "captures.csv, row 4, origin: found 'wild'",
        "captures.csv, row 4, individualCount",
        "captures.csv, row 5: decimalLongitude is missing",
        "captures.csv, row 6: coordinateUncertaintyInMeters 'wide'",
        "captures.csv, row 6, lifeStage: found 'old'",
        "captureID 'C-1' stands in rows 2, 5",
    ):
        assert part in said, part


def test_an_open_question_sets_the_row_aside(tmp_path: Path) -> None:
    rows = _captures(tmp_path, GOOD, {**GOOD, "captureID": "C-2", "gravid": "", "scientificName": ""})
    assert [(r.id, r.capture is not None, r.unanswered) for r in rows] == [
        ("C-1", True, ()),
        ("C-2", False, ("scientificName", "gravid")),
    ]


def test_a_table_without_rows(tmp_path: Path) -> None:
    path = tmp_path / "captures.csv"
    path.write_text(",".join(COLUMNS) + "\n", "utf-8")
    with pytest.raises(InputError, match="no row below the header"):
        read_captures(path, book=BOOK)


def test_releases_are_counted_by_species_of_the_book(tmp_path: Path) -> None:
    rows = [
        RELEASE,
        {**RELEASE, "captureID": "C-2", "disposal": "vet_or_carer", "decimalLatitude": ""},
        {
            **RELEASE,
            "captureID": "C-3",
            "disposal": "",
            "individualCount": "",
            "coordinateUncertaintyInMeters": "",
        },
    ]
    booked = read_releases(_table(tmp_path / "releases.csv", *rows), book=BOOK)
    assert [(b.capture_id, b.release.scientific_name) for b in booked] == [
        ("C-1", "Notechis scutatus"),
        ("C-3", "Notechis scutatus"),
    ]
    assert [b.release.individual_count for b in booked] == [2, 1]
    assert [b.release.radius_m for b in booked] == [12.0, 30.0]
    of_others = earlier(booked, but_for={"C-1"})
    assert of_others is not None
    assert [r.individual_count for r in of_others] == [1]


def test_a_release_keeps_the_consent_it_was_made_under(tmp_path: Path) -> None:
    # else the number of animals that a consent covers would never be used up
    rows = [{**RELEASE, "consentReference": "CN-013"}, {**RELEASE, "captureID": "C-2"}]
    booked = read_releases(_table(tmp_path / "releases.csv", *rows), book=BOOK)
    assert [b.release.consent_reference for b in booked] == ["CN-013", ""]


def test_the_trap_check_is_read(tmp_path: Path) -> None:
    checked = {**GOOD, "foundIn": "trap_or_netting", "trapCheckDate": "2026-11-14T09:30:00+11:00"}
    rows = _captures(tmp_path, checked, {**GOOD, "captureID": "C-2", "trapCheckDate": ""})
    assert [
        r.capture.trap_checked.isoformat() if r.capture and r.capture.trap_checked else "" for r in rows
    ] == [
        "2026-11-14T09:30:00+11:00",
        "",
    ]
    assert rows[0].others["trapCheckDate"] == "2026-11-14T09:30:00+11:00"  # and kept in what is written
    with pytest.raises(InputError, match="row 2, trapCheckDate"):
        _captures(tmp_path, {**checked, "trapCheckDate": "this morning"})


def test_faults_of_releases(tmp_path: Path) -> None:
    rows = [
        {**RELEASE, "disposal": "let go"},
        {**RELEASE, "individualCount": "9" * 5000},
        {**RELEASE, "scientificName": ""},
        {**RELEASE, "decimalLatitude": "0", "decimalLongitude": "0"},
        {**RELEASE, "geodeticDatum": "NAD27"},
    ]
    with pytest.raises(InputError) as caught:
        read_releases(_table(tmp_path / "releases.csv", *rows), book=BOOK)
    said = caught.value.text()
    for part in (
        "row 2, disposal: disposal 'let go'. Allowed: released, ",
        "row 3, individualCount",
        "row 4, scientificName: no name",
        "row 5: the coordinates are 0, 0",
        "row 6: geodeticDatum 'NAD27'",
    ):
        assert part in said, part
