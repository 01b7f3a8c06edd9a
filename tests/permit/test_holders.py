"""The table of holders: whom to call about which ground."""

from __future__ import annotations

from pathlib import Path

import pytest

from tussock.errors import InputError
from tussock.permit.holders import read_holders


def _file(folder: Path, text: str) -> Path:
    path = folder / "holders.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_holders_by_parcel_and_by_feature(tmp_path: Path) -> None:
    holders = read_holders(
        _file(
            tmp_path,
            "parcelID,layer,featureID,holder,contact,note\n"
            "P-1|P-2,,,Orla Finchmere,00 0000 0001,beware of the dog\n"
            "P-2,,,Bram Castlow,,\n"
            ",protected,PR-1,,00 0000 0003,\n",
        )
    )
    assert [str(h) for h in holders.of("P-1")] == ["Orla Finchmere, 00 0000 0001"]
    assert [str(h) for h in holders.of("P-2")] == ["Orla Finchmere, 00 0000 0001", "Bram Castlow"]
    assert holders.of("PR-1") == holders.of("P-3") == ()
    assert [str(h) for h in holders.by_ground["protected", "PR-1"]] == ["00 0000 0003"]
    assert "dog" not in repr(holders)


def test_every_fault_at_once_and_no_person_in_it(tmp_path: Path) -> None:
    path = _file(
        tmp_path,
        "parcelID,layer,featureID,holder,contact\n"
        ",,,Orla Finchmere,00 0000 0001\n"
        "P-1,protected,PR-1,Orla Finchmere,00 0000 0001\n"
        "P-2,,,,\n"
        "P-3,,,Orla Finchmere,00 0000 0001\n"
        "P-3,,,Orla Finchmere,00 0000 0001\n",
    )
    with pytest.raises(InputError) as caught:
        read_holders(path)
    text = str(caught.value)
    for words in (
        "it gives no ground",
        "it gives parcelID and layer and featureID",
        "it names nobody",
        "twice",
    ):
        assert words in text, words
    for row in (2, 3, 4, 6):
        assert f"row {row}" in text
    assert "Finchmere" not in text and "0001" not in text


@pytest.mark.parametrize("head", ["parcelID,holder", "holder,contact", "layer,holder,contact", "a,b"])
def test_missing_columns(tmp_path: Path, head: str) -> None:
    with pytest.raises(InputError, match="missing column"):
        read_holders(_file(tmp_path, f"{head}\n"))
