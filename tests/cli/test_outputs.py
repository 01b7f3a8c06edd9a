"""Files are written whole or not at all, and never over anything that is not Tussock's own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.running import BASE, DATA, Runner, handed
from tussock.maps import exports
from tussock.planning.record import Plan

pytestmark = pytest.mark.usefixtures("quick")
FOUR = {"today.html", "today.geojson", "today.gpx", "today.json"}


def _names(folder: Path) -> set[str]:
    return {p.name for p in folder.iterdir()}


def test_four_files_and_their_names_on_stderr(run: Runner, tmp_path: Path) -> None:
    ran = run.plan({"--out": "today"})
    assert _names(tmp_path) == FOUR
    assert [line.split()[1] for line in ran.err.splitlines()[-4:]] == sorted(
        FOUR, key=["today.html", "today.geojson", "today.gpx", "today.json"].index
    )


@pytest.mark.parametrize("name", ["today.html", "today.json", "today.gpx", "today.geojson"])
def test_a_suffix_in_the_name_is_taken_off(name: str, run: Runner, tmp_path: Path) -> None:
    run.plan({"--out": name})
    assert _names(tmp_path) == FOUR


def test_another_suffix_stays(run: Runner, tmp_path: Path) -> None:
    run.plan({"--out": "C-061.v2"})
    assert "C-061.v2.html" in _names(tmp_path)


def test_a_new_folder_is_made(run: Runner, tmp_path: Path) -> None:
    run.plan({"--out": "new/folder/today"})
    assert _names(tmp_path / "new/folder") == FOUR


def test_the_record_tells_nothing_of_where_files_lie(run: Runner, tmp_path: Path) -> None:
    run.plan({"--out": "today"})
    for name in FOUR:
        text = (tmp_path / name).read_text("utf-8")
        assert str(DATA) not in text and str(tmp_path) not in text, name
    inputs = json.loads((tmp_path / "today.json").read_text("utf-8"))["inputs"]
    assert {"region/region.toml", "region/ground.gpkg", "permit/permit.toml"} <= set(inputs)


def test_our_own_output_is_written_again_with_the_same_bytes(run: Runner, tmp_path: Path) -> None:
    run.plan({"--out": "today"})
    before = {name: (tmp_path / name).read_bytes() for name in FOUR}
    assert run.plan({"--out": "today"}).code == 0
    assert {name: (tmp_path / name).read_bytes() for name in FOUR} == before


def test_our_own_output_is_known_by_what_stands_in_it(run: Runner, tmp_path: Path) -> None:
    run.plan({"--out": "today"})
    for suffix in ("html", "geojson", "gpx", "json"):
        (tmp_path / f"today.{suffix}").rename(tmp_path / f"else.{suffix}")
    assert run.plan({"--out": "else"}).code == 0


FOREIGN = {
    ".html": "<!DOCTYPE html>\n<title>Tussock</title>",
    ".geojson": '{"type": "FeatureCollection", "features": []}',
    ".gpx": '<?xml version="1.0"?>\n<gpx version="1.1" creator="Somebody"></gpx>',
    ".json": '{"software": {"name": "other"}}',
}


@pytest.mark.parametrize("suffix", FOREIGN)
def test_anything_else_is_in_the_way(
    suffix: str, run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / f"today{suffix}").write_text(FOREIGN[suffix], "utf-8")
    with handed(monkeypatch) as given:
        ran = run.plan({"--out": "today"})
    assert ran.code == 3
    assert f"today{suffix}: a file is in the way" in ran.err and "--force" in ran.err
    assert given.captures == [], "looked at before the long work"
    assert _names(tmp_path) == {f"today{suffix}"}
    assert (tmp_path / f"today{suffix}").read_text("utf-8") == FOREIGN[suffix]


def test_force_replaces_it(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "today.json").write_text("mine", "utf-8")
    assert run.plan({"--out": "today"}).code == 3
    assert run.plan({"--out": "today"}, "--force").code == 0
    assert json.loads((tmp_path / "today.json").read_text("utf-8"))["capture"]["id"] == "C-061"


@pytest.mark.parametrize("text", ["", "{", "\xff", "[]", "null", '{"software": 3}'])
def test_a_damaged_file_is_not_taken_for_ours(text: str, run: Runner, tmp_path: Path) -> None:
    (tmp_path / "today.json").write_text(text, "latin-1")
    assert run.plan({"--out": "today"}).code == 3


def test_a_folder_in_the_way_stays_even_with_force(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "today.html").mkdir()
    ran = run.plan({"--out": "today"}, "--force")
    assert ran.code == 3
    assert "a folder is in the way" in ran.err
    assert _names(tmp_path) == {"today.html"}


def test_an_input_is_never_written_over(run: Runner, tmp_path: Path) -> None:
    permit = tmp_path / "today.json"  # a permit under an odd name
    permit.write_bytes((DATA / "permit.toml").read_bytes())
    ran = run.plan({"--permit": str(permit), "--out": "today"}, "--force")
    assert ran.code == 3
    assert "it is one of the inputs" in ran.err
    assert permit.read_bytes() == (DATA / "permit.toml").read_bytes()


def test_a_file_that_comes_into_the_way_during_the_work(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = exports.plan_json

    def meanwhile(plan: Plan, *, share: bool = False) -> str:
        (tmp_path / "today.gpx").write_text("mine", "utf-8")
        return real(plan, share=share)

    monkeypatch.setattr(exports, "plan_json", meanwhile)
    assert run.plan({"--out": "today"}).code == 3
    assert _names(tmp_path) == {"today.gpx"}
    assert (tmp_path / "today.gpx").read_text("utf-8") == "mine"


@pytest.mark.parametrize(
    "failure", [RuntimeError("no more"), KeyboardInterrupt(), MemoryError(), SystemExit(143)]
)
def test_nothing_half_written_when_the_last_writer_fails(
    failure: BaseException, run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run.plan({"--out": "today"})
    before = {name: (tmp_path / name).read_bytes() for name in FOUR}

    def fails(*_: object, **__: object) -> str:
        raise failure

    monkeypatch.setattr(exports, "plan_json", fails)
    if isinstance(failure, SystemExit):
        with pytest.raises(SystemExit):
            run.plan({"--out": "today", "--capture-id": "other"})
    else:
        assert run.plan({"--out": "today", "--capture-id": "other"}).code in (70, 130)
    assert {name: (tmp_path / name).read_bytes() for name in _names(tmp_path)} == before


@pytest.mark.parametrize("nth", [1, 2, 3, 4])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_nothing_half_placed(
    nth: int, error: BaseException, run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run.plan({"--out": "today"})
    (tmp_path / "today.gpx").unlink()  # one that is new, three that are replaced
    before = {name: (tmp_path / name).read_bytes() for name in _names(tmp_path)}
    real, calls = Path.replace, []

    def replace(self: Path, target: Path) -> Path:
        calls.append(target)
        if len(calls) == nth:
            raise error
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    ran = run.plan({"--out": "today", "--capture-id": "other"})
    assert ran.code == (3 if isinstance(error, OSError) else 130)
    assert {name: (tmp_path / name).read_bytes() for name in _names(tmp_path)} == before


def test_a_name_too_long_is_said(run: Runner, tmp_path: Path) -> None:
    ran = run.plan({"--out": "x" * 300})
    assert ran.code == 3
    assert "cannot be written" in ran.err
    assert _names(tmp_path) == set()


def test_a_file_where_a_folder_is_needed(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "maps").write_text("", "utf-8")
    ran = run.plan({"--out": "maps/today"})
    assert ran.code == 3
    assert "a file is in the way of the folder" in ran.err


def test_shared_files_hold_no_position(run: Runner, tmp_path: Path, known: dict[str, Plan]) -> None:
    run.plan({"--out": "today"}, "--share")
    site = known["plan"].sites[0]
    for name in FOUR:
        text = (tmp_path / name).read_text("utf-8")
        for secret in (f"{site.latitude:.4f}", f"{site.longitude:.4f}", BASE["--at"].split(",")[0], "C-061"):
            assert secret not in text, f"{secret} in {name}"
    assert run.plan({"--out": "today"}, "--share").code == 0, "the shared form is known as ours too"
