"""``tussock hotspots --public``: the one file that can be published, and what only its maker is told.

What the maker is told goes to stderr alone: stdout holds what the file says, so that it can be sent on too.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from tussock.cli import show
from tussock.cli.failures import say, written
from tussock.cli.hotspots_options import HotspotsOptions, asked
from tussock.cli.options import Format
from tussock.errors import Faults, InputError, UsageError, together
from tussock.geodesy import Plane
from tussock.ground.region import open_region
from tussock.hotspots.calls import Call, different, seconds
from tussock.hotspots.found import Asked
from tussock.hotspots.public import PublicCalls, PublicFigures, Released, release_figures
from tussock.hotspots.public_choice import PublicChoice
from tussock.hotspots.public_partition import Partition
from tussock.hotspots.public_store import stored_partition
from tussock.hotspots.public_units import Whole
from tussock.maps.hotspots_words import CALLS_NOT_SNAKES
from tussock.records.calls import calls_of
from tussock.records.entries import CALLOUT, CAPTURE
from tussock.records.source import Book

_OF_USE = {
    "observed",
    "logbook",
    "callouts",
    "captures",
    "region",
    "timezone",
    "public",
    "now",
    "output",
}
"""Options that published figures heed: a callout without a place stands where its capture does."""
_LATE_DAYS = 183
"""A first call later than so long after the seasons begin [d] makes one doubt the book (judgement)."""


@dataclass(frozen=True)
class _Taken:
    """The calls that are handed on, how many rows of the book are not, and what is to be noted of it."""

    calls: tuple[Call, ...]
    without_place: int
    twice: int
    future: int
    notes: tuple[str, ...]


def run_public(given: HotspotsOptions, *, book: Callable[[HotspotsOptions], Book]) -> int:
    """Write the figures of one block of seasons; return the exit code.

    Parameters
    ----------
    book
        Opens the book that the options name; asked for it once nothing else is in the way.

    Raises
    ------
    UsageError
        When an option makes no sense here, the seasons are no block or have not ended, or the time observed
        does not cover them.
    InputError
        When the region has no units or the book no callout, a file cannot be used, or other figures were
        released before.
    """
    _refuse_options(given)
    folder, year = given.folder(), given.public or 0
    plane = open_region(folder).plane
    partition = stored_partition(folder, plane=plane)
    choice = partition.choice
    wanted = _asked(given, choice, year)
    taken = _taken(book(given), plane, now=wanted.now)
    released = release_figures(
        folder,
        _public(taken.calls),
        plane=plane,
        dimension=choice.dimension,
        first_season=year,
        now=wanted.now,
    )
    say(CALLS_NOT_SNAKES)
    _show(released.figures, given.output)
    _tell(released, taken, unsure=_unsure(partition, taken.calls, year))
    _doubt(taken, choice, year)
    return 0


def _doubt(taken: _Taken, choice: PublicChoice, year: int) -> None:
    """Ask whether the book was kept where its first call comes long after the seasons begin."""
    begins, _ = choice.days(year)
    zone = ZoneInfo(choice.zone)
    first = min((call.time.astimezone(zone).date() for call in taken.calls), default=None)
    if first is not None and (first - begins).days > _LATE_DAYS:
        say(
            f"CHECK before you give it away: the first call in the book is of {first}, "
            f"{(first - begins).days} days after these seasons begin. If the book was not kept before, the "
            "bands are too low: do not publish them."
        )


def _refuse_options(given: HotspotsOptions) -> None:
    unset = HotspotsOptions(observed="")
    names = [f.name for f in fields(given) if f.name not in _OF_USE]
    faults = [
        UsageError(
            "it makes no sense together with --public",
            where=f"--{name.replace('_', '-')}",
            allowed="the one file of figures in the region's folder, and no page",
            fix="leave it out, or run the command once more without --public",
        )
        for name in names
        if getattr(given, name) != getattr(unset, name)
    ]
    if faults:
        raise together(faults)


def _asked(given: HotspotsOptions, choice: PublicChoice, year: int) -> Asked:
    """Return what is asked, in the zone that was settled; refuse what is no whole block of ended seasons."""
    if given.timezone not in (None, choice.zone):
        fix = "leave it out: seasons begin at the midnight of the zone that was settled with the units"
        raise UsageError(f"'{given.timezone}'", where="--timezone", allowed=choice.zone, fix=fix)
    now = given.log.clock()
    choice.refuse_another(choice.dimension, first_season=year, now=now)
    wanted = asked(replace(given, timezone=choice.zone))
    first, last = choice.days(year)
    if wanted.first > first or wanted.last < last:
        raise UsageError(
            f"{wanted.first}..{wanted.last} leaves out a part of the seasons that were asked for",
            where="--observed",
            allowed=f"the whole of them, {first}..{last}, or more",
            fix="publish nothing of seasons when the book was not always kept: bands would be too low",
        )
    return wanted


def _taken(book: Book, plane: Plane, *, now: datetime) -> _Taken:
    _refuse_slips(book)
    entries = [entry for entry in book.entries if entry.kind in (CALLOUT, CAPTURE)]
    given = calls_of(entries, plane=plane, inputs={})
    if not given.rows:
        fix = "name the book that the calls were kept in: one without calls says nothing of any season"
        raise InputError("the book holds no callout", where="published figures", fix=fix)
    kept = different(given.calls)
    past = tuple(call for call in kept if call.time <= now)
    return _Taken(
        calls=past,
        without_place=len(given.without_place),
        twice=len(given.calls) - len(kept),
        future=len(kept) - len(past),
        notes=given.notes,
    )


def _refuse_slips(book: Book) -> None:
    """Refuse a column that is nearly a known one: elsewhere a note will do, but a released file stands."""
    faults, fix = Faults(), "correct its name: what is released cannot be called back"
    for note in book.notes:
        faults.add(
            note, where="published figures", allowed="columns whose names are known, or quite others", fix=fix
        )
    faults.raise_if_any()


def _public(calls: tuple[Call, ...]) -> PublicCalls:
    rows = [(c.x, c.y, seconds(c.time)) for c in calls]
    return PublicCalls(*np.array(rows, dtype=np.float64).reshape(-1, 3).T)


def _unsure(partition: Partition, calls: tuple[Call, ...], year: int) -> int:
    """Return how many calls of a block may as well belong elsewhere: their circles reach over an edge."""
    choice = partition.choice
    begin, *_, end = choice.edges(year)
    told = [c for c in calls if begin <= seconds(c.time) < end]
    x, y, r = np.array([(c.x, c.y, c.radius_m) for c in told], dtype=np.float64).reshape(-1, 3).T

    def label(east: int, north: int) -> Whole:
        unit = partition.unit_index(x + east * r, y + north * r)
        return unit if choice.dimension == "unit" else np.minimum(unit, 0)

    other = [label(*to) != label(0, 0) for to in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    return int(np.logical_or.reduce(other).sum())


def _show(figures: PublicFigures, output: Format) -> None:
    """Print what the file says, and nothing else, on stdout."""
    head = (figures.dimension, "dwellings", "perhaps_dwellings", "calls", "rate_low", "rate_high")
    rows = list(_rows(figures))
    match output:
        case Format.JSON:
            show.data(figures.text())
        case Format.CSV:
            text = io.StringIO()
            csv.writer(text, lineterminator="\n").writerows([head, *rows])
            show.data(text.getvalue())
        case Format.TABLE:
            show.table([*head[:2], "perhaps", "calls", "per 1,000 dwellings and season, from", "to"], rows)


def _rows(figures: PublicFigures) -> Iterator[tuple[str, ...]]:
    for f in figures.figures:
        high = "" if f.rate_high is None else f"{f.rate_high:.1f}"
        yield f.of, str(f.dwellings), str(f.perhaps), f.band, f"{f.rate_low:.1f}", high


def _tell(released: Released, taken: _Taken, *, unsure: int) -> None:
    """Say on stderr what is in no file: how every row of the book was counted."""
    for note in taken.notes:
        say(f"Note: {note}.")
    figures = released.figures
    left = {
        "outside all units": figures.beyond_units,
        "in other seasons": figures.other_seasons,
        "still to come": taken.future,
        "without a place": taken.without_place,
        "the same row twice": taken.twice,
    }
    said = ", ".join(f"{count} {words}" for words, count in left.items() if count) or "none"
    counted = "1 call is" if figures.counted == 1 else f"{figures.counted} calls are"
    say(f"For you alone: {counted} in the figures. Not in them: {said}.")
    if unsure:
        say(f"For you alone: {unsure} may belong elsewhere: their circles reach over the edge of a unit.")
    say("These numbers stand in no file; given away beside the figures, they can narrow the bands.")
    if released.fresh:
        written((released.path,))
    else:
        say(f"Released before, and the same: {released.path}")
