"""Before any cell is looked at: the scene, the clauses in force, and what stands against any site."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from tussock.clock import local_date
from tussock.errors import UsageError
from tussock.interval import Verdict
from tussock.measure.clauses import HOUSE_RULE, Clause, Standing, bind
from tussock.measure.judging import ClauseResult, Measures, Window, judge
from tussock.measure.scene import Case, Scene
from tussock.measure.timetable import STAY_S, Timetable, clock_clauses
from tussock.permit.condition import Condition, Decided
from tussock.permit.demands import DistanceFromCapture, DistanceTo
from tussock.permit.permit_file import Permit, Version
from tussock.permit.place_kinds import MaxDistanceFromCapture
from tussock.planning.record import PermitFacts
from tussock.planning.setting import Capture, Setting
from tussock.spans import ALWAYS, Spans, instant, local_day, posix
from tussock.species.intake import Admission, gate

NO_CIRCLE_M = 2000.0
"""Circle where neither a distance clause nor a home range is known [m] (judgement)."""
LEAST_CIRCLE_M, MOST_CIRCLE_M = 1000.0, 5000.0
"""Circle without a distance clause: ten home-range diameters between these [m] (judgement)."""


@dataclass(frozen=True)
class Prepared:
    """One capture in its setting, made ready.

    Attributes
    ----------
    clauses
        Of every permit: those of the taking by its version at the capture, all others by its version
        at the planned release; then the house rules.
    permits
        Each permit with its version; empty where none is in force.
    lapsed
        STOP lines for permits without a version in force.
    animal
        Results of the clauses that the animal decides.
    admission
        What the gate at intake says.
    timetable
        When the release may be.
    """

    capture: Capture
    setting: Setting
    scene: Scene
    clauses: tuple[Clause, ...]
    permits: tuple[PermitFacts, ...]
    lapsed: tuple[str, ...]
    animal: tuple[ClauseResult, ...]
    admission: Admission
    timetable: Timetable

    @property
    def missing(self) -> tuple[Clause, ...]:
        """Mandatory clauses of a permit that need a layer or an answer that is not there."""
        lacking = (Standing.LAYER_MISSING, Standing.INPUT_MISSING)
        return tuple(
            c
            for c in self.clauses
            if c.standing in lacking and c.condition.mandatory and c.source != HOUSE_RULE
        )

    @property
    def against(self) -> tuple[ClauseResult, ...]:
        """Mandatory clauses that this animal does not meet."""
        bad = (Verdict.NOT_MET, Verdict.MISSING)
        return tuple(r for r in self.animal if r.mandatory and r.verdict in bad)

    @property
    def missing_layers(self) -> tuple[str, ...]:
        """Layers that mandatory clauses need and the region lacks."""
        needed = {use.layer for c in self.missing for use in c.condition.layers()}
        return tuple(sorted(layer for layer in needed if not self.scene.region.has(layer)))

    @property
    def untaken(self) -> tuple[str, ...]:
        """Permits without a version in force at the capture."""
        return tuple(p.id for p in self.permits if not p.version_at_capture)


def prepare(capture: Capture, setting: Setting) -> Prepared:
    """Return a capture made ready for planning.

    Raises
    ------
    InputError
        When the capture lies outside the region, or ground files cannot be used.
    UsageError
        When the planned release lies before the capture, or before the trap was checked.
    """
    setting.region.check_holds(capture.position, where=f"capture {capture.id}".strip())
    if posix(setting.start) < posix(capture.time):
        raise UsageError(
            f"the release at {setting.start.isoformat()} is before the capture at {capture.time.isoformat()}",
            where=f"capture {capture.id}".strip(),
            fix="correct one of them, or the clock",
        )
    if capture.trap_checked is not None and posix(setting.start) < posix(capture.trap_checked):
        raise UsageError(
            f"the release at {setting.start.isoformat()} is before the trap was checked, "
            f"at {capture.trap_checked.isoformat()}",
            where=f"capture {capture.id}".strip(),
            fix="correct trapCheckDate, or the clock",
        )
    span = _planned(setting)
    scene = Scene(setting.region, _case(capture, setting, span))
    timetable = _timetable(scene, _in_force(scene, setting), setting, span)
    possible = timetable.possible
    if possible:  # what is judged depends on the days of the release: no more of them than can be
        scene = Scene(setting.region, _case(capture, setting, (possible.parts[0][0], possible.parts[-1][1])))
    found = _in_force(scene, setting)
    measures = Measures(scene, scene.capture)
    animal = tuple(judge(c, measures, 0) for c in found.clauses if c.condition.decided is Decided.ANIMAL)
    admission = gate(capture.animal, country=setting.region.file.country, contacts=setting.contacts)
    return Prepared(
        capture,
        setting,
        scene,
        found.clauses,
        found.permits,
        found.lapsed,
        animal,
        admission,
        _timetable(scene, found, setting, span),
    )


def _planned(setting: Setting) -> Window:
    """Return between which instants a release may be planned, at any place that may be offered."""
    start = posix(setting.start)
    return start, start + setting.per_metre_s * _reach_m(setting) + STAY_S


def _reach_m(setting: Setting) -> float:
    """Return how far from the capture a place may be, at most [m].

    The smallest distance that a permit sets for every animal in each of its versions; where none does, the
    largest of those that may apply, and of circles without one.
    """
    sets = [[v.conditions for v in permit.versions] for permit in setting.permits] + [[setting.house_rules]]
    sure = min(max((_always_m(c) for c in versions), default=math.inf) for versions in sets)
    every = [c.limit_m for versions in sets for conditions in versions for c in _distances(conditions)]
    return sure if math.isfinite(sure) else max([MOST_CIRCLE_M, *every])


def _distances(conditions: Iterable[Condition]) -> list[MaxDistanceFromCapture]:
    return [c for c in conditions if isinstance(c, MaxDistanceFromCapture) and c.mandatory]


def _always_m(conditions: Iterable[Condition]) -> float:
    """Return the smallest distance for every animal [m]; ∞ without one."""
    return min((c.limit_m for c in _distances(conditions) if c.applies_to is None), default=math.inf)


def _case(capture: Capture, setting: Setting, span: Window) -> Case:
    zone = setting.permits[0].zone
    first, last = (instant(math.floor(t), zone) for t in span)
    zones = [permit.zone for permit in setting.permits]
    return Case(
        capture.position,
        capture.animal,
        first,
        min(local_date(first, z) for z in zones),
        tuple(r for r in setting.counted if r.instant <= last),
        setting.consents,
        until=last,
        until_day=max(local_date(last, z) for z in zones),
        captured=capture.time,
        capture_day=min(local_date(capture.time, z) for z in zones),
        capture_last=max(local_date(capture.time, z) for z in zones),
        trap_checked=capture.trap_checked,
        no_book=setting.earlier is None,
    )


@dataclass(frozen=True)
class _InForce:
    clauses: tuple[Clause, ...]
    permits: tuple[PermitFacts, ...]
    lapsed: tuple[str, ...]
    spans: Spans


def _in_force(scene: Scene, setting: Setting) -> _InForce:
    """Return the clauses that hold, and when the versions they stand in are in force."""
    clauses: list[Clause] = []
    facts, lapsed, spans = [], [], ALWAYS
    case = scene.case
    assert case.captured is not None  # planned cases have it
    for permit in setting.permits:
        day = local_date(setting.start, permit.zone)
        version, before = permit.version_on(day), permit.version_on(local_date(case.captured, permit.zone))
        facts.append(
            PermitFacts(
                permit.id, permit.holder, permit.authority, _name(version), permit.file, _name(before)
            )
        )
        if version is None:
            lapsed.append(_lapse(permit, str(day)))
            continue
        conditions = (*(before.of_taking if before else ()), *version.of_disposal)
        clauses += bind(conditions, scene, source=permit.id, zone=permit.zone)
        spans = spans & _days(version, permit.zone)
    clauses += bind(setting.house_rules, scene, source=HOUSE_RULE, zone=setting.permits[0].zone)
    return _InForce(tuple(clauses), tuple(facts), tuple(lapsed), spans)


def _name(version: Version | None) -> str:
    return version.name if version else ""


def _days(version: Version, zone: ZoneInfo) -> Spans:
    """Return the instants of a version's local days, its last second included."""
    start = local_day(version.valid_from, zone)[0]
    end = local_day(version.valid_to, zone)[1] - 1.0 if version.valid_to else math.inf
    return Spans.of(start, end)


def _timetable(scene: Scene, found: _InForce, setting: Setting, span: Window) -> Timetable:
    return Timetable(
        scene, clock_clauses(found.clauses), found.spans, span[0], setting.per_metre_s, _reach_m(setting)
    )


def _lapse(permit: Permit, day: str) -> str:
    spans = "; ".join(_span(v) for v in permit.versions)
    return (
        f"Permit {permit.id} has no version in force on {day} ({spans}). "
        f"Do not release under it; call {permit.authority}."
    )


def _span(version: Version) -> str:
    return f"{version.valid_from} to {version.valid_to or 'open'}"


def circle(clauses: Iterable[Clause], scene: Scene) -> tuple[float, str]:
    """Return the radius of the circle searched [m] and the label of the clause it comes from.

    The smallest limit of the mandatory distance clauses that apply; without one ten home-range
    diameters, at least 1 and at most 5 km, 2 km where the home range is unknown (judgement).
    """
    limits = [
        (d.limit.at_most, c.condition.id)
        for c in clauses
        if c.decides_place
        for d in c.demands
        if isinstance(d.quantity, DistanceFromCapture) and d.limit is not None
    ]
    if limits:
        return min(limits)
    diameters = [p.home_range_diameter_m for p in scene.case.animal.profiles]
    known = [d for d in diameters if d is not None]
    if not known:
        return NO_CIRCLE_M, "no distance clause; home range unknown"
    wide = float(np.clip(10 * min(known), LEAST_CIRCLE_M, MOST_CIRCLE_M))
    if len(known) < len(diameters):
        wide = min(wide, NO_CIRCLE_M)
    return wide, "no distance clause; ten home-range diameters"


def setbacks(clauses: Iterable[Clause]) -> dict[str, float]:
    """Return layer → the largest setback that applies [m]."""
    out: dict[str, float] = {}
    for clause in clauses:
        for demand in clause.demands if clause.decides_place else ():
            if isinstance(demand.quantity, DistanceTo) and demand.limit is not None:
                layer = demand.quantity.layer
                out[layer] = max(out.get(layer, 0.0), demand.limit.at_least)
    return out
