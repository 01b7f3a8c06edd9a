"""The shipped profiles: every number in its range and sourced; radii against published home ranges."""

import subprocess
import sys
from pathlib import Path

import pytest

from tussock.errors import InputError
from tussock.names import DANGERS, HABITAT_CLASSES
from tussock.species.checks import is_scientific
from tussock.species.profiles import ActivePeriod, Danger, Profile, SpeciesBook, load_profiles
from tussock.species.reading import SOURCED
from tussock.species.traits import CONTINENTS, name_key

BOOK = load_profiles()
EVERY = pytest.mark.parametrize("profile", BOOK.profiles, ids=lambda p: p.scientific_name)

SHARED = {
    "black snake",
    "brown snake",
    "cobra",
    "copperhead",
    "krait",
    "rat snake",
    "rattlesnake",
    "rock python",
    "tree snake",
    "water snake",
    "whip snake",
    "white-lipped snake",
}
"""Names that people use for several species: asked about, never guessed."""


def test_there_are_enough_on_enough_continents() -> None:
    assert len(BOOK.profiles) >= 25
    met = {p.continent for p in BOOK.profiles}
    assert met <= set(CONTINENTS)
    assert len(met) >= 3
    for country in ("AU", "US", "GB", "IN", "ZA"):  # one a continent
        assert sum(p.origin.get(country) == "native" for p in BOOK.profiles) >= 3, country


def test_names_are_unique_but_for_those_known_to_be_shared() -> None:
    scientific = [p.scientific_name for p in BOOK.profiles]
    assert len(set(scientific)) == len(scientific)
    bearers: dict[str, set[str]] = {}
    for profile in BOOK.profiles:
        for name in profile.vernacular_names:
            bearers.setdefault(name, set()).add(profile.scientific_name)
    assert {name for name, found in bearers.items() if len(found) > 1} == SHARED


def test_every_profile_has_a_name_of_its_own() -> None:
    shared = {name_key(n) for n in SHARED}
    for profile in BOOK.profiles:
        assert any(name_key(n) not in shared for n in profile.vernacular_names), profile.scientific_name


@EVERY
def test_numbers_lie_in_their_ranges(profile: Profile) -> None:
    assert set(profile.habitat) == set(HABITAT_CLASSES)
    assert all(0.01 <= v <= 1 for v in profile.habitat.values())
    assert max(profile.habitat.values()) == 1
    assert 0 <= profile.cover_preference <= 1
    assert 0 <= profile.water_affinity <= 1
    # The widest published snake home ranges are a few thousand hectares (invasive pythons: 22 km²).
    assert profile.home_range_ha is None or 0.01 <= profile.home_range_ha <= 3000
    assert profile.displacement_m is None or 1 <= profile.displacement_m <= 20_000
    for months in (profile.dormant_months_south, profile.dormant_months_north):
        assert all(1 <= m <= 12 for m in months)
        assert len(set(months)) == len(months)


@EVERY
def test_no_species_is_sent_back_among_people_or_into_open_water(profile: Profile) -> None:
    natural = [
        profile.habitat[c] for c in ("forest", "woodland", "shrubland", "grassland", "wetland", "rock")
    ]
    for kept_low in ("garden", "built", "water"):
        assert profile.habitat[kept_low] <= 0.1
        assert profile.habitat[kept_low] < max(natural)


@EVERY
def test_every_value_has_a_source(profile: Profile) -> None:
    attributes = {name: getattr(profile, name) for name in SOURCED}
    given = {name for name, value in attributes.items() if value not in (None, (), {})}
    assert set(profile.sources) == given
    for text in profile.sources.values():
        assert text.startswith(("from memory", "judgement")) or any(map(str.isdigit, text))


@EVERY
def test_a_published_figure_says_whether_it_was_read(profile: Profile) -> None:
    for name in ("home_range_ha", "displacement_m"):
        if name in profile.sources:
            assert "SEEN" in profile.sources[name] or profile.sources[name].startswith("from memory")


@EVERY
def test_a_home_range_says_how_and_of_what(profile: Profile) -> None:
    assert (
        bool(profile.home_range_ha) == bool(profile.home_range_method) == bool(profile.home_range_statistic)
    )
    assert bool(profile.displacement_m) == profile.displacement_statistic.startswith(("typical", "maximal"))


@EVERY
def test_look_alikes_are_other_species(profile: Profile) -> None:
    assert profile.look_alikes
    assert all(map(is_scientific, profile.look_alikes))
    assert profile.scientific_name not in profile.look_alikes
    assert len(set(profile.look_alikes)) == len(profile.look_alikes)


def test_dormancy_is_in_the_winter_of_its_hemisphere() -> None:
    for profile in BOOK.profiles:
        assert set(profile.dormant_months_south) <= {5, 6, 7, 8, 9}
        assert set(profile.dormant_months_north) <= {10, 11, 12, 1, 2, 3, 4}


# domain-facts § 2b, CALC helper: r = sqrt(A / pi), printed in whole metres.
@pytest.mark.parametrize(
    ("name", "hectares", "radius_m"),
    [
        ("Notechis scutatus", 5, 126),  # residents, Butler, Malone & Clemann 2005
        ("Pseudonaja textilis", 5.8, 136),  # Whitaker & Shine 2003
        ("Morelia spilota", 22.5, 268),  # Shine & Fitzgerald 1996
    ],
)
def test_radius_of_the_published_home_ranges(name: str, hectares: float, radius_m: float) -> None:
    profile = BOOK.find(name)
    assert profile.home_range_ha == hectares
    assert profile.home_range_radius_m == pytest.approx(radius_m, abs=0.5)
    assert profile.home_range_diameter_m == pytest.approx(2 * radius_m, abs=1.0)


# Figures as printed in the abstracts named in their sources.
@pytest.mark.parametrize(
    ("name", "hectares"),
    [
        ("Crotalus ruber", 2.80),  # domain-facts § 2a: residents, males
        ("Crotalus horridus", 44.7),
        ("Agkistrodon contortrix", 12.0),
        ("Pantherophis alleghaniensis", 9.49),
        ("Coluber constrictor", 12.2),
        ("Vipera berus", 5.20),
        ("Coronella austriaca", 1.85),
        ("Ophiophagus hannah", 493.42),
        ("Python bivittatus", 98.97),
        ("Psammophylax rhombeatus", 2.219),
    ],
)
def test_home_ranges_stand_as_printed(name: str, hectares: float) -> None:
    assert BOOK.find(name).home_range_ha == hectares


def test_an_unknown_home_range_has_no_radius() -> None:
    profile = BOOK.find("Pseudechis porphyriacus")
    assert (profile.home_range_ha, profile.home_range_radius_m, profile.home_range_diameter_m) == (None,) * 3


def test_the_dangerous_are_called_so() -> None:
    # A slip here would shorten setbacks: families whose members here are all dangerous (MEM).
    for genus in (
        "Crotalus",
        "Vipera",
        "Bitis",
        "Daboia",
        "Echis",
        "Naja",
        "Bungarus",
        "Notechis",
        "Pseudonaja",
    ):
        found = [p for p in BOOK.profiles if p.scientific_name.startswith(genus + " ")]
        assert found
        assert {p.danger for p in found} == {Danger.DANGEROUSLY_VENOMOUS}


def test_danger_classes_are_the_shared_words() -> None:
    assert tuple(Danger) == DANGERS


@pytest.mark.parametrize(
    "asked",
    [
        "Pseudechis porphyriacus",
        "  pseudechis   PORPHYRIACUS ",
        "Red-bellied Black Snake",
        "red bellied blacksnake",
        "Pseudechis porphyriacus (Shaw, 1794)",
    ],
)
def test_spelling_does_not_matter(asked: str) -> None:
    assert BOOK.find(asked).scientific_name == "Pseudechis porphyriacus"


def test_apostrophes_do_not_matter() -> None:
    assert BOOK.find("Russell’s viper") is BOOK.find("russells viper") is BOOK.find("Daboia russelii")


def test_a_subspecies_is_found_under_its_species() -> None:
    assert BOOK.find("Morelia spilota imbricata") is BOOK.find("Morelia spilota")


@pytest.mark.parametrize("asked", ["Vipera berus or aspis", "Vipera berus x aspis", "Vipera sp."])
def test_two_names_in_one_are_not_cut_to_the_first(asked: str) -> None:
    assert not BOOK.find(asked).known


@pytest.mark.parametrize("asked", ["Vipera brus", "Vipera berus?!x", "Notechis scutatis", "tiger snaek"])
def test_a_slip_of_the_pen_is_refused_and_the_name_proposed(asked: str) -> None:
    """Taken as a species of its own it would slip through every clause that lists the real one."""
    with pytest.raises(InputError, match=r"very like it.*Allowed: (Vipera berus|Notechis scutatus)"):
        BOOK.find(asked)


@pytest.mark.parametrize(
    "asked", ["Vipera ursinii", "Pseudonaja nuchalis", "Naja haje", "Crotalus viridis", "Pseudechis guttatus"]
)
def test_another_species_of_a_known_genus_is_no_slip(asked: str) -> None:
    assert not BOOK.find(asked).known


@pytest.mark.parametrize("name", sorted(SHARED))
def test_a_shared_name_lists_its_bearers(name: str) -> None:
    bearers = [p.scientific_name for p in BOOK.profiles if name in p.vernacular_names]
    with pytest.raises(InputError, match="may be any of") as caught:
        BOOK.find(name.upper())
    assert all(b in caught.value.allowed for b in bearers)
    assert "scientific name" in caught.value.fix


@pytest.mark.parametrize("empty", ["", "   ", "-"])
def test_no_name_is_no_unknown_species(empty: str) -> None:
    with pytest.raises(InputError, match="no name"):
        BOOK.find(empty)


def test_a_name_without_profile_gets_the_neutral_one() -> None:
    profile = BOOK.find(" Ficticia   exempli ")
    assert not profile.known
    assert profile.scientific_name == "Ficticia exempli"
    assert profile.danger is Danger.DANGEROUSLY_VENOMOUS
    assert profile.active_period is None  # no window can be met by a guess
    assert profile.home_range_radius_m is None
    assert profile.origin == {}
    assert profile.look_alikes == ()
    natural = ("forest", "woodland", "shrubland", "grassland", "wetland", "rock", "bare")
    assert len({profile.habitat[c] for c in natural}) == 1
    assert set(profile.sources) == {"danger", "habitat", "cover_preference", "water_affinity"}


def test_finding_an_unknown_name_leaves_the_book_as_it_was() -> None:
    BOOK.find("Ficticia exempli")
    assert BOOK.neutral.scientific_name != "Ficticia exempli"


def test_every_shipped_profile_is_known_and_active_at_some_time() -> None:
    assert all(
        p.known and not p.from_user and isinstance(p.active_period, ActivePeriod) for p in BOOK.profiles
    )


def test_dormancy_follows_the_hemisphere() -> None:
    adder, brown = BOOK.find("Vipera berus"), BOOK.find("Pseudonaja textilis")
    assert adder.is_dormant(1, latitude=52.0)
    assert not adder.is_dormant(1, latitude=-42.9)
    assert brown.is_dormant(7, latitude=-27.5)
    assert not brown.is_dormant(1, latitude=-27.5)


def test_importing_pulls_in_nothing_heavy() -> None:
    code = (
        "import sys; from tussock.species import intake, profiles; profiles.load_profiles();"
        "heavy = ('pandas', 'geopandas', 'scipy', 'numpy', 'pydantic', 'pyproj');"
        "print([m for m in heavy if m in sys.modules])"
    )
    src = Path(sys.modules[SpeciesBook.__module__].__file__ or "").parents[2]
    env = {"PYTHONPATH": str(src)}
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
