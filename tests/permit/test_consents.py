"""The consent register: reading it, and when a consent holds."""

from __future__ import annotations

from dataclasses import fields
from datetime import date
from typing import TYPE_CHECKING

import pytest

from tussock.errors import InputError
from tussock.permit.consents import Consent, read_consents

if TYPE_CHECKING:
    from tests.permit.conftest import Desk

HEADER = (
    "consentID,parcelID,layer,featureID,tenure,capacity,written,validFrom,validTo,species,number,"
    "withdrawnOn\n"
)
FULL = "C1,P7,,,private,owner,yes,2026-01-01,2026-12-31,Notechis scutatus|Pseudonaja spp.,5,2026-11-01\n"
BARE = "C2,,protected,R3,,,,2026-01-01,,,,\n"


def _one(desk: Desk, row: str) -> Consent:
    (consent,) = read_consents(desk.write(HEADER + row, "consents.csv"))
    return consent


def test_a_full_row(desk: Desk) -> None:
    assert _one(desk, FULL) == Consent(
        id="C1",
        parcel_id="P7",
        layer="",
        feature_id="",
        tenure="private",
        capacity="owner",
        written=True,
        valid_from=date(2026, 1, 1),
        valid_to=date(2026, 12, 31),
        species=("Notechis scutatus", "Pseudonaja spp."),
        number=5,
        withdrawn_on=date(2026, 11, 1),
        where="consents.csv, row 2",
    )


def test_a_bare_row(desk: Desk) -> None:
    consent = _one(desk, BARE)
    assert (consent.layer, consent.feature_id, consent.parcel_id) == ("protected", "R3", "")
    assert (consent.written, consent.valid_to, consent.number, consent.withdrawn_on) == (None,) * 4
    assert consent.species == ()


@pytest.mark.parametrize(
    ("row", "day", "species", "expected"),
    [
        (FULL, date(2025, 12, 31), "Notechis scutatus", False),
        (FULL, date(2026, 1, 1), "Notechis scutatus", True),
        (FULL, date(2026, 10, 31), "Notechis scutatus", True),
        (FULL, date(2026, 11, 1), "Notechis scutatus", False),  # the day of withdrawal
        (FULL.replace(",2026-11-01\n", ",\n"), date(2026, 12, 31), "Notechis scutatus", True),  # the last day
        (FULL.replace(",2026-11-01\n", ",\n"), date(2027, 1, 1), "Notechis scutatus", False),
        (FULL, date(2026, 5, 1), "Pseudonaja textilis", True),  # by its genus
        (FULL, date(2026, 5, 1), "Boa constrictor", False),
        (FULL, date(2026, 5, 1), "Notechis sp.", False),  # may be covered, may be not
        (FULL, date(2026, 5, 1), "", False),
        (BARE, date(2099, 5, 1), "Boa constrictor", True),
        (BARE, date(2099, 5, 1), "", True),
    ],
)
def test_in_force(desk: Desk, row: str, day: date, species: str, expected: bool) -> None:
    assert _one(desk, row).in_force(day, species=species) is expected


def test_nothing_about_residents_is_kept(desk: Desk) -> None:
    header = HEADER.replace("consentID", "consentID,name,phone")
    row = FULL.replace("C1,", "C1,Resident Invented,555-0100,")
    (consent,) = read_consents(desk.write(header + row, "consents.csv"))
    assert "Resident" not in repr(consent) and "555" not in repr(consent)
    assert not {"name", "phone", "address", "holder"} & {f.name for f in fields(consent)}


@pytest.mark.parametrize("written", ["yes", "Yes", "true", "written"])
def test_written(desk: Desk, written: str) -> None:
    assert _one(desk, FULL.replace(",yes,", f",{written},")).written is True
    assert _one(desk, FULL.replace(",yes,", ",oral,")).written is False


def test_a_column_order_of_ones_own_and_semicolons(desk: Desk) -> None:
    text = "validFrom;consentID;parcelID\r\n2026-01-01;C9;P1\r\n"
    (consent,) = read_consents(desk.write(b"\xef\xbb\xbf" + text.encode(), "consents.csv"))
    assert (consent.id, consent.parcel_id, consent.valid_from) == ("C9", "P1", date(2026, 1, 1))


@pytest.mark.parametrize(
    ("row", "message"),
    [
        (FULL.replace("C1", ""), "row 2: consentID is empty"),
        (FULL.replace("P7", ""), "row 2: it gives no ground.*parcelID alone, or layer and featureID"),
        (FULL.replace("P7,,", "P7,protected,R3"), "it gives parcelID and layer and featureID"),
        (BARE.replace("R3", ""), "it gives layer"),
        (FULL.replace("2026-01-01", ""), "validFrom is empty"),
        (FULL.replace("2026-01-01", "1/1/26"), "row 2, validFrom: '1/1/26' is not a date"),
        (FULL.replace("2026-12-31", "2026-13-31"), "row 2, validTo: '2026-13-31' is not a date"),
        (FULL.replace("2026-12-31", "2025-12-31"), "validTo 2025-12-31 is before validFrom 2026-01-01"),
        (FULL.replace("2026-11-01", "2025-11-01"), "withdrawnOn 2025-11-01 is before validFrom"),
        (FULL.replace(",yes,", ",perhaps,"), "written 'perhaps'.*yes, true"),
        (FULL.replace("Pseudonaja spp.", "brown snake"), "species 'brown snake' is no scientific name"),
        (FULL.replace(",5,", ",0,"), "number '0'.*a whole number from 1"),
        (FULL.replace(",5,", ",2.5,"), "number '2.5'"),
        (FULL.replace(",5,", ",-1,"), "number '-1'"),
        (FULL.replace(",5,", f",{'9' * 6000},"), "number '999"),
        (FULL + FULL, "consentID 'C1' stands in rows 2, 3.*each consentID once"),
    ],
)
def test_faults(desk: Desk, row: str, message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        read_consents(desk.write(HEADER + row, "consents.csv"))
    assert "consents.csv" in str(caught.value)


@pytest.mark.parametrize(
    ("header", "message"),
    [
        ("parcelID,validFrom", "missing column consentID"),
        ("consentID,parcelID", "missing column validFrom"),
        ("consentID,layer,validFrom", r"missing column parcelID \(or layer and featureID\)"),
        ("", "it is empty"),
    ],
)
def test_columns(desk: Desk, header: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_consents(desk.write(header + "\n", "consents.csv"))


def test_all_faults_come_at_once(desk: Desk) -> None:
    rows = FULL.replace("2026-01-01", "x").replace(",5,", ",0,") + BARE.replace("R3", "")
    with pytest.raises(InputError, match="3 faults"):
        read_consents(desk.write(HEADER + rows, "consents.csv"))


def test_a_register_without_rows(desk: Desk) -> None:
    assert read_consents(desk.write(HEADER, "consents.csv")) == ()
