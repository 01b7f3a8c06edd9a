"""A release after a check at the spot, from the check's file to an entry of the book.

The record says what happened: place, radius and time are those of the check, which are the actual ones,
or what is said instead. Of the plan it takes species, consent and reference only; the planned place stands
beside.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from tussock.errors import InputError
from tussock.position import LATITUDE, LONGITUDE, UNCERTAINTY
from tussock.records.entries import DISPOSAL, Entry
from tussock.records.kinds import id_of
from tussock.records.spot_entry import read_check
from tussock.records.typed import ANSWER, LIST
from tussock.review.handling import RELEASED
from tussock.tables import read_bytes

_TAKEN = (
    "captureID",
    "eventDate",
    LATITUDE,
    LONGITUDE,
    UNCERTAINTY,
    "airTemperature",
    "associatedMedia",
    "photoSHA256",
    "planReference",
    "planSHA256",
    "siteNumber",
)
"""Columns of the check that the release has too."""
_OF_ANIMAL = ("scientificName", "vernacularName", "individualCount")
PLANNED = ("plannedDecimalLatitude", "plannedDecimalLongitude", "plannedUncertaintyInMeters")
"""Columns of the place that was planned."""


def release_from_check(
    path: Path, *, capture_id: str = "", changes: Mapping[str, str] | None = None
) -> Entry:
    """Return the entry of a release where and when a check was made.

    Parameters
    ----------
    path
        The file of the check.
    capture_id
        The capture, where the plan was made without one.
    changes
        Column → text that holds instead, such as the minute of release in eventDate, or of several animals
        those let go in individualCount; an empty text takes the column out.

    Raises
    ------
    InputError
        When the file is no check, or names no capture or another.
    """
    check = read_check(path, capture_id=capture_id)
    cells = {c: check.get(c) for c in _TAKEN if check.get(c)} | {"disposal": RELEASED}
    try:
        cells |= dict(_further(json.loads(read_bytes(path))))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise InputError(
            f"it is no check that a release can be made of ({error!s:.80})",
            where=path.name,
            allowed="the file as tussock check wrote it",
            fix="check again, or log the release with tussock log add disposal",
        ) from None
    cells |= {"checkReference": check.id, "checkVerdict": check.get("verdict")}
    cells = {c: v for c, v in {**cells, **(changes or {})}.items() if v}
    return Entry(DISPOSAL, id_of(DISPOSAL, cells), cells, path.name)


def _further(found: Any) -> Iterator[tuple[str, str]]:
    """Yield what a check has no column for: animal, consents, answers to clauses, the planned place."""
    answers, planned = found["animal"]["answers"], found["site"]["position"]
    yield from ((c, str(answers[c])) for c in _OF_ANIMAL if answers.get(c))
    if consents := _consents(found.get("consents", ())):
        yield "consentReference", consents
    yield from (
        (f"{ANSWER}{a['key']}", str(a["answer"])) for a in found["answers"] if a["clause"] and a["answer"]
    )
    values = f"{float(planned['latitude']):.7f}", f"{float(planned['longitude']):.7f}"
    yield from zip(PLANNED, (*values, f"{float(planned['radius_m']):.10g}"), strict=True)


def _consents(found: Any) -> str:
    """Return the consents that a release there uses, the first of each ground, as a record names them."""
    first: dict[str, str] = {}
    for one in found:
        first.setdefault(str(one["ground"]), str(one["consent"]))
    return f" {LIST} ".join(dict.fromkeys(first.values()))
