"""Permit files: versions and their boundary days, gaps and overlaps, faults of every sort."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tussock.errors import InputError
from tussock.permit.permit_file import read_permit
from tussock.permit.place_kinds import MaxDistanceFromCapture
from tussock.permit.toml_file import MOST_BYTES

if TYPE_CHECKING:
    from tests.permit.conftest import Desk

TWO_LIMITS = """
[[versions]]
valid_from = 2026-08-05
valid_to = ""
[[versions.conditions]]
id = "3(a)"
kind = "max_distance_from_capture"
limit_m = 1000
[[versions]]
valid_from = 2025-07-01
valid_to = 2026-06-30
[[versions.conditions]]
id = "3(a)"
kind = "max_distance_from_capture"
limit_m = 2000
"""


def test_the_head(desk: Desk) -> None:
    permit = read_permit(desk.write(desk.head + TWO_LIMITS, "mine.toml"))
    assert (permit.id, permit.holder, permit.authority) == ("T-1", "Nobody", "None")
    assert (permit.timezone, permit.zone.key) == ("Australia/Hobart", "Australia/Hobart")
    assert (permit.authorised_persons, permit.file) == (("N. O. Body",), "mine.toml")


def _limit_on(desk: Desk, day: date) -> float | None:
    version = read_permit(desk.write(desk.head + TWO_LIMITS)).version_on(day)
    if version is None:
        return None
    clause = version.conditions[0]
    assert isinstance(clause, MaxDistanceFromCapture)
    return clause.limit_m


@pytest.mark.parametrize(
    ("day", "limit"),
    [
        (date(2025, 6, 30), None),  # the day before the first
        (date(2025, 7, 1), 2000),  # its first day
        (date(2026, 6, 30), 2000),  # its last day still counts
        (date(2026, 7, 1), None),  # the lapse
        (date(2026, 8, 4), None),
        (date(2026, 8, 5), 1000),  # the second, whatever the order in the file
        (date(9999, 12, 31), 1000),  # open end
        (date(1, 1, 1), None),
    ],
)
def test_the_version_on_a_day(desk: Desk, day: date, limit: float | None) -> None:
    assert _limit_on(desk, day) == limit


def test_a_gap_is_a_warning_with_its_days(desk: Desk) -> None:
    permit = read_permit(desk.write(desk.head + TWO_LIMITS))
    assert [v.name for v in permit.versions] == ["2025-07-01", "2026-08-05"]
    assert len(permit.warnings) == 1
    assert "no version is in force from 2026-07-01 to 2026-08-04" in permit.warnings[0]


def test_versions_that_meet_leave_no_gap(desk: Desk) -> None:
    permit = desk.versions(
        "valid_from = 2025-07-01\nvalid_to = 2026-06-30", "valid_from = 2026-07-01\nvalid_to = 2026-07-01"
    )
    assert all("no conditions" in w for w in permit.warnings) and len(permit.warnings) == 2
    assert [v.name for d in (date(2026, 6, 30), date(2026, 7, 1)) if (v := permit.version_on(d))] == [
        "2025-07-01",
        "2026-07-01",
    ]
    assert permit.version_on(date(2026, 7, 2)) is None


def test_a_gap_of_one_day(desk: Desk) -> None:
    permit = desk.versions("valid_from = 2025-07-01\nvalid_to = 2026-06-29", "valid_from = 2026-07-01")
    assert any("from 2026-06-30 to 2026-06-30" in w for w in permit.warnings)
    assert permit.version_on(date(2026, 6, 30)) is None


@pytest.mark.parametrize(
    "dates",
    [
        ("valid_from = 2025-07-01\nvalid_to = 2026-07-01", "valid_from = 2026-07-01"),
        ("valid_from = 2025-07-01", "valid_from = 2026-07-01"),
        ("valid_from = 2026-07-01", "valid_from = 2025-07-01\nvalid_to = ''"),
        ("valid_from = 2026-07-01", "valid_from = 2026-07-01"),
    ],
)
def test_overlapping_versions(desk: Desk, dates: tuple[str, str]) -> None:
    with pytest.raises(InputError, match=r"overlaps version 2026-07-01.*one version in force on any day"):
        desk.versions(*dates)


def test_a_long_version_overlaps_one_that_is_not_its_neighbour(desk: Desk) -> None:
    with pytest.raises(InputError, match="2 faults") as caught:
        desk.versions(
            "valid_from = 2025-01-01\nvalid_to = 2025-12-31",
            "valid_from = 2025-02-01\nvalid_to = 2025-02-28",
            "valid_from = 2025-05-01\nvalid_to = 2025-05-31",
        )
    for later in ("2025-02-01", "2025-05-01"):
        assert f"2025-01-01 is in force to 2025-12-31, so it overlaps version {later}" in str(caught.value)


def test_dates_as_text(desk: Desk) -> None:
    permit = desk.versions('valid_from = "2025-07-01"\nvalid_to = "2026-06-30"')
    assert (permit.versions[0].valid_from, permit.versions[0].valid_to) == (
        date(2025, 7, 1),
        date(2026, 6, 30),
    )


VERSION = "[[versions]]\nvalid_from = 2025-07-01\n"
HEAD = 'id = "T-1"\nholder = "N"\nauthority = "A"\ntimezone = "Australia/Hobart"\n'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "id is missing"),
        (VERSION, "timezone is missing.*Allowed: an IANA name such as Australia/Hobart"),
        (HEAD, r"versions is missing.*Allowed: one or more \[\[versions\]\] tables"),
        (HEAD + "versions = []", "versions holds none"),
        (HEAD + "versions = 5", "versions is 5"),
        (HEAD + "versions = [5]", r"versions is \[5\]"),
        (HEAD + "[versions]\nvalid_from = 2025-07-01", r"one or more \[\[versions\]\] tables"),
        (HEAD.replace("Hobart", "Hobrt") + VERSION, "'Australia/Hobrt' is not a time zone"),
        (HEAD.replace('"Australia/Hobart"', "10") + VERSION, "timezone = 10"),
        (HEAD.replace('"Australia/Hobart"', '"../../etc/passwd"') + VERSION, "is not a time zone"),
        (HEAD.replace('"N"', '"  "') + VERSION, "holder = '  ': it is empty"),
        (HEAD.replace('"N"', '"a\\u0000b"') + VERSION, "control character U\\+0000"),
        (HEAD.replace('"N"', f'"{"x" * 201}"') + VERSION, "201 characters, more than 200"),
        (
            HEAD.replace("holder", "holdr") + VERSION,
            "unknown key 'holdr'.*Do: write holder, if that is meant",
        ),
        (
            HEAD + 'authorised_persons = "N"\n' + VERSION,
            "authorised_persons = 'N'.*put it in square brackets",
        ),
        (HEAD + 'warnings = ["x"]\n' + VERSION, "unknown key 'warnings'"),
        (HEAD + "[[versions]]\n", "version no. 1: valid_from is missing.*such as 2026-07-01"),
        (HEAD + "[[versions]]\nvalid_from = 5", "version no. 1: valid_from = 5"),
        (HEAD + "[[versions]]\nvalid_from = 2025-07-01T00:00:00", "it is no date without a time"),
        (HEAD + '[[versions]]\nvalid_from = "1 July"', "valid_from = '1 July': it is no date"),
        (HEAD + VERSION + "valid_to = 2025-06-30", "valid_to = 2025-06-30 is before valid_from = 2025-07-01"),
        (
            HEAD + VERSION + "valid_until = 2025-08-30",
            "unknown key 'valid_until'.*valid_from, valid_to, conditions",
        ),
        (HEAD + VERSION + "conditions = 5", r"version 2025-07-01: conditions is 5"),
        (
            HEAD + VERSION + "[[versions.conditions]]\nid='1'\nkind='daylight'",
            "clause 1: unknown kind 'daylight'",
        ),
        (
            HEAD + VERSION + "[[versions.conditions]]\nkind='same_calendar_day'",
            "condition no. 1: id is missing",
        ),
        (HEAD + "=", "it is not TOML: .*line 5"),
        (HEAD + 'id = "again"\n', "it is not TOML: .*line 5"),
        (HEAD + VERSION + "valid_to = 2026-02-30", "it is not TOML: "),
        (HEAD + "x = " + "9" * 5000, "it is not TOML: "),
        (HEAD + "x = " + "[" * 5000 + "]" * 5000, "nested too deeply|not TOML"),
    ],
)
def test_faults(desk: Desk, text: str, message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        read_permit(desk.write(text))
    assert caught.value.exit_code == 3
    assert "permit.toml" in str(caught.value)
    assert len(str(caught.value)) < 2500


def test_duplicate_clause_ids(desk: Desk) -> None:
    clause = {"id": "3(a)", "kind": "same_calendar_day"}
    with pytest.raises(InputError, match=r"version 2025-07-01: clause '3\(a\)' stands 2 times.*each id once"):
        desk.permit(clause, {**clause, "id": " 3(a) "})


def test_the_same_id_in_two_versions_is_the_same_clause_over_time(desk: Desk) -> None:
    assert len(read_permit(desk.write(desk.head + TWO_LIMITS)).versions) == 2


def test_all_faults_come_at_once_each_with_its_place(desk: Desk) -> None:
    text = """
id = "T-1"
holdr = "N"
authority = "A"
timezone = "Mars/Olympus"
[[versions]]
valid_from = 2025-07-01
[[versions.conditions]]
id = "1"
kind = "max_distance_from_capture"
limit_m = 0
[[versions.conditions]]
id = "2"
kind = "habitat_in"
classes = ["forrest"]
[[versions]]
valid_from = 2025-09-01
[[versions.conditions]]
id = "3"
kind = "keep_warm"
"""
    with pytest.raises(InputError) as caught:
        read_permit(desk.write(text))
    lines = str(caught.value).splitlines()
    assert lines[0].startswith("7 faults")
    expected = [
        ("holder is missing", "permit.toml:"),
        ("unknown key 'holdr'", "permit.toml:"),
        ("'Mars/Olympus' is not a time zone", "permit.toml: timezone"),
        ("limit_m = 0", "version 2025-07-01, clause 1:"),
        ("'forrest'", "version 2025-07-01, clause 2:"),
        ("unknown kind 'keep_warm'", "version 2025-09-01, clause 3:"),
        ("overlaps version 2025-09-01", "permit.toml:"),
    ]
    for words, place in expected:
        assert any(words in line and place in line for line in lines), words


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-8"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_files_as_editors_save_them(desk: Desk, encoding: str, line_end: str) -> None:
    text = (desk.head + TWO_LIMITS).replace("Nobody", "Zoë Ångström").replace("\n", line_end)
    assert read_permit(desk.write(text.encode(encoding))).holder == "Zoë Ångström"


def test_text_that_could_be_a_script_is_kept_as_text(desk: Desk) -> None:
    text = "<script>alert('x')</script>"
    assert desk.clause("same_calendar_day", text=text).text == text


def test_files_that_are_no_text(desk: Desk, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"permit.toml: byte 5 is not UTF-8"):
        read_permit(desk.write(b'id = \xff\xfe"x"'))
    with pytest.raises(InputError, match="not UTF-8"):
        read_permit(desk.write(desk.head.encode("utf-16")))
    with pytest.raises(InputError, match=f"more than {MOST_BYTES} bytes"):
        read_permit(desk.write(b"#" * (MOST_BYTES + 1)))
    with pytest.raises(InputError, match="there is no such file"):
        read_permit(tmp_path / "nowhere.toml")
    with pytest.raises(InputError, match="cannot be read"):
        read_permit(tmp_path)
    with pytest.raises(InputError, match=r"cannot be read|no such file"):
        read_permit(tmp_path / ("x" * 5000))


def test_two_thousand_faults_are_cut_short(desk: Desk) -> None:
    text = desk.text(
        *({"id": str(i), "kind": "max_distance_from_capture", "limit_m": 0} for i in range(2000))
    )
    with pytest.raises(InputError, match="2000 faults") as caught:
        read_permit(desk.write(text))
    assert "and 1800 more" in str(caught.value)
