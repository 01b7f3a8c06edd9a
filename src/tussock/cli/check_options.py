"""The options of ``tussock check`` as given, and what is said of those that cannot be carried out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli.options import IN_BOOK, raise_all
from tussock.cli.settings import NAME as SETTINGS
from tussock.cli.settings import Settings
from tussock.errors import UsageError

if TYPE_CHECKING:
    from tussock.review.spot_questions import Answer, Question

COLDEST_C, HOTTEST_C = -60.0, 60.0
"""Air temperatures beyond these are a slip (choice of this project)."""
_FROM_SETTINGS = ("region", "permit", "consents", "releases", "profiles")


class CheckFormat(StrEnum):
    """What is printed on stdout."""

    TABLE = "table"
    JSON = "json"


@dataclass(frozen=True)
class CheckOptions:
    """The options of ``tussock check``; ``None`` and empty where not given."""

    plan: Path | None = None
    site: int | None = None
    at: str | None = None
    uncertainty: float | None = None
    now: str | None = None
    answer: tuple[str, ...] = ()
    why: str | None = None
    photo: Path | None = None
    temperature: float | None = None
    region: Path | None = None
    permit: tuple[Path, ...] = ()
    consents: Path | None = None
    releases: Path | None = None
    logbook: str | None = None
    by: str | None = None
    profiles: Path | None = None
    out: Path | None = None
    output: CheckFormat = CheckFormat.TABLE
    force: bool = False

    def beside_book(self, settings: Settings) -> bool:
        """Whether a logbook that is there counts: no other is named, and no table of releases."""
        named = self.logbook is not None or self.releases is not None or "releases" in settings.defaults
        return not named and bool(settings.book_there)

    def with_defaults(self, settings: Settings) -> CheckOptions:
        """Return the options with what tussock.toml says where nothing was given.

        Tables of releases and consents stay away where a logbook is read, which has its own.
        """
        names = [k for k in _FROM_SETTINGS if self.logbook is None or k not in IN_BOOK]
        given = {k: settings.defaults[k] for k in names if k in settings.defaults}
        given = {k: v for k, v in given.items() if not getattr(self, k)}
        if "permit" in given and not isinstance(given["permit"], tuple):
            given["permit"] = (given["permit"],)
        return replace(self, **given)


def refuse_faults(options: CheckOptions) -> None:
    """Refuse a command line that cannot be carried out.

    Raises
    ------
    UsageError
        Listing everything that is wrong with it.
    """
    raise_all([*_missing(options), *_wrong(options)])


def _missing(options: CheckOptions) -> list[UsageError]:
    needed = {
        "plan": ("no plan", "name the .json file that tussock plan --out wrote"),
        "site": ("no site", "give its number in the plan"),
        "at": ("no place", "give LAT,LON of where you stand"),
        "region": ("no region", f"name its folder, or set it in {SETTINGS}"),
        "permit": ("no permit", f"name its file, or set it in {SETTINGS}"),
    }
    faults = [
        UsageError(found, where=f"--{name}", fix=fix)
        for name, (found, fix) in needed.items()
        if getattr(options, name) in (None, ())
    ]
    radius = options.uncertainty
    if radius is None or not (math.isfinite(radius) and radius > 0):
        fix = "give the radius your device shows, in metres above 0"
        said = "no radius of the place" if radius is None else f"a radius of {radius:g} m"
        faults.append(UsageError(said, where="--uncertainty", fix=fix))
    return faults


def _wrong(options: CheckOptions) -> list[UsageError]:
    faults = []
    warmth = options.temperature
    if warmth is not None and not COLDEST_C <= warmth <= HOTTEST_C:
        allowed = f"the air temperature in °C, {COLDEST_C:g} to {HOTTEST_C:g}"
        faults.append(UsageError(f"{warmth:g} °C", where="--temperature", allowed=allowed))
    if options.logbook is not None and options.releases is not None:
        fix = "leave one out: the logbook has the earlier releases"
        faults.append(UsageError("a logbook and a table of releases", where="--releases", fix=fix))
    if options.by is not None and options.logbook is None:
        fix = "name it with --logbook, or leave --by out"
        faults.append(UsageError("no logbook is named to log the check in", where="--by", fix=fix))
    if options.by is not None and not (options.by.strip() and options.by.isprintable()):
        faults.append(UsageError("nobody is named who writes", where="--by", fix="name yourself"))
    if options.why and not options.why.isprintable():
        faults.append(UsageError("it is not readable text", where="--why", allowed="UTF-8 on one line"))
    return faults


def answers_of(
    given: Iterable[str], known: Iterable[Question], *, earlier: Mapping[str, Answer]
) -> dict[str, Answer]:
    """Return key → answer, with those of earlier checks that hold for every spot.

    Raises
    ------
    UsageError
        Listing each that is no answer, or to no question, or given twice and differently.
    """
    from tussock.review.spot_questions import Answer

    keys = [q.key for q in known]
    found: dict[str, Answer] = {}
    faults = []
    for text in given:
        key, _, word = (part.strip() for part in text.rpartition("="))
        where = f"--answer {text[:60]}"
        if key not in keys:
            faults.append(UsageError("there is no such question", where=where, allowed=", ".join(keys)))
        elif word.lower() not in list(Answer):
            faults.append(UsageError(f"found '{word[:40]}'", where=where, allowed=", ".join(Answer)))
        elif found.setdefault(key, Answer(word.lower())) != word.lower():
            faults.append(
                UsageError("it is answered twice, and differently", where=where, fix="give it once")
            )
    raise_all(faults)
    return {**{k: v for k, v in earlier.items() if k in keys}, **found}
