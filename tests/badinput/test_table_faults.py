"""Captures, releases and consents as people save them: read aright, or refused with row and column."""

from __future__ import annotations

import tracemalloc
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.badinput.folder import refused
from tussock.errors import UsageError
from tussock.ground.region import open_region
from tussock.permit.consents import read_consents
from tussock.planning.inputs import CaptureRow, check_places, read_captures, read_releases
from tussock.position import MOST_RADIUS_M, position_from_text
from tussock.species.profiles import load_profiles
from tussock.tables import MAX_CELL, read_table

DEMO = Path(__file__).parents[2] / "data-demo"
BOOK = load_profiles()
GOOD = {
    "captureID": "C-1",
    "eventDate": "2025-09-12T09:13:00+10:00",
    "decimalLatitude": "-42.071391",
    "decimalLongitude": "147.613950",
    "coordinateUncertaintyInMeters": "5",
    "geodeticDatum": "EPSG:4326",
    "scientificName": "Notechis scutatus",
    "individualCount": "1",
    "lifeStage": "adult",
    "gravid": "no",
    "identification": "certain",
    "origin": "wild_local",
    "animalCondition": "fit",
    "foundIn": "yard",
    "occurrenceRemarks": "lawn",
}
HEADER = ",".join(GOOD)


def _row(**changes: str) -> str:
    return ",".join((GOOD | changes).values())


@dataclass(frozen=True)
class Desk:
    """Where the tables are written."""

    folder: Path

    def write(self, text: str | bytes, name: str = "captures.csv") -> Path:
        path = self.folder / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    def captures(self, *rows: str, header: str = HEADER) -> tuple[CaptureRow, ...]:
        return self.read("\n".join((header, *rows, "")))

    def read(self, text: str | bytes) -> tuple[CaptureRow, ...]:
        return read_captures(self.write(text), book=BOOK)

    def refused(self, *words: str, **changes: str) -> str:
        """Hold that a table with one changed row is refused, naming file and row."""
        return refused(lambda: self.captures(_row(**changes)), "captures.csv, row 2", *words)

    def one(self, **changes: str) -> CaptureRow:
        (row,) = self.captures(_row(**changes))
        return row


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


def _radius(row: CaptureRow) -> tuple[float, bool]:
    assert row.capture is not None
    return row.capture.position.radius_m, row.capture.position.assumed


# Coordinates -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("axis", ["decimalLatitude", "decimalLongitude"])
@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is missing"),
        ('"-42,071391"', "write a decimal point"),
        ("42.07S", "convert it to decimal degrees"),
        ("-42.07°", "convert it to decimal degrees"),
        ("42°04'17\"S", "convert it to decimal degrees"),
        ("-4.207e1", "no decimal number"),
        ("=-42.07", "no decimal number"),
        ("-42.07 -42.08", "no decimal number"),
        ("NaN", "no decimal number"),
        ("inf", "no decimal number"),
        ("--42", "no decimal number"),
        ("٤٢", "no decimal number"),
        ("-42.07\u200b", "no decimal number"),
        ("\u202e-42.07", "no decimal number"),
        ("lawn", "no decimal number"),
        ("181.5", "out of range"),
    ],
)
def test_unreadable_coordinates(desk: Desk, axis: str, text: str, words: str) -> None:
    desk.refused(axis, words, "decimal degrees", **{axis: text})


@pytest.mark.parametrize("text", ["-42.071391", " -42.071391 ", "−42.071391", "-042.071391", "-42.071391000"])
def test_coordinates_that_are_read(desk: Desk, text: str) -> None:
    """Spaces, the true minus, zeros in front and behind."""
    capture = desk.one(decimalLatitude=text).capture
    assert capture is not None and capture.position.latitude == -42.071391


def test_swapped_coordinates_out_of_range(desk: Desk) -> None:
    desk.refused(
        "decimalLatitude 147.61395", "swapped", decimalLatitude="147.61395", decimalLongitude="-42.071391"
    )


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [
        ("47.61", "-42.07"),
        ("42.071391", "147.613950"),
        ("-42.071391", "-147.613950"),
        ("0", "147.61"),
        ("-42.5", "147.61"),
    ],
    ids=["swapped", "sign of latitude", "sign of longitude", "latitude 0", "next valley"],
)
def test_capture_outside_the_region(desk: Desk, latitude: str, longitude: str) -> None:
    rows = desk.captures(_row(), _row(captureID="C-2", decimalLatitude=latitude, decimalLongitude=longitude))
    region = open_region(DEMO)
    refused(
        lambda: check_places(rows, region),
        "captures.csv, row 3, capture C-2",
        "outside the region",
        "swapped",
    )


def test_no_place_at_all(desk: Desk) -> None:
    desk.refused("the coordinates are 0, 0", decimalLatitude="0", decimalLongitude="0.0")


@pytest.mark.parametrize("datum", ["GDA94", "EPSG:7844", "AGD66", "?"])
def test_other_datums_are_refused(desk: Desk, datum: str) -> None:
    desk.refused(f"geodeticDatum '{datum}'", "convert the coordinates", geodeticDatum=datum)


# Radius ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["", "0", "-5", "−7", "0.0", "-1e3"])
def test_radius_that_was_not_recorded(desk: Desk, text: str) -> None:
    """30 m are assumed (Darwin Core, coordinateUncertaintyInMeters: GPS since May 2000), and marked."""
    assert _radius(desk.one(coordinateUncertaintyInMeters=text)) == (30.0, True)


def test_radius_that_was_not_recorded_before_may_2000(desk: Desk) -> None:
    row = desk.one(coordinateUncertaintyInMeters="", eventDate="2000-04-30T12:00:00Z")
    assert _radius(row) == (100.0, True)


@pytest.mark.parametrize(
    ("text", "metres"), [("50000", 50_000.0), ("5.", 5.0), ("5e1", 50.0), ("+12.5", 12.5), ("1e7", 1e7)]
)
def test_radius_as_recorded(desk: Desk, text: str, metres: float) -> None:
    assert _radius(desk.one(coordinateUncertaintyInMeters=text)) == (metres, False)


@pytest.mark.parametrize(
    "text", ["10 m", '"5,5"', "=5", "0x10", "25 000", "1_000", "٣٠", "inf", "nan", "about 5", "5m", "."]
)
def test_radius_that_is_no_number(desk: Desk, text: str) -> None:
    desk.refused(
        "coordinateUncertaintyInMeters", "is no number", "metres", coordinateUncertaintyInMeters=text
    )


@pytest.mark.parametrize("text", ["20037509", "1e300"])
def test_radius_wider_than_the_earth(desk: Desk, text: str) -> None:
    desk.refused("wider than the Earth", coordinateUncertaintyInMeters=text)


def test_radius_is_never_finer_than_the_decimals(desk: Desk) -> None:
    """3 decimals: half the diagonal of 0.001° × 0.001° at 42°, 111.319 m × √(1 + cos² 42.07°) / 2."""
    row = desk.one(decimalLatitude="-42.071", decimalLongitude="147.613")
    radius, assumed = _radius(row)
    assert radius == pytest.approx(111.31949 * (1 + 0.7423**2) ** 0.5 / 2, rel=1e-4)
    assert not assumed
    assert row.capture is not None and "3 decimals" in row.capture.position.note


@pytest.mark.parametrize("radius", [0.0, -5.0, float("nan"), float("inf"), MOST_RADIUS_M * 2])
def test_radius_on_the_command_line_is_a_matter_of_usage(radius: float) -> None:
    with pytest.raises(UsageError) as caught:
        position_from_text("-42.071391,147.613950", radius, option="--at")
    assert caught.value.exit_code == 2
    assert "--uncertainty" in str(caught.value) and "metres above 0" in str(caught.value)


@pytest.mark.parametrize(
    "text", ["", "-42.07", "-42.07,147.6,5", "147.6,-42.07", "x,y", "0,0", "-42,07;147,6"]
)
def test_places_on_the_command_line(text: str) -> None:
    refused(lambda: position_from_text(text, 5.0, option="--at"), "--at")


# Times -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "2025-09-12T09:13:00",
        "2025-09-12",
        "",
        "12/09/2025 09:13",
        "2025-09-12T25:00Z",
        "2025-02-30T09:00Z",
        "2025-09-12T09:13:00+99:00",
        "yesterday",
        "２０２５-09-12T09:13:00Z",
        "45912.38",
        "0001-01-01T00:00:00Z",
        "9999-12-31T23:59:00Z",
        "2925-09-12T09:13:00Z",
    ],
)
def test_times_that_are_none(desk: Desk, text: str) -> None:
    """Without a zone the instant is unknown; years at the ends of the calendar are slips of the pen."""
    desk.refused("eventDate", "Allowed:", eventDate=text)


def test_offsets_may_be_mixed(desk: Desk) -> None:
    texts = [
        "2025-09-12T09:13:00+10:00",
        "2025-09-12T09:13Z",
        "2025-09-11 09:13:00-05:00",
        "2025-09-12T09:13:00+1100",
    ]
    rows = desk.captures(*(_row(captureID=f"C-{n}", eventDate=t) for n, t in enumerate(texts)))
    instants = [r.time.astimezone(UTC) for r in rows]
    assert instants == sorted(instants)
    assert {r.id: r.time.astimezone(UTC) for r in rows} == {
        "C-0": datetime(2025, 9, 11, 23, 13, tzinfo=UTC),
        "C-1": datetime(2025, 9, 12, 9, 13, tzinfo=UTC),
        "C-2": datetime(2025, 9, 11, 14, 13, tzinfo=UTC),
        "C-3": datetime(2025, 9, 11, 22, 13, tzinfo=UTC),
    }


# Answers ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["0", "-1", "1.0", "1e3", "²", "١", "=1+1", "two", "9" * 20, "9" * 5000])
def test_counts_that_are_none(desk: Desk, text: str) -> None:
    desk.refused("individualCount", "Allowed:", individualCount=text)


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("gravid", "maybe"), ("lifeStage", "old"), ("identification", "sure"), ("origin", "=1"),
        ("foundIn", "sky"),
        ("animalCondition", "fit,injured"), ("scientificName", "???"), ("scientificName", "💥"),
    ],
)  # fmt: skip
def test_answers_that_are_none(desk: Desk, column: str, text: str) -> None:
    desk.refused(column, "Allowed:", **{column: f'"{text}"'})


def test_open_questions_stop_the_row_not_the_table(desk: Desk) -> None:
    rows = desk.captures(_row(gravid=""), _row(captureID="C-2"))
    assert [(r.capture is None, r.unanswered) for r in rows] == [(True, ("gravid",)), (False, ())]


def test_id_missing_or_twice(desk: Desk) -> None:
    desk.refused("captureID is empty", captureID="")
    refused(
        lambda: desk.captures(_row(), _row(captureID="C-2"), _row()), "captureID 'C-1' stands in rows 2, 4"
    )


# The file --------------------------------------------------------------------------------------------

PLAIN = f"{HEADER}\n{_row()}\n{_row(captureID='C-2')}\n"


@pytest.mark.parametrize(
    "data",
    [
        PLAIN.encode(),
        b"\xef\xbb\xbf" + PLAIN.encode(),
        PLAIN.replace("\n", "\r\n").encode(),
        PLAIN.replace("\n", "\r").encode(),
        PLAIN.replace(",", ";").encode(),
        PLAIN.replace(",", "\t").encode(),
        PLAIN.rstrip("\n").encode(),
        PLAIN.replace("\n", ",,\n").encode(),
        PLAIN.replace("\n", "\n\n\n").encode() + b",,,,\n",
        PLAIN.replace(",", " , ").encode(),
        "\n".join(",".join(f'"{c}"' for c in line.split(",")) for line in PLAIN.splitlines()).encode(),
    ],
    ids=[
        "plain",
        "BOM",
        "CRLF",
        "CR",
        "semicolons",
        "tabs",
        "no end",
        "spare commas",
        "blank rows",
        "spaces",
        "quoted",
    ],
)
def test_forms_of_csv_read_alike(desk: Desk, data: bytes) -> None:
    rows = desk.read(data)
    assert [r.id for r in rows] == ["C-1", "C-2"]
    first = rows[0].capture
    assert first is not None
    assert (first.position.latitude, first.position.longitude, first.position.radius_m) == (
        -42.071391,
        147.61395,
        5,
    )
    assert rows[0].others == {"occurrenceRemarks": "lawn"}


def test_columns_in_another_order_and_unknown_ones_are_kept(desk: Desk) -> None:
    names = [*reversed(GOOD), "colour of hat"]
    (row,) = desk.captures(
        ",".join((GOOD | {"colour of hat": "green"})[n] for n in names), header=",".join(names)
    )
    assert row.capture is not None and row.capture.position.longitude == 147.61395
    assert row.others["colour of hat"] == "green"


@pytest.mark.parametrize("column", [c for c in GOOD if c not in ("geodeticDatum", "occurrenceRemarks")])
def test_missing_column(desk: Desk, column: str) -> None:
    text = PLAIN.replace(column, "x" + column)
    refused(lambda: desk.read(text), "captures.csv", "missing column", column, f"x{column}")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "it is empty"),
        (b"\n" + PLAIN.encode(), "it is empty"),
        (HEADER.encode() + b"\n", "no row below the header"),
        (PLAIN.replace("lawn", "caf\xe9").encode("cp1252"), "is not UTF-8"),
        (PLAIN.encode("utf-16"), "is not UTF-8"),
        (PLAIN.replace("lawn", "la\0wn").encode(), "zero bytes"),
        (PLAIN.replace("geodeticDatum", "captureID").encode(), "captureID stands twice"),
        (PLAIN.replace(",", "|").encode(), "missing column"),
        (PLAIN.replace("lawn\n", "lawn,by the fence\n").encode(), "16 cells under 15 columns"),
        (PLAIN.replace(",", ";").replace("-42.0", "-42,0").encode(), "write a decimal point"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "is not UTF-8"),
    ],
    ids=[
        "nothing",
        "blank first line",
        "header only",
        "cp1252",
        "utf-16",
        "zero byte",
        "column twice",
        "bars",
        "a cell too many",
        "decimal commas",
        "picture",
    ],
)
def test_files_that_are_refused(desk: Desk, data: bytes, words: str) -> None:
    refused(lambda: desk.read(data), "captures.csv", words)


def test_quotation_mark_without_its_pair_loses_no_rows(desk: Desk) -> None:
    """Read leniently, the remark would take every capture below it into its cell, and nobody would know."""
    rows = [_row(occurrenceRemarks='"big one'), _row(captureID="C-2"), _row(captureID="C-3")]
    refused(lambda: desk.captures(*rows), "captures.csv, row 2", "quotation mark")
    rows[2] = _row(captureID="C-3", occurrenceRemarks='"x"')
    refused(lambda: desk.captures(*rows), "captures.csv, row 2", "quotation mark")


def test_quotes_that_are_read(desk: Desk) -> None:
    """An inch mark inside a cell, a doubled quote, a line break and a comma within quotes."""
    remarks = ['6" long', '"said ""big"""', '"one\ntwo"', '"one, two"']
    rows = desk.captures(*(_row(captureID=f"C-{n}", occurrenceRemarks=r) for n, r in enumerate(remarks)))
    assert [r.others["occurrenceRemarks"] for r in rows] == ['6" long', 'said "big"', "one\ntwo", "one, two"]


def test_rows_are_numbered_as_a_spreadsheet_does(desk: Desk) -> None:
    """A line break within quotes makes no row."""
    rows = [_row(occurrenceRemarks='"one\ntwo"'), _row(captureID="C-2", decimalLatitude="x")]
    refused(lambda: desk.captures(*rows), "captures.csv, row 3: decimalLatitude 'x'")


@pytest.mark.parametrize("cut", [3, 40, 80, 100])
def test_file_cut_short_in_its_last_row(desk: Desk, cut: int) -> None:
    """A longitude cut after its first decimal is a place kilometres away."""
    refused(lambda: desk.read(PLAIN[: len(HEADER) + 1 + len(_row()) + 1 + cut]), "captures.csv, row 3")


@pytest.mark.parametrize("quote", ["", '"'])
def test_cell_of_ten_megabytes(desk: Desk, quote: str) -> None:
    text = f"{HEADER}\n{_row(occurrenceRemarks=quote + 'x' * 10_000_000 + quote)}\n"
    tracemalloc.start()
    try:
        refused(lambda: desk.read(text), "captures.csv, row 2", str(MAX_CELL))
        assert tracemalloc.get_traced_memory()[1] < 120_000_000
    finally:
        tracemalloc.stop()


def test_every_fault_is_reported_and_long_lists_are_cut(desk: Desk) -> None:
    rows = [_row(captureID=f"C-{n}", decimalLatitude="x", eventDate="y") for n in range(300)]
    said = refused(lambda: desk.captures(*rows), "600 faults", "row 2, eventDate", "and 580 more")
    assert len(said) < 6000


@pytest.mark.parametrize("name", ["none.csv", "a\0b", "a" * 5000])
def test_files_that_are_not_there(tmp_path: Path, name: str) -> None:
    refused(lambda: read_table(tmp_path / name), "check the path")
    refused(lambda: read_table(tmp_path), "check the path")


def test_formulas_and_markup_are_text(desk: Desk) -> None:
    """They are data; every output makes them inert (see the tests of maps and exports)."""
    row = desk.one(captureID='"=HYPERLINK(""x"")"', occurrenceRemarks="<script>alert(1)</script>")
    assert (row.id, row.others["occurrenceRemarks"]) == ('=HYPERLINK("x")', "<script>alert(1)</script>")


# Releases and consents -------------------------------------------------------------------------------

RELEASES = (
    "captureID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,scientificName,"
    "individualCount,disposal"
)
RELEASE = [
    "C-1",
    "2025-09-12T12:36:00+10:00",
    "-42.072427",
    "147.582060",
    "10",
    "Notechis scutatus",
    "1",
    "released",
]


def _release(**changes: str) -> str:
    return ",".join((dict(zip(RELEASES.split(","), RELEASE, strict=True)) | changes).values())


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("eventDate", "2025-09-12T12:36:00"), ("decimalLatitude", "147.6"), ("decimalLongitude", "147°"),
        ("coordinateUncertaintyInMeters", "ten"), ("scientificName", "?"), ("individualCount", "0"),
        ("individualCount", "9" * 5000), ("disposal", "let go"),
    ],
)  # fmt: skip
def test_releases_that_are_refused(desk: Desk, column: str, text: str) -> None:
    path = desk.write(f"{RELEASES}\n{_release()}\n{_release(**{column: text})}\n", "releases.csv")
    refused(
        lambda: read_releases(path, book=BOOK),
        "releases.csv, row 3",
        column if column[:7] != "decimal" else "decimal",
    )


def test_releases_as_recorded(desk: Desk) -> None:
    """An empty count is one animal, an empty disposal a release; who was not released is left out."""
    rows = [
        _release(individualCount="", disposal="", coordinateUncertaintyInMeters="0"),
        _release(disposal="died"),
        _release(captureID="C-9", scientificName="tiger snake", individualCount="3"),
    ]
    found = read_releases(desk.write("\n".join((RELEASES, *rows, "")), "releases.csv"), book=BOOK)
    assert [(b.capture_id, b.release.individual_count, b.release.radius_m) for b in found] == [
        ("C-1", 1, 30),
        ("C-9", 3, 10),
    ]
    assert found[1].release.scientific_name == "Notechis scutatus"


@pytest.mark.parametrize(
    "column", ["captureID", "eventDate", "decimalLatitude", "decimalLongitude", "scientificName"]
)
def test_releases_without_a_column(desk: Desk, column: str) -> None:
    path = desk.write(f"{RELEASES}\n{_release()}\n".replace(column, "x"), "releases.csv")
    refused(lambda: read_releases(path, book=BOOK), "releases.csv", "missing column", column)


CONSENTS = (
    "consentID,parcelID,layer,featureID,tenure,capacity,written,validFrom,validTo,species,number,"
    "withdrawnOn\n"
)


@pytest.mark.parametrize(
    "data",
    [
        (CONSENTS + 'C1,P1,,,"private,owner,yes,2026-01-01,,,,\nC2,P2,,,x,y,yes,2026-01-01,,,,\n').encode(),
        (CONSENTS + "C1,P1,,,private,owner,yes,01/01/2026,,,,\n").encode(),
        (CONSENTS + "C1,P1,,,caf\xe9,owner,yes,2026-01-01,,,,\n").encode("cp1252"),
        (CONSENTS + "C1,P1,,,private,owner,yes,2026-01-01,,,,,,x\n").encode(),
        (CONSENTS + "C1,P1,,,private,owner,yes,2026-0").encode(),
        CONSENTS.replace("validFrom", "valid from").encode(),
    ],
    ids=["quote without its pair", "date", "cp1252", "a cell too many", "cut short", "missing column"],
)
def test_consents_that_are_refused(desk: Desk, data: bytes) -> None:
    refused(lambda: read_consents(desk.write(data, "consents.csv")), "consents.csv")
