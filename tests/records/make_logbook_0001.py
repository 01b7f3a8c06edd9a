"""Made logbook_0001.db, a logbook of the first schema; kept to say how, not run again."""

from __future__ import annotations

import sys
from pathlib import Path

from tests.support.logged import AT, BY, a_call, later
from tussock.records.database import _sqlite, upgrade
from tussock.records.logbook import Logbook

if __name__ == "__main__":
    database = _sqlite(Path(sys.argv[1]), 1.0)
    upgrade(database, "0001")
    with Logbook(database) as book:
        book.write(a_call(), by=BY, at=AT, why="the day's sheet")
        book.amend("capture", "C1", {"sex": "male"}, by="S. Second", at=later(2), why="seen by daylight")
