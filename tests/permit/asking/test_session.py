"""The dialogue's turns: back, none, help, an earlier file, versions, contradictions, the end of answers."""

from __future__ import annotations

import copy
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.permit.asking.scripted import Scripted, answers, plain
from tussock.permit.asking.draft import Draft
from tussock.permit.asking.head import near_zones
from tussock.permit.asking.session import begin, resume
from tussock.permit.asking.talk import EndedError

HEAD = ["T-1", "Nobody", "None (invented)", "Australia/Hobart", "", "2026-07-01", "2027-06-30"]
DAY = ["same calendar day", "", "yes", "no"]
RAW: dict[str, Any] = {
    "id": "T-1",
    "holder": "Nobody",
    "authority": "None",
    "timezone": "Australia/Hobart",
    "versions": [
        {
            "valid_from": date(2025, 7, 1),
            "conditions": [
                {"id": "1", "kind": "max_distance_from_capture", "limit_m": 2000, "text": "Within 2 km."},
                {"id": "2", "kind": "same_calendar_day"},
            ],
        }
    ],
}


def new(*lines: str) -> tuple[Scripted, Draft]:
    """Return a dialogue that began with a plain head and then got those answers, and its draft."""
    talk, draft = plain([*HEAD, *lines]), Draft()
    begin(talk, draft)
    assert talk.answers == []
    return talk, draft


def resumed(*pairs: tuple[str, str], raw: dict[str, Any] | None = None) -> tuple[Scripted, Draft]:
    """Return a dialogue over an earlier file, and its draft."""
    talk, draft = answers(*pairs), Draft(copy.deepcopy(raw or RAW))
    resume(talk, draft)
    assert talk.answers == []
    return talk, draft


def ids(draft: Draft) -> list[str]:
    return [c["id"] for c in draft.clauses]


def test_back_in_the_head_asks_the_question_before_with_its_answer() -> None:
    lines = ["T-1", "Nobdy", "back", "Nobody", "None", "Australia/Hobart", "A; B", "2026-07-01", "", "", ""]
    talk, draft = plain(lines), Draft()
    begin(talk, draft)
    assert draft.raw["holder"] == "Nobody"
    assert "Who holds it? [Nobdy]" in talk.screen
    assert list(draft.raw) == ["id", "holder", "authority", "timezone", "authorised_persons", "versions"]


def test_back_at_the_dates_asks_the_head_again() -> None:
    lines = [*HEAD[:5], "back", "T-2", "", "", "", "", *HEAD[5:], "", ""]
    talk, draft = plain(lines), Draft()
    begin(talk, draft)
    assert draft.raw["id"] == "T-2" and len(draft.versions) == 1


def test_back_at_a_number_takes_back_the_last_clause_and_offers_it_again() -> None:
    clause = ["1", "Same day.", *DAY]
    again = ["back", "", "", "", "", "", ""]
    talk, draft = new(*clause, *again, "", "")
    assert "Taken back: clause 1" in talk.screen
    assert draft.clauses == [{"id": "1", "kind": "same_calendar_day", "text": "Same day."}]


def test_back_twice_leaves_the_last_clause_out() -> None:
    talk, draft = new("1", "", *DAY, "2", "", *DAY, "back", "back", "", "")
    assert ids(draft) == ["1"]
    assert "Clause 2 is dropped" in talk.screen


def test_back_with_nothing_to_take_back_says_so() -> None:
    talk, draft = new("back", "", "")
    assert draft.versions[0].get("conditions", []) == []
    assert "Nothing of this run to take back" in talk.screen


def test_back_inside_a_clause_keeps_what_was_typed() -> None:
    script = [
        "1(a)",
        "Within 2 km.",
        "max distance from capture",
        "back",
        "",
        "",
        "",
        "2 km",
        "",
        "no",
        "",
        "",
    ]
    talk, draft = new(*script)
    assert draft.clauses[0]["limit_m"] == 2000
    assert "Number of the clause, as printed ('none': no more clauses) [1(a)]" in talk.screen
    assert "pasted on one line [Within 2 km.]" in talk.screen
    assert "[not too far from where it was caught]" in talk.screen


def test_back_among_the_kinds_of_a_topic_asks_for_the_topic_again() -> None:
    _, draft = new("1", "", "1", "back", "3", "2", "", "", "", "", "")
    assert draft.clauses[0]["kind"] == "same_calendar_day"


def test_help_explains_every_question_and_asks_it_again() -> None:
    talk, draft = new("?", "1", "?", "", "?", "same calendar day", "?", "", "?", "", "?", "", "", "")
    assert ids(draft) == ["1"]
    assert "Look at a held animal every three hours." in talk.screen, "the kinds are listed with examples"
    assert talk.screen.count("An empty line takes what stands in [brackets]") == 6


def test_contradicting_fields_are_asked_again_together() -> None:
    script = ["1", "", "weather", "30", "12", "12", "30", "", "", "", ""]
    talk, draft = new(*script)
    assert "min_c = 30 is not below max_c = 12" in talk.screen
    assert draft.clauses[0] == {"id": "1", "kind": "weather_within", "min_c": 12, "max_c": 30}


def test_a_field_that_may_be_left_out_is_taken_out_with_none() -> None:
    script = ["1", "", "temperature", "12", "30", "", "", "back", "", "", "", "", "none", "", "", "", ""]
    _, draft = new(*script)
    assert draft.clauses[0] == {"id": "1", "kind": "weather_within", "min_c": 12}


def test_a_rule_for_late_captures_is_asked_for_whole() -> None:
    _, draft = new("1", "", "same calendar day", "11.30 pm", "2 h", "", "", "", "")
    assert draft.clauses[0]["captured_after"] == "23:30" and draft.clauses[0]["then_within_h"] == 2


def test_what_the_reader_of_files_refuses_is_asked_again() -> None:
    script = ["1", "", "max distance from capture", "0", "30,000 km", "5 km", "", "", "", ""]
    talk, draft = new(*script)
    assert talk.screen.count("metres, a number above 0 and at most 20004000") == 2
    assert draft.clauses[0]["limit_m"] == 5000


def test_control_characters_and_long_texts_are_refused_at_once() -> None:
    talk, draft = new("1\x1b[A", "1", "x" * 4001, "\udcff", "Fine.", *DAY, "", "")
    assert "control character U+001B" in talk.screen
    assert "4001 characters, more than 4000" in talk.screen
    assert "control character U+DCFF" in talk.screen
    assert draft.clauses[0]["text"] == "Fine."


def test_a_layer_of_ones_own_is_taken_and_a_raster_is_not() -> None:
    talk, draft = new(
        "1", "", "min distance from", "elevation", "old mines", "shafts", "50 m", "", "", "", ""
    )
    assert "'elevation' is a raster" in talk.screen
    assert draft.clauses[0]["layer"] == "old mines" and draft.clauses[0]["classes"] == ["shafts"]


def test_limits_to_animals_are_gathered_until_an_empty_line() -> None:
    limits = [
        "yes",
        "danger",
        "dangerously_venomus",
        "3",
        "8",
        "November to Febuary",
        "Nov-Feb",
        "1",
        "Notechis spp.",
        "",
    ]
    talk, draft = new("1", "", "same calendar day", "", "", *limits, "", "")
    assert draft.clauses[0]["applies_to"] == {
        "danger": ["dangerously_venomous"],
        "months": [11, 12, 1, 2],
        "species": ["Notechis spp."],
    }
    assert "'Febuary' is no month" in talk.screen
    assert "  = November, December, January, February" in talk.screen
    assert "So far: danger, months" in talk.screen


def test_the_same_number_again_is_not_a_second_clause() -> None:
    once = ["1", "", *DAY]
    _, changed = new(*once, "1", "type it again", "Same day.", "", "", "no", "", "", "")
    assert changed.clauses == [
        {"id": "1", "kind": "same_calendar_day", "mandatory": False, "text": "Same day."}
    ]
    _, removed = new(*once, "1", "2", "", "")
    assert removed.clauses == []
    _, back = new(*once, "1", "2", "back", "", "")
    assert ids(back) == ["1"]
    _, left = new(*once, "1", "3", "", "")
    assert ids(left) == ["1"]


def test_two_versions_of_which_the_second_takes_over_the_clauses() -> None:
    script = [
        "1",
        "",
        *DAY,
        "",
        "yes",
        "2026-12-01",
        "2027-06-30",
        "1 July 2027",
        "",
        "",
        "2",
        "",
        *DAY,
        "",
        "",
    ]
    talk, draft = new(*script)
    assert "overlaps" in talk.screen
    assert [[c["id"] for c in v["conditions"]] for v in draft.versions] == [["1"], ["1", "2"]]
    assert "Taken over: 1" in talk.screen


def test_a_renewal_ends_the_version_with_the_open_end() -> None:
    talk, draft = resumed(
        ("What do you want", "a new version"),
        ("What do you want", "another"),
        ("In force from", "5 August 2026"),
        ("To which day", "2027-06-30"),
        ("has an open end", ""),
        ("Begin with the 2 clauses", ""),
        ("next clause", "1"),
        ("is there already", ""),
        ("authority's text", "Within 1 km."),
        ("What is it about", ""),
        ("At most how far", "1 km"),
        ("Must it be kept", ""),
        ("only for certain", ""),
        ("next clause", "2"),
        ("is there already", "remove"),
        ("next clause", ""),
        ("another version", ""),
    )
    assert draft.versions[0]["valid_to"] == date(2026, 8, 4)
    assert list(draft.versions[0]) == ["valid_from", "valid_to", "conditions"]
    assert draft.versions[0]["conditions"] == RAW["versions"][0]["conditions"], "the earlier clauses stay"
    assert draft.clauses == [
        {"id": "1", "kind": "max_distance_from_capture", "limit_m": 1000, "text": "Within 1 km."}
    ]
    assert "Note:" not in talk.screen


def test_a_gap_before_a_renewal_is_said() -> None:
    raw = copy.deepcopy(RAW)
    raw["versions"][0]["valid_to"] = date(2026, 6, 30)
    talk, draft = resumed(
        ("What do you want", "2"),
        ("In force from", "5 August 2026"),
        ("To which day", ""),
        ("Begin with", "no"),
        ("next clause", ""),
        ("another version", ""),
        raw=raw,
    )
    assert "no version is in force from 2026-07-01 to 2026-08-04" in talk.screen
    assert draft.clauses == []


def test_an_earlier_file_may_stay_as_it_is() -> None:
    _, draft = resumed(("What do you want", "end"))
    assert draft.raw == RAW
    talk, _ = resumed(("What do you want", "back"), ("What do you want", "3"))
    assert "Nothing of this run" in talk.screen


def test_clauses_of_an_earlier_run_are_not_taken_back_by_a_slip() -> None:
    talk, draft = resumed(
        ("What do you want", ""), ("next clause", "back"), ("next clause", ""), ("another version", "")
    )
    assert draft.raw == RAW
    assert "Nothing of this run to take back" in talk.screen


@pytest.mark.parametrize("kept", range(30))
def test_at_any_end_of_the_answers_the_draft_holds_whole_clauses_only(kept: int) -> None:
    script = [*HEAD, "1", "Same day.", *DAY, "2", "", "max distance from capture", "2 km", "", "", "", ""]
    whole, part = len(HEAD), script[:kept]
    talk, draft = plain(part), Draft()
    if kept >= len(script):
        begin(plain(script), draft)
    else:
        with pytest.raises(EndedError):
            begin(talk, draft)
    assert draft.savable == (kept >= whole)
    if draft.savable:
        first, second = whole + 6, whole + 12
        assert len(draft.permit().versions[0].conditions) == (kept >= first) + (kept >= second)


def test_nobody_named_and_nobody_authorised_is_asked_again() -> None:
    raw = copy.deepcopy(RAW)
    talk, draft = resumed(
        ("What do you want", ""),
        ("next clause", "3"),
        ("authority's text", ""),
        ("What is it about", "persons"),
        ("Who?", ""),
        ("Must it be kept", ""),
        ("only for certain", ""),
        ("Number of the clause", ""),
        ("authority's text", ""),
        ("What is it about", ""),
        ("Who?", "A. Body"),
        ("Must it be kept", ""),
        ("only for certain", ""),
        ("next clause", ""),
        ("another version", ""),
        raw=raw,
    )
    assert "handled_by names nobody" in talk.screen
    assert draft.clauses[-1]["persons"] == ["A. Body"]


def test_time_zones_are_proposed_and_never_guessed() -> None:
    assert near_zones("hobart") == ["Australia/Hobart"]
    assert near_zones("Australia/Melborne") == ["Australia/Melbourne"]
    assert "America/Indiana/Knox" in near_zones("indiana")
    assert near_zones("zz") == []
    for wrong in ("Melborne", "indiana", "zz", "Mars/Olympus"):
        talk, draft = plain([*HEAD[:3], wrong, *HEAD[3:], "", ""]), Draft()
        begin(talk, draft)
        assert "is not one time zone" in talk.screen


def test_dates_that_can_be_read_two_ways_are_refused() -> None:
    talk, draft = plain([*HEAD[:5], "1/7/2026", "31 June 2026", "1 July 2026", "2027-06-30", "", ""]), Draft()
    begin(talk, draft)
    assert talk.screen.count("is no date") == 2
    assert draft.versions[0]["valid_from"] == date(2026, 7, 1)


def test_the_demo_permit_can_be_gone_on_with() -> None:
    demo = Path(__file__).resolve().parents[3] / "data-demo" / "permit.toml"
    raw = tomllib.loads(demo.read_text("utf-8"))
    script = ["", "9(d)", "", "attested", "Was the office told?", "return", "", "", "", "", ""]
    talk, draft = plain(script), Draft(copy.deepcopy(raw))
    resume(talk, draft)
    assert draft.raw["versions"][1]["conditions"][:-1] == raw["versions"][1]["conditions"]
    assert draft.clauses[-1]["question"] == "Was the office told?"
