"""Times and consents as they should not be, and odd but right: planned, and judged afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import shapely

from tests.badinput.folder import refused
from tests.support import cases
from tests.support.regions import Ground, Thing, written_region
from tests.support.rules import IN_WOOD, SPOT, WOOD, Affair, utc
from tussock.errors import UsageError
from tussock.geodesy import Plane
from tussock.interval import Verdict
from tussock.measure.scene import EarlierRelease
from tussock.permit.animal_kinds import SpeciesListed
from tussock.permit.condition import AppliesTo, Condition
from tussock.permit.permit_file import Permit, Version
from tussock.permit.place_kinds import MaxDistanceFromCapture, MinDistanceFrom, NearestSuitable
from tussock.permit.record_kinds import Attested, ConsentRecorded
from tussock.permit.time_kinds import ClockWindow, MaxHoldingHours, ReleaseWindow, SameCalendarDay
from tussock.planning.batch import plan_batch
from tussock.planning.criteria import read_weights
from tussock.planning.inputs import CaptureRow, read_captures, read_releases
from tussock.planning.opened import Files, open_files
from tussock.planning.setting import Setting
from tussock.position import Position
from tussock.species.animal import FoundIn
from tussock.species.profiles import SpeciesBook, load_profiles
from tussock.species.traits import ActivePeriod

MET, NOT_MET, MISSING = Verdict.MET, Verdict.NOT_MET, Verdict.MISSING
HOBART, OSLO, LORD_HOWE = (ZoneInfo(z) for z in ("Australia/Hobart", "Europe/Oslo", "Australia/Lord_Howe"))
NORTH = Plane(18.0, 68.0)


def clock_window(start: str, end: str) -> ReleaseWindow:
    window = ClockWindow.model_validate({"from": start, "to": end})
    return ReleaseWindow(id="window", window=window)


def held(**fields: Any) -> MaxHoldingHours:
    return MaxHoldingHours.model_validate({"id": "held", **fields})


def permit(
    *conditions: Condition,
    zone: ZoneInfo = HOBART,
    first: date = date(2020, 1, 1),
    last: date | None = None,
    id: str = "P-1",  # noqa: A002 - the permit's own word
) -> Permit:
    return Permit(id, "N", f"authority of {id}", zone, (), (Version(first, last, conditions),))


def affair(*conditions: Condition, zone: ZoneInfo = HOBART, **more: Any) -> Affair:
    base: dict[str, Any] = {"captured": "2026-11-14T10:00", "now": "2026-11-14T10:00"}
    return Affair((permit(*conditions, zone=zone),), **(base | more))


# Consent ----------------------------------------------------------------------------------------------------

PARCEL = {"parcels": (Thing(shapely.box(-200, -200, 200, 200), id="p"),)}
LEAVE = cases.consent("CN-1", parcels="p")
WRITTEN = ConsentRecorded(id="leave", written=True)


def earlier(consent: str, count: int, when: str = "2026-11-01T10:00:00+00:00") -> EarlierRelease:
    return EarlierRelease(
        147.6, -42.1, 5.0, datetime.fromisoformat(when), "Invented species", count, consent_reference=consent
    )


@pytest.mark.parametrize(
    ("changes", "before", "verdict"),
    [
        ({}, (), MET),
        ({"valid_from": date(2026, 11, 15)}, (), NOT_MET),  # given the day after the release
        ({"valid_to": date(2026, 11, 13)}, (), NOT_MET),
        ({"species": ("Another species",)}, (), NOT_MET),
        ({"species": ("Invented spp.",)}, (), MET),
        ({"withdrawn_on": date(2026, 11, 14)}, (), NOT_MET),  # on the day it no longer holds
        ({"withdrawn_on": date(2026, 11, 13)}, (), NOT_MET),
        ({"withdrawn_on": date(2026, 11, 15)}, (), MET),
        ({"written": False}, (), NOT_MET),
        ({"written": None}, (), NOT_MET),
        ({"number": 6}, (earlier("CN-1", 5),), MET),
        ({"number": 6}, (earlier("CN-1", 4), earlier("CN-1", 2)), NOT_MET),
        ({"number": 6}, (earlier("CN-2", 6),), MET),  # another consent's
        ({"number": 6}, (earlier("CN-2 | CN-1", 6),), NOT_MET),
        ({"number": 1}, (earlier("CN-1", 1, "2026-11-20T10:00:00+00:00"),), MET),  # used up only afterwards
    ],
)
def test_a_consent_that_does_not_hold(
    changes: dict[str, Any], before: tuple[EarlierRelease, ...], verdict: Verdict
) -> None:
    told = affair(WRITTEN, layers=PARCEL, consents=(replace(LEAVE, **changes),), earlier=before)
    assert told.offered is (verdict is MET)
    assert told.after("leave", "2026-11-14T10:30").verdict is verdict
    if verdict is not MET:  # listed apart, with the parcel to ask about
        assert [s.lacking for s in told.plan.needs_consent] == [(("p", ""),)]
        assert told.plan.exit_code == 1


def test_a_consent_counts_on_the_permits_local_date() -> None:
    """Withdrawn on the 15th: 14 November 23:30 in Hobart is 12:30 UTC, 15 November 00:30 is 13:30 UTC."""
    gone = replace(LEAVE, withdrawn_on=date(2026, 11, 15))
    told = affair(WRITTEN, layers=PARCEL, consents=(gone,), captured="2026-11-14T22:00")
    assert told.after("leave", "2026-11-14T12:30:00+00:00").verdict is MET
    assert told.after("leave", "2026-11-14T13:30:00+00:00").verdict is NOT_MET
    # a planned window that touches the day of withdrawal is not covered on all of it
    assert replace(told, release_at="2026-11-14T23:10").offered
    assert not replace(told, release_at="2026-11-14T23:30").offered


def test_a_consent_named_in_the_record_that_does_not_hold_proves_nothing() -> None:
    """No parcel is mapped at the place: the record's consentReference decides, if that consent holds."""
    layers = {"parcels": (Thing(shapely.box(5000, 5000, 5100, 5100), id="far"),)}
    own = cases.consent("CN-1", parcels="not on the map")
    told = affair(WRITTEN, layers=layers, consents=(own,))
    assert told.offered and told.plan.sites[0].confirm == 1
    assert told.after("leave", "2026-11-14T10:30", consent_reference="CN-1").verdict is MET
    for reference, changes in (
        ("", {}),
        ("CN-2", {}),
        ("CN-1", {"withdrawn_on": date(2026, 11, 14)}),
        ("CN-1", {"valid_from": date(2026, 11, 15)}),
        ("CN-1", {"species": ("Another species",)}),
        ("CN-1", {"written": False}),
    ):
        bad = replace(told, consents=(replace(own, **changes),))
        found = bad.after("leave", "2026-11-14T10:30", consent_reference=reference)
        assert found.verdict is MISSING, (reference, changes)


def test_a_batch_uses_up_the_number_of_a_consent() -> None:
    """A consent for two animals, three captures of one each: the third gets no site."""
    told = affair(WRITTEN, layers=PARCEL, consents=(replace(LEAVE, number=2),))
    setting = Setting(
        told.region, told.permits, (IN_WOOD,), read_weights(), told.moment(told.now),
        consents=told.consents, top=1, rasters=False,
    )  # fmt: skip
    times = [told.moment(f"2026-11-14T1{h}:00") for h in range(3)]
    captures = [replace(told.capture, id=f"c{n}", time=t) for n, t in enumerate(times)]
    rows = [CaptureRow(c.id, c.time, "row", c, (), {}) for c in captures]
    assert [len(p.sites) for _, p in plan_batch(rows, setting) if p is not None] == [1, 1, 0]


# Tables -----------------------------------------------------------------------------------------------------

HEADER = (
    "captureID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,scientificName,"
    "identification,origin,animalCondition,individualCount,lifeStage,gravid,foundIn,trapCheckDate\n"
)
ROW = (
    "{id},{time},-42.10001,147.60001,5,Notechis scutatus,certain,wild_local,fit,1,adult,no,"
    "trap_or_netting,{checked}\n"
)


@pytest.fixture(scope="module")
def book() -> SpeciesBook:
    return load_profiles()


def captures_csv(folder: Path, *rows: tuple[str, str]) -> Path:
    path = folder / "captures.csv"
    lines = [ROW.format(id=f"C-{n}", time=t, checked=c) for n, (t, c) in enumerate(rows)]
    path.write_text(HEADER + "".join(lines), "utf-8")
    return path


def test_the_trap_check_of_a_table_is_read(tmp_path: Path, book: SpeciesBook) -> None:
    path = captures_csv(
        tmp_path,
        ("2026-11-14T10:00+11:00", "2026-11-14T07:00+11:00"),
        ("2026-11-14T11:00+11:00", ""),
    )
    first, second = (r.capture for r in read_captures(path, book=book))
    assert first is not None and second is not None
    assert first.trap_checked == datetime(2026, 11, 13, 20, 0, tzinfo=UTC)
    assert second.trap_checked is None
    bad = captures_csv(tmp_path, ("2026-11-14T10:00+11:00", "this morning"))
    refused(lambda: read_captures(bad, book=book), "trapCheckDate", "this morning")
    bad = captures_csv(tmp_path, ("2026-11-14T10:00+11:00", "2026-11-14T07:00"))
    refused(lambda: read_captures(bad, book=book), "trapCheckDate", "no zone")


def test_the_consent_of_a_release_is_read(tmp_path: Path, book: SpeciesBook) -> None:
    path = tmp_path / "releases.csv"
    path.write_text(
        "captureID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,scientificName,"
        "consentReference\nC-1,2026-11-01T10:00Z,-42.1,147.6,5,Notechis scutatus,CN-1\n",
        "utf-8",
    )
    assert [b.release.consent_reference for b in read_releases(path, book=book)] == ["CN-1"]


def test_a_trap_checked_after_its_capture_starts_the_batch_s_clock() -> None:
    """Caught at 02:00 by a camera's record, in hand at 08:00: the release cannot be at 02:04."""
    told = affair(held(limit_h=24, **{"from": "trap_check"}))
    capture = replace(
        told.capture,
        time=told.moment("2026-11-14T02:00"),
        trap_checked=told.moment("2026-11-14T08:00"),
    )
    setting = Setting(
        told.region, told.permits, (IN_WOOD,), read_weights(), told.moment(told.now), top=1, rasters=False
    )
    row = CaptureRow("c", capture.time, "row", capture, (), {})
    ((_, found),) = plan_batch([row], setting)
    assert found is not None and found.sites
    assert datetime.fromisoformat(found.sites[0].release_from) >= told.moment("2026-11-14T08:04")


# Lapse ------------------------------------------------------------------------------------------------------


def lapse(*versions: tuple[date, date | None], **more: Any) -> Affair:
    near = MaxDistanceFromCapture(id="near", limit_m=500)
    listed = SpeciesListed(id="listed", species=("Invented species",))
    own = tuple(Version(first, last, (near, listed)) for first, last in versions)
    made = Permit("P-1", "N", "the Office", HOBART, (), own)
    base: dict[str, Any] = {"captured": "2026-06-30T20:00", "now": "2026-06-30T20:00"}
    return Affair((made,), **(base | more))


YEAR = (date(2025, 7, 1), date(2026, 6, 30))


def test_a_permit_that_lapses_in_the_planned_window() -> None:
    told = lapse(YEAR, release_at="2026-06-30T23:40")
    assert told.offered and told.hours[1] == "2026-06-30T13:59:00+00:00"  # 23:59 in winter, +10
    assert told.judged("2026-06-30T23:59:59").verdict is MET
    late = told.judged("2026-07-01T00:00:00")
    assert late.verdict is MISSING and late.gaps == ("no version of P-1 was in force at the end of holding",)


def test_a_permit_that_lapses_on_the_way() -> None:
    """Leaving at 23:57, a walk of 4 min: midnight has passed."""
    told = lapse(YEAR, now="2026-06-30T23:57")
    assert not told.offered and "no version in force on 2026-07-01" in told.plan.stop[0]
    assert "call the Office" in told.plan.stop[0]
    # the place is 100 m away, 12.6 s of driving: from 23:55 it is reached at 23:59:12.6, no minute is left
    told = lapse(YEAR, now="2026-06-30T23:55")
    assert not told.offered and told.plan.exit_code == 1
    assert lapse(YEAR, now="2026-06-30T23:53").offered  # 23:57:12.6: from 23:58 to 23:59


def test_a_permit_in_force_at_capture_only() -> None:
    told = lapse(YEAR, release_at="2026-07-01T08:00")
    assert not told.offered and told.plan.exit_code == 1 and told.plan.stop
    judged = told.judged("2026-07-01T08:00")
    assert (judged.taking, judged.disposal) == ("2025-07-01", "")
    assert judged.gaps and judged.verdict is MISSING
    assert [r.id for r in judged.results] == ["listed"]  # the taking was under it


def test_a_permit_in_force_at_release_only() -> None:
    told = lapse((date(2026, 7, 1), None), release_at="2026-07-01T08:00")
    assert told.offered
    assert any("no version in force at the capture" in w for w in told.plan.warnings)
    judged = told.judged("2026-07-01T08:00")
    assert (judged.taking, judged.disposal) == ("", "2026-07-01")
    assert judged.gaps == ("no version of P-1 was in force at the capture",)
    assert judged.verdict is MISSING


def test_a_gap_between_versions() -> None:
    told = lapse(YEAR, (date(2026, 7, 3), None), release_at="2026-07-02T08:00")
    assert not told.offered and "2026-07-02" in told.plan.stop[0]
    assert replace(told, release_at="2026-07-03T08:00").offered


# Clocks -----------------------------------------------------------------------------------------------------


def test_a_release_before_its_capture() -> None:
    told = affair(held(limit_h=24), release_at="2026-11-14T09:59")
    with pytest.raises(UsageError, match="before the capture") as caught:
        _ = told.plan
    assert caught.value.exit_code == 2
    assert told.after("held", "2026-11-14T09:59").verdict is MISSING
    assert "contradict" in str(told.after("held", "2026-11-14T09:59").reason)


def test_a_release_before_its_capture_is_a_finding_whatever_the_clauses() -> None:
    """A permit that says nothing of time: the record is still wrong, and never met."""
    told = affair(MaxDistanceFromCapture(id="near", limit_m=500))
    assert told.judged("2026-11-14T10:00").verdict is MET
    judged = told.judged("2026-11-14T09:59")
    assert judged.verdict is MISSING and len(judged.contradictions) == 1
    assert "holding ended before the capture" in judged.contradictions[0]


def test_a_capture_stamped_with_another_offset() -> None:
    """16:20 written as +08:00 instead of +11:00 is three hours later: refused. Its own instant is not."""
    clause = held(limit_h=4)
    now = "2026-11-14T17:00:00+11:00"
    for captured in ("2026-11-14T16:20:00+11:00", "2026-11-14T05:20:00+00:00", "2026-11-13T19:20:00-10:00"):
        told = affair(clause, captured=captured, now=now)
        assert told.offered
        assert told.plan.sites[0].deadline == "2026-11-14T20:20:00+11:00"
        assert told.after("held", "2026-11-14T20:20:00+11:00").verdict is MET
        assert told.after("held", "2026-11-14T20:21:00+11:00").verdict is NOT_MET
    late = affair(clause, captured="2026-11-14T16:20:00+08:00", now=now)
    with pytest.raises(UsageError, match="before the capture"):
        _ = late.plan


def test_a_clock_three_hours_behind_the_capture() -> None:
    told = affair(held(limit_h=4), captured="2026-11-14T16:20", now="2026-11-14T13:20")
    with pytest.raises(UsageError, match="correct one of them, or the clock"):
        _ = told.plan


def test_what_is_recorded_after_the_present_moment_is_never_met() -> None:
    """A year or a day typed wrong: the permit is open, the clauses would all be met."""
    told = affair(held(limit_h=24))
    for released, now, verdict in (
        ("2026-11-14T11:00", "2026-11-14T11:00", MET),
        ("2026-11-14T11:00", "2026-11-14T08:00", MISSING),  # the clock three hours behind
        (None, "2026-11-14T10:30", MET),  # still held
        (None, "2026-11-14T07:00", MISSING),
    ):
        judged = told.judged(released, book_now=now)
        assert judged.verdict is verdict, (released, now)
        assert bool(judged.contradictions) is (verdict is MISSING)
    assert told.after("held", None, book_now="2026-11-14T07:00").verdict is MISSING


# Traps ------------------------------------------------------------------------------------------------------

FROM_CHECK = held(limit_h=24, **{"from": "trap_check"})
TRAPPED = replace(cases.animal(), found_in=FoundIn.TRAP_OR_NETTING)


def test_a_trap_without_its_check_is_missing_and_gets_no_site() -> None:
    told = affair(FROM_CHECK, animal=TRAPPED)
    assert not told.offered
    said = " ".join(told.plan.stop)
    assert "trapCheckDate" in said and "?." not in said
    assert told.after("held", "2026-11-14T10:30").verdict is MISSING
    assert affair(FROM_CHECK).offered  # in no trap: from the capture


def test_a_trap_checked_after_the_release() -> None:
    """A slip of the month must not buy the animal thirty days in a bag."""
    told = affair(FROM_CHECK, animal=TRAPPED, trap_checked="2026-12-14T09:00")
    with pytest.raises(UsageError, match="before the trap was checked"):
        _ = told.plan
    found = told.judged("2026-11-16T10:30")
    assert found.verdict is MISSING and found.contradictions
    assert told.after("held", "2026-11-16T10:30").verdict is MISSING


def test_an_open_capture_whose_trap_was_checked() -> None:
    told = affair(FROM_CHECK, animal=TRAPPED, trap_checked="2026-11-14T07:00")
    assert told.after("held", None, book_now="2026-11-15T06:59").verdict is None
    assert told.after("held", None, book_now="2026-11-15T07:01").verdict is NOT_MET


# Sun at 68° north: midnight sun about 26 May to 17 July, polar night about 7 December to 5 January
# (any almanac for Narvik, 68.4° N: from memory). By hand: the lowest sun in June is 23.44° − 22° = +1.4°,
# the highest in December 22° − 23.44° = −1.4°, too low for refraction and the disc's radius, 0.83° together.


def north(clause: Condition, captured: str, period: ActivePeriod | None = None) -> Affair:
    return affair(
        clause, zone=OSLO, plane=NORTH, captured=captured, now=captured, release_at=captured,
        animal=cases.animal(cases.profile(active_period=period)),
    )  # fmt: skip


DAYLIGHT = ReleaseWindow(id="light", window="daylight")
ACTIVE = ReleaseWindow(id="light", window="active_period")


@pytest.mark.parametrize("hour", [0, 6, 12, 18])
def test_polar_day_and_night_by_daylight(hour: int) -> None:
    day, night = north(DAYLIGHT, f"2026-06-21T{hour:02d}:10"), north(DAYLIGHT, f"2026-12-21T{hour:02d}:10")
    assert day.offered and day.plan.sites[0].deadline == ""  # it goes on
    assert all(day.after("light", t).verdict is MET for t in day.hours)
    assert not night.offered and night.plan.exit_code == 1
    said = " ".join(night.plan.stop)
    assert "No time in the next 48 hours" in said and "call" in said
    assert night.after("light", f"2026-12-21T{hour:02d}:30").verdict is NOT_MET


@pytest.mark.parametrize("hour", [0, 12])
def test_polar_day_and_night_for_a_nocturnal_species(hour: int) -> None:
    day = north(ACTIVE, f"2026-06-21T{hour:02d}:10", ActivePeriod.NOCTURNAL)
    night = north(ACTIVE, f"2026-12-21T{hour:02d}:10", ActivePeriod.NOCTURNAL)
    assert not day.offered and "No time in the next 48 hours" in " ".join(day.plan.stop)
    assert day.after("light", f"2026-06-21T{hour:02d}:30").verdict is NOT_MET
    assert night.offered
    assert all(night.after("light", t).verdict is MET for t in night.hours)


def test_polar_day_says_no_sunset_and_no_nonsense() -> None:
    found = north(DAYLIGHT, "2026-06-21T12:10").plan
    assert found.clock is not None
    # the next fall of the sun lies weeks ahead or is not looked for
    for text in (found.clock.sunrise, found.clock.sunset):
        assert text == "" or datetime.fromisoformat(text) > datetime(2026, 7, 1, tzinfo=UTC)


# The antimeridian -------------------------------------------------------------------------------------------

FIJI = ZoneInfo("Pacific/Fiji")


@pytest.mark.parametrize("longitude", [179.99, 179.99995, -179.9999, -179.99])
def test_a_capture_beside_the_antimeridian(longitude: float) -> None:
    """At 179.99995° E the capture, 300 m to the east, lies on the other side: 5.5 m to go at 17° S."""
    plane = Plane(longitude, -17.0)
    homes = {"dwellings": (Thing(shapely.box(SPOT[0] + 100, 0, SPOT[0] + 110, 10), "house", "h"),)}
    near, far = (MaxDistanceFromCapture(id="near", limit_m=m) for m in (336.0, 334.0))
    home = MinDistanceFrom(id="home", layer="dwellings", limit_m=60)
    told = affair(
        near, home, SameCalendarDay(id="day"), DAYLIGHT, zone=FIJI, plane=plane, layers=homes,
        metres=300.0, azimuth=90.0,
    )  # fmt: skip
    assert told.offered
    site = told.plan.sites[0]
    assert site.distance_m == pytest.approx(300.0, abs=0.01)
    assert site.dwelling_m == pytest.approx(100.0, abs=0.02)
    assert -180 <= site.longitude <= 180
    assert told.judged(told.hours[0]).verdict is MET
    assert not replace(told, permits=(permit(far, home, zone=FIJI),)).offered  # 300 + 5 + 30 = 335 m


def test_earlier_releases_over_the_antimeridian_count() -> None:
    from tussock.permit.place_kinds import MaxReleasesNear

    plane = Plane(179.99995, -17.0)
    told = affair(MaxReleasesNear(id="full", count=1, within_m=200, within_days=30), zone=FIJI, plane=plane)
    before = EarlierRelease(
        -179.9995, told.spot[1], 5.0, told.moment("2026-11-10T10:00"), "Invented species", 1
    )  # 0.00055° and less, 58 m
    full = replace(told, earlier=(before,))
    assert told.offered and not full.offered
    assert full.after("full", "2026-11-14T10:30").verdict is NOT_MET


# Clock changes ----------------------------------------------------------------------------------------------
# Hobart: forward on 4 October 2026, 02:00 +10 becomes 03:00 +11 (16:00 UTC of the 3rd);
#         back on 5 April 2026, 03:00 +11 becomes 02:00 +10 (16:00 UTC of the 4th).
# Lord Howe: back on 5 April 2026, 02:00 +11 becomes 01:30 +10:30 (15:00 UTC of the 4th);
#            forward on 4 October 2026, 02:00 +10:30 becomes 02:30 +11 (15:30 UTC of the 3rd).


def test_a_window_that_the_night_of_the_gap_leaves_out() -> None:
    """02:10 to 02:50 does not occur on 4 October: nothing at 01:45 or at 03:05, and 40 min on the 5th."""
    window = clock_window("02:10", "02:50")
    for release_at in ("2026-10-03T15:45:00+00:00", "2026-10-03T16:05:00+00:00"):
        told = affair(window, captured="2026-10-03T22:00", now="2026-10-03T22:00", release_at=release_at)
        assert not told.offered
        assert told.after("window", release_at).verdict is NOT_MET
    for instant in ("2026-10-03T15:59:59+00:00", "2026-10-03T16:00:00+00:00", "2026-10-03T16:20:00+00:00"):
        assert told.after("window", instant).verdict is NOT_MET
    # a day later: 15:10 to 15:50 UTC
    told = affair(
        window, captured="2026-10-04T22:00", now="2026-10-04T22:00", release_at="2026-10-04T15:08:00+00:00"
    )
    assert told.offered
    assert told.hours == ("2026-10-04T15:10:00+00:00", "2026-10-04T15:50:00+00:00")


def test_a_window_that_is_cut_by_the_gap() -> None:
    """01:30 to 02:30: on the night of the gap 01:59 is its last minute, for 03:00 comes after it."""
    told = affair(
        clock_window("01:30", "02:30"), captured="2026-10-03T22:00", now="2026-10-03T22:00",
        release_at="2026-10-03T15:40:00+00:00",
    )  # fmt: skip
    assert told.offered
    assert told.hours == ("2026-10-03T15:40:00+00:00", "2026-10-03T15:59:00+00:00")
    assert told.plan.sites[0].deadline == "2026-10-04T01:59:00+10:00"
    assert told.after("window", "2026-10-03T15:59:59+00:00").verdict is MET
    assert told.after("window", "2026-10-03T16:00:00+00:00").verdict is NOT_MET  # 03:00
    assert told.after("window", "2026-10-03T16:01:00+00:00").verdict is NOT_MET


def test_the_hour_that_the_night_of_the_gap_leaves_out() -> None:
    """02:00 to 03:00 occurs at one instant, 03:00 itself: nobody plans for that."""
    told = affair(
        clock_window("02:00", "03:00"), captured="2026-10-03T22:00", now="2026-10-03T22:00",
        release_at="2026-10-03T15:30:00+00:00",
    )  # fmt: skip
    assert not told.offered
    assert told.after("window", "2026-10-03T16:00:00+00:00").verdict is MET
    assert told.after("window", "2026-10-03T15:59:00+00:00").verdict is NOT_MET  # 01:59
    assert told.after("window", "2026-10-03T16:01:00+00:00").verdict is NOT_MET  # 03:01


def test_a_window_that_the_turning_back_of_the_clocks_does_not_break() -> None:
    """01:00 to 04:00 on 5 April: from 14:00 UTC at +11 to 18:00 UTC at +10, without a hole at 16:00 UTC."""
    told = affair(
        clock_window("01:00", "04:00"), captured="2026-04-04T22:00", now="2026-04-04T22:00",
        release_at="2026-04-04T15:40:00+00:00",
    )  # fmt: skip
    assert told.offered
    assert told.hours == ("2026-04-04T15:40:00+00:00", "2026-04-04T16:25:00+00:00")
    assert told.plan.sites[0].deadline == "2026-04-05T04:00:00+10:00"
    for instant in ("15:59:59", "16:00:00", "16:00:01"):
        assert told.after("window", f"2026-04-04T{instant}+00:00").verdict is MET


def test_a_window_that_comes_twice() -> None:
    """02:15 to 02:45 on 5 April: 15:15 to 15:45 UTC, and 16:15 to 16:45 UTC."""
    window = clock_window("02:15", "02:45")
    base: dict[str, Any] = {"captured": "2026-04-04T22:00", "now": "2026-04-04T22:00"}
    for release_at, hours in (
        ("15:10", ("15:15", "15:45")),
        ("15:30", ("15:30", "15:45")),
        ("15:46", ("16:15", "16:31")),
        ("16:20", ("16:20", "16:45")),
        ("16:46", ()),
    ):
        told = affair(window, release_at=f"2026-04-04T{release_at}:00+00:00", **base)
        assert told.offered is bool(hours)
        if hours:
            assert told.hours == tuple(f"2026-04-04T{h}:00+00:00" for h in hours)
    for minute, verdict in (
        ("15:14", NOT_MET), ("15:30", MET), ("15:50", NOT_MET), ("16:30", MET), ("16:50", NOT_MET),
    ):  # fmt: skip
        assert told.after("window", f"2026-04-04T{minute}:00+00:00").verdict is verdict


def test_a_written_half_past_two_that_comes_twice_is_told_apart_by_its_offset() -> None:
    """Captured at 02:30 +11, or at 02:30 +10 an hour later: 3 h end at 04:30 or 05:30, +10."""
    for captured, end in (("2026-04-05T02:30:00+11:00", "18:30"), ("2026-04-05T02:30:00+10:00", "19:30")):
        told = affair(held(limit_h=3), captured=captured, now=captured)
        stop = told.moment(f"2026-04-04T{end}:00+00:00")
        told = replace(told, release_at=(stop - timedelta(minutes=10)).isoformat())
        assert told.offered and told.hours[1] == f"2026-04-04T{end}:00+00:00"
        assert told.after("held", stop.isoformat()).verdict is MET
        assert told.after("held", (stop + timedelta(minutes=1)).isoformat()).verdict is NOT_MET


def test_a_day_of_23_and_one_of_25_hours() -> None:
    """Taken at 00:30 on the day of a change: the calendar day ends at 24:00 all the same."""
    for day, last in (
        ("2026-10-04", "2026-10-04T12:59:00+00:00"),
        ("2026-04-05", "2026-04-05T13:59:00+00:00"),
    ):
        told = affair(
            SameCalendarDay(id="day"), captured=f"{day}T00:30", now=f"{day}T00:30", release_at=f"{day}T23:30"
        )
        assert told.offered and told.hours[1] == last


@pytest.mark.parametrize(
    ("captured", "end"),
    [
        ("2026-04-04T20:00", "2026-04-05T09:00:00+00:00"),  # 20:00 +11 = 09:00 UTC; 19:30 +10:30
        ("2026-10-03T20:00", "2026-10-04T09:30:00+00:00"),  # 20:00 +10:30 = 09:30 UTC; 20:30 +11
    ],
)
def test_half_an_hour_on_lord_howe(captured: str, end: str) -> None:
    base = affair(held(limit_h=24), zone=LORD_HOWE, captured=captured, now=captured)
    stop = base.moment(end)
    told = replace(base, release_at=(stop - timedelta(minutes=10)).isoformat())
    assert told.offered and told.hours[1] == end
    assert told.after("held", end).verdict is MET
    assert told.after("held", (stop + timedelta(minutes=1)).isoformat()).verdict is NOT_MET


def test_a_window_that_comes_twice_on_lord_howe() -> None:
    """01:40 to 01:50 on 5 April: 14:40 to 14:50 UTC at +11, 15:10 to 15:20 UTC at +10:30."""
    window = clock_window("01:40", "01:50")
    told = affair(
        window, zone=LORD_HOWE, captured="2026-04-04T22:00", now="2026-04-04T22:00",
        release_at="2026-04-04T14:52:00+00:00",
    )  # fmt: skip
    assert told.offered
    assert told.hours == ("2026-04-04T15:10:00+00:00", "2026-04-04T15:20:00+00:00")
    for minute, verdict in (("14:45", MET), ("14:55", NOT_MET), ("15:15", MET), ("15:25", NOT_MET)):
        assert told.after("window", f"2026-04-04T{minute}:00+00:00").verdict is verdict


@pytest.mark.parametrize(
    ("release_at", "hours"),
    [
        ("2026-11-14T21:30", ("22:00", "22:15")),
        ("2026-11-14T23:40", ("23:40", "00:25")),
        ("2026-11-15T04:30", ("04:30", "05:00")),
        ("2026-11-15T05:01", ()),
        ("2026-11-14T20:00", ()),
    ],
)
def test_a_window_over_midnight(release_at: str, hours: Sequence[str]) -> None:
    told = affair(clock_window("22:00", "05:00"), release_at=release_at)
    assert told.offered is bool(hours)
    if hours:
        site = told.plan.sites[0]
        assert (site.release_from[11:16], site.release_to[11:16]) == tuple(hours)
        assert all(told.after("window", t).verdict is MET for t in told.hours)
    else:
        assert told.after("window", release_at).verdict is NOT_MET


@pytest.mark.parametrize(("captured", "end"), [("23:59:30", "2026-11-14T14:59"), ("00:00:30", None)])
def test_captures_round_midnight_with_a_tolerance(captured: str, end: str | None) -> None:
    """After 23:30 two hours are allowed: 23:59:30 + 2 h = 01:59:30, the last minute is 01:59 = 14:59 UTC."""
    clause = SameCalendarDay(id="day", captured_after=time(23, 30), then_within_h=2)
    day = "2026-11-14" if end else "2026-11-15"
    told = affair(
        clause, captured=f"{day}T{captured}", now=f"{day}T{captured}", release_at="2026-11-15T01:30"
    )
    assert told.offered
    if end:
        assert told.hours[1] == f"{end}:00+00:00"
        assert told.after("day", "2026-11-15T02:00").verdict is NOT_MET
    else:
        assert told.plan.sites[0].deadline == "2026-11-15T23:59:00+11:00"
        assert told.after("day", "2026-11-15T02:00").verdict is MET


# Answers ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ask_at", ["capture", "plan", "site", "release"])
def test_an_unanswered_clause_is_missing_and_never_met(ask_at: Any) -> None:
    told = affair(Attested(id="asked", question="Is it so?", ask_at=ask_at))
    assert told.offered and told.plan.sites[0].checked == 0 and told.plan.sites[0].confirm == 1
    for answers, verdict in (
        ({}, MISSING),
        ({"P-1": {}}, MISSING),
        ({"P-1": {"asked": ""}}, MISSING),
        ({"P-1": {"asked": "unclear"}}, MISSING),
        ({"P-1": {"asked": "maybe"}}, MISSING),
        ({"P-2": {"asked": "yes"}}, MISSING),
        ({"P-1": {"asked": "no"}}, NOT_MET),
        ({"P-1": {"asked": " Yes "}}, MET),
    ):
        assert told.judged("2026-11-14T10:30", answers=answers).verdict is verdict


# Several permits --------------------------------------------------------------------------------------------


def both(first: Permit, second: Permit, **more: Any) -> Affair:
    base: dict[str, Any] = {"captured": "2026-11-14T10:00", "now": "2026-11-14T10:00"}
    return Affair((first, second), **(base | more))


def near(metres: float) -> MaxDistanceFromCapture:
    return MaxDistanceFromCapture(id="1", limit_m=metres)


@pytest.mark.parametrize("turned", [False, True])
def test_of_two_limits_the_stricter_decides(turned: bool) -> None:
    """The place lies at 100 m, 135 m with the radii: 136 m hold it, 134 m do not."""
    for strict, offered in ((136.0, True), (134.0, False)):
        permits = [permit(near(2000)), permit(near(strict), id="P-2")]
        told = both(*(permits[::-1] if turned else permits))
        assert told.offered is offered
        at = [p.id for p in told.permits]
        wide, tight = at.index("P-1"), at.index("P-2")
        assert told.after("1", "2026-11-14T10:30", permit=wide).verdict is MET
        tight_verdict = told.after("1", "2026-11-14T10:30", permit=tight).verdict
        assert (tight_verdict is MET) is offered
        if offered:
            assert told.before("1", permit=wide) is MET and told.before("1", permit=tight) is MET
            printed = {(c.source, c.id): c.limit for c in told.plan.sites[0].clauses if not c.house}
            assert printed == {("P-1", "1"): 2000.0, ("P-2", "1"): strict}


def test_of_two_clocks_the_earlier_ends_it() -> None:
    """14 November 22:00 in Hobart is 12:00 in Oslo: the day of the one ends 11 h before the other's."""
    day = SameCalendarDay(id="day")
    told = both(
        permit(day, zone=OSLO), permit(day, id="P-2"), captured="2026-11-14T22:00:00+11:00",
        now="2026-11-14T22:00:00+11:00", release_at="2026-11-14T23:40:00+11:00",
    )  # fmt: skip
    assert told.offered and told.hours[1] == "2026-11-14T12:59:00+00:00"
    assert told.plan.sites[0].release_to == "2026-11-14T13:59:00+01:00"  # in the first permit's zone
    after = "2026-11-15T00:10:00+11:00"
    assert told.after("day", after).verdict is MET
    assert told.after("day", after, permit=1).verdict is NOT_MET
    assert not replace(told, release_at=after).offered


def test_two_permits_with_versions_of_their_own() -> None:
    """At 13:00 UTC the 15th begins in Hobart, and with it the second permit's new version."""
    changing = Permit("P-2", "N", "A2", HOBART, (), (
        Version(date(2020, 1, 1), date(2026, 11, 14), (near(500),)),
        Version(date(2026, 11, 15), None, (near(50),)),
    ))  # fmt: skip
    told = both(
        permit(near(500), zone=OSLO), changing, captured="2026-11-14T11:00:00+00:00",
        now="2026-11-14T11:00:00+00:00", release_at="2026-11-14T12:30:00+00:00",
    )  # fmt: skip
    assert told.offered and told.hours[1] == "2026-11-14T12:59:00+00:00"
    assert [p.version for p in told.plan.permits] == ["2020-01-01", "2020-01-01"]
    later = replace(told, release_at="2026-11-14T13:00:00+00:00")
    assert not later.offered
    assert [p.version for p in later.plan.permits] == ["2020-01-01", "2026-11-15"]
    assert told.judged("2026-11-14T12:59:59+00:00", permit=1).verdict is MET
    assert told.judged("2026-11-14T13:00:00+00:00", permit=1).disposal == "2026-11-15"
    assert told.judged("2026-11-14T13:00:00+00:00", permit=1).verdict is NOT_MET


@pytest.mark.parametrize("lapsed_first", [False, True])
def test_one_lapsed_permit_stops_it_all(lapsed_first: bool) -> None:
    good = permit(near(500), id="P-1")
    gone = permit(near(500), id="P-2", last=date(2026, 11, 13))
    told = both(*((gone, good) if lapsed_first else (good, gone)))
    assert not told.offered and told.plan.exit_code == 1
    assert "P-2 has no version in force on 2026-11-14" in told.plan.stop[0]
    assert "authority of P-2" in told.plan.stop[0]
    verdicts = [told.judged("2026-11-14T10:30", permit=n).verdict for n in (0, 1)]
    assert verdicts == ([MISSING, MET] if lapsed_first else [MET, MISSING])


def test_clauses_of_one_number_in_two_permits_are_kept_apart() -> None:
    """Clause 1 of the first asks for the nearest place; clause 1 of the second is not met."""
    told = both(
        permit(NearestSuitable(id="1", tolerance_m=20)),
        permit(MaxDistanceFromCapture(id="1", limit_m=50, mandatory=False), id="P-2"),
    )
    assert told.offered
    assert told.before("1") is MET and told.before("1", permit=1) is NOT_MET
    planned = told.as_planned()
    assert told.after("1", "2026-11-14T10:30", planned=planned).verdict is MET


def test_the_capture_s_day_is_each_permit_s_own() -> None:
    """Taken at 12:30 UTC: 23:30 in Hobart, 13:30 in Oslo; 2 h for late captures hold for Hobart only."""
    late = SameCalendarDay(id="day", captured_after=time(23, 0), then_within_h=2)
    told = both(
        permit(late), permit(late, id="P-2", zone=OSLO), captured="2026-11-14T12:30:00+00:00",
        now="2026-11-14T12:30:00+00:00", release_at="2026-11-14T14:00:00+00:00",
    )  # fmt: skip
    assert told.offered and told.hours[1] == "2026-11-14T14:30:00+00:00"  # 01:30 in Hobart
    after = utc("2026-11-14T15:00:00+00:00")
    assert told.after("day", after).verdict is NOT_MET
    assert told.after("day", after, permit=1).verdict is MET


def test_the_month_of_the_capture_is_each_permit_s_own() -> None:
    """Taken at 13:30 UTC on 31 October: in Hobart it is November, for which the list is, in Oslo October."""
    listed = SpeciesListed(id="listed", species=("Another species",), applies_to=AppliesTo(months=(11,)))
    permits = (permit(near(500), zone=OSLO), permit(near(500), listed, id="P-2"))
    times = {"captured": "2026-10-31T13:30:00+00:00", "now": "2026-10-31T13:30:00+00:00"}
    for first in (0, 1):
        told = both(permits[first], permits[1 - first], **times)
        assert not told.offered
        found = told.after("listed", "2026-10-31T14:00:00+00:00", permit=1 - first)
        assert found.verdict is NOT_MET


def test_two_permits_of_one_id_are_refused(tmp_path: Path) -> None:
    text = "\n".join(
        [
            'id = "RL-1"', 'holder = "N"', 'authority = "A"', 'timezone = "Australia/Hobart"', "[[versions]]",
            "valid_from = 2020-01-01", "[[versions.conditions]]", 'id = "1"',
            'kind = "max_distance_from_capture"', "limit_m = 500",
        ]
    )  # fmt: skip
    paths = [tmp_path / name for name in ("state.toml", "park.toml")]
    for path in paths:
        path.write_text(text, "utf-8")
    region = written_region(Ground({"habitat": (WOOD,)}), tmp_path / "region")
    refused(lambda: open_files(Files(region, tuple(paths))), "RL-1", "state.toml and park.toml")
    refused(lambda: open_files(Files(region, (paths[0], paths[0]))), "RL-1")
    assert open_files(Files(region, (paths[0],))).permits[0].id == "RL-1"


# Places that no plane has ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("longitude", "latitude"), [(0.0, 0.0), (180.0, 0.0), (-90.0, 0.0), (0.0, 89.9), (0.0, -90.0)]
)
def test_a_release_recorded_a_quarter_of_the_earth_away(longitude: float, latitude: float) -> None:
    """0, 0 lies 90° from the axis of a plane at 90° E, where a transverse Mercator has no place for it."""
    homes = {"dwellings": (Thing(shapely.box(300, 0, 310, 10), "house", "h"),)}
    told = affair(
        near(500), MinDistanceFrom(id="home", layer="dwellings", limit_m=60), plane=Plane(90.0, 24.0),
        zone=ZoneInfo("Asia/Dhaka"), layers=homes,
    )  # fmt: skip
    found = told.judged("2026-11-14T11:00", let_go_at=Position(longitude, latitude, 5.0))
    verdicts = {r.id: r.verdict for r in found.results}
    assert verdicts["1"] is NOT_MET and verdicts["home"] is not MET  # nothing is known there
