"""Tables of captures and releases → what the planner takes; every fault of a table is reported at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from tussock.clock import parse_instant
from tussock.errors import Faults, InputError
from tussock.ground.region import Region
from tussock.measure.scene import EarlierRelease
from tussock.names import DISPOSALS
from tussock.planning.setting import Capture
from tussock.position import LATITUDE, LONGITUDE, UNCERTAINTY, Position, most_decimals, position_from_row
from tussock.species.intake import OTHERS, QUESTIONS, Animal, read_animal, unanswered
from tussock.species.profiles import SpeciesBook
from tussock.tables import Row, Table, read_table

NAMES = ("scientificName", "vernacularName")
ASKED = (*NAMES, OTHERS, *QUESTIONS, "individualCount")
"""Columns that answer a question about the animal."""
PLACED = ("captureID", "eventDate", LATITUDE, LONGITUDE, UNCERTAINTY, "geodeticDatum")
CAPTURE_COLUMNS = (
    "captureID", "eventDate", LATITUDE, LONGITUDE, UNCERTAINTY, *QUESTIONS, "individualCount"
)  # fmt: skip
"""Columns that a table of captures must have, besides a name."""
TRAP_CHECK = "trapCheckDate"
"""When the trap was checked; empty where there was none."""
_MOST_COUNT_DIGITS = 6
_T = TypeVar("_T")


@dataclass(frozen=True)
class CaptureRow:
    """A row of a table of captures.

    Attributes
    ----------
    capture
        ``None`` where questions about the animal are open: such a row is not planned.
    unanswered
        Columns of the open questions, in the order they are asked.
    others
        The columns that Tussock does not read, as they stand.
    """

    id: str
    time: datetime
    where: str
    capture: Capture | None
    unanswered: tuple[str, ...]
    others: Mapping[str, str]


@dataclass(frozen=True)
class BookedRelease:
    """A release of the book with the capture it belongs to.

    ``capture_id`` is empty where others of that capture are still held: for them it is an earlier release.
    """

    capture_id: str
    release: EarlierRelease


def read_captures(path: Path, *, book: SpeciesBook) -> tuple[CaptureRow, ...]:
    """Return the captures of a CSV file, in order of eventDate (the file's own order within one instant).

    A row with an open question about its animal is no fault of the table: it comes without a capture
    and the batch ends with exit 1. A command line for one animal is refused (exit 2) because it can be
    completed on the spot; in a table one unanswered row must not hold up all others, and it must not
    pass as planned either. A column of questions that is missing altogether is a fault.

    Raises
    ------
    InputError
        Listing every fault with row and column: missing columns, repeated or empty captureID, times
        without zone, coordinates, answers that are none.
    """
    table = read_table(path)
    _require(table, CAPTURE_COLUMNS)
    return captures_in(table, book=book, decimals=most_decimals(table))


def captures_in(table: Table, *, book: SpeciesBook, decimals: int) -> tuple[CaptureRow, ...]:
    """Return the captures of a table, in order of eventDate; a column that it lacks is an open question.

    Parameters
    ----------
    decimals
        The most decimals shown in the coordinates of everything that was recorded alike.

    Raises
    ------
    InputError
        Listing every fault with row and column, as :func:`read_captures`.
    """
    faults = Faults()
    rows = [_capture_row(row, book=book, decimals=decimals, faults=faults) for row in table.rows]
    _check_ids(table, faults)
    if not table.rows:
        faults.add("no row below the header", where=table.path.name, fix="add the captures, a row each")
    faults.raise_if_any()
    return tuple(sorted((r for r in rows if r is not None), key=lambda r: r.time))


def read_releases(path: Path, *, book: SpeciesBook) -> tuple[BookedRelease, ...]:
    """Return the releases of a CSV file, in its order; rows whose disposal is not ``released`` are left out.

    An empty individualCount counts one animal; an empty disposal counts as a release, the careful side.
    Names go through the book, so that a vernacular name counts for its species.

    Raises
    ------
    InputError
        Listing every fault with row and column.
    """
    table = read_table(path)
    _require(table, ("captureID", "eventDate", LATITUDE, LONGITUDE, UNCERTAINTY))
    faults = Faults()
    decimals = most_decimals(table)
    rows = [_release(row, book=book, decimals=decimals, faults=faults) for row in table.rows]
    faults.raise_if_any()
    return tuple(r for r in rows if r is not None)


def earlier(
    booked: Iterable[BookedRelease] | None, *, but_for: Container[str]
) -> tuple[EarlierRelease, ...] | None:
    """Return the releases of other captures than those named: an animal does not stand in its own way.

    ``None`` where no book is given.
    """
    if booked is None:
        return None
    return tuple(b.release for b in booked if b.capture_id not in but_for)


def check_places(rows: Iterable[CaptureRow], region: Region) -> None:
    """Refuse captures outside the region.

    Raises
    ------
    InputError
        Listing each with its row.
    """
    faults = Faults()
    for row in rows:
        if row.capture is not None:
            _try(
                region.check_holds,
                row.capture.position,
                where=f"{row.where}, capture {row.id}",
                faults=faults,
            )
    faults.raise_if_any()


def _require(table: Table, columns: Iterable[str]) -> None:
    table.require(columns)
    if not set(NAMES) & set(table.columns):
        raise InputError(
            f"missing column scientificName; found {', '.join(table.columns)[:300]}",
            where=table.path.name,
            allowed="scientificName or vernacularName",
            fix="rename or add the column",
        )


def _capture_row(row: Row, *, book: SpeciesBook, decimals: int, faults: Faults) -> CaptureRow | None:
    before = len(faults.items)
    if not row.get("captureID"):
        faults.add("captureID is empty", where=row.where, fix="give each capture an id of its own")
    time = _instant(row, faults)
    position = _try(position_from_row, row, decimals=decimals, instant=time, faults=faults)
    answers = {c: row.get(c) for c in ASKED if row.get(c)}
    open_questions = unanswered(answers)
    animal = _animal(row, answers, book=book, faults=faults)
    checked = _instant(row, faults, column=TRAP_CHECK) if row.get(TRAP_CHECK) else None
    if len(faults.items) > before or time is None or position is None:
        return None
    others = {c: v for c, v in row.cells.items() if c not in ASKED and c not in PLACED}
    capture = None if animal is None else _capture(row, position, time, animal, answers)
    if capture is not None:
        capture = replace(capture, trap_checked=checked)
    return CaptureRow(row.get("captureID"), time, row.where, capture, open_questions, others)


def _capture(
    row: Row, position: Position, time: datetime, animal: Animal, answers: Mapping[str, str]
) -> Capture:
    return Capture(row.get("captureID"), position, time, animal, answers, answers.get("vernacularName", ""))


def _animal(row: Row, answers: Mapping[str, str], *, book: SpeciesBook, faults: Faults) -> Animal | None:
    """Return the animal; ``None`` with questions open. Answers that are none are faults either way."""
    open_questions = unanswered(answers)
    if not open_questions:
        return _try(read_animal, answers, book=book, where=row.where, faults=faults)
    # the last answer of each: the first, certain, would speak against other names
    stand_ins = {c: list(QUESTIONS[c])[-1].value for c in open_questions if c in QUESTIONS}
    stand_ins |= {c: "1" for c in open_questions if c == "individualCount"}
    stand_ins |= {c: "not named" for c in open_questions if c in NAMES}
    # only to find what is wrong with the answers that were given
    _try(read_animal, {**answers, **stand_ins}, book=book, where=row.where, faults=faults)
    return None


def _release(row: Row, *, book: SpeciesBook, decimals: int, faults: Faults) -> BookedRelease | None:
    disposal = row.get("disposal").lower()
    if disposal and disposal not in DISPOSALS:
        faults.add(
            f"disposal '{disposal[:40]}'",
            where=f"{row.where}, disposal",
            allowed=", ".join(DISPOSALS),
            fix="write one of them",
        )
        return None
    if disposal not in ("", "released"):
        return None
    before = len(faults.items)
    time = _instant(row, faults)
    position = _try(position_from_row, row, decimals=decimals, instant=time, faults=faults)
    count = _count(row, faults)
    name = _name(row, book=book, faults=faults)
    if len(faults.items) > before or time is None or position is None:
        return None
    made = EarlierRelease(
        position.longitude,
        position.latitude,
        position.radius_m,
        time,
        name,
        count,
        consent_reference=row.get("consentReference"),
    )
    return BookedRelease(row.get("captureID"), made)


def _count(row: Row, faults: Faults) -> int:
    text = row.get("individualCount") or "1"
    if text.isascii() and text.isdigit() and len(text) <= _MOST_COUNT_DIGITS and int(text) > 0:
        return int(text)
    faults.add(
        f"individualCount '{text[:40]}'",
        where=f"{row.where}, individualCount",
        allowed="a whole number from 1, or empty",
        fix="correct it",
    )
    return 1


def _name(row: Row, *, book: SpeciesBook, faults: Faults) -> str:
    given = next((row.get(c) for c in NAMES if row.get(c)), "")
    try:
        return book.find(given).scientific_name
    except InputError as error:
        faults.add(error.found, where=f"{row.where}, scientificName", allowed=error.allowed, fix=error.fix)
        return given


def _instant(row: Row, faults: Faults, *, column: str = "eventDate") -> datetime | None:
    return _try(parse_instant, row.get(column), where=f"{row.where}, {column}", faults=faults)


def _check_ids(table: Table, faults: Faults) -> None:
    counts = Counter(row.get("captureID") for row in table.rows)
    for name in sorted(n for n, count in counts.items() if n and count > 1):
        rows = ", ".join(str(r.number) for r in table.rows if r.get("captureID") == name)
        faults.add(
            f"captureID '{name[:40]}' stands in rows {rows[:60]}",
            where=table.path.name,
            allowed="each captureID once",
            fix="give each capture an id of its own",
        )


def _try(read: Callable[..., _T], *given: object, faults: Faults, **named: object) -> _T | None:
    """Return what a reader returns; note its fault and return ``None`` where it raises."""
    try:
        return read(*given, **named)
    except InputError as error:
        faults.take(error)
        return None
