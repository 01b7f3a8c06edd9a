"""From a table to the book: all of it or nothing, with every refused row and why; or, asked so, what is good.

Every row read is added, there already, or refused: the three add up, and that is asserted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Protocol

from tussock.errors import Faults, InputError
from tussock.records.entries import ID_COLUMN, PARENT, Entry
from tussock.records.sheets import REFUSED, WHY
from tussock.records.tabled import Refused, Sheet, read_entries
from tussock.records.times import to_come
from tussock.tables import csv_text

__all__ = ["AnyLogbook", "Imported", "import_sheet", "read_entries", "refused_csv", "refused_path"]

MOST_FAULTS = 200
"""So many faults of refused rows are printed in full; the rest are counted."""


class AnyWritten(Protocol):
    """What a logbook says of a writing."""

    @property
    def added(self) -> tuple[Entry, ...]:
        """Entries that are new."""

    @property
    def unchanged(self) -> tuple[Entry, ...]:
        """Entries that were there just so, now or before they were amended."""

    @property
    def amended_since(self) -> tuple[Entry, ...]:
        """Those of the unchanged that are as they once were."""


class AnyLogbook(Protocol):
    """The part of a logbook that an import uses."""

    def write(self, given: Iterable[Entry], *, by: str, at: datetime, why: str = "") -> AnyWritten:
        """Add entries, all or none."""

    def entries(self, kind: str | None = None) -> tuple[Entry, ...]:
        """Return the present entries."""

    def differs(self, given: Iterable[Entry]) -> Mapping[tuple[str, str], tuple[str, ...]]:
        """Return the columns in which entries differ from those there."""

    def keep_resident(
        self, callout_id: str, *, name: str, phone: str, address: str, keep_until: date
    ) -> None:
        """Keep who called, apart from the book."""


@dataclass(frozen=True)
class Imported:
    """What an import did; ``read`` is the sum of the first three.

    Attributes
    ----------
    amended_since
        Those of the unchanged that are as they were logged, and were amended since.
    """

    added: tuple[Entry, ...]
    unchanged: tuple[Entry, ...]
    refused: tuple[Refused, ...]
    read: int
    amended_since: tuple[Entry, ...] = ()


def import_sheet(
    logbook: AnyLogbook,
    sheet: Sheet,
    *,
    by: str,
    at: datetime,
    keep_good: bool = False,
    aside: Callable[[Sequence[Refused]], None] | None = None,
) -> Imported:
    """Write the entries of a table into a logbook; the same table again changes nothing.

    Parameters
    ----------
    by, at
        Who imports it, and when.
    keep_good
        Write the good rows though others are refused; without it one refused row is enough to write none.
    aside
        Called with the refused rows before any other is written; what it raises stops the import.

    Raises
    ------
    InputError
        Listing the refused rows, each with everything that is wrong with it.
    """
    against = _against(logbook, sheet, at)
    refused = sorted([*sheet.refused, *against.values()], key=lambda r: r.row.number)
    if refused and not keep_good:
        faults = Faults([fault for one in refused for fault in one.why])
        faults.raise_if_any(most=MOST_FAULTS)
    if refused and aside is not None:
        aside(refused)
    done = logbook.write([e for e in sheet.entries if e.id not in against], by=by, at=at)
    for who in sheet.residents:
        if who.callout_id not in against and who.keep_until >= at.date():
            logbook.keep_resident(
                who.callout_id,
                name=who.name,
                phone=who.phone,
                address=who.address,
                keep_until=who.keep_until,
            )
    found = Imported(done.added, done.unchanged, tuple(refused), sheet.read, done.amended_since)
    assert len(found.added) + len(found.unchanged) + len(found.refused) == found.read
    return found


def _against(logbook: AnyLogbook, sheet: Sheet, at: datetime) -> dict[str, Refused]:
    """Return, by id, the entries that the book speaks against: other cells there, or nothing to belong to.

    And those of what is still to come.
    """
    why: dict[str, list[InputError]] = defaultdict(list)
    for entry in sheet.entries:
        if faults := to_come(entry, at):
            why[entry.id] += faults
    for (_, name), columns in logbook.differs(sheet.entries).items():
        why[name].append(_differing(sheet, name, columns))
    for entry in _orphans(logbook, sheet):
        above = PARENT[entry.kind]
        why[entry.id].append(
            InputError(
                f"no {above} '{entry.parent[:40]}' is in the book",
                where=f"{entry.where}, {ID_COLUMN[above]}",
                allowed=f"a {above} that is there",
                fix=f"import the {above}s first, or correct the id",
            )
        )
    return {name: Refused(sheet.rows[name], tuple(faults)) for name, faults in why.items()}


def _differing(sheet: Sheet, name: str, columns: Iterable[str]) -> InputError:
    return InputError(
        f"{sheet.kind} '{name[:40]}' is in the book with other {', '.join(columns)[:200]}",
        where=sheet.rows[name].where,
        allowed="what is not there yet, or the same cells as now or before an amendment",
        fix=f"to change it, tussock log amend {sheet.kind} {name[:40]} --set column=value --why …",
    )


def _orphans(logbook: AnyLogbook, sheet: Sheet) -> Iterator[Entry]:
    """Yield the entries whose parent is not in the book."""
    belonging = [e for e in sheet.entries if e.parent]
    if not belonging:
        return
    there = {e.id for e in logbook.entries(PARENT[sheet.kind])}
    yield from (e for e in belonging if e.parent not in there)


def refused_csv(sheet: Sheet, refused: Iterable[Refused]) -> str:
    """Return refused rows as CSV, as they were read, with the reason in the last column."""
    rows = ({**r.row.cells, WHY: " ".join(f.text() for f in r.why)} for r in refused)
    return csv_text((*(c for c in sheet.columns if c != WHY), WHY), rows)


def refused_path(path: Path) -> Path:
    """Return where the refused rows of a file go: beside it, ``NAME-refused.csv``."""
    return path.with_name(f"{path.stem}{REFUSED}.csv")
