"""Profile files of the user's own: what they may hold, and what is said of their faults."""

from pathlib import Path

import pytest

from tussock.errors import InputError
from tussock.species.profiles import load_profiles
from tussock.species.reading import read_profiles

GOOD = """
[[profiles]]
scientificName = "Ficticia exempli"
vernacularNames = ["example snake"]
danger = "mildly_venomous"
active_period = "nocturnal"
habitat = { forest = 1, woodland = 0.8, shrubland = 0.6, grassland = 0.4, wetland = 0.3, rock = 0.5, \
bare = 0.1, cropland = 0.1, garden = 0.05, built = 0.01, water = 0.01 }
cover_preference = 0.7
water_affinity = 0.2
home_range_ha = 4.5
home_range_method = "MCP"
home_range_statistic = "mean"
displacement_m = 120
displacement_statistic = "maximal: in a day"
origin = { XX = "native" }
look_alikes = ["Ficticia altera"]
dormant_months_north = [12, 1, 2]
[profiles.sources]
"danger, active_period origin look_alikes" = "from memory"
"habitat cover_preference water_affinity dormant_months_north" = "judgement: after a season of callouts"
"home_range_ha displacement_m" = "Nobody 1999, Example Journal 1:1-2"
"""


@pytest.fixture
def own(tmp_path: Path) -> Path:
    return tmp_path / "own.toml"


def test_a_file_of_ones_own_is_put_over_the_shipped_ones(own: Path) -> None:
    own.write_text(GOOD)
    book = load_profiles(own)
    found = book.find("Example Snake")
    assert (found.scientific_name, found.known, found.from_user) == ("Ficticia exempli", True, True)
    assert found.home_range_radius_m == pytest.approx((45_000 / 3.141592653589793) ** 0.5)
    assert found.sources["danger"] == "from memory"
    assert found.sources["displacement_m"] == "Nobody 1999, Example Journal 1:1-2"
    assert len(book.profiles) == len(load_profiles().profiles) + 1


def test_ones_own_profile_of_a_shipped_species_wins_whole(own: Path) -> None:
    own.write_text(GOOD.replace("Ficticia exempli", "Notechis scutatus"))
    book = load_profiles(own)
    assert book.find("Notechis scutatus").home_range_ha == 4.5
    assert len(book.profiles) == len(load_profiles().profiles)
    assert not book.find("tiger snake").known  # a name of the profile that was replaced


def test_ones_own_use_of_a_shared_name_wins(own: Path) -> None:
    own.write_text(GOOD.replace("example snake", "copperhead"))
    assert load_profiles(own).find("Copperhead").scientific_name == "Ficticia exempli"


# What is changed in a good file → the field that must be named, and a word of what is allowed.
FAULTS = {
    "danger misspelt": ('"mildly_venomous"', '"mild"', "danger", "mildly_venomous"),
    "danger as a list": ('"mildly_venomous"', '["harmless"]', "danger", "mildly_venomous"),
    "active period": ('"nocturnal"', '"by night"', "active_period", "crepuscular"),
    "habitat over 1": ("forest = 1,", "forest = 1.2,", "habitat.forest", "0.01 to 1"),
    "habitat of 0": ("built = 0.01", "built = 0", "habitat.built", "0.01 to 1"),
    "habitat nan": ("forest = 1,", "forest = nan,", "habitat.forest", "0.01 to 1"),
    "habitat true": ("forest = 1,", "forest = true,", "habitat.forest", "0.01 to 1"),
    "habitat class missing": ("rock = 0.5, ", "", "habitat.rock", "0.01 to 1"),
    "habitat class unknown": ("rock = 0.5", "rock = 0.5, heath = 0.5", "habitat.heath", "shrubland"),
    "habitat no table": ("habitat = {", 'habitat = "forest"\nhabit = {', "habitat", "table"),
    "cover in percent": ("cover_preference = 0.7", "cover_preference = 70", "cover_preference", "0 to 1"),
    "cover as text": ("cover_preference = 0.7", 'cover_preference = "0.7"', "cover_preference", "0 to 1"),
    "water negative": ("water_affinity = 0.2", "water_affinity = -0.2", "water_affinity", "0 to 1"),
    "home range of 0": ("home_range_ha = 4.5", "home_range_ha = 0", "home_range_ha", "from 0.001"),
    "home range infinite": ("home_range_ha = 4.5", "home_range_ha = inf", "home_range_ha", "from 0.001"),
    "home range without method": ('home_range_method = "MCP"\n', "", "home_range_method", "both"),
    "displacement without statistic": (
        'displacement_statistic = "maximal: in a day"\n',
        "",
        "displacement_statistic",
        "both",
    ),
    "displacement of what": (
        '"maximal: in a day"',
        '"in a day"',
        "displacement_statistic",
        "typical or maximal",
    ),
    "country in small letters": ("XX =", "xx =", "origin.xx", "two capital letters"),
    "origin misspelt": ('XX = "native"', 'XX = "endemic"', "origin.XX", "introduced"),
    "look-alike in common words": (
        '["Ficticia altera"]',
        '["grass snake"]',
        "look_alikes",
        "scientific names",
    ),
    "looks like itself": ('["Ficticia altera"]', '["Ficticia exempli"]', "look_alikes", "not its own"),
    "look-alikes twice": ('["Ficticia altera"]', '["A bb", "A bb"]', "look_alikes", "different"),
    "month 0": ("[12, 1, 2]", "[0, 1]", "dormant_months_north", "1 to 12"),
    "month twice": ("[12, 1, 2]", "[1, 1]", "dormant_months_north", "different"),
    "month in words": ("[12, 1, 2]", '["January"]', "dormant_months_north", "1 to 12"),
    "one name as text": ('["example snake"]', '"example snake"', "vernacularNames", "list"),
    "name in common words": ('"Ficticia exempli"', '"example snake"', "scientificName", "genus and species"),
    "name missing": ('scientificName = "Ficticia exempli"\n', "", "scientificName", "every profile"),
    "danger missing": ('danger = "mildly_venomous"\n', "", "danger", "every profile"),
    "active period missing": ('active_period = "nocturnal"\n', "", "active_period", "every profile"),
    "continent": ("danger =", 'continent = "Atlantis"\ndanger =', "continent", "Europe"),
    "unknown field": ("danger =", "size_m = 2\ndanger =", "size_m", "home_range_ha"),
    "source missing": ('"home_range_ha displacement_m" =', "home_range_ha =", "displacement_m", "judgement"),
    "source empty": ('"Nobody 1999, Example Journal 1:1-2"', '""', "sources.home_range_ha", "judgement"),
    "source without year": (
        '"Nobody 1999, Example Journal 1:1-2"',
        '"Nobody"',
        "sources.home_range_ha",
        "year",
    ),
    "source no text": ('"Nobody 1999, Example Journal 1:1-2"', "1999", "sources.home_range_ha", "year"),
    "source twice": ('"danger, ', '"danger habitat ', "sources.habitat", "one"),
    "source of nothing": ('"danger, ', '"danger colour ', "sources.colour", "fields of this profile"),
}


@pytest.mark.parametrize(("old", "new", "field", "allowed"), FAULTS.values(), ids=FAULTS.keys())
def test_a_fault_names_file_field_and_what_is_allowed(
    own: Path, old: str, new: str, field: str, allowed: str
) -> None:
    assert GOOD.count(old) == 1
    own.write_text(GOOD.replace(old, new))
    with pytest.raises(InputError) as caught:
        load_profiles(own)
    text = str(caught.value)
    assert caught.value.exit_code == 3
    assert "own.toml, profile 1" in text
    assert f", {field}: " in text
    assert allowed in text


def test_all_faults_are_told_at_once(own: Path) -> None:
    second = GOOD.replace("Ficticia exempli", "Ficticia secunda").replace("0.7", "70")
    own.write_text(GOOD.replace('"nocturnal"', '"late"').replace("4.5", "-1") + second)
    with pytest.raises(InputError, match=r"^3 faults") as caught:
        load_profiles(own)
    for place in (
        "profile 1 (Ficticia exempli), active_period",
        "profile 1 (Ficticia exempli), home_range_ha",
        "profile 2 (Ficticia secunda), cover_preference",
    ):
        assert place in str(caught.value)


def test_a_species_given_twice(own: Path) -> None:
    own.write_text(GOOD + GOOD)
    with pytest.raises(InputError, match=r"profile 2 \(Ficticia exempli\): given already as profile 1"):
        load_profiles(own)


def test_the_neutral_profile_is_not_the_users_to_change(own: Path) -> None:
    own.write_text(GOOD + '[neutral]\ndanger = "harmless"\n')
    with pytest.raises(InputError, match=r"unknown table 'neutral'.*profiles"):
        load_profiles(own)


def test_a_shipped_neutral_profile_must_be_the_strictest(own: Path) -> None:
    neutral = GOOD.replace("[[profiles]]", "[neutral]").replace("[profiles.", "[neutral.")
    own.write_text(neutral.replace('scientificName = "Ficticia exempli"\n', ""))
    with pytest.raises(InputError, match=r"\[neutral\]: is not the strictest"):
        read_profiles(own)


@pytest.mark.parametrize("text", ["profiles = 3", 'profiles = ["a"]', "[profiles]\nx = 1"])
def test_profiles_that_are_no_list_of_tables(own: Path, text: str) -> None:
    own.write_text(text)
    with pytest.raises(InputError, match=r"own.toml: profiles is no list of tables.*\[\[profiles\]\]"):
        load_profiles(own)


def test_no_toml_at_all(own: Path) -> None:
    own.write_text("[[profiles]\n")
    with pytest.raises(InputError, match=r"own.toml: is not TOML.*line 1"):
        load_profiles(own)


def test_not_utf8(own: Path) -> None:
    own.write_bytes(b'x = "\xff"')
    with pytest.raises(InputError, match=r"own\.toml: is not UTF-8"):
        load_profiles(own)


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.toml: cannot be read"):
        load_profiles(tmp_path / "none.toml")


def test_an_empty_file_adds_nothing(own: Path) -> None:
    own.write_text("")
    assert load_profiles(own).profiles == load_profiles().profiles
