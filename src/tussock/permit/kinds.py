"""Every kind of clause that a permit file may hold."""

from __future__ import annotations

from tussock.permit.animal_kinds import (
    AnimalConditionAllowed,
    SpeciesInRange,
    SpeciesListed,
    SpeciesNotReleased,
)
from tussock.permit.condition import Condition
from tussock.permit.place_kinds import (
    HabitatIn,
    MaxDistanceFromCapture,
    MaxReleasesNear,
    MinDistanceFrom,
    MinPatchArea,
    NearestSuitable,
    NoBarrierBetween,
    NotWithin,
    SameHabitatAsCapture,
    SamePolygonAsCapture,
    Within,
)
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
    ReturnDue,
    WeatherWithin,
)
from tussock.permit.time_kinds import MaxHoldingHours, ReleaseWindow, SameCalendarDay

_CLASSES: tuple[type[Condition], ...] = (
    MaxDistanceFromCapture,
    MinDistanceFrom,
    HabitatIn,
    SameHabitatAsCapture,
    MinPatchArea,
    Within,
    NotWithin,
    SamePolygonAsCapture,
    NoBarrierBetween,
    NearestSuitable,
    SpeciesListed,
    SpeciesNotReleased,
    AnimalConditionAllowed,
    SpeciesInRange,
    MaxReleasesNear,
    MaxHoldingHours,
    SameCalendarDay,
    ReleaseWindow,
    CheckedEveryHours,
    RecordWithinHours,
    IncidentReportedWithinHours,
    WeatherWithin,
    HandledBy,
    Quota,
    DisposedTo,
    RecordComplete,
    ConsentRecorded,
    Attested,
    ReturnDue,
)

KINDS: dict[str, type[Condition]] = {c.model_fields["kind"].default: c for c in _CLASSES}
"""Kind → class, in the order of the manual's table."""
