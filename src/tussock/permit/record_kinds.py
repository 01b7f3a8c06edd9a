# ruff: noqa: D102 - these methods are documented where Condition declares them
"""Clauses that the record decides: to-dos before a release, judged from the record after it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, ClassVar, Literal

from pydantic import Field, model_validator

from tussock.interval import Verdict
from tussock.permit.condition import Condition, Decided
from tussock.permit.explain import did_you_mean
from tussock.permit.fields import Celsius, Count, Disposals, Hours, Lines, MonthDay, Prose, SpeciesNames
from tussock.permit.record_answers import closers, judge_answer, judge_persons, judge_temperature
from tussock.permit.record_counts import judge_quota
from tussock.permit.record_facts import ENDED_AS, NOT_DUE, Finding, RecordFacts
from tussock.permit.record_hours import judge_checks, judge_incidents, judge_record_delay


class RecordCondition(Condition):
    """A clause that the record decides."""

    decided: ClassVar[Decided] = Decided.RECORD
    judged: ClassVar[bool] = False
    not_checked: ClassVar[str] = "for you to see to: what it asks for goes into the record"


class CheckedEveryHours(RecordCondition):
    """The held animal is looked at that often."""

    kind: Literal["checked_every_hours"] = "checked_every_hours"
    taking: ClassVar[bool] = True
    not_checked: ClassVar[str] = "for you to see to: look at the held animal that often and write down when"
    limit_h: Hours

    def judge_record(self, facts: RecordFacts) -> Finding:
        return judge_checks(facts, limit_h=self.limit_h)

    def words(self) -> str:
        return (
            f"From capture to end of holding no more than {self.limit_h:g} h pass without a recorded check."
        )


class RecordWithinHours(RecordCondition):
    """The record is written soon."""

    kind: Literal["record_within_hours"] = "record_within_hours"
    not_checked: ClassVar[str] = "for you to see to: write the record in time; recordedDate says when"
    limit_h: Hours

    def judge_record(self, facts: RecordFacts) -> Finding:
        return judge_record_delay(facts, limit_h=self.limit_h)

    def words(self) -> str:
        return f"The recordedDate is at most {self.limit_h:g} h after the eventDate it is about."


class IncidentReportedWithinHours(RecordCondition):
    """Bites, escapes, deaths are reported soon."""

    kind: Literal["incident_reported_within_hours"] = "incident_reported_within_hours"
    not_checked: ClassVar[str] = "for you to see to: report incidents in time and write down when"
    limit_h: Hours

    def judge_record(self, facts: RecordFacts) -> Finding:
        return judge_incidents(facts, limit_h=self.limit_h)

    def words(self) -> str:
        return f"Every recorded incident was reported at most {self.limit_h:g} h after it happened."


class WeatherWithin(RecordCondition):
    """Neither too cold nor too hot at release."""

    kind: Literal["weather_within"] = "weather_within"
    not_checked: ClassVar[str] = "for you to see to: take the air temperature at release and write it down"
    min_c: Celsius | None = None
    max_c: Celsius | None = None

    @model_validator(mode="after")
    def _is_a_range(self) -> WeatherWithin:
        if self.min_c is None and self.max_c is None:
            raise ValueError("weather_within has neither min_c nor max_c")
        if self.min_c is not None and self.max_c is not None and self.min_c >= self.max_c:
            raise ValueError(f"min_c = {self.min_c:g} is not below max_c = {self.max_c:g}")
        return self

    def judge_record(self, facts: RecordFacts) -> Finding:
        if facts.not_released:
            return Finding(None, f"does not apply: the animal was not released ({facts.not_released})")
        if facts.held:
            return Finding(None, NOT_DUE)
        return judge_temperature(facts.temperature_c, min_c=self.min_c, max_c=self.max_c)

    def words(self) -> str:
        ends = [
            f"{w} {v:g} °C" for w, v in (("at least", self.min_c), ("at most", self.max_c)) if v is not None
        ]
        return f"The air temperature recorded at release is {' and '.join(ends)}."


class HandledBy(RecordCondition):
    """Only named people handle the animal."""

    kind: Literal["handled_by"] = "handled_by"
    taking: ClassVar[bool] = True
    not_checked: ClassVar[str] = "for you to see to: only they handle the animal; recordedBy says who did"
    persons: Lines | None = None

    def judge_record(self, facts: RecordFacts) -> Finding:
        ended_by = closers(facts.ended_by, disposal=facts.disposal)
        allowed = self.persons or facts.authorised_persons
        return judge_persons(facts.handlers, allowed=allowed, ended_by=ended_by)

    def words(self) -> str:
        who = ", ".join(self.persons) if self.persons else "the permit's authorised_persons"
        return f"The recordedBy of the capture, and of the end of holding, names only {who}."


class Quota(RecordCondition):
    """No more animals than that in a period."""

    kind: Literal["quota"] = "quota"
    taking: ClassVar[bool] = True
    not_checked: ClassVar[str] = "for you to see to: count the captures of the period, this one with them"
    count: Count
    per: Annotated[
        Literal["day", "week", "month", "year", "version"],
        Field(description="day, week, month, year (of the calendar) or version (its whole term)"),
    ]
    species: SpeciesNames | None = None

    def judge_record(self, facts: RecordFacts) -> Finding:
        return judge_quota(facts, count=self.count, per=self.per, species=self.species)

    def words(self) -> str:
        whose = f" of {', '.join(self.species)}" if self.species else ""
        period = "term of the permit version" if self.per == "version" else f"calendar {self.per}"
        period += " (from Monday)" if self.per == "week" else ""
        return f"At most {self.count} individuals{whose} are captured in a {period}."


class DisposedTo(RecordCondition):
    """Holding ends only in one of those ways."""

    kind: Literal["disposed_to"] = "disposed_to"
    not_checked: ClassVar[str] = "for you to see to: end the holding in no other way"
    disposals: Disposals

    def judge_record(self, facts: RecordFacts) -> Finding:
        if facts.disposed is None:
            return Finding(None, NOT_DUE)
        if not facts.disposal:
            return Finding(Verdict.MISSING, "how holding ended is not recorded")
        if facts.disposal in self.disposals:
            return Finding(Verdict.MET, f"holding ended as {facts.disposal}")
        allowed = " or ".join(self.disposals)
        return Finding(Verdict.NOT_MET, f"holding ended as {facts.disposal}, allowed is {allowed}")

    def words(self) -> str:
        return f"Holding ends as {' or '.join(self.disposals)}."


class RecordComplete(RecordCondition):
    """The record has those fields filled in."""

    kind: Literal["record_complete"] = "record_complete"
    not_checked: ClassVar[str] = "for you to see to: fill in every one of those columns"
    fields: Annotated[
        Lines, Field(description="a list in square brackets of column names, such as eventDate")
    ]

    def judge_record(self, facts: RecordFacts) -> Finding:
        empty = [f for f in self.fields if f in facts.columns and not facts.columns[f].strip()]
        absent = [f for f in self.fields if f not in facts.columns]
        if facts.held and empty == [ENDED_AS] and not absent:
            return Finding(None, f"{NOT_DUE}, and {ENDED_AS} is filled in when holding ends")
        faults = [*(f"{f} is empty" for f in empty), *(_no_column(f, facts.columns) for f in absent)]
        if faults:
            return Finding(Verdict.NOT_MET if empty else Verdict.MISSING, "; ".join(faults))
        return Finding(Verdict.MET, f"{', '.join(self.fields)} filled in")

    def words(self) -> str:
        return f"The record has {', '.join(self.fields)} filled in."


def _no_column(field: str, columns: Iterable[str]) -> str:
    hint = did_you_mean(field, columns)
    return f"no column of the record is called {field}" + (f" ({hint})" if hint else "")


class ConsentRecorded(RecordCondition):
    """The landholder's consent is on file."""

    kind: Literal["consent_recorded"] = "consent_recorded"
    not_checked: ClassVar[str] = "for you to see to: have the consent on file before the release"
    written: Annotated[bool, Field(description="true or false")] = False
    tenures: Lines | None = None

    def words(self) -> str:
        form = "written " if self.written else ""
        where = f", on ground of tenure {' or '.join(self.tenures)}" if self.tenures else ""
        return f"A {form}consent in force at the release covers its whole disc and the species{where}."


class Attested(RecordCondition):
    """Any other clause, answered by a person."""

    kind: Literal["attested"] = "attested"
    not_checked: ClassVar[str] = "for you to see to: answer it with yes or no"
    question: Annotated[Prose, Field(min_length=1, description="a question to answer with yes or no")]
    ask_at: Annotated[
        Literal["capture", "plan", "site", "release", "return"],
        Field(description="capture, plan, site, release or return"),
    ]
    photo: Annotated[bool, Field(description="true or false")] = False

    def judge_record(self, facts: RecordFacts) -> Finding:
        return judge_answer(facts, clause_id=self.id, ask_at=self.ask_at, photo=self.photo)

    def words(self) -> str:
        photo = " with a photo" if self.photo else ""
        return f"A person answers{photo} at {self.ask_at}: {self.question}"


class ReturnDue(Condition):
    """When the return for a period is due."""

    kind: Literal["return_due"] = "return_due"
    judged: ClassVar[bool] = False
    not_checked: ClassVar[str] = "not checked: it is for the return, not for a release"
    period_end: MonthDay
    due: MonthDay
    # a return is asked for unless the permit says that none is needed for an empty period
    nil_return: Annotated[bool, Field(description="true or false")] = True
    # disposal: an outcome stands in the period of its own day, and an animal taken before was held at start;
    # capture: an animal is reported once, with its capture, and with its outcome whenever that came
    assigned_by: Annotated[Literal["disposal", "capture"], Field(description="disposal or capture")] = (
        "disposal"
    )
    recipients: Lines | None = None
    nil_species: Annotated[bool, Field(description="true or false")] = False

    def judge_record(self, facts: RecordFacts) -> Finding:
        return Finding(None, self.not_checked)

    def words(self) -> str:
        nil = "also" if self.nil_return else "not"
        to = f" to {', '.join(self.recipients)}" if self.recipients else ""
        each = ", with a line for each listed species without animals" if self.nil_species else ""
        return (
            f"A return for the period ending on {self.period_end} (month-day) is due{to} on {self.due}, "
            f"{nil} when there was nothing to report{each}. "
            f"Animals belong to a period by the day of their {self.assigned_by}."
        )
