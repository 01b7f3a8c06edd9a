"""The job: from calls and a region to everything that is said of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from tussock.errors import MissingDataError
from tussock.ground.region import Region
from tussock.hotspots.bands import EdgeEffect
from tussock.hotspots.calls import Call, Incidents, incidents
from tussock.hotspots.cell_odds import DISTRICT
from tussock.hotspots.cells import CallPlaces, Ground, HomePlaces
from tussock.hotspots.counts import Estimate, garwood
from tussock.hotspots.cutting import Kept, counted, followed, kept
from tussock.hotspots.exposure import Exposure, exposure, known_extent
from tussock.hotspots.find_clusters import (
    Scanned,
    cluster_reruns,
    finest_units,
    found_clusters,
    species_of,
)
from tussock.hotspots.find_edges import edge_reruns, found_edges, mapped_edges
from tussock.hotspots.find_rates import found_rates
from tussock.hotspots.find_standby import found_standby
from tussock.hotspots.find_times import found_repeats, found_space_time, found_when
from tussock.hotspots.found import (
    STANDS_OUT,
    Asked,
    Clusters,
    Counted,
    GivenCalls,
    Hotspots,
    Rates,
    RepeatsTold,
    Rerun,
    SpaceTime,
    StandbyTold,
    When,
)
from tussock.hotspots.odds import Area, Odds, odds
from tussock.hotspots.surface import Points, Surface, relative_risk, usual_bandwidth_m

LEAST_SCANNED = 3
"""Incidents below which nothing is scanned: two that are near each other are no cluster (choice of this
project)."""
STEPS = 8
"""How often `find` says how far it has come."""
_T = TypeVar("_T")


def find(
    given: GivenCalls, region: Region, asked: Asked, *, step: Callable[[int], None] = lambda done: None
) -> Hotspots:
    """Return everything that is said of the calls of a district.

    Parameters
    ----------
    step
        Is told how many of `STEPS` are done.

    Raises
    ------
    InputError
        When files of the region cannot be used, or ids of calls contradict each other.
    MissingDataError
        Without a layer of dwellings, homes in its known extent, or the packages of the extra ``hotspots``.
    """
    from tussock import __version__

    work = _Work(given, region, asked, step)
    edges, edge_steps = work.edges()
    rates, cell_steps = work.rates()
    clusters, cluster_steps = work.clusters()
    when = work.some("when", 1, lambda: found_when(work.incidents, asked))
    totals = work.reconciled(rates)
    return Hotspots(
        region=region.file.name,
        plane=region.plane,
        extent=work.ground.extent,
        asked=asked,
        counted=totals,
        calls=work.kept.calls,
        incidents=work.incidents,
        exposure=work.homes,
        district_rate=work.district_rate(),
        edges=edges,
        rates=rates,
        clusters=clusters,
        space_time=work.space_time(),
        when=when,
        repeats=work.repeats(when),
        district_odds=work.district_odds(),
        standby=work.standby(rates, when),
        surface=work.surface(),
        reruns=(*edge_steps, *cluster_steps, *cell_steps),
        by_species=species_of(work.incidents, range(len(work.incidents))),
        missing=work.missing,
        notes=(*given.notes, *_notes(work, totals, when)),
        inputs={**region.hashes(), **given.inputs},
        software=f"tussock {__version__}",
    )


@dataclass
class _Work:
    """What the parts share, and why some of them are missing."""

    given: GivenCalls
    region: Region
    asked: Asked
    step: Callable[[int], None]
    missing: dict[str, str] = field(default_factory=dict)
    done: int = 0

    def __post_init__(self) -> None:
        self.day: date = self.asked.first + timedelta(days=self.asked.days // 2)
        self.homes: Exposure = exposure(self.region, day=self.day)
        if not self.homes.total.high > 0:
            raise MissingDataError(
                "no home lies in the known extent: calls cannot be set against homes",
                where="[layers.dwellings] of region.toml",
                fix="check the dwellings and the known extent",
            )
        self.ground = Ground(self.region.plane, known_extent(self.region), _box(self.region))
        self.kept: Kept = kept(self.given, self.ground, self.asked)
        self.incidents: Incidents = incidents(self.kept.calls)
        self.totals: Counted = counted(self.given, self.kept, incidents=len(self.incidents))
        self.calls = _places(self.kept.calls, self.incidents)
        h = self.homes
        self.home_places = HomePlaces(h.x, h.y, h.low, h.high)
        self.places = Scanned(self.calls, self.home_places, self.ground)
        self.tick()

    def tick(self) -> None:
        self.done += 1
        self.step(self.done)

    def some(self, name: str, least: int, make: Callable[[], _T]) -> _T | None:
        """Return a part, or note that there are too few incidents for it."""
        n = len(self.incidents)
        self.tick()
        if n >= least:
            return make()
        told = f"{_incidents(n)} in the known extent and the time observed"
        self.missing[name] = f"{told}; it takes {least}"
        return None

    def edges(self) -> tuple[tuple[EdgeEffect, ...], tuple[Rerun, ...]]:
        if self._nothing("edges"):
            return (), ()
        mapped = mapped_edges(self.region, day=self.day)
        if not mapped:
            self.missing["edges"] = "no reserve, water or habitat is mapped"
            return (), ()
        found = found_edges(mapped, self.incidents, self.homes)
        head = next((e for e in found if e.more(STANDS_OUT)), None)
        self.tick()
        if not len(self.incidents):
            return found, ()
        return found, tuple(edge_reruns(head, mapped, self.incidents, self.homes))

    def rates(self) -> tuple[Rates | None, tuple[Rerun, ...]]:
        self.tick()
        if self._nothing("rates"):
            return None, ()
        return found_rates(
            self.calls, self.home_places, incidents=self.incidents, ground=self.ground, asked=self.asked
        )

    def reconciled(self, rates: Rates | None) -> Counted:
        """Return the totals, with those of the cells where there are any."""
        if rates is None:
            return self.totals
        tally = rates.cells.incident_tally
        tested = min(int(rates.cells.incidents[rates.cells.tested].sum()), tally.in_cells)
        return counted(self.given, self.kept, incidents=len(self.incidents), tally=tally, tested=tested)

    def _nothing(self, name: str) -> bool:
        """Return whether calls were read and none is counted, and note that a part is missing for it."""
        if self.totals.none_of_read:
            self.missing[name] = "calls were read, and none is counted"
        return self.totals.none_of_read

    def clusters(self) -> tuple[Clusters | None, tuple[Rerun, ...]]:
        units = finest_units(self.places)
        self.units = units
        n = int(units.incidents[units.tested].sum())
        if n < LEAST_SCANNED:
            self.tick()
            self.missing["clusters"] = f"{_incidents(n)} in cells that are tested; it takes {LEAST_SCANNED}"
            return None, ()
        if np.count_nonzero(units.tested) < 2:
            self.tick()
            self.missing["clusters"] = "all homes lie in one cell, and a place is set against others"
            return None, ()
        found = found_clusters(units, self.incidents, self.places, asked=self.asked)
        self.tick()
        if self.asked.base is not None and found.with_base is None:
            self.missing["with_base"] = "all homes are equally far from the base, or nothing could be fitted"
        return found, tuple(cluster_reruns(found, self.places, asked=self.asked))

    def space_time(self) -> SpaceTime | None:
        found = self.some(
            "space_time",
            LEAST_SCANNED,
            lambda: found_space_time(self.units, self.incidents, ground=self.ground, asked=self.asked),
        )
        if found is None:
            self.missing.setdefault("space_time", "fewer than two months, or calls in fewer than two cells")
        return found

    def repeats(self, when: When | None) -> RepeatsTold | None:
        if when is None:
            self.missing["repeats"] = "no incident"
            return None
        return found_repeats(self.incidents, followed(self.given.releases, self.asked), when, self.asked)

    def standby(self, rates: Rates | None, when: When | None) -> StandbyTold | None:
        if not self.asked.standby:
            return None
        if when is None or rates is None:
            self.missing["standby"] = "no incident"
            return None
        return found_standby(
            rates, self.incidents, self.home_places, when=when, ground=self.ground, asked=self.asked
        )

    def surface(self) -> Surface | None:
        return self.some("surface", LEAST_SCANNED, self._surface) if self.asked.surface else None

    def _surface(self) -> Surface:
        h, n = self.homes, self.incidents
        homes = Points(h.x, h.y, h.high)
        width = usual_bandwidth_m(homes, incidents=len(n))
        calls = Points(n.x, n.y, np.ones(len(n)))
        return relative_risk(
            calls, homes, bandwidth_m=width, seed=self.asked.seed, replicates=self.asked.replicates
        )

    def district(self) -> Area:
        total = self.homes.total
        return Area(DISTRICT, self._yearly_incidents(), total.low, total.high)

    def _yearly_incidents(self) -> int:
        """Return how many began in the whole years; where there is none, all."""
        return sum(self.asked.in_whole_years(i.time) for i in self.incidents.items)

    def district_odds(self) -> Odds | None:
        if self._nothing("district_odds"):
            return None
        return odds(self.district(), years=self.asked.years)

    def district_rate(self) -> Estimate | None:
        if self._nothing("district_rate"):
            return None
        exact, homes = garwood(self._yearly_incidents()), self.homes.total
        per, years = 1000.0, 1.0 if self.asked.whole_years is None else self.asked.years
        return Estimate(
            per * exact.value / (homes.high * years),
            per * exact.low / (homes.high * years),
            per * exact.high / (homes.low * years) if homes.low else math.inf,
        )


def _box(region: Region) -> BaseGeometry:
    """Return the box round the region [m]: what is mapped, be it known to be complete or not."""
    boxes = shapely.box(*np.array([region.bounds, region.data_bounds]).T)
    return shapely.box(*shapely.total_bounds(boxes))


def _incidents(n: int) -> str:
    return _many(n, "incident")


def _many(n: int, one: str) -> str:
    return f"{n} {one}{'' if n == 1 else 's'}"


def _places(calls: tuple[Call, ...], found: Incidents) -> CallPlaces:
    """Return the places of the calls, flagged where a call stands for its incident."""
    x, y, radius_m = np.array([(c.x, c.y, c.radius_m) for c in calls], dtype=np.float64).reshape(-1, 3).T
    stands = {i.place.id for i in found.items}
    return CallPlaces(x, y, np.array([c.id in stands for c in calls], dtype=np.bool_), radius_m)


def _notes(work: _Work, totals: Counted, when: When | None) -> Iterator[str]:
    asked, homes = work.asked, work.homes
    yield f"Homes are those that stood on {work.day.isoformat()}, the middle of the time observed."
    yield f"Days and hours are those of {asked.zone}{f', {asked.zone_words}' if asked.zone_words else ''}."
    if homes.total.high > homes.total.low:
        yield (
            f"{_share_unknown(homes)} of the homes are buildings of unknown use. Edges, circles, cells said "
            "to be above and odds hold with them and without; the colours of the map and a smooth surface "
            "count them as homes. The more of them, the less stands out. If you know that they are homes, "
            'say so in region.toml: [layers.dwellings.crosswalk] unknown = "house".'
        )
    elif not homes.others_given:
        yield (
            "The region has no layer of buildings of unknown use (other_buildings): the number of homes "
            "looks exact, which does not make it so."
        )
    spec = work.region.file.layers["dwellings"]
    if not (spec.extent or work.region.file.extent):
        yield "No known extent is stated for the dwellings: the box of the habitat is taken."
    if asked.whole_years is None:
        yield (
            f"{_many(asked.days, 'day')} observed, less than a whole year: there are no yearly figures, for "
            "calls have seasons."
        )
    elif asked.whole_years.first > asked.first:
        yield (
            f"Yearly figures are of {asked.whole_years.first} to {asked.whole_years.last}: whole years only, "
            "for a part of one holds some seasons more often than others. All else is of all the time "
            "observed."
        )
    if not totals.calls and totals.other_times:
        days = [c.time.astimezone(asked.zone).date() for c in work.given.calls]
        yield f"No call is of the time observed: those in the book are of {min(days)} to {max(days)}."
    if totals.too_vague:
        share = math.ceil(100 * totals.too_vague / totals.incidents)
        yield (
            f"{_many(totals.too_vague, 'incident')} known to a circle wider than a cell: in none, so rates "
            f"and odds of cells are too low, by {share} % on average; those of the district are not."
        )
    if unseen := len(work.given.releases) - len(followed(work.given.releases, asked)):
        why = "before or after the time observed: not asked whether a call followed"
        yield f"{_many(unseen, 'release')} {why}."
    if (same := _same_under_other_ids(work.kept.calls)) > 0:
        yield f"{_many(same, 'call')} with the instant and place of another under another id: one incident."
    longest = work.incidents.longest.days
    if longest > 28:
        yield f"The longest incident ran over {longest} days: calls at one place, each soon after the last."
    if when is not None and (midnight := when.calendars[""].midnight) > max(2, totals.incidents // 20):
        yield f"{midnight} incidents are of 00:00 sharp: probably dates without a time, so hours mislead."


def _share_unknown(homes: Exposure) -> str:
    return f"{math.ceil(100 * (1 - homes.total.low / homes.total.high))} %"


def _same_under_other_ids(calls: tuple[Call, ...]) -> int:
    return len(calls) - len({(c.time, c.x, c.y) for c in calls})
