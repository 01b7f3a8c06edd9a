"""Hotspots as JSON: everything that is said of the calls, for programs. What is not known is null."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

import numpy as np

from tussock.hotspots.bands import Band, EdgeEffect
from tussock.hotspots.circular import CircularMean
from tussock.hotspots.counts import Estimate
from tussock.hotspots.found import Clusters, Hotspots, Rates, RepeatsTold, SpaceTime, When
from tussock.hotspots.odds import Odds
from tussock.hotspots.repeats import Repeats
from tussock.hotspots.when import ALL, Calendar
from tussock.interval import Interval
from tussock.maps.hotspots_edges import claim
from tussock.maps.hotspots_files import cells_geojson
from tussock.maps.hotspots_places import cluster_rows, number
from tussock.maps.hotspots_words import CALLS_NOT_SNAKES, edge_name, edge_verdict, odds_words, time_words
from tussock.measure.patches import SQUARE_METRES_PER_HA

Made = dict[str, Any]
FORMAT = "tussock hotspots 1"


def as_json(found: Hotspots) -> str:
    """Return a result as JSON; parts that are missing are null, and ``missing`` says why."""
    made = {
        "format": FORMAT,
        "software": found.software,
        "note": CALLS_NOT_SNAKES,
        "claim": claim(found),
        "warning": found.counted.warning or None,
        "headline": None if found.headline is None else edge_name(found.headline),
        **_asked(found),
        "inputs": dict(found.inputs),
        "counted": {
            **asdict(found.counted),
            "left_out": found.counted.left_out,
            "tested": found.counted.tested,
            "calls_joined_by_radius": found.incidents.by_radius,
            "calls_too_rough_to_join": found.incidents.rough,
        },
        "homes": {
            **_span(found.exposure.total),
            "outside": _span(found.exposure.outside),
            "others_given": found.exposure.others_given,
        },
        "district_rate": None
        if found.district_rate is None
        else {
            **_estimate(found.district_rate),
            "unit": f"incidents per 1,000 homes {time_words(found.asked)}",
        },
        "by_species": _by_name(found.by_species, "species", "incidents"),
        "edges": [_edge(e) for e in found.edges],
        "clusters": None if found.clusters is None else _clusters(found.clusters, found),
        "space_time": None if found.space_time is None else _space_time(found.space_time, found),
        "when": None if found.when is None else _when(found.when),
        "rates": None if found.rates is None else _rates(found.rates),
        "cells": json.loads(cells_geojson(found))["features"],
        "surface": _surface(found),
        "repeats": None if found.repeats is None else _repeats(found.repeats),
        "odds": None if found.district_odds is None else _odds(found.district_odds),
        "standby": _standby(found),
        "reruns": [asdict(r) for r in found.reruns],
        "notes": list(found.notes),
        "missing": dict(found.missing),
    }
    return json.dumps(made, ensure_ascii=False, allow_nan=False, indent=1)


def _asked(found: Hotspots) -> Made:
    asked, whole = found.asked, found.asked.whole_years
    return {
        "region": found.region,
        "observed": [str(asked.first), str(asked.last)],
        "days": asked.days,
        "yearly_figures_of": None if whole is None else [str(whole.first), str(whole.last)],
        "zone": str(asked.zone),
        "base": None if asked.base is None else _place(*asked.base),
        "seed": asked.seed,
        "replicates": asked.replicates,
    }


def _edge(effect: EdgeEffect) -> Made:
    low, high = effect.ratio.ratio
    return {
        "edge": edge_name(effect),
        "layer": effect.edge.layer,
        "tested": effect.tested,
        "found": edge_verdict(effect),
        "bands": [_band(b) for b in effect.bands],
        "ratio_low": number(low),
        "ratio_high": number(high),
        "interval_low": number(effect.ratio.low),
        "interval_high": number(effect.ratio.high),
        "p_more": number(effect.ratio.p_more),
        "p_more_adjusted": number(effect.p_more_adjusted),
        "p": number(effect.ratio.p),
        "p_adjusted": number(effect.p_adjusted),
        "incidents_inside": effect.within,
        "incidents_beyond": effect.beyond,
        "incidents_vague": effect.vague,
    }


def _band(band: Band) -> Made:
    return {
        "near_m": band.near_m,
        "far_m": band.far_m,
        "incidents": band.incidents,
        "homes": _span(band.homes),
        "per_1000_homes_observed": _estimate(band.rate),
    }


def _clusters(told: Clusters, found: Hotspots) -> Made:
    scan, rows = told.scan, [r for r in cluster_rows(found) if r["kind"] != "place and months"]
    circles = [{k: v for k, v in row.items() if k != "kind"} for row in rows]
    for circle, one in zip(circles, (*told.told, *told.told_with_base), strict=True):
        circle["species"] = _by_name(one.species, "species", "incidents")
    return {
        "resolution": told.units.resolution,
        "cells": len(told.units.names),
        "incidents": scan.calls,
        "variation_between_cells": number(scan.unevenness.variation),
        "circles": circles[: len(told.told)],
        "times_as_often_per_km_from_base": None if told.base is None else _estimate(told.base.per_km),
        "circles_with_base": None if told.with_base is None else circles[len(told.told) :],
        "power": [
            {
                "share": p.share,
                "expected": number(p.expected),
                "relative_risk": p.relative_risk,
                "found": p.found,
            }
            for p in told.power
        ],
    }


def _space_time(told: SpaceTime, found: Hotspots) -> Made:
    rows = [r for r in cluster_rows(found) if r["kind"] == "place and months"]
    left = ("kind", "p_chance", "p_uneven")
    combinations = [{k: v for k, v in r.items() if k not in left} | {"p": r["p_chance"]} for r in rows]
    return {"incidents": told.scan.calls, "combinations": combinations}


def _when(told: When) -> Made:
    return {
        "days_by_month": list(told.days),
        "season_year_begins_in_month": told.season.month if told.season.known else None,
        "quiet_share": {
            **_estimate(told.season.share),
            "of_days": number(told.season.of_days),
            "clear": told.season.clear,
        }
        if told.season.known
        else None,
        "calendars": [_calendar(name, c, told.hours.get(name)) for name, c in told.calendars.items()],
        "found_in": [{"place": name, **_estimate(e)} for name, e in told.found_in.items()],
        "captured": told.captured,
        "attempts": told.attempts,
        "share_captured": _estimate(told.share_captured),
        "no_attempt": list(told.no_attempt),
    }


def _calendar(name: str, calendar: Calendar, mean: CircularMean | None) -> Made:
    hour = None
    if mean is not None and mean.told:
        first, third = mean.quarters
        hour = {
            "half_from": number(first % 24),
            "half_to": number(third % 24),
            "mean": number(mean.mean),
            "mean_low": number(mean.low),
            "mean_high": number(mean.high),
        }
    return {
        "species": None if name == ALL else name,
        "incidents": calendar.n,
        "by_month": calendar.months.tolist(),
        "by_hour": calendar.hours.tolist(),
        "by_month_and_hour": calendar.counts.tolist(),
        "at_midnight": calendar.midnight,
        "hour": hour,
    }


def _rates(told: Rates) -> Made:
    choice, above = told.choice, np.nan_to_num(told.smoothed.above, nan=-1.0)
    return {
        "resolution": told.cells.resolution,
        "rule": None if choice is None else choice.rule,
        "reached": None if choice is None else choice.reached,
        "expected_by_resolution": None
        if choice is None
        else {str(k): number(v) for k, v in choice.expected.items()},
        "mean_expected": number(told.cells.mean_expected),
        "cells": len(told.cells.names),
        "tested": int(told.cells.tested.sum()),
        "probably_above": int((above > 0.95).sum()),
        "ring_tested": told.ring.tested,
        "ring_flagged": int(told.ring.flagged.sum()),
        "odds": [{"cell": n, **_odds(o)} for n, o in zip(told.cells.names, told.odds, strict=True)],
    }


def _surface(found: Hotspots) -> Made | None:
    told = found.surface
    if told is None:
        return None
    square, seen = told.step_m**2 / SQUARE_METRES_PER_HA, ~np.isnan(told.ratio)
    return {
        "p": number(told.p),
        "above_envelope_ha": number(float(told.above.sum()) * square),
        "shown_ha": number(float(seen.sum()) * square),
        "greatest_ratio": number(float(told.ratio[seen].max())) if seen.any() else None,
        "bandwidth_m": number(told.bandwidth_m),
        "replicates": told.replicates,
    }


def _repeats(told: RepeatsTold) -> Made:
    return {
        "within_days": told.within_days,
        "within_m": told.within_m,
        "at_place": _repeat(told.at_place),
        "release_within_m": told.release_within_m,
        "after_release": None if told.after_release is None else _repeat(told.after_release),
    }


def _repeat(one: Repeats) -> Made:
    return {k: number(v) if isinstance(v, float) else v for k, v in asdict(one).items()}


def _odds(one: Odds) -> Made:
    return {
        "area": one.area,
        "words": odds_words(one),
        "incidents": one.incidents,
        "homes": {"low": number(one.homes[0]), "high": number(one.homes[1])},
        "years": number(one.years),
        "one_in": None if one.one_in is None else [number(v) for v in one.one_in],
        "fewer_than_one_in": None if one.fewer_than_one_in is None else number(one.fewer_than_one_in),
        "left": list(one.moved),
        "reason": one.reason,
    }


def _standby(found: Hotspots) -> Made | None:
    told = found.standby
    if told is None:
        return None
    s = told.standby
    shares = zip(told.points, s.share.tolist(), strict=True)
    return {
        "distances": "straight lines",
        "points": [{**_place(*at), "share": number(share)} for at, share in shares],
        "expected_m": number(s.expected),
        "base_m": None if s.base is None else number(s.base),
        "exact": s.exact,
        "verdict": s.reason if s.compared is None else s.compared.verdict,
        "last_season": None if s.compared is None else _compared(s.compared),
        "slices": [
            {
                "hours": list(part.hours),
                "months": list(part.months) or None,
                "calls": cut.calls,
                "places_differ": cut.interaction,
                "aic_gain": number(cut.gain),
                "reason": cut.reason,
                "expected_m": number(points.expected),
            }
            for part, cut, points in told.slices
        ],
    }


def _compared(one: Any) -> Made:
    mean, low, high = one.saved
    return {
        "calls": one.calls,
        "base_m": number(one.base),
        "points_m": number(one.points),
        "saved_m": {"value": number(mean), "low": number(low), "high": number(high)},
        "better": one.better,
    }


def _place(longitude: float, latitude: float) -> Made:
    return {"longitude": round(float(longitude), 4), "latitude": round(float(latitude), 4)}


def _estimate(one: Estimate) -> Made:
    return {"value": number(one.value), "low": number(one.low), "high": number(one.high)}


def _span(one: Interval) -> Made:
    return {"low": number(one.low), "high": number(one.high)}


def _by_name(given: Mapping[str, int], name: str, count: str) -> Iterable[Made]:
    return [{name: key or None, count: n} for key, n in given.items()]
