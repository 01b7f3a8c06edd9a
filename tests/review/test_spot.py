"""The check at the spot: verdicts where one stands, answers, what is rejected, and where to go next."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import shapely

from tests.support import cases
from tests.support.regions import Ground, MadeRegion, Thing, made_region
from tussock.errors import InputError
from tussock.interval import Verdict
from tussock.maps.check_file import check_json
from tussock.maps.exports import plan_json
from tussock.permit.condition import Condition
from tussock.permit.permit_file import Permit, Version
from tussock.permit.place_kinds import HabitatIn, MaxDistanceFromCapture, MinDistanceFrom, NearestSuitable
from tussock.permit.record_kinds import (
    Attested,
    ConsentRecorded,
    DisposedTo,
    HandledBy,
    RecordWithinHours,
    WeatherWithin,
)
from tussock.permit.time_kinds import MaxHoldingHours, ReleaseWindow
from tussock.planning.criteria import read_weights
from tussock.planning.plan import plan
from tussock.planning.setting import Capture, Setting
from tussock.position import Position
from tussock.review.planned import PlanRecord, read_plan
from tussock.review.spot import Held, Photo, Spot, SpotCheck, check_spot
from tussock.review.spot_earlier import earlier_checks
from tussock.review.spot_questions import LOOK, Answer, Question, clause_questions

HOBART = ZoneInfo("Australia/Hobart")
CAPTURED = datetime(2026, 11, 14, 10, 0, tzinfo=HOBART)
YES = {q.key: Answer.YES for q in LOOK}
WOOD = Thing(shapely.box(-5000, -5000, 5000, 5000), "woodland", "w")
HOUSE = Thing(shapely.box(400, -5, 410, 5), "house", "h")
PLACE: tuple[Condition, ...] = (
    MaxDistanceFromCapture(id="near", limit_m=300),
    MinDistanceFrom(id="homes", layer="dwellings", limit_m=200),
    HabitatIn(id="wood", classes=("woodland",)),
)
CLOCK: tuple[Condition, ...] = (
    MaxHoldingHours(id="held", limit_h=6),
    ReleaseWindow(id="day", window="daylight"),
)


class Case:
    """A plan for a capture in a wood with one house 400 m east of it, and the spot to be checked."""

    def __init__(
        self,
        folder: Path,
        *clauses: Condition,
        layers: Mapping[str, tuple[Thing, ...]] | None = None,
        versions: tuple[Version, ...] = (),
        house_rules: tuple[Condition, ...] = (),
        trap_checked: datetime | None = None,
        **setting: Any,
    ) -> None:
        ground = {"habitat": (WOOD,), "dwellings": (HOUSE,), **(layers or {})}
        self.region: MadeRegion = made_region(Ground(ground))
        held = versions or (Version(date(2020, 1, 1), None, (*PLACE, *clauses)),)
        self.permit = Permit("P-1", "N", "the Office", HOBART, (), held)
        made = Setting(
            self.region, (self.permit,), house_rules, read_weights(), CAPTURED + timedelta(minutes=10),
            top=3, rasters=False, **setting,
        )  # fmt: skip
        where = cases.position(self.region, 0.0, 0.0)
        self.path = folder / "today.json"
        found = plan(Capture("C-1", where, CAPTURED, cases.animal(), {}, trap_checked=trap_checked), made)
        self.path.write_text(plan_json(found), "utf-8")
        self.consents = made.consents
        self.rules = house_rules
        self.now = CAPTURED + timedelta(minutes=40)

    @property
    def record(self) -> PlanRecord:
        return read_plan(self.path)

    def held(self, **changes: Any) -> Held:
        base = Held(
            region=self.region, permits=(self.permit,), animal=cases.animal(), house_rules=self.rules,
            consents=self.consents,
        )  # fmt: skip
        return replace(base, **changes)

    def at(self, x: float, y: float, radius_m: float = 5.0) -> Position:
        return cases.position(self.region, x, y, radius_m=radius_m)

    def at_site(self, number: int = 1, radius_m: float = 5.0) -> Position:
        site = self.record.site(number)
        assert site is not None
        return Position(site.longitude, site.latitude, radius_m)

    def check(
        self,
        fix: Position | None = None,
        answers: Mapping[str, Answer] | None = None,
        *,
        number: int = 1,
        now: datetime | None = None,
        held: Mapping[str, Any] | None = None,
        **spot: Any,
    ) -> SpotCheck:
        made = Spot(
            number=number, fix=fix or self.at_site(number), now=now or self.now,
            answers=YES if answers is None else answers, **spot,
        )  # fmt: skip
        return check_spot(self.record, made, self.held(**(held or {})))


def verdicts(check: SpotCheck) -> dict[str, Verdict | None]:
    return {r.id: r.verdict for r in check.results}


def result(check: SpotCheck, name: str) -> Any:
    return next(r for r in check.results if r.id == name)


def test_inside_the_planned_disc_and_hours_every_planned_clause_is_met(tmp_path: Path) -> None:
    case = Case(tmp_path, *CLOCK, NearestSuitable(id="nearest", tolerance_m=250))
    rng = np.random.default_rng(5)
    for site in case.record.sites:
        for radius in (1.0, 12.0, site.radius_m - 0.01):
            reach, turn = (site.radius_m - radius) * 0.99, rng.uniform(0, 2 * np.pi)
            x, y = (float(v) for v in case.region.plane.project(site.longitude, site.latitude))
            fix = case.at(x + reach * np.cos(turn), y + reach * np.sin(turn), radius)
            first, last = (datetime.fromisoformat(t) for t in (site.release_from, site.release_to))
            found = case.check(fix, number=site.rank, now=first + rng.uniform(0, 1) * (last - first))
            assert found.in_disc and found.near
            assert verdicts(found) == {c.id: Verdict.MET for c in site.clauses}
            assert found.verdict is Verdict.MET and not found.rejected
            assert found.after is None and found.way_on == ()
    assert len(case.record.sites) == 3


def test_nearer_to_a_house_is_not_met_with_the_margin_by_hand(tmp_path: Path) -> None:
    """100 m west of the wall, within 5 m: 95 to 105 m, so 105 m short of 200 m at the worse end."""
    case = Case(tmp_path)
    found = case.check(case.at(300.0, 0.0))
    homes = result(found, "homes")
    assert homes.verdict is Verdict.NOT_MET
    assert (homes.value.low, homes.value.high) == pytest.approx((95.0, 105.0), abs=0.02)
    assert homes.margin == pytest.approx(-105.0, abs=0.02)
    assert found.verdict is Verdict.NOT_MET
    assert not found.in_disc


AT_THE_LIMIT = [
    (194.9, Verdict.MET),
    (195.1, Verdict.UNCERTAIN),
    (200.0, Verdict.UNCERTAIN),
    (204.9, Verdict.UNCERTAIN),
    (205.1, Verdict.NOT_MET),
]


@pytest.mark.parametrize(("x", "verdict"), AT_THE_LIMIT)
def test_the_radius_of_the_fix_decides_at_the_limit(x: float, verdict: Verdict, tmp_path: Path) -> None:
    """The wall is at 400 m, the limit 200 m, the radius 5 m: by hand 195 and 205."""
    found = Case(tmp_path).check(Case(tmp_path).at(x, 0.0))
    assert result(found, "homes").verdict is verdict
    assert found.verdict is verdict


def test_after_dark_and_after_the_holding_time_the_clock_is_against_it_and_no_site_helps(
    tmp_path: Path,
) -> None:
    case = Case(tmp_path, *CLOCK)
    in_time = case.check()
    assert in_time.ends is not None
    assert (in_time.ends.clause, in_time.ends.instant) == ("held", CAPTURED + timedelta(hours=6))
    late = case.check(now=CAPTURED + timedelta(hours=6, minutes=30))
    assert verdicts(late)["held"] is Verdict.NOT_MET and verdicts(late)["day"] is Verdict.MET
    assert result(late, "held").margin == pytest.approx(-0.5)
    dark = case.check(now=CAPTURED + timedelta(hours=13))  # 23:00 in November at 42° S
    assert verdicts(dark)["day"] is Verdict.NOT_MET
    for found in (late, dark):
        assert found.ends is None and found.after is None
        assert not found.rejected, "the clock says nothing about the site"
        assert "No site left" in found.way_on[0]


def test_the_hours_since_the_trap_was_checked_are_those_of_the_plan(tmp_path: Path) -> None:
    """Checked two hours before the capture, 5 h allowed: three are left of them at the capture."""
    checked = CAPTURED - timedelta(hours=2)
    clause = MaxHoldingHours.model_validate({"id": "trap", "limit_h": 5, "from": "trap_check"})
    case = Case(tmp_path, clause, trap_checked=checked)
    found = case.check()
    assert verdicts(found)["trap"] is Verdict.MET
    assert found.ends is not None and found.ends.instant == CAPTURED + timedelta(hours=3)


def test_a_consent_that_lapsed_since_the_plan_is_not_met(tmp_path: Path) -> None:
    parcel = Thing(shapely.box(-5000, -5000, 5000, 5000), "", "a")
    lasting = replace(cases.consent("1", parcels="a"), valid_to=date(2026, 11, 14))
    case = Case(
        tmp_path, ConsentRecorded(id="leave"), layers={"parcels": (parcel,)}, consents=(lasting,)
    )  # fmt: skip
    assert result(case.check(), "leave").verdict is Verdict.MET
    withdrawn = replace(lasting, withdrawn_on=date(2026, 11, 14))
    found = case.check(held={"consents": (withdrawn,)})
    assert result(found, "leave").verdict is Verdict.NOT_MET
    assert found.verdict is Verdict.NOT_MET and found.rejected
    assert result(case.check(now=CAPTURED + timedelta(days=1)), "leave").verdict is Verdict.NOT_MET
    assert not any(q.clause == "leave" for q in found.questions), "the map settles it"


def test_an_owner_that_no_map_names_is_asked_for(tmp_path: Path) -> None:
    case = Case(tmp_path, ConsentRecorded(id="leave", written=True))
    silent = case.check()
    assert [q.key for q in silent.unanswered] == ["leave"]
    assert "written consent" in silent.unanswered[0].text
    assert silent.verdict is Verdict.MISSING
    met, attested, _, _ = case.check(answers={**YES, "leave": Answer.YES}).counts
    assert (met, attested) == (3, 1)
    refused = case.check(answers={**YES, "leave": Answer.NO})
    assert refused.verdict is Verdict.NOT_MET and refused.rejected


def test_an_unanswered_attested_clause_is_missing_and_never_met(tmp_path: Path) -> None:
    case = Case(tmp_path, Attested(id="8(b)", question="Is there a refuge?", ask_at="site"))
    expected = {
        None: (Verdict.MISSING, (3, 0, 0, 0)),
        Answer.YES: (Verdict.MET, (3, 1, 0, 0)),
        Answer.NO: (Verdict.NOT_MET, (3, 0, 0, 0)),
        Answer.UNCLEAR: (Verdict.UNCERTAIN, (3, 0, 0, 0)),
    }
    for answer, (verdict, counts) in expected.items():
        found = case.check(answers=YES if answer is None else {**YES, "8(b)": answer})
        assert result(found, "8(b)").verdict is verdict
        assert found.verdict is verdict
        assert found.counts == counts
        assert found.rejected is (answer is Answer.NO)


def test_a_clause_that_asks_for_a_photo_is_missing_without_one(tmp_path: Path) -> None:
    case = Case(tmp_path, Attested(id="a", question="Is there a refuge?", ask_at="release", photo=True))
    assert case.check(answers={**YES, "a": Answer.YES}).verdict is Verdict.MISSING
    with_photo = case.check(answers={**YES, "a": Answer.YES}, photo=Photo("spot.jpg", "0" * 64))
    assert with_photo.verdict is Verdict.MET


@pytest.mark.parametrize("key", [q.key for q in LOOK])
def test_each_question_weighs(key: str, tmp_path: Path) -> None:
    case = Case(tmp_path)
    without = {k: v for k, v in YES.items() if k != key}
    assert case.check(answers=without).verdict is Verdict.MISSING
    assert [q.key for q in case.check(answers=without).unanswered] == [key]
    assert case.check(answers={**YES, key: Answer.UNCLEAR}).verdict is Verdict.UNCERTAIN
    assert case.check(answers={**YES, key: Answer.NO}).verdict is Verdict.NOT_MET


def test_an_animal_that_is_not_alert_is_not_released_at_any_site(tmp_path: Path) -> None:
    found = Case(tmp_path).check(
        answers={**YES, "animal": Answer.NO}, held={"contacts": {"carer": "Call the vet of the demo, 555."}}
    )
    assert found.after is None
    assert len(found.way_on) == 1
    assert "vet or a licensed carer" in found.way_on[0] and "555" in found.way_on[0]
    assert not found.rejected, "the site is as good as before"


def test_the_chain_of_rejections_ends_with_the_authority(tmp_path: Path) -> None:
    case = Case(tmp_path)
    seen = []
    for number in (1, 2, 3):
        earlier = earlier_checks(case.record, case.path)
        found = case.check(
            answers={**YES, "quiet": Answer.NO}, number=number, why="dogs",
            now=case.now + timedelta(minutes=number), held={"rejected": earlier.rejected},
        )  # fmt: skip
        assert found.rejected
        seen.append(found.after.number if found.after else None)
        (tmp_path / f"today-check-{number}.json").write_text(check_json(found, inputs={}), "utf-8")
    assert seen == [2, 3, None]
    assert found.way_on[0].startswith("No site left") and "Call the authority" in found.way_on[0]
    assert earlier_checks(case.record, case.path).rejected == {1, 2, 3}


def test_the_next_site_is_seen_from_where_one_stands(tmp_path: Path) -> None:
    case = Case(tmp_path)
    found = case.check(answers={**YES, "map": Answer.NO})
    second = case.record.site(2)
    assert found.after is not None and second is not None
    here, there = (
        np.array(case.region.plane.project(p.longitude, p.latitude)) for p in (found.spot.fix, second)
    )
    east, north = there - here  # so near the middle of the plane a metre is a metre
    assert found.after.distance_m == pytest.approx(float(np.hypot(east, north)), abs=0.01)
    assert found.after.bearing_deg == pytest.approx(float(np.degrees(np.arctan2(east, north))) % 360, abs=0.1)
    assert found.after.release_from == second.release_from


def test_a_spot_beside_the_planned_one_leads_back_to_it_and_rejects_nothing(tmp_path: Path) -> None:
    found = Case(tmp_path).check(Case(tmp_path).at(340.0, 0.0))
    assert found.verdict is Verdict.NOT_MET and not found.near
    assert not found.rejected
    assert found.after is not None and found.after.number == 1
    assert found.after.distance_m == pytest.approx(found.away_m)


def test_a_planned_site_too_late_for_its_hours_is_not_named(tmp_path: Path) -> None:
    case = Case(tmp_path, *CLOCK)
    at_the_end = CAPTURED + timedelta(hours=6)
    found = case.check(answers={**YES, "map": Answer.NO}, now=at_the_end)
    assert found.after is not None, "to the minute they are still open"
    assert case.check(answers={**YES, "map": Answer.NO}, now=at_the_end + timedelta(minutes=1)).after is None


def test_what_falls_due_later_is_still_to_do_and_what_is_due_now_is_judged(tmp_path: Path) -> None:
    case = Case(
        tmp_path,
        RecordWithinHours(id="write", limit_h=48),
        HandledBy(id="hands", persons=("N. O. Body",)),
        DisposedTo(id="ends", disposals=("released",)),
        WeatherWithin(id="mild", min_c=10, max_c=30),
        RecordWithinHours(id="advice", limit_h=1, mandatory=False),
    )
    cold = case.check()
    assert result(cold, "mild").verdict is Verdict.MISSING and cold.verdict is Verdict.MISSING
    fine = case.check(temperature_c=10.0)
    assert {r.id for r in fine.to_do} == {"write", "hands"}
    assert [verdicts(fine)[n] for n in ("write", "hands", "advice")] == [None] * 3
    assert verdicts(fine)["ends"] is Verdict.MET and verdicts(fine)["mild"] is Verdict.MET
    assert fine.verdict is Verdict.MET
    assert fine.counts == (5, 0, 2, 1)
    hot = case.check(temperature_c=35.0)
    assert result(hot, "mild").margin == -5.0 and hot.verdict is Verdict.NOT_MET


def test_a_permit_that_lapsed_since_stops_everything(tmp_path: Path) -> None:
    versions = (Version(date(2020, 1, 1), date(2026, 11, 14), PLACE),)
    case = Case(tmp_path, versions=versions)
    ends = case.check().ends
    assert ends is not None and ends.clause == ""
    assert ends.instant == datetime(2026, 11, 14, 23, 59, tzinfo=HOBART)
    found = case.check(now=datetime(2026, 11, 15, 0, 0, tzinfo=HOBART))
    assert found.verdict is Verdict.MISSING
    assert "P-1 has no version in force" in found.stop[0] and "the Office" in found.stop[0]
    assert found.after is None and found.open_questions == ()


def test_the_version_of_the_day_of_the_check_counts(tmp_path: Path) -> None:
    stricter = (*PLACE[:1], MinDistanceFrom(id="homes", layer="dwellings", limit_m=900), PLACE[2])
    last = date(2026, 11, 14)
    versions = (
        Version(date(2020, 1, 1), last, PLACE),
        Version(last + timedelta(days=1), None, stricter),
    )
    case = Case(tmp_path, versions=versions)
    assert result(case.check(), "homes").verdict is Verdict.MET
    assert result(case.check(now=CAPTURED + timedelta(days=1)), "homes").verdict is Verdict.NOT_MET


def test_a_house_rule_weighs_and_does_not_count_as_the_permit(tmp_path: Path) -> None:
    rule = MinDistanceFrom(id="house: homes", layer="dwellings", limit_m=150)
    case = Case(tmp_path, house_rules=(rule,))
    inside = case.check()
    assert verdicts(inside)["house: homes"] is Verdict.MET
    assert inside.counts == (3, 0, 0, 0)
    strict = MinDistanceFrom(id="house: homes", layer="dwellings", limit_m=5000)
    found = case.check(held={"house_rules": (strict,)})
    assert found.verdict is Verdict.NOT_MET and found.against[0].house
    assert found.counts == (3, 0, 0, 0)


def test_the_nearest_suitable_is_what_the_plan_stored_and_missing_beyond_its_disc(tmp_path: Path) -> None:
    case = Case(tmp_path, NearestSuitable(id="nearest", tolerance_m=60))
    assert verdicts(case.check())["nearest"] is Verdict.MET
    beside = case.check(case.at(-200.0, 0.0))
    assert verdicts(beside)["nearest"] is Verdict.MISSING


def test_a_house_built_since_the_plan_is_seen(tmp_path: Path) -> None:
    case = Case(tmp_path)
    site = case.record.site(1)
    assert site is not None
    x, y = (float(v) for v in case.region.plane.project(site.longitude, site.latitude))
    new = Thing(shapely.box(x + 50, y, x + 60, y + 10), "house", "new")
    changed = made_region(Ground({"habitat": (WOOD,), "dwellings": (HOUSE, new)}))
    found = case.check(held={"region": changed})
    assert result(found, "homes").verdict is Verdict.NOT_MET
    assert result(found, "homes").value.low == pytest.approx(45.0, abs=0.02)


def test_keys_of_clauses_are_told_apart() -> None:
    asked = Attested(id="1", question="Is it so?", ask_at="site")
    named = Attested(id="animal", question="Is it well?", ask_at="capture")
    permits = [cases.permit(asked, named, id="A"), cases.permit(asked, id="B")]
    found = clause_questions(permits)
    assert [q.key for q in found] == ["A:1", "A:animal", "B:1"]
    assert [q.lasting for q in found] == [False, True, False]
    only = clause_questions([cases.permit(asked, Attested(id="2", question="Due?", ask_at="return"))])
    assert only == (Question("1", "Is it so?", "P-1", "1"),)


def test_answers_about_the_capture_hold_for_every_spot(tmp_path: Path) -> None:
    case = Case(
        tmp_path,
        Attested(id="told", question="Was the resident told?", ask_at="capture"),
        Attested(id="here", question="Is there a refuge?", ask_at="site"),
    )
    answers = {**YES, "told": Answer.YES, "here": Answer.NO}
    made = check_json(case.check(answers=answers), inputs={})
    (tmp_path / "today-check-1.json").write_text(made, "utf-8")
    assert earlier_checks(case.record, case.path).answers == {"told": Answer.YES}


def test_checks_of_another_plan_and_broken_ones_are_left_out_and_said(tmp_path: Path) -> None:
    case = Case(tmp_path)
    found = json.loads(check_json(case.check(answers={**YES, "map": Answer.NO}), inputs={}))
    other = {**found, "plan": {**found["plan"], "sha256": "0" * 64}}
    (tmp_path / "today-check-1.json").write_text(json.dumps(other), "utf-8")
    (tmp_path / "today-check-2.json").write_text('{"format": "tussock check 1"}', "utf-8")
    (tmp_path / "today-check-3.json").write_text("[1, 2", "utf-8")
    (tmp_path / "today-check-4.json").write_text("[1, 2]", "utf-8")
    read = earlier_checks(case.record, case.path)
    assert read.rejected == frozenset()
    assert [n.split()[0] for n in read.notes] == [f"today-check-{n}.json" for n in (1, 2, 3, 4)]


def test_the_last_check_of_a_site_counts(tmp_path: Path) -> None:
    case = Case(tmp_path)
    for number, (minute, answer) in enumerate([(1, Answer.YES), (0, Answer.NO)]):
        when = case.now + timedelta(minutes=minute)
        made = check_json(case.check(answers={**YES, "quiet": answer}, now=when), inputs={})
        (tmp_path / f"today-check-1-{number + 2}.json").write_text(made, "utf-8")
    assert earlier_checks(case.record, case.path).rejected == frozenset()


def test_the_file_of_a_check_is_the_same_bytes_and_holds_what_was_found(tmp_path: Path) -> None:
    case = Case(tmp_path, *CLOCK)
    one, two = (check_json(case.check(why="x"), inputs={"a": "b"}) for _ in range(2))
    assert one == two
    found = json.loads(one)
    assert found["plan"] == {"file": "today.json", "sha256": case.record.sha256}
    assert found["counts"] == {"met": 5, "attested": 0, "to_see_to": 0, "not_checked": 0}
    assert [c["id"] for c in found["conditions"]] == ["near", "homes", "wood", "held", "day"]
    assert found["site"]["number"] == 1 and found["in_planned_disc"] is True
    assert {a["key"]: a["answer"] for a in found["answers"]} == dict.fromkeys(YES, "yes")
    planned = json.loads(case.path.read_text("utf-8"))["sites"][0]["clauses"]
    assert [c["verdict"] for c in planned] == [c["verdict"] for c in found["conditions"]]


def test_a_fix_outside_the_region_and_a_site_that_is_none_are_refused(tmp_path: Path) -> None:
    case = Case(tmp_path)
    away = Position(13.3, 53.5, 5.0)
    with pytest.raises(InputError, match="outside the region"):
        case.check(away)
    with pytest.raises(KeyError):
        case.check(case.at(0, 0), number=9)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"format": "tussock sites 1"}, "no decision record"),
        ({"dataGeneralizations": "left out"}, "--share"),
        ({"sites": [], "stop": ["No site: it is dark."]}, "it is dark"),
        ({"capture": None}, "capture"),
        ({"now": "yesterday"}, "now"),
        ({"inputs": [1]}, "inputs"),
    ],
)
def test_a_plan_that_cannot_be_checked_is_refused(change: dict[str, Any], said: str, tmp_path: Path) -> None:
    case = Case(tmp_path)
    found = json.loads(case.path.read_text("utf-8"))
    case.path.write_text(json.dumps({**found, **change}), "utf-8")
    with pytest.raises(InputError, match=said) as refused:
        read_plan(case.path)
    assert "today.json" in refused.value.text()


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '"x"', "\x00"])
def test_what_is_no_plan_at_all_is_refused(text: str, tmp_path: Path) -> None:
    (tmp_path / "today.json").write_text(text, "utf-8")
    with pytest.raises(InputError, match=r"today\.json"):
        read_plan(tmp_path / "today.json")
    with pytest.raises(InputError, match="cannot be read"):
        read_plan(tmp_path / "none.json")
