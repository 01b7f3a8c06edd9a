"""The page's part on clusters: circles with both p-values, what could not be seen, places and months."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

from tussock.hotspots.found import STANDS_OUT, BaseEffect, Clusters, ClusterTold, Hotspots, SpaceTime
from tussock.hotspots.power import LeastSeen
from tussock.hotspots.scan_space_time import Cylinder
from tussock.maps.hotspots_edges import power_sentence
from tussock.maps.hotspots_parts import Row, bullets, fold, reruns, table
from tussock.maps.hotspots_svg import finding_mark
from tussock.maps.hotspots_words import (
    count,
    figure,
    homes,
    interval,
    p_value,
    percent,
    species_words,
)
from tussock.maps.words import metres, sentence
from tussock.names import MONTHS

MOST_NOT_SHOWN = 3
"""Circles that do not stand out and are listed all the same."""


def clusters(found: Hotspots) -> str:
    """Return the circular scan, then unusual places and months."""
    first = _scan(found, found.clusters) if found.clusters else _none(found, "clusters")
    then = _space_time(found.space_time) if found.space_time else _none(found, "space_time")
    return f"{first}<h3>Unusual combinations of place and months</h3>{then}"


def _none(found: Hotspots, name: str) -> str:
    why = found.missing.get(name)
    return f"<p>{escape(sentence(f'not looked for: {why}' if why else 'not looked for'))}</p>"


def _scan(found: Hotspots, told: Clusters) -> str:
    lead = clusters_lead(told) + (
        "" if told.standing_out else f" It does not say {_lowered(power_sentence(found))}"
    )
    cards = "".join(_card(k, c) for k, c in enumerate(told.told, start=1) if c.stands_out)
    others = [(k, c) for k, c in enumerate(told.told, start=1) if not c.stands_out][:MOST_NOT_SHOWN]
    rows = [_cluster_row(k, c) for k, c in others]
    rest = fold("The most striking circles that do not stand out", table(_HEAD, rows) if rows else "")
    return (
        f'<p class="lead">{escape(lead)}</p>{cards}{reruns(found, "clusters")}{rest}'
        f"{_power(told.power, len(found.incidents))}{_with_base(told)}"
        f"{fold('How circles are found', _note(_how(told)))}"
    )


def _lowered(words: str) -> str:
    return words[:1].lower() + words[1:]


def clusters_lead(told: Clusters) -> str:
    """Return how many circles stand out, or that nothing does."""
    out = told.standing_out
    if out:
        return (
            f"{count(len(out), 'circle')} with more incidents than homes, chance and the usual unevenness "
            "explain."
        )
    return (
        "Nothing stands out: no circle has more incidents than homes, chance and the usual unevenness "
        "explain. That is a result."
    )


_HEAD = (
    "Circle",
    "Found",
    "Incidents",
    "Times as often",
    "Against chance",
    "Against usual unevenness",
    "Homes",
)


def place_words(longitude: float, latitude: float, radius_m: float) -> str:
    """Return a circle in words: three decimals of a degree, about a hundred metres, name no home."""
    return f"within {metres(max(radius_m, 10.0), spread=20.0)} of {latitude:.3f}, {longitude:.3f}"


def _card(k: int, told: ClusterTold) -> str:
    c = told.cluster
    said = (
        f"{count(c.observed, 'incident')} where {figure(c.expected)} were to be expected from "
        f"{homes(*told.homes)} homes: {figure(c.relative_risk)} times as often as elsewhere"
    )
    p = (
        f"Against chance {p_value(c.p_chance)}; against the usual unevenness between places "
        f"{p_value(c.p_uneven)}. The larger counts."
    )
    where = place_words(told.longitude, told.latitude, c.radius_m)
    return (
        f'<div class="finding"><h3>{finding_mark("full", f"Cluster {k}")}</h3><p><b>{escape(said)}</b>, '
        f"{escape(where)}.</p><p>{escape(p)}</p><p class='note'>{escape(_species(told.species))}</p></div>"
    )


def _species(species: Mapping[str, int]) -> str:
    return f"Species: {species_words(species)}."


def _cluster_row(k: int, told: ClusterTold) -> Row:
    c = told.cluster
    mark = finding_mark("full", "stands out") if told.stands_out else finding_mark("half", "not shown")
    return (
        escape(f"{k}: {place_words(told.longitude, told.latitude, c.radius_m)}"),
        mark,
        escape(f"{c.observed} where {figure(c.expected)} were to be expected"),
        escape(figure(c.relative_risk)),
        escape(p_value(c.p_chance)),
        escape(p_value(c.p_uneven)),
        escape(homes(*told.homes)),
    )


def _power(power: Sequence[LeastSeen], incidents: int) -> str:
    """Return what the map could not have seen, for each size that was tried."""
    if not power:
        return ""
    lines = [_seen(one) for one in power]
    head = f"With {count(incidents, 'incident')} this map could not have seen less than:"
    return fold("What it could not have seen", f"<p>{escape(head)}</p>{bullets(lines)}")


def _seen(one: LeastSeen) -> str:
    size = f"in a place with {percent(one.share)} of the calls expected ({figure(one.expected)})"
    if one.relative_risk is None:
        return (
            f"anything {size}: even the strongest tried is found in only {percent(one.found)} of made-up maps"
        )
    return f"{one.relative_risk:g} times the usual {size}; at that, {percent(one.found)} are found"


def base_words(base: BaseEffect) -> str:
    """Return how calls change with the distance from the base."""
    e = base.per_km
    shown = " That is not shown to differ from 1." if e.low <= 1 <= e.high else ""
    return (
        f"Each kilometre farther from the base, homes call {interval(e)} times as often.{shown} "
        "Where it is far from 1, the map may show whom people know to call."
    )


def base_lead(told: Clusters) -> str:
    """Return how many circles stand out once the distance from the base is allowed for, and without."""
    out = [c for c in told.told_with_base if c.stands_out]
    without = told.standing_out
    if not out:
        return f"With it allowed for, nothing stands out; without, {_circles(len(without))}."
    same = sum(any(set(c.cluster.units) & set(w.cluster.units) for w in without) for c in out)
    alike = "all the same places" if same == len(out) == len(without) else f"{same} of them the same places"
    return f"With it allowed for, {_circles(len(out))}; without, {_circles(len(without))}: {alike}."


def _circles(number: int) -> str:
    return f"{count(number, 'circle')} {'stands' if number == 1 else 'stand'} out" if number else "none does"


def _with_base(told: Clusters) -> str:
    """Return the clusters once more with the distance from the base allowed for."""
    if told.base is None:
        return ""
    out = [c for c in told.told_with_base if c.stands_out]
    shown = out or list(told.told_with_base[:1])
    rows = [_cluster_row(k, c) for k, c in enumerate(shown, start=1)]
    return (
        f"<h3>With and without the distance from the base</h3><p>{escape(base_words(told.base))}</p>"
        f"<p>{escape(base_lead(told))}</p>"
        f"{fold('Circles with the distance allowed for', table(_HEAD, rows) if rows else '')}"
    )


def _note(words: str) -> str:
    return f'<p class="note">{escape(words)}</p>'


def _how(told: Clusters) -> str:
    maps = len(told.scan.greatest_by_chance)
    uneven = told.scan.unevenness.variation
    return (
        f"Circles of every radius up to half of the homes, round {len(told.units.names)} cells; Kulldorff's "
        f"Poisson scan. p: share of {maps} made-up maps, and this one, with a circle as striking "
        "anywhere: once "
        "by chance alone, once with rates that differ between cells as they do outside the first circle "
        f"(coefficient of variation {figure(uneven)}). Circles share no cell. A circle is where to "
        "look, not an "
        "outline."
    )


def _space_time(told: SpaceTime) -> str:
    lead = space_time_lead(told)
    lines = "".join(_cylinder(k, c, told) for k, c in enumerate(told.scan.cylinders) if c.p <= STANDS_OUT)
    maps = len(told.scan.greatest)
    note = (
        f"Permutation scan, {maps} maps with the months dealt out anew among the places. A place that "
        "always calls "
        "much, or a month in which all do, is none: what is found is a place at an unusual time."
    )
    return f"<p>{escape(lead)}</p>{lines}{fold('How combinations are found', _note(note))}"


def space_time_lead(told: SpaceTime) -> str:
    """Return how many combinations of place and months stand out, or that none does."""
    out = told.scan.standing_out(p=STANDS_OUT)
    if not out:
        return "No combination of place and months stands out."
    return (
        f"{count(len(out), 'combination')} of place and months with more incidents than both let one expect."
    )


def cylinder_letter(k: int) -> str:
    """Return by which letter a combination is called on the map."""
    return chr(ord("A") + k % 26)


def _cylinder(k: int, c: Cylinder, told: SpaceTime) -> str:
    where = place_words(*told.centres[k], c.radius_m)
    said = f"{count(c.observed, 'incident')} where {figure(c.expected)} were to be expected"
    mark = finding_mark("full", f"Combination {cylinder_letter(k)}")
    return (
        f'<div class="finding"><h3>{mark}</h3><p><b>{escape(said)}</b>, {escape(where)}, '
        f"{escape(period_words(told, c))}; {escape(p_value(c.p))}.</p></div>"
    )


def period_words(told: SpaceTime, c: Cylinder) -> str:
    """Return the months of a combination."""
    first, last = told.months[c.first], told.months[c.last]
    a, b = (f"{MONTHS[d.month - 1]} {d.year}" for d in (first, last))
    return a if a == b else f"{a} to {b}"
