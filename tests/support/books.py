"""Synthetic books: seeded records over the demo district in which every verdict occurs."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np

from tussock.permit.condition import Condition
from tussock.permit.permit_file import Permit
from tussock.position import Position
from tussock.review.handling import Handling
from tussock.species.answers import read_recorded_animal
from tussock.species.profiles import load_profiles

NOW = datetime(2027, 3, 1, tzinfo=UTC)
LON, LAT = 147.6, -42.1
START = datetime(2025, 6, 25, tzinfo=UTC)
NAMES = (
    "Notechis scutatus",
    "Pseudonaja textilis",
    "Austrelaps superbus",
    "Drysdalia coronoides",
    "Notechis",
)
DISPOSALS = ("released",) * 8 + ("vet_or_carer", "authority", "")
ENDED_BY = (None, (), ("Ines Tarrowby",), ("Maud Fennimore", "Nobody Known"))
HANDLERS = (("Ines Tarrowby",), ("Jory Quill | Maud Fennimore",), ("Nobody Known",), ())


_profiles = cache(load_profiles)


def book(n: int, *, seed: int, days: int = 560) -> list[Handling]:
    """Return random records: places in and round the district, radii 1–500 m, times good and bad."""
    rng = np.random.default_rng(seed)
    return [_record(i, rng, days) for i in range(n)]


def _record(i: int, rng: np.random.Generator, days: int) -> Handling:
    # one in ten before the layers' as-of dates
    reach = days if rng.random() < 0.9 else 8
    captured = START + timedelta(seconds=int(rng.integers(0, reach * 86_400)))
    if rng.random() < 0.05:
        captured += timedelta(microseconds=int(rng.integers(0, 1_000_000)))
    held = float(rng.choice([rng.uniform(0, 6), rng.uniform(0, 40), 12.0, 24.0, 14.0, -1.0], p=_HELD))
    disposed = captured + timedelta(hours=held) if rng.random() > 0.03 else None
    disposal = str(rng.choice(DISPOSALS)) if disposed else ""
    delay = float(rng.choice([rng.uniform(0, 100), 48.0, 72.0, -2.0], p=[0.8, 0.05, 0.05, 0.1]))
    recorded = (disposed or captured) + timedelta(hours=delay) if rng.random() > 0.05 else None
    x, y = rng.uniform(-4900, 4500, 2)
    away, turn = float(rng.choice([rng.uniform(0, 1500), rng.uniform(0, 4500)])), rng.uniform(0, 2 * np.pi)
    let_go = _at(x + away * np.cos(turn), y + away * np.sin(turn), rng) if disposal == "released" else None
    columns = {"eventDate": "there", "scientificName": str(rng.choice(["there", " "], p=[0.95, 0.05]))}
    columns |= {} if rng.random() < 0.05 else {"disposal": disposal}
    columns |= {"decimalLatitude": "there", "decimalLongitude": "there"}
    answers = {"scientificName": str(rng.choice(NAMES)), "individualCount": "1"}
    answers |= {"identification": "certain"} | _answers(rng)
    return Handling(
        capture_id=f"C{i}",
        taken_at=_at(x, y, rng),
        captured=captured,
        animal=read_recorded_animal(answers, book=_profiles()),
        trap_checked=captured + timedelta(hours=rng.uniform(0, 3)) if rng.random() < 0.3 else None,
        disposal=disposal,
        disposed=disposed,
        let_go_at=None if rng.random() < 0.02 else let_go,
        recorded=recorded,
        handlers=HANDLERS[int(rng.integers(0, len(HANDLERS)))],
        ended_by=ENDED_BY[i % len(ENDED_BY)] if disposed else None,
        columns=columns,
    )


_HELD = [0.5, 0.35, 0.04, 0.04, 0.04, 0.03]


def _answers(rng: np.random.Generator) -> dict[str, str]:
    origin = str(rng.choice(["wild_local", "unknown", "possible_escapee"], p=[0.8, 0.1, 0.1]))
    found_in = str(rng.choice(["yard", "road", "trap_or_netting", "building"]))
    answers = {"origin": origin, "foundIn": found_in, "lifeStage": "adult", "gravid": "no"}
    return answers | ({"animalCondition": str(rng.choice(["fit", "injured"]))} if rng.random() > 0.1 else {})


def _at(x: float, y: float, rng: np.random.Generator) -> Position:
    radius = float(np.exp(rng.uniform(0, np.log(500))))
    return Position(LON + x / 82_700, LAT + y / 111_090, radius)


def with_clauses(permit: Permit, *more: Condition, ids: tuple[str, ...] = ()) -> Permit:
    """Return a permit whose versions hold only the clauses of some ids, and others besides."""
    versions = [
        replace(v, conditions=tuple(c for c in v.conditions if c.id in ids) + more) for v in permit.versions
    ]
    return replace(permit, versions=tuple(versions))
