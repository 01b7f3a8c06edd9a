"""A command line that cannot be carried out: exit 2, every fault named, nothing on stdout."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import ANSWERS, DATA, GROUND, Runner, handed
from tussock.cli.app import app


@pytest.mark.parametrize("option", ANSWERS)
def test_an_unanswered_question_is_named(option: str, run: Runner) -> None:
    ran = run.plan({option: None})
    assert ran.code == 2
    assert f"{option}: not answered. Allowed: " in ran.err
    assert ran.out == ""


def test_all_open_questions_at_once(run: Runner) -> None:
    ran = run.plan(dict.fromkeys(ANSWERS))
    assert ran.code == 2
    assert all(f"{option}: not answered" in ran.err for option in ANSWERS)


def test_wrong_answers_and_missing_files_at_once(run: Runner) -> None:
    ran = run.plan({"--region": None, "--origin": "wild", "--count": "0", "--top": "0", "--gravid": "maybe"})
    assert ran.code == 2
    for part in (
        "--region: no region",
        "--origin: found 'wild'",
        "--count: found '0'",
        "--top",
        "--gravid: found",
    ):
        assert part in ran.err


@pytest.mark.parametrize("radius", ["0", "-5", "nan", "inf", "-inf"])
def test_radius_must_be_above_zero(radius: str, run: Runner) -> None:
    ran = run.plan({"--uncertainty": radius})
    assert ran.code == 2
    assert "--uncertainty" in ran.err and "metres above 0" in ran.err


def test_a_place_needs_its_radius(run: Runner) -> None:
    assert run.plan({"--uncertainty": None}).code == 2


def test_a_place_or_a_table(run: Runner) -> None:
    ran = run("plan", *[w for pair in GROUND.items() for w in pair])
    assert ran.code == 2
    assert "--captures FILE.csv" in ran.err


def test_not_both(run: Runner) -> None:
    ran = run.plan(None, "--captures", str(DATA / "captures.csv"))
    assert ran.code == 2
    assert "--captures together with --at, --uncertainty, --time, --capture-id, --species" in ran.err


@pytest.mark.parametrize(
    ("option", "value"),
    [("--time", "2026-11-14T10:51:00+11:00"), ("--release-at", "2026-11-14T10:41:00+11:00")],
)
def test_times_out_of_order(option: str, value: str, run: Runner) -> None:
    ran = run.plan({option: value})
    assert ran.code == 2
    assert ran.err.splitlines()[-1].startswith(f"Error: {option}: ")


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--at", "147.570472,-42.102584", "latitude and longitude look swapped"),
        ("--at", "0,0", "the coordinates are 0, 0"),
        ("--at", "-42.1", "is not a latitude and a longitude"),
        ("--at", "-42,1;147,5", "is not a latitude and a longitude"),
        ("--at", "-42.1 S,147.5", "is no decimal number"),
        ("--uncertainty", "1e12", "Allowed: metres above 0, up to "),
        ("--time", "2026-11-14T10:42", "has no zone"),
        ("--release-at", "2026-11-31T10:42+11:00", "is not a date and time"),
        ("--now", "yesterday", "is not a date and time"),
    ],
)
def test_what_cannot_be_read_names_its_option(option: str, value: str, words: str, run: Runner) -> None:
    ran = run.plan({option: value})
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(f"Error: {option}: ")
    assert words in ran.err


def test_everything_that_cannot_be_read_at_once(run: Runner) -> None:
    wrong = {"--at": "here", "--time": "now", "--release-at": "soon", "--now": "today", "--uncertainty": "0"}
    ran = run.plan({**wrong, "--gravid": "maybe"})
    assert ran.code == 2
    assert ran.err.startswith("Error: 6 faults\n")
    assert all(f"\n  - {option}: " in ran.err for option in (*wrong, "--gravid"))


def test_certain_and_yet_other_species(run: Runner) -> None:
    ran = run.plan(None, "--or", "Austrelaps superbus")
    assert (ran.code, ran.out) == (2, "")
    assert "Error: --identification: certain, yet other species are named: Austrelaps superbus." in ran.err


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Pseudonaja textilus", "a name very like it"),
        ("copperhead", "give the scientific name"),
        ("tiger snake", "is the species named already"),
        ("two\nlines", "it is not readable text"),
    ],
)
def test_another_name_is_refused_as_the_first_is(name: str, words: str, run: Runner) -> None:
    ran = run.plan({"--identification": "probable"}, "--or", name)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("Error: --or: ") or "\nError: --or: " in ran.err
    assert words in ran.err


def test_every_name_that_is_none_at_once(run: Runner) -> None:
    ran = run.plan(
        {"--species": "cobra"}, "--or", "copperhead", "--or", "Pseudonaja textilus", "--or", "dugite"
    )
    assert ran.code == 2
    assert "Error: 4 faults\n" in ran.err
    assert [ran.err.count(f"\n  - {o}: ") for o in ("--species", "--or", "--identification")] == [1, 2, 1]


def test_naming_others_answers_no_question(run: Runner) -> None:
    ran = run.plan({"--identification": None}, "--or", "Austrelaps superbus")
    assert ran.code == 2
    assert ran.err.startswith("Error: --identification: not answered")


def test_others_are_for_one_capture(run: Runner) -> None:
    ground = [w for pair in GROUND.items() for w in pair]
    ran = run("plan", *ground, "--captures", str(DATA / "captures.csv"), "--or", "dugite")
    assert ran.code == 2
    assert "--captures together with --or. " in ran.err


def test_a_name_that_several_species_share(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tussock.species.profiles import load_profiles

    book = load_profiles()
    shared = next(n for p in book.profiles for n in p.vernacular_names if len(book.candidates(n)) > 1)
    with handed(monkeypatch) as given:
        ran = run.plan({"--species": shared})
    assert (ran.code, given.captures) == (2, [])
    assert "--species" in ran.err and "give the scientific name" in ran.err


@pytest.mark.parametrize("text", ["a\x1b[31mred", "bad\udcff", "two\nlines"])
def test_text_that_no_file_could_hold(text: str, run: Runner) -> None:
    ran = run.plan({"--capture-id": text, "--species": text})
    assert ran.code == 2
    assert "\x1b" not in ran.err
    assert (
        "--species: it is not readable text" in ran.err and "--capture-id: it is not readable text" in ran.err
    )


@pytest.mark.parametrize(
    "words",
    [
        ["plan", "--nonsense"],
        ["plan", "--format", "xml"],
        ["plan", "--uncertainty", "x"],
        ["nonsense"],
        [],
        ["region"],
        ["region", "check"],
        ["region", "from-osm", "x.osm.pbf"],
        ["demo", "extra"],
    ],
)
def test_what_the_parser_refuses(words: list[str], run: Runner) -> None:
    ran = run(*words)
    assert ran.code == 2
    assert ran.out == ""
    assert "--help" in ran.err
    assert "Traceback" not in ran.err


def test_out_may_not_be_a_folder(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "maps").mkdir()
    ran = run.plan({"--out": "maps"})
    assert ran.code == 2
    assert "such as maps/today" in ran.err


def test_help_says_what_every_option_does(run: Runner) -> None:
    import typer

    command: Any = typer.main.get_command(app)
    groups: dict[tuple[str, ...], Any] = {(): command}
    groups |= {(name,): command.commands[name] for name in ("permit", "region", "log")}
    pages = [
        ((*path, name), c)
        for path, g in groups.items()
        for name, c in g.commands.items()
        if (name,) not in groups
    ]
    assert {p for p, _ in pages} >= {("plan",), ("demo",), ("region", "check"), ("permit", "check")}
    for path, page in pages:
        ran = run(*path, "--help")
        assert (ran.code, ran.err) == (0, "")
        assert "Exit" in run("--help").out
        for parameter in page.params:
            words = parameter.help or ""
            assert words.endswith("."), f"{path}: {parameter.name} has no sentence"
            assert " ".join(words.split()[:2]) in " ".join(ran.out.split())


def test_version(run: Runner) -> None:
    from tussock import __version__

    ran = run("--version")
    assert (ran.code, ran.out, ran.err) == (0, f"tussock {__version__}\n", "")
