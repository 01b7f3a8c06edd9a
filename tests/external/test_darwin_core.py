"""A Darwin Core Archive read back by another library and held against the standard's list of terms.

Sources: python-dwca-reader 0.17 (the reader); the standard's list of terms of the occurrence core, repository
tdwg/dwc, build/xml/occurrence_core_list.csv at commit 1d8e9d2 (names of facts, as far as an archive like this
could use them); Darwin Core quick reference, https://dwc.tdwg.org/terms/: decimalLatitude −90 to 90,
coordinateUncertaintyInMeters empty where unknown and 0 no value, `` | `` between the names of recordedBy;
Chapman 2020, *Current Best Practices for Generalizing Sensitive Species Occurrence Data*, GBIF,
doi 10.15468/doc-5jp4-5g10, Table 7; distances by geographiclib.
"""

from __future__ import annotations

import io
import math
import xml.etree.ElementTree as ET
import zipfile
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from tests.records.test_book import SPECIES, capture
from tests.support.extracts import referee
from tussock.position import Position
from tussock.records.book import read_book
from tussock.records.darwin_core import Dataset, archive
from tussock.records.entries import CAPTURE, Entry
from tussock.records.generalised import cell_radius_m, generalise
from tussock.records.sensitivity import DECIMALS, Sensitivity, read_sensitivity
from tussock.records.source import open_book

DATA = Path(__file__).resolve().parents[2] / "data-demo"
DATASET = Dataset("the book of a test", "Snakes & others", "N. O. Body", date(2026, 11, 20), "CC0-1.0", "AU")
RULES = Sensitivity({"Notechis scutatus": 2, "Austrelaps superbus": 1}, default=3, unidentified=2)
TERMS = "http://rs.tdwg.org/dwc/terms/"
OF_THE_STANDARD = {
    "http://purl.org/dc/terms/": """
        modified license rightsHolder accessRights bibliographicCitation references
    """,
    TERMS: """
        institutionID collectionID datasetID institutionCode collectionCode datasetName ownerInstitutionCode
        basisOfRecord informationWithheld dataGeneralizations dynamicProperties
        occurrenceID catalogNumber recordNumber recordedBy recordedByID individualCount organismQuantity
        organismQuantityType sex lifeStage reproductiveCondition behavior vitality establishmentMeans
        degreeOfEstablishment pathway georeferenceVerificationStatus occurrenceStatus associatedMedia
        associatedOccurrences associatedReferences associatedTaxa otherCatalogNumbers occurrenceRemarks
        organismID organismName organismScope associatedOrganisms previousIdentifications organismRemarks
        eventID parentEventID eventType fieldNumber eventDate eventTime year month day verbatimEventDate
        habitat samplingProtocol sampleSizeValue sampleSizeUnit samplingEffort fieldNotes eventRemarks
        locationID country countryCode stateProvince county municipality locality locationRemarks
        decimalLatitude decimalLongitude geodeticDatum coordinateUncertaintyInMeters coordinatePrecision
        pointRadiusSpatialFit verbatimCoordinates verbatimLatitude verbatimLongitude georeferenceRemarks
        identificationQualifier identifiedBy dateIdentified identificationReferences
        identificationVerificationStatus identificationRemarks
        scientificName kingdom phylum class order family genus specificEpithet infraspecificEpithet taxonRank
        scientificNameAuthorship vernacularName nomenclaturalCode taxonRemarks
    """,
}
"""Vocabulary → terms, copied from the standard's list."""


def made(entries: tuple[Entry, ...]) -> bytes:
    book = read_book(entries, species=SPECIES, now=datetime(2026, 11, 20, tzinfo=UTC))
    return archive(book.captures, dataset=DATASET, sensitivity=RULES)


@pytest.fixture(scope="module")
def entries() -> tuple[Entry, ...]:
    return open_book({CAPTURE: DATA / "captures.csv"}).entries


@pytest.fixture(scope="module")
def content(entries: tuple[Entry, ...]) -> bytes:
    return made(entries)


def rows(content: bytes, tmp_path: Path) -> list[dict[str, str]]:
    """Return the rows as the other library reads them."""
    path = tmp_path / "archive.zip"
    path.write_bytes(content)
    with referee("dwca.read").DwCAReader(str(path)) as read:
        assert read.descriptor.core.type == f"{TERMS}Occurrence"
        assert read.metadata.find("dataset/title").text == DATASET.title
        return [dict(row.data) for row in read]


def test_every_term_is_one_of_the_standard_and_every_row_is_there(
    content: bytes, entries: tuple[Entry, ...], tmp_path: Path
) -> None:
    terms = {vocabulary + name for vocabulary, names in OF_THE_STANDARD.items() for name in names.split()}
    found = rows(content, tmp_path)
    assert len(found) == len(entries)
    assert set(found[0]) <= terms
    needed = ("occurrenceID", "basisOfRecord", "scientificName", "eventDate")
    assert all(row[TERMS + term] for row in found for term in needed)
    assert {row[f"{TERMS}basisOfRecord"] for row in found} == {"HumanObservation"}
    assert len({row[f"{TERMS}occurrenceID"] for row in found}) == len(entries)


def test_no_value_is_one_that_the_standard_excludes(content: bytes, tmp_path: Path) -> None:
    for row in rows(content, tmp_path):
        latitude, longitude, radius = (
            row[TERMS + term]
            for term in ("decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters")
        )
        assert bool(latitude) == bool(longitude) == (row[f"{TERMS}scientificName"] != "Austrelaps superbus")
        assert not latitude or (-90 <= float(latitude) <= 90 and -180 <= float(longitude) <= 180)
        assert not radius or float(radius) > 0
        assert datetime.fromisoformat(row[f"{TERMS}eventDate"]).tzinfo is not None


def test_a_radius_that_was_not_recorded_stays_unknown(tmp_path: Path) -> None:
    given = [
        capture(f"C-{n}", coordinateUncertaintyInMeters=text) for n, text in enumerate(("", "0", "-5", "8"))
    ]
    found = rows(made(tuple(given)), tmp_path)
    written = [row[f"{TERMS}coordinateUncertaintyInMeters"] for row in found]
    assert written[:3] == ["", "", ""]
    assert float(written[3]) > 6900  # √(5554² + 4136²) = 6925 m at 42.1° south


def test_several_who_recorded_it_are_parted_as_the_standard_says(tmp_path: Path) -> None:
    found = rows(made((capture("C-1", recordedBy="Ines Tarrowby|Jory Quill"),)), tmp_path)
    assert found[0][f"{TERMS}recordedBy"] == "Ines Tarrowby | Jory Quill"


def test_no_file_holds_a_place_number_or_remark_of_the_book(
    content: bytes, entries: tuple[Entry, ...]
) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        whole = "".join(parts.read(name).decode() for name in parts.namelist())
    for entry in entries:
        for column in ("decimalLatitude", "decimalLongitude", "captureID"):
            assert entry.get(column) not in whole
        remark = entry.get("occurrenceRemarks")
        assert not remark or remark not in whole


def test_a_withheld_place_is_not_in_the_bounds_either() -> None:
    far = capture("C-1", scientificName="Austrelaps superbus", decimalLatitude="-10.512345")
    near = capture("C-2", scientificName="Notechis scutatus")
    with zipfile.ZipFile(io.BytesIO(made((far, near)))) as parts:
        eml = ET.fromstring(parts.read("eml.xml").decode())
    bounds = {e.tag.partition("Bounding")[0]: e.text for e in eml.iter() if e.tag.endswith("Coordinate")}
    assert bounds == {"west": "147.6", "east": "147.6", "north": "-42.1", "south": "-42.1"}


# Chapman 2020, Table 7: rounding by category; half-diagonals as printed for a sphere of 6,371 km
PRINTED = [
    (2, 0.0, 7863), (2, -27.5, 7432), (2, -37.8, 7086),
    (3, 0.0, 786), (3, -27.5, 743), (3, -37.8, 709),
    (4, 0.0, 79), (4, -27.5, 74), (4, -37.8, 71),
]  # fmt: skip


@pytest.mark.parametrize(("category", "latitude", "printed"), PRINTED)
def test_the_radius_is_raised_by_the_printed_half_diagonal(
    category: int, latitude: float, printed: int
) -> None:
    """On the ellipsoid it is up to 0.34 % more than on the sphere (111.694 km a degree), never less."""
    decimals = DECIMALS[category]
    assert decimals is not None
    raised = cell_radius_m(147.0, latitude, decimals)
    assert printed - 0.5 <= raised <= (printed + 0.5) * 1.0034
    whole = generalise(Position(147.0, latitude, 12.0), category, held=6)
    assert whole.uncertainty == str(math.ceil(12.0 + raised))
    assert float(whole.precision) == 10.0**-decimals


def test_the_extreme_category_gives_no_place() -> None:
    given = generalise(Position(147.123456, -42.123456, 12.0), 1, held=6)
    assert (given.latitude, given.longitude, given.uncertainty, given.precision) == ("", "", "", "")
    assert "withheld" in given.withheld


@given(
    st.floats(-180, 180),
    st.floats(-90, 90),
    st.floats(0.1, 5000),
    st.sampled_from([2, 3, 4]),
)
def test_the_written_disc_holds_the_whole_true_disc(
    longitude: float, latitude: float, radius: float, category: int
) -> None:
    written = generalise(Position(longitude, latitude, radius), category, held=6)
    away = Geodesic.WGS84.Inverse(latitude, longitude, float(written.latitude), float(written.longitude))
    assert away["s12"] + radius <= float(written.uncertainty)


def test_the_shipped_categories_are_read_and_default_to_one_that_points_to_no_house() -> None:
    shipped = read_sensitivity()
    assert shipped.category(["Drysdalia coronoides"]) == 3
    assert shipped.category([]) == 2
