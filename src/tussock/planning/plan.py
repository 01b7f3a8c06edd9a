"""The plan for one capture: gate, circle, screening, search, explanation."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from tussock.errors import InputError, UsageError
from tussock.ground.lattice import window_around
from tussock.interval import Limit, Verdict
from tussock.measure.clauses import HOUSE_RULE, Clause, Standing, facts_of
from tussock.measure.covering import not_counting
from tussock.measure.scene import Scene
from tussock.measure.screened import Screen
from tussock.permit.demands import BeyondNearest, Demand
from tussock.permit.place_kinds import NearestSuitable
from tussock.permit.record_kinds import ConsentRecorded
from tussock.planning.areas_removed import CLOCK_KEY, MET, RULED_OUT, Ruling, removed, ruling
from tussock.planning.cautions import sources, warnings
from tussock.planning.clockwork import authorities, clock_facts, conflict
from tussock.planning.criteria import Criterion, criteria_for, home_range, left_out
from tussock.planning.obstacles import obstacles
from tussock.planning.prepared import Prepared, circle, prepare, setbacks
from tussock.planning.record import CaptureFacts, Plan, Rasters, Site
from tussock.planning.search import Field, Found, Search, field_of
from tussock.planning.setting import Capture, Setting
from tussock.planning.site_details import explained

__all__ = ["Capture", "Setting", "plan"]
_EDGE_CELLS = 4
"""Cells kept round the circle and its setbacks, so that surfaces are good to the rim."""
MOST_CELLS = 25_000_000
"""Largest window [cells]: about 2 GB of surfaces. At 10 m it holds a circle of 25 km."""
MOST_WAITING = 3
"""How many places that lack only a consent are listed."""
_NOTHING_LEFT = "No site inside the circle meets every clause."
_BUT_CONSENT = " Some places lack only a consent: they are listed apart."
_WORDS = {Verdict.NOT_MET: "not met", Verdict.MISSING: "missing an answer"}


def plan(capture: Capture, setting: Setting) -> Plan:
    """Return the plan for one capture.

    Raises
    ------
    InputError
        When the capture lies outside the region, the circle is too large for the cell size, or
        ground files cannot be used.
    UsageError
        When fewer than one site is asked for.
    """
    if setting.top < 1:
        raise UsageError(f"{setting.top} sites asked for", where="--top", allowed="1 or more")
    ready = prepare(capture, setting)
    stop = _stop_lines(ready)
    return _stopped(ready, stop) if stop else _searched(ready)


def _stop_lines(ready: Prepared) -> tuple[str, ...]:
    stop = [*ready.lapsed]
    stop += [
        f"No site: {_named(r.id, r.source, ready)} is {_WORDS[r.verdict]} ({r.reason})."
        for r in ready.against
        if r.verdict
    ]
    stop += [
        f"No site: clause {_named(c.condition.id, c.source, ready)} cannot be judged, {c.why}."
        f"{_to_add(c, ready)}"
        for c in ready.missing
    ]
    if not stop and not ready.admission.site_may_be_shown:
        stop.append("No site may be shown for this animal.")
    if not stop and not ready.timetable.possible:
        stop += _conflict(ready)
    return tuple(stop)


def _conflict(ready: Prepared) -> tuple[str, ...]:
    at = ready.capture.position
    return conflict(ready.timetable, ready.setting, lon=at.longitude, lat=at.latitude)


def _nothing_left(ready: Prepared, ruled: Ruling, waiting: tuple[Site, ...]) -> tuple[str, ...]:
    """Return why no site is left: the clock where it alone rules out the whole circle, else the ground."""
    late = ruled.states.get(CLOCK_KEY)
    if late is not None and bool(np.all(late == RULED_OUT)):
        return _conflict(ready)
    return (f"{_NOTHING_LEFT}{_BUT_CONSENT if waiting else ''}",)


def _named(clause: str, source: str, ready: Prepared) -> str:
    """Return a clause's id, with its permit's where there are several."""
    several = len(ready.setting.permits) > 1 and source != HOUSE_RULE
    return f"{clause} of {source}" if several else clause


def _to_add(clause: Clause, ready: Prepared) -> str:
    """Return which lines of region.toml would give a clause its layer; empty where it lacks an answer."""
    if clause.standing is not Standing.LAYER_MISSING:
        return ""
    lacking = dict.fromkeys(u.layer for u in clause.condition.layers() if not ready.scene.region.has(u.layer))
    tables = " and ".join(f"[layers.{name}] with [[layers.{name}.sources]]" for name in lacking)
    return f" Add {tables} and its file to region.toml."


def _ways_on(setting: Setting, waiting: tuple[Site, ...]) -> tuple[str, ...]:
    ask = ("Ask for a consent for one of the places that need one first.",) if waiting else ()
    return *ask, f"Call {authorities(setting)}.{_contact(setting)}"


def _contact(setting: Setting) -> str:
    contact = setting.contacts.get("authority")
    return f" {contact}" if contact else ""


def _stopped(ready: Prepared, stop: tuple[str, ...]) -> Plan:
    ways = [f"{w.sentence}{f' {w.contact}' if w.contact else ''}" for w in ready.admission.ways_on]
    late = not ready.timetable.possible and not ready.lapsed
    if (ready.against or late) and not ways:
        ways.append(f"Call {authorities(ready.setting)} before anything else.{_contact(ready.setting)}")
    # exit 4 is for data: an animal that may not be released is no matter of data
    layers = () if ways or ready.lapsed else ready.missing_layers
    return _assembled(ready, stop=stop, way_on=tuple(ways), missing_layers=layers)


@dataclass(frozen=True)
class _Ground:
    """The ground screened for one capture."""

    ready: Prepared
    screen: Screen
    criteria: tuple[Criterion, ...]
    radius: float
    label: str

    def search(
        self, clauses: tuple[Clause, ...], cells: npt.NDArray[np.int64], *, lacked: tuple[Clause, ...] = ()
    ) -> Search:
        """Return a search over some cells of the window."""
        ready = self.ready
        field = field_of(self.screen, clauses, self.criteria, cells)
        return Search(
            ready.scene, clauses, self.criteria, field, ready.setting.separation_m, ready.timetable, lacked
        )

    def described(self, clauses: tuple[Clause, ...], found: Iterable[Found]) -> tuple[Site, ...]:
        """Return places found as sites, ranked from 1."""
        ready, setting = self.ready, self.ready.setting
        return explained(
            ready.scene,
            clauses,
            self.criteria,
            [(lon, lat) for _, lon, lat in found],
            radius_m=setting.site_radius_m,
            timetable=ready.timetable,
            zone=setting.permits[0].zone,
        )


def _searched(ready: Prepared) -> Plan:
    scene, setting, clauses = ready.scene, ready.setting, ready.clauses
    radius, label = circle(clauses, scene)
    back = setbacks(clauses)
    criteria = criteria_for(scene, setting.weights, circle_m=radius, setbacks=back)
    screen = _screen(ready, radius + max(back.values(), default=0.0))
    ground = _Ground(ready, screen, criteria, radius, label)
    ruled = ruling(screen, clauses, np.flatnonzero(screen.from_capture <= radius), ready.timetable)
    search = ground.search(clauses, ruled.open_cells)
    close = search.nearest() if len(ruled.open_cells) else None
    near = _nearest_only(clauses, close)
    if near is not clauses:  # the paper asks for the nearest: what lies farther is ruled out too
        clauses = near
        ruled = ruling(screen, clauses, ruled.cells, ready.timetable)
        search = ground.search(clauses, ruled.open_cells)
    found = search.sites(setting.top) if close else []
    # the nearest place comes last, so that all are measured together
    described = ground.described(clauses, [*found, *([close] if close else [])])
    sites = described[: len(found)]
    nearest, words = _nearest(described[-1], sites) if close else (None, "")
    waiting = _needing_consent(ground, clauses, ruled)
    return _assembled(
        ready,
        left_out(criteria, setting.weights),
        circle_m=radius,
        circle_label=label,
        sites=sites,
        nearest=nearest,
        nearest_words=words,
        needs_consent=waiting,
        stop=() if sites else _nothing_left(ready, ruled, waiting),
        way_on=() if sites else _ways_on(setting, waiting),
        removed=removed(ruled, clauses, cell_m=scene.region.cell_m),
        obstacles=() if sites else obstacles(screen, ruled, clauses, ready.timetable),
        unmapped_ha=_unmapped_ha(screen, ruled.cells),
        counts={"cells": len(ruled.cells), "open": len(ruled.open_cells), "exact": search.exact},
        rasters=_rasters(screen, ruled, search.cells) if setting.rasters else None,
    )


def _nearest_only(clauses: tuple[Clause, ...], close: Found | None) -> tuple[Clause, ...]:
    """Return the clauses with those that ask for the nearest place bound to it; the same where none does."""
    if close is None or not any(_asks_for_nearest(c) for c in clauses):
        return clauses
    return tuple(_bound_to(c, close[0][1] / 100) if _asks_for_nearest(c) else c for c in clauses)


def _asks_for_nearest(clause: Clause) -> bool:
    return isinstance(clause.condition, NearestSuitable) and clause.standing is Standing.NOT_CHECKED


def _bound_to(clause: Clause, nearest_m: float) -> Clause:
    assert isinstance(clause.condition, NearestSuitable)  # asked before
    # keys hold whole centimetres
    limit = Limit(at_most=clause.condition.tolerance_m, tolerance=0.01)
    return replace(
        clause, standing=Standing.READY, why="", demands=(Demand(BeyondNearest(nearest_m), limit),)
    )


def _needing_consent(ground: _Ground, clauses: tuple[Clause, ...], ruled: Ruling) -> tuple[Site, ...]:
    """Return the nearest places that lack nothing but a consent."""
    wanted = {c.key for c in clauses if isinstance(c.condition, ConsentRecorded) and c.decides_place}
    if not wanted:
        return ()
    lacking = np.any([ruled.states[key] != MET for key in sorted(wanted)], axis=0)
    others = np.sum([ruled.states[key] == RULED_OUT for key in sorted(wanted)], axis=0)
    cells = ruled.cells[lacking & (ruled.sure - others == 0)]
    if not len(cells):
        return ()
    rest = tuple(c for c in clauses if c.key not in wanted)
    lacked = tuple(c for c in clauses if c.key in wanted)
    found = ground.search(rest, cells, lacked=lacked).nearest_few(MOST_WAITING)
    described = ground.described(clauses, found)
    asking = [c.condition for c in clauses if c.key in wanted and isinstance(c.condition, ConsentRecorded)]
    return tuple(
        replace(site, rank=0, notes=(*site.notes, *_not_counting(asking, site, ground.ready.scene)))
        for site in described
        if site.lacking
    )


def _not_counting(asking: Iterable[ConsentRecorded], site: Site, scene: Scene) -> Iterator[str]:
    """Yield why consents on record for a place's ground do not count, each once."""
    parcels = [parcel for parcel, _ in site.lacking]
    yield from dict.fromkeys(w for c in asking for w in not_counting(c, scene, parcels))


def _screen(ready: Prepared, reach: float) -> Screen:
    at, cell = ready.scene.capture, ready.scene.region.cell_m
    window = window_around(float(at.x[0]), float(at.y[0]), reach_m=reach + _EDGE_CELLS * cell, cell_m=cell)
    window = window.cut_to(ready.scene.region.bounds)
    cells = window.rows * window.columns
    if cells > MOST_CELLS:
        raise InputError(
            f"the circle of {reach:.0f} m takes {cells:,} cells of {cell:g} m",
            where="region.toml, plane.cell_m",
            allowed=f"up to {MOST_CELLS:,} cells",
            fix="use larger cells for this region",
        )
    return Screen(ready.scene, window, radius_m=ready.setting.site_radius_m)


def _nearest(close: Site, sites: tuple[Site, ...]) -> tuple[Site, str]:
    """Return the place nearest to the capture, as the site it is or by itself, and the words for it."""
    for known in sites:
        if (known.longitude, known.latitude) == (close.longitude, close.latitude):
            return known, f"The nearest place that meets every clause is site {known.rank}."
    return replace(close, rank=0), _given_up(sites[0], close)


def _given_up(first: Site, nearest: Site) -> str:
    """Return what the nearest place has less of than the first site, in words."""
    better = {c.name: c.score.low for c in first.criteria}
    lost = [(better.get(c.name, 0.0) - c.score.low, c) for c in nearest.criteria]
    less = [(much, c) for much, c in lost if much > 0.02]
    said = ", ".join(
        f"{c.name.replace('_', ' ')} {c.score.low:.2f} instead of {better[c.name]:.2f}"
        for _, c in sorted(less, key=lambda w: -w[0])[:3]
    )
    farther = first.distance_m - nearest.distance_m
    return (
        f"The nearest place that meets every clause is {nearest.distance_m:.0f} m from the capture, "
        f"{farther:.0f} m nearer than site 1. It gives up: {said or 'nothing that is measured'}."
    )


def _unmapped_ha(screen: Screen, cells: npt.NDArray[np.int64]) -> float:
    if not screen.scene.region.has("habitat"):
        return 0.0
    unmapped = np.count_nonzero(screen.habitat_labels.ravel()[cells] < 0)
    return float(unmapped) * screen.window.cell_m**2 / 10_000


def _rasters(screen: Screen, ruled: Ruling, cells: Field) -> Rasters:
    shape = screen.window.shape

    def spread(values: Any, at: npt.NDArray[np.int64], empty: Any) -> Any:
        out = np.full(shape, empty)
        out.ravel()[at] = values
        return out

    unknown = np.zeros(shape, dtype=bool)
    inside = spread(True, ruled.cells, False)
    if screen.scene.region.has("habitat"):
        unknown = inside & ((screen.habitat_labels < 0) | ~screen.inside_extent("habitat"))
    return Rasters(
        window=screen.window,
        plane=screen.scene.plane,
        inside=inside,
        ruled_out={k: spread(s, ruled.cells, np.uint8(0)) for k, s in ruled.states.items()},
        score=spread(cells.score, cells.flat, np.float32(np.nan)),
        unknown=unknown,
    )


def _assembled(ready: Prepared, unused: tuple[str, ...] = (), **found: Any) -> Plan:
    """Return the plan with what was found; the rest is empty."""
    nothing: dict[str, Any] = dict.fromkeys(
        ("sites", "removed", "obstacles", "stop", "way_on", "missing_layers"), ()
    )
    nothing |= {"circle_m": 0.0, "circle_label": "", "nearest": None, "nearest_words": ""}
    nothing |= {"unmapped_ha": 0.0, "counts": {}, "rasters": None}
    setting, scene = ready.setting, ready.scene
    return Plan(
        capture=_capture_facts(ready.capture),
        permits=ready.permits,
        region=setting.region.file.name,
        release_at=setting.start.astimezone(setting.permits[0].zone).isoformat(timespec="seconds"),
        now=setting.now.isoformat(),
        animal_clauses=ready.animal,
        warnings=warnings(ready, unused),
        sources=sources(setting.region),
        parameters={
            "cell_m": scene.region.cell_m,
            "separation_m": setting.separation_m,
            "site_radius_m": setting.site_radius_m,
            "top": setting.top,
            "weights": setting.weights.model_dump(),
            "home_range_ha": home_range(scene, setting.weights).hectares,
            "release_assumed": setting.release_at is None,
            "facts": [asdict(one) for one in facts_of(scene)],
        },
        inputs=dict(setting.inputs),
        clock=clock_facts(
            ready.timetable,
            setting,
            lon=ready.capture.position.longitude,
            lat=ready.capture.position.latitude,
        ),
        **(nothing | found),
    )


def _capture_facts(capture: Capture) -> CaptureFacts:
    position = capture.position
    return CaptureFacts(
        id=capture.id,
        time=capture.time.isoformat(),
        longitude=position.longitude,
        latitude=position.latitude,
        radius_m=position.radius_m,
        radius_assumed=position.assumed,
        scientific_name=capture.animal.scientific_name,
        vernacular_name=capture.vernacular_name,
        danger=str(capture.animal.danger),
        others=capture.animal.names[1:],
        answers=dict(capture.answers),
        trap_checked="" if capture.trap_checked is None else capture.trap_checked.isoformat(),
    )
