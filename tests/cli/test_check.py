"""``tussock check``: as a script and on a terminal, on a plan of the invented district."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import DATA, GROUND, Runner, edited, typed
from tests.cli.test_terminal import on_terminal
from tussock.cli import main
from tussock.ground import reading, region
from tussock.review.spot_questions import LOOK

NOW = "2026-11-14T12:30:00+11:00"
KEYS = [q.key for q in LOOK] + ["8(b)"]
YES = [word for key in KEYS for word in ("--answer", f"{key}=yes")]
BOOK: dict[str, str | None] = {"--releases": str(DATA / "releases.csv")}
FILES = [word for pair in GROUND.items() for word in pair] + ["--releases", str(DATA / "releases.csv")]
RADIUS = ["--uncertainty", "8"]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a plan of the base case, planned once."""
    folder = tmp_path_factory.mktemp("plan")
    assert main(["plan", *typed(BOOK), "--out", str(folder / "today")]) == 0
    return folder / "today.json"


@pytest.fixture
def plan(made: Path, tmp_path: Path) -> Path:
    """Give a copy of the plan in the working folder."""
    return Path(shutil.copy(made, tmp_path / "today.json"))


def site(plan: Path, number: int = 1) -> str:
    """Return the place of a site as typed."""
    found = json.loads(plan.read_text("utf-8"))["sites"][number - 1]
    return f"{found['latitude']:.7f},{found['longitude']:.7f}"


def command(
    plan: Path, number: int = 1, *, at: str = "", now: str = NOW, ground: list[str] = FILES
) -> list[str]:
    """Return a check as typed, without answers."""
    where = ["--site", str(number), "--at", at or site(plan, number), *RADIUS, "--now", now]
    return ["check", "--plan", plan.name, *where, *ground]


def without(key: str) -> list[str]:
    return [word for k in KEYS if k != key for word in ("--answer", f"{k}=yes")]


def kept(plan: Path, name: str) -> Any:
    return json.loads(plan.with_name(name).read_text("utf-8"))


def test_a_good_spot_is_said_in_the_first_line_and_kept(run: Runner, plan: Path) -> None:
    seen = run(*command(plan), *YES)
    assert seen.code == 0, seen.err
    first = seen.out.splitlines()[0]
    found = kept(plan, "today-check-1.json")
    met, attested, to_see_to, open_ones = (
        found["counts"][n] for n in ("met", "attested", "to_see_to", "not_checked")
    )
    assert first == (
        f"Release here: {met} met by calculation, {attested} attested by you, {to_see_to} to see to, "
        f"{open_ones} not checked."
    )
    planned = json.loads(plan.read_text("utf-8"))["sites"][0]["clauses"]
    calculated = {c["id"] for c in planned if c["verdict"] == "met" and c["source"] != "house rule"}
    assert (met, attested) == (len(calculated), 1)
    assert {c["id"] for c in found["conditions"] if c["verdict"] == "met"} >= calculated
    assert "inside the planned 30 m" in seen.out
    assert "Time left: 7 h" in seen.out and "clause 7(b)" in seen.out
    assert "clause 9(a): Enter each release in the record within 48 hours." in seen.out
    assert "Written: today-check-1.json" in seen.err
    assert "not permission" in seen.err
    assert "complies" not in seen.out + seen.err


def test_open_questions_in_a_script_are_a_usage_error_that_lists_the_keys(run: Runner, plan: Path) -> None:
    seen = run(*command(plan), "--answer", "map=yes")
    assert seen.code == 2
    assert seen.out == ""
    assert "not answered: refuge, ground, quiet, property, animal, way_back, 8(b)." in seen.err
    assert [p.name for p in plan.parent.iterdir()] == ["today.json"]
    assert run(*command(plan), *without("animal")).code == 2


def test_the_keys_stand_in_the_help(run: Runner) -> None:
    seen = run("check", "--help")
    assert seen.code == 0
    assert all(f"{q.key}:" in seen.out for q in LOOK)


def test_a_no_rejects_keeps_why_and_names_the_next_until_none_is_left(run: Runner, plan: Path) -> None:
    count = len(json.loads(plan.read_text("utf-8"))["sites"])
    assert count >= 3
    for number in range(1, count + 1):
        seen = run(*command(plan, number), "--answer", "quiet=no", "--why", "two dogs loose")
        assert seen.code == 1
        assert seen.out.startswith("Not here: you answered no to quiet.")
        assert "two dogs loose" in seen.out
        found = kept(plan, f"today-check-{number}.json")
        assert found["rejected"] is True and found["why"] == "two dogs loose"
        if number < count:
            assert found["next_site"]["number"] == number + 1
            assert f"Next: site {number + 1}: " in seen.out and "planned between 2026-11-14 12:15" in seen.out
    assert found["next_site"] is None
    assert "No site left" in seen.out and "Call the authority" in seen.out
    again = run(*command(plan, 2), *YES)
    assert "Site 2 was rejected by an earlier check" in again.err


def test_nothing_is_written_over(run: Runner, plan: Path) -> None:
    for _ in range(3):
        assert run(*command(plan), *YES).code == 0
    names = sorted(p.name for p in plan.parent.iterdir())
    assert names == ["today-check-1-2.json", "today-check-1-3.json", "today-check-1.json", "today.json"]
    assert len({p.read_bytes() for p in plan.parent.glob("today-check*")}) == 1, "the same bytes each time"
    seen = run(*command(plan), *YES, "--out", "today-check-1.json")
    assert seen.code == 3 and "there is a file of that name" in seen.err
    assert run(*command(plan), *YES, "--out", "today-check-1.json", "--force").code == 0
    assert run(*command(plan), *YES, "--out", "today.json", "--force").code == 3, "an input"


def test_an_animal_that_is_not_alert_goes_to_the_carer_of_tussock_toml(run: Runner, plan: Path) -> None:
    (plan.parent / "tussock.toml").write_text(
        '[contacts]\ncarer = "The vet in the demo, 555 0100"\n', "utf-8"
    )
    seen = run(*command(plan), "--answer", "animal=no")
    assert seen.code == 1
    assert seen.out.startswith("Do not release it")
    assert "The vet in the demo, 555 0100" in seen.out
    assert "Next: site" not in seen.out
    assert kept(plan, "today-check-1.json")["next_site"] is None


def test_after_sunset_the_clause_is_named_without_asking_anything(run: Runner, plan: Path) -> None:
    seen = run(*command(plan, now="2026-11-14T21:00:00+11:00"))
    assert seen.code == 1
    assert seen.out.startswith("Not here: clause 7(b) is not met.")
    assert "Time left" not in seen.out
    assert kept(plan, "today-check-1.json")["rejected"] is False


def test_a_consent_that_lapsed_since_is_not_met_and_the_change_is_loud(
    run: Runner, plan: Path, district: Path
) -> None:
    spot = json.loads(plan.read_text("utf-8"))["sites"][0]
    ground = ["--region", str(district), "--permit", str(district / "permit.toml"),
              "--releases", str(district / "releases.csv"),
              "--consents", str(district / "consents.csv")]  # fmt: skip
    same = run(*command(plan, ground=ground), *YES)
    assert same.code == 0 and "CHANGED" not in same.err
    text = (district / "consents.csv").read_text("utf-8")
    (district / "consents.csv").write_text(text.replace("2027-06-30", "2026-11-13"), "utf-8")
    seen = run(*command(plan, ground=ground), *YES)
    assert spot["verdict"] == "met"
    assert "CHANGED: consents/consents.csv differs from when the plan was made" in seen.err
    assert seen.code == 1 and seen.out.startswith("Not here: clause 8(a) is not met.")
    found = kept(plan, "today-check-1-2.json")
    assert found["changed_since_the_plan"] == ["consents/consents.csv differs from when the plan was made"]
    left_out = run(*command(plan, ground=ground[:6]), *YES)
    assert "consents/consents.csv was read by the plan and is not given now" in left_out.err


def test_a_permit_of_another_id_is_refused(run: Runner, plan: Path, district: Path) -> None:
    edited(district / "permit.toml", **{'id = "PDW-0417"': 'id = "PDW-9999"'})
    ground = ["--region", str(district), "--permit", str(district / "permit.toml")]
    seen = run(*command(plan, ground=ground), *YES)
    assert (seen.code, seen.out) == (3, "")
    assert "the plan was made under PDW-0417, given is PDW-9999" in seen.err


BAD: list[tuple[dict[str, str], int, str]] = [
    ({"--uncertainty": "0"}, 2, "metres above 0"),
    ({"--uncertainty": "nan"}, 2, "metres above 0"),
    ({"--site": "9"}, 2, "has no site 9"),
    ({"--site": "0"}, 2, "has no site 0"),
    ({"--at": "147.5654830,-42.1062520"}, 3, "swapped"),
    ({"--at": "53.5,13.3"}, 3, "outside the region"),
    ({"--at": "0,0"}, 3, "0, 0"),
    ({"--now": "2026-11-14T10:41:59+11:00"}, 2, "before the capture"),
    ({"--now": "2026-11-14T12:30"}, 3, "no zone"),
    ({"--photo": "none.jpg"}, 3, "no such file"),
    ({"--temperature": "400"}, 2, "air temperature"),
    ({"--answer": "roof=yes"}, 2, "no such question"),
    ({"--answer": "map=maybe"}, 2, "yes, no, unclear"),
    ({"--answer": "map"}, 2, "no such question"),
    ({"--plan": "none.json"}, 3, "cannot be read"),
]


@pytest.mark.parametrize(("changed", "code", "said"), BAD, ids=[" ".join(*c.items()) for c, _, _ in BAD])
def test_bad_input_is_said(changed: dict[str, str], code: int, said: str, run: Runner, plan: Path) -> None:
    seen = run(*command(plan), *YES, *(word for pair in changed.items() for word in pair))
    assert (seen.code, seen.out) == (code, ""), seen.err
    assert said in seen.err
    assert "Traceback" not in seen.err
    assert [p.name for p in plan.parent.iterdir()] == ["today.json"]


def test_all_that_is_missing_is_said_at_once(run: Runner) -> None:
    seen = run("check")
    assert seen.code == 2
    for option in ("--plan", "--site", "--at", "--uncertainty", "--region", "--permit"):
        assert f"{option}: " in seen.err


def test_an_answer_given_twice_and_differently_is_refused(run: Runner, plan: Path) -> None:
    seen = run(*command(plan), *YES, "--answer", "map=no")
    assert seen.code == 2 and "answered twice" in seen.err


def test_shared_and_stopped_plans_are_refused(run: Runner, tmp_path: Path) -> None:
    shared, stopped = ["--out", "shared", "--share", "--top", "1"], ["--out", "stopped", "--top", "1"]
    assert run.plan(None, *shared).code == 0
    assert run.plan({"--condition": "sick"}, *stopped).code == 1
    at = ["--site", "1", "--at", "-42.1,147.6", *RADIUS, *FILES, "--now", NOW]
    first = run("check", "--plan", "shared.json", *at)
    second = run("check", "--plan", "stopped.json", *at)
    assert (first.code, second.code) == (3, 3)
    assert "--share" in first.err
    assert "offers no site" in second.err and "vet or a licensed carer" in second.err


def test_a_fix_far_from_the_site_is_allowed_and_said(run: Runner, plan: Path) -> None:
    seen = run(*command(plan, at=site(plan, 5)), *YES)
    assert "outside the planned 30 m; judged where you stand." in seen.out
    lat, lon = (float(v) for v in site(plan).split(","))
    far = run(*command(plan, at=f"{lat + 0.02:.7f},{lon:.7f}"), *YES)
    assert "Is this the right site?" in far.out
    assert far.code == 1 and "The planned place itself: " in far.out


def test_a_clock_before_the_plan_is_said(run: Runner, plan: Path) -> None:
    seen = run(*command(plan, now="2026-11-14T10:45:00+11:00"), *YES)
    assert "before the plan was made" in seen.err


def test_a_photo_is_kept_by_its_path_and_hash(run: Runner, plan: Path) -> None:
    (plan.parent / "spot.jpg").write_bytes(b"a picture")
    assert run(*command(plan), *YES, "--photo", "spot.jpg").code == 0
    digest = hashlib.sha256(b"a picture").hexdigest()
    assert kept(plan, "today-check-1.json")["photo"] == {"path": "spot.jpg", "sha256": digest}


def test_json_is_the_file(run: Runner, plan: Path) -> None:
    seen = run(*command(plan), *YES, "--format", "json")
    assert seen.out == plan.with_name("today-check-1.json").read_text("utf-8")
    assert seen.code == 0


def test_files_come_from_tussock_toml(run: Runner, plan: Path) -> None:
    lines = [f'{name.removeprefix("--")} = "{path}"' for name, path in (GROUND | BOOK).items()]
    (plan.parent / "tussock.toml").write_text("\n".join(["[defaults]", *lines]) + "\n", "utf-8")
    assert run(*command(plan, ground=[]), *YES).code == 0


def test_cannot_tell_is_uncertain_and_the_person_decides(run: Runner, plan: Path) -> None:
    seen = run(*command(plan), *without("ground"), "--answer", "ground=unclear")
    assert seen.code == 1
    assert seen.out.startswith("Not certain, you decide: you cannot tell ground.")
    assert kept(plan, "today-check-1.json")["verdict"] == "uncertain"


def asked(plan: Path, keys: str, *more: str) -> Any:
    return on_terminal([*command(plan), *more], keys, folder=plan.parent)


def test_on_a_terminal_every_question_is_asked_one_by_one(plan: Path) -> None:
    seen = asked(plan, "y\n" * 8)
    assert seen.code == 0, seen.screen
    for question in LOOK:
        assert question.text in seen.screen.replace("\r\n", "\n")
    assert "8/8 clause 8(b): " in seen.screen
    assert seen.out.startswith("Release here: ")
    answers = {a["key"]: a["answer"] for a in kept(plan, "today-check-1.json")["answers"]}
    assert answers == dict.fromkeys(KEYS, "yes")


def test_on_a_terminal_a_no_ends_the_questions_and_asks_why(plan: Path) -> None:
    seen = asked(plan, "y\nmaybe\nu\nno\nsurveyors at work\n")
    assert seen.code == 1
    assert "Answer y, n or u." in seen.screen and "In a word, why?" in seen.screen
    assert "4/8" not in seen.screen
    found = kept(plan, "today-check-1.json")
    assert found["why"] == "surveyors at work"
    given = {a["key"]: a["answer"] for a in found["answers"]}
    assert [given[k] for k in KEYS[:4]] == ["yes", "unclear", "no", None]


def test_on_a_terminal_only_what_is_open_is_asked(plan: Path) -> None:
    seen = asked(plan, "y\n", *without("animal"))
    assert seen.code == 0
    assert "1/1 Is the animal alert" in seen.screen


def test_on_a_terminal_answers_that_end_are_a_usage_error_and_nothing_is_written(plan: Path) -> None:
    seen = asked(plan, "y\n\x04")
    assert seen.code == 2 and "the answers ended" in seen.screen
    assert [p.name for p in plan.parent.iterdir()] == ["today.json"]


def test_a_check_loads_no_table_library_and_none_that_draws(plan: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    ran = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "tussock.cli", *command(plan), *YES],
        cwd=plan.parent, env=environment, text=True, capture_output=True, check=False, timeout=120,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr[-2000:]
    names = {line.rpartition("|")[2].strip() for line in ran.stderr.splitlines() if "import time:" in line}
    assert "pyogrio.raw" in names, "the trace was read"
    heavy = {"pandas", "geopandas", "folium", "rasterio", "cv2", "scipy"}
    assert {n.partition(".")[0] for n in names} & heavy == set()


ONLY_HOMES = """
id = "PDW-1"
holder = "invented"
authority = "invented"
timezone = "Australia/Hobart"
[[versions]]
valid_from = 2020-01-01
[[versions.conditions]]
id = "1"
kind = "max_distance_from_capture"
limit_m = 600
[[versions.conditions]]
id = "2"
kind = "min_distance_from"
layer = "dwellings"
limit_m = 200
"""


def test_only_the_layers_that_clauses_need_are_read(
    run: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "own.toml").write_text(ONLY_HOMES, "utf-8")
    (tmp_path / "tussock.toml").write_text("[house_rules]\nconditions = []\n", "utf-8")
    own: dict[str, str | None] = {"--permit": "own.toml", "--consents": None}
    assert run.plan(own, "--top", "1", "--out", "today").code == 0
    read = []

    def noted(folder: Path, name: str, *rest: Any, **more: Any) -> Any:
        read.append(name)
        return reading.read_layer(folder, name, *rest, **more)

    monkeypatch.setattr("tussock.ground.region.read_layer", noted)
    region.forget()
    ground = ["--region", str(DATA), "--permit", "own.toml"]
    seen = run(*command(tmp_path / "today.json", ground=ground), *YES[:-2])
    assert seen.code == 0, seen.err
    assert read == ["dwellings"]
