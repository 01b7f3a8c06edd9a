"""A table of entries read: what can be an entry, and each row that cannot, with everything against it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from tussock.clock import parse_date
from tussock.errors import InputError
from tussock.records.checks import Checker
from tussock.records.columns import kind_of, needed_columns
from tussock.records.entries import CONTAINER, DISPOSAL, ID_COLUMN, Entry
from tussock.records.kinds import INSTANTS, NEEDED, RESIDENT, check_columns, id_of
from tussock.records.sheets import RawSheet, SheetRow, read_sheet
from tussock.records.zones import ZONE, with_offset
from tussock.species.profiles import SpeciesBook
from tussock.tables import Table


@dataclass(frozen=True)
class Resident:
    """Who called, kept apart from the book until a last day."""

    callout_id: str
    name: str
    phone: str
    address: str
    keep_until: date


@dataclass(frozen=True)
class Refused:
    """A row that is not taken, and everything that speaks against it."""

    row: SheetRow
    why: tuple[InputError, ...]


@dataclass(frozen=True)
class Sheet:
    """A table read into entries.

    Attributes
    ----------
    read
        How many rows the file has: as many as entries and refused rows together.
    residents
        Whom callouts name; no part of the entries.
    """

    path: Path
    kind: str
    columns: tuple[str, ...]
    entries: tuple[Entry, ...]
    refused: tuple[Refused, ...]
    read: int
    residents: tuple[Resident, ...] = ()
    rows: Mapping[str, SheetRow] = field(default_factory=dict, repr=False)


def read_entries(
    path: Path, kind: str = "", *, species: SpeciesBook | None = None, may_be_empty: bool = False
) -> Sheet:
    """Return the entries of a table (CSV or XLSX), and the rows that cannot be entries.

    Parameters
    ----------
    kind
        Kind of its entries; empty to be told by its columns.
    species
        Where names are looked up; without it what the cells mean is left to who reads the entries.
    may_be_empty
        Take a header without a row for no entries.

    Raises
    ------
    InputError
        When the file is no table of entries at all: single rows are no reason.
    """
    raw = read_sheet(path, kind)
    kind = kind or kind_of(raw.columns, where=path.name)
    needed_columns(kind, raw.columns, where=path.name)
    Table(path, raw.columns, ()).require(NEEDED[kind])
    check_columns(kind, raw.columns, where=path.name)
    if not raw.rows and not may_be_empty:
        raise InputError("no row below the header", where=path.name, fix="add the entries, a row each")
    return _Taken(raw, kind, None if species is None else Checker(species)).sheet()


def entry_of(
    kind: str, cells: Mapping[str, str], *, where: str, checker: Checker | None
) -> tuple[Entry, tuple[InputError, ...]]:
    """Return an entry made of cells, and everything that is wrong with it."""
    whole, faults = _with_offsets(cells, where)
    name = id_of(kind, whole)
    if not name or not name.isprintable():
        fix, found = "give each an id of its own, on one line", f"{ID_COLUMN[kind]} is empty or cannot be one"
        faults.append(InputError(found, where=where, fix=fix))
    told = {(f.where, f.found) for f in faults}
    faults += [
        f
        for f in (() if checker is None else checker.faults_of(kind, whole, where=where))
        if (f.where, f.found) not in told and not f.found.startswith(f"{ID_COLUMN[kind]} is empty")
    ]
    return Entry(kind, name, whole, where), tuple(faults)


def _with_offsets(cells: Mapping[str, str], where: str) -> tuple[dict[str, str], list[InputError]]:
    """Return the cells with local times made instants by the row's own zone."""
    whole, faults = dict(cells), []
    zone = cells.get(ZONE, "")
    for column in (c for c in INSTANTS if zone and c in cells):
        try:
            whole[column] = with_offset(cells[column], zone, where=f"{where}, {column}")
        except InputError as error:
            faults.append(error)
    return whole, faults


class _Taken:
    """The rows of one table, sorted into entries and refusals."""

    def __init__(self, raw: RawSheet, kind: str, checker: Checker | None) -> None:
        self.raw, self.kind, self.checker = raw, kind, checker
        self.why: dict[int, list[InputError]] = defaultdict(list)

    def sheet(self) -> Sheet:
        """Return what was made of the rows."""
        made = [(row, *self._entry(row)) for row in self.raw.rows]
        self._note_repeated([(row, entry) for row, entry, _ in made])
        good = [(row, entry, who) for row, entry, who in made if row.number not in self.why]
        refused = [Refused(r, tuple(self.why[r.number])) for r in self.raw.rows if r.number in self.why]
        assert len(good) + len(refused) == len(self.raw.rows)
        return Sheet(
            self.raw.path,
            self.kind,
            self.raw.columns,
            tuple(entry for _, entry, _ in good),
            tuple(refused),
            len(self.raw.rows),
            tuple(who for _, _, who in good if who is not None),
            {entry.id: row for row, entry, _ in good},
        )

    def _entry(self, row: SheetRow) -> tuple[Entry, Resident | None]:
        spoilt = {f.where.removeprefix(f"{row.where}, ") for f in row.faults}
        cells = {c: v for c, v in row.cells.items() if c not in RESIDENT}
        entry, faults = entry_of(self.kind, cells, where=row.where, checker=self.checker)
        faults = tuple(f for f in faults if f.where.removeprefix(f"{row.where}, ") not in spoilt)
        who, more = resident_of(entry.id, row.cells, where=row.where)
        if row.faults or faults or more:
            self.why[row.number] += [*row.faults, *faults, *more]
        return entry, who

    def _note_repeated(self, made: Iterable[tuple[SheetRow, Entry]]) -> None:
        """Refuse every row of an id that stands in several: nobody knows which of them is right."""
        by_id: dict[str, list[SheetRow]] = defaultdict(list)
        for row, entry in made:
            by_id[entry.id].append(row)
        for name, rows in by_id.items():
            if name and len(rows) > 1:
                numbers = ", ".join(str(r.number) for r in rows[:12]) + (" …" if len(rows) > 12 else "")
                for row in rows:
                    self.why[row.number].append(_repeated(self.kind, name, numbers, row.where))


def _repeated(kind: str, name: str, numbers: str, where: str) -> InputError:
    fixes = {
        DISPOSAL: "several outcomes of one capture have an organismID or a disposalID each",
        CONTAINER: "write all times of cleaning in one row, parted by |",
    }
    return InputError(
        f"{ID_COLUMN[kind]} '{name[:40]}' stands in rows {numbers}",
        where=where,
        allowed="each id once",
        fix=fixes.get(kind, "give each an id of its own, or take out what stands twice"),
    )


def resident_of(
    callout_id: str, cells: Mapping[str, str], *, where: str
) -> tuple[Resident | None, tuple[InputError, ...]]:
    """Return who called, as a row names them, and what is wrong with that."""
    name, phone, address, until = (cells.get(c, "") for c in RESIDENT)
    if not (name or phone or address):
        return None, ()
    try:
        if not until:
            found, fix = f"{RESIDENT[-1]} is empty", "say until which day the details may be kept"
            raise InputError(found, where=where, allowed="a date such as 2026-11-21", fix=fix)
        return Resident(callout_id, name, phone, address, parse_date(until, where=where)), ()
    except InputError as error:
        return None, (error,)
