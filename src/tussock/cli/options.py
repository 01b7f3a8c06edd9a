"""The options of ``tussock plan`` as given, and what is said of a command line that cannot be carried out."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

from tussock.cli.settings import NAME as SETTINGS
from tussock.cli.settings import Settings
from tussock.errors import InputError, UsageError, together

_T = TypeVar("_T")
ANSWERS: Mapping[str, str] = {
    "scientificName": "species",
    "identification": "identification",
    "origin": "origin",
    "animalCondition": "condition",
    "lifeStage": "life_stage",
    "gravid": "gravid",
    "individualCount": "count",
    "foundIn": "found_in",
}
"""Column → field of the options that answers it."""
OTHERS = "orScientificName"
"""Column of the other species it may be; ``--or`` fills it."""
IN_BOOK = ("releases", "consents")
"""Tables that a logbook stands in for."""
_FLAGS = {"others": "--or", "output": "--format"}
"""Fields whose option is written otherwise than they are called."""
_ONE_CAPTURE = ("at", "uncertainty", "time", "trap_checked", "capture_id", *ANSWERS.values(), "others")
"""Fields that speak of one capture, and so not of a table of them."""


class Format(StrEnum):
    """What is printed on stdout."""

    TABLE = "table"
    JSON = "json"
    CSV = "csv"


@dataclass(frozen=True)
class PlanOptions:
    """The options of ``tussock plan``; ``None`` and empty where not given."""

    region: Path | None = None
    permit: tuple[Path, ...] = ()
    at: str | None = None
    uncertainty: float | None = None
    captures: Path | None = None
    capture: tuple[str, ...] = ()
    logbook: str | None = None
    species: str | None = None
    others: tuple[str, ...] = ()
    identification: str | None = None
    origin: str | None = None
    condition: str | None = None
    life_stage: str | None = None
    gravid: str | None = None
    count: str | None = None
    found_in: str | None = None
    time: str | None = None
    trap_checked: str | None = None
    release_at: str | None = None
    now: str | None = None
    capture_id: str | None = None
    releases: Path | None = None
    consents: Path | None = None
    holders: Path | None = None
    profiles: Path | None = None
    weights: Path | None = None
    top: int | None = None
    out: Path | None = None
    output: Format = Format.TABLE
    share: bool = False
    force: bool = False

    @property
    def reads_book(self) -> bool:
        """Whether a logbook is read: only where the command line says so."""
        return self.logbook is not None or bool(self.capture)

    @property
    def of_book(self) -> bool:
        """Whether it is planned for captures of the logbook."""
        return self.reads_book and self.at is None and self.captures is None

    def beside_book(self, settings: Settings) -> bool:
        """Whether a logbook that is there counts: no other is named, and no table of releases."""
        named = self.reads_book or self.releases is not None or "releases" in settings.defaults
        return not named and bool(settings.book_there)

    def with_defaults(self, settings: Settings) -> PlanOptions:
        """Return the options with what tussock.toml says where nothing was given.

        Tables of releases and consents stay away where a logbook is read, which has its own.
        """
        given = {k: v for k, v in settings.defaults.items() if not getattr(self, k)}
        if self.reads_book:
            given = {k: v for k, v in given.items() if k not in IN_BOOK}
        if "permit" in given and not isinstance(given["permit"], tuple):
            given["permit"] = (given["permit"],)
        return replace(self, **given)

    def answers(self) -> dict[str, str]:
        """Return column → answer, of the questions that were answered."""
        given = {column: getattr(self, name) for column, name in ANSWERS.items()}
        given[OTHERS] = " | ".join(name.strip() for name in self.others)
        return {column: text.strip() for column, text in given.items() if text and text.strip()}


def flag(name: str) -> str:
    """Return how a field is written on the command line."""
    return _FLAGS.get(name, f"--{name.replace('_', '-')}")


def answering(column: str) -> str:
    """Return the option that answers a column."""
    return flag("others" if column == OTHERS else ANSWERS.get(column, "species"))


def faults_of(options: PlanOptions, *, open_questions: Iterable[str]) -> list[UsageError]:
    """Return why a command line cannot be carried out; empty when it can.

    Parameters
    ----------
    open_questions
        Columns that nobody will answer.
    """
    faults = [*_missing(options), *_contradicting(options), *_unreadable(options)]
    if options.captures is None and not options.of_book:
        faults += [_unanswered(column) for column in open_questions]
    if options.top is not None and options.top < 1:
        faults.append(UsageError(f"{options.top} sites asked for", where="--top", allowed="1 or more"))
    if options.out is not None and is_folder(options.out):
        fix = f"give a name in it, such as {options.out / 'today'}"
        faults.append(UsageError("it is a folder", where=f"--out {options.out}", fix=fix))
    return faults


def raise_all(faults: list[UsageError]) -> None:
    """Raise one UsageError that lists the faults, if there is any."""
    if faults:
        raise together(faults, most=len(faults))


def typed(read: Callable[..., _T], *given: object, faults: list[UsageError], **named: object) -> _T | None:
    """Return what a reader makes of an option; note its fault and return ``None`` where it raises."""
    try:
        return read(*given, **named)
    except (InputError, UsageError) as error:
        faults.append(UsageError(error.found, where=error.where, allowed=error.allowed, fix=error.fix))
        return None


def _missing(options: PlanOptions) -> list[UsageError]:
    faults = []
    if options.region is None:
        faults.append(
            UsageError("no region", where="--region", fix=f"name its folder, or set it in {SETTINGS}")
        )
    if not options.permit:
        faults.append(
            UsageError("no permit", where="--permit", fix=f"name its file, or set it in {SETTINGS}")
        )
    if options.captures is None and options.at is None and not options.of_book:
        fix = "give LAT,LON of the place of capture, --captures FILE.csv for many, or --logbook FILE"
        faults.append(UsageError("no place of capture", where="--at", fix=fix))
    elif options.captures is None and not options.of_book and not above_zero(options.uncertainty):
        fix = "give the radius your device shows, in metres above 0"
        faults.append(UsageError("no radius of the place of capture", where="--uncertainty", fix=fix))
    return faults


def is_folder(path: Path) -> bool:
    """Return whether there is a folder of that name; a name that no file can have is none."""
    try:
        return path.is_dir()
    except OSError:  # such as a name that is too long: said when it is written
        return False


def above_zero(radius: float | None) -> bool:
    """Return whether a radius is given and is one."""
    return radius is not None and math.isfinite(radius) and radius > 0


def _contradicting(options: PlanOptions) -> list[UsageError]:
    return [*_against_many(options), *_against_book(options)]


def _against_many(options: PlanOptions) -> list[UsageError]:
    """Return a fault for what speaks of one capture, where a table or the logbook answers for each."""
    if options.captures is None and not options.of_book:
        return []
    both = [flag(n) for n in _ONE_CAPTURE if getattr(options, n) not in (None, ())]
    if not both:
        return []
    source, fix = "--captures", "leave one out: the table answers for each"
    if options.of_book:
        source = "--capture" if options.capture else "--logbook without --at"
        fix = "leave one out: the logbook answers for each; name captures of it with --capture"
    return [UsageError(f"{source} together with {', '.join(both)}", fix=fix)]


def _against_book(options: PlanOptions) -> list[UsageError]:
    faults = []
    others = [n for n in ("at", "captures") if getattr(options, n) is not None]
    if options.capture and others:
        fix = "leave one out: --capture names captures of the logbook"
        faults.append(UsageError(f"--capture together with {', '.join(map(flag, others))}", fix=fix))
    if options.reads_book and options.releases is not None:
        fix = "leave one out: the logbook has the earlier releases"
        faults.append(UsageError("a logbook and a table of releases", where="--releases", fix=fix))
    return faults


def _unanswered(column: str) -> UsageError:
    from tussock.species.intake import QUESTIONS

    others = {"scientificName": "a scientific or vernacular name", "individualCount": "a whole number from 1"}
    allowed = ", ".join(QUESTIONS[column]) if column in QUESTIONS else others[column]
    return UsageError("not answered", where=flag(ANSWERS[column]), allowed=allowed, fix="answer it")


def _unreadable(options: PlanOptions) -> list[UsageError]:
    """Return a fault for text that no file of ours could hold."""
    texts = [("species", options.species), ("capture_id", options.capture_id)]
    texts += [("others", name) for name in options.others]
    return [
        UsageError(
            "it is not readable text", where=flag(name), allowed="UTF-8 on one line", fix="type it again"
        )
        for name, text in texts
        if text and not text.isprintable()
    ]
