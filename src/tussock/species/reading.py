"""Reading profile files: every fault of a file is found and reported once.

Checked by hand rather than by a model library, whose import alone takes longer than the file.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar

from tussock.errors import Faults, InputError
from tussock.names import HABITAT_CLASSES
from tussock.species.checks import (
    is_list_of,
    is_member,
    is_month,
    is_number,
    is_scientific,
    is_table,
    is_text,
)
from tussock.species.traits import CONTINENTS, ActivePeriod, Danger, Profile, Range

_E = TypeVar("_E", bound=StrEnum)

_COUNTRY = re.compile(r"[A-Z]{2}")
_SOURCE = re.compile(r"(from memory|judgement)(: \S.*)?|.*(\d{4}|https?://|doi\b).*", re.DOTALL)

SOURCED = (
    "danger",
    "active_period",
    "habitat",
    "cover_preference",
    "water_affinity",
    "home_range_ha",
    "displacement_m",
    "origin",
    "look_alikes",
    "dormant_months_south",
    "dormant_months_north",
)
"""Fields that need a source wherever they stand."""

_WORDS = ("home_range_method", "home_range_statistic", "displacement_statistic")
_NAMES = ("scientificName", "vernacularNames", "continent")
_REQUIRED = ("danger", "habitat", "cover_preference", "water_affinity")
_TOGETHER = {
    "home_range_ha": ("home_range_method", "home_range_statistic"),
    "displacement_m": ("displacement_statistic",),
}
SOURCE_ALLOWED = "a citation with its year or address, 'from memory' or 'judgement'"


def read_profiles(path: Path, *, from_user: bool = False) -> tuple[tuple[Profile, ...], Profile | None]:
    """Return the profiles of a file, and its neutral profile where it has one.

    Raises
    ------
    InputError
        All faults at once: a file that cannot be read or is no TOML, unknown or missing fields, values
        out of range, numbers without a source, a species given twice.
    """
    document = _load(path)
    faults = Faults()
    allowed = ("profiles",) if from_user else ("profiles", "neutral")
    for key in sorted(set(document) - set(allowed)):
        faults.add(f"unknown table '{key}'", where=path.name, allowed=", ".join(f"[[{a}]]" for a in allowed))
    tables = document.get("profiles", [])
    if not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
        faults.add("profiles is no list of tables", where=path.name, allowed="[[profiles]] before each one")
        tables = []
    readers = [_Reader(t, file=path.name, number=i, faults=faults) for i, t in enumerate(tables, start=1)]
    _find_twins(readers, faults=faults)
    profiles = tuple(r.profile(from_user=from_user) for r in readers)
    neutral = _neutral(document.get("neutral"), file=path.name, faults=faults)
    faults.raise_if_any()
    return tuple(p for p in profiles if p is not None), neutral


def _load(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(
            f"cannot be read ({error.strerror})", where=str(path), fix="check the path"
        ) from None
    except UnicodeDecodeError:
        raise InputError("is not UTF-8 text", where=path.name, fix="save it as UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            f"is not TOML: {error}", where=path.name, allowed="the form of profiles.toml"
        ) from None


def _find_twins(readers: list[_Reader], *, faults: Faults) -> None:
    seen: dict[str, _Reader] = {}
    for reader in readers:
        name = str(reader.table.get("scientificName", ""))
        if name and name in seen:
            first = seen[name].number
            faults.add(
                f"given already as profile {first}", where=reader.where, allowed="one profile a species"
            )
        seen.setdefault(name, reader)


def _neutral(table: object, *, file: str, faults: Faults) -> Profile | None:
    if not isinstance(table, dict):
        return None
    reader = _Reader({**table, "scientificName": "Neutral profile"}, file=file, number=0, faults=faults)
    found = reader.profile(from_user=False, known=False)
    if found is not None and found.danger is not Danger.DANGEROUSLY_VENOMOUS:
        faults.add("is not the strictest", where=reader.where, allowed="danger = dangerously_venomous")
    return found


class _Reader:
    """One profile table; notes its faults and yields a Profile if there were none."""

    def __init__(self, table: Mapping[str, Any], *, file: str, number: int, faults: Faults) -> None:
        self.table, self.number, self.faults = table, number, faults
        name = table.get("scientificName")
        label = f"{number} ({name})" if isinstance(name, str) else str(number)
        self.where = f"{file}, profile {label}" if number else f"{file}, [neutral]"

    def profile(self, *, from_user: bool, known: bool = True) -> Profile | None:
        """Return the profile, or None when anything in it was at fault."""
        before = len(self.faults.items)
        self._fields_known(known=known)
        values: dict[str, Any] = {
            "scientific_name": self._scientific_name(),
            "vernacular_names": self._texts("vernacularNames"),
            "continent": self._choice_text("continent", CONTINENTS),
            "danger": self._enum("danger", Danger),
            "active_period": self._enum("active_period", ActivePeriod),
            "habitat": self._habitat(),
            "cover_preference": self._number("cover_preference", low=0, high=1),
            "water_affinity": self._number("water_affinity", low=0, high=1),
            "home_range_ha": self._number("home_range_ha", low=0.001, high=100_000),
            "displacement_m": self._number("displacement_m", low=1, high=100_000),
            "origin": self._origin(),
            "look_alikes": self._look_alikes(),
            "dormant_months_south": self._months("dormant_months_south"),
            "dormant_months_north": self._months("dormant_months_north"),
            "sources": self._sources(),
        }
        values |= {key: self._text(key) for key in _WORDS}
        self._belong_together()
        if len(self.faults.items) > before:
            return None
        return Profile(**values, known=known, from_user=from_user)

    def _fault(self, found: str, *, key: str, allowed: str) -> None:
        self.faults.add(found, where=f"{self.where}, {key}", allowed=allowed)

    def _wrong(self, key: str, *, allowed: str) -> None:
        self._fault(f"found {self.table[key]!r}", key=key, allowed=allowed)

    def _fields_known(self, *, known: bool) -> None:
        fields = (*_NAMES, *SOURCED, *_WORDS, "sources")
        for key in sorted(set(self.table) - set(fields)):
            self._fault("unknown field", key=key, allowed=", ".join(fields))
        # Only the neutral profile may leave the active period open.
        needed = ("scientificName", *_REQUIRED, *(("active_period",) if known else ()))
        for key in needed:
            if key not in self.table:
                self._fault("missing", key=key, allowed="every profile has it")

    def _checked(self, key: str, *, ok: Callable[[Any], bool], allowed: str) -> Any:
        if key not in self.table:
            return None
        if ok(self.table[key]):
            return self.table[key]
        self._wrong(key, allowed=allowed)
        return None

    def _text(self, key: str) -> str:
        return self._checked(key, ok=is_text, allowed="words in quotes") or ""

    def _texts(self, key: str) -> tuple[str, ...]:
        allowed = "a list of different names in quotes"
        return tuple(self._checked(key, ok=lambda v: is_list_of(v, is_text), allowed=allowed) or ())

    def _choice_text(self, key: str, choices: tuple[str, ...]) -> str:
        return self._checked(key, ok=lambda v: v in choices, allowed=", ".join(choices)) or ""

    def _enum(self, key: str, kind: type[_E]) -> _E | None:
        found = self._checked(key, ok=lambda v: is_member(v, kind), allowed=", ".join(kind))
        return None if found is None else kind(found)

    def _number(self, key: str, *, low: float, high: float) -> float | None:
        allowed = f"a number from {low:g} to {high:g}"
        found = self._checked(key, ok=lambda v: is_number(v, low=low, high=high), allowed=allowed)
        return None if found is None else float(found)

    def _scientific_name(self) -> str:
        allowed = "genus and species, as in 'Notechis scutatus'"
        return self._checked("scientificName", ok=is_scientific, allowed=allowed) or ""

    def _look_alikes(self) -> tuple[str, ...]:
        allowed = "a list of different scientific names, not its own"
        own = self.table.get("scientificName")
        found = self._checked(
            "look_alikes", ok=lambda v: is_list_of(v, is_scientific) and own not in v, allowed=allowed
        )
        return tuple(found or ())

    def _months(self, key: str) -> tuple[int, ...]:
        allowed = "a list of different months, 1 to 12"
        return tuple(self._checked(key, ok=lambda v: is_list_of(v, is_month), allowed=allowed) or ())

    def _habitat(self) -> dict[str, float]:
        table = self._checked("habitat", ok=is_table, allowed="a table of preferences") or {}
        if not table:
            return {}
        allowed = f"0.01 to 1 for each of {', '.join(HABITAT_CLASSES)}"
        for key in sorted(set(table) ^ set(HABITAT_CLASSES)):
            self._fault("unknown class" if key in table else "missing", key=f"habitat.{key}", allowed=allowed)
        for key, value in table.items():
            if not is_number(value, low=0.01, high=1):
                self._fault(f"found {value!r}", key=f"habitat.{key}", allowed=allowed)
        return {k: float(table[k]) for k in HABITAT_CLASSES if is_number(table.get(k), low=0.01, high=1)}

    def _origin(self) -> dict[str, Range]:
        table = self._checked("origin", ok=is_table, allowed="a table of countries") or {}
        allowed = f"a country's two capital letters = {', '.join(Range)}"
        for country, value in table.items():
            if not _COUNTRY.fullmatch(country) or not is_member(value, Range):
                self._fault(f"found {value!r}", key=f"origin.{country}", allowed=allowed)
        return {c: Range(v) for c, v in table.items() if is_member(v, Range)}

    def _sources(self) -> dict[str, str]:
        table = self._checked("sources", ok=is_table, allowed=f"a table: field = {SOURCE_ALLOWED}") or {}
        sources: dict[str, str] = {}
        for fields, text in table.items():
            for key in fields.replace(",", " ").split():
                self._source(key, text=text, sources=sources)
        for key in SOURCED:
            if key in self.table and key not in sources:
                self._fault("no source", key=key, allowed=f"sources.{key} = {SOURCE_ALLOWED}")
        return sources

    def _source(self, key: str, *, text: object, sources: dict[str, str]) -> None:
        at = f"sources.{key}"
        if key not in SOURCED or key not in self.table:
            self._fault("a source for a field that is not there", key=at, allowed="fields of this profile")
        elif key in sources:
            self._fault("a second source for one field", key=at, allowed="one, naming both studies")
        elif not isinstance(text, str) or not _SOURCE.fullmatch(text):
            self._fault(f"found {text!r}", key=at, allowed=SOURCE_ALLOWED)
        sources[key] = str(text)

    def _belong_together(self) -> None:
        for number, words in _TOGETHER.items():
            for word in words:
                if (number in self.table) != (word in self.table):
                    self._fault(f"{number} and {word} stand together", key=word, allowed="both or neither")
        kind = self.table.get("displacement_statistic")
        if isinstance(kind, str) and not kind.startswith(("typical", "maximal")):
            self._wrong("displacement_statistic", allowed="words that start with typical or maximal")
