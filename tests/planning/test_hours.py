"""When a release may be: hand-computed hours, and what may have stood on the days that they touch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import shapely

from tests.support import cases
from tests.support.regions import Ground, Thing, made_region
from tussock.errors import UsageError
from tussock.interval import Verdict
from tussock.permit.condition import Condition
from tussock.permit.permit_file import Permit, Version
from tussock.permit.place_kinds import HabitatIn, MaxDistanceFromCapture, MinDistanceFrom, NearestSuitable
from tussock.permit.record_kinds import ConsentRecorded
from tussock.permit.time_kinds import MaxHoldingHours, ReleaseWindow, SameCalendarDay
from tussock.planning.plan import plan
from tussock.planning.record import Plan
from tussock.planning.setting import Capture, Setting
from tussock.planning.weights import read_weights

HOBART = ZoneInfo("Australia/Hobart")
EVERYWHERE = Thing(shapely.box(-20_000, -20_000, 20_000, 20_000), "woodland", "w")
NEAR = MaxDistanceFromCapture(id="near", limit_m=300)


def planned(
    *clauses: Condition,
    captured: str,
    now: str,
    release_at: str | None = None,
    layers: Mapping[str, tuple[Thing, ...]] | None = None,
    as_of: dict[str, date] | None = None,
    zone: ZoneInfo = HOBART,
    versions: tuple[Version, ...] = (),
    **more: Any,
) -> Plan:
    """Return the plan for a capture in the middle of woodland; times are local, without offset."""
    region = made_region(Ground({"habitat": (EVERYWHERE,), **(layers or {})}, as_of=as_of or {}))
    times = [datetime.fromisoformat(t).replace(tzinfo=zone) for t in (captured, now)]
    planned_at = None if release_at is None else datetime.fromisoformat(release_at).replace(tzinfo=zone)
    held = versions or (Version(date(2020, 1, 1), None, (NEAR, *clauses)),)
    permit = Permit("P-1", "N", "A", zone, (), held)
    setting = Setting(
        region, (permit,), (), read_weights(), times[1], release_at=planned_at, top=2, rasters=False,
        **more,
    )  # fmt: skip
    where = cases.position(region, 0.0, 0.0)
    return plan(Capture("c", where, times[0], cases.animal(), {}), setting)


def hours(found: Plan) -> list[str]:
    """Return the hours of the first site as local clock times."""
    s = found.sites[0]
    return [t[11:16] if t else "" for t in (s.release_from, s.release_to, s.deadline, s.leave_by)]


def test_the_estimate_of_travel_by_hand() -> None:
    """1.4 × the straight line at 40 km/h and 200 m at 3 km/h: 4 min and 0.126 s for each metre."""
    found = planned(captured="2026-11-14T10:00", now="2026-11-14T10:00")
    site = found.sites[0]
    arrive = 4 * 60 + 0.126 * site.distance_m
    start = datetime.fromisoformat(site.release_from)
    assert start == datetime(2026, 11, 14, 10, 0, tzinfo=HOBART) + timedelta(minutes=-(-arrive // 60))
    assert site.drive_min == pytest.approx(0.126 * site.distance_m / 60)
    assert site.walk_min == pytest.approx(4.0)
    end = datetime.fromisoformat(site.release_to)
    assert timedelta(minutes=43) <= end - start <= timedelta(minutes=45)


def test_holding_ends_the_hours_and_the_clause_is_named() -> None:
    """Taken at 02:00, 12 h allow until 14:00; the release is planned from 13:30 on."""
    found = planned(
        MaxHoldingHours(id="held", limit_h=12),
        captured="2026-11-14T02:00", now="2026-11-14T13:00", release_at="2026-11-14T13:30",
    )  # fmt: skip
    assert hours(found)[:3] == ["13:30", "14:00", "14:00"]
    assert found.sites[0].deadline_of == "held"
    result = next(c for c in found.sites[0].clauses if c.id == "held")
    assert result.value is not None
    assert (result.value.low, result.value.high, result.margin) == pytest.approx((11.5, 12.0, 0.0))
    # leave 4 min of walk and 0.126 s/m of drive before the deadline
    assert hours(found)[3] == "13:55"


def test_clauses_that_cannot_be_met_together_give_no_site_and_the_next_time() -> None:
    """At 22:30 in November it is dark; 14 h from 22:00 allow until noon, the sun is up from about 05:40."""
    found = planned(
        ReleaseWindow(id="day", window="daylight"),
        MaxHoldingHours(id="held", limit_h=14),
        captured="2026-11-14T22:00", now="2026-11-14T22:30",
    )  # fmt: skip
    assert not found.sites and found.exit_code == 1
    said = " ".join(found.stop)
    assert "day" in said and "held" in said and "12:00 on 15 November" in said and "22:30" in said
    assert "between 05:4" in said or "between 05:3" in said
    assert "if not, call A." in said


def test_the_clock_is_named_where_it_rules_out_the_circle_and_not_what_lies_beyond() -> None:
    """A window opens at 12:00. From 11:09 on, 4 min of walk, 300 m at 0.126 s/m and 45 min of stay end at
    11:58:38 at the rim of the circle; 5 km away they would end after 12:00."""
    found = planned(
        ReleaseWindow.model_validate({"id": "hours", "window": {"from": "12:00", "to": "15:00"}}),
        captured="2026-11-14T10:00", now="2026-11-14T11:09",
    )  # fmt: skip
    said = " ".join(found.stop)
    assert not found.sites and "the clauses of the clock cannot all be met" in said
    assert "between 12:00 on 14 November and 15:00 on 14 November" in said
    assert "would be between 11:13 on 14 November and 11:58 on 14 November" in said


def test_no_time_at_all_is_said() -> None:
    """Held at most 3 h from 22:00, and dark until about 05:40."""
    found = planned(
        ReleaseWindow(id="day", window="daylight"),
        MaxHoldingHours(id="held", limit_h=3),
        captured="2026-11-14T22:00", now="2026-11-14T22:30",
    )  # fmt: skip
    assert not found.sites
    assert "No time in the next 48 hours" in " ".join(found.stop)
    assert found.way_on


def test_a_far_place_is_not_offered_when_the_clock_runs_out_on_the_way() -> None:
    """10 min are left: 4 for the walk and 1 to let it go leave 5, at 0.126 s/m that is 2,381 m."""
    far = MaxDistanceFromCapture(id="near", limit_m=4000)
    versions = (Version(date(2020, 1, 1), None, (far, MaxHoldingHours(id="held", limit_h=1))),)
    found = planned(captured="2026-11-14T10:00", now="2026-11-14T10:50", versions=versions)
    late = next(r for r in found.removed if r.source == "the clock")
    in_time_ha = 3.14159265 * 2380.95**2 / 10_000
    assert late.low_ha - 1 <= found.circle_ha - in_time_ha <= late.high_ha + 1  # cells of 0.01 ha
    assert late.high_ha - late.low_ha < 1
    assert all(s.distance_m <= 2381.0 and s.release_to.endswith("11:00:00+11:00") for s in found.sites)


@pytest.mark.parametrize(("release_at", "offered"), [("23:10", True), ("23:59:30", False)])
def test_the_calendar_day_ends_at_midnight(release_at: str, offered: bool) -> None:
    found = planned(
        SameCalendarDay(id="day"), captured="2026-11-14T20:00", now="2026-11-14T23:00",
        release_at=f"2026-11-14T{release_at}",
    )  # fmt: skip
    assert bool(found.sites) is offered
    if offered:
        assert hours(found)[1] == "23:55"


def test_a_house_that_stands_from_tomorrow_counts_in_hours_that_reach_tomorrow() -> None:
    """The hours 23:40 to 00:25 touch two days: the distance is the hull, uncertain by the date."""
    house = Thing(shapely.box(100, -5, 110, 5), "house", "h", valid_from=date(2026, 11, 15))
    old = Thing(shapely.box(5000, 0, 5010, 10), "house", "o")
    far = MinDistanceFrom(id="homes", layer="dwellings", limit_m=60)
    layers = {"dwellings": (house, old)}

    def distance(release_at: str) -> Any:
        found = planned(
            far.model_copy(update={"mandatory": False}), captured="2026-11-14T20:00",
            now="2026-11-14T20:00", release_at=release_at, layers=layers,
        )  # fmt: skip
        return next(c for c in found.sites[0].clauses if c.id == "homes")

    today, both, tomorrow = (distance(f"2026-11-{t}") for t in ("14T22:00", "14T23:40", "15T00:10"))
    assert today.value.low > 4000 and tomorrow.value.high < 1000
    assert both.value.low == pytest.approx(tomorrow.value.low, abs=400)
    assert both.value.high > 4000 and both.reason == "date"


def test_undated_features_of_a_younger_layer_may_not_have_stood() -> None:
    """A day before the layer's date gives [d, ∞]; the day itself and later ones widen nothing."""
    house = Thing(shapely.box(200, -5, 210, 5), "house", "h")
    clause = MinDistanceFrom(id="homes", layer="dwellings", limit_m=20)
    for day, open_ended in ((date(2026, 11, 15), True), (date(2026, 11, 14), False)):
        found = planned(
            clause, captured="2026-11-14T10:00", now="2026-11-14T10:00",
            layers={"dwellings": (house,)}, as_of={"dwellings": day},
        )  # fmt: skip
        result = next(c for c in found.sites[0].clauses if c.id == "homes")
        assert result.value is not None
        assert (result.value.high == float("inf")) is open_ended
        assert (result.reason == "date") is open_ended
        assert result.verdict is Verdict.MET


def test_habitat_that_may_have_been_otherwise_is_offered_to_nobody() -> None:
    found = planned(
        HabitatIn(id="wood", classes=("woodland",)), captured="2026-11-14T10:00", now="2026-11-14T10:00",
        as_of={"habitat": date(2026, 12, 1)},
    )  # fmt: skip
    assert not found.sites


def test_a_version_that_ends_at_midnight_ends_the_hours() -> None:
    versions = (
        Version(date(2020, 1, 1), date(2026, 11, 14), (NEAR,)),
        Version(date(2026, 11, 15), None, (NEAR,)),
    )
    found = planned(
        captured="2026-11-14T22:00", now="2026-11-14T23:00", release_at="2026-11-14T23:30", versions=versions
    )
    assert hours(found)[:3] == ["23:30", "23:59", "23:59"]
    assert found.sites[0].deadline_of == "the permit's version"


def test_the_taking_is_judged_by_the_version_at_the_capture() -> None:
    """Taken the day before the new version: its clauses of the taking do not hold, its others do."""
    from tussock.permit.animal_kinds import SpeciesListed

    listed = SpeciesListed(id="old list", species=("Invented species",))
    other = SpeciesListed(id="new list", species=("Another species",))
    versions = (
        Version(date(2020, 1, 1), date(2026, 11, 14), (NEAR, listed)),
        Version(date(2026, 11, 15), None, (NEAR, other)),
    )
    found = planned(captured="2026-11-14T22:00", now="2026-11-15T09:00", versions=versions)
    assert [c.id for c in found.animal_clauses] == ["old list"]
    assert found.sites
    assert found.permits[0].version == "2026-11-15" and found.permits[0].version_at_capture == "2020-01-01"


def test_the_nearest_suitable_place_and_none_much_farther() -> None:
    """The nearest lies 60 m + 30 m from the house; nothing farther by more than 40 m is offered."""
    house = Thing(shapely.box(-5, -5, 5, 5), "house", "h")
    clauses = (
        MinDistanceFrom(id="homes", layer="dwellings", limit_m=60),
        NearestSuitable(id="nearest", tolerance_m=40),
    )
    found = planned(*clauses, captured="2026-11-14T10:00", now="2026-11-14T10:00",
                    layers={"dwellings": (house,)})  # fmt: skip
    assert found.nearest is not None and found.sites
    for site in found.sites:
        result = next(c for c in site.clauses if c.id == "nearest")
        assert result.verdict is Verdict.MET and result.value is not None
        assert result.value.high == pytest.approx(site.distance_m - found.nearest.distance_m, abs=0.01)
        assert site.distance_m <= found.nearest.distance_m + 40.01


def test_ground_without_consent_is_listed_apart() -> None:
    """West is one parcel with a consent, east one without, north lies on no parcel."""
    west = Thing(shapely.box(-1000, -1000, 0, 100), "", "west")
    east = Thing(shapely.box(0, -1000, 1000, 100), "", "east")
    found = planned(
        ConsentRecorded(id="leave", written=True), captured="2026-11-14T10:00", now="2026-11-14T10:00",
        layers={"parcels": (west, east)}, consents=(cases.consent("1", parcels="west"),),
    )  # fmt: skip
    assert found.sites and found.needs_consent
    assert all(s.rank == 0 and s.lacking == (("east", ""),) for s in found.needs_consent)
    for site in found.sites:
        result = next(c for c in site.clauses if c.id == "leave")
        assert result.verdict is Verdict.MET or "owner unknown" in (result.reason or "")
        assert (result.verdict is None) == any(t.startswith("leave:") for t in site.todo)


def test_three_places_are_listed_apart_though_nearer_ones_have_consent_after_all() -> None:
    """Consented ground ends 38 m east. A disc of 30 m round the cell at 5 m lies on it, though too near its
    edge for the screening to tell; the disc round the cell at 15 m does not: 15.8 m away with y = 5 m."""
    west = Thing(shapely.box(-1000, -1000, 38, 1000), "", "west")
    east = Thing(shapely.box(38, -1000, 1000, 1000), "", "east")
    found = planned(
        ConsentRecorded(id="leave", written=True), captured="2026-11-14T10:00", now="2026-11-14T10:00",
        layers={"parcels": (west, east)}, consents=(cases.consent("1", parcels="west"),),
    )  # fmt: skip
    assert len(found.needs_consent) == 3
    assert found.needs_consent[0].distance_m == pytest.approx((15.0**2 + 5.0**2) ** 0.5, abs=0.05)
    assert all(s.lacking == (("east", ""),) for s in found.needs_consent)


def test_a_release_before_the_capture_is_refused() -> None:
    with pytest.raises(UsageError, match="before the capture"):
        planned(captured="2026-11-14T10:00", now="2026-11-14T10:00", release_at="2026-11-14T09:59")


def test_the_dark_is_remarked_on_where_no_clause_speaks_of_it() -> None:
    dark = planned(captured="2026-11-14T22:00", now="2026-11-14T22:00")
    light = planned(captured="2026-11-14T12:00", now="2026-11-14T12:00")
    assert any("in the dark" in w for w in dark.warnings)
    assert not any("in the dark" in w for w in light.warnings)


def test_elapsed_time_over_a_clock_change() -> None:
    """4 April 2026, 3 a.m. falls back to 2 a.m. on the 5th: 12 h from 20:00 end at 07:00."""
    found = planned(
        MaxHoldingHours(id="held", limit_h=12),
        captured="2026-04-04T20:00", now="2026-04-05T06:30", release_at="2026-04-05T06:40",
    )  # fmt: skip
    assert hours(found)[1] == "07:00"
    assert datetime.fromisoformat(found.sites[0].release_to).astimezone(UTC) == datetime(
        2026, 4, 4, 21, 0, tzinfo=UTC
    )


def test_species_that_it_may_be_must_all_be_about() -> None:
    from tussock.species.animal import Identification
    from tussock.species.traits import ActivePeriod

    region = made_region(Ground({"habitat": (EVERYWHERE,)}))
    now = datetime(2026, 11, 14, 12, 0, tzinfo=HOBART)
    day = cases.profile(active_period=ActivePeriod.DIURNAL)
    night = cases.profile(scientific_name="Another species", active_period=ActivePeriod.NOCTURNAL)
    permit = Permit("P", "N", "A", HOBART, (), (
        Version(date(2020, 1, 1), None, (NEAR, ReleaseWindow(id="active", window="active_period"))),
    ))  # fmt: skip
    setting = Setting(region, (permit,), (), read_weights(), now, top=1, rasters=False)
    sure = cases.animal(day)
    unsure = replace(sure, identification=Identification.PROBABLE, others=(night,))
    where = cases.position(region, 0.0, 0.0)
    assert plan(Capture("c", where, now, sure, {}), setting).sites
    assert not plan(Capture("c", where, now, unsure, {}), setting).sites
