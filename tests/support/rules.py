"""An affair told twice: planned beforehand, and judged from its record afterwards.

The only wood of the ground lies so that no candidate but one can be offered: whether it is offered says
what the permits make of that one place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

import shapely
from geographiclib.geodesic import Geodesic

from tests.support import cases
from tests.support.regions import HOBART, Ground, MadeRegion, Thing, made_region
from tussock.geodesy import Plane
from tussock.interval import Verdict
from tussock.measure.judging import ClauseResult
from tussock.measure.scene import DECIMALS, SITE_RADIUS_M, EarlierRelease
from tussock.permit.consents import Consent
from tussock.permit.permit_file import Permit, read_permit
from tussock.permit.place_kinds import HabitatIn, MaxDistanceFromCapture
from tussock.planning.criteria import read_weights
from tussock.planning.plan import plan
from tussock.planning.record import Plan
from tussock.planning.setting import Capture, Setting
from tussock.position import Position
from tussock.review.handling import Handling, Planned
from tussock.review.judged import Book, Judged, judge_record
from tussock.species.animal import Animal

FOLDER = Path(__file__).parents[1] / "external" / "published_rules"
SPOT = (5.0, 5.0)
"""Centre of the only cell that can be offered [m in the plane]."""
WOOD = Thing(shapely.box(-27, -27, 37, 37), "woodland", "w")
"""64 m wide round it: the planned disc of 30 m fits there, and at no other centre 10 m away."""
CLOSE = MaxDistanceFromCapture(id="house circle", limit_m=3000)
IN_WOOD = HabitatIn(id="house wood", classes=("woodland",))


def published(name: str, *ids: str) -> Permit:
    """Return a published rule's permit, with some of its clauses where ids are given."""
    permit = read_permit(FOLDER / f"{name}.toml")
    if not ids:
        return permit
    known = {c.id for v in permit.versions for c in v.conditions}
    assert set(ids) <= known, known
    kept = tuple(
        replace(v, conditions=tuple(c for c in v.conditions if c.id in ids)) for v in permit.versions
    )
    return replace(permit, versions=kept)


def away(lon: float, lat: float, *, metres: float, azimuth: float) -> tuple[float, float]:
    """Return the place so far off [m] along a geodesic, by geographiclib: longitude, latitude."""
    there = Geodesic.WGS84.Direct(lat, lon, azimuth, metres)
    return float(there["lon2"]), float(there["lat2"])


@dataclass(frozen=True)
class Affair:
    """A capture and what it is held against.

    Attributes
    ----------
    captured, now, release_at
        ISO 8601; local time of the first permit where no offset is given.
    metres
        How far the capture lies from the only place that can be offered, at ``azimuth`` from it.
    """

    permits: tuple[Permit, ...]
    captured: str
    now: str
    release_at: str | None = None
    layers: Mapping[str, Sequence[Thing]] = field(default_factory=dict)
    plane: Plane = HOBART
    metres: float = 100.0
    azimuth: float = 200.0
    radius_m: float = 5.0
    animal: Animal = field(default_factory=cases.animal)
    consents: tuple[Consent, ...] = ()
    earlier: tuple[EarlierRelease, ...] = ()
    trap_checked: str | None = None
    as_of: Mapping[str, date] = field(default_factory=dict)

    @cached_property
    def region(self) -> MadeRegion:
        """The ground: wood at one place, and what else is given."""
        return made_region(Ground({"habitat": (WOOD,), **self.layers}, plane=self.plane, as_of=self.as_of))

    @cached_property
    def spot(self) -> tuple[float, float]:
        """Longitude and latitude of the only place that can be offered, as it is written."""
        lon, lat = self.region.plane.unproject(*SPOT)
        return round(float(lon), DECIMALS), round(float(lat), DECIMALS)

    @cached_property
    def capture(self) -> Capture:
        """The animal in hand."""
        lon, lat = away(*self.spot, metres=self.metres, azimuth=self.azimuth)
        where = Position(lon, lat, self.radius_m)
        checked = None if self.trap_checked is None else self.moment(self.trap_checked)
        return Capture("c", where, self.moment(self.captured), self.animal, {}, trap_checked=checked)

    def moment(self, text: str) -> datetime:
        """Return the instant of an ISO text."""
        found = datetime.fromisoformat(text)
        return found if found.tzinfo else found.replace(tzinfo=self.permits[0].zone)

    @cached_property
    def plan(self) -> Plan:
        """What is said beforehand."""
        at = None if self.release_at is None else self.moment(self.release_at)
        setting = Setting(
            self.region, self.permits, (CLOSE, IN_WOOD), read_weights(), self.moment(self.now),
            release_at=at, consents=self.consents, earlier=self.earlier, top=2, rasters=False,
        )  # fmt: skip
        return plan(self.capture, setting)

    @property
    def offered(self) -> bool:
        """Whether the one place is offered."""
        sites = self.plan.sites
        assert all((s.longitude, s.latitude) == self.spot for s in sites)
        return bool(sites)

    @property
    def hours(self) -> tuple[str, str]:
        """First and last instant that the plan offers, in UTC."""
        site = self.plan.sites[0]
        return utc(site.release_from), utc(site.release_to)

    def before(self, clause: str, *, permit: int = 0) -> Verdict | None:
        """Return what the plan says of a clause at the place offered."""
        source = self.permits[permit].id
        each = {c.id: c.verdict for c in self.plan.sites[0].clauses if c.source == source}
        return each[clause]

    def record(self, released: str | None, *, radius_m: float = SITE_RADIUS_M, **more: Any) -> Handling:
        """Return the record of a release at the place; ``released`` ``None``: still held."""
        told: dict[str, Any] = {
            "capture_id": "c",
            "taken_at": self.capture.position,
            "captured": self.capture.time,
            "animal": self.animal,
            "trap_checked": self.capture.trap_checked,
        }
        if released is not None:
            told |= {
                "disposal": "released",
                "disposed": self.moment(released),
                "let_go_at": Position(*self.spot, radius_m),
            }
        return Handling(**(told | more))

    def judged(self, released: str | None, *, permit: int = 0, book_now: str = "", **more: Any) -> Judged:
        """Return what is said afterwards."""
        told = self.record(released, **more)
        now = self.moment(book_now) if book_now else (told.disposed or told.captured) + timedelta(hours=1)
        book = Book(now, self.earlier, self.consents, ())
        return judge_record(told, self.permits[permit], self.region, book)

    def after(self, clause: str, released: str | None, *, permit: int = 0, **more: Any) -> ClauseResult:
        """Return what is said of a clause afterwards."""
        results = {r.id: r for r in self.judged(released, permit=permit, **more).results}
        return results[clause]

    def as_planned(self) -> Planned:
        """Return what the plan stored for the first permit."""
        site = self.plan.sites[0]
        stored = {
            c.id: c.verdict
            for c in site.clauses
            if c.verdict is not None and c.source == self.permits[0].id
        }  # fmt: skip
        return Planned(Position(site.longitude, site.latitude, site.radius_m), stored)


def utc(text: str) -> str:
    """Return an ISO instant in UTC, to the second."""
    return datetime.fromisoformat(text).astimezone(UTC).isoformat(timespec="seconds")
