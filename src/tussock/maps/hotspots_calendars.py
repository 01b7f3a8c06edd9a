"""The hotspots' drawings of time: months, hours, and both; a month counts by the days it was observed.

A month seen twice has twice the calls, and one never seen has none: neither says anything of the season.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from tussock.hotspots.observed import LEAST_DAYS
from tussock.hotspots.when import Calendar
from tussock.maps.hotspots_plots import LEAST_IN_CALENDAR
from tussock.maps.hotspots_svg import WIDTH, Amounts, line, plot, text, upright
from tussock.maps.hotspots_words import count, figure, listed, span
from tussock.names import MONTHS

PER_DAYS = 30.0
"""Incidents of a month are told for so many days observed [d]."""
_LEFT, _TOP, _TALL = 34.0, 20.0, 120.0


def unseen_words(days: Sequence[int]) -> str:
    """Return which months were not observed, or for too few days to say anything; empty with none.

    Examples
    --------
    >>> unseen_words([31, 28, 31, 30, 31, 0, 0, 3, 30, 31, 30, 31])
    'not observed: June and July; too short to tell: August (3 days)'
    """
    none = [MONTHS[m] for m in range(12) if not days[m]]
    short = [f"{MONTHS[m]} ({count(days[m], 'day')})" for m in range(12) if 0 < days[m] < LEAST_DAYS]
    said = [f"not observed: {listed(none)}"] if none else []
    return "; ".join([*said, *([f"too short to tell: {listed(short)}"] if short else [])])


def months_plot(calendar: Calendar, *, days: Sequence[int], first: int, claim: str) -> str:
    """Return incidents by month for 30 days observed, with intervals; what was not observed is marked so.

    Parameters
    ----------
    days
        Days observed of each calendar month, from January on.
    first
        Month, 1 to 12, with which the drawing begins.
    """
    order = [(first - 1 + k) % 12 for k in range(12)]
    low, high = calendar.month_ends()
    per = [PER_DAYS / days[m] if days[m] >= LEAST_DAYS else math.nan for m in order]
    note = (
        f"Columns: incidents per {PER_DAYS:g} days observed, from {MONTHS[first - 1]} on; lines: 95 % "
        "interval of what lies behind."
    )
    if unseen := unseen_words(days):
        note += f" –, {unseen}."
    return _columns(
        [k * int(calendar.months[m]) for k, m in zip(per, order, strict=True)],
        [(k * float(low[m]), k * float(high[m])) for k, m in zip(per, order, strict=True)],
        [MONTHS[m][:1] for m in order],
        claim=claim,
        note=note,
        heard=[MONTHS[m] for m in order],
    )


def hours_plot(calendar: Calendar, *, claim: str) -> str:
    """Return incidents by hour of local time with intervals."""
    low, high = calendar.hour_ends()
    names = [str(h) if h % 6 == 0 else "" for h in range(24)]
    ends = list(zip(low.tolist(), high.tolist(), strict=True))
    note = "Columns: incidents by the hour they began, local time; lines: 95 % interval of what lies behind."
    heard = [f"{h}:00" for h in range(24)]
    return _columns([float(n) for n in calendar.hours], ends, names, claim=claim, note=note, heard=heard)


def _columns(
    values: Sequence[float],
    ends: Sequence[tuple[float, float]],
    names: Sequence[str],
    *,
    claim: str,
    note: str,
    heard: Sequence[str],
) -> str:
    """Return columns with intervals; one that is ``nan`` is a dash, not a column of 0."""
    foot = _TOP + _TALL
    known = [high for _, high in ends if not math.isnan(high)]
    scale = Amounts(max(known, default=1.0), start=foot, end=_TOP)
    step = (WIDTH - _LEFT) / len(values)
    out = line(f"M{_LEFT} {foot + 0.5:g}H{WIDTH:g}", "axis") + text(_LEFT - 4, foot + 4, "0", anchor="end")
    out += text(_LEFT - 4, _TOP + 5, figure(scale.most), anchor="end")
    for k, (value, (low, high), name) in enumerate(zip(values, ends, names, strict=True)):
        x = _LEFT + k * step
        out += text(x + step / 2, foot + 17, name, anchor="middle") if name else ""
        if math.isnan(value):
            out += text(x + step / 2, foot - 4, "–", anchor="middle")
            continue
        tall = foot - scale.at(value)
        if value:
            out += f'<rect class="all" x="{x + 2:.1f}" y="{foot - tall:.1f}" width="{step - 4:.1f}"'
            out += f' height="{tall:.1f}"/>'
        out += upright(x + step / 2, scale.at(high), scale.at(low))
    said = [_heard(name, value) for name, value in zip(heard, values, strict=True) if value]
    return plot(claim, foot + 22, out, note, said=said)


def _heard(name: str, value: float) -> str:
    return f"{name} {'not observed' if math.isnan(value) else figure(value)}"


def calendar_plot(
    name: str, calendar: Calendar, *, days: Sequence[int], first: int, explained: bool = True
) -> str:
    """Return incidents by month and hour as squares; full where they are surely more than evenly spread.

    Squares are incidents per day observed, and even is what the days observed of the month would give.

    Parameters
    ----------
    days
        Days observed of each calendar month, from January on.
    first
        Month, 1 to 12, with which the drawing begins.
    explained
        Whether to say how to read it; not under each of several.
    """
    seen = np.array([float(d) if d >= LEAST_DAYS else math.nan for d in days])
    n = int(calendar.months[~np.isnan(seen)].sum())
    if n < LEAST_IN_CALENDAR:
        return ""
    low, high = calendar.ends()
    each = calendar.counts / seen[:, None]
    most, even = float(np.nanmax(each)), n / float(np.nansum(seen)) / 24
    step, tall = (WIDTH - _LEFT) / 24, 15.0
    out = ""
    for row, month in enumerate((first - 1 + k) % 12 for k in range(12)):
        y = 4 + row * tall
        out += text(_LEFT - 4, y + 12, MONTHS[month][:3], anchor="end")
        if math.isnan(seen[month]):
            said = "too short to tell" if days[month] else "not observed"
            out += text(_LEFT + 4, y + 12, said)
            continue
        out += line(f"M{_LEFT} {y + tall / 2:.1f}H{WIDTH:g}", "faint")
        for hour in np.flatnonzero(calendar.counts[month]).tolist():
            side = max(3.0, 12.0 * math.sqrt(each[month, hour] / most))
            x = _LEFT + (hour + 0.5) * step
            kind = "dot-full" if low[month, hour] > even * seen[month] else "dot-open"
            out += f'<rect class="{kind}" x="{x - side / 2:.1f}" y="{y + (tall - side) / 2:.1f}"'
            out += f' width="{side:.1f}" height="{side:.1f}"/>'
    foot = 4 + 12 * tall
    for hour in (0, 6, 12, 18):
        x = _LEFT + hour * step
        out += line(f"M{x:.1f} 2V{foot + 4:g}", "faint") + text(x + 2, foot + 17, f"{hour}:00")
    month, hour = (int(v) for v in np.unravel_index(int(np.nanargmax(each)), each.shape))
    most_said = count(int(calendar.counts[month, hour]), "incident")
    ends = span(float(low[month, hour]), float(high[month, hour]))
    fullest = (
        f"Largest square: {most_said} in {MONTHS[month]} from {hour}:00 to {hour + 1}:00 (95 % interval "
        f"{ends}), in {count(days[month], 'day')} observed."
    )
    note = (
        f"{fullest} Area: incidents per day observed. Full: surely more than {figure(PER_DAYS * even)} in "
        f"{PER_DAYS:g} days, which each hour of a month would have if they came evenly over the days "
        "observed; hollow: not shown."
    )
    claim = f"{name}: {count(calendar.n, 'incident')} by month and hour"
    heard = [fullest.removesuffix("."), *([unseen] if (unseen := unseen_words(days)) else [])]
    return plot(claim, foot + 22, out, note if explained else fullest, said=heard)
