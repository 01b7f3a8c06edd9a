"""A paper permit of two pages, typed by someone who has it before them, comes out as its file."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.permit.asking.scripted import Scripted, typed
from tussock.permit.asking.draft import Draft
from tussock.permit.asking.session import begin
from tussock.permit.permit_file import Permit, permit_of
from tussock.permit.plain.words import in_words
from tussock.permit.writing import MARK, permit_text

HERE = Path(__file__).parent
PAPER = (HERE / "paper_permit.txt").read_text("utf-8")
# the paper read by hand: a mile is 1609.344 m, 250 yards of 0.9144 m, 40 acres of 0.40468564224 ha
BY_HAND: list[tuple[str, str, dict[str, Any]]] = [
    ("1", "handled_by", {}),
    (
        "2",
        "species_listed",
        {"species": ["Notechis scutatus", "Pseudechis porphyriacus", "Pseudonaja textilis"]},
    ),
    ("3", "quota", {"count": 40, "per": "month"}),
    ("4", "checked_every_hours", {"limit_h": 2}),
    ("5(a)", "max_distance_from_capture", {"limit_m": 1609.344}),
    ("5(b)", "min_distance_from", {"layer": "dwellings", "limit_m": 228.6}),
    (
        "5(c)",
        "min_distance_from",
        {"layer": "roads", "classes": ["primary", "secondary", "tertiary"], "limit_m": 100},
    ),
    ("6", "min_patch_area", {"limit_ha": 16.1874256896, "of": "property"}),
    ("7", "same_polygon_as_capture", {"layer": "catchments"}),
    ("8", "not_within", {"layer": "protected", "of": "site", "unless_captured_within": True}),
    (
        "9",
        "max_holding_hours",
        {"limit_h": 24, "from": "capture", "captured_after": "21:00", "then_within_h": 12},
    ),
    ("10", "release_window", {"window": {"from": "06:30", "to": "20:00"}}),
    ("11", "weather_within", {"min_c": 15, "applies_to": {"gravid": ["yes"], "months": [5, 6, 7, 8]}}),
    ("12", "consent_recorded", {"written": True}),
    (
        "13",
        "attested",
        {"question": "Is there a hollow log or burrow close by?", "ask_at": "site", "mandatory": False},
    ),
    ("14", "incident_reported_within_hours", {"limit_h": 24}),
    ("15(i)", "record_within_hours", {"limit_h": 48}),
    (
        "15(ii)",
        "record_complete",
        {"fields": ["eventDate", "scientificName", "decimalLatitude", "decimalLongitude"]},
    ),
    ("16", "animal_condition", {"allowed": ["fit"]}),
    (
        "17",
        "return_due",
        {"period_end": "08-31", "due": "09-30", "nil_return": True, "assigned_by": "disposal"},
    ),
]


@pytest.fixture(scope="module")
def session() -> tuple[Scripted, Draft]:
    talk, draft = typed(HERE / "paper_permit_typed.txt"), Draft()
    begin(talk, draft)
    assert talk.answers == [], "every answer was asked for"
    return talk, draft


@pytest.fixture(scope="module")
def permit(session: tuple[Scripted, Draft]) -> Permit:
    return permit_of(tomllib.loads(permit_text(session[1].raw)), file="typed")


def test_the_head_and_the_dates(permit: Permit) -> None:
    assert (permit.id, permit.holder, permit.timezone) == (
        "UM 88/26",
        "Winifred Oakhanger",
        "Australia/Melbourne",
    )
    assert permit.authorised_persons == ("Winifred Oakhanger", "Tobias Penhallow")
    (version,) = permit.versions
    assert (str(version.valid_from), str(version.valid_to)) == ("2026-09-01", "2027-08-31")
    assert permit.warnings == ()


def test_every_clause_has_its_kind_and_limits(session: tuple[Scripted, Draft]) -> None:
    written = tomllib.loads(permit_text(session[1].raw))["versions"][0]["conditions"]
    found = [
        (c["id"], c["kind"], {k: v for k, v in c.items() if k not in ("id", "kind", "text")}) for c in written
    ]
    for (name, kind, fields), (name_f, kind_f, fields_f) in zip(BY_HAND, found, strict=True):
        assert (name_f, kind_f) == (name, kind)
        assert fields_f == fields


def test_the_texts_are_the_papers(permit: Permit) -> None:
    paper = " ".join(PAPER.split())
    for clause in permit.versions[0].conditions:
        assert clause.text.removesuffix(" (Advice)") in paper, clause.id


def test_nothing_needs_a_second_look_in_what_was_kept(permit: Permit) -> None:
    assert in_words(permit).warnings == ()


def test_what_was_said_on_the_way(session: tuple[Scripted, Draft]) -> None:
    screen = session[0].screen
    assert "  = 1609.344 m" in screen and "  = 228.6 m" in screen and "  = 16.187426 ha" in screen
    assert "write Australia/Melbourne, if that is meant" in screen
    assert "'2 acres' is no such amount. Allowed: a number with its unit, such as 500 m, 2 km" in screen
    assert "write dwellings, if that is meant" in screen
    assert "write secondary, if that is meant" in screen
    assert "it is not in the calendar" in screen, "31 September"
    assert "LOOK: the text says '48 hours' (48 h), limit_h is 84: compare with the paper" in screen


def test_the_file_begins_as_ours_and_holds_the_text_below_what_was_made_of_it(
    session: tuple[Scripted, Draft],
) -> None:
    text = permit_text(session[1].raw)
    assert text.startswith(MARK)
    assert text.count("[[versions.conditions]]") == len(BY_HAND)
    assert 'limit_m = 100\ntext = "and at least 100 metres' in text
    assert "\n\n\n" not in text and text.endswith('"\n')
