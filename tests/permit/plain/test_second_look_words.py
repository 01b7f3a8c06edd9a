"""What a text says in words and its clause does not hold is asked about; what agrees is not."""

from __future__ import annotations

import pytest

from tussock.permit.plain.second_look import questions
from tussock.permit.record_kinds import ConsentRecorded
from tussock.permit.time_kinds import ReleaseWindow


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("Release only in daylight, not later than one hour before sunset.", True),
        ("Release at least 30 minutes after sunrise.", True),
        ("Release by daylight, between sunrise and sunset.", False),
        ("Hold no animal for more than an hour.", False),
    ],
)
def test_a_margin_to_the_sun(text: str, asked: bool) -> None:
    found = questions(ReleaseWindow(id="1", window="daylight", text=text))
    assert any("no such margin" in q for q in found) is asked


@pytest.mark.parametrize(
    ("text", "written", "asked"),
    [
        ("Written consent of the owner.", False, True),
        ("The owner agrees in writing.", False, True),
        ("Written consent of the owner.", True, False),
        ("Consent of the owner.", False, False),
    ],
)
def test_consent_in_writing(text: str, written: bool, asked: bool) -> None:
    found = questions(ConsentRecorded(id="1", written=written, text=text))
    assert any("an oral consent would do" in q for q in found) is asked
