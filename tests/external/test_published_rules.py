"""Published rules as permit files, each with cases just inside and just outside, before and after.

Sources, URLs and whether they were read stand in the files of ``published_rules``. Limits are computed by
hand in the comments here; places come from geographiclib, clock changes from the IANA data as printed.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
import shapely

from tests.external.test_forty_acres import ACRE_M2, square
from tests.support import cases
from tests.support.regions import Thing
from tests.support.rules import FOLDER, SPOT, Affair, away, published
from tussock.geodesy import Plane
from tussock.interval import Verdict
from tussock.permit.capture_book import BookedCapture
from tussock.permit.permit_file import read_permit
from tussock.review.judged import Book, judge_record
from tussock.species.animal import Condition, FoundIn, Origin
from tussock.species.traits import ActivePeriod

MET, NOT_MET, UNCERTAIN, MISSING = Verdict.MET, Verdict.NOT_MET, Verdict.UNCERTAIN, Verdict.MISSING
MELBOURNE, PERTH, BRISBANE = Plane(145.0, -37.8), Plane(115.9, -32.0), Plane(153.0, -27.5)
FLORIDA, ONTARIO, VANCOUVER = Plane(-81.4, 28.5), Plane(-79.4, 43.7), Plane(-119.5, 49.3)
ADELAIDE, CALIFORNIA = Plane(138.6, -34.9), Plane(-119.8, 36.7)
SNAKE = cases.profile(scientific_name="Notechis scutatus", active_period=ActivePeriod.DIURNAL)


def box(west: float, south: float, east: float, north: float, name: str = "", **more: Any) -> Thing:
    """Return a rectangle in the plane [m]."""
    return Thing(shapely.box(west, south, east, north), id=name, **more)


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda p: p.stem)
def test_every_file_says_what_it_is_and_where_from(path: Any) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# For tests; not law, not current")
    assert any(status in text for status in ("SEEN", "SEEN-2nd", "MEM"))
    assert not read_permit(path).warnings


# Victoria -------------------------------------------------------------------------------------------------


def victoria(captured: str, now: str, release_at: str | None = None, *ids: str) -> Affair:
    return Affair(
        (published("victoria", *(ids or ("12 day",))),), captured, now, release_at,
        plane=MELBOURNE, animal=cases.animal(SNAKE),
    )  # fmt: skip


# captured (+11, summer), planned from, the last minute offered (UTC; "" no site)
#  14:00 → the day ends at 24:00, so 23:59 = 12:59 UTC
#  22:59 → not after 23:00: the day's end as well
#  23:30 → 2 h: 01:30 on the 15th = 14:30 UTC of the 14th
#  23:59:30 → 01:59:30, the last whole minute 01:59
#  00:00:30 → the day has just begun: 23:59
DAYS = [
    ("2026-11-14T14:00", "2026-11-14T23:30", "2026-11-14T12:59:00+00:00"),
    ("2026-11-14T14:00", "2026-11-15T00:00", ""),
    ("2026-11-14T22:59", "2026-11-14T23:30", "2026-11-14T12:59:00+00:00"),
    ("2026-11-14T22:59", "2026-11-15T00:29", ""),
    ("2026-11-14T23:30", "2026-11-15T00:29", "2026-11-14T14:14:00+00:00"),  # a stay of 45 min
    ("2026-11-14T23:30", "2026-11-15T01:00", "2026-11-14T14:30:00+00:00"),
    ("2026-11-14T23:30", "2026-11-15T01:31", ""),
    ("2026-11-14T23:59:30", "2026-11-15T01:40", "2026-11-14T14:59:00+00:00"),
    ("2026-11-15T00:00:30", "2026-11-15T23:30", "2026-11-15T12:59:00+00:00"),
    ("2026-11-15T00:00:30", "2026-11-16T00:00", ""),
]


@pytest.mark.parametrize(("captured", "release_at", "last"), DAYS)
def test_victoria_the_calendar_day_beforehand(captured: str, release_at: str, last: str) -> None:
    told = victoria(captured, captured, release_at)
    assert told.offered is bool(last)
    if last:
        assert told.hours[1] == last
        assert told.before("12 day") is MET
        for moment in told.hours:
            assert told.after("12 day", moment).verdict is MET
    else:
        assert told.after("12 day", release_at).verdict is NOT_MET
        assert "12 day" in " ".join(told.plan.stop)


@pytest.mark.parametrize(
    ("captured", "released", "verdict"),
    [
        ("2026-11-14T14:00", "2026-11-14T23:59:59", MET),
        ("2026-11-14T14:00", "2026-11-15T00:00:00", NOT_MET),  # midnight is of the next date
        ("2026-11-14T23:00", "2026-11-15T00:00:00", NOT_MET),  # 23:00 is not after 23:00
        ("2026-11-14T23:30", "2026-11-15T00:29", MET),
        ("2026-11-14T23:30", "2026-11-15T01:30", MET),
        ("2026-11-14T23:30", "2026-11-15T01:31", NOT_MET),
        ("2026-11-14T23:59:30", "2026-11-15T01:59:30", MET),
        ("2026-11-14T23:59:30", "2026-11-15T01:59:32", NOT_MET),
        ("2026-11-15T00:00:30", "2026-11-15T23:59:59", MET),
        ("2026-11-15T00:00:30", "2026-11-16T00:00:01", NOT_MET),
        # the same instants written with another offset
        ("2026-11-14T12:30:00+00:00", "2026-11-14T14:30:00+00:00", MET),
        ("2026-11-14T12:30:00+00:00", "2026-11-15T00:31:00+10:00", NOT_MET),
        # 4 April 2026: the clocks go back at 03:00 on the 5th; 2 h from 23:30 end at 01:30, before it
        ("2026-04-04T23:30", "2026-04-05T01:30", MET),
        ("2026-04-04T23:30", "2026-04-05T01:31", NOT_MET),
    ],
)
def test_victoria_the_calendar_day_afterwards(captured: str, released: str, verdict: Verdict) -> None:
    assert victoria(captured, captured).after("12 day", released).verdict is verdict


def test_victoria_an_open_capture_counts_to_now() -> None:
    told = victoria("2026-11-14T14:00", "2026-11-14T14:00")
    assert told.after("12 day", None, book_now="2026-11-14T23:00").verdict is None
    assert told.after("12 day", None, book_now="2026-11-15T08:00").verdict is NOT_MET


@pytest.mark.parametrize(
    ("checks", "verdict"),
    [
        (("12:00", "14:00"), MET),  # gaps of 2 h, 2 h and 1 h
        (("12:00", "14:00:01"), MET),  # to a second
        (("12:00", "14:01"), NOT_MET),
        (("12:30",), NOT_MET),
        ((), NOT_MET),
        (None, MISSING),
    ],
)
def test_victoria_looked_at_every_two_hours(checks: tuple[str, ...] | None, verdict: Verdict) -> None:
    told = victoria("2026-11-14T10:00", "2026-11-14T10:00", None, "122 checks")
    assert told.offered  # a to-do for the person
    assert any(t.startswith("122 checks") for t in told.plan.sites[0].todo)
    at = None if checks is None else tuple(told.moment(f"2026-11-14T{c}") for c in checks)
    assert told.after("122 checks", "2026-11-14T15:00", checks=at).verdict is verdict
    assert told.after("122 checks", "2026-11-14T12:00", checks=None).verdict is MET  # none was due


@pytest.mark.parametrize(
    ("name", "verdict"),
    [("Notechis scutatus", MET), ("Austrelaps ramsayi", MET), ("Varanus varius", NOT_MET)],
)
def test_victoria_only_listed_species(name: str, verdict: Verdict) -> None:
    told = replace(
        victoria("2026-11-14T10:00", "2026-11-14T10:00", None, "12 species"),
        animal=cases.animal(replace(SNAKE, scientific_name=name)),
    )
    assert told.offered is (verdict is MET)
    assert told.after("12 species", "2026-11-14T11:00").verdict is verdict


def test_victoria_whole() -> None:
    """Every clause together: beforehand three to-dos, afterwards all met, and one answer short."""
    told = replace(victoria("2026-11-14T10:00", "2026-11-14T10:00"), permits=(published("victoria"),))
    assert told.offered
    site = told.plan.sites[0]
    assert (site.checked, site.confirm, site.not_checked) == (2, 3, 1)
    done: dict[str, Any] = {
        "handlers": ("n. o.  body",),
        "answers": {told.permits[0].id: {"122 label": "yes"}},
    }
    assert told.judged(told.hours[0], **done).verdict is MET
    assert told.judged(told.hours[0], **(done | {"answers": {}})).verdict is MISSING
    assert told.judged(told.hours[0], **(done | {"handlers": ("A. Stranger",)})).verdict is NOT_MET


# Florida --------------------------------------------------------------------------------------------------


def property_of(acres: float) -> Thing:
    """Return a square property with the place in it, 200 m from its west and south sides."""
    shape = shapely.transform(square(FLORIDA, acres * ACRE_M2), lambda xy: xy - 200.0)
    return Thing(shape, id="p")


def florida(*ids: str, **more: Any) -> Affair:
    base: dict[str, Any] = {
        "captured": "2026-06-10T10:00",
        "now": "2026-06-10T10:00",
        "plane": FLORIDA,
        "layers": {"parcels": (property_of(50),), "counties": (box(-9000, -9000, 9000, 9000, "A"),)},
        "consents": (cases.consent("1", parcels="p"),),
    }
    return Affair((published("florida", *ids),), **(base | more))


@pytest.mark.parametrize(
    ("captured", "end"),
    [
        ("2026-06-10T10:00", "2026-06-11T14:00:00+00:00"),  # 10:00 EDT = 14:00 UTC
        # clocks go forward on 8 March 2026: 20:00 EST = 01:00 UTC, the next day's 21:00 EDT
        ("2026-03-07T20:00", "2026-03-09T01:00:00+00:00"),
        # clocks go back on 1 November 2026: 20:00 EDT = 00:00 UTC, the next day's 19:00 EST
        ("2026-10-31T20:00", "2026-11-02T00:00:00+00:00"),
        # between the two 01:30s of that night: the first is 05:30 UTC, 24 h end at 00:30 EST
        ("2026-11-01T01:30:00-04:00", "2026-11-02T05:30:00+00:00"),
        ("2026-11-01T01:30:00-05:00", "2026-11-02T06:30:00+00:00"),
    ],
)
def test_florida_and_ontario_24_elapsed_hours(captured: str, end: str) -> None:
    base = florida("24 hours", captured=captured, now=captured)
    ontario = replace(base, permits=(published("ontario", "24 hours"),))
    for told in (base, ontario):
        stop = told.moment(end)
        late = replace(told, release_at=(stop - timedelta(minutes=20)).isoformat())
        assert late.offered and late.hours[1] == end
        assert late.plan.sites[0].deadline_of == "24 hours"
        gone = replace(told, release_at=(stop + timedelta(minutes=1)).isoformat())
        assert not gone.offered
        for seconds, verdict in ((-1, MET), (0, MET), (2, NOT_MET), (60, NOT_MET)):
            at = (stop + timedelta(seconds=seconds)).isoformat()
            assert told.after("24 hours", at).verdict is verdict


def test_florida_counts_from_the_trap_check() -> None:
    """Found at 10:00 in a trap that was checked at 07:00: 24 h end at 07:00 the next day, 11:00 UTC."""
    trapped = replace(cases.animal(), found_in=FoundIn.TRAP_OR_NETTING)
    told = florida("24 hours", animal=trapped, trap_checked="2026-06-10T07:00", release_at="2026-06-11T06:50")
    assert told.offered and told.hours[1] == "2026-06-11T11:00:00+00:00"
    assert not replace(told, release_at="2026-06-11T07:01").offered
    assert told.after("24 hours", "2026-06-11T07:00").verdict is MET
    assert told.after("24 hours", "2026-06-11T07:01").verdict is NOT_MET
    unknown = replace(told, trap_checked=None)
    assert not unknown.offered and "trapCheckDate" in " ".join(unknown.plan.stop)
    assert unknown.after("24 hours", "2026-06-10T11:00").verdict is MISSING


# 40 acres are 16.18742569 ha: 16.18 ha are 39.982 acres, 16.19 ha are 40.006 acres
@pytest.mark.parametrize(("hectares", "verdict"), [(16.18, NOT_MET), (16.187, NOT_MET), (16.19, MET)])
def test_florida_40_contiguous_acres(hectares: float, verdict: Verdict) -> None:
    layers = {"parcels": (property_of(hectares * 1e4 / ACRE_M2),)}
    told = florida("40 acres", layers=layers)
    assert told.offered is (verdict is MET)
    assert told.after("40 acres", "2026-06-10T11:00").verdict is verdict


def test_florida_two_properties_count_under_one_consent_only() -> None:
    """Two neighbours of 25 acres each: 50 acres under one consent, 25 under one of two."""
    west, east = box(-290, -174.5, 27 + 0, 174.5, "w"), box(27, -174.5, 344, 174.5, "e")  # 11.06 ha each
    layers = {"parcels": (west, east)}
    joined = florida("40 acres", layers=layers, consents=(cases.consent("1", parcels="w|e"),))
    apart = replace(joined, consents=(cases.consent("1", parcels="w"), cases.consent("2", parcels="e")))
    for told, verdict in ((joined, MET), (apart, NOT_MET)):
        # the disc of 5 m lies in the western one alone
        found = told.after("40 acres", "2026-06-10T11:00", radius_m=5.0)
        assert found.verdict is verdict, found


# the disc of 30 m round x = 5 reaches 34.9999 m to 35.0001 m (the plane's scale is 1 at its axis)
@pytest.mark.parametrize(
    ("border", "offered", "small_disc"),
    [
        (35.01, True, MET),
        (34.9, False, MET),
        (12.0, False, MET),
        (8.0, False, UNCERTAIN),
        (-1.0, False, NOT_MET),
    ],
)
def test_florida_the_county_of_the_capture(border: float, offered: bool, small_disc: Verdict) -> None:
    """The capture lies 100 m west of the place; the county's border runs north and south, east of it."""
    counties = (box(-9000, -9000, border, 9000, "A"), box(border, -9000, 9000, 9000, "B"))
    told = florida("county", layers={"counties": counties}, azimuth=270.0)
    assert told.offered is offered
    verdict = MET if offered else NOT_MET if border < -25 else UNCERTAIN
    assert told.after("county", "2026-06-10T11:00").verdict is verdict
    assert told.after("county", "2026-06-10T11:00", radius_m=5.0).verdict is small_disc


@pytest.mark.parametrize(
    ("changes", "planned", "verdict"),
    [
        ({}, True, MET),
        ({"written": False}, False, NOT_MET),
        ({"written": None}, False, NOT_MET),
        ({"valid_from": date(2026, 6, 11)}, False, NOT_MET),
        ({"valid_to": date(2026, 6, 10)}, True, MET),
        ({"valid_to": date(2026, 6, 9)}, False, NOT_MET),
        ({"withdrawn_on": date(2026, 6, 10)}, False, NOT_MET),
        ({"withdrawn_on": date(2026, 6, 11)}, True, MET),
        ({"species": ("Another species",)}, False, NOT_MET),
    ],
)
def test_florida_written_permission(changes: dict[str, Any], planned: bool, verdict: Verdict) -> None:
    leave = replace(cases.consent("1", parcels="p"), **changes)
    told = florida("permission", consents=(leave,))
    assert told.offered is planned
    assert bool(told.plan.needs_consent) is not planned
    assert told.after("permission", "2026-06-10T11:00").verdict is verdict


@pytest.mark.parametrize("origin", [Origin.EXOTIC, Origin.POSSIBLE_ESCAPEE])
def test_florida_native_only(origin: Origin) -> None:
    told = florida("native", animal=replace(cases.animal(), origin=origin))
    assert not told.offered and told.plan.way_on
    assert told.after("native", "2026-06-10T11:00").verdict is NOT_MET
    assert florida("native").after("native", "2026-06-10T11:00").verdict is MET


def test_florida_whole() -> None:
    told = florida()
    assert told.offered
    done: dict[str, Any] = {"answers": {told.permits[0].id: {"quarantine": "yes"}}}
    assert told.judged(told.hours[1], **done).verdict is MET
    put_down = told.judged(told.hours[1], disposal="euthanased", let_go_at=None, **done)
    assert put_down.verdict is MET  # a way that the rule allows, and in time
    escaped = told.judged(told.hours[1], disposal="escaped", let_go_at=None, **done)
    assert {r.id for r in escaped.results if r.verdict is NOT_MET} == {"end"}


# Ontario --------------------------------------------------------------------------------------------------


# 1,000 m less the radii of 5 m and 30 m: 965 m between the centres
@pytest.mark.parametrize(
    ("metres", "verdict"), [(964.9, MET), (965.1, UNCERTAIN), (1034.9, UNCERTAIN), (1035.1, NOT_MET)]
)
@pytest.mark.parametrize("azimuth", [0.0, 63.0, 270.0])
def test_ontario_one_kilometre(metres: float, azimuth: float, verdict: Verdict) -> None:
    told = Affair(
        (published("ontario", "1 km"),), "2026-06-10T10:00", "2026-06-10T10:00",
        plane=ONTARIO, metres=metres, azimuth=azimuth,
    )  # fmt: skip
    assert told.offered is (verdict is MET)
    assert told.after("1 km", "2026-06-10T11:00").verdict is verdict


# both radii 0.05 m: 1,000 m ± 0.1 m
@pytest.mark.parametrize(
    ("metres", "verdict"), [(999.9, MET), (999.95, UNCERTAIN), (1000.05, UNCERTAIN), (1000.11, NOT_MET)]
)
def test_ontario_one_kilometre_by_a_survey(metres: float, verdict: Verdict) -> None:
    told = Affair(
        (published("ontario"),), "2026-06-10T10:00", "2026-06-10T10:00",
        plane=ONTARIO, metres=metres, radius_m=0.05,
    )  # fmt: skip
    assert told.after("1 km", "2026-06-10T11:00", radius_m=0.05).verdict is verdict


# Queensland code ------------------------------------------------------------------------------------------


def queensland(*ids: str, **more: Any) -> Affair:
    base: dict[str, Any] = {
        "captured": "2024-06-21T05:00",
        "now": "2024-06-21T05:00",
        "plane": BRISBANE,
        "animal": cases.animal(SNAKE),
    }
    return Affair((published("queensland_code", *ids),), **(base | more))


# Brisbane 2024-06-21 (domain-facts 4k, CALC): sunrise 06:37:36, sunset 17:01:51 at 153.0251 E 27.4698 S.
# The place lies 2.5 km west and 3.4 km south: 6 s later by longitude (240 s a degree), about 5 s by latitude.
@pytest.mark.parametrize(
    ("period", "clock", "offered"),
    [
        (ActivePeriod.DIURNAL, "05:45", False),  # a stay of 45 min ends at 06:30
        (ActivePeriod.DIURNAL, "06:39", True),
        (ActivePeriod.DIURNAL, "17:00", True),
        (ActivePeriod.DIURNAL, "17:03", False),
        (ActivePeriod.NOCTURNAL, "16:10", False),
        (ActivePeriod.NOCTURNAL, "17:03", True),
        (ActivePeriod.NOCTURNAL, "06:36", True),
        (ActivePeriod.NOCTURNAL, "06:39", False),
    ],
)
def test_queensland_the_active_period(period: ActivePeriod, clock: str, offered: bool) -> None:
    told = queensland(
        "2 active",
        animal=cases.animal(replace(SNAKE, active_period=period)),
        release_at=f"2024-06-21T{clock}",
    )
    assert told.offered is offered
    if offered:
        assert all(told.after("2 active", t).verdict is MET for t in told.hours)
    else:
        assert told.after("2 active", f"2024-06-21T{clock}").verdict is NOT_MET


def test_queensland_the_windows_end_with_the_sun() -> None:
    """A stay from 16:30 is cut at sunset, 17:01 and some seconds: 07:01 or 07:02 UTC."""
    told = queensland("2 active", release_at="2024-06-21T16:30")
    assert told.offered and told.hours[1] in ("2024-06-21T07:01:00+00:00", "2024-06-21T07:02:00+00:00")


def test_queensland_a_species_of_unknown_habits_gets_no_site() -> None:
    animal = cases.animal(replace(SNAKE, active_period=None))
    told = queensland("2 active", animal=animal, release_at="2024-06-21T12:00")
    assert not told.offered and "active period" in " ".join(told.plan.stop)
    assert told.after("2 active", "2024-06-21T12:00").verdict is MISSING


# a road as a line north and south; 25 m and the disc's 30 m: at 55 m from the place
@pytest.mark.parametrize(
    ("metres", "verdict"), [(55.01, MET), (54.99, UNCERTAIN), (-0.1, UNCERTAIN), (-5.0, UNCERTAIN)]
)
def test_queensland_a_roadside_by_a_number_of_ones_own(metres: float, verdict: Verdict) -> None:
    road = Thing(shapely.LineString([(SPOT[0] + metres, -900), (SPOT[0] + metres, 900)]), "residential", "r")
    told = queensland("4b metres", layers={"roads": (road,)}, release_at="2024-06-21T12:00")
    assert told.offered is (verdict is MET)
    assert told.after("4b metres", "2024-06-21T12:10").verdict is verdict


def test_queensland_beside_the_road_with_a_small_disc() -> None:
    """At 10 m, a disc of 5 m: at most 15 m, below 25 m."""
    road = Thing(shapely.LineString([(15, -900), (15, 900)]), "residential", "r")
    told = queensland("4b metres", layers={"roads": (road,)})
    assert told.after("4b metres", "2024-06-21T12:10", radius_m=5.0).verdict is NOT_MET


def clearing(first: date | None, last: date | None) -> dict[str, tuple[Thing, ...]]:
    return {"clearing": (box(0, -50, 400, 50, "c", valid_from=first, valid_to=last),)}


@pytest.mark.parametrize(
    ("first", "last", "offered"),
    [
        (date(2024, 6, 21), date(2024, 9, 1), False),  # approved that day
        (date(2024, 6, 22), date(2024, 9, 1), True),  # not yet
        (date(2024, 3, 1), date(2024, 6, 20), True),  # lapsed the day before
        (date(2024, 3, 1), date(2024, 6, 21), False),
        (None, None, False),
    ],
)
def test_queensland_pending_clearing(first: date | None, last: date | None, offered: bool) -> None:
    told = queensland("4c clearing", layers=clearing(first, last), release_at="2024-06-21T12:00")
    assert told.offered is offered
    verdict = told.after("4c clearing", "2024-06-21T12:10").verdict
    assert (verdict is MET) is offered
    # let go right in it: 5 m off its edge
    inside = told.after("4c clearing", "2024-06-21T12:10", radius_m=1.0).verdict
    assert inside is (MET if offered else NOT_MET)


PARK = box(-400, -400, 400, 400, "park 1")
APPROVAL = cases.consent("a", layer="protected", feature="park 1")


@pytest.mark.parametrize(
    ("metres", "consents", "offered"),
    [
        (100.0, (APPROVAL,), True),  # from the park, with approval
        (100.0, (), False),  # without
        (100.0, (cases.consent("a", layer="protected", feature="park 2"),), False),  # for another park
        (100.0, (replace(APPROVAL, valid_from=date(2024, 6, 22)),), False),  # given the day after
        (100.0, (replace(APPROVAL, withdrawn_on=date(2024, 6, 21)),), False),
        (600.0, (APPROVAL,), False),  # taken outside it
        (407.0, (APPROVAL,), False),  # 2 m inside or 12 m outside: it need not have come from there
    ],
)
def test_queensland_national_parks(metres: float, consents: tuple[Any, ...], offered: bool) -> None:
    told = queensland(
        "7 park", layers={"protected": (PARK,)}, metres=metres, azimuth=270.0, consents=consents,
        release_at="2024-06-21T12:00",
    )  # fmt: skip
    assert told.offered is offered
    assert (told.after("7 park", "2024-06-21T12:10").verdict is MET) is offered


def test_queensland_not_into_a_park_but_beside_it() -> None:
    """The park's edge at 30.1 m from the place and at 29.9 m, along its row."""
    for gap, offered in ((30.1, True), (29.9, False)):
        park = box(SPOT[0] + gap, -400, 800, 400, "park 1")
        told = queensland(
            "7 park", layers={"protected": (park,)}, azimuth=270.0, release_at="2024-06-21T12:00"
        )
        assert told.offered is offered


def test_queensland_as_near_as_possible() -> None:
    """Judged when the plan is made; afterwards only where the release lies in the planned disc."""
    told = queensland("6 nearest", release_at="2024-06-21T12:00")
    assert told.offered and told.before("6 nearest") is MET
    planned = told.as_planned()
    assert told.after("6 nearest", "2024-06-21T12:10", planned=planned).verdict is MET
    assert told.after("6 nearest", "2024-06-21T12:10").verdict is MISSING
    beyond = told.after("6 nearest", "2024-06-21T12:10", planned=planned, radius_m=31.0)
    assert beyond.verdict is MISSING and "beyond the planned disc" in str(beyond.reason)


def test_queensland_what_only_a_person_can_see() -> None:
    ids = ("1 weather", "4a suitable", "4b hazard")
    told = queensland(*ids, release_at="2024-06-21T12:00")
    assert told.offered and told.plan.sites[0].confirm == 3
    name = told.permits[0].id
    for answer, verdict in (("yes", MET), ("no", NOT_MET), ("unclear", MISSING), ("", MISSING)):
        answers = {name: dict.fromkeys(ids, "yes") | {"4b hazard": answer}}
        assert told.after("4b hazard", "2024-06-21T12:10", answers=answers).verdict is verdict
        assert told.judged("2024-06-21T12:10", answers=answers).verdict is verdict
    # the answers of another permit are no answers
    other = {"another": dict.fromkeys(ids, "yes")}
    assert told.judged("2024-06-21T12:10", answers=other).verdict is MISSING


# South Australia ------------------------------------------------------------------------------------------


def south_australia(**more: Any) -> Affair:
    base: dict[str, Any] = {"captured": "2026-04-03T20:00", "now": "2026-04-03T20:00", "plane": ADELAIDE}
    return Affair((published("south_australia"),), **(base | more))


# released 2026-04-03 22:00 (+10:30); clocks go back on 5 April at 03:00: 48 h end at 21:00 (+09:30)
@pytest.mark.parametrize(
    ("recorded", "verdict"),
    [
        ("2026-04-05T20:59", MET),
        ("2026-04-05T21:00", MET),
        ("2026-04-05T21:01", NOT_MET),
        ("2026-04-03T21:00", MISSING),  # written before it happened: contradictory
        (None, MISSING),
    ],
)
def test_south_australia_entered_within_48_hours(recorded: str | None, verdict: Verdict) -> None:
    told = south_australia()
    assert told.offered and any(t.startswith("16") for t in told.plan.sites[0].todo)
    at = None if recorded is None else told.moment(recorded)
    assert told.after("16", "2026-04-03T22:00", recorded=at).verdict is verdict


def test_south_australia_the_report_is_no_matter_of_a_release() -> None:
    told = south_australia()
    assert told.before("49 report") is None
    assert told.after("49 report", "2026-04-03T22:00").verdict is None
    assert told.judged("2026-04-03T22:00", recorded=told.moment("2026-04-04T08:00")).verdict is MET


def test_south_australia_after_the_permit_ended() -> None:
    """Its last day is 30 June: the last minute is 23:59, and nothing is offered on 1 July."""
    last = south_australia(captured="2026-06-30T22:00", now="2026-06-30T22:00", release_at="2026-06-30T23:30")
    assert last.offered and last.hours[1] == "2026-06-30T14:29:00+00:00"  # 23:59 + 09:30
    assert last.plan.sites[0].deadline_of == "the permit's version"
    after = replace(last, release_at="2026-07-01T00:01")
    assert not after.offered and after.plan.exit_code == 1
    assert "no version in force on 2026-07-01" in " ".join(after.plan.stop)
    judged = last.judged("2026-07-01T00:01")
    assert judged.gaps and judged.disposal == ""
    assert judged.verdict is not MET


# Western Australia, 1970 ----------------------------------------------------------------------------------


def western(*ids: str, **more: Any) -> Affair:
    base: dict[str, Any] = {
        "captured": "2026-11-14T10:00",
        "now": "2026-11-14T10:00",
        "plane": PERTH,
        "layers": {"permit_area": (box(-500, -500, 500, 500, "a"),)},
        "animal": cases.animal(SNAKE),
    }
    return Affair((published("western_australia_1970", *ids),), **(base | more))


@pytest.mark.parametrize(("before", "verdict"), [(0, MET), (2, MET), (3, NOT_MET)])
def test_western_australia_number(before: int, verdict: Verdict) -> None:
    """Three in a calendar month; those of 31 October (local) do not count, 23:59 is 15:59 UTC."""
    told = western("i number")
    assert told.offered
    booked = [
        BookedCapture(told.moment(f"2026-11-{3 + k:02d}T09:00"), "Notechis scutatus", 1, f"b{k}")
        for k in range(before)
    ]
    booked.append(BookedCapture(told.moment("2026-10-31T23:59"), "Notechis scutatus", 5, "october"))
    record = told.record("2026-11-14T11:00")
    book = Book(told.moment("2026-11-14T12:00"), captures=tuple(booked))
    found = judge_record(record, told.permits[0], told.region, book)
    assert found.verdict is verdict
    unknown = judge_record(record, told.permits[0], told.region, replace(book, captures=None))
    assert unknown.verdict is MISSING


def test_western_australia_species_and_persons() -> None:
    told = western("i species", "ii persons")
    assert told.offered
    assert told.judged("2026-11-14T11:00", handlers=("A. Nother | N. O. Body",)).verdict is MET
    assert told.judged("2026-11-14T11:00", handlers=("A. Nother | B. Stranger",)).verdict is NOT_MET
    assert told.judged("2026-11-14T11:00").verdict is MISSING
    wrong = replace(told, animal=cases.animal(replace(SNAKE, scientific_name="Suta fasciata")))
    assert not wrong.offered
    assert wrong.after("i species", "2026-11-14T11:00").verdict is NOT_MET


# the area's west side at −500 m: the capture's disc of 5 m is inside to x = −495
@pytest.mark.parametrize(
    ("metres", "verdict"), [(499.9, MET), (500.1, UNCERTAIN), (509.9, UNCERTAIN), (510.1, NOT_MET)]
)
def test_western_australia_area_of_taking_and_release(metres: float, verdict: Verdict) -> None:
    told = western("iii area", metres=metres, azimuth=270.0)
    assert told.offered is (verdict is MET)
    assert told.after("iii area", "2026-11-14T11:00").verdict is verdict


@pytest.mark.parametrize(
    ("release_at", "first", "last"),
    [
        ("2026-11-14T19:30", "2026-11-14T11:30:00+00:00", "2026-11-14T12:00:00+00:00"),
        ("2026-11-14T20:00:30", "", ""),
        ("2026-11-15T05:10", "", ""),  # the stay of 45 min ends at 05:55
        ("2026-11-15T05:30", "2026-11-14T22:00:00+00:00", "2026-11-14T22:15:00+00:00"),
    ],
)
def test_western_australia_time_of_day(release_at: str, first: str, last: str) -> None:
    told = western("iv hours", release_at=release_at)
    assert told.offered is bool(first)
    if first:
        assert told.hours == (first, last)
        assert all(told.after("iv hours", t).verdict is MET for t in told.hours)
    else:
        assert told.after("iv hours", release_at).verdict is NOT_MET
    to_a_vet = told.after("iv hours", "2026-11-15T03:00", disposal="vet_or_carer", let_go_at=None)
    assert to_a_vet.verdict is None and not to_a_vet.applies


# six hours in June, July and August; the month is that of the release
@pytest.mark.parametrize(
    ("captured", "released", "verdict"),
    [
        ("2026-05-31T20:00", "2026-06-01T01:50", MET),
        ("2026-05-31T20:00", "2026-06-01T02:01", NOT_MET),
        ("2026-05-31T10:00", "2026-05-31T22:00", None),
        ("2026-08-31T20:00", "2026-09-01T08:00", None),
    ],
)
def test_western_australia_a_season(captured: str, released: str, verdict: Verdict | None) -> None:
    told = western("iv winter", captured=captured, now=captured, release_at=released)
    assert told.offered is (verdict is not NOT_MET)
    assert told.after("iv winter", released).verdict is verdict
    if verdict is MET:
        assert told.hours[1] == "2026-05-31T18:00:00+00:00"  # 02:00 +8
        assert told.after("iv winter", "2026-06-01T02:00").verdict is MET


@pytest.mark.parametrize(
    ("disposal", "verdict"),
    [("released", MET), ("vet_or_carer", MET), ("authority", NOT_MET), ("died", NOT_MET), ("", MISSING)],
)
def test_western_australia_disposal(disposal: str, verdict: Verdict) -> None:
    told = western("v disposal")
    place: dict[str, Any] = {} if disposal == "released" else {"let_go_at": None}
    assert told.after("v disposal", "2026-11-14T11:00", disposal=disposal, **place).verdict is verdict


def test_western_australia_fields_and_return() -> None:
    told = western("vi fields", "vi return")
    full = {"eventDate": "2026-11-14", "scientificName": "Notechis scutatus", "recordedBy": "N. O. Body"}
    assert told.judged("2026-11-14T11:00", columns=full).verdict is MET
    assert told.judged("2026-11-14T11:00", columns={**full, "recordedBy": " "}).verdict is NOT_MET
    assert told.after("vi return", "2026-11-14T11:00").verdict is None


def test_western_australia_whole() -> None:
    told = western()
    assert told.offered
    columns = {"eventDate": "2026-11-14", "scientificName": "Notechis scutatus", "recordedBy": "N. O. Body"}
    found = told.judged(
        told.hours[0], columns=columns, handlers=("N. O. Body",),
        answers={told.permits[0].id: {"iv manner": "yes"}},
    )  # fmt: skip
    assert found.verdict is MET


# British Columbia -----------------------------------------------------------------------------------------


# a den as a point, with the disc of 30 m: 1,030 m; as placed by geographiclib
@pytest.mark.parametrize(
    ("metres", "verdict"),
    [(1030.1, MET), (1029.9, UNCERTAIN), (970.1, UNCERTAIN), (969.9, NOT_MET)],
)
@pytest.mark.parametrize("azimuth", [10.0, 135.0])
def test_british_columbia_communal_dens(metres: float, azimuth: float, verdict: Verdict) -> None:
    told = Affair(
        (published("british_columbia", "dens"),), "2026-06-10T10:00", "2026-06-10T10:00", plane=VANCOUVER
    )
    lon, lat = away(*told.spot, metres=metres, azimuth=azimuth)
    x, y = VANCOUVER.project(lon, lat)
    told = replace(told, layers={"dens": (Thing(shapely.Point(float(x), float(y)), id="d"),)})
    assert told.offered is (verdict is MET)
    assert told.after("dens", "2026-06-10T11:00").verdict is verdict


def test_british_columbia_outside_the_active_season() -> None:
    """31 October and 1 November; in April to October nothing is asked."""
    for day, asked in (
        ("2026-10-31", False),
        ("2026-11-01", True),
        ("2026-03-31", True),
        ("2026-04-01", False),
    ):
        told = Affair(
            (published("british_columbia", "season"),), f"{day}T10:00", f"{day}T10:00", plane=VANCOUVER
        )
        assert told.offered and told.plan.sites[0].confirm == asked
        found = told.after("season", f"{day}T11:00")
        assert found.applies is asked
        assert found.verdict is (MISSING if asked else None)


# California -----------------------------------------------------------------------------------------------


# the disc of 30 m round x = 5 reaches to 35 m
@pytest.mark.parametrize(("edge", "offered"), [(35.01, True), (34.99, False), (-100.0, False)])
def test_california_sites_named_beforehand(edge: float, offered: bool) -> None:
    site = {"release_sites": (box(-300, -300, edge, 300, "s"),)}
    told = Affair(
        (published("california_measure", "sites"),), "2026-06-10T10:00", "2026-06-10T10:00",
        layers=site, plane=CALIFORNIA,
    )  # fmt: skip
    assert told.offered is offered
    verdict = MET if offered else UNCERTAIN if edge > 0 else NOT_MET
    assert told.after("sites", "2026-06-10T11:00").verdict is verdict


def test_an_animal_that_is_not_fit_gets_no_site_under_any_rule() -> None:
    told = Affair(
        (published("ontario"),), "2026-06-10T10:00", "2026-06-10T10:00", plane=ONTARIO,
        animal=replace(cases.animal(), condition=Condition.INJURED),
    )  # fmt: skip
    assert not told.offered and told.plan.way_on
