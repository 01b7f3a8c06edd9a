"""What is found about the calls of a district: the one frozen result that pages, files and terminals print.

Figures of units are arrays in the units' order. What could not be found is ``None``, and `Hotspots.missing`
says why.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo

from shapely.geometry.base import BaseGeometry

from tussock.geodesy import Floats, Plane
from tussock.hotspots.bands import EdgeEffect
from tussock.hotspots.both_ends import Circle
from tussock.hotspots.calls import Call, Incidents
from tussock.hotspots.cells import Cells, Shapes
from tussock.hotspots.circular import CircularMean
from tussock.hotspots.counts import Estimate
from tussock.hotspots.exposure import Exposure
from tussock.hotspots.hexagons import Choice
from tussock.hotspots.observed import WholeYears, days_by_month, whole_years
from tussock.hotspots.odds import Odds
from tussock.hotspots.power import LeastSeen
from tussock.hotspots.repeats import Release, Repeats
from tussock.hotspots.ring import Ring
from tussock.hotspots.scan import Scan
from tussock.hotspots.scan_space_time import SpaceTimeScan
from tussock.hotspots.slices import Slice, Sliced
from tussock.hotspots.smoothing import Smoothed
from tussock.hotspots.standby import Standby
from tussock.hotspots.surface import Surface
from tussock.hotspots.when import Calendar, SeasonYear

STANDS_OUT = 0.05
"""A p-value up to this is said to stand out (asked for)."""


@dataclass(frozen=True)
class GivenCalls:
    """Calls as a book has them, before anything is left out.

    Attributes
    ----------
    rows
        Callouts in the book.
    calls
        Those with a place; a row that stands there twice is here twice.
    without_place
        Ids of the others.
    releases
        Animals let go, for repeats.
    inputs
        Name → SHA-256 of each file read.
    notes
        What was found in the book, in words.
    """

    rows: int
    calls: tuple[Call, ...]
    without_place: tuple[str, ...] = ()
    releases: tuple[Release, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Units:
    """Cells as the user drew them: outlines in the plane [m] and a name of each."""

    polygons: Shapes
    names: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Asked:
    """What is asked of the calls.

    Attributes
    ----------
    first, last
        The time observed, local days, both included: as the user states it, never first to last call.
    zone, zone_words
        Of the district, and where it is from, such as ``of permit X``; may be empty.
    now
        Calls after it are of the future, and left out.
    base
        Where one starts from: longitude, latitude; ``None`` where not given.
    standby
        How many points to stand by at; 0 for none.
    units
        ``None``: H3 cells.
    surface
        Whether the relative-risk surface is wanted.
    seed, replicates
        Of everything made up at random.
    """

    first: date
    last: date
    zone: tzinfo
    now: datetime
    zone_words: str = ""
    base: tuple[float, float] | None = None
    standby: int = 0
    units: Units | None = None
    surface: bool = False
    seed: int = 1
    replicates: int = 999

    @property
    def days(self) -> int:
        """How many days were observed."""
        return (self.last - self.first).days + 1

    @property
    def whole_years(self) -> WholeYears | None:
        """The whole years that end with `last`: what yearly figures rest on; ``None`` for less than one."""
        return whole_years(self.first, self.last)

    @property
    def years(self) -> float:
        """How many whole years there are; where there is none, the part of one, which bears no odds."""
        whole = self.whole_years
        return self.days / 366 if whole is None else float(whole.years)

    @property
    def days_by_month(self) -> tuple[int, ...]:
        """How many days of each calendar month were observed, from January on."""
        return days_by_month(self.first, self.last)

    def in_whole_years(self, time: datetime) -> bool:
        """Return whether an instant lies in the whole years; where there is none, in the time observed."""
        day = time.astimezone(self.zone).date()
        whole = self.whole_years
        return self.first <= day <= self.last if whole is None else whole.holds(day)


@dataclass(frozen=True)
class Counted:
    """Where the callouts read ended up: the parts add up to all of them.

    Attributes
    ----------
    read
        Callouts in the book.
    without_place, future, other_times, outside_region, outside_extent
        Left out, each for the first of these reasons that holds. `other_times`: before or after the time
        observed; `outside_extent`: in the region, but where homes are not known.
    duplicates
        Rows the same in everything as a call that stays.
    calls
        What is counted: different calls, in the known extent and the time observed.
    incidents
        What these are when calls within 14 days and 50 m are one.
    without_homes
        Of the incidents, how many came from a cell of the rates map without a home.
    in_no_unit
        Of the incidents, how many came from none of the polygons supplied.
    untested
        Of the incidents, how many came from a cell with homes that is left out of tests: less than 95 % of
        its area is in the known extent.
    too_vague
        Of the incidents, how many are known to a circle wider than the cell of its middle: in no cell.
    silence
        Where no call was counted for so long that it is asked whether the book was kept, that question.
    """

    read: int
    without_place: int
    future: int
    other_times: int
    duplicates: int
    outside_region: int
    outside_extent: int
    calls: int
    incidents: int
    without_homes: int = 0
    in_no_unit: int = 0
    untested: int = 0
    too_vague: int = 0
    silence: str = ""

    @property
    def tested(self) -> int:
        """How many of the incidents take part in tests and smoothed rates."""
        apart = self.without_homes + self.in_no_unit + self.untested + self.too_vague
        return self.incidents - apart

    @property
    def left_out(self) -> int:
        """How many of those read are not counted."""
        gone = self.without_place + self.future + self.other_times + self.duplicates
        return gone + self.outside_region + self.outside_extent

    @property
    def none_of_read(self) -> bool:
        """Whether calls were read and none is counted: that is no district without calls."""
        return self.read > 0 and not self.calls

    @property
    def warning(self) -> str:
        """What must be said aloud: of a long silence, of all left out, or of most of the time observed."""
        return " ".join(filter(None, (self._gone_words, self.silence)))

    @property
    def _gone_words(self) -> str:
        outside = self.outside_region + self.outside_extent
        if self.none_of_read:
            gone = {
                "of other times": self.other_times + self.future,
                "outside the region": self.outside_region,
                "where homes are not known": self.outside_extent,
                "without a place": self.without_place,
            }
            parts = ", ".join(f"{n:,} {words}" for words, n in gone.items() if n)
            return (
                f"None of the {self.read:,} calls read is counted: {parts}. That is not a district without "
                "calls, so there is no rate and no odds. Check the signs of latitude and longitude, the "
                "region, and the time observed."
            )
        timely = self.calls + self.without_place + outside
        if 2 * (self.without_place + outside) <= timely:
            return ""
        return (
            f"Most calls are not counted: of {timely:,}, {outside:,} lie outside the region or where homes "
            f"are not known, {self.without_place:,} have no place. Rates and odds are of the others alone, "
            "and too low if these were from the homes counted. Check the places, their signs and the region."
        )

    def __post_init__(self) -> None:
        if self.left_out + self.calls != self.read:
            raise ValueError(f"the parts of {self} do not add up")


@dataclass(frozen=True, eq=False)
class Rates:
    """The rates map: one row for each cell.

    How a cell differs from the others rests on all incidents. Yearly rates are that ratio times a yearly
    level: the level of all the time observed, times the share of its incidents that fall in the whole years,
    a year. Odds rest on the incidents of the whole years alone, the model being fitted to them anew.

    Attributes
    ----------
    cells
        H3 cells, or the polygons supplied.
    choice
        Why this resolution; ``None`` for polygons supplied.
    smoothed
        ``rate()`` is calls per 1,000 homes in the time observed; over the most homes; ``nan`` where the
        cell is not tested.
    a_year
        From calls in the time observed to calls in a year; ``nan`` where no whole year was observed, or
        no call came in those that were.
    ring
        Whether a cell stands out from its neighbours.
    odds
        Of each cell.
    above_ends
        P(RR > 1) over the most homes and over the least; ``None`` where those are no fewer. In `smoothed`
        the lesser of both stands.
    """

    cells: Cells
    choice: Choice | None
    smoothed: Smoothed
    a_year: float
    ring: Ring
    odds: tuple[Odds, ...]
    above_ends: tuple[Floats, Floats] | None = None

    def yearly(self) -> tuple[Floats, Floats, Floats]:
        """Return calls per 1,000 homes and year, and the ends of their intervals; ``nan`` without a year."""
        return self.smoothed.rate(per=1000.0 * self.a_year)


@dataclass(frozen=True, eq=False)
class Spot:
    """Where a circle is: which cells it holds. Its calls and homes are those of the cells, not of a disc.

    Attributes
    ----------
    longitude, latitude
        Of the circle's centre.
    cells
        How many it holds of those that took part.
    outline
        Of these cells together, in the plane [m].
    reach_m
        From the centre to the farthest point of the outline [m].
    """

    longitude: float
    latitude: float
    cells: int
    outline: BaseGeometry
    reach_m: float


@dataclass(frozen=True, eq=False, kw_only=True)
class ClusterTold(Circle):
    """A circle, and what is said of it beside its figures.

    Attributes
    ----------
    spot
        Where it is.
    homes
        In its units: least and most.
    species
        Species → incidents in it, the commonest first; ``""`` where none is named.
    """

    spot: Spot
    homes: tuple[float, float]
    species: Mapping[str, int]

    @property
    def stands_out(self) -> bool:
        """Whether p is at most 0.05: against both, with and without buildings of unknown use."""
        return self.p <= STANDS_OUT


@dataclass(frozen=True)
class BaseEffect:
    """How calls per home change with the distance from the base.

    Attributes
    ----------
    per_km
        Rate at one kilometre more over the rate at one less, with its interval: Poisson regression.
    """

    per_km: Estimate


@dataclass(frozen=True, eq=False)
class Clusters:
    """The circular scan.

    Attributes
    ----------
    units
        Finest cells: what `Cluster.units` are rows of. Those that are not tested took no part in the scan.
    scan, least
        Over the most homes, and over the least; the second ``None`` where those are no fewer, or none.
    told
        Circles judged by both; which stand out says each.
    power
        What this map could not have seen less than, for clusters of some sizes, over the end of the homes
        that shows less.
    base
        ``None`` where no base is given; otherwise `with_base` is the scan with distance as a covariate.
    """

    units: Cells
    scan: Scan
    told: tuple[ClusterTold, ...]
    power: tuple[LeastSeen, ...]
    base: BaseEffect | None = None
    with_base: Scan | None = None
    told_with_base: tuple[ClusterTold, ...] = ()
    least: Scan | None = None

    @property
    def homes_differ(self) -> bool:
        """Whether any cell that is scanned has fewer homes for certain than at most."""
        told = self.units.tested
        return bool((self.units.homes_low[told] < self.units.homes_high[told]).any())

    @property
    def standing_out(self) -> tuple[ClusterTold, ...]:
        """Those that do, most striking first; often none, and that is a result."""
        return tuple(t for t in self.told if t.stands_out)


@dataclass(frozen=True, eq=False)
class SpaceTime:
    """The permutation scan: unusual combinations of place and months.

    Attributes
    ----------
    months
        First day of each period, in order: what `Cylinder.first` and `.last` count.
    spots
        Where each cylinder is: its cells with calls.
    """

    scan: SpaceTimeScan
    months: tuple[date, ...]
    spots: tuple[Spot, ...]


@dataclass(frozen=True, eq=False)
class When:
    """When calls come, where animals are found, and how many calls end in a capture.

    Attributes
    ----------
    calendars
        By species; ``""`` is all together.
    days
        Days observed of each calendar month, from January on.
    hours
        Circular mean of the hour, by the same keys; told only for 30 and more with one mode.
    found_in
        Share of captures at each kind of place.
    captured, attempts, share_captured
        Captures, incidents that were attempts, and the share; `no_attempt` outcomes are left out.
    """

    calendars: Mapping[str, Calendar]
    days: tuple[int, ...]
    hours: Mapping[str, CircularMean]
    season: SeasonYear
    found_in: Mapping[str, Estimate]
    captured: int
    attempts: int
    share_captured: Estimate
    no_attempt: tuple[str, ...]


@dataclass(frozen=True)
class Rerun:
    """The headline once more, with another size of what is counted in.

    Attributes
    ----------
    what
        ``edges``, ``clusters`` or ``cells``.
    step
        ``finer`` or ``coarser``.
    size
        In words, such as ``H3 resolution 9`` or ``0–50 m``.
    found
        What came of it, in words; where it could not be rerun, why.
    stands
        Whether the headline says the same; ``None`` where it could not be rerun.
    """

    what: str
    step: str
    size: str
    found: str
    stands: bool | None


@dataclass(frozen=True, eq=False)
class RepeatsTold:
    """Calls again, and after releases; each beside what chance gives.

    Attributes
    ----------
    at_place
        Incidents after an earlier one of their species within `within_m` and `within_days`.
    after_release
        Releases that an incident followed; ``None`` where no release is on record.
    """

    at_place: Repeats
    after_release: Repeats | None
    within_m: float
    within_days: float
    release_within_m: float


@dataclass(frozen=True, eq=False)
class StandbyTold:
    """Where to stand by.

    Attributes
    ----------
    points
        Longitude and latitude of each point, in the order of `standby.x`.
    slices
        Demand of some hours: which, the demand, and the points for it.
    """

    standby: Standby
    points: tuple[tuple[float, float], ...]
    slices: tuple[tuple[Slice, Sliced, Standby], ...] = ()


@dataclass(frozen=True, eq=False)
class Hotspots:
    """Everything that is said about the calls of a district.

    Attributes
    ----------
    region
        Its name.
    extent
        The known extent in the plane [m], which cuts calls and homes alike.
    calls
        Those counted, in order of time.
    incidents
        The same, linked.
    district_rate
        Incidents of the whole years per 1,000 homes and year, over the most homes; Garwood's ends over the
        interval of homes. Where no whole year was observed, per 1,000 homes in the time observed. ``None``
        where calls were read and none is counted.
    edges
        In order of what they show: those tested first, the smallest one-sided adjusted p first.
    rates, clusters, space_time, when, repeats, district_odds, standby, surface
        ``None`` where `missing` says why, or where it was not asked for.
    by_species
        Species → incidents; ``""`` where none is named.
    missing
        Name of a field → why it could not be found, in words.
    notes
        What a reader must know beside, in words.
    inputs
        Name → SHA-256 of each file read.
    """

    region: str
    plane: Plane
    extent: BaseGeometry
    asked: Asked
    counted: Counted
    calls: tuple[Call, ...]
    incidents: Incidents
    exposure: Exposure
    district_rate: Estimate | None
    edges: tuple[EdgeEffect, ...]
    rates: Rates | None
    clusters: Clusters | None
    space_time: SpaceTime | None
    when: When | None
    repeats: RepeatsTold | None
    district_odds: Odds | None
    standby: StandbyTold | None
    surface: Surface | None
    reruns: tuple[Rerun, ...]
    by_species: Mapping[str, int]
    missing: Mapping[str, str]
    notes: tuple[str, ...]
    inputs: Mapping[str, str]
    software: str

    @property
    def seed(self) -> int:
        """Of everything made up at random."""
        return self.asked.seed

    @property
    def headline(self) -> EdgeEffect | None:
        """The edge whose homes call more often most surely; ``None`` where none does beyond chance."""
        told = [e for e in self.edges if e.more(STANDS_OUT)]
        return told[0] if told else None

    def lonlat(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return places of the plane [m] as longitudes and latitudes."""
        return self.plane.unproject(x, y)
