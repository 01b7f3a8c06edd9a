"""A plan that can be passed on: no positions, bearings, names or ids, distances to 100 m."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Mapping
from datetime import datetime
from typing import TypeVar

from tussock.interval import Interval
from tussock.planning.record import (
    HOUSE_RULE,
    CaptureFacts,
    ClauseResult,
    ClockFacts,
    Obstacle,
    PermitFacts,
    Plan,
    Removed,
    Site,
)

SHARE_WORDS = (
    "This copy can be passed on. Left out: the map, the place and time of capture, the places and bearings "
    "of the sites, ids, parcels, consents, names of persons, input files. Shown instead: distances to the "
    "nearest 100 m, habitat, and every clause with its verdict."
)
LEFT_OUT = "[left out]"
STEP_M = 100.0
MINUTE, COARSE_MINUTES = 1, 5
_COORDINATE = re.compile(r"[-+\u2212]?\d{1,3}\.\d{3,}°?")
_T = TypeVar("_T", ClauseResult, Removed, Obstacle)


def shareable(plan: Plan) -> Plan:
    """Return the plan without anything that leads to the capture, a site or a person.

    Positions and bearings become nan, distances are rounded to 100 m, permits are called "permit 1", …;
    ids, holders and coordinates are struck from every sentence. Sentences of the user's own are searched for
    the ids and names the plan knows, not for any other.
    """
    scrub = _Scrub(plan)
    near = _site(plan.nearest, scrub) if plan.nearest else None
    return dataclasses.replace(
        plan,
        capture=_capture(plan.capture),
        permits=tuple(_permit(p, scrub) for p in plan.permits),
        release_at="",
        now="",
        sites=tuple(_site(s, scrub) for s in plan.sites),
        nearest=near,
        nearest_words=_METRES.sub(_to_hundreds, scrub(plan.nearest_words)),
        removed=tuple(_coarse(_sourced(r, scrub)) for r in plan.removed),
        obstacles=tuple(
            dataclasses.replace(_sourced(o, scrub), longitude=None, latitude=None) for o in plan.obstacles
        ),
        # what is said of their consents names ids
        needs_consent=tuple(dataclasses.replace(_site(s, scrub), notes=()) for s in plan.needs_consent),
        clock=_clock(plan.clock),
        animal_clauses=tuple(_clause(c, scrub) for c in plan.animal_clauses),
        stop=tuple(map(scrub, plan.stop)),
        way_on=tuple(map(scrub, plan.way_on)),
        warnings=tuple(map(scrub, plan.warnings)),
        parameters={},
        inputs={},
        rasters=None,
    )


_METRES = re.compile(r"(\d+) m\b")


def _to_hundreds(match: re.Match[str]) -> str:
    return f"{round(int(match[1]), -2)} m"


class _Scrub:
    """Strikes known ids, names and coordinates from a text."""

    def __init__(self, plan: Plan) -> None:
        self.permits: Mapping[str, str] = {p.id: f"permit {k}" for k, p in enumerate(plan.permits, start=1)}
        private = [
            plan.capture.id,
            *(p.holder for p in plan.permits),
            *(p.file for p in plan.permits),
            plan.capture.time,
        ]
        self.private = sorted({t for t in private if t}, key=len, reverse=True)

    def __call__(self, text: str) -> str:
        for secret in self.private:
            text = text.replace(secret, LEFT_OUT)
        for name, alias in self.permits.items():
            text = text.replace(name, alias) if name else text
        return _COORDINATE.sub(LEFT_OUT, text)


def _capture(capture: CaptureFacts) -> CaptureFacts:
    return dataclasses.replace(
        capture, id="", time="", trap_checked="", longitude=math.nan, latitude=math.nan
    )


def _permit(permit: PermitFacts, scrub: _Scrub) -> PermitFacts:
    alias = scrub.permits[permit.id]
    return dataclasses.replace(permit, id=alias, holder="", file="")


def _clock(facts: ClockFacts | None) -> ClockFacts | None:
    """Return the sun to the minute, and no hour of a clause.

    To the second sunrise and sunset tell a place to a few hundred metres; the end of a holding tells its
    beginning, which is the capture.
    """
    if facts is None:
        return None
    rise, fall = (_minutes(t, MINUTE) for t in (facts.sunrise, facts.sunset))
    return dataclasses.replace(facts, sunrise=rise, sunset=fall, lines=())


def _minutes(text: str, step: int) -> str:
    """Return an instant rounded down to so many minutes; what is none as it is."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return text
    return at.replace(minute=at.minute // step * step, second=0, microsecond=0).isoformat()


def _site(site: Site, scrub: _Scrub) -> Site:
    return dataclasses.replace(
        site,
        longitude=math.nan,
        latitude=math.nan,
        # a score of six decimals gives the distance behind it away to the millimetre
        score=round(site.score, 1),
        score_high=round(site.score_high, 1),
        slope_deg=None if site.slope_deg is None else 5.0 * round(site.slope_deg / 5),
        patch_ha=None if site.patch_ha is None else 10.0 * round(site.patch_ha / 10),
        cover=None if site.cover is None else round(site.cover, 1),
        distance_m=_rounded(site.distance_m),
        bearing_deg=math.nan,
        dwelling_m=_rounded_or_none(site.dwelling_m),
        peopled_m=_rounded_or_none(site.peopled_m),
        road_m=_rounded_or_none(site.road_m),
        cover_bearing_deg=None,
        stop_longitude=None,
        stop_latitude=None,
        stop_walk_m=_rounded_or_none(site.stop_walk_m),
        clauses=tuple(_clause(c, scrub) for c in site.clauses),
        criteria=(),
        # by travel and leave_by one could reckon back to the place
        walk_min=_whole(site.walk_min),
        drive_min=_whole(site.drive_min),
        leave_by=_minutes(site.leave_by, COARSE_MINUTES),
        deadline=_minutes(site.deadline, COARSE_MINUTES),
        lacking=tuple(("", tenure) for tenure in sorted({t for _, t in site.lacking})),
        consents=(),
        todo=tuple(map(scrub, site.todo)),
        notes=tuple(map(scrub, site.notes)),
    )


def _whole(value: float | None) -> float | None:
    return None if value is None else float(math.ceil(value))


def _rounded(value: float) -> float:
    return STEP_M * math.floor(value / STEP_M + 0.5) if math.isfinite(value) else value


def _rounded_or_none(value: float | None) -> float | None:
    return None if value is None else _rounded(value)


def _outward(value: Interval | None, unit: str) -> Interval | None:
    """Return an interval with its ends moved out to whole hundreds of metres, or tens of hectares."""
    if value is None:
        return None
    step = {"m": STEP_M, "ha": 10.0}.get(unit, 1.0)
    low = step * math.floor(value.low / step) if math.isfinite(value.low) else value.low
    high = step * math.ceil(value.high / step) if math.isfinite(value.high) else value.high
    return Interval(low, high)


def _clause(clause: ClauseResult, scrub: _Scrub) -> ClauseResult:
    return dataclasses.replace(
        _sourced(clause, scrub),
        value=_outward(clause.value, clause.unit),
        margin=None if clause.unit in ("m", "ha") else clause.margin,
        reason=None if clause.reason is None else scrub(clause.reason),
        words=scrub(clause.words),
    )


def _coarse(part: Removed) -> Removed:
    """Return areas moved out to tens of hectares."""
    low, only_low = (10.0 * math.floor(v / 10) for v in (part.low_ha, part.only_low_ha))
    high, only_high = (10.0 * math.ceil(v / 10) for v in (part.high_ha, part.only_high_ha))
    return dataclasses.replace(part, low_ha=low, high_ha=high, only_low_ha=only_low, only_high_ha=only_high)


def _sourced(item: _T, scrub: _Scrub) -> _T:
    source = item.source if item.source == HOUSE_RULE else scrub.permits.get(item.source, scrub(item.source))
    return dataclasses.replace(item, source=source, text=scrub(item.text))
