"""Entries to log, and who logs them when."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from tussock.records.entries import CALLOUT, CAPTURE, DISPOSAL, ID_COLUMN, Entry

AT = datetime(2026, 1, 5, 9, 30, tzinfo=UTC)
BY = "R. Handler"


def later(hours: float) -> datetime:
    return AT + timedelta(hours=hours)


def made(kind: str, name: str, **cells: str) -> Entry:
    return Entry(kind, name, {ID_COLUMN[kind]: name, **cells}, f"{kind}s.csv, row 2")


def a_call() -> list[Entry]:
    """A callout with a capture and its release, the release first."""
    return [
        made(DISPOSAL, "C1/a", captureID="C1", eventDate="2026-01-05T12:00+11:00", disposal="released"),
        made(
            CAPTURE,
            "C1",
            calloutID="K1",
            eventDate="2026-01-05T10:00+11:00",
            scientificName="Morelia spilota",
        ),
        made(CALLOUT, "K1", eventDate="2026-01-05T09:00+11:00", foundIn="shed"),
    ]
