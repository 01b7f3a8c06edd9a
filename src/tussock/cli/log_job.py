"""From the options of ``tussock log`` to entries written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tussock.cli.failures import say
from tussock.cli.settings import LOGBOOK, Settings, read_settings
from tussock.cli.settings import NAME as SETTINGS
from tussock.clock import parse_instant
from tussock.errors import InputError, UsageError, together
from tussock.records.checks import Checker
from tussock.records.entries import KINDS
from tussock.records.sheets import as_recorded
from tussock.species.profiles import load_profiles

if TYPE_CHECKING:
    from tussock.records.logbook import Logbook


@dataclass(frozen=True)
class LogOptions:
    """The options that the commands of the logbook share; ``None`` where not given."""

    logbook: str | None = None
    by: str | None = None
    now: str | None = None
    profiles: Path | None = None

    @property
    def settings(self) -> Settings:
        """What tussock.toml says."""
        return read_settings(Path())

    @property
    def where(self) -> str:
        """The logbook meant."""
        return self.logbook or self.settings.logbook or LOGBOOK

    def clock(self) -> datetime:
        """Return what time it is.

        Raises
        ------
        UsageError
            When ``--now`` is no instant.
        """
        if self.now is None:
            return datetime.now().astimezone().replace(microsecond=0)
        try:
            return parse_instant(self.now, where="--now")
        except InputError as error:
            raise UsageError(error.found, where="--now", allowed=error.allowed, fix=error.fix) from None

    def who(self) -> str:
        """Return who writes.

        Raises
        ------
        UsageError
            When nobody is named.
        """
        name = (self.by or self.settings.by).strip()
        if not name or not name.isprintable():
            fix = f"name yourself, or set by in [defaults] of {SETTINGS}"
            raise UsageError("nobody is named who writes", where="--by", fix=fix)
        return name

    def checker(self) -> Checker:
        """Return what looks at entries, with the user's own species profiles."""
        return Checker(load_profiles(self.profiles or self.settings.defaults.get("profiles")))


@contextmanager
def writing(options: LogOptions, *, create: bool = True) -> Iterator[Logbook]:
    """Give the logbook to write in, looked over first: a damaged one is written in no further.

    Details of residents past their last day are deleted, and that said.
    """
    from tussock.records.logbook import open_logbook

    today = options.clock().date()
    with open_logbook(options.where, create=create) as logbook:
        logbook.database.look_over()
        gone = logbook.forget_residents(today)
        if gone:
            say(f"Deleted: the details of {gone} resident{'' if gone == 1 else 's'}, whose last day is past.")
        yield logbook


@contextmanager
def reading(options: LogOptions) -> Iterator[Logbook]:
    """Give the logbook to read in."""
    from tussock.records.logbook import open_logbook

    with open_logbook(options.where, create=False) as logbook:
        yield logbook


def kind_named(text: str) -> str:
    """Return the kind of entry that is meant.

    Raises
    ------
    UsageError
        When there is none of that name.
    """
    word = text.strip().lower()
    kind = word if word in KINDS else word.removesuffix("s")
    if kind not in KINDS:
        raise UsageError(f"'{text[:40]}' is no kind of entry", where="KIND", allowed=", ".join(KINDS))
    return kind


def cells_of(given: Iterable[str]) -> dict[str, str]:
    """Return column → text of ``--set COLUMN=VALUE``.

    Raises
    ------
    UsageError
        For each that has no column or no equals sign, and for a column set twice.
    """
    cells: dict[str, str] = {}
    faults = []
    for text in given:
        column, sign, value = text.partition("=")
        column = column.strip()
        if not sign or not column or not column.isprintable():
            faults.append(UsageError(f"'{text[:40]}'", where="--set", allowed="COLUMN=VALUE"))
        elif column in cells:
            faults.append(UsageError(f"{column} is set twice", where="--set", fix="leave one out"))
        elif not _is_text(value):
            faults.append(UsageError("it is not readable text", where=f"--set {column}", fix="type it again"))
        else:
            cells[column] = as_recorded(value)
    if faults:
        raise together(faults)
    if not cells:
        raise UsageError("nothing is said", where="--set", allowed="COLUMN=VALUE", fix="give its cells")
    return cells


def _is_text(value: str) -> bool:
    try:
        value.encode()
    except UnicodeEncodeError:
        return False
    return "\0" not in value
