"""What goes round the captures: callouts, looks, checks at the spot, incidents, containers."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from build_common import PEOPLE, degrees_text, stamp
from build_releases import Ended

CONTAINERS = tuple(f"B-{n}" for n in range(1, 9))
NOT_CLEANED = 34
"""Planted: the container was not cleaned before this capture."""
MISSED = 18
"""Planted: nobody looked at this animal for three hours."""
WITHOUT_ANIMAL: tuple[tuple[str, int, str, str], ...] = (
    ("gone_on_arrival", 9, "", "slid off before anybody came"),
    ("gone_on_arrival", 3, "Notechis scutatus", "seen and photographed by the caller, gone on arrival"),
    ("gone_on_arrival", 3, "Austrelaps superbus", "photographed at the door, gone on arrival"),
    ("not_found", 9, "", "searched for half an hour, never seen"),
    ("not_found", 3, "", "wrong address: the number does not exist in that street"),
    ("not_a_snake", 8, "Tiliqua nigrolutea", "a blue-tongue lizard, harmless; left where it was"),
    ("not_a_snake", 3, "", "a length of hose"),
    ("left_in_place", 4, "Drysdalia coronoides", "in the open paddock, moving on by itself"),
    ("left_in_place", 3, "Austrelaps superbus", "at the dam, away from the house"),
    ("advice_only", 8, "", "how to keep the yard clear; nobody went out"),
    ("referred", 3, "", "outside the district, passed on to the Wildlife Office"),
    ("dead_on_arrival", 2, "Notechis scutatus", "run over before anybody came"),
    (
        "killed_before_arrival",
        2,
        "Notechis scutatus",
        "killed before anybody came; the Wildlife Office was told",
    ),
)
"""Outcome, how often, species where known, remark."""
MONTHS = ((2025, 9), *((2025, m) for m in (10, 11, 12)), *((2026, m) for m in (1, 2, 3, 4, 9, 10, 11)))
SHARES = np.array([3, 8, 11, 12, 10, 8, 5, 2, 5, 11, 5], dtype=float)


def assign_containers(rows: list[dict[str, Any]], found: list[Ended]) -> dict[str, list[datetime]]:
    """Give each capture a free container, in turn; return when each was cleaned."""
    until = {e.number: max(o.moment for o in found if o.number == e.number) for e in found}
    free = dict.fromkeys(CONTAINERS, datetime(2025, 7, 1))
    cleaned: dict[str, list[datetime]] = {name: [datetime(2025, 8, 30, 10, 0)] for name in CONTAINERS}
    last = ""
    for n, row in enumerate(rows):
        number = int(row["captureID"][2:])
        turn = [*CONTAINERS[n % 8 :], *CONTAINERS[: n % 8]]
        name = last if number == NOT_CLEANED else next(c for c in turn if free[c] < row["moment"])
        row["containerID"] = last = name
        end = until.get(number, datetime(2099, 1, 1))  # one whose outcome nobody wrote keeps its container
        free[name] = end + timedelta(minutes=90)
        if end.year < 2099 and number != NOT_CLEANED - 1:
            cleaned[name].append(end + timedelta(minutes=50))
    return cleaned


def container_table(cleaned: dict[str, list[datetime]]) -> list[dict[str, Any]]:
    """Rows as containers.csv has them."""
    kinds = {"B-7": "tub with a locking lid", "B-8": "tub with a locking lid"}
    return [
        {
            "containerID": name,
            "cleanedDate": "|".join(stamp(t) for t in sorted(times)),
            "containerRemarks": kinds.get(name, "canvas bag in a lidded tub"),
        }
        for name, times in cleaned.items()
    ]


def callout_rows(
    rows: list[dict[str, Any]], pools: dict[str, list[Any]], *, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Rows as callouts.csv has them; every capture gets the id of its own."""
    calls = [_of_capture(row, rng) for row in rows]
    for outcome, times, species, words in WITHOUT_ANIMAL:
        calls += [_without(outcome, species, words, pools, rng) for _ in range(times)]
    calls.sort(key=lambda c: (c["moment"], c.get("row", {}).get("captureID", "")))
    for n, call in enumerate(calls, start=1):
        call["calloutID"] = f"K-{n:03d}"
        if "row" in call:
            call["row"]["calloutID"] = call["calloutID"]
    return [callout_row(call) for call in calls]


def _of_capture(row: dict[str, Any], rng: np.random.Generator) -> dict[str, Any]:
    return {
        "moment": row["moment"] - timedelta(minutes=int(rng.integers(22, 75))),
        "at": row["at"],
        "radius": row["coordinateUncertaintyInMeters"],
        "outcome": "captured",
        "species": row["scientificName"],
        "foundIn": row["foundIn"],
        "by": row["recordedBy"],
        "words": "",
        "row": row,
    }


def _without(
    outcome: str, species: str, words: str, pools: dict[str, list[Any]], rng: np.random.Generator
) -> dict[str, Any]:
    year, month = MONTHS[int(rng.choice(len(MONTHS), p=SHARES / SHARES.sum()))]
    first, last = (12, 29) if month == 9 else (1, 16 if (year, month) == (2026, 11) else 29)
    pool = (
        "farm"
        if outcome == "left_in_place"
        else ("edge", "edge", "edge", "inner", "farm")[int(rng.integers(5))]
    )
    home = pools[pool][int(rng.integers(len(pools[pool])))].centroid
    nobody_there = words.startswith(("wrong address", "outside"))
    return {
        "moment": datetime(
            year, month, int(rng.integers(first, last)), int(rng.integers(8, 19)), int(rng.integers(60))
        ),
        "at": None if nobody_there else np.array([home.x, home.y]) + rng.normal(0, 8, 2),
        "radius": "" if nobody_there else str(rng.choice(["20", "30", "50"])),
        "outcome": outcome,
        "species": species,
        "foundIn": "" if nobody_there else str(rng.choice(["yard", "yard", "building", "other"])),
        "by": PEOPLE[int(rng.integers(3))],
        "words": words,
    }


def callout_row(call: dict[str, Any]) -> dict[str, Any]:
    """Row as callouts.csv has it."""
    lat, lon = degrees_text(call["at"]) if call["at"] is not None else ("", "")
    return {
        "calloutID": call["calloutID"],
        "eventDate": stamp(call["moment"]),
        "decimalLatitude": lat,
        "decimalLongitude": lon,
        "coordinateUncertaintyInMeters": call["radius"],
        "geodeticDatum": "EPSG:4326" if lat else "",
        "outcome": call["outcome"],
        "scientificName": call["species"],
        "foundIn": call["foundIn"],
        "recordedBy": call["by"],
        "occurrenceRemarks": call["words"],
    }


def check_rows(
    rows: list[dict[str, Any]], found: list[Ended], *, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Rows as checks.csv has them: looks at held animals, and the check at the spot before letting go."""
    ended: dict[int, list[Ended]] = defaultdict(list)
    for each in found:
        ended[each.number].append(each)
    listed = []
    for row in rows:
        number = int(row["captureID"][2:])
        outcomes = ended[number]
        # of those without an outcome the looks of the first evening are all that was written down
        end = max((o.moment for o in outcomes), default=row["moment"] + timedelta(hours=5))
        listed += [_look(row, t, row["recordedBy"]) for t in _looks(row["moment"], end, number, rng)]
        listed += [_spot(row, o, rng) for o in outcomes if o.spot is not None and number != 21]
    listed.sort(key=lambda r: (r["moment"], r["captureID"], r["kind"]))
    return [
        {"checkID": f"L-{n:04d}", **{k: v for k, v in r.items() if k != "moment"}}
        for n, r in enumerate(listed, start=1)
    ]


def _looks(start: datetime, end: datetime, number: int, rng: np.random.Generator) -> list[datetime]:
    times, at = [], start + timedelta(minutes=int(rng.integers(10, 25)))
    while at < end - timedelta(minutes=3):
        times.append(at)
        at += timedelta(minutes=int(rng.integers(70, 112)))
    return times[:1] if number == MISSED else times


def _look(row: dict[str, Any], moment: datetime, by: str) -> dict[str, Any]:
    return {
        "captureID": row["captureID"],
        "eventDate": stamp(moment),
        "kind": "holding",
        "decimalLatitude": "",
        "decimalLongitude": "",
        "coordinateUncertaintyInMeters": "",
        "recordedBy": by,
        "moment": moment,
    }


def _spot(row: dict[str, Any], each: Ended, rng: np.random.Generator) -> dict[str, Any]:
    moment = each.moment - timedelta(minutes=int(rng.integers(3, 9)))
    lat, lon = degrees_text(each.spot)
    place = {"decimalLatitude": lat, "decimalLongitude": lon, "coordinateUncertaintyInMeters": each.radius}
    return {**_look(row, moment, each.by), "kind": "spot", **place}


def incident_rows(found: list[Ended]) -> list[dict[str, Any]]:
    """Rows as incidents.csv has them: a bite, an escape, a death, each reported the same day."""
    by_number = {each.number: each for each in found}
    escaped = by_number[25]
    died = next(each for each in found if each.fate == "died")
    bitten = by_number[30]
    said = (
        (
            escaped,
            "escape",
            escaped.moment,
            80,
            "out of the container at the site; searched for, not seen again",
        ),
        (died, "death", died.moment, 190, "one neonate of the litter, taken to the Wildlife Office"),
        (
            bitten,
            "bite",
            bitten.row["moment"] - timedelta(minutes=4),
            45,
            "glove bitten while the netting was cut",
        ),
    )
    rows = sorted(said, key=lambda s: s[2])
    return [
        {
            "incidentID": f"N-{n}",
            "captureID": each.row["captureID"],
            "eventDate": stamp(moment),
            "incident": kind,
            "reportedDate": stamp(moment + timedelta(minutes=after)),
            "recordedBy": each.by,
            "occurrenceRemarks": words,
        }
        for n, (each, kind, moment, after, words) in enumerate(rows, start=1)
    ]
