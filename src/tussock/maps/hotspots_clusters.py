"""The page's part on clusters: circles with both p-values, what could not be seen, places and months."""

from __future__ import annotations

from html import escape

from tussock.hotspots.found import STANDS_OUT, BaseEffect, Clusters, ClusterTold, Hotspots, SpaceTime
from tussock.hotspots.power import LeastSeen
from tussock.hotspots.scan_space_time import Cylinder
from tussock.maps.hotspots_circles import (
    circle_words,
    circles_out,
    counted_in,
    ends_words,
    expected_words,
    missed_words,
    often_figure,
    place_words,
    power_sentence,
    species_line,
    sure_words,
    unsure_words,
)
from tussock.maps.hotspots_parts import Row, bullets, fold, reruns, table
from tussock.maps.hotspots_svg import finding_mark
from tussock.maps.hotspots_words import (
    count,
    figure,
    homes,
    interval,
    p_value,
    percent,
)
from tussock.maps.words import sentence
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
        f'<p class="lead">{escape(lead)}</p>{cards}{bullets(scanned_lines(told))}'
        f"{reruns(found, 'clusters')}{rest}"
        f"{_power(told)}{_with_base(told)}"
        f"{fold('How circles are found', _note(_how(told)))}"
    )


def _lowered(words: str) -> str:
    return words[:1].lower() + words[1:]


def clusters_lead(told: Clusters) -> str:
    """Return how many circles stand out, or that nothing does."""
    out, ends = told.standing_out, ends_words(told)
    more = f" {ends}" if ends else ""
    if out:
        return (
            f"{count(len(out), 'circle')} with more incidents than the number of homes, chance and the usual "
            f"unevenness between places can explain.{more}"
        )
    return (
        "Nothing stands out: no circle has more incidents than the number of homes, chance and the usual "
        f"unevenness between places can explain. That is a result.{more}"
    )


def scanned_lines(told: Clusters) -> list[str]:
    """Return how many incidents are scanned and why the others are not; nothing where all are."""
    lines = (counted_in(told.units, what="the scan", unit="fine cell"), unsure_words(told))
    return [line for line in lines if line]


_HEAD = (
    "Circle",
    "Found",
    "Incidents",
    "Times as often",
    "Against chance",
    "Against usual unevenness",
    "Homes",
)


def _card(k: int, told: ClusterTold) -> str:
    p = (
        f"Against chance {p_value(told.p_chance)}; against the usual unevenness between places "
        f"{p_value(told.p_uneven)}. The larger counts."
    )
    notes = "".join(_note(words) for words in (sure_words(told), species_line(told.species)) if words)
    return (
        f'<div class="finding"><h3>{finding_mark("full", f"Cluster {k}")}</h3>'
        f"<p><b>{escape(circle_words(told))}</b>.</p><p>{escape(sentence(place_words(told.spot)))}</p>"
        f"<p>{escape(p)}</p>{notes}</div>"
    )


def _cluster_row(k: int, told: ClusterTold) -> Row:
    mark = finding_mark("full", "stands out") if told.stands_out else finding_mark("half", "not shown")
    return (
        escape(f"{k}: {place_words(told.spot)}"),
        mark,
        escape(expected_words(told.most)),
        escape(often_figure(told.most)),
        escape(p_value(told.p_chance)),
        escape(p_value(told.p_uneven)),
        escape(homes(*told.homes)),
    )


def _power(told: Clusters) -> str:
    """Return what the map would have missed, for each size that was tried."""
    if not told.power:
        return ""
    lines = [_missed(one) for one in told.power]
    head = (
        f"With {count(told.scan.calls, 'incident')} this map would have missed, more than one time in five:"
    )
    return fold("What it would have missed", f"<p>{escape(head)}</p>{bullets(lines)}")


def _missed(one: LeastSeen) -> str:
    if one.relative_risk is None:
        return f"{missed_words(one)}: the most often tried is found in {percent(one.found)} of made-up maps."
    return f"{missed_words(one)}; at that rate {percent(one.found)} of those in made-up maps are found."


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
        return f"With it allowed for, nothing stands out; without, {circles_out(len(without))}."
    same = sum(any(set(c.most.units) & set(w.most.units) for w in without) for c in out)
    alike = "all the same places" if same == len(out) == len(without) else f"{same} of them the same places"
    return f"With it allowed for, {circles_out(len(out))}; without, {circles_out(len(without))}: {alike}."


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
        f"(coefficient of variation {figure(uneven)}). Circles share no cell. Incidents and homes are those "
        "of the cells whose middles lie in the circle; the map draws these cells, and the farthest corner is "
        "measured from the circle's centre. They are where to look, not where it ends."
        f"{_both_ends(told)}"
    )


def _both_ends(told: Clusters) -> str:
    if not told.homes_differ:
        return ""
    return (
        " All of it is done twice, with the buildings of unknown use counted as homes and without them; "
        "expected incidents are said with them, and of each circle the larger p counts."
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
    where = place_words(told.spots[k])
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
