"""A made result of hotspots: a small district, a creek whose homes call more often, one cluster.

Places are drawn from a seeded generator; what needs a compiler (the scans) is set down by hand. Nothing here
is the job: only the shapes of the records are those of ``tussock.hotspots``.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import shapely

from tests.support.regions import Ground, MadeRegion, Thing, made_region
from tussock.hotspots.bands import EdgeEffect, edge_effects
from tussock.hotspots.calls import Call, Incidents, incidents
from tussock.hotspots.cells import Cells, Tally
from tussock.hotspots.circular import circular_mean
from tussock.hotspots.counts import Estimate, garwood
from tussock.hotspots.edges import Edge
from tussock.hotspots.exposure import Exposure
from tussock.hotspots.found import (
    Asked,
    BaseEffect,
    Clusters,
    ClusterTold,
    Counted,
    Hotspots,
    Rates,
    RepeatsTold,
    Rerun,
    SpaceTime,
    Spot,
    StandbyTold,
    When,
)
from tussock.hotspots.hexagons import Choice
from tussock.hotspots.odds import Area, Odds, Prior, odds
from tussock.hotspots.power import LeastSeen
from tussock.hotspots.repeats import Repeats
from tussock.hotspots.ring import ring_test
from tussock.hotspots.scan import Cluster, Scan
from tussock.hotspots.scan_space_time import Cylinder, SpaceTimeScan
from tussock.hotspots.slices import Slice, Sliced
from tussock.hotspots.smoothing import gamma_poisson
from tussock.hotspots.standby import Compared, Standby
from tussock.hotspots.unevenness import Unevenness
from tussock.hotspots.when import ALL, calendars, places_found, season_year, share_captured
from tussock.interval import Interval

EVIL = '<script>alert("x")</script>{{7*7}}"\'><img src=x onerror=alert(1)>'
ZONE = ZoneInfo("Australia/Hobart")
FIRST, LAST = date(2023, 7, 1), date(2025, 6, 30)
CREEK = shapely.LineString([(-3000, -400), (-900, 150), (800, -150), (3000, 500)])
RESERVE = shapely.Point(1500, 1500).buffer(520)
SPECIES = ("Notechis scutatus", "Austrelaps superbus", "Drysdalia coronoides")
HEXAGON_M = 420.0
Floats = npt.NDArray[np.float64]


def made_hotspots(*, evil: bool = False, nothing: bool = False) -> tuple[Hotspots, MadeRegion]:
    """Return a result and the region it was found on.

    Parameters
    ----------
    evil
        Scripts in every text that a user could have written.
    nothing
        A result in which nothing stands out.
    """
    more = EVIL if evil else ""
    rng = np.random.Generator(np.random.PCG64(11))
    x, y = _homes(rng)
    near = shapely.distance(CREEK, shapely.points(x, y)) <= 100
    weights = np.ones(len(x)) if nothing else np.where(near, 5.0, 1.0) * np.where(_warm(x, y), 3.0, 1.0)
    calls = _calls(x, y, weights, rng, more)
    linked = incidents(calls)
    homes = _exposure(x, y)
    region = _region(x, y, more)
    edges = _edges(linked, homes, more)
    rates = _rates(linked, homes, more)
    at = region.plane.unproject(-1400.0, 700.0)
    lonlat = (float(at[0]), float(at[1]))
    base_x, base_y = region.plane.unproject(-700.0, -900.0)
    asked = Asked(
        FIRST, LAST, ZONE, datetime(2025, 7, 2, tzinfo=UTC), zone_words=f"from the permit{more}",
        base=(float(base_x), float(base_y)), standby=2,
    )  # fmt: skip
    exact, total = garwood(len(linked)), homes.total
    per = 1000 / asked.years
    found = Hotspots(
        region=f"Quern Bay{more}",
        plane=region.plane,
        extent=shapely.box(-3000, -2500, 3000, 2500),
        asked=asked,
        counted=_counted(linked),
        calls=tuple(c for i in linked.items for c in i.calls),
        incidents=linked,
        exposure=homes,
        district_rate=Estimate(
            per * len(linked) * 2 / (total.low + total.high),
            per * exact.low / total.high,
            per * exact.high / total.low,
        ),
        edges=edges,
        rates=rates,
        clusters=_clusters(lonlat, rates.cells, len(linked), more, p=0.4 if nothing else 0.002),
        space_time=_space_time(lonlat, len(linked), p=0.4 if nothing else 0.01),
        when=_when(linked),
        repeats=RepeatsTold(
            Repeats(of=len(linked), observed=19, expected=8.4, low=4, high=14, p=0.002, marked=2, left_out=5),
            Repeats(of=60, observed=4, expected=4.6, low=1, high=9, p=0.69, marked=0, left_out=1),
            within_m=100.0,
            within_days=365.0,
            release_within_m=500.0,
        ),
        district_odds=odds(Area("the district", len(linked), total.low, total.high), years=asked.years),
        standby=_standby(lonlat, more),
        surface=None,
        reruns=(
            Rerun("edges", "finer", "0–50 m", f"3.4 (2.1–5.3) times as often{more}", True),
            Rerun("edges", "coarser", "0–200 m", "2.2 (1.5–3.1) times as often", True),
            Rerun("clusters", "coarser", "H3 resolution 8", "nothing stands out", False),
            Rerun("cells", "finer", "H3 resolution 9", "3 cells probably above", True),
        ),
        by_species={f"{SPECIES[0]}{more}": 90, SPECIES[1]: 60, SPECIES[2]: 8, "": 22},
        missing={"surface": f"not asked for{more}"},
        notes=(f"The dwellings are as of 2024-06-30; homes built since are missing.{more}",),
        inputs={f"callouts.csv{more}": "ab" * 32},
        software="tussock 0",
    )
    return found, region


def _warm(x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
    return np.asarray(np.hypot(x + 1400, y - 700) < 450)


def _homes(rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Return homes along streets, in the west more than in the east."""
    streets = np.arange(-2300, 2301, 110.0)
    y = rng.choice(streets, 2400) + rng.choice([-20.0, 20.0], 2400)
    x = np.where(rng.random(2400) < 0.7, rng.uniform(-2900, 300, 2400), rng.uniform(300, 2900, 2400))
    kept = ~shapely.contains_xy(RESERVE, x, y)
    return x[kept], y[kept]


def _calls(x: Floats, y: Floats, weights: Floats, rng: np.random.Generator, more: str) -> list[Call]:
    at = rng.choice(len(x), 260, p=weights / weights.sum())
    made = []
    for k, home in enumerate(at.tolist()):
        month = int(rng.choice([10, 11, 12, 1, 2, 3, 4, 7], p=[0.1, 0.15, 0.2, 0.2, 0.15, 0.1, 0.07, 0.03]))
        year = int(rng.choice([2023, 2024])) + (month < 7)
        hour = int(np.clip(rng.normal(16, 2.5), 0, 23))
        time = datetime(year, month, int(rng.integers(1, 28)), hour, int(rng.integers(60)), tzinfo=ZONE)
        captured = bool(rng.random() < 0.6)
        species = str(rng.choice(SPECIES, p=[0.6, 0.35, 0.05])) if rng.random() < 0.9 else ""
        found_in = str(rng.choice(["garden", "shed", "house"], p=[0.6, 0.25, 0.15])) if captured else ""
        call = Call(
            f"K-{k}{more}", time, float(x[home]), float(y[home]), 20.0, f"{species}{more}" if species else "",
            "captured" if captured else str(rng.choice(["not_found", "advice_only"])),
            f"{found_in}{more}" if found_in else "", captured,
        )  # fmt: skip
        made.append(call)
        if k % 12 == 0:  # the neighbour called as well
            made.append(replace(call, id=f"K-{k}b{more}", time=time + timedelta(hours=5), x=call.x + 8))
    return made


def _exposure(x: Floats, y: Floats) -> Exposure:
    low = np.ones(len(x))
    low[::9] = 0.0
    return Exposure(x, y, low, np.ones(len(x)), Interval(12, 15), others_given=True)


def _region(x: Floats, y: Floats, more: str) -> MadeRegion:
    houses = [
        Thing(shapely.box(a - 6, b - 5, a + 6, b + 5), more or "house") for a, b in zip(x, y, strict=True)
    ]
    streets = [
        Thing(shapely.LineString([(-2950, v), (2950, v)]), "residential") for v in range(-2300, 2301, 440)
    ]
    everything = {
        "habitat": [
            Thing(shapely.box(-3500, -3000, 3500, 3000), "grassland"),
            Thing(shapely.box(-3000, -2500, 400, 2500), "built"),
            Thing(RESERVE, "forest"),
        ],
        "dwellings": houses,
        "roads": streets,
        "water": [Thing(CREEK, more or "stream")],
        "protected": [Thing(RESERVE, "reserve")],
    }
    known = [shapely.box(-3000, -2500, 3000, 2500)]
    return made_region(Ground(everything, known={"": known}))


def _edges(linked: Incidents, homes: Exposure, more: str) -> tuple[EdgeEffect, ...]:
    far = shapely.LineString([(-2900, -2400), (2900, -2300)])
    lonely = shapely.Point(30_000, 30_000).buffer(100)
    mapped = [
        Edge("water", f"Quern Creek{more}", np.array([CREEK], dtype=object)),
        Edge("protected", "Hollow Reserve", np.array([RESERVE], dtype=object)),
        Edge("railways", "", np.array([far], dtype=object)),
        Edge("protected", "Lonely Reserve", np.array([lonely], dtype=object)),
    ]
    found = edge_effects(mapped, linked, homes, least_homes=20)
    return tuple(sorted(found, key=lambda e: (not e.tested, e.p_more_adjusted)))


def _hexagons(more: str) -> tuple[tuple[str, ...], list[shapely.Polygon]]:
    shapes = []
    for column in range(-8, 9):
        for row in range(-7, 8):
            cx = column * 1.5 * HEXAGON_M
            cy = (row + 0.5 * (column % 2)) * np.sqrt(3) * HEXAGON_M
            turns = np.radians(np.arange(0, 360, 60))
            shapes.append(
                shapely.Polygon(
                    np.column_stack([cx + HEXAGON_M * np.cos(turns), cy + HEXAGON_M * np.sin(turns)])
                )
            )
    return tuple(f"88be{k:04x}{more}" for k in range(len(shapes))), shapes


def _rates(linked: Incidents, homes: Exposure, more: str) -> Rates:
    names, shapes = _hexagons(more)
    tree = shapely.STRtree(shapes)

    def counts(x: Floats, y: Floats, weights: Floats) -> Floats:
        point, row = tree.query(shapely.points(x, y), predicate="intersects")
        return np.bincount(row, weights=weights[point], minlength=len(shapes)).astype(np.float64)

    low, high = counts(homes.x, homes.y, homes.low), counts(homes.x, homes.y, homes.high)
    number = counts(linked.x, linked.y, np.ones(len(linked))).astype(np.int64)
    extent = shapely.box(-3000, -2500, 3000, 2500)
    known = shapely.area(shapely.intersection(shapes, extent)) / shapely.area(shapes)
    kept = np.flatnonzero((high > 0) | (number > 0))
    polygons = np.array(shapes, dtype=object)[kept]
    close = shapely.STRtree(polygons).query(polygons, predicate="dwithin", distance=1.0)
    pairs = close[:, close[0] != close[1]]
    order = np.lexsort((pairs[1], pairs[0]))
    starts = np.concatenate([[0], np.cumsum(np.bincount(pairs[0], minlength=len(kept)))]).astype(np.int64)
    inside = int(number[kept].sum())
    tally = Tally(inside, inside, 0, 0, 0, 0)
    cells = Cells(
        tuple(names[i] for i in kept), polygons, np.minimum(known[kept], 1.0), number[kept], number[kept],
        low[kept], high[kept], starts, pairs[1][order].astype(np.int64), tally, tally, (12.0, 15.0),
        resolution=8,
    )  # fmt: skip
    years = 2.0
    used = np.where(cells.tested, cells.homes, 0.0)
    smoothed = gamma_poisson(np.where(cells.tested, cells.incidents, 0), used)
    ring = ring_test(
        cells.incidents, homes_low=cells.homes_low, homes_high=cells.homes_high, starts=cells.starts,
        neighbours=cells.neighbours, tested=cells.tested,
    )  # fmt: skip
    whole = Area("the district", inside, float(low.sum()), float(high.sum()))
    prior = Prior(smoothed.model.shape, smoothed.model.level / years)
    given = tuple(
        odds(Area(n, int(c), float(a), float(b), prior), years=years, parents=[whole])
        for n, c, a, b in zip(cells.names, cells.incidents, cells.homes_low, cells.homes_high, strict=True)
    )
    return Rates(cells, Choice(8, {8: 6.1, 9: 1.2}, True), smoothed, 1 / years, ring, given)


def _counted(linked: Incidents) -> Counted:
    gone = {"without_place": 3, "future": 1, "other_times": 7, "outside_region": 2, "outside_extent": 4}
    read = linked.calls + linked.duplicates + sum(gone.values())
    return Counted(
        read=read, duplicates=linked.duplicates, calls=linked.calls, incidents=len(linked), untested=6,
        silence="", **gone,
    )  # fmt: skip


def _clusters(at: tuple[float, float], units: Cells, calls: int, more: str, *, p: float) -> Clusters:
    lon, lat = at
    first = Cluster(np.array([1, 2, 3]), (-1400.0, 700.0), 430.0, 27, 9.2, 3.3, 12.1, p / 2, p)
    least = replace(first, expected=9.9, relative_risk=3.0, llr=10.4)
    second = Cluster(np.array([9]), (900.0, -800.0), 0.0, 6, 2.1, 2.9, 2.4, 0.31, 0.52)
    uneven = Unevenness(6.4, 1.0, len(units.names))
    maps = np.linspace(1.0, 9.0, 999)
    scan = Scan((first, second), calls, uneven, maps, maps, 1)
    spots = _spot(lon, lat, (-1400.0, 700.0)), _spot(lon + 0.02, lat - 0.01, (900.0, -800.0))
    told = (
        ClusterTold(
            most=first,
            least=least,
            spot=spots[0],
            homes=(180.0, 204.0),
            species={f"{SPECIES[0]}{more}": 20, "": 7},
        ),
        ClusterTold(most=second, spot=spots[1], homes=(40.0, 47.0), species={SPECIES[1]: 6}),
    )
    power = (LeastSeen(0.05, 0.05 * calls, 4.0, 0.85), LeastSeen(0.02, 0.02 * calls, None, 0.4))
    base = BaseEffect(Estimate(0.93, 0.84, 1.03))
    return Clusters(units, scan, told, power, base=base, with_base=scan, told_with_base=told[:1])


def _spot(lon: float, lat: float, at: tuple[float, float]) -> Spot:
    """Three boxes in a row, 430 m and a little from the middle to the farthest corner."""
    x, y = at
    return Spot(lon, lat, 3, shapely.box(x - 420, y - 100, x + 420, y + 100), float(np.hypot(420, 100)))


def _space_time(at: tuple[float, float], calls: int, *, p: float) -> SpaceTime:
    months = tuple(date(2023 + (6 + k) // 12, (6 + k) % 12 + 1, 1) for k in range(24))
    cylinder = Cylinder(np.array([3]), (0.0, 0.0), 350.0, 4, 5, 9, 2.2, 6.0, p)
    scan = SpaceTimeScan((cylinder,), calls, np.linspace(1, 6, 999), 1)
    return SpaceTime(scan, months, (_spot(at[0] + 0.03, at[1] + 0.005, (0.0, 0.0)),))


def _when(linked: Incidents) -> When:
    every = calendars(linked.items, zone=ZONE)
    hours = {}
    for name in every:
        of = [i.time.astimezone(ZONE) for i in linked.items if name in (ALL, i.told.species)]
        hours[name] = circular_mean(np.array([t.hour + t.minute / 60 for t in of], dtype=np.float64))
    captured, attempts, share = share_captured(linked.items, leaving_out=frozenset({"advice_only"}))
    return When(
        every, (62, 57, 62, 60, 62, 60, 62, 62, 60, 62, 60, 62), hours, season_year(every[ALL].months),
        places_found(linked.items), captured, attempts, share, ("advice_only",),
    )  # fmt: skip


def _standby(at: tuple[float, float], more: str) -> StandbyTold:
    lon, lat = at
    compared = Compared(80, 1900.0, 1450.0, (450.0, 210.0, 690.0), better=True)
    points = Standby(
        np.array([-1400.0, 800.0]), np.array([700.0, -300.0]), 1380.0, np.array([0.62, 0.38]), True, 1850.0,
        compared,
    )  # fmt: skip
    sliced = Sliced(np.ones(3), 60, -1.0, False, f"places call alike in these hours and months{more}")
    return StandbyTold(
        points, ((lon, lat), (lon + 0.027, lat - 0.009)), ((Slice((15, 19), (12, 1)), sliced, points),)
    )


__all__ = ["EVIL", "Odds", "made_hotspots"]
