"""The plan for one capture: gate, circle, screening, search, explanation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from tussock.errors import UsageError
from tussock.ground.lattice import window_around
from tussock.ground.region import Region
from tussock.interval import Verdict
from tussock.measure.clauses import HOUSE_RULE, Clause, Standing, bind, facts_of
from tussock.measure.judging import ClauseResult, Measures, judge
from tussock.measure.scene import SITE_RADIUS_M, Case, EarlierRelease, Scene
from tussock.measure.screened import Screen
from tussock.permit.condition import Condition, Decided
from tussock.permit.consents import Consent
from tussock.permit.demands import DistanceFromCapture, DistanceTo
from tussock.permit.permit_file import Permit, Version
from tussock.planning.areas_removed import Ruling, removed, ruling
from tussock.planning.criteria import Criterion, Weights, criteria_for, home_range, left_out
from tussock.planning.obstacles import obstacles
from tussock.planning.record import CaptureFacts, PermitFacts, Plan, Rasters, Site
from tussock.planning.search import Field, Search, field_of
from tussock.planning.site_details import explained
from tussock.position import WIDE_RADIUS_M, Position
from tussock.species.intake import Animal, gate

SEPARATION_M = 150.0
"""Least distance between two offered sites [m] (judgement)."""
NO_CIRCLE_M = 2000.0
"""Circle where neither a distance clause nor a home range is known [m] (judgement)."""
RELEASE_AFTER = timedelta(minutes=60)
"""Assumed time from now to the release, where none is given (judgement)."""
OLD_GROUND_DAYS = 365 * 3
"""Ground data older than this is called old [days] (judgement)."""


@dataclass(frozen=True)
class Capture:
    """An animal in hand: what it is, where and when it was taken."""

    id: str
    position: Position
    time: datetime
    animal: Animal
    answers: Mapping[str, str]
    vernacular_name: str = ""


@dataclass(frozen=True)
class Setting:
    """Everything a plan stands on besides the capture.

    Attributes
    ----------
    now
        The clock; ``release_at`` the planned release (``None``: an hour after now).
    inputs
        Name → SHA-256 of each file read, for the record.
    contacts
        Way on → whom to call.
    """

    region: Region
    permits: tuple[Permit, ...]
    house_rules: tuple[Condition, ...]
    weights: Weights
    now: datetime
    release_at: datetime | None = None
    consents: tuple[Consent, ...] = ()
    earlier: tuple[EarlierRelease, ...] = ()
    top: int = 5
    separation_m: float = SEPARATION_M
    site_radius_m: float = SITE_RADIUS_M
    contacts: Mapping[str, str] = field(default_factory=dict)
    inputs: Mapping[str, str] = field(default_factory=dict)
    rasters: bool = True

    @property
    def released(self) -> datetime:
        """The planned release."""
        return self.release_at or self.now + RELEASE_AFTER


def plan(capture: Capture, setting: Setting) -> Plan:
    """Return the plan for one capture.

    Raises
    ------
    InputError
        When the capture lies outside the region, or ground files cannot be used.
    """
    if setting.top < 1:
        raise UsageError(f"{setting.top} sites asked for", where="--top", allowed="1 or more")
    setting.region.check_holds(capture.position, where=f"capture {capture.id}")
    scene = _scene(capture, setting)
    clauses, facts, stop = _clauses(scene, setting)
    admission = gate(capture.animal, country=setting.region.file.country, contacts=setting.contacts)
    ways = tuple(f"{w.sentence}{f' {w.contact}' if w.contact else ''}" for w in admission.ways_on)
    animal = _animal_results(scene, clauses)
    bad = [r for r in animal if r.mandatory and r.verdict in (Verdict.NOT_MET, Verdict.MISSING)]
    stop += [f"No site: {r.id} is {_worded(r.verdict)} ({r.reason})." for r in bad]
    if bad:
        ways += ("Call the authority that issued the permit before anything else.",)
    missing = _missing_layers(clauses)
    stop += [f"No site: clause {c.condition.id} needs layer data that the region lacks ({c.why})." for c in missing]
    if ways and not stop:
        stop.append("No site may be shown for this animal.")
    if stop:
        return _stopped(capture, setting, scene, clauses, facts, animal, stop, ways, admission.notes, missing)
    return _searched(capture, setting, scene, clauses, facts, animal, admission.notes)


def _worded(verdict: Verdict | None) -> str:
    return {Verdict.NOT_MET: "not met", Verdict.MISSING: "missing an answer"}.get(verdict or Verdict.MET, "")


def _scene(capture: Capture, setting: Setting) -> Scene:
    zone = setting.permits[0].zone
    day = setting.released.astimezone(zone).date()
    before = tuple(r for r in setting.earlier if r.instant <= setting.released)
    return Scene(setting.region, Case(capture.position, capture.animal, setting.released, day, before, setting.consents))


def _clauses(scene: Scene, setting: Setting) -> tuple[tuple[Clause, ...], tuple[PermitFacts, ...], list[str]]:
    """Return the clauses in force at the planned release, the permits, and STOP lines for lapses."""
    clauses: list[Clause] = []
    facts, stop = [], []
    for permit in setting.permits:
        day = setting.released.astimezone(permit.zone).date()
        version = permit.version_on(day)
        facts.append(PermitFacts(permit.id, permit.holder, permit.authority, version.name if version else "", permit.file))
        if version is None:
            stop.append(_lapse(permit, f"{day}"))
        else:
            clauses += bind(version.conditions, scene, source=permit.id)
    clauses += bind(setting.house_rules, scene, source=HOUSE_RULE)
    return tuple(clauses), tuple(facts), stop


def _lapse(permit: Permit, day: str) -> str:
    spans = "; ".join(_span(v) for v in permit.versions)
    return f"Permit {permit.id} has no version in force on {day} ({spans}). Do not release under it; call {permit.authority}."


def _span(version: Version) -> str:
    return f"{version.valid_from} to {version.valid_to or 'open'}"


def _animal_results(scene: Scene, clauses: Iterable[Clause]) -> tuple[ClauseResult, ...]:
    measures = Measures(scene, scene.capture)
    return tuple(judge(c, measures, 0) for c in clauses if c.condition.decided is Decided.ANIMAL)


def _missing_layers(clauses: Iterable[Clause]) -> tuple[Clause, ...]:
    return tuple(
        c for c in clauses
        if c.standing is Standing.LAYER_MISSING and c.condition.mandatory and c.source != HOUSE_RULE
    )


def circle(clauses: Iterable[Clause], scene: Scene) -> tuple[float, str]:
    """Return the radius of the circle searched [m] and the label of the clause it comes from.

    The smallest limit of the mandatory distance clauses that apply; without one ten home-range
    diameters, at least 1 and at most 5 km, 2 km where the home range is unknown (judgement).
    """
    limits = [
        (d.limit.at_most, c.condition.id)
        for c in clauses if c.decides_place
        for d in c.demands if isinstance(d.quantity, DistanceFromCapture) and d.limit is not None
    ]
    if limits:
        return min(limits)
    diameter = scene.case.animal.profile.home_range_diameter_m
    if diameter is None:
        return NO_CIRCLE_M, "no distance clause; home range unknown"
    return float(np.clip(10 * diameter, 1000.0, 5000.0)), "no distance clause; ten home-range diameters"


def setbacks(clauses: Iterable[Clause]) -> dict[str, float]:
    """Return layer → the largest setback that applies [m]."""
    out: dict[str, float] = {}
    for clause in clauses:
        for demand in clause.demands if clause.decides_place else ():
            if isinstance(demand.quantity, DistanceTo) and demand.limit is not None:
                layer = demand.quantity.layer
                out[layer] = max(out.get(layer, 0.0), demand.limit.at_least)
    return out


def _searched(
    capture: Capture, setting: Setting, scene: Scene, clauses: tuple[Clause, ...], facts: tuple[PermitFacts, ...],
    animal: tuple[ClauseResult, ...], notes: tuple[str, ...],
) -> Plan:
    radius, label = circle(clauses, scene)
    back = setbacks(clauses)
    criteria = criteria_for(scene, setting.weights, circle_m=radius, setbacks=back)
    reach = radius + max(back.values(), default=0.0) + 4 * scene.region.cell_m
    window = window_around(float(scene.capture.x[0]), float(scene.capture.y[0]), reach_m=reach, cell_m=scene.region.cell_m)
    screen = Screen(scene, window, radius_m=setting.site_radius_m)
    inside = np.flatnonzero(screen.from_capture <= radius)
    ruled = ruling(screen, clauses, inside)
    cells = field_of(screen, clauses, criteria, ruled.open_cells)
    search = Search(scene, clauses, criteria, cells, setting.separation_m)
    found = search.sites(setting.top)
    close = search.nearest() if found else None
    # the nearest place comes last, so that all are measured together
    every = [(lon, lat) for _, lon, lat in (*found, *([close] if close else []))]
    described = explained(scene, clauses, criteria, every, radius_m=setting.site_radius_m)
    sites = described[: len(found)]
    nearest, words = _nearest(described[-1], sites) if close else (None, "")
    stop = () if sites else ("No site inside the circle meets every clause. Call the authority.",)
    return _assembled(
        capture, setting, scene, clauses, facts, animal, notes,
        circle_m=radius, circle_label=label, sites=sites, nearest=nearest, nearest_words=words, stop=stop,
        removed=removed(ruled, clauses, cell_m=scene.region.cell_m),
        obstacles=() if sites else obstacles(screen, ruled, clauses),
        unmapped_ha=_unmapped_ha(screen, inside), left_out=left_out(criteria, setting.weights),
        counts={"cells": len(inside), "open": len(cells), "exact": search.exact},
        rasters=_rasters(screen, ruled, cells) if setting.rasters else None,
    )


def _nearest(close: Site, sites: tuple[Site, ...]) -> tuple[Site, str]:
    """Return the place nearest to the capture, as the site it is or by itself, and the words for it."""
    for known in sites:
        if (known.longitude, known.latitude) == (close.longitude, close.latitude):
            return known, f"The nearest place that meets every clause is site {known.rank}."
    return replace(close, rank=0), _given_up(sites[0], close)


def _given_up(first: Site, nearest: Site) -> str:
    """Return what the nearest place has less of than the first site, in words."""
    better = {c.name: c.score.low for c in first.criteria}
    worse = [(better[c.name] - c.score.low, c) for c in nearest.criteria if better[c.name] - c.score.low > 0.02]
    said = ", ".join(
        f"{c.name.replace('_', ' ')} {c.score.low:.2f} instead of {better[c.name]:.2f}"
        for _, c in sorted(worse, key=lambda w: -w[0])[:3]
    )
    farther = first.distance_m - nearest.distance_m
    return (
        f"The nearest place that meets every clause is {nearest.distance_m:.0f} m from the capture, "
        f"{farther:.0f} m nearer than site 1. It gives up: {said or 'nothing that is measured'}."
    )


def _unmapped_ha(screen: Screen, inside: npt.NDArray[np.int64]) -> float:
    if not screen.scene.region.has("habitat"):
        return 0.0
    unmapped = np.count_nonzero(screen.habitat_labels.ravel()[inside] < 0)
    return float(unmapped) * screen.window.cell_m**2 / 10_000


def _rasters(screen: Screen, ruled: Ruling, cells: Field) -> Rasters:
    shape = screen.window.shape
    score = np.full(shape, np.nan, dtype=np.float32)
    score.ravel()[cells.flat] = cells.score
    inside = np.zeros(shape, dtype=bool)
    inside.ravel()[ruled.cells] = True
    unknown = np.zeros(shape, dtype=bool)
    if screen.scene.region.has("habitat"):
        unknown = inside & ((screen.habitat_labels < 0) | ~screen.inside_extent("habitat"))
    states = {}
    for key, state in ruled.states.items():
        states[key] = np.zeros(shape, dtype=np.uint8)
        states[key].ravel()[ruled.cells] = state
    return Rasters(screen.window, screen.scene.plane, inside, states, score, unknown)


def _stopped(
    capture: Capture, setting: Setting, scene: Scene, clauses: tuple[Clause, ...], facts: tuple[PermitFacts, ...],
    animal: tuple[ClauseResult, ...], stop: list[str], ways: tuple[str, ...], notes: tuple[str, ...],
    missing: tuple[Clause, ...],
) -> Plan:
    layers = tuple(sorted({use.layer for c in missing for use in c.condition.layers() if not setting.region.has(use.layer)}))
    return _assembled(
        capture, setting, scene, clauses, facts, animal, notes, stop=tuple(stop), way_on=ways,
        missing_layers=layers if not ways else (),
    )


def _assembled(
    capture: Capture, setting: Setting, scene: Scene, clauses: tuple[Clause, ...], facts: tuple[PermitFacts, ...],
    animal: tuple[ClauseResult, ...], notes: tuple[str, ...], *, left_out: tuple[str, ...] = (), **found: object,
) -> Plan:
    defaults: dict[str, object] = {
        "circle_m": 0.0, "circle_label": "", "sites": (), "nearest": None, "nearest_words": "", "removed": (),
        "obstacles": (), "stop": (), "way_on": (), "unmapped_ha": 0.0, "counts": {}, "missing_layers": (), "rasters": None,
    }
    position = capture.position
    return Plan(
        capture=CaptureFacts(
            id=capture.id, time=capture.time.isoformat(), longitude=position.longitude, latitude=position.latitude,
            radius_m=position.radius_m, radius_assumed=position.assumed,
            scientific_name=capture.animal.scientific_name, vernacular_name=capture.vernacular_name,
            danger=str(capture.animal.profile.danger), answers=dict(capture.answers),
        ),
        permits=facts, region=setting.region.file.name, release_at=setting.released.isoformat(), now=setting.now.isoformat(),
        animal_clauses=animal, warnings=_warnings(capture, setting, scene, clauses, notes, left_out),
        sources=sources(setting.region), parameters=_parameters(setting, scene), inputs=dict(setting.inputs),
        **{**defaults, **found},  # type: ignore[arg-type]
    )


def _parameters(setting: Setting, scene: Scene) -> dict[str, object]:
    return {
        "cell_m": scene.region.cell_m, "separation_m": setting.separation_m, "site_radius_m": setting.site_radius_m,
        "top": setting.top, "weights": setting.weights.model_dump(), "home_range_ha": home_range(scene, setting.weights).hectares,
        "release_assumed": setting.release_at is None, "facts": vars(facts_of(scene)),
    }


def _warnings(
    capture: Capture, setting: Setting, scene: Scene, clauses: tuple[Clause, ...], notes: tuple[str, ...],
    left_out: tuple[str, ...],
) -> tuple[str, ...]:
    said = list(notes)
    position = capture.position
    if position.assumed:
        said.append(f"The capture's radius was not recorded: {position.radius_m:.0f} m is assumed.")
    if position.note:
        said.append(f"Capture: {position.note}.")
    if position.radius_m >= WIDE_RADIUS_M:
        said.append(f"The capture's radius is {position.radius_m:.0f} m: many clauses can only be uncertain.")
    if setting.release_at is None:
        said.append("The time of release is assumed: one hour from now. Give --release-at when you know it.")
    if capture.animal.profile.known and capture.animal.profile.home_range_ha is None:
        said.append(f"No home range is known for {capture.animal.scientific_name}: a stand-in is used for the scores.")
    said += [f"House rule '{c.condition.id}' is not checked: {c.why}." for c in clauses
             if c.source == HOUSE_RULE and c.standing is Standing.LAYER_MISSING]
    said += [f"Criterion {n.replace('_', ' ')} is left out: the region has no such layer." for n in left_out]
    said += [f"Permit {p.id}: {w}." for p in setting.permits for w in p.warnings]
    said += _ground_warnings(setting.region, scene, clauses)
    return tuple(dict.fromkeys(said))


def _ground_warnings(region: Region, scene: Scene, clauses: tuple[Clause, ...]) -> list[str]:
    said = []
    for name, spec in region.file.layers.items():
        if spec.as_of is not None and (scene.case.day - spec.as_of).days > OLD_GROUND_DAYS:
            said.append(f"Layer {name} is as of {spec.as_of}: look for what has changed since.")
        if spec.sources and spec.complete == "not checked":
            said.append(f"Layer {name}: its completeness is not checked.")
    for clause in clauses:
        for use in clause.condition.layers() if clause.standing is Standing.READY else ():
            absent = set(use.classes or ()) - set(scene.features(use.layer).classes)
            if absent and use.layer != "habitat":
                said.append(f"Clause {clause.condition.id}: no feature of layer {use.layer} has class {', '.join(sorted(absent))}.")
    return said


def sources(region: Region) -> tuple[str, ...]:
    """Return the attribution lines of the ground data."""
    return tuple(dict.fromkeys(s.attribution for s in region.file.layers.values() if s.attribution))
