"""The audit's map: every release once, shape and word, nothing asked of any host."""

from __future__ import annotations

import json
import re

import pytest

from tests.maps.test_audit_report import Reader
from tests.support.audits import EVIL, made_audit
from tussock.maps.audit_map import audit_map


@pytest.fixture(scope="module")
def html() -> str:
    return audit_map(*made_audit())


def drawn(html: str, kind: str) -> list[dict[str, object]]:
    return [json.loads(found) for found in re.findall(rf'tussock\.draw\("{kind}",(.*)\);', html)]


def test_every_release_is_a_shape_with_its_word(html: str) -> None:
    records = drawn(html, "record")
    assert [(r["words"], r["sign"]) for r in records] == [
        ("C-2 not met", "not-met"),
        ("C-5 not met", "not-met"),
        ("C-6 not met", "not-met"),
        ("C-4 missing", "missing"),
        ("C-3 uncertain", "uncertain"),
        ("", "met"),
    ]
    assert len({r["shape"] for r in records}) == 4
    assert str(records[0]["label"]).startswith("C-2, not met, 2026-01-30, ")


def test_a_line_leads_from_each_capture_to_its_release(html: str) -> None:
    (ways,) = drawn(html, "line")
    assert ways["lines"]["n"] == [2] * 6  # type: ignore[index]  # what is drawn is told as objects
    (captures,) = drawn(html, "captures")
    assert len(captures["at"]) == 6  # type: ignore[arg-type]  # the same


def test_what_is_not_on_the_map_stands_in_the_list(html: str) -> None:
    page = Reader(html)
    assert [i for i in page.ids if re.fullmatch(r"m\d", i)] == [f"m{k}" for k in range(1, 9)]
    assert "6 releases on the map. 2 other records in the list only." in page.text
    assert html.count('data-show="') == 6
    assert len(page.ids) == len(set(page.ids))
    assert "arithmetic on a map, not a legal finding" in page.text


def test_the_key_counts_each_verdict(html: str) -> None:
    key = re.sub(r"<[^>]+>", "", html[html.index('class="key"') : html.index('class="credits"')])
    assert re.findall(r"(met|uncertain|not met|missing) (\d)", key) == [
        ("met", "1"),
        ("uncertain", "1"),
        ("not met", "3"),
        ("missing", "1"),
    ]


def test_a_script_in_any_text_stays_text(html: str) -> None:
    evil = audit_map(*made_audit(evil=True))
    page = Reader(evil)
    assert page.tags.count("script") == Reader(html).tags.count("script")
    assert "img" not in page.tags
    assert not page.handlers
    assert EVIL in page.text
    assert "<script>alert" not in evil


def test_same_audit_same_bytes(html: str) -> None:
    assert audit_map(*made_audit()) == html
