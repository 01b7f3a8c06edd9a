"""Hours in words, and the drawing of the next two days against positions reckoned by hand."""

from __future__ import annotations

import dataclasses
import re
from types import ModuleType

import pytest

from tests.maps.test_plan_page import Reader
from tussock.interval import Interval, Verdict
from tussock.maps.ground_sketch import GroundSketch
from tussock.maps.hours import clock, held_words, hours_lines, leave_words, release_words, sun_words
from tussock.maps.plan_page import plan_html
from tussock.maps.timeline import timeline
from tussock.planning.record import ClauseResult, ClockFacts, ClockLine, Plan

HOLD = ClauseResult(
    "7(a)", "max_holding_hours", "At most 12 hours.", "PX-0042", True, Verdict.MET,
    Interval(1.81, 2.56), 12.0, 9.4, "h", None, "holding",
)  # fmt: skip
DAY = ClauseResult(
    "7(b)", "release_window", "By daylight.", "PX-0042", True, Verdict.MET, words="the sun stands no lower"
)
FACTS = ClockFacts(
    "2026-11-22T05:29:40+11:00",
    "2026-11-21T20:23:50+11:00",
    (
        ClockLine("7(a)", "PX-0042", "", (("2026-11-21T18:10+11:00", "2026-11-22T04:20+11:00"),), 48.0),
        ClockLine(
            "7(b)", "PX-0042", "",
            (("2026-11-21T18:10+11:00", "2026-11-21T20:23+11:00"),
             ("2026-11-22T05:30+11:00", "2026-11-22T20:24+11:00")), 48.0,
        ),
    ),
    True,
)  # fmt: skip


@pytest.fixture(scope="module")
def timed(plan: Plan) -> Plan:
    """Give the made plan hours: now 16:45, the earliest release 18:10."""
    site = dataclasses.replace(
        plan.sites[0],
        release_from="2026-11-21T18:10:00+11:00",
        release_to="2026-11-21T18:55:00+11:00",
        deadline="2026-11-21T20:23:00+11:00",
        deadline_of="7(b)",
        leave_by="2026-11-21T20:11:47+11:00",
        drive_min=7.2,
        walk_min=4.0,
        consents=(("CN-3", "P-7"),),
        clauses=(*plan.sites[0].clauses, HOLD, DAY),
    )
    return dataclasses.replace(plan, sites=(site, *plan.sites[1:]), clock=FACTS)


def shown(text: str) -> str:
    return text.replace("\u202f", " ")


def test_hours_in_words_are_never_later_than_the_clock(timed: Plan) -> None:
    site = timed.sites[0]
    assert release_words(site) == "Release between 18:10 and 18:55"
    assert leave_words(site) == "At the latest leave by 20:11 and release by 20:23 (7(b), daylight)"
    # 1.81 h is said as 1.9: never less than it is
    assert [shown(w) for w in held_words(site)] == ["Held 1.9 h of 12 h at 18:10, 2.6 h at 18:55 (7(a))"]
    beside = site.release_from
    assert sun_words(FACTS, beside=beside) == "Sunset 20:23, sunrise 05:30 on 22 November"
    assert sun_words(FACTS, beside=beside, only_next=True) == "Sunset 20:23"
    assert hours_lines(site, FACTS)[0] == "Release between 18:10 and 18:55."


def test_another_day_and_another_offset_are_said() -> None:
    # in Hobart clocks go back from 03:00 to 02:00 on 5 April 2026 (IANA tz database): 02:30 comes twice
    assert clock("2026-04-05T02:30:00+10:00", beside="2026-04-05T01:00:00+11:00") == "02:30 (UTC+10:00)"
    assert clock("2026-04-05T02:30:00+11:00", beside="2026-04-05T01:00:00+11:00") == "02:30"
    assert clock("2026-11-22T05:29:40+11:00", beside="2026-11-21T18:10:00+11:00") == "05:29 on 22 November"
    assert clock("soon") == "soon"


def test_no_sun_is_no_error() -> None:
    assert sun_words(None, beside="") == ""
    assert sun_words(dataclasses.replace(FACTS, sunrise="", sunset=""), beside="").startswith("No sunrise")


def test_bars_stand_at_their_hours(timed: Plan) -> None:
    drawn = timeline(timed)
    found = re.findall(r'<rect class="bar-(one|all)" x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', drawn)
    # 330 units for 48 h from 16:45: 6.875 an hour. 18:10 is 1 h 25 min on, 04:20 11 h 35 min,
    # 20:23 3 h 38 min, 05:30 12 h 45 min, 20:24 27 h 39 min
    x = {"18:10": 9.74, "04:20": 79.64, "20:23": 24.98, "05:30": 87.66, "20:24": 190.09}
    wanted = [
        ("one", x["18:10"], x["04:20"]),
        ("one", x["18:10"], x["20:23"]),
        ("one", x["05:30"], x["20:24"]),
        ("all", x["18:10"], x["20:23"]),
    ]
    assert [kind for kind, _, _ in found] == [kind for kind, _, _ in wanted]
    ends = [end for _, a, w in found for end in (float(a), float(a) + float(w))]
    assert ends == pytest.approx([end for _, a, b in wanted for end in (a, b)], abs=0.11)
    assert float(re.findall(r'class="first" d="M([\d.]+)', drawn)[0]) == pytest.approx(9.7, abs=0.06)
    assert float(re.findall(r'class="now" d="M([\d.]+)', drawn)[0]) == 0.0
    # 18:00 is 1.25 h on; midnight, with its date, 7.25 h
    ticks = [float(v) for v in re.findall(r'class="tick[^"]*" d="M([\d.]+)', drawn)]
    assert ticks[:2] == [pytest.approx(8.6, abs=0.06), pytest.approx(49.8, abs=0.06)]
    assert ">22 Nov<" in drawn
    assert "Every clause of the clock allows 18:10 to 20:23 on 21 November" in drawn
    assert 'aria-label="7(a): ' in drawn


def test_night_lies_between_sunset_and_sunrise(timed: Plan) -> None:
    # at 42.9° S on 21 November the sun is down for about nine hours, 20:23 to 05:29 (from memory)
    nights = re.findall(r'<rect class="night" x="([\d.]+)"[^>]* width="([\d.]+)"', timeline(timed))
    x, wide = (float(v) for v in nights[0])
    assert x == pytest.approx(25, abs=0.5) and x + wide == pytest.approx(87.6, abs=0.5)
    assert len(nights) == 2


def test_nothing_in_common_is_said(timed: Plan) -> None:
    apart = dataclasses.replace(FACTS, lines=(FACTS.lines[0], dataclasses.replace(FACTS.lines[1], spans=())))
    drawn = timeline(dataclasses.replace(timed, clock=apart))
    assert "No time in the next two days meets every clause of the clock" in drawn
    assert "7(b): no time" in drawn
    assert 'class="bar-all"' not in drawn


def test_the_page_tells_hours_first(timed: Plan, ground: GroundSketch) -> None:
    text = Reader(plan_html(timed, ground)).text
    head = text[: text.index("Layers and legend")]
    assert "Release between 18:10 and 18:55." in head and "Sunset 20:23." in head
    card = text[text.index("Layers and legend") :]
    order = [
        "Release between",
        "At the latest leave by",
        "Held 1.9 h of 12 h",
        "Sunset",
        "Drive about 8 min",
        "Consent CN-3",
    ]
    places = [card.index(words) for words in order]
    assert places == sorted(places)
    assert "assumed" in card and "(P-7) covers it." in card


def test_a_plan_the_clock_has_stopped_draws_its_hours_and_leaves_lines_to_write_on(
    timed: Plan, ground: GroundSketch, made: ModuleType
) -> None:
    stopped = dataclasses.replace(
        made.without_sites(timed),
        stop=("No site: hours.", "The clock: it is 16:45."),
        circle_m=0.0,
        rasters=None,
    )
    page = plan_html(stopped, ground)
    text = Reader(page).text
    order = ["STOP", "No site is offered", "The way on", "Every clause of the clock allows", "Who was called"]
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    assert page.count('<input type="text"') == 3
    assert 'class="clockline"' not in plan_html(
        dataclasses.replace(stopped, stop=("It is injured.",)), ground
    )


def test_share_tells_neither_capture_nor_travel_by_the_clock(timed: Plan, ground: GroundSketch) -> None:
    # sun to the second gives a place, the end of a holding its beginning, travel the distance
    page = plan_html(timed, ground, share=True)
    assert "Release between 18:10 and 18:55" in Reader(page).text
    assert "At the latest leave by 20:10 and release by 20:20" in Reader(page).text
    for secret in (":40+11", ":50+11", "04:20", "CN-3", "P-7", "1.9"):
        assert secret not in page, secret
