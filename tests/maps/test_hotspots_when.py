"""What the page says of months and hours: for the days observed, and nothing of months that were not."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from tests.maps.test_hotspots_words import text_of
from tests.support.hotspots import made_hotspots
from tussock.cli.hotspots_show import lines
from tussock.hotspots.found import Hotspots, When
from tussock.hotspots.when import ALL, Calendar, season_year
from tussock.maps.hotspots_calendars import calendar_plot, months_plot
from tussock.maps.hotspots_when import hours_claim, months_claim, unseen_line, when

HALF = (0, 0, 0, 0, 0, 0, 31, 31, 30, 31, 30, 5)
"""From July to 5 December."""


@pytest.fixture(scope="module")
def found() -> Hotspots:
    return made_hotspots()[0]


def told(found: Hotspots, months: list[int], days: tuple[int, ...], *, first: int = 1) -> When:
    """Return a result with so many incidents at noon of each month."""
    assert found.when is not None
    counts = np.zeros((12, 24), dtype=np.int64)
    counts[:, 12] = months
    every = {ALL: Calendar(counts, 0)}
    season = season_year(months, days=days, first=first)
    return replace(found.when, calendars=every, days=days, season=season)


def test_the_busiest_month_is_for_the_days_observed(found: Hotspots) -> None:
    twice = told(found, [30] * 8 + [40, 60, 70, 60], (31, 28, 31, 30, 31, 30, 31, 31, 60, 62, 60, 31))
    # 60 in 31 days against 70 in 60
    assert months_claim(twice).startswith("December had most incidents, 58 per 30 days; the season year")


def test_a_tie_is_not_most(found: Hotspots) -> None:
    days = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    level = told(found, [1, 1, 1, 1, 1, 1, 1, 1, 1, 9, 1, 9], days)
    assert months_claim(level).startswith("October and December had most incidents alike, 8.7 per 30 days")
    same = told(found, list(days), days)
    assert months_claim(same).startswith("No month had most incidents for the days observed: 12 are level")


def test_months_not_observed_are_said_and_the_season_is_not_told(found: Hotspots) -> None:
    half = told(found, [0, 0, 0, 0, 0, 0, 3, 6, 9, 20, 25, 2], HALF, first=7)
    claim = months_claim(half)
    assert claim.startswith("Of the months observed, November had most incidents, 25 per 30 days; where the")
    assert "season year begins cannot be told" in claim and "begins in" not in claim
    said = text_of(when(replace(found, when=half)))
    assert "Months not observed: January, February, March, April, May and June; too short" in said
    assert "too short to tell: December (5 days)." in said
    assert unseen_line(half) in " ".join(" ".join(lines(replace(found, when=half))).split())
    assert "of incidents and" not in said and "fall in" not in said


def test_one_month_is_set_against_none(found: Hotspots) -> None:
    lone = told(found, [55, *[0] * 11], (20, *[0] * 11))
    assert months_claim(lone).startswith("No month is set against another")


def test_months_not_observed_are_drawn_as_such() -> None:
    counts = np.zeros((12, 24), dtype=np.int64)
    counts[6:11, 12] = (3, 6, 9, 20, 25)
    drawn = months_plot(Calendar(counts, 0), days=HALF, first=7, claim="x")
    assert drawn.count(">–<") == 7 and drawn.count('class="all"') == 5
    heard = re.findall(r'aria-label="([^"]*)"', drawn)[0]
    assert "January not observed" in heard and "November 25" in heard
    rows = calendar_plot("All", Calendar(counts, 0), days=HALF, first=7)
    assert rows.count(">not observed<") == 6 and rows.count(">too short to tell<") == 1


def test_even_is_by_the_days_of_each_month() -> None:
    """240 incidents: ten at each hour of December in 62 days, none else in 62: by hand 240 / 124 / 24 each.

    In 62 days an hour of an even month would have 5; Garwood's low end of 10 is 4.795, so none stands out.
    Were both months taken for two of twelve, even would be 240 / 288 = 0.8 and all stand out.
    """
    counts = np.zeros((12, 24), dtype=np.int64)
    counts[11] = 10
    days = (62, *[0] * 10, 62)
    assert "dot-full" not in calendar_plot("All", Calendar(counts, 0), days=days, first=12)
    short = calendar_plot("All", Calendar(counts, 0), days=(62, *[0] * 10, 31), first=12)
    # 240 / 93 / 24 × 31 = 3.33 an hour of December
    assert short.count("dot-full") == 24
    assert "surely more than 3.2 in 30 days" in text_of(short)


def test_hours_are_told_by_their_spread_first(found: Hotspots) -> None:
    assert found.when is not None
    mean = found.when.hours[ALL]
    assert mean.told
    claim = hours_claim(found.when)
    ends = re.fullmatch(r"Half of the incidents began between (\d+):(\d\d) and (\d+):(\d\d)", claim)
    assert ends is not None
    a, b, c, d = map(int, ends.groups())
    times = [(i.time.astimezone(found.asked.zone)) for i in found.incidents.items]
    hours = np.array([t.hour + t.minute / 60 for t in times])
    inside = (hours >= a + b / 60 - 1 / 60) & (hours <= c + d / 60 + 1 / 60)
    assert inside.mean() == pytest.approx(0.5, abs=0.02)
    said = text_of(when(found))
    assert "95 % interval of the mean, not of the calls" in said and "come about" not in said
