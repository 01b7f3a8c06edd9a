"""Many captures, one after the other: the first site of each counts for those after it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime

from tussock.measure.scene import EarlierRelease
from tussock.planning import plan as planner
from tussock.planning.inputs import CaptureRow
from tussock.planning.record import Plan, Site
from tussock.planning.setting import Capture, Setting
from tussock.spans import posix

Planned = tuple[CaptureRow, Plan | None]
"""A row with its plan; ``None`` where its questions are not answered."""
ASSUMED = (
    "The time of release is assumed: as soon as the site can be reached after {start}. "
    "Give --release-at when you know it."
)


def plan_batch(
    rows: Iterable[CaptureRow],
    setting: Setting,
    *,
    now: datetime | None = None,
    release_at: datetime | None = None,
) -> Iterator[Planned]:
    """Yield each row with its plan, in order; ``None`` where its questions are not answered.

    Parameters
    ----------
    rows
        In order of time. Each capture's first site counts as released for the later ones: for
        ``max_releases_near``, and for the number that a consent covers.
    setting
        What all plans stand on; its clock and release are set for each capture.
    now
        The clock of every plan; ``None`` sets it to the capture's own time, or when its trap was checked
        where that is later.
    release_at
        The planned release of every capture; ``None`` takes the soonest that each site can be reached
        from the capture's own time on, and says so.

    Raises
    ------
    InputError
        When a capture lies outside the region, or ground files cannot be used.
    """
    beside = setting.beside
    for row in rows:
        if row.capture is None:
            yield row, None
            continue
        own = replace(setting, beside=beside, now=now or _in_hand(row.capture), release_at=release_at)
        plan = planner.plan(row.capture, own)
        beside += _first_site(row.capture, plan, own)
        yield (
            row,
            plan if release_at else _assumed(plan, start="the capture" if now is None else now.isoformat()),
        )


def _in_hand(capture: Capture) -> datetime:
    return max(capture.time, capture.trap_checked or capture.time, key=posix)


def _assumed(plan: Plan, *, start: str) -> Plan:
    said = ASSUMED.format(start=start)
    return replace(
        plan, warnings=(said, *plan.warnings), parameters={**plan.parameters, "release_assumed": True}
    )


def _first_site(capture: Capture, plan: Plan, setting: Setting) -> tuple[EarlierRelease, ...]:
    animal = capture.animal
    return tuple(
        EarlierRelease(
            s.longitude,
            s.latitude,
            s.radius_m,
            datetime.fromisoformat(s.release_from),
            animal.scientific_name,
            animal.individual_count,
            consent_reference=_consents_of(s),
        )
        for s in plan.sites[:1]
    )


def _consents_of(site: Site) -> str:
    """Return the consents that a release at a site uses, the first of each ground, as in a record."""
    first = {ground: name for name, ground in reversed(site.consents)}
    return " | ".join(dict.fromkeys(reversed(first.values())))


def exit_code(planned: Iterable[Planned]) -> int:
    """Return 0 when every row has a site, 4 when a clause's layer was missing for any, else 1.

    A missing layer outranks a row without a site: it is a fault of the set-up and hits every row.
    """
    codes = {1 if plan is None else plan.exit_code for _, plan in planned}
    return max(codes, default=0)


def open_words(row: CaptureRow) -> str:
    """Return which questions of a row are open, in a sentence."""
    return f"{row.where}: fill in {', '.join(row.unanswered)}."
