"""Captures as a Darwin Core Archive: occurrences with their places generalised, to be passed on.

What it gives away is where, when and what was found. Where animals were let go, remarks, photos and the
numbers of the book stay with the holder, and the archive says so. The same book gives the same bytes.
"""

from __future__ import annotations

import io
import json
import uuid
import zipfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from tussock.errors import InputError
from tussock.names import UNKNOWN
from tussock.permit.permit_file import Permit
from tussock.permit.taxon import name_parts
from tussock.position import LATITUDE, LONGITUDE
from tussock.records.archive_xml import Coverage, Said, eml_xml, meta_xml
from tussock.records.finished_workbook import FIRST_ZIP_DATE
from tussock.records.generalised import generalise
from tussock.records.sensitivity import Sensitivity
from tussock.records.typed import Captured, decimals_in, handlers_in
from tussock.species.animal import Gravid, Identification
from tussock.tables import inert

DWC, DC = "http://rs.tdwg.org/dwc/terms/", "http://purl.org/dc/terms/"
TERMS: Mapping[str, str] = {
    "occurrenceID": DWC,
    "basisOfRecord": DWC,
    "occurrenceStatus": DWC,
    "datasetID": DWC,
    "datasetName": DWC,
    "license": DC,
    "rightsHolder": DC,
    "eventDate": DWC,
    "samplingProtocol": DWC,
    "countryCode": DWC,
    "decimalLatitude": DWC,
    "decimalLongitude": DWC,
    "geodeticDatum": DWC,
    "coordinateUncertaintyInMeters": DWC,
    "coordinatePrecision": DWC,
    "kingdom": DWC,
    "class": DWC,
    "scientificName": DWC,
    "taxonRank": DWC,
    "vernacularName": DWC,
    "identificationRemarks": DWC,
    "individualCount": DWC,
    "organismID": DWC,
    "sex": DWC,
    "lifeStage": DWC,
    "reproductiveCondition": DWC,
    "recordedBy": DWC,
    "dataGeneralizations": DWC,
    "informationWithheld": DWC,
}
"""Column → the vocabulary its term is of."""
SEPARATOR = " | "
"""Parts the names in one cell (Darwin Core, recordedBy)."""
KEPT_BACK = "Places of release, outcomes, remarks and photos are with the holder."
_RANKS = ("class", "genus", "species", "subspecies")


@dataclass(frozen=True)
class Dataset:
    """Whose book it is, and under what it may be used.

    Attributes
    ----------
    id
        Names the book for good: with it the ids of its occurrences change.
    on
        The day it is given away.
    licence
        Words or address of the licence; empty where none is given.
    country
        ISO 3166 alpha-2; empty where it is not said.
    """

    id: str
    title: str
    holder: str
    on: date
    licence: str = ""
    country: str = ""


def dataset_of(permit: Permit, *, on: date, licence: str = "", country: str = "") -> Dataset:
    """Return the dataset of a permit's book."""
    title = f"Snakes taken under permit {permit.id} of {permit.authority}"
    return Dataset(f"{permit.authority}, {permit.id}", title, permit.holder, on, licence, country)


def write_archive(
    captures: Iterable[Captured], path: Path, *, dataset: Dataset, sensitivity: Sensitivity
) -> None:
    """Write captures as a Darwin Core Archive.

    Raises
    ------
    InputError
        When it cannot be written there.
    """
    content = archive(captures, dataset=dataset, sensitivity=sensitivity)
    try:
        path.write_bytes(content)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(f"it cannot be written ({reason})", where=str(path)) from None


def archive(captures: Iterable[Captured], *, dataset: Dataset, sensitivity: Sensitivity) -> bytes:
    """Return captures as the bytes of a Darwin Core Archive: occurrence.txt, meta.xml, eml.xml."""
    listed = sorted(captures, key=lambda c: (c.time, c.id))
    held = decimals_in([c.entry for c in listed]) if listed else 0
    rows = [occurrence(c, dataset=dataset, sensitivity=sensitivity, held=held) for c in listed]
    parts = {
        "eml.xml": eml_xml(_said(dataset), _coverage(rows)),
        "meta.xml": meta_xml(TERMS, core="occurrence.txt", row_type=f"{DWC}Occurrence"),
        "occurrence.txt": _text(rows),
    }
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as whole:
        for name, text in parts.items():
            whole.writestr(zipfile.ZipInfo(name, FIRST_ZIP_DATE), text.encode("utf-8"), zipfile.ZIP_DEFLATED)
    return made.getvalue()


def occurrence(
    captured: Captured, *, dataset: Dataset, sensitivity: Sensitivity, held: int
) -> dict[str, str]:
    """Return a capture by the terms of Darwin Core; what is not known is empty.

    Parameters
    ----------
    held
        Decimals of a degree that the book's coordinates have.
    """
    animal, entry = captured.animal, captured.entry
    parts = name_parts(animal.scientific_name)  # "snake" names no species
    names = [animal.scientific_name, *animal.names] if parts else []
    place = generalise(captured.position, sensitivity.category(names), held=held)
    found = {
        "occurrenceID": occurrence_id(dataset, captured.id),
        "basisOfRecord": "HumanObservation",
        "occurrenceStatus": "present",
        "datasetID": _uuid(dataset.id),
        "datasetName": dataset.title,
        "license": dataset.licence,
        "rightsHolder": dataset.holder,
        "eventDate": captured.time.isoformat(),
        "samplingProtocol": "taken at a callout",
        "countryCode": dataset.country,
        LATITUDE: place.latitude,
        LONGITUDE: place.longitude,
        "geodeticDatum": "EPSG:4326" if place.latitude else "",
        "coordinateUncertaintyInMeters": place.uncertainty,
        "coordinatePrecision": place.precision,
        "kingdom": "Animalia",
        "class": "Reptilia",
        "scientificName": animal.scientific_name if parts else "Reptilia",
        "taxonRank": _RANKS[len(parts)],
        "vernacularName": entry.get("vernacularName"),
        "identificationRemarks": _identification(captured),
        "individualCount": str(animal.individual_count) if captured.counted else "",
        "organismID": entry.get("organismID"),
        "sex": _known(entry.get("sex")),
        "lifeStage": _known(animal.life_stage.value),
        "reproductiveCondition": "gravid" if animal.gravid is Gravid.YES else "",
        "recordedBy": SEPARATOR.join(handlers_in(entry)),
        "dataGeneralizations": place.generalizations,
        "informationWithheld": f"{place.withheld} {KEPT_BACK}".strip(),
    }
    return {term: found[term] for term in TERMS}


def occurrence_id(dataset: Dataset, capture_id: str) -> str:
    """Return the id of a capture for all the world and all time; it does not show the book's own number."""
    return _uuid(dataset.id, capture_id)


def _uuid(*parts: str) -> str:
    return uuid.uuid5(uuid.NAMESPACE_OID, json.dumps(["tussock", *parts])).urn


def _identification(captured: Captured) -> str:
    """Return how sure the species is, and which others it may be."""
    sure = captured.animal.identification
    if not name_parts(captured.animal.scientific_name):
        return "not identified to a species"
    if sure is Identification.UNKNOWN:
        return "how sure it is was not recorded"
    others = ", ".join(n for n in captured.animal.names if n != captured.animal.scientific_name)
    return f"identification {sure.value}" + (f"; may be {others}" if others else "")


def _known(text: str) -> str:
    return "" if text.strip().lower() == UNKNOWN else text


def _text(rows: Iterable[Mapping[str, str]]) -> str:
    """Return rows with tabs between: nothing in a cell parts columns or rows, or runs as a formula."""
    lines = ["\t".join(TERMS)]
    lines += ["\t".join(_cell(row[c]) for c in TERMS) for row in rows]
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    return str(inert(" ".join("".join(c if c.isprintable() else " " for c in text).split())))


def _said(dataset: Dataset) -> Said:
    return Said(
        id=_uuid(dataset.id, dataset.on.isoformat()),
        title=dataset.title,
        holder=dataset.holder,
        on=dataset.on,
        rights=dataset.licence or "No licence is given: ask the holder.",
        abstract=(
            "Snakes that a licensed relocator was called to and took, each where it was found. Places are "
            f"rounded to a grid by the category of the species, and their radii raised. {KEPT_BACK}"
        ),
    )


def _coverage(rows: Iterable[Mapping[str, str]]) -> Coverage | None:
    """Return what the written places and days span; ``None`` where there is no row."""
    listed = list(rows)
    days = sorted(row["eventDate"][:10] for row in listed)
    if not days:
        return None
    placed = [row for row in listed if row[LATITUDE]]
    east, north = ([float(row[c]) for row in placed] for c in (LONGITUDE, LATITUDE))
    bounds = (min(east), min(north), max(east), max(north)) if placed else None
    return Coverage(days[0], days[-1], bounds)
