"""Permit files written read back equal, whatever kinds they hold; what stood there before stays."""

from __future__ import annotations

import copy
import tomllib
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.names import DANGERS, DISPOSALS, FEATURE_LAYERS, HABITAT_CLASSES, ORIGINS, ROAD_CLASSES
from tussock.permit.explain import fields_by_key
from tussock.permit.kinds import KINDS
from tussock.permit.permit_file import permit_of, read_permit
from tussock.permit.writing import MARK, permit_text

ROOT = Path(__file__).resolve().parents[2]
# no surrogates and no control characters: the reader refuses them; everything else may stand in a permit
WORDS = st.text(
    st.characters(
        exclude_categories=("Cs", "Cc"),
        exclude_characters="\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069",
    ),
    min_size=1,
    max_size=30,
).filter(lambda t: bool(t.strip()))
LINES = st.lists(WORDS, min_size=1, max_size=4, unique_by=str.strip)
AMOUNTS = st.one_of(st.integers(1, 8000), st.floats(0.001, 8000, allow_nan=False))
CLOCKS = st.times().map(lambda t: f"{t:%H:%M}")
SPECIES = st.lists(
    st.sampled_from(["Notechis scutatus", "Pseudonaja spp.", "Vipera berus"]),
    min_size=1,
    max_size=3,
    unique=True,
)


def some(words: tuple[str, ...]) -> st.SearchStrategy[list[str]]:
    return st.lists(st.sampled_from(words), min_size=1, max_size=4, unique=True)


BY_KEY: dict[str, st.SearchStrategy[Any]] = {
    "layer": st.sampled_from([n for n in FEATURE_LAYERS if n not in ("roads", "railways", "habitat")]),
    "classes": some(HABITAT_CLASSES),
    "of": st.sampled_from(["site", "capture", "both"]),
    "unless_captured_within": st.booleans(),
    "species": SPECIES,
    "origin": some(tuple(o for o in ORIGINS if o != "unknown")),
    "allowed": some(("fit", "injured")),
    "count": st.integers(1, 500),
    "from": st.sampled_from(["capture", "trap_check"]),
    "captured_after": CLOCKS,
    "window": st.one_of(
        st.sampled_from(["daylight", "active_period"]),
        st.tuples(CLOCKS, CLOCKS).filter(lambda w: w[0] != w[1]).map(lambda w: {"from": w[0], "to": w[1]}),
    ),
    "min_c": st.integers(-10, 10),
    "max_c": st.floats(11, 40),
    "persons": LINES,
    "per": st.sampled_from(["day", "week", "month", "year", "version"]),
    "disposals": some(DISPOSALS),
    "fields": LINES,
    "written": st.booleans(),
    "tenures": LINES,
    "question": WORDS,
    "ask_at": st.sampled_from(["capture", "plan", "site", "release", "return"]),
    "photo": st.booleans(),
    "period_end": st.just("06-30"),
    "due": st.just("07-31"),
    "nil_return": st.booleans(),
    "assigned_by": st.sampled_from(["disposal", "capture"]),
    "recipients": LINES,
    "nil_species": st.booleans(),
    "text": WORDS,
    "mandatory": st.booleans(),
    "applies_to": st.fixed_dictionaries(
        {"danger": some(DANGERS)}, optional={"species": SPECIES, "months": st.just([1, 2])}
    ),
}
BY_KIND: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "min_distance_from": {"layer": st.just("roads"), "classes": some(ROAD_CLASSES)},
    "min_patch_area": {"of": st.just("habitat")},
    "not_within": {"of": st.just("site")},
    "max_releases_near": {"species": st.sampled_from(["same", "any"])},
}
TOGETHER = {"captured_after": "then_within_h", "then_within_h": "captured_after"}


@st.composite
def clauses(draw: st.DrawFn, kind: str) -> dict[str, Any]:
    """Draw the table of a clause of a kind; fields that may be left out now and then are."""
    clause: dict[str, Any] = {"kind": kind}
    late = draw(st.booleans())
    for key, info in fields_by_key(KINDS[kind]).items():
        if key in ("id", "kind"):
            continue
        needed = info.is_required() or key in ("species", "min_c")
        if late if key in TOGETHER else (needed or draw(st.booleans())):
            clause[key] = draw(BY_KIND.get(kind, {}).get(key, BY_KEY.get(key, AMOUNTS)))
    return clause


@st.composite
def permits(draw: st.DrawFn) -> dict[str, Any]:
    """Draw the tables of a permit of one to three versions."""
    versions = []
    start = draw(st.dates(date(2000, 1, 1), date(2030, 1, 1)))
    for _ in range(draw(st.integers(1, 3))):
        kinds = draw(st.lists(st.sampled_from(sorted(KINDS)), max_size=4))
        end = start + timedelta(days=draw(st.integers(0, 800)))
        conditions = [{"id": f"{n}(a)", **draw(clauses(kind))} for n, kind in enumerate(kinds)]
        versions.append({"valid_from": start, "valid_to": end, "conditions": conditions})
        start = end + timedelta(days=draw(st.integers(1, 50)))
    head = {"id": draw(WORDS), "holder": draw(WORDS), "authority": draw(WORDS), "timezone": "Europe/Berlin"}
    return {**head, "authorised_persons": draw(LINES), "versions": versions}


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.data())
def test_a_clause_of_every_kind_reads_back_equal(kind: str, data: st.DataObject) -> None:
    clause = {"id": "1", **data.draw(clauses(kind))}
    raw = {
        "id": "x",
        "holder": "x",
        "authority": "x",
        "timezone": "UTC",
        "authorised_persons": ["x"],
        "versions": [{"valid_from": date(2026, 1, 1), "conditions": [clause]}],
    }
    assert permit_of(tomllib.loads(permit_text(raw)), file="f") == permit_of(raw, file="f")


@settings(max_examples=150, deadline=None, derandomize=True)
@given(permits())
def test_a_permit_reads_back_equal_and_the_same_again(raw: dict[str, Any]) -> None:
    untouched = copy.deepcopy(raw)
    text = permit_text(raw)
    assert permit_of(tomllib.loads(text), file="f") == permit_of(raw, file="f")
    assert permit_text(raw) == text and permit_text(raw, before=text) == text
    assert raw == untouched


@settings(max_examples=150, deadline=None, derandomize=True)
@given(permits(), permits(), st.integers(0, 2**32))
def test_an_amended_file_says_what_is_wanted_and_keeps_its_comments(
    before: dict[str, Any], after: dict[str, Any], seed: int
) -> None:
    text = permit_text(before).replace("[[versions]]", "# the user's own remark\n[[versions]]")
    wanted = {**before, "versions": [*before["versions"], *after["versions"]]}
    wanted = copy.deepcopy(wanted)
    conditions = wanted["versions"][seed % len(wanted["versions"])]["conditions"]
    conditions.append({"id": "new", "kind": "same_calendar_day"})
    conditions[0] = {"id": conditions[0]["id"], "kind": "same_habitat_as_capture", "text": "Changed."}
    made = permit_text(wanted, before=text)
    assert [v.get("conditions", []) for v in tomllib.loads(made)["versions"]] == [
        v["conditions"] for v in wanted["versions"]
    ]
    assert made.count("# the user's own remark") == len(before["versions"])


DEMO = ROOT / "data-demo" / "permit.toml"


def test_only_what_changed_changes_in_a_file_typed_by_hand() -> None:
    text = DEMO.read_text("utf-8")
    raw = tomllib.loads(text)
    assert permit_text(raw, before=text) == text
    raw["versions"][0]["conditions"][6]["limit_m"] = 3500
    raw["versions"][0]["conditions"].append({"id": "9(d)", "kind": "same_calendar_day"})
    del raw["versions"][1]["conditions"][25]
    made = permit_text(raw, before=text)
    was, now = text.splitlines(), made.splitlines()
    assert [li for li in was if li not in now] == ["limit_m = 3000"]
    assert [li for li in now if li not in was] == [
        "limit_m = 3500",
        'id = "9(d)"',
        'kind = "same_calendar_day"',
    ]
    assert "# Between 1 July and 4 August 2026 no version was in force: the renewal came late." in now


def test_versions_in_one_line_are_written_anew() -> None:
    before = (
        'id = "a"\nholder = "a"\nauthority = "a"\ntimezone = "UTC"\n'
        'versions = [{ valid_from = 2026-01-01, conditions = [{ id = "1", kind = "same_calendar_day" }] }]\n'
    )
    raw = tomllib.loads(before)
    raw["versions"][0]["conditions"].append({"id": "2", "kind": "same_calendar_day"})
    made = permit_text(raw, before=before)
    assert tomllib.loads(made) == raw
    assert made.startswith(MARK)


def test_a_file_is_pleasant_to_read(tmp_path: Path) -> None:
    raw = tomllib.loads((Path(__file__).with_name("every_kind.toml")).read_text("utf-8"))
    text = permit_text(raw)
    assert "valid_from = 2025-07-01\n" in text, "dates are dates"
    assert 'window = {from = "20:00", to = "05:30"}\n' in text, "small tables stand in one line"
    assert "\n\n[[versions.conditions]]\n" in text and "\n\n\n" not in text
    path = tmp_path / "every_kind.toml"
    path.write_text(text, "utf-8")
    assert read_permit(path) == read_permit(Path(__file__).with_name("every_kind.toml"))
