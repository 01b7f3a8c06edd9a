"""What a plan must say aloud: what is assumed, unknown, old or left out."""

from __future__ import annotations

from collections.abc import Iterator

from tussock.ground.region import Region
from tussock.measure.clauses import HOUSE_RULE, Standing
from tussock.permit.animal_kinds import SpeciesListed
from tussock.permit.place_kinds import MaxReleasesNear
from tussock.permit.record_kinds import ConsentRecorded
from tussock.permit.taxon import any_covers
from tussock.permit.time_kinds import ReleaseWindow
from tussock.planning.prepared import Prepared
from tussock.planning.setting import DETOUR, DRIVE_KMH, WALK_KMH, WALK_M
from tussock.position import WIDE_RADIUS_M, Position
from tussock.species.intake import listed
from tussock.sun import HORIZON_DEG, altitude_deg

OLD_GROUND_DAYS = 365 * 3
"""Ground data older than this is called old [days] (judgement)."""


def warnings(ready: Prepared, left_out: tuple[str, ...]) -> tuple[str, ...]:
    """Return the warnings of a plan, each once.

    Parameters
    ----------
    left_out
        Criteria that could not be used.
    """
    said = [*ready.admission.notes, *_position(ready.capture.position), *_animal(ready)]
    said += [
        f"House rule '{c.condition.id}' is not checked: {c.why}."
        for c in ready.clauses
        if c.source == HOUSE_RULE and c.standing is Standing.LAYER_MISSING
    ]
    said += [f"Criterion {n.replace('_', ' ')} is left out: {_unused(n, ready)}." for n in left_out]
    said += [*_dark(ready), *_ground(ready), *_classes(ready), *_book(ready), *_register(ready)]
    return tuple(dict.fromkeys(said))


def _position(position: Position) -> Iterator[str]:
    if position.assumed:
        yield f"The capture's radius was not recorded: {position.radius_m:.0f} m is assumed."
    if position.note:
        yield f"Capture: {position.note}."
    if position.radius_m >= WIDE_RADIUS_M:
        yield f"The capture's radius is {position.radius_m:.0f} m: many clauses can only be uncertain."


def _animal(ready: Prepared) -> Iterator[str]:
    if ready.setting.release_at is None:
        yield (
            f"Travel is assumed: {DETOUR:g} times the straight line at {DRIVE_KMH:g} km/h and a walk of "
            f"{WALK_M:g} m at {WALK_KMH:g} km/h. Give --release-at when you know the time of release."
        )
    for name in ready.untaken:
        yield f"Permit {name} had no version in force at the capture: the taking was not under it."
    yield from _covered(ready)
    homeless = [
        p.scientific_name for p in ready.capture.animal.profiles if p.known and p.home_range_ha is None
    ]
    if homeless:
        yield f"No home range is known for {listed(homeless)}: a stand-in is used for the scores."


def _covered(ready: Prepared) -> Iterator[str]:
    """Yield that a permit's list covers a name without a profile: then it is hardly a slip of the pen."""
    strangers = [p.scientific_name for p in ready.capture.animal.profiles if not p.known]
    for clause in ready.clauses:
        condition = clause.condition
        if not isinstance(condition, SpeciesListed) or clause.standing is not Standing.READY:
            continue
        names = [f"'{n}'" for n in strangers if any_covers(condition.species or (), n)]
        if names:
            have = "has" if len(names) == 1 else "have"
            yield f"{clause.source}, {condition.id}, lists {listed(names)}, which {have} no profile here."


def _unused(name: str, ready: Prepared) -> str:
    """Return why a criterion could not be used."""
    if ready.scene.region.has("habitat" if name == "patch" else name):
        return f"it does not matter to {listed([p.scientific_name for p in ready.capture.animal.profiles])}"
    return "the region has no such layer"


def _dark(ready: Prepared) -> Iterator[str]:
    """Yield that the animal would be let go in the dark, where no clause speaks of it."""
    if any(isinstance(c.condition, ReleaseWindow) and c.condition.by_sun for c in ready.clauses):
        return
    at, first = ready.capture.position, ready.timetable.span[0]
    if altitude_deg(at.longitude, at.latitude, first) < HORIZON_DEG:
        yield (
            "The planned release is in the dark, and no clause asks for daylight or the animal's active "
            "hours: think of what the animal needs, and of your own way back."
        )


def _register(ready: Prepared) -> Iterator[str]:
    asked = any(isinstance(c.condition, ConsentRecorded) for c in ready.clauses)
    if asked and not ready.setting.consents:
        yield "A clause asks for consent and no consent register is given: name it with --consents."
    counting = [c.condition.id for c in ready.clauses if isinstance(c.condition, MaxReleasesNear)]
    if counting and ready.setting.earlier is None:
        yield (
            f"Clause {', '.join(dict.fromkeys(counting))} counts earlier releases and none are given: a full "
            "place looks free, and you confirm it. Name them with --releases or --logbook."
        )


def _ground(ready: Prepared) -> Iterator[str]:
    layers = ready.scene.region.file.layers
    day = ready.scene.case.day
    old = sorted(
        {f"{n} ({s.as_of})" for n, s in layers.items() if s.as_of and (day - s.as_of).days > OLD_GROUND_DAYS}
    )
    if old:
        yield f"Old ground data, look for what has changed since: {', '.join(old)}."
    yield from (f"Ground data: {note}." for layer in ready.scene.layers_read for note in layer.notes)
    unchecked = [n for n, s in layers.items() if s.sources and s.complete == "not checked"]
    if unchecked:
        yield f"Completeness is not checked for: {', '.join(unchecked)}."


def _classes(ready: Prepared) -> Iterator[str]:
    """Yield classes that match nothing, misspelt perhaps; habitat and roads have fixed lists."""
    for clause in ready.clauses:
        for use in clause.condition.layers() if clause.standing is Standing.READY else ():
            absent = set(use.classes or ()) - set(ready.scene.features(use.layer).classes)
            if absent and use.layer not in ("habitat", "roads"):
                yield (
                    f"Clause {clause.condition.id}: no feature of layer {use.layer} has class "
                    f"{', '.join(sorted(absent))}."
                )


def _book(ready: Prepared) -> Iterator[str]:
    """Yield what is odd about earlier releases: each can make a full place look free."""
    earlier, plane = ready.setting.counted, ready.scene.plane
    late = sum(r.instant > ready.scene.case.last for r in earlier)
    if late:
        yield f"{late} releases in the book lie after the planned release and do not count."
    west, south, east, north = ready.scene.region.bounds
    where = [tuple(float(v) for v in plane.project(r.longitude, r.latitude)) for r in earlier]
    away = sum(not (west <= x <= east and south <= y <= north) for x, y in where)
    if away:
        yield f"{away} releases in the book lie outside the region: check that their coordinates are right."


def sources(region: Region) -> tuple[str, ...]:
    """Return the attribution lines of the ground data."""
    return tuple(dict.fromkeys(s.attribution for s in region.file.layers.values() if s.attribution))
