"""The hotspots' drawings: rate ratios of edges, rates by distance, shares.

Inline SVG with direct labels; intervals always drawn, zero or "as often" shown, the caption is the claim.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from tussock.hotspots.bands import Band, EdgeEffect
from tussock.hotspots.counts import Estimate
from tussock.maps.hotspots_svg import WIDTH, Amounts, Ratios, across, dot, line, plot, text
from tussock.maps.hotspots_words import (
    FEWER,
    MORE,
    NOT_SHOWN,
    NOT_TESTED,
    band_words,
    count,
    edge_name,
    edge_verdict,
    figure,
    homes_words,
    listed,
    middle,
    percent,
    ratio_words,
    span,
)
from tussock.maps.words import grouped

MOST_EDGES = 10
"""More edges than that are in the table only."""
LEAST_IN_CALENDAR = 10
"""Fewer incidents than that make no calendar."""
_LETTERS = 34
_ROW = 58.0
_ORDER = {MORE: 0, NOT_SHOWN: 1, FEWER: 2, NOT_TESTED: 3}


def ranked(effects: Sequence[EdgeEffect]) -> list[EdgeEffect]:
    """Return edges with what stands out first; the surest of those first."""
    return sorted(effects, key=lambda e: (_ORDER[edge_verdict(e)], -_number(e.ratio.low), edge_name(e)))


def _number(value: float) -> float:
    return 0.0 if math.isnan(value) else value


def edges_plot(effects: Sequence[EdgeEffect]) -> str:
    """Return the rate ratios of the tested edges as intervals on one scale; empty with none."""
    tested = [e for e in ranked(effects) if edge_verdict(e) != NOT_TESTED]
    if not tested:
        return ""
    known = [e for e in tested if not math.isnan(middle(e.ratio))]
    if not known:
        return ""
    drawn = known[:MOST_EDGES]
    ends = [v for e in drawn for v in (e.ratio.low, e.ratio.high) if v > 0]
    scale = Ratios(ends, left=8, right=WIDTH - 8)
    foot = _ROW * len(drawn)
    one = scale.at(1.0)
    axis = line(f"M{one:.1f} 0V{foot + 6:g}", "even") + line(f"M8 {foot + 0.5:g}H{WIDTH - 8:g}", "axis")
    for x, said in scale.ticks:
        axis += line(f"M{x:.1f} {foot:g}v5", "axis")
        axis += text(x, foot + 20, said, anchor=_anchor(x))
    axis += text(one, foot + 38, "as often", anchor=_anchor(one), cls="name")
    rows = "".join(_edge_row(k, e, scale) for k, e in enumerate(drawn))
    more = f" {count(len(known) - len(drawn), 'more edge')} in the table." if len(known) > len(drawn) else ""
    if len(tested) > len(known):
        none = listed(edge_name(e) for e in tested if e not in known)
        more += f" Without a ratio, since no call came from near or far: {none}."
    note = (
        "How many times as often homes nearest to the edge called as the farthest. Line: 95 % interval; "
        f"full dot: more than chance, corrected for {count(len(tested), 'edge')} looked at; hollow: not "
        "shown."
    )
    heard = [f"{edge_name(e)} {ratio_words(e.ratio)} times, {edge_verdict(e)}" for e in drawn]
    return plot(_edges_claim(tested), foot + 44, axis + rows, note + more, said=heard)


def _edges_claim(tested: Sequence[EdgeEffect]) -> str:
    more = sum(edge_verdict(e) == MORE for e in tested)
    of = count(len(tested), "edge")
    if not more:
        return f"At none of {of} is it shown that homes nearby called more often"
    return f"At {grouped(more)} of {of} homes nearby called more often than chance has it"


def _edge_row(k: int, effect: EdgeEffect, scale: Ratios) -> str:
    top, hull, verdict = k * _ROW, effect.ratio, edge_verdict(effect)
    y = top + 46
    out = text(0, top + 15, shortened(_capital(edge_name(effect))), cls="name")
    out += text(0, top + 33, f"{ratio_words(hull)} times: {verdict}")
    out += across(
        scale.at(hull.low), scale.at(hull.high), y,
        open_low=hull.low < scale.low, open_high=hull.high > scale.high,
    )  # fmt: skip
    return out + dot(scale.at(middle(hull)), y, full=verdict in (MORE, FEWER))


def shortened(words: str) -> str:
    """Return a name that fits a drawing of 330 units."""
    return words if len(words) <= _LETTERS else words[: _LETTERS - 1].rstrip() + "…"


def _anchor(x: float) -> str:
    return "start" if x < 30 else "end" if x > WIDTH - 30 else "middle"


def bands_plot(effect: EdgeEffect) -> str:
    """Return the rates of an edge's bands, from the nearest to the farthest."""
    ends = [b.rate.high for b in effect.bands if math.isfinite(b.rate.high)]
    scale = Amounts(max(ends, default=1.0), start=8, end=WIDTH - 8)
    rows = "".join(_band_row(k, b, scale) for k, b in enumerate(effect.bands))
    foot = _ROW * len(effect.bands)
    axis = line(f"M8.5 0V{foot + 5:g}", "axis") + line(f"M8 {foot + 0.5:g}H{WIDTH - 8:g}", "axis")
    axis += text(8, foot + 20, "0") + text(WIDTH - 8, foot + 20, figure(scale.most), anchor="end")
    claim = f"Calls by distance from {edge_name(effect)}"
    note = "Incidents per 1,000 homes in the time observed. Line: 95 % interval over the interval of homes."
    said = [
        f"{band_words(b.near_m, b.far_m)} {_rate(b.rate)}, {count(b.incidents, 'incident')}"
        for b in effect.bands
    ]
    return plot(claim, foot + 24, axis + rows, note, said=said)


def _band_row(k: int, band: Band, scale: Amounts) -> str:
    top = k * _ROW
    said = f"{count(band.incidents, 'incident')}, {homes_words(band.homes)}"
    out = text(
        14, top + 15, f"{_capital(band_words(band.near_m, band.far_m))}: {_rate(band.rate)}", cls="name"
    )
    out += text(14, top + 33, said)
    high = band.rate.high
    out += across(scale.at(band.rate.low), scale.at(high), top + 46, open_high=high > scale.most)
    return out + ("" if math.isnan(band.rate.value) else dot(scale.at(band.rate.value), top + 46))


def _rate(rate: Estimate) -> str:
    return f"{figure(rate.value)} ({span(rate.low, rate.high)})"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def shares_plot(shares: Mapping[str, Estimate], *, claim: str, note: str) -> str:
    """Return shares with their intervals, one row each; empty with none."""
    if not shares:
        return ""
    scale = Amounts(1.0, start=8, end=WIDTH - 8)
    out, tall = "", 42.0
    for k, (name, share) in enumerate(shares.items()):
        top = k * tall
        said = f"{shortened(name)}: {percent(share.value)} ({percent(share.low)}–{percent(share.high)})"
        out += text(14, top + 15, said, cls="name")
        out += across(scale.at(share.low), scale.at(share.high), top + 29)
        out += "" if math.isnan(share.value) else dot(scale.at(share.value), top + 29)
    foot = tall * len(shares)
    out += line(f"M8.5 0V{foot + 5:g}", "axis") + line(f"M8 {foot + 0.5:g}H{WIDTH - 8:g}", "axis")
    out += text(8, foot + 20, "0") + text(WIDTH - 8, foot + 20, percent(1.0), anchor="end")
    heard = [f"{name} {percent(share.value)}" for name, share in shares.items()]
    return plot(claim, foot + 24, out, note, said=heard)
