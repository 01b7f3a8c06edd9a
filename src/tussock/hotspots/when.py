"""When calls come, where animals are found, and how many calls end in a capture."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from tussock.errors import InputError
from tussock.geodesy import Floats
from tussock.hotspots.calls import Incident
from tussock.hotspots.counts import Estimate, clopper_pearson, garwood_ends
from tussock.hotspots.observed import LEAST_DAYS

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
        Their share of all.
    of_days
        Their share of the days observed: with that share of incidents they would be no quieter than the rest.
    known
        Whether all twelve months were observed. If not, the quiet one cannot be told, and the year begins
        with the month in which observation did.
    """

    month: int
    incidents: int
    share: Estimate
    of_days: float = 0.25
    known: bool = True

    @property
    def clear(self) -> bool:
        """Whether the quiet months are surely quieter than the rest of the year."""
        return self.known and self.share.high < self.of_days

    def of(self, time: datetime, *, zone: tzinfo) -> int:
        """Return the season year of an instant: the calendar year in which it began."""
        local = time.astimezone(zone)
        return local.year if local.month >= self.month else local.year - 1


def season_year(months: npt.ArrayLike, *, days: Sequence[int] = (1,) * MONTHS, first: int = 1) -> SeasonYear:
    """Return the season year that the counts of the calendar months suggest.

    The quiet month is the middle of the three months running with the fewest for the days observed; of
    several the middle of the five with the fewest, then of seven, nine and eleven, then the one with the
    fewest itself, then the first in the year.

    Parameters
    ----------
    months
        Counts from January on, shape (12,).
    days
        Days observed of each calendar month; left out, all months were observed alike.
    first
        Month in which observation began.

    Raises
    ------
    InputError
        When there are not twelve.
    """
    counts, seen = np.asarray(months), np.asarray(days)
    if counts.shape != (MONTHS,) or seen.shape != (MONTHS,):
        raise InputError(f"{counts.size} counts, {seen.size} days", allowed="12 each, from January on")
    alike = len(set(seen.tolist())) == 1
    known = alike or int(seen.min()) >= LEAST_DAYS
    if known:
        running = {width: (_running(counts, width), _running(seen, width)) for width in (3, 5, 7, 9, 11, 1)}
        # exact: a tie must not hang on a rounding
        rates = {m: [Fraction(int(c[m]), int(d[m])) for c, d in running.values()] for m in range(MONTHS)}
        quiet = min(range(MONTHS), key=lambda m: (*rates[m], m))
    else:
        quiet = first - 1
    incidents, of = int(_running(counts, 3)[quiet]), int(_running(seen, 3)[quiet])
    return SeasonYear(
        quiet + 1, incidents, clopper_pearson(incidents, int(counts.sum())), of / int(seen.sum()), known
    )


def busiest(months: npt.ArrayLike, days: Sequence[int]) -> tuple[tuple[int, ...], float]:
    """Return the months, 1 to 12, with most incidents for each day observed, and how many a day.

    Only months observed for two weeks and more are asked. Several where they are level; none where fewer
    than two months were observed so long, or no incident is of them.
    """
    counts = np.asarray(months)
    rates = {m: Fraction(int(counts[m]), d) for m, d in enumerate(days) if d >= LEAST_DAYS}
    most = max(rates.values(), default=Fraction(0))
    if len(rates) < 2 or not most:
        return (), 0.0
    return tuple(m + 1 for m, rate in rates.items() if rate == most), float(most)


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
