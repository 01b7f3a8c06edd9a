"""One offered site explained: every measure, clause and criterion, and what is round it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from zoneinfo import ZoneInfo

import numpy as np
import shapely

from tussock.geodesy import bearing_deg, distance_m
from tussock.interval import Verdict, worst
from tussock.measure.clauses import Clause
from tussock.measure.consent import lacking_at
from tussock.measure.covering import covering_at, may_be_used_up
from tussock.measure.exact import habitat_class
from tussock.measure.judging import ClauseResult, Measures, judge
from tussock.measure.scene import Scene, places
from tussock.measure.timetable import Timetable
from tussock.names import UNMAPPED
from tussock.permit.condition import Decided
from tussock.permit.demands import DistanceFromCapture, DistanceTo, PatchArea
from tussock.permit.record_kinds import ConsentRecorded
from tussock.planning.clockwork import SiteTimes, site_times
from tussock.planning.criteria import Criterion
from tussock.planning.record import Site
from tussock.planning.scoring import Scored, explained_criteria, score_exactly

STOPPING_CLASSES = frozenset({"primary", "secondary", "tertiary", "residential", "unclassified"})
"""Public roads where one may stop; never a motorway or trunk road (common practice, no source)."""
COVER_SEARCH_M = 60.0
"""How far cover is looked for [m] (judgement)."""
COVERED = 0.5
"""Ground cover from which on a place counts as cover (judgement)."""
AWAY_DEG = 60.0
"""The container never opens within this angle of the bearing to the nearest dwelling (judgement)."""


def explained(
    scene: Scene,
    clauses: tuple[Clause, ...],
    criteria: tuple[Criterion, ...],
    found: Sequence[tuple[float, float]],
    *,
    radius_m: float,
    timetable: Timetable,
    zone: ZoneInfo,
) -> tuple[Site, ...]:
    """Return the sites at candidates' degrees (longitude, latitude), judged exactly, ranked from 1."""
    if not found:
        return ()
    lon, lat = np.array(found).T
    at = places(lon, lat, radius_m=radius_m, plane=scene.plane)
    distance = Measures(scene, at).of(DistanceFromCapture()).value
    measures = Measures(scene, at, windows=timetable.windows(at.lon, at.lat, distance))
    scored = score_exactly(criteria, measures)
    times = [_times(timetable, measures, float(distance[i]), zone, i) for i in range(len(found))]
    return tuple(_site(measures, clauses, scored, i, times=times[i]) for i in range(len(found)))


def _times(
    timetable: Timetable, measures: Measures, distance_m: float, zone: ZoneInfo, i: int
) -> SiteTimes | None:
    window, at = measures.window(i), measures.at
    if window is None:
        return None
    place = {"lon": float(at.lon[i]), "lat": float(at.lat[i])}
    return site_times(timetable, window, **place, distance_m=distance_m, zone=zone)


def _site(
    measures: Measures,
    clauses: tuple[Clause, ...],
    scored: Scored,
    i: int,
    *,
    times: SiteTimes | None,
) -> Site:
    scene, at = measures.scene, measures.at
    lon, lat = float(at.lon[i]), float(at.lat[i])
    results = tuple(judge(c, measures, i) for c in clauses)
    capture = scene.case.capture
    stop = _stopping_place(scene, lon, lat)
    return Site(
        rank=i + 1,
        longitude=lon,
        latitude=lat,
        radius_m=at.radius_m,
        score=float(scored.low[i]),
        score_high=float(scored.high[i]),
        distance_m=float(measures.of(DistanceFromCapture()).value[i]),
        bearing_deg=bearing_deg(capture.longitude, capture.latitude, lon, lat),
        dwelling_m=_nominal(measures, "dwellings", i),
        peopled_m=_nominal(measures, "peopled_places", i),
        road_m=_nominal(measures, "roads", i),
        habitat=str(habitat_class(scene, at)[i]) if scene.region.has("habitat") else UNMAPPED,
        cover=_sampled(scene, "cover", lon, lat),
        slope_deg=_slope(scene, lon, lat),
        patch_ha=float(measures.of(PatchArea()).value[i]) if scene.region.has("habitat") else None,
        cover_bearing_deg=_cover_bearing(scene, lon, lat),
        stop_longitude=stop[0] if stop else None,
        stop_latitude=stop[1] if stop else None,
        stop_walk_m=stop[2] if stop else None,
        verdict=worst([r.verdict for r in results if r.mandatory and r.verdict is not None]),
        clauses=results,
        criteria=explained_criteria(scored, i),
        scored_for=scored.worst(i).name if len(scored.species) > 1 else "",
        todo=todo(clauses, results),
        lacking=_lacking(clauses, measures, i),
        consents=_covering(clauses, results, measures, i),
        walk_min=times.walk_min if times else None,
        drive_min=times.drive_min if times else None,
        release_from=times.start if times else "",
        release_to=times.end if times else "",
        deadline=times.deadline if times else "",
        deadline_of=times.deadline_of if times else "",
        leave_by=times.leave_by if times else "",
    )


def todo(clauses: tuple[Clause, ...], results: tuple[ClauseResult, ...]) -> tuple[str, ...]:
    """Return what a person must see to: mandatory clauses of a permit that the calculation does not judge."""
    return tuple(
        f"{r.id}: {r.text or r.words} ({r.reason})"
        for c, r in zip(clauses, results, strict=True)
        if c.condition.decided is not Decided.NONE
        and r.mandatory
        and r.verdict is None
        and r.applies
        and not r.house
    )


def _lacking(clauses: tuple[Clause, ...], measures: Measures, i: int) -> tuple[tuple[str, str], ...]:
    """Return the parcels without a consent that a clause asks for there, as (parcel id, tenure)."""
    found = {
        parcel
        for c in clauses
        if isinstance(c.condition, ConsentRecorded) and c.decides_place
        for parcel in lacking_at(c.condition, measures.scene, measures.at, i)
    }
    return tuple(sorted(found))


def _covering(
    clauses: tuple[Clause, ...], results: tuple[ClauseResult, ...], measures: Measures, i: int
) -> tuple[tuple[str, str], ...]:
    """Return the consents that cover a place: where a clause is met by them, or would be if some are left.

    Those for a number of animals that nobody counted are named too: the next plan of a table counts them.
    """
    scene, at = measures.scene, measures.at
    found = {
        consent
        for c, r in zip(clauses, results, strict=True)
        if isinstance(c.condition, ConsentRecorded)
        and (r.verdict is Verdict.MET or (r.verdict is None and may_be_used_up(c.condition, scene, at, i)))
        for consent in covering_at(c.condition, scene, at, i)
    }
    return tuple(sorted(found))


def _nominal(measures: Measures, layer: str, i: int) -> float | None:
    """Return the distance to the nearest mapped feature, centre to edge [m]; ``None`` if there is none."""
    if not measures.scene.region.has(layer):
        return None
    value = float(measures.of(DistanceTo(layer)).value[i])
    return value if math.isfinite(value) else None


def _sampled(scene: Scene, layer: str, lon: float, lat: float) -> float | None:
    if not scene.region.has(layer):
        return None
    value = float(scene.region.raster(layer).sample(np.array([lon]), np.array([lat]))[0])
    return None if math.isnan(value) else value


def _slope(scene: Scene, lon: float, lat: float) -> float | None:
    if not scene.region.has("elevation"):
        return None
    slope, _ = scene.region.raster("elevation").slope_aspect(lon, lat)
    return None if math.isnan(slope) else slope


def _stopping_place(scene: Scene, lon: float, lat: float) -> tuple[float, float, float] | None:
    """Return the nearest point of a public road where one may stop, and the straight way from it [m]."""
    if not scene.region.has("roads"):
        return None
    found = scene.features("roads").surely_of(STOPPING_CLASSES)
    if not len(found):
        return None
    at = places(lon, lat, radius_m=0.0, plane=scene.plane)
    _, nearest = found.tree.query_nearest(at.points, all_matches=False)
    end = shapely.get_coordinates(shapely.shortest_line(at.points, found.geometries[nearest]))[1]
    there_lon, there_lat = (float(v) for v in scene.plane.unproject(end[0], end[1]))
    return round(there_lon, 7), round(there_lat, 7), float(distance_m(lon, lat, there_lon, there_lat))


def _cover_bearing(scene: Scene, lon: float, lat: float) -> float | None:
    """Return the bearing from the site to the nearest mapped cover, away from dwellings.

    Cover is looked for on rings of places every 15° and 5 m; of equal rings the most covered wins.
    ``None`` without a cover layer, or where there is none within COVER_SEARCH_M.
    """
    if not scene.region.has("cover"):
        return None
    at = places(lon, lat, radius_m=0.0, plane=scene.plane)
    home = _bearing_to_dwelling(scene, lon, lat)
    for ring in np.arange(5.0, COVER_SEARCH_M + 1, 5.0):
        bearings = np.arange(0.0, 360.0, 15.0)
        angle = np.radians(bearings)
        there = scene.plane.unproject(at.x[0] + ring * np.sin(angle), at.y[0] + ring * np.cos(angle))
        cover = scene.region.raster("cover").sample(*there)
        away = (
            np.ones(len(bearings), bool)
            if home is None
            else np.abs((bearings - home + 180) % 360 - 180) > AWAY_DEG
        )
        covered = np.where(away & ~np.isnan(cover), cover, -1.0)
        if covered.max() >= COVERED:
            return float(bearings[int(np.argmax(covered))])
    return None


def _bearing_to_dwelling(scene: Scene, lon: float, lat: float) -> float | None:
    if not scene.region.has("dwellings") or not len(scene.features("dwellings")):
        return None
    found = scene.features("dwellings")
    at = places(lon, lat, radius_m=0.0, plane=scene.plane)
    _, nearest = found.tree.query_nearest(at.points, all_matches=False)
    end = shapely.get_coordinates(shapely.shortest_line(at.points, found.geometries[nearest]))[1]
    there = scene.plane.unproject(end[0], end[1])
    return bearing_deg(lon, lat, float(there[0]), float(there[1]))
