"""Release sites and animals seen again, counted by hand."""

from __future__ import annotations

from datetime import UTC, datetime

from tests.support.audits import made_audit
from tests.support.regions import HOBART
from tussock.review.release_sites import release_sites, seen_again


def test_releases_near_each_other_are_one_site() -> None:
    audit, _ = made_audit()
    sites = release_sites(audit.rows)
    # C-1 and C-4 lie 40 m apart; the other four stand alone; C-7 died
    assert [[r.kept.capture_id for r in s.rows] for s in sites] == [
        ["C-1", "C-4"],
        ["C-2"],
        ["C-3"],
        ["C-5"],
        ["C-6"],
    ]
    first = sites[0]
    assert (first.animals, first.species, first.consents) == (2, ("Notechis scutatus",), ("CN-1",))
    assert first.last == datetime(2026, 3, 11, 2, tzinfo=UTC)
    x, y = HOBART.project(first.at.longitude, first.at.latitude)
    assert (round(float(x)), round(float(y))) == (500, 0)


def test_an_animal_let_go_and_taken_again_is_seen_again() -> None:
    audit, _ = made_audit()
    found = list(seen_again(audit.rows))
    assert [(s.organism, s.released.kept.capture_id, s.taken.kept.capture_id, s.fate) for s in found] == [
        ("A", "C-1", "C-7", "died")
    ]
    assert release_sites(audit.rows)[0].again == tuple(found)
