"""Every option of ``tussock plan`` changes what the library receives, or what is printed or written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import typer

from tests.cli.running import AT, BASE, DATA, Given, Runner, handed
from tussock.cli.app import app
from tussock.cli.options import ANSWERS, flag

Look = Callable[[Given], Any]


def _capture(name: str) -> Look:
    return lambda given: getattr(given.captures[0], name)


def _animal(name: str) -> Look:
    return lambda given: getattr(given.captures[0].animal, name)


def _setting(name: str) -> Look:
    return lambda given: getattr(given.settings[0], name)


def _iso(look: Look) -> Look:
    return lambda given: look(given).isoformat()


def _file(folder: Path, name: str, text: str) -> str:
    path = folder / name
    path.write_text(text, "utf-8")
    return str(path)


def _second_region(folder: Path) -> str:
    made = folder / "second"
    made.mkdir()
    for path in DATA.iterdir():
        if path.suffix in (".gpkg", ".tif", ".geojson"):
            (made / path.name).symlink_to(path)
    text = (DATA / "region.toml").read_text("utf-8").replace("Pellerwick (invented)", "Second")
    (made / "region.toml").write_text(text, "utf-8")
    return str(made)


def _second_permit(folder: Path) -> str:
    return _file(
        folder, "second.toml", (DATA / "permit.toml").read_text("utf-8").replace("PDW-0417", "SECOND")
    )


def _profiles(folder: Path) -> str:
    from tussock.species.profiles import SHIPPED

    blocks = SHIPPED.read_text("utf-8").split("[[profiles]]")
    block = next(b for b in blocks if 'scientificName = "Notechis scutatus"' in b).split("# ----")[0]
    assert 'danger = "dangerously_venomous"' in block
    return _file(folder, "own.toml", "[[profiles]]" + block.replace("dangerously_venomous", "harmless"))


def _weights(folder: Path) -> str:
    from tussock.planning.weights import SHIPPED

    lines = SHIPPED.read_text("utf-8").splitlines()
    first = next(k for k, line in enumerate(lines) if line.startswith("weight ="))
    return _file(folder, "weights.toml", "\n".join([*lines[:first], "weight = 7.25", *lines[first + 1 :]]))


def _releases(folder: Path) -> str:
    text = (
        "captureID,eventDate,decimalLatitude,decimalLongitude,coordinateUncertaintyInMeters,scientificName\n"
    )
    own = "C-061,2026-11-14T11:00+11:00,-42.1,147.5,5,Notechis scutatus\n"
    return _file(
        folder, "releases.csv", text + own + "C-001,2025-09-12T10:22+10:00,-42.1,147.6,5,tiger snake\n"
    )


def _consents(folder: Path) -> str:
    return _file(folder, "own.csv", "consentID,parcelID,validFrom\nCN-X,P-00024,2026-01-01\n")


CHANGES: dict[str, tuple[Callable[[Path], str], Look, Any]] = {
    "--region": (_second_region, lambda g: g.settings[0].region.file.name, "Second"),
    "--permit": (_second_permit, lambda g: [p.id for p in g.settings[0].permits], ["SECOND"]),
    "--at": (lambda _: "-42.1,147.6", lambda g: g.captures[0].position.latitude, -42.1),
    "--uncertainty": (lambda _: "50", lambda g: g.captures[0].position.radius_m, 50.0),
    "--species": (lambda _: "Austrelaps superbus", _animal("scientific_name"), "Austrelaps superbus"),
    "--identification": (lambda _: "probable", _animal("identification"), "probable"),
    "--origin": (lambda _: "exotic", _animal("origin"), "exotic"),
    "--condition": (lambda _: "sick", _animal("condition"), "sick"),
    "--life-stage": (lambda _: "juvenile", _animal("life_stage"), "juvenile"),
    "--gravid": (lambda _: "yes", _animal("gravid"), "yes"),
    "--count": (lambda _: "3", _animal("individual_count"), 3),
    "--found-in": (lambda _: "trap or netting", _animal("found_in"), "trap_or_netting"),
    "--time": (lambda _: "2026-11-13T20:00Z", _iso(_capture("time")), "2026-11-13T20:00:00+00:00"),
    "--trap-checked": (
        lambda _: "2026-11-14T07:05+11:00",
        lambda g: str(g.captures[0].trap_checked),
        "2026-11-14 07:05:00+11:00",
    ),
    "--release-at": (
        lambda _: "2026-11-14T13:00+11:00",
        _iso(_setting("start")),
        "2026-11-14T13:00:00+11:00",
    ),
    "--now": (lambda _: "2026-11-14T11:30+11:00", _iso(_setting("now")), "2026-11-14T11:30:00+11:00"),
    "--capture-id": (lambda _: "C-999", _capture("id"), "C-999"),
    "--releases": (
        _releases,
        lambda g: [e.scientific_name for e in g.settings[0].counted],
        ["Notechis scutatus"],
    ),
    "--consents": (_consents, lambda g: g.settings[0].consents[0].id, "CN-X"),
    "--profiles": (_profiles, lambda g: g.captures[0].animal.profile.danger, "harmless"),
    "--weights": (_weights, lambda g: g.settings[0].weights.habitat.weight, 7.25),
    "--top": (lambda _: "2", _setting("top"), 2),
}
"""Option → how to make another value, where to look, and what must be found there."""
ELSEWHERE = {
    "--captures": "test_batch.py",
    "--out": "test_outputs.py",
    "--format": "test_printing.py",
    "--share": "test_printing.py",
    "--force": "test_outputs.py",
    "--or": "test_usage.py",
    "--holders": "test_holders.py",
    "--logbook": "test_plan_from_logbook.py",
    "--capture": "test_plan_from_logbook.py",
}
"""Options that change what is printed or written, or stand beside another, and the file that tests them."""


def _look(look: Look, given: Given) -> Any:
    try:
        return look(given)
    except IndexError:
        return None


def test_every_option_is_here_or_elsewhere() -> None:
    command = typer.main.get_command(app).commands["plan"]  # type: ignore[attr-defined]  # typer says less than it returns: a group
    options = {o for p in command.params for o in p.opts if o not in ("--help", "-h")}
    assert options == set(CHANGES) | set(ELSEWHERE)
    here = Path(__file__).parent
    for option, file in ELSEWHERE.items():
        assert option in (here / file).read_text("utf-8")


def test_every_answer_has_an_option() -> None:
    assert {flag(name) for name in ANSWERS.values()} <= set(BASE)


@pytest.mark.parametrize("option", CHANGES)
def test_option_reaches_the_library(
    option: str, run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make, look, expected = CHANGES[option]
    with handed(monkeypatch) as before:
        assert run.plan().code == 99
    with handed(monkeypatch) as after:
        ran = run.plan({option: make(tmp_path)})
    assert ran.code == 99, ran.err
    assert _look(look, before) != expected
    assert look(after) == expected


@pytest.mark.parametrize(
    "option", sorted(set(CHANGES) & {"--releases", "--consents", "--profiles", "--weights"})
)
def test_file_is_hashed_into_the_record(
    option: str, run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make, _, _ = CHANGES[option]
    with handed(monkeypatch) as given:
        run.plan({option: make(tmp_path)})
    named = [k for k in given.settings[0].inputs if k.startswith(f"{option[2:]}/")]
    assert len(named) == 1
    assert all(str(tmp_path) not in k and len(v) == 64 for k, v in given.settings[0].inputs.items())


def test_two_permits_are_both_asked(run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with handed(monkeypatch) as given:
        run.plan(None, "--permit", _second_permit(tmp_path))
    assert [p.id for p in given.settings[0].permits] == ["PDW-0417", "SECOND"]


def test_a_release_of_the_same_capture_does_not_stand_in_its_way(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    releases = _releases(tmp_path)
    with handed(monkeypatch) as given:
        run.plan({"--releases": releases, "--capture-id": None})
        run.plan({"--releases": releases})
    assert [len(s.counted) for s in given.settings] == [2, 1]


def test_the_clock_stands_in_for_the_time_of_capture(run: Runner, monkeypatch: pytest.MonkeyPatch) -> None:
    with handed(monkeypatch) as given:
        run.plan({"--time": None, "--release-at": None})
    assert given.captures[0].time == given.settings[0].now
    assert given.settings[0].release_at is None  # the plan then says that an hour is assumed


def test_without_a_clock_it_is_now_in_the_permits_zone(run: Runner, monkeypatch: pytest.MonkeyPatch) -> None:
    with handed(monkeypatch) as given:
        run.plan({"--time": None, "--now": None, "--release-at": None})
    now = given.settings[0].now
    assert now.tzinfo is given.settings[0].permits[0].zone
    assert now.microsecond == 0


def test_latitude_comes_first(run: Runner, monkeypatch: pytest.MonkeyPatch) -> None:
    with handed(monkeypatch) as given:
        run.plan()
    place = given.captures[0].position
    assert f"{place.latitude},{place.longitude}" == AT


def test_other_species_reach_the_library_and_the_record(run: Runner, monkeypatch: pytest.MonkeyPatch) -> None:
    with handed(monkeypatch) as given:
        ran = run.plan(
            {"--identification": "probable"}, "--or", "lowland copperhead", "--or", "Ficticia exempli"
        )
    assert ran.code == 99, ran.err
    assert given.captures[0].animal.names == ("Notechis scutatus", "Austrelaps superbus", "Ficticia exempli")
    assert given.captures[0].answers["orScientificName"] == "Austrelaps superbus | Ficticia exempli"


def test_where_none_is_named_the_look_alikes_are_no_answer(
    run: Runner, monkeypatch: pytest.MonkeyPatch
) -> None:
    with handed(monkeypatch) as given:
        assert run.plan({"--identification": "probable"}).code == 99
    assert len(given.captures[0].animal.names) == 5
    assert "orScientificName" not in given.captures[0].answers
