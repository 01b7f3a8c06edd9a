"""Entries of a book as calls and releases: what each says of itself, and what its capture says for it."""

from __future__ import annotations

from tussock.geodesy import Plane
from tussock.hotspots.found import GivenCalls
from tussock.records.calls import calls_of
from tussock.records.entries import CALLOUT, CAPTURE, DISPOSAL, ID_COLUMN, PARENT, Entry

PLANE = Plane(147.5, -42.1)
AT = {"decimalLatitude": "-42.1000", "decimalLongitude": "147.5000", "coordinateUncertaintyInMeters": "20"}


def _entry(kind: str, name: str, *, parent: str = "", **cells: str) -> Entry:
    of = {ID_COLUMN[PARENT[kind]]: parent} if parent else {}
    return Entry(kind, name, {"eventDate": "2026-01-10T10:00:00+11:00", **of, **cells})


def _read(*entries: Entry) -> GivenCalls:
    return calls_of(entries, plane=PLANE, inputs={})


def test_a_release_is_of_the_species_and_mark_of_its_capture_unless_it_says_so() -> None:
    capture = _entry(CAPTURE, "C-1", scientificName="Notechis scutatus", organismID="M-1", **AT)
    silent = _entry(DISPOSAL, "D-1", parent="C-1", disposal="released", **AT)
    own = _entry(DISPOSAL, "D-2", parent="C-1", scientificName="Austrelaps superbus", organismID="M-2", **AT)
    loose = _entry(DISPOSAL, "D-3", **AT)
    found = {r.id: (r.species, r.organism_id) for r in _read(capture, silent, own, loose).releases}
    assert found == {
        "D-1": ("Notechis scutatus", "M-1"),
        "D-2": ("Austrelaps superbus", "M-2"),
        "D-3": ("", ""),
    }


def test_only_what_was_released_is_a_release_and_one_without_a_place_is_said() -> None:
    entries = [
        _entry(DISPOSAL, "D-1", disposal="released", **AT),
        _entry(DISPOSAL, "D-2", disposal="vet_or_carer", **AT),
        _entry(DISPOSAL, "D-3", disposal="released"),
    ]
    found = _read(*entries)
    assert [r.id for r in found.releases] == ["D-1"]
    assert found.notes == ("1 release names no place: whether a call followed is not asked",)


def test_the_same_release_twice_is_one() -> None:
    twice = [_entry(DISPOSAL, "D-1", disposal="released", **AT) for _ in range(2)]
    assert len(_read(*twice).releases) == 1


def test_a_callout_without_a_place_stands_where_its_capture_does_or_is_named() -> None:
    callouts = [_entry(CALLOUT, "K-1"), _entry(CALLOUT, "K-2")]
    found = _read(*callouts, _entry(CAPTURE, "C-1", parent="K-1", **AT))
    assert [c.id for c in found.calls] == ["K-1"] and found.without_place == ("K-2",)
    assert found.calls[0].captured and found.rows == 2
