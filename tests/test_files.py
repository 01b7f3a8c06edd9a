"""Files written whole or not at all."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from tussock.errors import InputError
from tussock.files import Outbox


def _never(path: Path) -> bool:
    return False


def test_what_was_not_sent_leaves_no_trace(tmp_path: Path) -> None:
    with Outbox(_never) as outbox:
        outbox.stage(tmp_path / "a", "one")
        assert len(list(tmp_path.iterdir())) == 1
    assert list(tmp_path.iterdir()) == []


def test_sent_files_stand_in_their_places(tmp_path: Path) -> None:
    with Outbox(_never) as outbox:
        outbox.stage(tmp_path / "a", "naïve\n")
        outbox.stage(tmp_path / "sub/b", "two")
        assert outbox.send() == (tmp_path / "a", tmp_path / "sub/b")
    assert (tmp_path / "a").read_bytes() == b"na\xc3\xafve\n"
    assert [p.name for p in tmp_path.iterdir() if p.is_file()] == ["a"]


@pytest.mark.skipif(sys.platform == "win32", reason="no such bits")
def test_a_new_file_has_the_users_own_permissions(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        with Outbox(_never) as outbox:
            outbox.stage(tmp_path / "a", "")
            outbox.send()
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640


def test_every_target_in_the_way_is_named(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("mine")
    (tmp_path / "b").mkdir()
    (tmp_path / "c").write_text("read")
    targets = [tmp_path / n for n in ("a", "b", "c", "a/x", "d")]
    with pytest.raises(InputError, match="4 faults") as caught:
        Outbox(_never, inputs=[tmp_path / "c"]).check(targets)
    said = caught.value.text()
    assert "a file is in the way that Tussock did not write" in said
    assert "a folder is in the way" in said
    assert "it is one of the inputs" in said
    assert "a file is in the way of the folder" in said


def test_an_input_is_known_by_another_way_to_it(tmp_path: Path) -> None:
    (tmp_path / "c").write_text("read")
    (tmp_path / "link").symlink_to(tmp_path / "c")
    for inputs, target in (([tmp_path / "c"], tmp_path / "link"), ([tmp_path / "link"], tmp_path / "c")):
        with pytest.raises(InputError, match="it is one of the inputs"):
            Outbox(_never, force=True, inputs=inputs).check([target])


def test_ours_and_forced_ones_may_be_replaced(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("before")
    for outbox in (Outbox(lambda _: True), Outbox(_never, force=True)):
        with outbox:
            outbox.stage(tmp_path / "a", "after")
            outbox.send()
        assert (tmp_path / "a").read_text() == "after"
        (tmp_path / "a").write_text("before")


def test_a_folder_that_takes_no_files(tmp_path: Path) -> None:
    if os.geteuid() == 0 or sys.platform == "win32":
        pytest.skip("the superuser may write anywhere")
    tmp_path.chmod(0o500)
    with Outbox(_never) as outbox, pytest.raises(InputError, match="cannot be written"):
        outbox.stage(tmp_path / "a", "x")
    tmp_path.chmod(0o700)
