"""When calls come, unusual months at a place, and repeats."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from tussock.hotspots.calls import Incidents
from tussock.hotspots.cells import NOWHERE, Cells, Ground
from tussock.hotspots.circular import circular_mean
from tussock.hotspots.find_clusters import rows_of_incidents, spot_of
from tussock.hotspots.found import Asked, RepeatsTold, SpaceTime, When
from tussock.hotspots.repeats import Asking, Release, after_releases, repeats
from tussock.hotspots.scan_space_time import permutation_scan
from tussock.hotspots.when import ALL, calendars, places_found, season_year, share_captured

NO_ATTEMPT = frozenset(
    {
        "advice_only",
        "dead_on_arrival",
        "killed_before_arrival",
        "left_in_place",
        "not_a_snake",
        "referred",
    }
)
"""Outcomes that were no attempt to take an animal: none was to be taken, or not by this book (choice of this
project). The others, captured, gone on arrival and not found, were."""
REPEAT_DAYS, REPEAT_M = 365.0, 50.0
"""A call again within so many days [d] and so near [m] is a repeat (choice of this project)."""
MOST_MONTHS = 12
"""Months that an unusual run may last: what lasts longer is a place, not a time (choice of this project)."""
RELEASE_M = 500.0
"""A call within so far [m] of a release follows it (choice of this project)."""


def found_when(incidents: Incidents, asked: Asked) -> When:
    """Return when calls come; of no incident it is asked."""
    by_species = calendars(incidents.items, zone=asked.zone)
    hours = {
        name: circular_mean(
            _hours([i for i in range(len(incidents)) if _of(incidents, i, name)], incidents, asked)
        )
        for name in by_species
    }
    days = asked.days_by_month
    captured, attempts, share = share_captured(incidents.items, leaving_out=NO_ATTEMPT)
    return When(
        calendars=by_species,
        days=days,
        hours=hours,
        season=season_year(by_species[ALL].months, days=days, first=asked.first.month),
        found_in=places_found(incidents.items),
        captured=captured,
        attempts=attempts,
        share_captured=share,
        no_attempt=tuple(sorted(NO_ATTEMPT)),
    )


def _of(incidents: Incidents, i: int, species: str) -> bool:
    return species == ALL or incidents.items[i].told.species == species


def _hours(
    which: Sequence[int], incidents: Incidents, asked: Asked
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    local = [incidents.items[i].time.astimezone(asked.zone) for i in which]
    return np.array([t.hour + t.minute / 60 + t.second / 3600 for t in local], dtype=np.float64)


def found_space_time(units: Cells, incidents: Incidents, *, ground: Ground, asked: Asked) -> SpaceTime | None:
    """Return the unusual combinations of place and months.

    ``None`` where fewer than two months were observed, or calls are in fewer than two units.

    A run of months is no longer than half of those observed, and than a year.

    Raises
    ------
    MissingDataError
        Without the package numba.
    """
    months = _months(asked)
    row = rows_of_incidents(units, incidents)
    told = np.flatnonzero(row != NOWHERE)
    if len(months) < 2 or len(np.unique(row[told])) < 2:
        return None
    local = [incidents.items[i].time.astimezone(asked.zone) for i in told.tolist()]
    first = months[0]
    period = np.array([(t.year - first.year) * 12 + t.month - first.month for t in local], dtype=np.int64)
    x, y = units.centres
    found = permutation_scan(
        row[told],
        period,
        x=x,
        y=y,
        periods=len(months),
        seed=asked.seed,
        most_periods=MOST_MONTHS,
        replicates=asked.replicates,
    )
    spots = [spot_of(units, c.units, c.centre, ground=ground) for c in found.cylinders]
    return SpaceTime(found, months, tuple(spots))


def _months(asked: Asked) -> tuple[date, ...]:
    """Return the first day of each month that was observed, in whole or in part."""
    first, last = (d.year * 12 + d.month - 1 for d in (asked.first, asked.last))
    return tuple(date(n // 12, n % 12 + 1, 1) for n in range(first, last + 1))


def found_repeats(
    incidents: Incidents, releases: tuple[Release, ...], when: When, asked: Asked
) -> RepeatsTold:
    """Return the calls again, at the same place and after releases, each beside what chance gives."""
    near = Asking(REPEAT_DAYS, REPEAT_M, when.season, asked.zone, asked.seed, asked.replicates)
    after = Asking(REPEAT_DAYS, RELEASE_M, when.season, asked.zone, asked.seed, asked.replicates)
    return RepeatsTold(
        repeats(incidents.items, near),
        after_releases(releases, incidents.items, after) if releases else None,
        within_m=REPEAT_M,
        within_days=REPEAT_DAYS,
        release_within_m=RELEASE_M,
    )
