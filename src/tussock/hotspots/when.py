"""When calls come, where animals are found, and how many calls end in a capture."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

import numpy as np
import numpy.typing as npt

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.hotspots.calls import Incident
from tussock.hotspots.counts import Estimate, clopper_pearson, garwood_ends

Whole = npt.NDArray[np.int64]
MONTHS, HOURS = 12, 24
ALL = ""
"""The key of all species together."""


@dataclass(frozen=True, eq=False)
class Calendar:
    """Counts by month and hour of local time.

    Attributes
    ----------
    counts
        Shape (12, 24); row 0 is January, column 0 the hour from midnight.
    midnight
        How many came at 00:00:00 to the second: more than a few mean dates without a time.
    """

    counts: Whole
    midnight: int

    @property
    def n(self) -> int:
        """All of them."""
        return int(self.counts.sum())

    @property
    def months(self) -> Whole:
        """By month, shape (12,)."""
        return np.asarray(self.counts.sum(axis=1))

    @property
    def hours(self) -> Whole:
        """By hour, shape (24,)."""
        return np.asarray(self.counts.sum(axis=0))

    def month_ends(self) -> tuple[Floats, Floats]:
        """Return Garwood's ends of the mean behind each month's count."""
        return garwood_ends(self.months)

    def hour_ends(self) -> tuple[Floats, Floats]:
        """Return Garwood's ends of the mean behind each hour's count."""
        return garwood_ends(self.hours)

    def ends(self) -> tuple[Floats, Floats]:
        """Return Garwood's ends of the mean behind each month and hour, shape (12, 24)."""
        return garwood_ends(self.counts)


def calendars(incidents: Iterable[Incident], *, zone: tzinfo) -> Mapping[str, Calendar]:
    """Return counts by month and hour for all together (key `ALL`) and for each species by name.

    Species stand in order of their counts, then of the alphabet; incidents without one are only among
    all. An incident counts once, at the instant it began.

    Parameters
    ----------
    zone
        Of the district: an instant's hour is the one residents' clocks showed.
    """
    told = [(i.told.species, i.time.astimezone(zone)) for i in incidents]
    numbers = Counter(species for species, _ in told if species)
    names = sorted(numbers, key=lambda s: (-numbers[s], s))
    found = {ALL: _calendar([t for _, t in told])}
    return found | {name: _calendar([t for s, t in told if s == name]) for name in names}


def _calendar(times: Sequence[datetime]) -> Calendar:
    counts = np.zeros((MONTHS, HOURS), dtype=np.int64)
    np.add.at(counts, ([t.month - 1 for t in times], [t.hour for t in times]), 1)
    return Calendar(counts, sum((t.hour, t.minute, t.second) == (0, 0, 0) for t in times))


@dataclass(frozen=True)
class SeasonYear:
    """The year that begins in the quiet month, so that no season is cut in two.

    Attributes
    ----------
    month
        1 to 12: the season year begins on the first day of it.
    incidents
        Counted in that month and the two beside it.
    share
        Their share of all; a quarter would be no quieter than the rest.
    """

    month: int
    incidents: int
    share: Estimate

    @property
    def clear(self) -> bool:
        """Whether the quiet months are surely quieter than a quarter of the year."""
        return self.share.high < 0.25

    def of(self, time: datetime, *, zone: tzinfo) -> int:
        """Return the season year of an instant: the calendar year in which it began."""
        local = time.astimezone(zone)
        return local.year if local.month >= self.month else local.year - 1


def season_year(months: npt.ArrayLike) -> SeasonYear:
    """Return the season year that the counts of the calendar months suggest.

    The quiet month is the middle of the three months running with the fewest; of several the middle of
    the five with the fewest, then of seven, nine and eleven, then the one with the fewest itself, then the
    first in the year.

    Parameters
    ----------
    months
        Counts from January on, shape (12,).

    Raises
    ------
    InputError
        When there are not twelve.
    """
    counts = np.asarray(months)
    if counts.shape != (MONTHS,):
        raise InputError(f"{counts.size} counts", allowed="12, from January on")
    running = {width: _running(counts, width) for width in (3, 5, 7, 9, 11, 1)}
    quiet = min(range(MONTHS), key=lambda m: (*(int(sums[m]) for sums in running.values()), m))
    incidents = int(running[3][quiet])
    return SeasonYear(quiet + 1, incidents, clopper_pearson(incidents, int(counts.sum())))


def _running(counts: npt.NDArray[np.generic], width: int) -> Whole:
    """Return the sum of ``width`` months round each, the year being a circle."""
    half = width // 2
    return np.asarray(sum(np.roll(counts.astype(np.int64), shift) for shift in range(-half, half + 1)))


def places_found(incidents: Iterable[Incident]) -> Mapping[str, Estimate]:
    """Return the share of captures at each kind of place, of those that say where; the commonest first."""
    said = Counter(i.told.found_in for i in incidents if i.captured and i.told.found_in)
    n = said.total()
    return {
        place: clopper_pearson(count, n)
        for place, count in sorted(said.items(), key=lambda item: (-item[1], item[0]))
    }


def share_captured(
    incidents: Iterable[Incident], *, leaving_out: frozenset[str] = frozenset()
) -> tuple[int, int, Estimate]:
    """Return captures, incidents with an attempt, and the share captured.

    Parameters
    ----------
    leaving_out
        Outcomes that are no attempt, such as ``advice_only``; the page must say which. An incident is an
        attempt if any of its calls was; one without any outcome on record counts as one.
    """
    counted = [i for i in incidents if i.attempted(leaving_out=leaving_out) is not None]
    captured = sum(i.captured for i in counted)
    return captured, len(counted), clopper_pearson(captured, len(counted))
