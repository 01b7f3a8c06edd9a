"""The files beside the page: sites as GeoJSON and GPX, and the decision record as JSON."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from tussock.interval import Interval
from tussock.maps.cautions import CAUTIONS
from tussock.maps.share import SHARE_WORDS, shareable
from tussock.maps.words import compass, metres
from tussock.planning.record import ClauseResult, Plan, Site

EDGE = "edge of data"
RECORD_FORMAT = "tussock plan 1"
SITES_FORMAT = "tussock sites 1"
GPX_NAMESPACE = "http://www.topografix.com/GPX/1/1"
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")


def plan_geojson(plan: Plan, *, share: bool = False) -> str:
    """Return the offered sites as a GeoJSON FeatureCollection of Points, longitude first.

    In a copy that is passed on the geometries are null. What is not available is null, never 0.
    A criterion's ``value`` is its suitability at the low end, the one the score is made of. Source: RFC 7946.
    """
    shown = shareable(plan) if share else plan
    features = [_feature(s) for s in shown.sites]
    head: dict[str, Any] = {"type": "FeatureCollection", "tussock": SITES_FORMAT, "cautions": list(CAUTIONS)}
    if share:
        head["dataGeneralizations"] = SHARE_WORDS
    return _dumps({**head, "features": features})


def _feature(site: Site) -> dict[str, Any]:
    located = math.isfinite(site.longitude) and math.isfinite(site.latitude)
    point = (
        {"type": "Point", "coordinates": [round(site.longitude, 7), round(site.latitude, 7)]}
        if located
        else None
    )
    return {"type": "Feature", "geometry": point, "properties": site_properties(site)}


PLAIN = (
    "rank",
    "score",
    "score_high",
    "distance_m",
    "bearing_deg",
    "dwelling_m",
    "peopled_m",
    "road_m",
    "habitat",
    "cover",
    "slope_deg",
    "patch_ha",
    "cover_bearing_deg",
    "walk_min",
    "drive_min",
    "release_from",
    "release_to",
    "leave_by",
)
"""Properties of a site that are one number or word, by the names of the output contract."""
HOURS = PLAIN[-3:]


def site_properties(site: Site) -> dict[str, Any]:
    """Return a site's properties by the names of the output contract; ``*_m`` are between centres."""
    made = {name: _number(getattr(site, name)) for name in PLAIN}
    made |= {name: made[name] or None for name in HOURS}  # no hours are null, not an empty text
    return {
        **made,
        "verdict": site.verdict.value,
        "conditions": [condition_properties(c) for c in site.clauses],
        "criteria": [
            {"name": c.name, "value": _number(c.score.low), "weight": c.weight, "share": _number(c.share)}
            for c in site.criteria
        ],
        "todo": list(site.todo),
    }


def condition_properties(clause: ClauseResult) -> dict[str, Any]:
    """Return a clause's result by the names of the output contract."""
    value = clause.value
    return {
        "id": clause.id,
        "kind": clause.kind,
        "verdict": None if clause.verdict is None else clause.verdict.value,
        "value_low": None if value is None else _number(value.low),
        "value_high": None if value is None else _number(value.high),
        "limit": _number(clause.limit),
        "margin": _number(clause.margin),
        "unit": clause.unit,
        "reason": _reason(clause),
    }


def _reason(clause: ClauseResult) -> str | None:
    """Return the reason; an end at infinity without one is the data's edge."""
    endless = clause.value is not None and (math.isinf(clause.value.low) or math.isinf(clause.value.high))
    return clause.reason or (EDGE if endless else None)


def _number(value: Any) -> Any:
    """Return a number JSON has a word for: six decimals at most, nan and infinities null."""
    if isinstance(value, float):
        return round(value, 6) + 0.0 if math.isfinite(value) else None
    return value


def plan_json(plan: Plan, *, share: bool = False) -> str:
    """Return the decision record: everything in the plan but its rasters, keys sorted."""
    from tussock import __version__

    shown = shareable(plan) if share else plan
    record = {f.name: plain(getattr(shown, f.name)) for f in dataclasses.fields(Plan) if f.name != "rasters"}
    record |= {"format": RECORD_FORMAT, "software": {"name": "tussock", "version": __version__}}
    record |= {"exit_code": plan.exit_code, "cautions": list(CAUTIONS)}
    if not plan.sites:
        record["authority_answer"] = {"who": None, "what": None, "when": None}
    if share:
        record["dataGeneralizations"] = SHARE_WORDS
    return json.dumps(record, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"


def plain(value: Any) -> Any:
    """Return a value as JSON holds it: dataclasses as objects, infinities and nan as null."""
    if isinstance(value, Interval):
        return {"low": plain(value.low), "high": plain(value.high), "reasons": plain(value.reasons)}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        items = [plain(v) for v in value]
        return sorted(items, key=str) if isinstance(value, (set, frozenset)) else items
    if hasattr(value, "item") and hasattr(value, "dtype"):  # a numpy number
        return plain(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, (bool, int)):
        return value
    return str(value)


def _dumps(data: Any) -> str:
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def plan_gpx(plan: Plan, *, share: bool = False) -> str:
    """Return capture and sites as waypoints of GPX 1.1; none in a copy that is passed on."""
    shown = shareable(plan) if share else plan
    words = " ".join([SHARE_WORDS, *CAUTIONS] if share else CAUTIONS)
    points = (
        []
        if share
        else [_capture_point(shown), *(_site_point(s, total=len(shown.sites)) for s in shown.sites)]
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<gpx version="1.1" creator="Tussock" xmlns="{GPX_NAMESPACE}">\n'
        f" <metadata>\n  <name>{_text(_gpx_name(shown, share=share))}</name>\n  <desc>{_text(words)}</desc>\n"
        f"{_gpx_time(shown.now)} </metadata>\n{''.join(points)}</gpx>\n"
    )


def _gpx_name(plan: Plan, *, share: bool) -> str:
    name = plan.capture.vernacular_name or plan.capture.scientific_name
    return f"Release sites for {name}" + (f", {plan.capture.id}" if plan.capture.id and not share else "")


def _gpx_time(now: str) -> str:
    """Return the metadata's time in UTC; nothing when the plan's clock cannot be read."""
    try:
        instant = datetime.fromisoformat(now)
    except ValueError:
        return ""
    if instant.tzinfo is None:
        return ""
    return f"  <time>{instant.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}</time>\n"


def _capture_point(plan: Plan) -> str:
    c = plan.capture
    desc = f"Place of capture, within {metres(c.radius_m)}{' (assumed)' if c.radius_assumed else ''}."
    return _waypoint(c.longitude, c.latitude, f"Capture {c.id}".strip(), desc)


def _site_point(site: Site, *, total: int) -> str:
    desc = (
        f"{metres(site.distance_m, spread=site.radius_m)} {compass(site.bearing_deg)} of the capture, "
        f"{site.habitat.replace('_', ' ')}. Meets {site.checked} checked clauses by calculation. "
        "Look before you release."
    )
    return _waypoint(site.longitude, site.latitude, f"Site {site.rank} of {total}", desc)


def _waypoint(longitude: float, latitude: float, name: str, desc: str) -> str:
    at = f"lat={quoteattr(f'{latitude:.7f}')} lon={quoteattr(f'{longitude:.7f}')}"
    return f" <wpt {at}>\n  <name>{_text(name)}</name>\n  <desc>{_text(desc)}</desc>\n </wpt>\n"


def _text(text: str) -> str:
    """Return text that XML 1.0 allows."""
    return escape(_CONTROL.sub("", text))
