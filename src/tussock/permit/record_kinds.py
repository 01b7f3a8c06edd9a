# ruff: noqa: D102 - these methods are documented where Condition declares them
"""Clauses that the record decides. They are read and kept; judging them needs the logbook."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field, model_validator

from tussock.permit.condition import Condition, Decided
from tussock.permit.fields import Celsius, Count, Disposals, Hours, Lines, MonthDay, Prose, SpeciesNames


class RecordCondition(Condition):
    """A clause that the record decides."""

    decided: ClassVar[Decided] = Decided.RECORD
    judged: ClassVar[bool] = False
    not_checked: ClassVar[str] = "not checked: it needs the logbook"


class CheckedEveryHours(RecordCondition):
    """The held animal is looked at that often."""

    kind: Literal["checked_every_hours"] = "checked_every_hours"
    taking: ClassVar[bool] = True
    not_checked: ClassVar[str] = "not checked: it needs the times at which the held animal was looked at"
    limit_h: Hours

    def words(self) -> str:
        return f"No more than {self.limit_h:g} h pass between two recorded checks of the held animal."


class RecordWithinHours(RecordCondition):
    """The record is written soon."""

    kind: Literal["record_within_hours"] = "record_within_hours"
    not_checked: ClassVar[str] = "not checked: it needs recordedDate, when the record was written"
    limit_h: Hours

    def words(self) -> str:
        return f"The recordedDate is at most {self.limit_h:g} h after the eventDate it is about."


class IncidentReportedWithinHours(RecordCondition):
    """Bites, escapes, deaths are reported soon."""

    kind: Literal["incident_reported_within_hours"] = "incident_reported_within_hours"
    not_checked: ClassVar[str] = (
        "not checked: it needs the incidents of the logbook and when they were reported"
    )
    limit_h: Hours

    def words(self) -> str:
        return f"Every recorded incident was reported at most {self.limit_h:g} h after it happened."


class WeatherWithin(RecordCondition):
    """Neither too cold nor too hot at release."""

    kind: Literal["weather_within"] = "weather_within"
    not_checked: ClassVar[str] = "not checked: it needs the air temperature recorded at release"
    min_c: Celsius | None = None
    max_c: Celsius | None = None

    @model_validator(mode="after")
    def _is_a_range(self) -> WeatherWithin:
        if self.min_c is None and self.max_c is None:
            raise ValueError("weather_within has neither min_c nor max_c")
        if self.min_c is not None and self.max_c is not None and self.min_c >= self.max_c:
            raise ValueError(f"min_c = {self.min_c:g} is not below max_c = {self.max_c:g}")
        return self

    def words(self) -> str:
        ends = [
            f"{w} {v:g} °C" for w, v in (("at least", self.min_c), ("at most", self.max_c)) if v is not None
        ]
        return f"The air temperature recorded at release is {' and '.join(ends)}."


class HandledBy(RecordCondition):
    """Only named people handle the animal."""

    kind: Literal["handled_by"] = "handled_by"
    taking: ClassVar[bool] = True
    not_checked: ClassVar[str] = "not checked: it needs recordedBy, who handled the animal"
    persons: Lines | None = None

    def words(self) -> str:
        who = ", ".join(self.persons) if self.persons else "the permit's authorised_persons"
        return f"The recordedBy of every capture names only {who}."


class Quota(RecordCondition):
    """No more animals than that in a period."""

    kind: Literal["quota"] = "quota"
    taking: ClassVar[bool] = True
    not_checked: ClassVar[str] = "not checked: it needs every capture of the period"
    count: Count
    per: Annotated[
        Literal["day", "week", "month", "year", "version"],
        Field(description="day, week, month, year (of the calendar) or version (its whole term)"),
    ]
    species: SpeciesNames | None = None

    def words(self) -> str:
        whose = f" of {', '.join(self.species)}" if self.species else ""
        period = "term of the permit version" if self.per == "version" else f"calendar {self.per}"
        return f"At most {self.count} individuals{whose} are captured in a {period}."


class DisposedTo(RecordCondition):
    """Holding ends only in one of those ways."""

    kind: Literal["disposed_to"] = "disposed_to"
    not_checked: ClassVar[str] = "not checked: it needs how holding ended"
    disposals: Disposals

    def words(self) -> str:
        return f"Holding ends as {' or '.join(self.disposals)}."


class RecordComplete(RecordCondition):
    """The record has those fields filled in."""

    kind: Literal["record_complete"] = "record_complete"
    fields: Annotated[
        Lines, Field(description="a list in square brackets of column names, such as eventDate")
    ]

    def words(self) -> str:
        return f"The record has {', '.join(self.fields)} filled in."


class ConsentRecorded(RecordCondition):
    """The landholder's consent is on file."""

    kind: Literal["consent_recorded"] = "consent_recorded"
    not_checked: ClassVar[str] = "not checked: it needs the parcel of the release and the consent register"
    written: Annotated[bool, Field(description="true or false")] = False
    tenures: Lines | None = None

    def words(self) -> str:
        form = "written " if self.written else ""
        where = f", on ground of tenure {' or '.join(self.tenures)}" if self.tenures else ""
        return f"A {form}consent in force at the release covers its whole disc and the species{where}."


class Attested(RecordCondition):
    """Any other clause, answered by a person."""

    kind: Literal["attested"] = "attested"
    not_checked: ClassVar[str] = "not checked: a person answers it"
    question: Annotated[Prose, Field(min_length=1, description="a question to answer with yes or no")]
    ask_at: Annotated[
        Literal["capture", "plan", "site", "release", "return"],
        Field(description="capture, plan, site, release or return"),
    ]
    photo: Annotated[bool, Field(description="true or false")] = False

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

    def words(self) -> str:
        nil = "also" if self.nil_return else "not"
        return (
            f"A return for the period ending on {self.period_end} (month-day) is due on {self.due}, "
            f"{nil} when there was nothing to report."
        )
