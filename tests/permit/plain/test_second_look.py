"""Where a limit and the clause's own text differ; and no alarm where they do not."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tussock.permit.permit_file import read_permit
from tussock.permit.plain.second_look import limits_of, questions

if TYPE_CHECKING:
    from tests.permit.conftest import Desk

ROOT = Path(__file__).resolve().parents[3]
DIFFER: list[tuple[str, dict[str, Any], str]] = [
    ("max_distance_from_capture", {"limit_m": 200, "text": "Within two kilometres."}, "two kilometres"),
    ("max_distance_from_capture", {"limit_m": 2000, "text": "Within 200 metres."}, "200 metres"),
    ("max_distance_from_capture", {"limit_m": 1000, "text": "Within one mile."}, "(1609.344 m)"),
    ("min_distance_from", {"layer": "roads", "limit_m": 100, "text": "100 yards from roads."}, "(91.44 m)"),
    ("min_patch_area", {"limit_ha": 40, "text": "At least 40 acres."}, "(16.187 ha)"),
    ("max_holding_hours", {"limit_h": 12, "text": "For not more than 24 hours."}, "24 hours"),
    ("record_within_hours", {"limit_h": 24, "text": "Within two days."}, "(48 h)"),
    ("quota", {"count": 12, "per": "year", "text": "Twenty animals a year."}, "Twenty animals"),
    (
        "max_releases_near",
        {"count": 3, "within_m": 150, "within_days": 14, "text": "3 animals, 150 metres, four weeks"},
        "within_days is 14",
    ),
]
AGREE: list[tuple[str, dict[str, Any]]] = [
    (
        "nearest_suitable",
        {"tolerance_m": 100, "text": "At the nearest suitable place within two kilometres."},
    ),
    ("max_distance_from_capture", {"limit_m": 1609, "text": "Within one mile (1.6 km)."}),
    ("min_patch_area", {"limit_ha": 16, "text": "At least 40 acres."}),
    ("max_holding_hours", {"limit_h": 24, "text": "Released within one day."}),
    ("max_holding_hours", {"limit_h": 24, "text": "Released as soon as possible."}),
    (
        "min_distance_from",
        {"layer": "roads", "limit_m": 50, "text": "50 m from roads, in less than 3 hours."},
    ),
    (
        "max_releases_near",
        {"count": 3, "within_m": 150, "within_days": 28, "text": "150 m, four weeks, 3 snakes"},
    ),
    ("checked_every_hours", {"limit_h": 2, "text": "Every two to three hours between 0600 and 1800 hours."}),
    ("attested", {"question": "Is there a log?", "ask_at": "site", "text": "A log within five metres."}),
]


@pytest.mark.parametrize(("kind", "fields", "said"), DIFFER)
def test_a_limit_unlike_the_text_is_asked_about(
    desk: Desk, kind: str, fields: dict[str, Any], said: str
) -> None:
    (words,) = questions(desk.clause(kind, **fields))
    assert said in words
    assert "compare with the paper" in words


@pytest.mark.parametrize(("kind", "fields"), AGREE)
def test_no_alarm_where_they_agree_or_nothing_is_said(desk: Desk, kind: str, fields: dict[str, Any]) -> None:
    assert questions(desk.clause(kind, **fields)) == ()


@pytest.mark.parametrize("file", ["data-demo/permit.toml", "tests/permit/every_kind.toml"])
def test_no_alarm_on_good_permits(file: str) -> None:
    versions = read_permit(ROOT / file).versions
    assert sum(len(v.conditions) for v in versions) > 20
    assert [q for v in versions for c in v.conditions for q in questions(c, beside=v.conditions)] == []


def test_a_second_limit_in_the_text_that_the_clause_could_hold(desk: Desk) -> None:
    text = "Hold it for 24 hours, or 12 hours when caught after dark."
    (words,) = questions(desk.clause("max_holding_hours", limit_h=24, text=text))
    assert "'12 hours', then_within_h is not given" in words
    both = {"captured_after": "20:00", "then_within_h": 12}
    assert questions(desk.clause("max_holding_hours", limit_h=24, text=text, **both)) == ()


def test_one_paper_clause_as_several_of_the_file(desk: Desk) -> None:
    text = "Release within 24 hours; look at it every two hours."
    held = {"id": "1(i)", "kind": "max_holding_hours", "limit_h": 24, "text": text}
    looked = {"id": "1(ii)", "kind": "checked_every_hours", "limit_h": 2, "text": text}
    alone = desk.permit(held).versions[0].conditions
    assert "2 hours" not in text and "'two hours'" in questions(alone[0])[0]
    together = desk.permit(held, looked).versions[0].conditions
    assert [questions(c, beside=together) for c in together] == [(), ()]


def test_limits_are_found_by_the_unit_of_their_key(desk: Desk) -> None:
    clause = desk.clause("max_releases_near", count=3, within_m=150, within_days=28)
    assert {k: v for k, (v, _) in limits_of(clause).items()} == {
        "count": 3,
        "within_m": 150,
        "within_days": 28,
    }
