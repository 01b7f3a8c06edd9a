"""Faults of a TOML table in words: which key, what was found, what is allowed, what to do."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, time
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from tussock.errors import Faults
from tussock.permit.fields import NotOneOfError

Model = TypeVar("Model", bound=BaseModel)
MOST_FAULTS = 200
"""So many faults of a file are printed in full; the rest are counted."""
_TAGS = ("word", "clock")
_UNITS = {"m": "metres", "ha": "hectares", "h": "hours", "c": "degrees Celsius", "days": "days"}


def shown(value: object) -> str:
    """Return a value as it is quoted in a message: on one line, cut short."""
    if isinstance(value, bool):
        return str(value).lower()
    text = _digits(value) if isinstance(value, int) else repr(value)
    if isinstance(value, date | time):
        text = value.isoformat()
    return text if len(text) <= 60 else text[:57] + "…"


def _digits(value: int) -> str:
    # Python refuses to print integers of more than 4300 digits
    return str(value) if abs(value) < 10**60 else "a number of more than 60 digits"


def nearest(word: str, words: Iterable[str], *, most: int = 3) -> list[str]:
    """Return the words most like it, those that begin with it first; empty when none is."""
    start, listed = word[:60], list(words)
    begun = [w for w in listed if len(start) >= 3 and w.startswith(start)]
    alike = difflib.get_close_matches(start, listed, n=most, cutoff=0.6)
    return list(dict.fromkeys(begun + alike))[:most]


def did_you_mean(word: str, words: Iterable[str]) -> str:
    """Return a hint at the nearest words; empty when none is near."""
    near = nearest(word, words)
    return f"write {' or '.join(near)}, if that is meant" if near else ""


def checked(model: type[Model], raw: Mapping[str, Any], *, where: str, faults: Faults) -> Model | None:
    """Return the table as a model, or note its faults and return ``None``."""
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        for one in error.errors(include_url=False):
            _note(one, model, where=where, faults=faults)
        return None


def faults_of_key(model: type[BaseModel], raw: Mapping[str, Any], *, key: str, faults: Faults) -> None:
    """Note what is wrong with one key of a table that is not complete yet."""
    try:
        model.model_validate(raw)
    except ValidationError as error:
        for one in error.errors(include_url=False):
            if one["loc"][:1] == (key,):
                _note(one, model, where="", faults=faults)


def _note(error: Any, model: type[BaseModel], *, where: str, faults: Faults) -> None:
    loc = tuple(p for p in error["loc"] if p not in _TAGS)
    key, keys, description = _describe(model, loc)
    kind, found = error["type"], error["input"]
    reason = error.get("ctx", {}).get("error")
    if kind == "missing":
        faults.add(f"{key} is missing", where=where, allowed=description, fix=f"add {key}")
    elif kind == "extra_forbidden":
        fix = unit_hint(str(loc[-1]), keys) or did_you_mean(str(loc[-1]), keys) or "remove it"
        faults.add(f"unknown key {shown(str(loc[-1]))}", where=where, allowed=", ".join(keys), fix=fix)
    elif isinstance(reason, NotOneOfError):
        fix = did_you_mean(reason.word, reason.words) or "use one of them"
        faults.add(f"{key} holds {shown(reason.word)}", where=where, allowed=", ".join(reason.words), fix=fix)
    elif isinstance(reason, ValueError):
        subject = f"{key} = {shown(found)}: {reason}" if loc else str(reason)
        faults.add(subject, where=where, allowed=description, fix="correct it")
    else:
        fix = _type_hint(kind, found) or "correct it"
        faults.add(f"{key} = {shown(found)}", where=where, allowed=description or error["msg"], fix=fix)


def _type_hint(kind: str, found: object) -> str:
    if kind in ("float_type", "int_type") and isinstance(found, str):
        return "write the number without quotes"
    if kind == "tuple_type":
        return "put it in square brackets"
    if kind == "literal_error" and isinstance(found, str):
        return "use one of the words allowed"
    return ""


def _describe(model: type[BaseModel], loc: Sequence[str | int]) -> tuple[str, list[str], str]:
    """Return the key as written, the keys of its table, and what the key takes."""
    key, description, table = "", "", model
    for part in loc:
        if isinstance(part, int):
            key += f"[{part + 1}]"
            continue
        key = f"{key}.{part}" if key else part
        field = fields_by_key(table).get(part)
        if field is None:
            break
        description = field.description or _inner_description(field) or description
        table = _inner_model(field) or table
    return key, list(fields_by_key(_table_of(model, loc))), description


def _table_of(model: type[BaseModel], loc: Sequence[str | int]) -> type[BaseModel]:
    table = model
    for part in loc[:-1]:
        field = fields_by_key(table).get(str(part))
        table = (_inner_model(field) if field else None) or table
    return table


def fields_by_key(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """Return a model's fields by the key they have in the file."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _walk(annotation: Any) -> Iterable[Any]:
    yield annotation
    for argument in getattr(annotation, "__args__", ()) or ():
        yield from _walk(argument)


def _inner_model(field: FieldInfo) -> type[BaseModel] | None:
    for part in _walk(field.annotation):
        if isinstance(part, type) and issubclass(part, BaseModel):
            return part
    return None


def _inner_description(field: FieldInfo) -> str:
    for part in _walk(field.annotation):
        for mark in getattr(part, "__metadata__", ()):
            if isinstance(mark, FieldInfo) and mark.description:
                return mark.description
    return ""


def unit_hint(key: str, keys: Iterable[str]) -> str:
    """Return what to do about a key that differs from a known one by its unit only.

    Examples
    --------
    >>> unit_hint("limit_km", ["id", "limit_m"])
    'give it in metres, as limit_m'
    """
    stem = key.rpartition("_")[0] or key
    for one in keys:
        known_stem, _, unit = one.rpartition("_")
        if stem == known_stem and unit in _UNITS:
            return f"give it in {_UNITS[unit]}, as {one}"
    return ""
