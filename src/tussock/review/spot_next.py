"""Where to go from a spot that will not do: the next site of the plan that is still open."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from datetime import datetime

from tussock.geodesy import bearing_deg, distance_m
from tussock.position import Position
from tussock.review.planned import PlannedSite, PlanRecord


@dataclass(frozen=True)
class NextSite:
    """A site of the plan as seen from the fix; its hours are those of the plan."""

    number: int
    longitude: float
    latitude: float
    distance_m: float
    bearing_deg: float
    release_from: str
    release_to: str
    deadline: str


def seen_from(fix: Position, site: PlannedSite) -> NextSite:
    """Return a site with its distance and direction from a fix, centre to centre."""
    ends = (fix.longitude, fix.latitude, site.longitude, site.latitude)
    return NextSite(
        site.rank,
        site.longitude,
        site.latitude,
        float(distance_m(*ends)),
        bearing_deg(*ends),
        site.release_from,
        site.release_to,
        site.deadline,
    )


def next_site(
    plan: PlanRecord, *, but: int, rejected: Container[int], fix: Position, now: datetime
) -> NextSite | None:
    """Return the best site that is neither this one, nor rejected, nor out of time, if any is."""
    for site in plan.sites:
        if site.rank != but and site.rank not in rejected and in_time(site, now):
            return seen_from(fix, site)
    return None


def in_time(site: PlannedSite, now: datetime) -> bool:
    """Return whether the hours of a site, as planned, are not over."""
    return not site.deadline or now <= datetime.fromisoformat(site.deadline)
