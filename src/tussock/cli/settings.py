"""tussock.toml in the working folder: what need not be typed each time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from tussock.errors import Faults
from tussock.permit.condition import Strict
from tussock.permit.explain import MOST_FAULTS, checked
from tussock.permit.toml_file import read_toml

NAME = "tussock.toml"
LOGBOOK = "logbook.db"
"""The logbook where neither the command line nor tussock.toml names one."""


def _filled(text: str) -> str:
    if not text.strip():
        raise ValueError("it is empty")
    return text.strip()


Text = Annotated[str, AfterValidator(_filled)]
PathText = Annotated[Text, Field(description="a path in quotes, from the folder of tussock.toml")]
Contact = Annotated[Text | None, Field(description="whom to call, in quotes")]


class _Defaults(Strict):
    """[defaults]: options of ``tussock plan``."""

    region: PathText | None = None
    permit: Annotated[
        Text | list[PathText] | None, Field(description="a path in quotes, or several in square brackets")
    ] = None
    consents: PathText | None = None
    holders: PathText | None = None
    releases: PathText | None = None
    profiles: PathText | None = None
    weights: PathText | None = None
    top: Annotated[int | None, Field(ge=1, description="a whole number from 1")] = None


class _AllDefaults(_Defaults):
    """[defaults], with those of ``tussock log``."""

    logbook: Annotated[
        Text | None, Field(description="the logbook's path in quotes, or postgresql://… of a team")
    ] = None
    by: Annotated[Text | None, Field(description="who writes in the logbook, in quotes")] = None


class _Contacts(Strict):
    """[contacts]: whom to call on each way on."""

    record: Contact = None
    carer: Contact = None
    authority: Contact = None
    identify: Contact = None


class _File(Strict):
    defaults: Annotated[_AllDefaults, Field(description="a table [defaults]")] = _AllDefaults()
    contacts: Annotated[_Contacts, Field(description="a table [contacts]")] = _Contacts()
    house_rules: Annotated[Any, Field(description="tables [[house_rules.conditions]]")] = None
    emergency_number: Annotated[
        Text | None, Field(description="the number of your country, in quotes, as you have verified it")
    ] = None


@dataclass(frozen=True)
class Settings:
    """What tussock.toml says; empty where there is none.

    Attributes
    ----------
    path
        The file; ``None`` where there is none.
    defaults
        Option of ``tussock plan`` → path, paths or number; only those given.
    has_house_rules
        Whether it holds the user's own house rules.
    logbook
        File or address of the logbook; empty where none is named.
    by
        Who writes in it; empty where nobody is named.
    """

    path: Path | None = None
    defaults: Mapping[str, Any] = field(default_factory=dict)
    contacts: Mapping[str, str] = field(default_factory=dict)
    has_house_rules: bool = False
    emergency_number: str | None = None
    logbook: str = ""
    by: str = ""

    @property
    def book_there(self) -> str:
        """The logbook that is there though no command line names it; empty where there is none yet."""
        where = self.logbook or LOGBOOK
        return where if "://" in where or Path(where).is_file() else ""


def read_settings(folder: Path) -> Settings:
    """Return the settings of a folder's tussock.toml.

    Raises
    ------
    InputError
        Listing every unknown key, with the nearest known one, and every value that is none.
    """
    path = folder / NAME
    if not path.exists():
        return Settings()
    faults = Faults()
    raw = read_toml(path)
    found = checked(_File, raw, where=NAME, faults=faults)
    faults.raise_if_any(most=MOST_FAULTS)
    assert found is not None  # no fault was noted
    said = found.defaults.model_dump(exclude_none=True)
    logbook, by = (said.pop(k, "") for k in ("logbook", "by"))
    return Settings(
        path=path,
        defaults={k: _placed(folder, v) for k, v in said.items()},
        contacts=found.contacts.model_dump(exclude_none=True),
        has_house_rules="house_rules" in raw,
        emergency_number=found.emergency_number,
        logbook=logbook if "://" in logbook or not logbook else str(folder / logbook),
        by=by,
    )


def _placed(folder: Path, value: Any) -> Any:
    """Return paths from the folder of the file; numbers as they are."""
    if isinstance(value, list):
        return tuple(folder / v for v in value)
    return folder / value if isinstance(value, str) else value
