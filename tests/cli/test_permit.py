"""``tussock permit``: check in two widths and as JSON; new on a real terminal, stopped and gone on with."""

from __future__ import annotations

import json
import os
import re
import select
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

import pytest

from tests.cli.running import DATA, Runner, edited
from tests.permit.asking.scripted import keys
from tussock.cli import permit_new, terminal
from tussock.permit.asking.draft import Draft
from tussock.permit.permit_file import read_permit
from tussock.permit.writing import MARK

PERMIT = DATA / "permit.toml"
EVERY = Path(__file__).resolve().parents[1] / "permit" / "every_kind.toml"
TYPED = Path(__file__).resolve().parents[1] / "permit" / "asking" / "paper_permit_typed.txt"
SMALL = (
    'id = "T-1"\nholder = "Nobody"\nauthority = "None"\ntimezone = "UTC"\n'
    "[[versions]]\nvalid_from = 2025-07-01\n"
    '[[versions.conditions]]\nid = "1"\nkind = "max_distance_from_capture"\n'
    'limit_m = 2000\ntext = "Within 2 km."\n'
)


def small(folder: Path, **replaced: str) -> Path:
    path = folder / "small.toml"
    path.write_text(SMALL, "utf-8")
    edited(path, **replaced) if replaced else None
    return path


@pytest.mark.parametrize("columns", [80, 120])
@pytest.mark.parametrize("file", [PERMIT, EVERY])
def test_every_clause_is_printed_within_the_width(
    run: Runner, monkeypatch: pytest.MonkeyPatch, columns: int, file: Path
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    ran = run("permit", "check", str(file))
    assert ran.code == 1, "both have a gap between versions"
    lines = ran.out.splitlines()
    assert max(map(len, lines)) <= columns
    joined = " ".join(ran.out.split())
    for version in read_permit(file).versions:
        for clause in version.conditions:
            assert any(line.startswith(f"{clause.id}  ") for line in lines), clause.id
            assert f"[{clause.kind}]" in joined
            assert " ".join(clause.text.split()) in joined
            assert " ".join(clause.words().split()) in joined
    assert "no version is in force from 2026-07-01 to 2026-08-04" in joined
    assert "Check your own permit" in ran.err and "Check your own permit" not in ran.out


def test_wider_is_shorter(run: Runner, monkeypatch: pytest.MonkeyPatch) -> None:
    heights = []
    for columns in ("60", "80", "120"):
        monkeypatch.setenv("COLUMNS", columns)
        heights.append(run("permit", "check", str(PERMIT)).out.count("\n"))
    assert heights[0] > heights[1] > heights[2]


def test_a_sound_permit_is_fine(run: Runner, tmp_path: Path) -> None:
    ran = run("permit", "check", str(small(tmp_path)))
    assert ran.code == 0
    assert "Needs a second look" not in ran.out
    assert "1 clause: 1 computed from the map" in ran.out
    assert "What Tussock cannot know" in ran.out


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("limit_m = 2000", "limit_m = 200", "the text says '2 km' (2000 m), limit_m is 200"),
        ('[[versions.conditions]]\nid = "1"\nkind = "max_distance_from_capture"\nlimit_m = 2000\n', "", None),
        (
            "[[versions]]\n",
            "[[versions]]\nvalid_from = 2020-01-01\nvalid_to = 2020-12-31\n[[versions]]\n",
            "no version is",
        ),
    ],
)
def test_what_needs_a_second_look(
    run: Runner, tmp_path: Path, before: str, after: str, said: str | None
) -> None:
    path = small(tmp_path, **{before: after})
    if said is None:
        edited(path, **{'text = "Within 2 km."\n': ""})
        said = "holds no conditions"
    ran = run("permit", "check", str(path))
    assert ran.code == 1
    assert said in " ".join(ran.out.split("Needs a second look")[1].split())


def test_every_fault_of_a_bad_file_at_once(run: Runner, tmp_path: Path) -> None:
    path = small(tmp_path, **{"limit_m = 2000": "limit_km = 2", '"UTC"': '"Mars"'})
    ran = run("permit", "check", str(path))
    assert (ran.code, ran.out) == (3, "")
    assert "give it in metres, as limit_m" in ran.err and "'Mars'" in ran.err
    assert run("permit", "check", "nowhere.toml").code == 3


def test_json_is_stable_and_complete(run: Runner) -> None:
    ran = run("permit", "check", str(PERMIT), "--format", "json")
    made = json.loads(ran.out)
    assert ran.code == 1
    assert run("permit", "check", str(PERMIT), "--format", "json").out == ran.out
    assert set(made) >= {"software", "sha256", "id", "versions", "warnings", "cannot_know", "region"}
    clause = next(c for c in made["versions"][0]["conditions"] if c["id"] == "3(b)")
    assert clause["from"] == ["place of release", "layer dwellings, every class"]
    assert (clause["decided_by"], clause["mandatory"], clause["layers"]) == ("map", True, [])
    assert len(made["warnings"]) == 1


def test_with_a_region_features_are_counted(run: Runner) -> None:
    ran = run("permit", "check", str(PERMIT), "--region", str(DATA), "--format", "json")
    made = json.loads(ran.out)
    layers = {c["id"]: c["layers"] for c in made["versions"][0]["conditions"]}
    # counted with pyogrio in ground.gpkg: 3 highways and a fence among the barriers, no motorway
    assert layers["3(e)"] == [{"layer": "barriers", "in_region": True, "features": {"highway": 3}}]
    assert (
        layers["3(c)"][0]["features"]["motorway"] == 0 and layers["3(c)"][0]["features"]["residential"] == 565
    )
    assert layers["8(a)"][0]["features"]["state forest"] == 8
    assert len(made["warnings"]) == 1, "a road class without a road is said, and is no fault"
    table = run("permit", "check", str(PERMIT), "--region", str(DATA)).out
    assert "barriers: highway 3" in table and "motorway none" in table


def test_with_a_region_a_misspelt_class_and_a_lacking_layer_need_a_second_look(
    run: Runner, district: Path
) -> None:
    edited(district / "permit.toml", **{'classes = ["highway"]': 'classes = ["higway"]'})
    edited(district / "region.toml", **{"[layers.peopled_places]": "[layers.meeting_places]"})
    toml = (
        (district / "region.toml")
        .read_text("utf-8")
        .replace("[[layers.peopled_places", "[[layers.meeting_places")
    )
    (district / "region.toml").write_text(toml, "utf-8")
    ran = run("permit", "check", str(district / "permit.toml"), "--region", str(district))
    said = " ".join(ran.out.split())
    assert ran.code == 1
    assert "layer barriers has no class 'higway'; it may be misspelt: write highway, if that is meant" in said
    assert "the region has no layer peopled_places" in said


def test_with_a_region_a_layer_that_nobody_knows_is_refused(run: Runner, district: Path) -> None:
    edited(district / "permit.toml", **{'layer = "burnt"': 'layer = "burned"'})
    ran = run("permit", "check", str(district / "permit.toml"), "--region", str(district))
    assert (ran.code, ran.out) == (3, "")
    assert "'burned' is neither a standard layer nor one of the region" in ran.err


def test_terminal_codes_in_a_file_stay_words(run: Runner, tmp_path: Path) -> None:
    path = small(tmp_path, **{"Within 2 km.": "Within 2 km.\\u202fThat is\\u00ad all."})
    assert "\u202f" not in run("permit", "check", str(path)).out


def test_new_needs_a_terminal(run: Runner, tmp_path: Path) -> None:
    ran = run("permit", "new", "p.toml")
    assert ran.code == 2
    assert "copy data-demo/permit.toml" in ran.err
    assert list(tmp_path.iterdir()) == []


def test_a_fault_of_ours_loses_no_finished_clause(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(talk: object, draft: Draft) -> None:
        draft.raw.update(tomllib.loads(SMALL))
        raise RuntimeError("a fault of ours")

    monkeypatch.setattr(terminal, "interactive", lambda: True)
    monkeypatch.setattr(permit_new, "begin", breaks)
    ran = run("permit", "new", "p.toml")
    assert ran.code == 70 and "Internal error" in ran.err
    assert len(read_permit(tmp_path / "p.toml").versions[0].conditions) == 1


# ---- on a terminal

pty = pytest.importorskip("pty", reason="there are no pseudo-terminals here")
HEAD = ["T-1", "Nobody", "None (invented)", "hobart", "", "1 July 2026", "30 June 2027"]
CLAUSE = ["1", "Out on the same day.", "same calendar day", "", "", ""]


@dataclass
class Dialogue:
    """The command on a pseudo-terminal, typed at as a person does: after each prompt."""

    process: subprocess.Popen[str]
    master: int
    screen: str = ""

    def __enter__(self) -> Dialogue:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None
    ) -> None:
        self.process.kill()
        self.process.communicate()
        os.close(self.master)

    def type(self, lines: Sequence[str]) -> None:
        for line in lines:
            self.prompted()
            os.write(self.master, f"{line}\n".encode())

    def prompted(self) -> None:
        """Wait until a prompt stands there."""
        seen = self._read(lambda text: text.endswith("\n> "))
        assert seen, f"no prompt: {self.screen[-500:]}"

    def _read(self, done: object, *, seconds: float = 60.0) -> bool:
        assert callable(done)
        text, end = "", time.monotonic() + seconds
        while time.monotonic() < end:
            if not select.select([self.master], [], [], 1.0)[0]:
                continue
            try:
                part = os.read(self.master, 65536).decode("utf-8", "replace")
            except OSError:
                return False
            text += part.replace("\r\n", "\n")
            self.screen += part.replace("\r\n", "\n")
            if done(text):
                return True
        return False

    def ended(self) -> tuple[int, str]:
        """Return exit code and stdout once it has ended."""
        self._read(lambda text: False, seconds=60.0)
        out, _ = self.process.communicate(timeout=60)
        return self.process.returncode, out


def dialogue(folder: Path, *arguments: str) -> Dialogue:
    """Start ``tussock permit new`` with stdin and stderr on a pseudo-terminal, stdout in a pipe."""
    master, slave = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "PYTHONPATH": os.pathsep.join(sys.path), "COLUMNS": "80"}
    process = subprocess.Popen(
        [sys.executable, "-m", "tussock.cli", "permit", "new", *arguments],
        stdin=slave,
        stderr=slave,
        stdout=subprocess.PIPE,
        cwd=folder,
        env=environment,
        text=True,
        start_new_session=True,
    )
    os.close(slave)
    return Dialogue(process, master)


def test_the_paper_permit_typed_on_a_terminal(tmp_path: Path) -> None:
    with dialogue(tmp_path, "paper.toml") as talk:
        talk.type(keys(TYPED).split("\n")[:-1])
        code, out = talk.ended()
    assert code == 0, talk.screen[-2000:]
    assert [p.name for p in tmp_path.iterdir()] == ["paper.toml"]
    permit = read_permit(tmp_path / "paper.toml")
    assert len(permit.versions[0].conditions) == 20
    assert "Written: paper.toml (20 clauses)" in talk.screen
    assert "Permit UM 88/26 (paper.toml)" in out and "5(b)  not too near" in out, (
        "the same as permit check prints"
    )
    assert "Who holds it?" not in out


@pytest.mark.parametrize("how", ["ctrl-c", "ctrl-d", "term", "hangup"])
def test_stopped_in_a_clause_the_finished_ones_are_kept_and_can_be_gone_on_with(
    tmp_path: Path, how: str
) -> None:
    codes = {"ctrl-c": 130, "ctrl-d": 1, "term": 143, "hangup": 129}
    with dialogue(tmp_path, "p.toml") as talk:
        talk.type([*HEAD, *CLAUSE, "2", "Half a clause"])
        talk.prompted()
        match how:
            case "ctrl-d":
                os.write(talk.master, b"\x04")
            case "ctrl-c":
                os.kill(talk.process.pid, signal.SIGINT)
            case "term":
                os.kill(talk.process.pid, signal.SIGTERM)
            case _:
                os.kill(talk.process.pid, signal.SIGHUP)
        code, _ = talk.ended()
    assert code == codes[how], talk.screen[-1500:]
    assert [p.name for p in tmp_path.iterdir()] == ["p.toml"], "nothing half-written lies about"
    assert [c.id for c in read_permit(tmp_path / "p.toml").versions[0].conditions] == ["1"]
    if how != "ctrl-c":
        return
    before = (tmp_path / "p.toml").read_text("utf-8")
    edited(tmp_path / "p.toml", **{"[[versions]]": "# my own remark\n[[versions]]"})
    with dialogue(tmp_path, "p.toml") as talk:
        talk.type(["", "2", "", "attested", "Is it cool?", "site", "", "", "", "", ""])
        code, _ = talk.ended()
    assert code == 0, talk.screen[-1500:]
    now = (tmp_path / "p.toml").read_text("utf-8")
    assert now.startswith(before.split("[[versions]]")[0]) and "# my own remark" in now
    assert [c.id for c in read_permit(tmp_path / "p.toml").versions[0].conditions] == ["1", "2"]


def test_a_terminal_that_goes_away_loses_no_finished_clause(tmp_path: Path) -> None:
    with dialogue(tmp_path, "p.toml") as talk:
        talk.type([*HEAD, *CLAUSE, "2"])
        talk.prompted()
        os.close(talk.master)
        talk.process.communicate(timeout=60)
        talk.master = os.open(os.devnull, os.O_RDONLY)
    assert [c.id for c in read_permit(tmp_path / "p.toml").versions[0].conditions] == ["1"]
    assert [p.name for p in tmp_path.iterdir()] == ["p.toml"]


def test_stopped_before_there_is_a_version_nothing_is_written(tmp_path: Path) -> None:
    with dialogue(tmp_path, "p.toml") as talk:
        talk.type(HEAD[:5])
        talk.prompted()
        os.write(talk.master, b"\x04")
        code, out = talk.ended()
    assert (code, out) == (1, "")
    assert "Nothing was written" in talk.screen
    assert list(tmp_path.iterdir()) == []


def test_a_file_of_someone_else_is_left_alone_without_force(tmp_path: Path) -> None:
    path = small(tmp_path)
    with dialogue(tmp_path, "small.toml") as talk:
        code, _ = talk.ended()
    assert code == 3 and "did not write" in talk.screen and "--force" in talk.screen
    assert path.read_text("utf-8") == SMALL
    with dialogue(tmp_path, "small.toml", "--force") as talk:
        talk.type(["", *["2", *CLAUSE[1:]], "", ""])
        code, _ = talk.ended()
    assert code == 0, talk.screen[-1500:]
    assert path.read_text("utf-8").startswith(SMALL), "it is added to, not written over"
    assert len(read_permit(path).versions[0].conditions) == 2


def test_with_force_what_is_no_permit_is_replaced_at_the_end_only(tmp_path: Path) -> None:
    path = tmp_path / "p.toml"
    path.write_text("no permit", "utf-8")
    with dialogue(tmp_path, "p.toml", "--force") as talk:
        talk.type(HEAD)
        talk.prompted()
        assert path.read_text("utf-8") == "no permit"
        talk.type(CLAUSE[:0])
        os.write(talk.master, b"\n")
        talk.type([""])
        code, _ = talk.ended()
    assert code == 1, "a version without clauses needs a second look"
    assert path.read_text("utf-8").startswith(MARK)


def test_a_broken_file_of_ours_is_refused_with_its_faults(tmp_path: Path) -> None:
    path = tmp_path / "p.toml"
    path.write_text(f"{MARK}\nid = 3\n", "utf-8")
    with dialogue(tmp_path, "p.toml") as talk:
        code, _ = talk.ended()
    assert code == 3 and "id = 3" in talk.screen
    with dialogue(tmp_path, ".") as talk:
        code, _ = talk.ended()
    assert code == 3 and "folder" in talk.screen


def test_a_file_changed_meanwhile_is_left_and_what_was_typed_is_printed(tmp_path: Path) -> None:
    with dialogue(tmp_path, "p.toml") as talk:
        talk.type([*HEAD, *CLAUSE, "", ""])
        assert talk.ended()[0] == 0
    with dialogue(tmp_path, "p.toml") as talk:
        talk.type(["", "2", "", "same habitat", "", ""])
        talk.prompted()
        with (tmp_path / "p.toml").open("a", encoding="utf-8") as file:
            file.write("# changed meanwhile\n")
        os.write(talk.master, b"\n")
        talk.type([""])
        code, out = talk.ended()
    assert code == 3 and "changed while you answered" in talk.screen
    assert "same_habitat_as_capture" in out
    assert (tmp_path / "p.toml").read_text("utf-8").endswith("# changed meanwhile\n")


def test_the_dialogue_fits_eighty_columns(tmp_path: Path) -> None:
    with dialogue(tmp_path, "p.toml") as talk:
        talk.type(
            [
                *HEAD,
                "1",
                "",
                "?",
                "1",
                "?",
                "2",
                "?",
                "1",
                "",
                "100 m",
                "",
                "yes",
                "?",
                "1",
                "?",
                "N. spp.",
                "",
            ]
        )
        talk.prompted()
        os.write(talk.master, b"\x04")
        talk.ended()
    shown = [li for li in talk.screen.splitlines() if not re.match(r"> |Check your own", li)]
    assert max(map(len, shown)) <= 80
