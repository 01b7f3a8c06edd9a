"""tussock.toml in the working folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import DATA, Runner, handed
from tussock.cli.options import PlanOptions
from tussock.cli.settings import _Defaults, read_settings
from tussock.errors import InputError


def _write(folder: Path, text: str) -> None:
    (folder / "tussock.toml").write_text(text, "utf-8")


def test_none_is_needed(tmp_path: Path) -> None:
    assert read_settings(tmp_path).path is None


def test_defaults_stand_in_for_options(run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _write(
        tmp_path,
        f"""
        [defaults]
        region = "{DATA}"
        permit = ["{DATA / "permit.toml"}"]
        consents = "{DATA / "consents.csv"}"
        releases = "{DATA / "releases.csv"}"
        top = 3
        [contacts]
        carer = "the carer's number"
        """,
    )
    with handed(monkeypatch) as given:
        assert run.plan({"--region": None, "--permit": None}).code == 99
        run.plan({"--region": None, "--permit": None, "--top": "7"})
    setting, other = given.settings
    assert setting.region.file.name == "Pellerwick (invented)"
    assert (setting.permits[0].id, setting.top, other.top) == ("PDW-0417", 3, 7)
    assert setting.consents and setting.earlier
    assert setting.contacts == {"carer": "the carer's number"}


def test_every_default_is_an_option() -> None:
    assert set(_Defaults.model_fields) <= set(PlanOptions.__dataclass_fields__)


def test_one_permit_as_a_text(run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _write(tmp_path, f'[defaults]\npermit = "{DATA / "permit.toml"}"\n')
    with handed(monkeypatch) as given:
        run.plan({"--permit": None})
    assert [p.id for p in given.settings[0].permits] == ["PDW-0417"]


def test_paths_are_from_the_folder_of_the_file(tmp_path: Path) -> None:
    _write(tmp_path, '[defaults]\nregion = "here"\npermit = ["a.toml", "b.toml"]\n')
    found = read_settings(tmp_path)
    assert found.defaults["region"] == tmp_path / "here"
    assert found.defaults["permit"] == (tmp_path / "a.toml", tmp_path / "b.toml")


def test_own_house_rules_replace_the_shipped_ones(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rule = (
        '[[house_rules.conditions]]\nid = "mine"\nkind = "min_distance_from"\nlayer = "roads"\nlimit_m = 77\n'
    )
    _write(tmp_path, rule)
    with handed(monkeypatch) as given:
        ran = run.plan()
    assert [c.id for c in given.settings[0].house_rules] == ["mine"]
    assert "House rules" not in ran.err
    assert "house rules/tussock.toml" in given.settings[0].inputs


def test_house_rules_about_no_layer(run: Runner, tmp_path: Path) -> None:
    _write(tmp_path, '[[house_rules.conditions]]\nid = "x"\nkind = "not_within"\nlayer = "burned"\n')
    ran = run.plan()
    assert ran.code == 3
    assert "tussock.toml, rule x: layer 'burned'" in ran.err and "burnt" in ran.err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[defaults]\nregoin = "x"\n', ("'regoin'", "region")),
        ('emergency = "000"\n', ("'emergency'", "emergency_number")),
        ('[contacts]\ncarers = "x"\n', ("'carers'", "carer")),
        ('[default]\nregion = "x"\n', ("'default'", "defaults")),
        ("[defaults]\ntop = 0\n", ("top", "a whole number from 1")),
        ('[defaults]\ntop = "5"\n', ("top", "without quotes")),
        ('[defaults]\nregion = ""\n', ("region", "it is empty")),
        ("emergency_number = 000\n", ("it is not TOML",)),
        ("emergency_number = 112\n", ("emergency_number", "in quotes")),
        ("defaults = 3\n", ("defaults",)),
    ],
)
def test_faults_name_the_key_and_the_nearest_known_one(
    text: str, words: tuple[str, ...], run: Runner, tmp_path: Path
) -> None:
    _write(tmp_path, text)
    ran = run.plan()
    assert ran.code == 3
    assert "tussock.toml" in ran.err
    assert all(word in ran.err for word in words), ran.err


def test_all_faults_at_once(tmp_path: Path) -> None:
    _write(tmp_path, 'x = 1\n[defaults]\ny = 2\ntop = -1\n[contacts]\nz = "3"\n')
    with pytest.raises(InputError, match="4 faults"):
        read_settings(tmp_path)
