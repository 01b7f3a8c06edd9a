"""How long a table of captures takes into a new logbook: ``python tests/benchmarks/import_speed.py [ROWS]``.

To hold: 100,000 rows in 60 s. Prints the parts apart.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tussock.records.importing import import_sheet, read_entries
from tussock.records.logbook import open_logbook
from tussock.species.profiles import load_profiles
from tussock.tables import csv_text

ROWS, MOST_S, SEED = 100_000, 60.0, 4
_SPECIES = ("Notechis scutatus", "Austrelaps superbus", "Drysdalia coronoides")


def captures(rows: int) -> Iterator[dict[str, object]]:
    """Yield invented captures."""
    rng = random.Random(SEED)
    first = datetime(2016, 1, 1, tzinfo=UTC)
    for n in range(rows):
        yield {
            "captureID": f"C-{n:06d}",
            "eventDate": (first + timedelta(minutes=50 * n)).isoformat(),
            "decimalLatitude": f"{rng.uniform(-42.2, -42.0):.6f}",
            "decimalLongitude": f"{rng.uniform(147.5, 147.7):.6f}",
            "coordinateUncertaintyInMeters": rng.choice(("5", "10", "20", "")),
            "geodeticDatum": "EPSG:4326",
            "scientificName": rng.choice(_SPECIES),
            "individualCount": rng.choice("1112"),
            "lifeStage": rng.choice(("adult", "juvenile", "unknown")),
            "gravid": rng.choice(("yes", "no", "unknown")),
            "identification": "certain",
            "origin": "wild_local",
            "animalCondition": rng.choice(("fit", "injured")),
            "foundIn": rng.choice(("yard", "building", "road")),
            "recordedBy": "Ines Tarrowby",
            "occurrenceRemarks": f"row {n} of a benchmark",
        }


def main(rows: int) -> int:
    """Import a table; return 1 where it took too long."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "captures.csv"
        made = list(captures(rows))
        path.write_text(csv_text(list(made[0]), made), "utf-8")
        species = load_profiles()
        start = time.perf_counter()
        sheet = read_entries(path, species=species)
        read = time.perf_counter()
        with open_logbook(Path(folder) / "logbook.db") as logbook:
            done = import_sheet(logbook, sheet, by="benchmark", at=datetime(2026, 1, 1, tzinfo=UTC))
            written = time.perf_counter()
            again = import_sheet(logbook, sheet, by="benchmark", at=datetime(2026, 1, 1, tzinfo=UTC))
            ended = time.perf_counter()
        size = (Path(folder) / "logbook.db").stat().st_size
    assert (len(done.added), len(again.unchanged)) == (rows, rows)
    whole = written - start
    print(
        f"{rows} captures, {path.name}: read and checked in {read - start:.1f} s, written in "
        f"{written - read:.1f} s; together {whole:.1f} s, {rows / whole:.0f} rows/s (≤ {MOST_S:.0f} s)"
    )
    print(f"the same again, which changes nothing: {ended - written:.1f} s; logbook {size / 1e6:.0f} MB")
    return int(whole > MOST_S * rows / ROWS)


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else ROWS))
