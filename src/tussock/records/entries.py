"""An entry of the book: a kind, an id, and the columns as they were recorded. Plain data.

The columns keep the text that was written; what they mean is read when it is asked for, so that nothing
is lost on the way in and unknown columns come out as they went in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

CALLOUT, CAPTURE, DISPOSAL, CHECK, CONSENT, INCIDENT, CONTAINER = (
    "callout",
    "capture",
    "disposal",
    "check",
    "consent",
    "incident",
    "container",
)
ID_COLUMN: Mapping[str, str] = {
    CALLOUT: "calloutID",
    CAPTURE: "captureID",
    DISPOSAL: "disposalID",
    CHECK: "checkID",
    CONSENT: "consentID",
    INCIDENT: "incidentID",
    CONTAINER: "containerID",
}
"""Kind of entry → the column that holds its id."""
PARENT: Mapping[str, str] = {CAPTURE: CALLOUT, DISPOSAL: CAPTURE, CHECK: CAPTURE, INCIDENT: CAPTURE}
"""Kind → the kind it belongs to, by that kind's id column. A capture may have no callout, an incident no
capture; a disposal and a check have one."""
KINDS = tuple(ID_COLUMN)


@dataclass(frozen=True)
class Entry:
    """An entry in its present state.

    Attributes
    ----------
    kind, id
        Together they name it.
    cells
        Column → text as recorded, in the order of the table; empty cells are left out. The id column is
        one of them.
    where
        Where it was read, for messages and reports: ``captures.csv, row 3``; ``logbook``.
    """

    kind: str
    id: str
    cells: Mapping[str, str] = field(default_factory=dict)
    where: str = ""

    def get(self, column: str) -> str:
        """Return a cell's text; empty where there is none."""
        return self.cells.get(column, "")

    @property
    def parent(self) -> str:
        """The id of the entry it belongs to; empty where it names none."""
        return self.get(ID_COLUMN[PARENT[self.kind]]) if self.kind in PARENT else ""


@dataclass(frozen=True)
class Revision:
    """A state that an entry had, and who made it so, when, why; the first has number 1."""

    entry: Entry
    number: int
    at: datetime
    by: str
    why: str


def disposal_id(capture_id: str, organism_id: str = "") -> str:
    """Return the id of a disposal that was given none: one a capture, or one a marked individual."""
    return f"{capture_id}/{organism_id}" if organism_id else capture_id
