"""The consent register: who may be released where, by whose leave. No names of residents."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from tussock.clock import parse_date
from tussock.errors import Faults, InputError
from tussock.permit.explain import MOST_FAULTS, did_you_mean, shown
from tussock.permit.fields import MOST_COUNT
from tussock.permit.ground_columns import check_columns, check_ground
from tussock.permit.taxon import any_covers, name_parts
from tussock.tables import Row, Table, read_table

COLUMNS = (
    "consentID",
    "parcelID",
    "layer",
    "featureID",
    "tenure",
    "capacity",
    "written",
    "validFrom",
    "validTo",
    "species",
    "number",
    "withdrawnOn",
)
"""Columns that are read; others are left unread, so that residents' details never get in."""
_YES_NO = {"": None, "yes": True, "true": True, "written": True, "no": False, "false": False, "oral": False}


@dataclass(frozen=True)
class Consent:
    """Leave to release on a parcel, or on a feature of a layer.

    Attributes
    ----------
    parcel_id
        The parcel; empty where ``layer`` and ``feature_id`` name a feature instead.
    tenure, capacity
        What kind of land it is, and in what capacity leave was given; in the user's words.
    written
        ``None`` where it is not recorded.
    valid_from, valid_to
        Local dates, both included; ``valid_to`` ``None`` is open.
    species
        Scientific names that it covers; empty for all.
    number
        Individuals it covers; ``None`` where it sets no number.
    withdrawn_on
        From this day on it no longer holds.
    where
        File and row.
    """

    id: str
    parcel_id: str
    layer: str
    feature_id: str
    tenure: str
    capacity: str
    written: bool | None
    valid_from: date
    valid_to: date | None
    species: tuple[str, ...]
    number: int | None
    withdrawn_on: date | None
    where: str

    def in_force(self, day: date, *, species: str) -> bool:
        """Return whether it holds on a local date for an animal of that scientific name.

        A name that may or may not be covered is not. On the day of withdrawal it no longer holds.
        """
        if day < self.valid_from or (self.valid_to is not None and day > self.valid_to):
            return False
        if self.withdrawn_on is not None and day >= self.withdrawn_on:
            return False
        return not self.species or any_covers(self.species, species) is True


def read_consents(path: Path) -> tuple[Consent, ...]:
    """Return the consents of a CSV file, in its order.

    Raises
    ------
    InputError
        When it is no such table; lists every fault with its row.
    """
    return consents_in(read_table(path))


def consents_in(table: Table) -> tuple[Consent, ...]:
    """Return the consents of a table, in its order.

    Raises
    ------
    InputError
        When it is no such table; lists every fault with its row.
    """
    check_columns(table, ("consentID", "validFrom"), known=COLUMNS)
    faults = Faults()
    consents = [_consent(row, faults=faults) for row in table.rows]
    _check_ids(table, faults=faults)
    faults.raise_if_any(most=MOST_FAULTS)
    return tuple(c for c in consents if c is not None)


def _check_ids(table: Table, *, faults: Faults) -> None:
    counts = Counter(row.get("consentID") for row in table.rows)
    for name in sorted(n for n, count in counts.items() if n and count > 1):
        rows = ", ".join(str(r.number) for r in table.rows if r.get("consentID") == name)
        faults.add(
            f"consentID {shown(name)} stands in rows {rows[:60]}",
            where=table.path.name,
            allowed="each consentID once",
            fix="give each consent an id of its own",
        )


def _consent(row: Row, *, faults: Faults) -> Consent | None:
    before = len(faults.items)
    if not row.get("consentID"):
        faults.add("consentID is empty", where=row.where, fix="give each consent an id of its own")
    check_ground(row, faults=faults)
    first = _day(row, "validFrom", faults=faults)
    if not row.get("validFrom"):
        faults.add(
            "validFrom is empty", where=row.where, allowed="a date such as 2026-11-21", fix="fill it in"
        )
    last, withdrawn = (_day(row, column, faults=faults) for column in ("validTo", "withdrawnOn"))
    for column, day in (("validTo", last), ("withdrawnOn", withdrawn)):
        if first is not None and day is not None and day < first:
            faults.add(
                f"{column} {day} is before validFrom {first}",
                where=row.where,
                allowed="the same day or later",
                fix="correct the dates",
            )
    written, species = _written(row, faults=faults), tuple(_species(row, faults=faults))
    number = _number(row, faults=faults)
    if first is None or len(faults.items) > before:
        return None
    return Consent(
        id=row.get("consentID"),
        parcel_id=row.get("parcelID"),
        layer=row.get("layer"),
        feature_id=row.get("featureID"),
        tenure=row.get("tenure"),
        capacity=row.get("capacity"),
        written=written,
        valid_from=first,
        valid_to=last,
        species=species,
        number=number,
        withdrawn_on=withdrawn,
        where=row.where,
    )


def _day(row: Row, column: str, *, faults: Faults) -> date | None:
    text = row.get(column)
    if not text:
        return None
    try:
        return parse_date(text, where=f"{row.where}, {column}")
    except InputError as error:
        faults.add(f"{shown(text)} is not a date", where=f"{row.where}, {column}", allowed=error.allowed)
        return None


def _written(row: Row, *, faults: Faults) -> bool | None:
    text = row.get("written").lower()
    if text not in _YES_NO:
        words = ", ".join(w for w in _YES_NO if w)
        fix = did_you_mean(text, _YES_NO) or "write yes or no"
        faults.add(
            f"written {shown(row.get('written'))}", where=row.where, allowed=f"{words}, or empty", fix=fix
        )
        return None
    return _YES_NO[text]


def _species(row: Row, *, faults: Faults) -> Iterator[str]:
    for name in row.get("species").split("|"):
        trimmed = " ".join(name.split())
        if trimmed and not name_parts(trimmed):
            faults.add(
                f"species {shown(trimmed)} is no scientific name",
                where=row.where,
                allowed="names such as 'Notechis scutatus' or 'Notechis spp.', separated by |, or empty",
                fix="write the scientific name",
            )
        elif trimmed:
            yield trimmed


def _number(row: Row, *, faults: Faults) -> int | None:
    text = row.get("number")
    if not text:
        return None
    # len first: a very long run of digits is refused by int() itself
    if not (text.isascii() and text.isdigit() and len(text) < 10 and 0 < int(text) <= MOST_COUNT):
        faults.add(
            f"number {shown(text)}",
            where=row.where,
            allowed=f"a whole number from 1 to {MOST_COUNT}, or empty",
            fix="correct it",
        )
        return None
    return int(text)
