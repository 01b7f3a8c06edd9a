"""The two descriptions in a Darwin Core Archive: what its columns are, and what the dataset is.

Source: Darwin Core Text Guide (http://rs.tdwg.org/dwc/text/) for meta.xml; Ecological Metadata Language
2.1.1 in the order of GBIF's profile 1.1 for eml.xml.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

EML = "eml://ecoinformatics.org/eml-2.1.1"
TEXT = "http://rs.tdwg.org/dwc/text/"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
_PROFILE = f"{EML} http://rs.gbif.org/schema/eml-gbif-profile/1.1/eml.xsd"


@dataclass(frozen=True)
class Said:
    """What is said of a dataset."""

    id: str
    title: str
    holder: str
    on: date
    rights: str
    abstract: str


@dataclass(frozen=True)
class Coverage:
    """First and last day, and west, south, east, north [degrees] of the places as written."""

    first: str
    last: str
    bounds: tuple[float, float, float, float] | None


def meta_xml(terms: Mapping[str, str], *, core: str, row_type: str) -> str:
    """Return the description of a text file with tabs; the first column is its id.

    Parameters
    ----------
    terms
        Column → the vocabulary its term is of, in the order of the columns.
    core
        Name of the file.
    """
    root = ET.Element("archive", {"xmlns": TEXT, "metadata": "eml.xml"})
    form = {
        "encoding": "UTF-8",
        "fieldsTerminatedBy": "\\t",
        "linesTerminatedBy": "\\n",
        "fieldsEnclosedBy": "",
        "ignoreHeaderLines": "1",
        "rowType": row_type,
    }
    table = ET.SubElement(root, "core", form)
    ET.SubElement(ET.SubElement(table, "files"), "location").text = core
    ET.SubElement(table, "id", {"index": "0"})
    for n, (name, vocabulary) in enumerate(terms.items()):
        ET.SubElement(table, "field", {"index": str(n), "term": vocabulary + name})
    return _document(root)


def eml_xml(said: Said, coverage: Coverage | None) -> str:
    """Return the description of a dataset; ``None`` covers nothing."""
    about = {
        "xmlns:eml": EML,
        "xmlns:xsi": _XSI,
        "xsi:schemaLocation": _PROFILE,
        "packageId": said.id,
        "system": "http://gbif.org",
        "scope": "system",
        "xml:lang": "en",
    }
    root = ET.Element("eml:eml", about)
    dataset = ET.SubElement(root, "dataset")
    _add(dataset, "title", said.title)
    for role in ("creator", "metadataProvider"):
        _add(ET.SubElement(dataset, role), "organizationName", said.holder)
    _add(dataset, "pubDate", said.on.isoformat())
    _add(dataset, "language", "en")
    _add(ET.SubElement(dataset, "abstract"), "para", said.abstract)
    _add(ET.SubElement(dataset, "intellectualRights"), "para", said.rights)
    if coverage is not None:
        _cover(ET.SubElement(dataset, "coverage"), coverage)
    _add(ET.SubElement(dataset, "contact"), "organizationName", said.holder)
    return _document(root)


def _cover(parent: ET.Element, coverage: Coverage) -> None:
    if coverage.bounds is not None:
        place = ET.SubElement(parent, "geographicCoverage")
        _add(place, "geographicDescription", "The places as rounded.")
        box = ET.SubElement(place, "boundingCoordinates")
        west, south, east, north = coverage.bounds
        for side, value in (("west", west), ("east", east), ("north", north), ("south", south)):
            _add(box, f"{side}BoundingCoordinate", str(value))
    span = ET.SubElement(ET.SubElement(parent, "temporalCoverage"), "rangeOfDates")
    for end, day in (("beginDate", coverage.first), ("endDate", coverage.last)):
        _add(ET.SubElement(span, end), "calendarDate", day)


def _add(parent: ET.Element, name: str, text: str) -> None:
    """Add an element with a text; what XML cannot hold is left out."""
    ET.SubElement(parent, name).text = "".join(c for c in text if c.isprintable())


def _document(root: ET.Element) -> str:
    ET.indent(root)
    body = ET.tostring(root, encoding="unicode", short_empty_elements=True)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'
