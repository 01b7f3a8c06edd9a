"""The closing law: what was met when it was planned is met when it is audited.

A release whose own disc lies inside the planned one, in the planned time, its to-dos done, with the same
region, permits and earlier releases, is judged by the library call that the audit uses.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import event, given
from hypothesis.strategies import DrawFn

from tests.support import cases
from tests.support.clauses import KINDS
from tests.support.profiles import examples
from tests.support.scenes import Drawn, drawn
from tussock.interval import Verdict
from tussock.measure.scene import EarlierRelease
from tussock.permit.animal_kinds import AnimalConditionAllowed, SpeciesInRange, SpeciesListed
from tussock.permit.capture_book import BookedCapture
from tussock.permit.condition import AppliesTo, Condition
from tussock.permit.permit_file import Permit, Version
from tussock.permit.place_kinds import MaxDistanceFromCapture, NearestSuitable
from tussock.permit.record_kinds import (
    Attested,
    CheckedEveryHours,
    ConsentRecorded,
    DisposedTo,
    HandledBy,
    IncidentReportedWithinHours,
    Quota,
    RecordComplete,
    RecordWithinHours,
    WeatherWithin,
)
from tussock.permit.time_kinds import ClockWindow, MaxHoldingHours, ReleaseWindow, SameCalendarDay
from tussock.planning.record import Site
from tussock.planning.setting import Capture, Setting
from tussock.planning.weights import read_weights
from tussock.position import Position
from tussock.review.handling import Handling, Planned
from tussock.review.judged import Book, judge_record
from tussock.species.animal import Identification
from tussock.species.traits import ActivePeriod, Profile

ZONES = (
    "Australia/Hobart",
    "Europe/Oslo",
    "America/Guayaquil",
    "Australia/Lord_Howe",
    "UTC",
    "America/Havana",
)
DAYS = (date(2026, 1, 15), date(2026, 3, 29), date(2026, 4, 5), date(2026, 6, 21), date(2026, 10, 3),
        date(2026, 10, 4), date(2026, 10, 25), date(2026, 11, 1),
        date(2026, 11, 19), date(2026, 11, 19), date(2026, 11, 20), date(2026, 12, 31))  # fmt: skip
"""Midsummer, midwinter, the turn of months and of the year, and days on which clocks or the ground change."""
NAMES = ("Invented species", "Another species")


def window(start: str, end: str) -> ClockWindow:
    """Return a clock window."""
    return ClockWindow.model_validate({"from": start, "to": end})


def holding(name: str, **fields: Any) -> MaxHoldingHours:
    """Return a clause on the holding."""
    return MaxHoldingHours.model_validate({"id": name, **fields})


CLOCK: tuple[Condition, ...] = (
    holding("holding", limit_h=12),
    holding("long holding", limit_h=24, captured_after=time(20), then_within_h=14),
    holding("trap", limit_h=20, **{"from": "trap_check"}),
    SameCalendarDay(id="day"),
    SameCalendarDay(id="day or night", captured_after=time(21, 30), then_within_h=6),
    ReleaseWindow(id="daylight", window="daylight"),
    ReleaseWindow(id="active", window="active_period"),
    ReleaseWindow(id="morning", window=window("06:30", "11:00")),
    ReleaseWindow(id="night", window=window("19:00", "02:30")),
)
RECORD: tuple[Condition, ...] = (
    CheckedEveryHours(id="looked at", limit_h=2),
    RecordWithinHours(id="written", limit_h=48),
    IncidentReportedWithinHours(id="incidents", limit_h=24),
    WeatherWithin(id="weather", min_c=5, max_c=35),
    HandledBy(id="handled", persons=("N. O. Body",)),
    Quota(id="quota", count=3, per="month"),
    DisposedTo(id="ends", disposals=("released",)),
    RecordComplete(id="complete", fields=("eventDate",)),
    Attested(id="asked", question="Is it so?", ask_at="site"),
)
OTHER: tuple[Condition, ...] = (
    ConsentRecorded(id="consent", written=True),
    ConsentRecorded(id="some consent", tenures=("farm",)),
    NearestSuitable(id="nearest", tolerance_m=60),
    SpeciesInRange(id="range", layer="zones"),
    SpeciesListed(id="listed", species=NAMES),
    AnimalConditionAllowed(id="fit", allowed=("fit",)),
    KINDS["dwellings"].model_copy(
        update={"id": "dwellings in season", "applies_to": AppliesTo(months=(4, 10, 12))}
    ),
)


@dataclass(frozen=True, repr=False)
class Wish:
    """A plan asked for, with the permits, the clock and the animal."""

    made: Drawn
    permits: tuple[Permit, ...]
    as_of: Mapping[str, date]
    now: datetime
    captured: datetime
    release_at: datetime | None
    others: tuple[Profile, ...]
    first: Profile

    def __repr__(self) -> str:
        said = [
            f"{p.id} {p.timezone} from {v.name} to {v.valid_to}: {[c.id for c in v.conditions]}"
            for p in self.permits
            for v in p.versions
        ]
        times = f"captured {self.captured}, now {self.now}, release at {self.release_at}"
        about = f"as of {dict(self.as_of)}, {len(self.others)} others, {self.first.active_period}"
        return "\n".join([repr(self.made), *said, times, about])

    def ready(self) -> tuple[Capture, Setting]:
        """Return the capture and its setting."""
        ground = replace(self.made.ground, as_of=self.as_of)
        made = replace(self.made, ground=ground)
        region = made.region()
        setting = Setting(
            region,
            self.permits,
            (),
            read_weights(),
            self.now,
            release_at=self.release_at,
            consents=(*self.made.consents, cases.consent("9", parcels="elsewhere")),
            earlier=made.releases(region),
            top=3,
            separation_m=2.5 * ground.cell_m,
            site_radius_m=self.made.site_radius_m,
            rasters=False,
        )
        sure = Identification.PROBABLE if self.others else Identification.CERTAIN
        animal = replace(cases.animal(self.first), identification=sure, others=self.others)
        where = cases.position(region, *self.made.capture, radius_m=self.made.radius_m)
        return Capture("c1", where, self.captured, animal, {}, trap_checked=self.captured), setting


@st.composite
def versions(draw: DrawFn, day: date, limit_m: float) -> tuple[Version, ...]:
    """Return one version, or two that change on the day or beside it."""

    def conditions() -> tuple[Condition, ...]:
        kinds = draw(st.lists(st.sampled_from(sorted(KINDS)), unique=True, max_size=2))
        some = [KINDS[k] for k in kinds]
        for group in (CLOCK, RECORD, OTHER):
            some += draw(st.lists(st.sampled_from(group), unique_by=lambda c: c.id, max_size=2))
        return (MaxDistanceFromCapture(id="limit", limit_m=limit_m), *some)

    if draw(st.booleans()):
        return (Version(date(2020, 1, 1), None, conditions()),)
    last = day + timedelta(days=draw(st.integers(-1, 1)))
    return (
        Version(date(2020, 1, 1), last, conditions()),
        Version(last + timedelta(days=1), None, conditions()),
    )


@st.composite
def wishes(draw: DrawFn) -> Wish:
    """Return a plan asked for."""
    made = draw(drawn(reach_cells=10, cells=(10.0, 25.0), site_radii=(30.0,), radii=(5.0, 0.5)))
    day, zone = draw(st.sampled_from(DAYS)), ZoneInfo(draw(st.sampled_from(ZONES)))
    minute = draw(st.one_of(st.integers(0, 24 * 60 - 1), st.integers(23 * 60, 24 * 60 - 1)))
    captured = datetime.combine(day, time(minute // 60, minute % 60, draw(st.integers(0, 59))), zone)
    held = timedelta(minutes=draw(st.sampled_from((0, 7, 90, 600, 1200))))
    now = captured.astimezone(UTC) + held
    later = draw(st.sampled_from((None, None, 0, 45, 300)))
    limit = made.reach_m * draw(st.sampled_from((0.8, 1.4)))
    permits = [Permit("P-1", "N", "A", zone, ("N. O. Body",), draw(versions(day, limit)))]
    if draw(st.integers(0, 3)) == 0:
        other = ZoneInfo(draw(st.sampled_from(ZONES)))
        permits.append(Permit("P-2", "N", "A", other, ("N. O. Body",), draw(versions(day, limit))))
    period = draw(st.sampled_from((None, *ActivePeriod)))
    first = cases.profile(home_range_ha=0.6, active_period=period)
    other_kind = cases.profile(
        scientific_name=NAMES[1], active_period=ActivePeriod.NOCTURNAL, home_range_ha=None
    )
    as_of = {
        name: day + timedelta(days=draw(st.sampled_from((-400, 0, 1, 2))))
        for name in draw(st.sets(st.sampled_from(sorted(made.ground.layers)), max_size=2))
    }
    return Wish(
        made, tuple(permits), as_of, now, captured,
        None if later is None else now + timedelta(minutes=later),
        (other_kind,) if draw(st.integers(0, 4)) == 0 else (), first,
    )  # fmt: skip


def let_go(site: Site, rng: np.random.Generator, region: Any) -> tuple[Position, datetime]:
    """Return a place whose disc lies inside the planned one, and a time inside the planned hours."""
    radius = float(rng.choice([0.5, 5.0, site.radius_m - 0.01]))
    reach, turn = (site.radius_m - radius) * float(rng.choice([0.0, 0.7, 0.99])), rng.uniform(0, 2 * np.pi)
    # in the plane a metre is a metre to 1e-4 of it
    x, y = (float(v) for v in region.plane.project(site.longitude, site.latitude))
    lon, lat = region.plane.unproject(x + 0.999 * reach * np.cos(turn), y + 0.999 * reach * np.sin(turn))
    first, last = (datetime.fromisoformat(t).astimezone(UTC) for t in (site.release_from, site.release_to))
    seconds = int((last - first).total_seconds())
    at = first + timedelta(seconds=int(rng.choice(np.array([0, seconds, int(rng.integers(0, seconds + 1))]))))
    return Position(float(lon), float(lat), radius), at


def record(capture: Capture, site: Site, place: Position, at: datetime, *, permit: str) -> Handling:
    """Return the record of a release, every to-do done, with what the plan stored for one permit."""
    captured = capture.time.astimezone(UTC)
    hours = int((at - captured).total_seconds() // 3600)
    return Handling(
        capture_id=capture.id,
        taken_at=capture.position,
        captured=captured,
        animal=capture.animal,
        trap_checked=capture.trap_checked,
        disposal="released",
        disposed=at,
        let_go_at=place,
        consent_reference="9",
        planned=Planned(
            Position(site.longitude, site.latitude, site.radius_m),
            {c.id: c.verdict for c in site.clauses if c.verdict is not None and c.source == permit},
        ),
        recorded=at + timedelta(hours=3),
        checks=tuple(captured + timedelta(hours=h) for h in range(1, hours + 1)),
        incidents=(),
        temperature_c=(18.0, 18.0),
        handlers=("N. O. Body",),
        columns={"eventDate": at.isoformat()},
        answers={p: {"asked": "yes"} for p in ("P-1", "P-2")},
    )


def closing(wish: Wish, seed: int) -> None:
    """Assert the law for every site offered."""
    capture, setting = wish.ready()
    found = cases.planned(capture, setting)
    event(f"sites {len(found.sites)}, stopped {bool(found.stop) and not found.counts}")
    rng = np.random.default_rng(seed)
    earlier: tuple[EarlierRelease, ...] = setting.counted
    for site in found.sites:
        place, at = let_go(site, rng, setting.region)
        booked = BookedCapture(capture.time.astimezone(UTC), capture.animal.scientific_name, 1, capture.id)
        book = Book(at + timedelta(hours=4), earlier, setting.consents, (booked,))
        for permit in setting.permits:
            told = record(capture, site, place, at, permit=permit.id)
            judged = judge_record(told, permit, setting.region, book)
            audited = {r.id: r for r in judged.results}
            planned = [c for c in site.clauses if c.source == permit.id]
            assert [c.id for c in planned] == list(audited), "the same clauses, in the same order"
            wrong = {
                c.id: (audited[c.id].verdict, audited[c.id].reason, audited[c.id].margin)
                for c in planned
                if c.verdict is Verdict.MET and audited[c.id].verdict is not Verdict.MET
            }
            assert not wrong, f"site {site.rank}, {permit.id}, let go {at}, {place}"
            assert judged.verdict is Verdict.MET, [r for r in judged.results if r.verdict is not Verdict.MET]


SEEDS = st.integers(0, 2**32 - 1)


@examples(200)
@given(wish=wishes(), seed=SEEDS)
def test_what_was_met_when_planned_is_met_when_audited(wish: Wish, seed: int) -> None:
    closing(wish, seed)


@pytest.mark.slow
@examples(2000)
@given(wish=wishes(), seed=SEEDS)
def test_what_was_met_when_planned_is_met_when_audited_in_full(wish: Wish, seed: int) -> None:
    closing(wish, seed)
