"""A decision record read back: what a plan said of its capture, its permits and its sites."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from tussock.clock import parse_instant
from tussock.errors import Faults, InputError
from tussock.interval import Verdict
from tussock.permit.explain import checked
from tussock.position import Position
from tussock.species.intake import Animal, read_animal
from tussock.species.profiles import SpeciesBook

FORMAT = "tussock plan 1"
_AGAIN = "make the plan again with tussock plan --out, and name its .json file"
_Longitude = Annotated[float, Field(ge=-180, le=180, description="degrees")]
_Latitude = Annotated[float, Field(ge=-90, le=90, description="degrees")]
_Radius = Annotated[float, Field(gt=0, le=2.1e7, description="metres above 0")]


def _moment(text: str) -> str:
    if text:
        parse_instant(text, where="")
    return text


_Moment = Annotated[str, AfterValidator(_moment), Field(description="ISO 8601 with its offset")]


class _Read(BaseModel):
    """Part of the record; what is not read is left alone."""

    model_config = ConfigDict(extra="ignore", frozen=True)


class _Capture(_Read):
    id: str
    time: Annotated[_Moment, Field(min_length=1)]
    longitude: _Longitude
    latitude: _Latitude
    radius_m: _Radius
    radius_assumed: bool
    vernacular_name: str = ""
    answers: dict[str, str]
    trap_checked: _Moment = ""


class _Permit(_Read):
    id: str
    authority: str


class _Clause(_Read):
    id: str
    source: str
    verdict: Literal["met", "uncertain", "not_met", "missing"] | None


class PlannedSite(_Read):
    """A site as it was offered."""

    rank: int
    longitude: _Longitude
    latitude: _Latitude
    radius_m: _Radius
    release_from: _Moment = ""
    release_to: _Moment = ""
    deadline: _Moment = ""
    clauses: tuple[_Clause, ...]

    @property
    def position(self) -> Position:
        """Its planned disc."""
        return Position(self.longitude, self.latitude, self.radius_m)

    def verdicts(self, permit: str) -> dict[str, Verdict]:
        """Return clause id → stored verdict, of one permit."""
        return {c.id: Verdict(c.verdict) for c in self.clauses if c.source == permit and c.verdict}


class _Record(_Read):
    format: str
    now: Annotated[_Moment, Field(min_length=1)]
    capture: _Capture
    permits: tuple[_Permit, ...]
    sites: tuple[PlannedSite, ...]
    stop: tuple[str, ...] = ()
    way_on: tuple[str, ...] = ()
    inputs: dict[str, str]


@dataclass(frozen=True)
class PlanRecord:
    """What a plan stored.

    Attributes
    ----------
    name, sha256
        Of its file.
    capture_id, captured, taken_at, vernacular_name, answers, trap_checked
        The capture as planned for; ``answers`` are those about the animal.
    permits
        Permit ids, in the plan's order.
    sites
        The offered ones, by rank.
    inputs
        Name → SHA-256 of each file that the plan read.
    """

    name: str
    sha256: str
    made: datetime
    capture_id: str
    captured: datetime
    taken_at: Position
    vernacular_name: str
    answers: Mapping[str, str]
    permits: tuple[str, ...]
    sites: tuple[PlannedSite, ...]
    inputs: Mapping[str, str]
    trap_checked: datetime | None = None

    def site(self, rank: int) -> PlannedSite | None:
        """Return the site of that number; ``None`` where there is none."""
        return next((s for s in self.sites if s.rank == rank), None)

    def animal(self, book: SpeciesBook) -> Animal:
        """Return the animal that the plan was made for.

        Raises
        ------
        InputError
            When the answers do not describe one.
        """
        return read_animal(self.answers, book=book, where=f"{self.name}, capture")


def read_plan(path: Path) -> PlanRecord:
    """Return what a plan's JSON file says.

    Raises
    ------
    InputError
        When it is no such file, is a copy to pass on, or offers no site.
    """
    found, digest = _parsed(path)
    _check_kind(found, path)
    faults = Faults()
    record = checked(_Record, found, where=path.name, faults=faults)
    faults.raise_if_any()
    assert record is not None  # no fault was noted
    if not record.sites:
        said = " ".join((*record.stop, *record.way_on)) or "nothing"
        raise InputError(
            f"this plan offers no site; it says: {said[:600]}",
            where=path.name,
            allowed="a plan with a site",
            fix="follow what it says; there is nothing to check",
        )
    capture = record.capture
    return PlanRecord(
        name=path.name,
        sha256=digest,
        made=datetime.fromisoformat(record.now),
        capture_id=capture.id,
        captured=datetime.fromisoformat(capture.time),
        taken_at=Position(capture.longitude, capture.latitude, capture.radius_m, capture.radius_assumed),
        vernacular_name=capture.vernacular_name,
        answers=capture.answers,
        permits=tuple(p.id for p in record.permits),
        sites=tuple(sorted(record.sites, key=lambda s: s.rank)),
        inputs=record.inputs,
        trap_checked=datetime.fromisoformat(capture.trap_checked) if capture.trap_checked else None,
    )


def _parsed(path: Path) -> tuple[Any, str]:
    try:
        raw = path.read_bytes()
    except OSError:
        raise InputError("it cannot be read, or is not there", where=str(path), fix=_AGAIN) from None
    try:
        return json.loads(raw), hashlib.sha256(raw).hexdigest()
    except (ValueError, RecursionError):
        raise InputError(
            "it is no JSON file", where=path.name, allowed="NAME.json of a plan", fix=_AGAIN
        ) from None


def _check_kind(found: Any, path: Path) -> None:
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise InputError(
            "it is no decision record of a plan", where=path.name, allowed="NAME.json of a plan", fix=_AGAIN
        )
    if "dataGeneralizations" in found:
        raise InputError(
            "this plan was made with --share: the positions are left out",
            where=path.name,
            allowed="the plan that was made for yourself",
            fix=_AGAIN,
        )
