"""Entries of a book as calls and releases: what each says of itself, and what its capture says for it."""

from __future__ import annotations

from dataclasses import replace

from tussock.geodesy import Plane
from tussock.hotspots.found import GivenCalls
from tussock.records.calls import calls_of
from tussock.records.entries import CALLOUT, CAPTURE, DISPOSAL, ID_COLUMN, PARENT, Entry
from tussock.species.profiles import load_profiles

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


def test_an_animal_has_one_name_however_it_is_written() -> None:
    """55 of NOTECHIS SCUTATUS beside 132 of Notechis scutatus split every count by species."""
    names = ("Notechis scutatus", "NOTECHIS SCUTATUS", "notechis  scutatus", "Notechis scutatus ater")
    entries = [_entry(CALLOUT, f"K-{n}", scientificName=name, **AT) for n, name in enumerate(names)]
    entries += [_entry(CALLOUT, "K-8", vernacularName="Tiger Snake", **AT)]
    entries += [
        _entry(CALLOUT, "K-9"),
        _entry(CAPTURE, "C-9", parent="K-9", vernacularName="tiger snake", **AT),
    ]
    assert {c.species for c in _read(*entries).calls} == {"Notechis scutatus"}


def test_a_name_without_a_profile_is_one_whatever_its_case() -> None:
    names = ("TILIQUA NIGROLUTEA", "Tiliqua nigrolutea", "tiliqua nigrolutea")
    found = _read(*(_entry(CALLOUT, f"K-{n}", scientificName=name, **AT) for n, name in enumerate(names)))
    assert {c.species for c in found.calls} == {"Tiliqua nigrolutea"}


def test_a_name_of_several_species_or_nearly_one_stays_as_it_is_written() -> None:
    """Copperheads live in two continents; which was meant nobody is there to say."""
    given = [_entry(CALLOUT, "K-1", vernacularName="copperhead", **AT)]
    given += [_entry(CALLOUT, "K-2", scientificName="Notechis scutatis", **AT), _entry(CALLOUT, "K-3", **AT)]
    assert [c.species for c in _read(*given).calls] == ["copperhead", "Notechis scutatis", ""]


def test_a_profile_of_ones_own_names_its_animal() -> None:
    own = load_profiles().find("Notechis scutatus")
    species = replace(load_profiles(), profiles=(replace(own, vernacular_names=("blackie",)),))
    callout = _entry(CALLOUT, "K-1", vernacularName="Blackie", **AT)
    (call,) = calls_of([callout], plane=PLANE, inputs={}, species=species).calls
    assert call.species == "Notechis scutatus"


def test_a_release_is_named_as_the_calls_are() -> None:
    (release,) = _read(_entry(DISPOSAL, "D-1", vernacularName="tiger snake", **AT)).releases
    assert release.species == "Notechis scutatus"
