"""Markup, formulas and paths in every name that a user's files can hold: inert in every file written."""

from __future__ import annotations

import csv
import io
import json
import random
import shutil
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from tests.badinput import district
from tests.badinput.district import CAPTURE, NOW, RELEASE, read_raw, replaced, toml_text, write_raw
from tests.badinput.spoil import spoilt
from tussock.cli import main
from tussock.ground.region import forget
from tussock.maps.plan_files import plan_files
from tussock.maps.plan_table import plans_csv
from tussock.planning.inputs import read_captures
from tussock.planning.opened import Files, open_files
from tussock.planning.plan import plan

EVIL = (
    "=1+1</script><script>alert(1)</script><img src=x onerror=alert(2)>'\"`--></style></details>"
    "{{7*7}}${7*7}&amp;"
)
LAYER = "<b onclick=alert(3)>"
SPOILT, KINDS = 30, 3


class Shape(HTMLParser):
    """What a page is made of: tags with the names of their attributes, counted; and its addresses."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: Counter[tuple[str, tuple[str, ...]]] = Counter()
        self.addresses: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag, tuple(sorted(name for name, _ in attrs))] += 1
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href", "action")]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    yield district.build(tmp_path_factory.mktemp("whole") / "district", whole=True)
    forget()


def _evil_values(value: Any) -> Any:
    """Return a table with every text that is only shown, and none that is looked up, made hostile."""
    shown = ("name", "note", "complete", "licence", "attribution", "holder", "authority", "text", "question")
    if isinstance(value, list):
        return [_evil_values(v) for v in value]
    if not isinstance(value, Mapping):
        return value
    out = {k: EVIL if k in shown and isinstance(v, str) else _evil_values(v) for k, v in value.items()}
    if "kind" in out and "id" in out:  # a clause: its number as printed, still one of its kind
        out["id"] = f"{out['id']}{EVIL}"
    return out


def _evil_features(path: Path) -> None:
    layer = read_raw(path)
    texts = ("name", "id", "parcelID", "tenure")
    values = tuple(
        np.array([f"{v}{EVIL}" for v in column], dtype=object) if name in texts else column
        for name, column in zip(layer.fields, layer.values, strict=True)
    )
    write_raw(replaced(path), district.Layer(layer.wkb, layer.fields, values, layer.crs), layer=path.stem)


def _evil_capture(path: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    (row,) = (r for r in rows if r["captureID"] == CAPTURE)
    row |= {"captureID": EVIL, "vernacularName": EVIL, "occurrenceRemarks": EVIL, "recordedBy": EVIL}
    out = io.StringIO()
    writer = csv.DictWriter(out, list(row))
    writer.writeheader()
    writer.writerow(row)
    replaced(path).write_text(out.getvalue(), encoding="utf-8")


def _made(folder: Path, capture: str) -> tuple[dict[str, str], str, int]:
    files = Files(
        folder,
        (folder / "permit.toml",),
        consents=folder / "consents.csv",
        releases=folder / "releases.csv",
    )
    opened = open_files(files)
    (row,) = (r for r in read_captures(folder / "captures.csv", book=opened.book) if r.id == capture)
    assert row.capture is not None
    made = plan(row.capture, opened.setting(now=NOW, release_at=RELEASE, top=3, captures={capture}))
    # hostile tenures are none that the clause names, so that only the harmless page has places to list
    made = replace(made, needs_consent=())
    return plan_files(made, opened.region), plans_csv([made]), len(made.sites)


def test_hostile_words_in_every_file_stay_words(whole: Path, tmp_path: Path) -> None:
    """The page has the same tags with the same attributes as with harmless words, and asks nothing more."""
    folder = district.linked(whole, tmp_path / "evil")
    for name in ("region.toml", "permit.toml"):
        table = _evil_values(tomllib.loads((folder / name).read_text(encoding="utf-8")))
        if name == "region.toml":
            table["layers"][LAYER] = table["layers"]["burnt"]
        replaced(folder / name).write_text(toml_text(table), encoding="utf-8")
    for path in sorted(folder.glob("*.gpkg")):
        _evil_features(path)
    _evil_capture(folder / "captures.csv")
    plain, _, count = _made(whole, CAPTURE)
    evil, table_text, evil_count = _made(folder, EVIL)
    assert (count, evil_count) == (3, 3)
    before, after = Shape(plain[".html"]), Shape(evil[".html"])
    assert set(after.tags) == set(before.tags)
    for kind in ("script", "style", "img", "iframe", "a", "form"):
        assert sum(n for (t, _), n in after.tags.items() if t == kind) == sum(
            n for (t, _), n in before.tags.items() if t == kind
        ), kind
    assert not any(a.startswith("on") for _, names in after.tags for a in names)
    assert Counter(a.split(":")[0] for a in after.addresses) == Counter(
        a.split(":")[0] for a in before.addresses
    )
    assert evil[".html"].count("&lt;script&gt;alert(1)") > 10  # the words are there, as words
    assert "<script>alert" not in evil[".html"] and LAYER not in evil[".html"]
    assert ElementTree.fromstring(evil[".gpx"]).tag.endswith("gpx")
    assert json.loads(evil[".json"]) and json.loads(evil[".geojson"])["type"] == "FeatureCollection"
    cells = [cell for row in csv.reader(io.StringIO(table_text)) for cell in row]
    assert any(EVIL in cell for cell in cells)
    assert not [cell for cell in cells if cell.startswith(("=", "+", "@"))]


@pytest.mark.parametrize("block", range(KINDS))
def test_damaged_districts_on_the_command_line_leave_nothing_half_written(
    whole: Path,
    tmp_path: Path,
    block: int,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Exit 0, 1, 3 or 4; what was refused leaves an empty folder, what was planned all four files."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "warnoptions", ["error"])
    codes = Counter[int]()
    for n in range(block * SPOILT // KINDS, (block + 1) * SPOILT // KINDS):
        folder, out = tmp_path / "case", tmp_path / "out"
        for path in (folder, out):
            shutil.rmtree(path, ignore_errors=True)
        did = spoilt(district.linked(whole, folder), random.Random(f"line {n}"))
        out.mkdir()
        code = main(_typed(folder, out / "plan"))
        said = capsys.readouterr()
        codes[code] += 1
        left = {p.suffix for p in out.iterdir()}
        whole_plan = {".html", ".geojson", ".gpx", ".json"}
        assert code in (0, 1, 3, 4), (n, did, code, said.err)
        assert "Traceback" not in said.err
        assert left == (whole_plan if code in (0, 1, 4) else set()), (n, did, code, left)
        assert code not in (1, 3, 4) or said.err.strip(), (n, did)
    assert codes[3]
    assert main(_typed(whole, tmp_path / "sound")) == 0, "the sound district gets its plan"


def _typed(folder: Path, out: Path) -> list[str]:
    answers = {
        "--region": folder, "--permit": folder / "permit.toml", "--consents": folder / "consents.csv",
        "--releases": folder / "releases.csv", "--at": "-42.102584,147.570472", "--uncertainty": "10",
        "--time": "2026-11-14T10:42:00+11:00", "--now": NOW.isoformat(), "--release-at": RELEASE.isoformat(),
        "--species": "tiger snake", "--identification": "certain", "--origin": "wild_local",
        "--condition": "fit", "--life-stage": "adult", "--gravid": "no", "--count": "1",
        "--found-in": "yard", "--capture-id": CAPTURE, "--out": out,
    }  # fmt: skip
    return ["plan", *(str(word) for pair in answers.items() for word in pair)]
