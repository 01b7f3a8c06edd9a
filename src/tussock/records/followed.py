"""The plan that a release followed, as far as the book holds it: the planned place and what was stored there.

Whether a nearer place met everything is judged when the plan is made, and looked up at the spot; a release
logged from its check names that check and the planned place. Nothing else in a book says which plan it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from tussock.errors import InputError
from tussock.interval import Verdict
from tussock.position import LATITUDE, LONGITUDE, UNCERTAINTY, Position, position_from_row
from tussock.records.entries import Entry
from tussock.records.release_entry import PLANNED
from tussock.records.spot_entry import VERDICT
from tussock.review.audit import Kept
from tussock.review.handling import Planned
from tussock.tables import Row

_DECIMALS = 7
"""Decimals of a planned place, as plans write it: they are no reason for a larger radius."""


def followed(kept: Iterable[Kept], checks: Iterable[Entry], permit: str) -> tuple[Kept, ...]:
    """Return records, each with the plan that it followed as one permit judged it.

    Parameters
    ----------
    checks
        The checks of the book.
    permit
        Id of the permit: another may have a clause of the same id.
    """
    by_id = {check.id: check for check in checks}
    return tuple(_followed(one, by_id, permit) for one in kept)


def _followed(kept: Kept, checks: Mapping[str, Entry], permit: str) -> Kept:
    check = checks.get(kept.cells.get("checkReference", ""))
    if kept.handling is None or check is None or check.parent != kept.capture_id:
        return kept
    place, stored = _place(kept.cells), dict(_stored(check, permit))
    if place is None or not stored:
        return kept
    return replace(kept, handling=replace(kept.handling, planned=Planned(place, stored)))


def _stored(check: Entry, permit: str) -> Iterator[tuple[str, Verdict]]:
    start, words = f"{VERDICT}{permit} ", {v.value: v for v in Verdict}
    for column, text in check.cells.items():
        if column.startswith(start) and text in words:
            yield column.removeprefix(start), words[text]


def _place(cells: Mapping[str, str]) -> Position | None:
    """Return the planned place; ``None`` where the record does not name it, or not so that it can be read."""
    given = dict(zip((LATITUDE, LONGITUDE, UNCERTAINTY), (cells.get(c, "") for c in PLANNED), strict=True))
    if not all(given.values()):
        return None
    try:
        return position_from_row(Row(0, given, ""), decimals=_DECIMALS, instant=None)
    except InputError:
        return None
