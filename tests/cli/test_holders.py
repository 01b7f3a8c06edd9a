"""``--holders``: whom to call is said on the terminal and stands in no file and on no stdout."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import Runner

HOLDERS = "parcelID,holder,contact\nP-00213,Orla Finchmere,00 0000 0001\nP-00184,Bram Castlow,00 0000 0002\n"
SECRETS = ("Finchmere", "Castlow", "0000 0001", "0000 0002")


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "holders.csv"
    path.write_text(HOLDERS, encoding="utf-8")
    return path


def test_whom_to_call_is_said_on_stderr_only(run: Runner, table: Path, tmp_path: Path) -> None:
    # P-00213 and P-00184 lie in the demonstration's circle and have no consent (data-demo)
    ran = run.plan({"--holders": str(table)}, "--out", str(tmp_path / "a"))
    assert ran.code == 0, ran.err
    assert "Whom to call about P-00213: Orla Finchmere, 00 0000 0001" in ran.err
    assert "Whom to call about P-00186: not in the table of holders" in ran.err
    assert "Needs consent first" in ran.out and "P-00213 (private farm)" in ran.out
    written = {p.name: p.read_text("utf-8") for p in tmp_path.glob("a.*")}
    assert set(written) == {"a.html", "a.geojson", "a.gpx", "a.json"}
    for name, text in {**written, "stdout": ran.out}.items():
        assert not [s for s in SECRETS if s in text], name
    assert "P-00213" in written["a.html"] and "P-00213" not in written["a.geojson"] + written["a.gpx"]
    assert "holders.csv" not in written["a.json"]


@pytest.mark.parametrize("output", ["json", "csv"])
def test_data_on_stdout_names_nobody(run: Runner, table: Path, output: str) -> None:
    ran = run.plan({"--holders": str(table), "--format": output})
    assert "Finchmere" in ran.err
    assert not [s for s in SECRETS if s in ran.out]


def test_share_names_neither_parcel_nor_person(run: Runner, table: Path, tmp_path: Path) -> None:
    ran = run.plan({"--holders": str(table)}, "--share", "--out", str(tmp_path / "a"))
    texts = [p.read_text("utf-8") for p in tmp_path.glob("a.*")]
    for text in (*texts, ran.out, ran.err):
        assert not [s for s in (*SECRETS, "P-00213", "P-00184", "CN-0") if s in text]
    assert any("Needs consent first" in t for t in texts)


def test_it_may_stand_in_the_settings(run: Runner, table: Path, tmp_path: Path) -> None:
    (tmp_path / "tussock.toml").write_text('[defaults]\nholders = "holders.csv"\n', "utf-8")
    assert "Orla Finchmere" in run.plan().err


def test_faults_are_told_with_those_of_the_other_files(run: Runner, tmp_path: Path) -> None:
    for name in ("holders.csv", "consents.csv"):
        (tmp_path / name).write_text("a,b\n1,2\n", "utf-8")
    ran = run.plan({"--holders": str(tmp_path / "holders.csv"), "--consents": str(tmp_path / "consents.csv")})
    assert (ran.code, ran.out) == (3, "")
    assert "holders.csv" in ran.err and "consents.csv" in ran.err
