"""What is settled once for a region's published figures: its units, the one dimension and the seasons.

It is kept in one file beside the region and used ever after. The reason is subtraction: two ways of cutting
up the same calls, be it other units, another dimension or seasons that overlap, share totals, and from what
two such files say together a count comes out more sharply than from either. So there is one way only:

- one dimension, for ever: by unit or by season;
- seasons in blocks of a fixed number, the first block from a fixed season on; no season is in two blocks.

Every call is then in at most one figure of all files of a region, and nothing can be subtracted.
The file is made from dwellings and these choices alone, so it tells of no call and may be published too.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from tussock.clock import FIRST_YEAR, LAST_YEAR, parse_zone
from tussock.errors import Faults, UsageError
from tussock.geodesy import Floats

LEAST_SEASONS = {"unit": 2, "season": 1}
"""The dimensions, and how many seasons a block of each holds at least: with two or more, no figure by unit is
of a single season, however many files there are."""
MOST_SEASONS = 20
"""Seasons that a block holds at most."""


@dataclass(frozen=True)
class PublicChoice:
    """How a region's figures are cut, for ever.

    Attributes
    ----------
    dimension
        ``unit`` or ``season``.
    first_season
        Year in which the first season begins that is published.
    start_month
        Month in which a season begins, 1 to 12: the quiet one.
    seasons
        Seasons in one file.
    zone
        IANA time zone whose midnight begins a season.
    """

    dimension: str
    first_season: int
    start_month: int
    zone: str
    seasons: int = 3

    def __post_init__(self) -> None:
        faults = Faults()
        where = "choice for published figures"
        if self.dimension not in LEAST_SEASONS:
            faults.add(f"the dimension '{self.dimension}'", where=where, allowed=", ".join(LEAST_SEASONS))
        ranges = {
            "start_month": (1, 12),
            "first_season": (FIRST_YEAR, LAST_YEAR - MOST_SEASONS),
            "seasons": (LEAST_SEASONS.get(self.dimension, 1), MOST_SEASONS),
        }
        for name, (low, high) in ranges.items():
            value = getattr(self, name)
            if type(value) is not int or not low <= value <= high:
                allowed = f"a whole number, {low} to {high}"
                faults.add(f"{name} is {value!r}", where=where, allowed=allowed, fix="choose another")
        faults.raise_if_any()
        parse_zone(self.zone, where=where)

    def season_names(self, first_season: int) -> tuple[str, ...]:
        """Return the names of a block's seasons."""
        return tuple(self.season_name(first_season + n) for n in range(self.seasons))

    def season_name(self, year: int) -> str:
        """Return a season's name: one year, or two where it runs over the turn of the year."""
        return str(year) if self.start_month == 1 else f"{year}-{(year + 1) % 100:02d}"

    def days(self, first_season: int) -> tuple[date, date]:
        """Return the first and the last day of a block."""
        first, after = (self._begin(first_season + n).date() for n in (0, self.seasons))
        return first, after - timedelta(days=1)

    def opens(self, first_season: int) -> date:
        """Return the day from which a block can be published: the first after it."""
        return self._begin(first_season + self.seasons).date()

    def edges(self, first_season: int) -> Floats:
        """Return the instants [POSIX s] at which the seasons of a block begin, and its end."""
        begins = [self._begin(first_season + n).timestamp() for n in range(self.seasons + 1)]
        return np.array(begins, dtype=np.float64)

    def _begin(self, year: int) -> datetime:
        return datetime(year, self.start_month, 1, tzinfo=ZoneInfo(self.zone))

    def refuse_another(self, dimension: str, *, first_season: int, now: datetime) -> None:
        """Refuse figures that were not settled on, or whose seasons have not all ended.

        Raises
        ------
        UsageError
            With the reason.
        """
        self._refuse_dimension(dimension)
        self._refuse_seasons(first_season)
        self._refuse_unfinished(first_season, now)

    def _refuse_dimension(self, dimension: str) -> None:
        if dimension != self.dimension:
            raise UsageError(
                f"figures by {dimension} were asked for",
                where="published figures",
                allowed=f"by {self.dimension}, as was settled with the region's units",
                fix=f"publish by {self.dimension} only: two ways of cutting up the same calls have the same "
                "total, so that one narrows the bands of the other",
            )

    def _refuse_seasons(self, first_season: int) -> None:
        beyond = first_season - self.first_season
        if beyond < 0 or beyond % self.seasons or first_season > LAST_YEAR - MOST_SEASONS:
            first, second = (self.season_name(self.first_season + n) for n in (0, self.seasons))
            raise UsageError(
                f"figures from season {self.season_name(first_season)} on were asked for",
                where="published figures",
                allowed=f"blocks of seasons, {self.seasons} in each, that begin with {first}, {second}, …",
                fix="ask for one of these: what blocks that overlap say can be subtracted",
            )

    def _refuse_unfinished(self, first_season: int, now: datetime) -> None:
        if now.tzinfo is None:
            raise UsageError("the time now has no zone", where="published figures", fix="add its offset")
        end = self._begin(first_season + self.seasons)
        if not end.timestamp() <= now.timestamp():
            raise UsageError(
                f"season {self.season_names(first_season)[-1]} has not ended",
                where="published figures",
                allowed=f"blocks of seasons, {self.seasons} in each, that have all ended",
                fix=f"wait until {self.opens(first_season)}: two looks at a season tell what came in between",
            )
