"""The ways on when no site may be shown: each with whom to call, on the terminal and in every file."""

from __future__ import annotations

import json
from html import unescape
from pathlib import Path

import pytest

from tests.cli.running import Runner
from tussock.species.intake import WAY_CODES

CONTACTS = {code: f"Call the {code} desk, 555 01{n:02}" for n, code in enumerate(WAY_CODES)}
WAYS: dict[str, tuple[dict[str, str | None], str]] = {
    "record": ({"--condition": "dead"}, "It is dead"),
    "carer": ({"--condition": "injured"}, "vet or a licensed carer"),
    "authority": ({"--origin": "possible_escapee"}, "It may have escaped"),
    "identify": ({"--identification": "unknown"}, "The species is not known"),
}
OTHER_WAYS: list[tuple[dict[str, str | None], str]] = [
    ({"--condition": "sick"}, "carer"),
    ({"--origin": "exotic"}, "authority"),
    ({"--origin": "brought_in"}, "authority"),
    ({"--origin": "unknown"}, "authority"),
    ({"--life-stage": "egg"}, "authority"),
    ({"--species": "Ficticia exempli", "--identification": "probable"}, "identify"),
]


@pytest.fixture
def contacts(tmp_path: Path) -> None:
    """Put a tussock.toml with all contacts into the working folder."""
    lines = [f'{code} = "{words}"' for code, words in CONTACTS.items()]
    (tmp_path / "tussock.toml").write_text("[contacts]\n" + "\n".join(lines) + "\n", "utf-8")


def test_every_way_on_is_here() -> None:
    assert set(WAYS) == set(WAY_CODES)


@pytest.mark.usefixtures("contacts")
@pytest.mark.parametrize("code", WAYS)
def test_each_way_on_says_whom_to_call(code: str, run: Runner, tmp_path: Path) -> None:
    changed, words = WAYS[code]
    ran = run.plan(changed, "--out", "found")
    assert ran.code == 1
    [way] = [line for line in ran.out.splitlines() if line.startswith("The way on: ")]
    assert words in way
    assert CONTACTS[code] in way
    page = unescape((tmp_path / "found.html").read_text("utf-8"))
    record = json.loads((tmp_path / "found.json").read_text("utf-8"))
    assert f"{words}" in page and CONTACTS[code] in page
    assert [CONTACTS[code] in way for way in record["way_on"]] == [True]
    for other in set(CONTACTS) - {code}:
        assert CONTACTS[other] not in ran.out + page


@pytest.mark.usefixtures("contacts")
@pytest.mark.parametrize(("changed", "code"), OTHER_WAYS)
def test_every_answer_that_ends_so_says_whom_to_call(
    changed: dict[str, str | None], code: str, run: Runner
) -> None:
    ran = run.plan(changed)
    assert ran.code == 1
    assert CONTACTS[code] in ran.out


@pytest.mark.usefixtures("contacts")
def test_the_most_pressing_way_comes_first_each_with_its_contact(run: Runner) -> None:
    ran = run.plan({"--condition": "injured", "--origin": "exotic", "--identification": "unknown"})
    ways = [line for line in ran.out.splitlines() if line.startswith("The way on: ")]
    assert [CONTACTS[c] in w for c, w in zip(("carer", "authority", "identify"), ways, strict=True)] == [
        True,
        True,
        True,
    ]


def test_without_contacts_the_way_on_stands_alone(run: Runner) -> None:
    ran = run.plan({"--condition": "injured"})
    assert ran.out.rstrip().endswith("it goes to a vet or a licensed carer, no site is shown.")
