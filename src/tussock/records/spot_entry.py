"""A check at the spot, from its file to an entry of the book."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from tussock.errors import InputError
from tussock.position import LATITUDE, LONGITUDE, UNCERTAINTY
from tussock.records.entries import CHECK, Entry
from tussock.records.typed import ANSWER
from tussock.review.spot_earlier import FORMAT
from tussock.tables import is_there, read_bytes

SPOT = "spot"
VERDICT = "verdict:"
"""Begins the columns with what a clause came to at the spot: ``verdict:PERMIT 3(a)``."""


def read_check(path: Path, *, capture_id: str = "") -> Entry:
    """Return the entry that the file of a check makes.

    Parameters
    ----------
    capture_id
        The capture, where the plan was made without one.

    Raises
    ------
    InputError
        When the file is no check, or names no capture or another.
    """
    content = read_bytes(path)
    try:
        found = json.loads(content)
        if found["format"] != FORMAT:
            raise ValueError(f"its format is {str(found['format'])[:40]!r}")
        named = str(found["capture"]["id"])
        cells = dict(_cells(found, _capture(named, capture_id, path)))
    except InputError:
        raise
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise InputError(
            f"it is no check at the spot ({error!s:.80})",
            where=path.name,
            allowed=f"a file of the format '{FORMAT}', as tussock check writes it",
            fix="name NAME-check-N.json",
        ) from None
    cells["checkSHA256"] = hashlib.sha256(content).hexdigest()
    return Entry(CHECK, cells["checkID"], cells, path.name)


def photo_in(path: Path, entry: Entry) -> Path | None:
    """Return where the photo of a check lies; ``None`` where it is not there as it was.

    Parameters
    ----------
    path
        The file of the check, from whose folder its photo is looked for too.
    entry
        The entry that was made of it.
    """
    if not entry.get("photoSHA256"):
        return None
    said = Path(str(json.loads(read_bytes(path))["photo"]["path"]))
    for place in (said, path.parent / said, path.parent / entry.get("associatedMedia")):
        if is_there(place) and place.is_file():
            content = read_bytes(place)
            if hashlib.sha256(content).hexdigest() == entry.get("photoSHA256"):
                return place
    return None


def _capture(named: str, given: str, path: Path) -> str:
    if named and given and named != given:
        raise InputError(
            f"it is a check of capture '{named[:40]}', not '{given[:40]}'",
            where=path.name,
            fix="leave --capture out, or name the file that is meant",
        )
    if not (named or given):
        raise InputError("its plan names no capture", where=path.name, fix="name it with --capture ID")
    return named or given


def _cells(found: Any, capture_id: str) -> Iterator[tuple[str, str]]:
    """Yield column and text of what is known; what nobody answered has no column."""
    number, now = int(found["site"]["number"]), str(found["now"])
    yield "checkID", f"{capture_id}/{now}/{number}"
    yield "captureID", capture_id
    yield "eventDate", now
    yield "kind", SPOT
    if found["fix"] is not None:
        yield from _place(found["fix"])
    yield "verdict", str(found["verdict"])
    yield "rejected", "yes" if found["rejected"] is True else "no"
    yield "planReference", str(found["plan"]["file"])
    yield "planSHA256", str(found["plan"]["sha256"])
    yield "siteNumber", str(number)
    yield from ((f"{ANSWER}{a['key']}", str(a["answer"])) for a in found["answers"] if a["answer"])
    yield from (
        (f"{VERDICT}{c['source']} {c['id']}", str(c["verdict"])) for c in found["conditions"] if c["verdict"]
    )
    if found["temperature_c"] is not None:
        yield "airTemperature", f"{float(found['temperature_c']):g}"
    if found["photo"] is not None:
        yield "associatedMedia", file_name(str(found["photo"]["path"]))
        yield "photoSHA256", str(found["photo"]["sha256"])
    if found["why"]:
        yield "occurrenceRemarks", str(found["why"])


def _place(fix: Any) -> Iterator[tuple[str, str]]:
    yield LATITUDE, f"{float(fix['latitude']):.7f}"
    yield LONGITUDE, f"{float(fix['longitude']):.7f}"
    if not fix["assumed"]:
        yield UNCERTAINTY, f"{float(fix['radius_m']):.10g}"


def file_name(path: str) -> str:
    """Return a path's last part, whichever way its slashes lean: folders are nobody else's business.

    Examples
    --------
    >>> file_name("C:\\\\home\\\\spot.jpg"), file_name("photos/spot.jpg")
    ('spot.jpg', 'spot.jpg')
    """
    return PurePosixPath(PureWindowsPath(path).name).name
