"""Hotspots on the terminal: the claim, what is counted, and what the calls cannot say."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict

from tussock.cli import show as plan_show
from tussock.cli.failures import say
from tussock.cli.options import Format
from tussock.cli.printable import printable
from tussock.hotspots.found import Hotspots
from tussock.maps.hotspots_clusters import place_words
from tussock.maps.hotspots_edges import claim, power_sentence
from tussock.maps.hotspots_files import cells_geojson, edges_csv
from tussock.maps.hotspots_words import CALLS_NOT_SNAKES, edge_sentence, interval, p_value
from tussock.maps.words import position_words


def show(found: Hotspots, output: Format) -> None:
    """Print a result: the answer on stdout, the caution on stderr."""
    say(CALLS_NOT_SNAKES)
    match output:
        case Format.CSV:
            plan_show.data(edges_csv(found))
        case Format.JSON:
            plan_show.data(as_json(found))
        case Format.TABLE:
            plan_show.data("\n".join(printable(line) for line in lines(found)))


def lines(found: Hotspots) -> Iterator[str]:
    """Yield what is printed of a result, line by line."""
    yield f"{claim(found)}."
    for effect in found.edges:
        if effect.tested:
            yield f"  {edge_sentence(effect)} One-sided, corrected: {p_value(effect.p_more_adjusted)}."
    yield from _counted(found)
    yield from _clusters(found)
    if found.district_odds is not None:
        yield f"Odds: {found.district_odds.sentence}"
    yield from _standby(found)
    for name, why in found.missing.items():
        yield f"Not found out: {name.replace('_', ' ')}: {why}."


def _counted(found: Hotspots) -> Iterator[str]:
    c = found.counted
    left = {
        "without a place": c.without_place,
        "in the future": c.future,
        "at other times": c.other_times,
        "the same row twice": c.duplicates,
        "outside the region": c.outside_region,
        "where homes are not known": c.outside_extent,
    }
    said = ", ".join(f"{n} {words}" for words, n in left.items() if n) or "none"
    yield f"{c.read} callouts read, {c.calls} counted as {c.incidents} incidents. Left out: {said}."
    yield f"The district: {interval(found.district_rate)} incidents per 1,000 homes a year."


def _clusters(found: Hotspots) -> Iterator[str]:
    if found.clusters is None:
        return
    for told in found.clusters.standing_out:
        c = told.cluster
        at = place_words(told.longitude, told.latitude, c.radius_m)
        found_there = f"{c.observed} incidents where {c.expected:.3g} were to be expected"
        yield f"Cluster {at}: {found_there}, {p_value(c.p)}."
    if not found.clusters.standing_out:
        yield "Clusters: nothing stands out. That is a result."
    yield f"Not said: {power_sentence(found)}"


def _standby(found: Hotspots) -> Iterator[str]:
    if found.standby is None:
        return
    for longitude, latitude in found.standby.points:
        yield f"Stand by at {position_words(longitude, latitude)}."


def as_json(found: Hotspots) -> str:
    """Return a result as JSON: its claim, its totals, its cells."""
    made = {
        "format": "tussock hotspots 1",
        "software": found.software,
        "claim": claim(found),
        "note": CALLS_NOT_SNAKES,
        "observed": [str(found.asked.first), str(found.asked.last)],
        "seed": found.seed,
        "inputs": dict(found.inputs),
        "counted": asdict(found.counted),
        "missing": dict(found.missing),
        "clusters": [
            {
                "longitude": t.longitude,
                "latitude": t.latitude,
                "radius_m": t.cluster.radius_m,
                "observed": t.cluster.observed,
                "expected": t.cluster.expected,
                "p_chance": t.cluster.p_chance,
                "p_uneven": t.cluster.p_uneven,
                "stands_out": t.stands_out,
            }
            for t in (found.clusters.told if found.clusters else ())
        ],
        "cells": json.loads(cells_geojson(found))["features"],
    }
    return json.dumps(made, ensure_ascii=False, allow_nan=False, indent=1)
