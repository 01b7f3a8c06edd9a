"""``tussock log export --format dwca``, from the command line to what another library reads back."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.cli.running import DATA, Runner
from tests.support.extracts import referee

TERMS = "http://rs.tdwg.org/dwc/terms/"
NOW = ("--now", "2026-11-20T12:00:00+11:00")
PERMIT = ("--permit", str(DATA / "permit.toml"))
EXPORT = ("log", "export", "--format", "dwca", "--out", "captures.zip", *NOW)


@pytest.fixture
def log(run: Runner) -> None:
    for name in ("callouts", "captures"):
        assert run("log", "import", str(DATA / f"{name}.csv"), "--by", "Ines Tarrowby", *NOW).code == 0


def rows(path: Path, title: str) -> list[dict[str, str]]:
    with referee("dwca.read").DwCAReader(str(path)) as read:
        assert read.metadata.find("dataset/title").text == title
        return [dict(row.data) for row in read]


@pytest.mark.usefixtures("log")
def test_captures_as_an_archive_that_another_library_reads(run: Runner, tmp_path: Path) -> None:
    rules = tmp_path / "coarse.toml"
    rules.write_text('default = 3\nunidentified = 2\n[species]\n"Notechis scutatus" = 1\n', "utf-8")
    said = ("--sensitivity", "coarse.toml", "--licence", "CC BY 4.0", "--title", "A book", "--country", "au")
    done = run(*EXPORT, *PERMIT, *said)
    assert (done.code, "Written: captures.zip" in done.err) == (0, True)
    found = rows(tmp_path / "captures.zip", "A book")
    with (DATA / "captures.csv").open(encoding="utf-8", newline="") as file:
        given = list(csv.DictReader(file))
    assert len(found) == len(given)
    assert {r[f"{TERMS}countryCode"] for r in found} == {"AU"}
    assert {r["http://purl.org/dc/terms/license"] for r in found} == {"CC BY 4.0"}
    assert {r["http://purl.org/dc/terms/rightsHolder"] for r in found} == {"Ines Tarrowby"}
    # category 1 gives no place away, 3 gives hundredths of a degree (Chapman 2020, Table 7)
    for row in found:
        said_of_it = row[f"{TERMS}scientificName"] + row[f"{TERMS}identificationRemarks"]  # or may be one
        assert ("Notechis scutatus" in said_of_it) == (row[f"{TERMS}decimalLatitude"] == "")
    assert {len(r[f"{TERMS}decimalLatitude"].partition(".")[2]) for r in found} <= {0, 1, 2}
    whole = (tmp_path / "captures.zip").read_bytes()
    assert run(*EXPORT, *PERMIT, *said).code == 0  # our own is replaced, by the same bytes
    assert (tmp_path / "captures.zip").read_bytes() == whole


@pytest.mark.usefixtures("log")
def test_the_permit_of_the_settings_is_the_default(run: Runner, tmp_path: Path) -> None:
    (tmp_path / "tussock.toml").write_text(f'[defaults]\npermit = "{DATA / "permit.toml"}"\n', "utf-8")
    assert run(*EXPORT).code == 0
    (tmp_path / "captures.zip").write_bytes(b"PK mine")
    done = run(*EXPORT)
    assert (done.code, "--force" in done.err) == (3, True)


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (EXPORT, 2, "--permit: no permit is named"),
        ((*EXPORT, *PERMIT, "--kind", "callout"), 2, "an archive holds captures"),
        ((*EXPORT, *PERMIT, "--country", "Ruritania"), 2, "two letters"),
        ((*EXPORT, *PERMIT, "--sensitivity", "none.toml"), 3, "none.toml"),
        (("log", "export", "--format", "dwca", *PERMIT), 2, "captures.zip"),
        (("log", "export", "--kind", "capture", "--licence", "CC0"), 2, "--licence"),
        (("log", "export"), 2, "--kind"),
    ],
)
@pytest.mark.usefixtures("log")
def test_what_is_missing_is_said(
    run: Runner, tmp_path: Path, arguments: tuple[str, ...], code: int, words: str
) -> None:
    done = run(*arguments)
    assert (done.code, words in done.err, done.out) == (code, True, ""), done.err
    assert not (tmp_path / "captures.zip").exists()


def test_a_book_without_captures(run: Runner) -> None:
    cells = ("--set", "calloutID=K-1", "--set", "eventDate=2026-11-01T10:00+11:00")
    assert run("log", "add", "callout", *cells, "--by", "I", *NOW).code == 0
    done = run(*EXPORT, *PERMIT)
    assert (done.code, "no capture" in done.err) == (3, True)
