"""Photos by reference: attached, looked after, and shared without the place."""

from __future__ import annotations

import hashlib
import json
import warnings
from pathlib import Path

import cv2
import numpy as np
import pytest
import rasterio

from tests.cli.running import Ran, Runner
from tests.cli.test_log import BY, CAPTURE, add, cells
from tests.support.pictures import DEVICE, with_place

HALF = np.full((40, 80, 3), 30, np.uint8)
HALF[:, 40:] = 220
"""Dark on the left, bright on the right."""


def picture(path: Path, *, orientation: int = 6) -> Path:
    _, made = cv2.imencode(".jpg", HALF)
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(with_place(made.tobytes(), orientation=orientation))
    return path


def noted(path: Path) -> dict[str, str]:
    """Return what GDAL finds noted in a picture."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a photo is no map, which rasterio warns of
        with rasterio.open(path) as found:
            spaces = [
                ns for ns in found.tag_namespaces() if ns not in ("IMAGE_STRUCTURE", "DERIVED_SUBDATASETS")
            ]
            tags = {f"{ns}:{k}": str(v) for ns in spaces for k, v in found.tags(ns=ns).items()}
            return {k: str(v) for k, v in found.tags().items()} | tags


def attach(run: Runner, file: str, name: str = "C-1", kind: str = "capture") -> Ran:
    return run("log", "photo", kind, name, file, *BY)


def test_attached_shown_and_looked_after(run: Runner, tmp_path: Path) -> None:
    add(run)
    file = picture(tmp_path / "photos" / "spot.jpg")
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    done = attach(run, "photos/spot.jpg")
    assert (done.code, digest in done.err, done.out) == (0, True, "")
    assert attach(run, "photos/spot.jpg").code == 0
    shown = run("log", "show", "capture", "C-1").out
    line = f"photo photos/spot.jpg, attached 2026-11-30T22:00:00+00:00 by Ines Tarrowby, SHA-256 {digest}"
    assert shown.count(line) == 1
    good = run("log", "photos")
    assert (good.code, "capture C-1: spot.jpg, there" in good.out) == (0, True)
    whole = file.read_bytes()
    file.write_bytes(whole + b"x")
    changed = run("log", "photos")
    assert (changed.code, "spot.jpg, changed" in changed.out) == (1, True)
    file.unlink()
    missing = run("log", "photos")
    assert (missing.code, "spot.jpg, missing (photos/spot.jpg)" in missing.out) == (1, True)
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "spot.jpg").write_bytes(whole)
    assert run("log", "photos", "--in", "kept").code == 0


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("capture", "C-9", "a.jpg"), 3, "no such entry"),
        (("capture", "C-1", "none.jpg"), 3, "cannot be read"),
        (("capture", "C-1", "folder"), 3, "cannot be read"),
        (("snake", "C-1", "a.jpg"), 2, "no kind of entry"),
    ],
)
def test_what_cannot_be_attached(
    run: Runner, tmp_path: Path, arguments: tuple[str, ...], code: int, words: str
) -> None:
    add(run)
    picture(tmp_path / "a.jpg")
    (tmp_path / "folder").mkdir()
    done = run("log", "photo", *arguments, *BY)
    assert (done.code, words in done.err) == (code, True), done.err
    assert run("log", "photos").out == "No photo.\n"


def test_no_place_leaves_with_a_photo(run: Runner, tmp_path: Path) -> None:
    add(run)
    file = picture(tmp_path / "photos" / "12 Nowhere Lane.jpg")
    before = noted(file)
    assert before["EXIF_GPSLatitude"].replace(" ", "") == "(42)(6)(9)"  # the referee sees what is there
    assert before["EXIF_Make"] == DEVICE.decode().rstrip("\0")
    assert "GPSLatitude" in before["xml:XMP:xml:XMP"]
    attach(run, str(file))
    done = run("log", "export", "--kind", "capture", "--out", "captures.csv", "--photos", "shared")
    assert (done.code, "1 photo as pixels alone" in done.err) == (0, True), done.err
    (copy,) = (tmp_path / "shared").iterdir()
    assert copy.name == "capture-C-1-1.jpg"
    assert noted(copy) == {}
    content = copy.read_bytes()
    for hidden in (b"Exif", b"GPS", b"INVENTED", b"http", b"trailer"):
        assert hidden not in content
    assert "Nowhere" not in (tmp_path / "captures.csv").read_text("utf-8")
    seen = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    # orientation 6: the row 0 of what is stored is the right-hand side (Exif 2.3 § 4.6.4, table 4 A)
    assert seen is not None and seen.shape == (80, 40, 3)
    assert seen[:30].mean() < 60 and seen[-30:].mean() > 190
    again = run("log", "export", "--kind", "capture", "--photos", "shared")
    assert (again.code, copy.read_bytes() == content) == (0, True)
    copy.write_bytes(b"mine")
    refused = run("log", "export", "--kind", "capture", "--photos", "shared")
    assert (refused.code, "--force" in refused.err, refused.out) == (3, True, "")


def test_a_photo_that_is_not_as_it_was_is_not_shared(run: Runner, tmp_path: Path) -> None:
    add(run)
    for name in ("a.jpg", "b.jpg", "c.jpg"):
        attach(run, str(picture(tmp_path / name)))
    (tmp_path / "d.heic").write_bytes(b"no picture that can be read")
    attach(run, "d.heic")
    (tmp_path / "a.jpg").write_bytes(b"other")
    (tmp_path / "b.jpg").unlink()
    done = run("log", "export", "--kind", "capture", "--photos", "shared")
    assert (done.code, done.out) == (3, "")
    for words in ("a.jpg: the photo is changed", "b.jpg: the photo is missing", "d.heic: it cannot be read"):
        assert words in done.err
    assert not (tmp_path / "shared").exists()


def test_an_archive_takes_no_photos(run: Runner) -> None:
    add(run)
    done = run("log", "export", "--format", "dwca", "--out", "a.zip", "--photos", "shared")
    assert (done.code, "without photos" in done.err) == (2, True)


def test_the_file_of_a_check_and_its_photo_are_attached(run: Runner, tmp_path: Path) -> None:
    add(run)
    photo = picture(tmp_path / "photos" / "spot.jpg")
    record: dict[str, object] = {
        "format": "tussock check 1",
        "capture": {"id": "C-1", "time": CAPTURE["eventDate"]},
        "site": {"number": 2},
        "now": "2026-11-21T17:30:00+11:00",
        "fix": None,
        "verdict": "met",
        "rejected": False,
        "plan": {"file": "today.json", "sha256": "da62"},
        "answers": [],
        "conditions": [],
        "temperature_c": None,
        "photo": {"path": "photos/spot.jpg", "sha256": hashlib.sha256(photo.read_bytes()).hexdigest()},
        "why": "",
    }
    file = tmp_path / "today-check-1.json"
    file.write_text(json.dumps(record), "utf-8")
    assert run("log", "take", file.name, *BY).code == 0
    there = run("log", "photos")
    assert (there.code, len(there.out.splitlines())) == (0, 2)
    assert "today-check-1.json, there" in there.out and "spot.jpg, there" in there.out
    shown = run("log", "show", "check", "C-1/2026-11-21T17:30:00+11:00/2").out
    assert "file today-check-1.json, attached" in shown and "photo photos/spot.jpg, attached" in shown
    done = run("log", "export", "--kind", "check", "--photos", "shared")
    assert (
        "1 photo as pixels alone, without place or time; 1 attached file is no picture and stays" in done.err
    )
    assert len(list((tmp_path / "shared").iterdir())) == 1
    file.write_text(file.read_text("utf-8") + " ", "utf-8")
    assert run("log", "photos").code == 1  # the file of a check was edited, and that is seen
    photo.unlink()
    file.write_text(json.dumps({**record, "site": {"number": 3}}), "utf-8")
    (tmp_path / "second.json").write_text(file.read_text("utf-8"), "utf-8")
    said = run("log", "take", "second.json", *BY)
    assert (said.code, "photo was not found" in said.err) == (0, True)


def test_other_exports_name_no_folder(run: Runner) -> None:
    add(run)
    changes = cells({"associatedMedia": "/home/me/12 Lane/spot.jpg"})
    assert run("log", "amend", "capture", "C-1", *changes, "--why", "found", *BY).code == 0
    assert "/home" not in run("log", "export", "--kind", "capture").out
