"""The page's part on time: months, hours, species, where animals are found, how many are captured."""

from __future__ import annotations

from collections import Counter
from html import escape

from tussock.hotspots.circular import CircularMean
from tussock.hotspots.found import Hotspots, When
from tussock.hotspots.when import ALL, busiest
from tussock.maps.hotspots_calendars import PER_DAYS, calendar_plot, hours_plot, months_plot, unseen_words
from tussock.maps.hotspots_parts import bullets, fold
from tussock.maps.hotspots_plots import LEAST_IN_CALENDAR, shares_plot
from tussock.maps.hotspots_words import count, figure, listed, percent, share, word
from tussock.maps.words import sentence
from tussock.names import MONTHS

MOST_SPECIES = 5
"""Species with a calendar of their own on the page."""
MOST_LEVEL = 3
"""Months named as having most incidents alike; more than so many are said to be level."""
MANY_AT_MIDNIGHT = 0.1
"""Share of incidents at 00:00:00 from which the hours are not to be trusted (choice of this project)."""


def when(found: Hotspots) -> str:
    """Return when calls come."""
    told = found.when
    if told is None:
        why = found.missing.get("when")
        return f"<p>{escape(sentence(f'not looked for: {why}' if why else 'not known'))}</p>"
    every = told.calendars[ALL]
    named = [name for name in told.calendars if name != ALL]
    first = told.season.month
    drawn = months_plot(every, days=told.days, first=first, claim=months_claim(told))
    drawn += hours_plot(every, claim=hours_claim(told)) + _captured(found, told) + _found_in(told)
    enough = [name for name in named if told.calendars[name].n >= LEAST_IN_CALENDAR][:MOST_SPECIES]
    each = calendar_plot("All species", every, days=told.days, first=first)
    each += "".join(
        calendar_plot(word(name), told.calendars[name], days=told.days, first=first, explained=False)
        for name in enough
    )
    by_hour = fold("By month and hour, by species", f'<div class="plots">{each}</div>' if each else "")
    return f'<div class="plots">{drawn}</div>{bullets(_lines(told, enough))}{by_hour}'


def months_claim(told: When) -> str:
    """Return in which month most incidents began for the days observed, and where the season year begins."""
    return f"{_busiest_words(told)}; {_season_words(told)}"


def _season_words(told: When) -> str:
    if told.season.known:
        return f"the season year begins in {MONTHS[told.season.month - 1]}"
    return "where the season year begins cannot be told"


def unseen_line(told: When) -> str:
    """Return which months nothing is said of, as a sentence; empty where all twelve were observed."""
    unseen = unseen_words(told.days)
    return f"Months {unseen}." if unseen else ""


def _busiest_words(told: When) -> str:
    months, each = busiest(told.calendars[ALL].months, told.days)
    if not months:
        return "No month is set against another: too short a time or too few incidents"
    names = [MONTHS[m - 1] for m in months]
    if len(names) > MOST_LEVEL:
        return f"No month had most incidents for the days observed: {len(names)} are level"
    seen = "" if told.season.known else "Of the months observed, "
    level = " alike" if len(names) > 1 else ""
    return f"{seen}{listed(names)} had most incidents{level}, {figure(PER_DAYS * each)} per {PER_DAYS:g} days"


def hours_claim(told: When) -> str:
    """Return between which times of day half of the calls come, or that there is no one time."""
    mean = told.hours.get(ALL)
    if mean is not None and mean.told:
        return f"Half of the incidents began between {quarters(mean)}"
    return "No one time of day: too few, or more than one peak"


def quarters(mean: CircularMean) -> str:
    """Return between which times the middle half lies."""
    first, third = mean.quarters
    return f"{clock(first)} and {clock(third)}"


def clock(hours: float) -> str:
    """Return an hour of the day, which may lie beyond either end, as hours and minutes.

    Examples
    --------
    >>> clock(16.25), clock(-0.5), clock(24.2)
    ('16:15', '23:30', '0:12')
    """
    minutes = round(hours * 60) % 1440
    return f"{minutes // 60}:{minutes % 60:02d}"


def _found_in(told: When) -> str:
    shares = {word(name): value for name, value in told.found_in.items()}
    if not shares:
        return ""
    first = next(iter(shares))
    note = "Share of the captures that say where, with the exact 95 % interval."
    return shares_plot(shares, claim=f"Most often taken: {first}", note=note)


def _captured(found: Hotspots, told: When) -> str:
    if not told.attempts:
        return ""
    claim = (
        f"Of {count(told.attempts, 'attempt')}, {percent(told.share_captured.value)} have a capture on record"
    )
    note = f"{told.captured} of {told.attempts}, with the exact 95 % interval. {captured_words(told)}"
    note += _others(found, told)
    return shares_plot({"Captured": told.share_captured}, claim=claim, note=note)


def captured_words(told: When) -> str:
    """Return of what the share captured is a share, and what it cannot tell."""
    without = f", which leaves out {listed(word(o) for o in told.no_attempt)}" if told.no_attempt else ""
    return (
        f"A share of the incidents with an attempt at any of their calls{without}. One without a capture on "
        "record, neither in its outcome nor in the table of captures, counts as not captured: where captures "
        "are not all in the book, the share is too low."
    )


def _others(found: Hotspots, told: When) -> str:
    """Return how the attempts without a capture ended, the commonest first."""
    left = frozenset(told.no_attempt)
    tried = (i.attempted(leaving_out=left) for i in found.incidents.items if not i.captured)
    ended = Counter(outcome for outcome in tried if outcome is not None)
    order = sorted(ended, key=lambda o: (-ended[o], o))
    return f" The others ended as: {listed(f'{word(o)} {ended[o]}' for o in order)}." if order else ""


def _quiet(told: When) -> str:
    """Return how few incidents fall in the quiet months, beside their share of the days observed."""
    season = told.season
    if not season.known:
        return unseen_line(told)
    of = f"{share(season.share)} of incidents and {percent(season.of_days)} of the days observed"
    quiet = f"{of} fall in {MONTHS[season.month - 1]} and the months beside it"
    return f"{quiet}{'' if season.clear else ': not surely quieter than the rest of the year'}."


def _lines(told: When, enough: list[str]) -> list[str]:
    """Return what else must be known of the times."""
    every = told.calendars[ALL]
    lines = [_quiet(told)]
    if (mean := told.hours.get(ALL)) is not None and mean.told:
        interval = f"{clock(mean.low)}–{clock(mean.high)}"
        lines.append(
            f"The mean time is {clock(mean.mean)}; 95 % interval of the mean, not of the calls: {interval}."
        )
    for name in enough:
        mean = told.hours.get(name)
        if mean is not None and mean.told:
            lines.append(f"{word(name)}: half between {quarters(mean)}, of {mean.n} incidents.")
    few = [name for name in told.calendars if name != ALL and name not in enough]
    if few:
        lines.append(
            f"Without a calendar, too few: {listed(f'{word(n)} {told.calendars[n].n}' for n in few)}."
        )
    if every.midnight > MANY_AT_MIDNIGHT * every.n:
        lines.append(
            f"{every.midnight} incidents are dated 00:00: dates without a time say nothing of hours."
        )
    return lines
