"""A clause that names its animals by a common name would cover none: it is refused, never passed over."""

from __future__ import annotations

from pathlib import Path

import pytest

from tussock.errors import InputError
from tussock.permit.animal_kinds import SpeciesNotReleased
from tussock.permit.taxon import name_parts
from tussock.planning.opened import Files, open_files
from tussock.species.profiles import load_profiles

DATA = Path(__file__).resolve().parents[2] / "data-demo"
BOOK = load_profiles().profiles
COMMON = sorted({n[:1].upper() + n[1:] for p in BOOK for n in p.vernacular_names})
HEAD = 'id = "P"\nholder = "N"\nauthority = "A"\ntimezone = "UTC"\n[[versions]]\nvalid_from = 2020-01-01\n'


def _passes(name: str) -> bool:
    """Return whether a clause takes the name, as far as it can tell without the book."""
    try:
        SpeciesNotReleased(id="1", species=(name,))
    except ValueError:
        return False
    return True


def _opened(folder: Path, *clauses: str) -> None:
    text = "".join(f'[[versions.conditions]]\nid = "{n}"\n{c}\n' for n, c in enumerate(clauses))
    path = folder / "permit.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    open_files(Files(DATA, (path,)))


def test_every_common_name_of_the_book_is_refused(tmp_path: Path) -> None:
    left = [name for name in COMMON if _passes(name)]
    assert len(left) < len(COMMON) / 4, "nearly all are told by their words"
    for name in left:
        clause = f'kind = "species_not_released"\nspecies = ["{name}"]'
        with pytest.raises(InputError, match=f"common name '{name}'"):
            _opened(tmp_path, clause)


def test_a_limit_for_animals_of_a_common_name_is_refused(tmp_path: Path) -> None:
    clause = 'kind = "max_distance_from_capture"\nlimit_m = 500\napplies_to = { species = ["Night tiger"] }'
    with pytest.raises(InputError, match="clause 0: species holds the common name 'Night tiger'"):
        _opened(tmp_path, clause)


def test_every_scientific_name_passes(tmp_path: Path) -> None:
    names = sorted({n for p in BOOK for n in (p.scientific_name, *p.look_alikes)})
    assert all(name_parts(n) for n in names)
    assert all(name_parts(n) for n in ("Python spp.", "Boa constrictor", "Coluber constrictor flaviventris"))
    listed = ", ".join(f'"{n}"' for n in names)
    _opened(tmp_path, f'kind = "species_listed"\nspecies = [{listed}]')
