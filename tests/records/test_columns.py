"""Columns that are nearly known ones: found, told, and refused where much would be missing."""

from __future__ import annotations

import csv

import pytest

from tests.cli.running import DATA
from tussock.errors import InputError
from tussock.records.columns import kind_of, near_columns, needed_columns, refuse_near
from tussock.records.darwin_core import TERMS
from tussock.records.entries import KINDS

TABLES = {
    "callouts": "callout",
    "captures": "capture",
    "releases": "disposal",
    "checks": "check",
    "consents": "consent",
    "incidents": "incident",
    "containers": "container",
}


@pytest.mark.parametrize(("name", "kind"), TABLES.items())
def test_no_column_of_the_district_is_nearly_another(name: str, kind: str) -> None:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        assert near_columns(kind, next(csv.reader(file))) == ()


@pytest.mark.parametrize("kind", KINDS)
def test_a_term_of_darwin_core_is_no_slip_of_the_pen(kind: str) -> None:
    """Terms with meanings of their own that look like ours: https://dwc.tdwg.org/terms/ (from memory)."""
    alike = ("recordedByID", "identificationID", "scientificNameID", "scientificNameAuthorship",
             "identificationRemarks", "eventTime", "eventRemarks", "identifiedBy", "verbatimLatitude",
             "organismName", "organismScope", "habitat", "eventID", "recordNumber")  # fmt: skip
    assert near_columns(kind, (*TERMS, *alike)) == ()


@pytest.mark.parametrize(
    ("kind", "column", "meant"),
    [
        ("disposal", "recordedDte", "recordedDate"),
        ("disposal", "recorded_date", "recordedDate"),
        ("disposal", "RecordedBy", "recordedBy"),
        ("disposal", "anwser:8(b)", "answer:8(b)"),
        ("disposal", "Answer: 8(b)", "answer:8(b)"),
        ("capture", "individualCuont", "individualCount"),
        ("capture", "coordinateUncertantyInMeters", "coordinateUncertaintyInMeters"),
        ("capture", "gravdi", "gravid"),
        ("capture", "trapCheckdate", "trapCheckDate"),
        ("consent", "withdrawOn", "withdrawnOn"),
        ("container", "containerId", "containerID"),
        ("callout", "residnetPhone", "residentPhone"),
    ],
)
def test_a_slip_of_the_pen_is_found(kind: str, column: str, meant: str) -> None:
    (near,) = near_columns(kind, ["eventDate", column, "weather"])
    assert (near.column, near.meant, near.absent) == (column, meant, True)
    assert [n.absent for n in near_columns(kind, [meant, column])] == [False]


@pytest.mark.parametrize(
    "column", ["weather", "depth_m", "ageClass", "answer:9(z)", "mood", "site", "capture"]
)
def test_columns_of_ones_own_are_left_alone(column: str) -> None:
    assert near_columns("callout", [column]) == ()


def test_what_would_be_missing_is_refused_and_what_is_there_too_is_noted() -> None:
    with pytest.raises(InputError, match="did you mean recordedDate") as told:
        refuse_near("disposal", ["recordedDte"], where="x.csv")
    assert "--own-columns" in told.value.text()
    assert [n.column for n in refuse_near("disposal", ["recordedDte"], where="", keep=True)] == [
        "recordedDte"
    ]
    both = ["recordedDate", "recordedDte"]
    assert [n.column for n in refuse_near("disposal", both, where="x.csv")] == ["recordedDte"]


@pytest.mark.parametrize("keep", [True, False])
def test_a_residents_details_never_get_in_by_a_slip(keep: bool) -> None:
    with pytest.raises(InputError, match="did you mean residentName"):
        refuse_near("callout", ["residentName", "residnetName"], where="x.csv", keep=keep)


def test_the_kind_of_a_table_and_its_needed_columns() -> None:
    with pytest.raises(InputError, match=r"'captureld'.*did you mean captureID"):
        kind_of(["captureld", "eventDate"], where="x.csv")
    with pytest.raises(InputError, match=r"missing column eventDate; .*'eventDte'"):
        needed_columns("capture", ["captureID", "eventDte"], where="x.csv")
    # with a slip in it, the column that makes it a table of releases leaves one of captures
    assert kind_of(["captureID", "eventDate", "dispoasl"], where="") == "capture"
    with pytest.raises(InputError, match="did you mean disposal"):
        refuse_near("capture", ["captureID", "eventDate", "dispoasl"], where="x.csv")
