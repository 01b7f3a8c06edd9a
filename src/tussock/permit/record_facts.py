"""What clauses read in a record after the work is done, and what is found. Plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from tussock.interval import Interval, Verdict
from tussock.permit.capture_book import BookedCapture, CaptureBook


@dataclass(frozen=True)
class Incident:
    """A bite, an escape, a death: when it happened and when it was reported (``None``: not yet)."""

    kind: str
    happened: datetime
    reported: datetime | None


ENDED_AS = "disposal"
"""Column that says how holding ended."""
NOT_DUE = "not due yet: the animal is still held"


@dataclass(frozen=True, kw_only=True)
class RecordFacts:
    """A capture and how its holding ended, as recorded. Every instant has an offset.

    What has a default is not recorded by default: nothing is taken to be well that nobody wrote down.

    Attributes
    ----------
    columns
        Every column that the record has by its Darwin Core name, → its text; empty where not filled in.
    zone, version_from, version_to
        The permit's zone, and the local dates of the version that the clause stands in.
    captured, disposed, disposal
        Begin and end of holding, and how it ended; ``disposed`` ``None`` is still held.
    now
        An open capture, and an incident not reported, count to then.
    scientific_name, other_names
        What it was taken for, and the other species that it may be.
    recorded
        When the record was written.
    checks
        When the held animal was looked at; ``None`` not recorded, empty recorded as never.
    incidents
        ``None`` not recorded, empty recorded as none.
    temperature_c
        Air temperature at release, low and high [°C].
    handlers, ended_by
        Who handled the animal: at the capture and when holding ended; ``ended_by`` ``None``: ``handlers``
        are of the whole record, or it is still held.
    answers
        Clause id → yes, no or unclear.
    captures
        The whole book of captures, this one with it, as they are or indexed; ``None`` no book given.
    """

    zone: ZoneInfo
    version_from: date
    version_to: date | None = None
    captured: datetime
    disposed: datetime | None = None
    disposal: str = ""
    now: datetime
    scientific_name: str
    other_names: tuple[str, ...] = ()
    individual_count: int
    capture_id: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    recorded: datetime | None = None
    checks: tuple[datetime, ...] | None = None
    incidents: tuple[Incident, ...] | None = None
    temperature_c: tuple[float, float] | None = None
    handlers: tuple[str, ...] = ()
    ended_by: tuple[str, ...] | None = None
    answers: Mapping[str, str] = field(default_factory=dict)
    captures: tuple[BookedCapture, ...] | CaptureBook | None = None
    authorised_persons: tuple[str, ...] = ()

    @property
    def not_released(self) -> str:
        """How holding ended where it ended otherwise than by a release; empty else, or not known."""
        return self.disposal if self.disposed is not None and self.disposal != "released" else ""

    @property
    def held(self) -> bool:
        """Whether the animal is still held: what belongs to the end of holding is not due yet."""
        return self.disposed is None


@dataclass(frozen=True)
class Finding:
    """What a record says of a clause.

    Attributes
    ----------
    verdict
        ``None`` where the clause asks nothing of this record; ``reason`` says why.
    reason
        What was found, in words.
    value, limit, margin
        In ``unit``; margin is the signed distance from the limit at the worse end, positive is good.
    """

    verdict: Verdict | None
    reason: str
    value: Interval | None = None
    limit: float | None = None
    margin: float | None = None
    unit: str = ""


def persons_in(recorded_by: str) -> tuple[str, ...]:
    """Return the names in a ``recordedBy``, separated by `` | `` as Darwin Core recommends.

    Examples
    --------
    >>> persons_in("N. O. Body |  A. Nother ")
    ('N. O. Body', 'A. Nother')
    """
    names = (" ".join(name.split()) for name in recorded_by.split("|"))
    return tuple(name for name in names if name)
