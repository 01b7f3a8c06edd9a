"""Callouts answered from the telephone: none ends with a capture, and hotspots are planted in them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import shapely
from build_common import PEOPLE
from build_round import callout_row
from shapely.geometry import Point

Call = dict[str, Any]

FURTHER = 810
"""Callouts drawn by chance; the repeats and the strays come on top."""
EDGE = "Mill Brook"
EDGE_RISKS = ((100.0, 2.9), (300.0, 1.3))
"""Planted: how far from the brook [m], and how many times as often a home there calls."""
CLUSTER = Point(-400.0, -1650.0)
CLUSTER_M = 280.0
CLUSTER_RISK = 3.8
"""Planted: how many times as often a home calls that lies so near [m] a point in the south of the town."""
COUNTRY_RISK = 0.2
"""Outside the town: farms and hamlets have their callouts among the captures already."""
REPEATER = Point(1100.0, -420.0)
"""Planted: the home nearest to this, in Acacia Way, calls again and again."""
REPEATS = (
    (datetime(2025, 11, 8, 14, 20), "gone_on_arrival", "under the verandah, gone on arrival"),
    (datetime(2025, 11, 27, 11, 5), "gone_on_arrival", "under the verandah again, gone on arrival"),
    (datetime(2025, 12, 15, 16, 40), "left_in_place", "below the slab of the shed, out of reach"),
    (datetime(2026, 1, 6, 9, 50), "gone_on_arrival", "seen from the kitchen, gone on arrival"),
    (datetime(2026, 1, 25, 17, 15), "advice_only", "photographed on the steps; told how to close the gaps"),
)
STRAYS = (
    (datetime(2025, 11, 19, 13, 0), (-7200.0, 1500.0), "referred", "a farm beyond the district, passed on"),
    (datetime(2026, 1, 11, 10, 30), (6400.0, -2600.0), "referred", "beyond the district, passed on"),
    (datetime(2026, 2, 3, 15, 45), (1500.0, 8200.0), "advice_only", "beyond the district, told whom to ring"),
    (datetime(2026, 10, 29, 12, 10), (-300.0, -7900.0), "referred", "beyond the district, passed on"),
    (datetime(2025, 12, 22, 14, 35), (3900.0, 1850.0), "advice_only", "told to leave it be"),
    (datetime(2026, 11, 3, 11, 25), (4150.0, -1500.0), "gone_on_arrival", "gone before anybody came"),
    (datetime(2026, 1, 20, 18, 5), None, "advice_only", "the line broke off before the address was given"),
)
"""Four beyond the region, two where homes are not all known, one without a place."""
MONTHS = {
    (2025, 9): (4.0, 7.0, 17.5),
    (2025, 10): (9.0, 7.0, 18.75),
    (2025, 11): (14.0, 6.5, 19.5),
    (2025, 12): (15.0, 6.5, 20.25),
    (2026, 1): (14.0, 6.5, 20.25),
    (2026, 2): (11.0, 7.0, 19.75),
    (2026, 3): (7.0, 7.75, 18.5),
    (2026, 4): (3.0, 7.75, 17.0),
    (2026, 5): (1.0, 8.0, 16.5),
    (2026, 8): (1.0, 8.0, 16.75),
    (2026, 9): (4.0, 7.0, 17.5),
    (2026, 10): (9.0, 7.0, 18.75),
    (2026, 11): (8.0, 6.5, 19.5),
}
"""Month: share, and the hours between which calls come, all by daylight."""
LAST_DAY = 15
"""Of November 2026: the tables end on the 16th."""
SNAKES = (("Notechis scutatus", 0.5), ("Austrelaps superbus", 0.31), ("Drysdalia coronoides", 0.19))
OUTCOMES: tuple[tuple[str, float, float, tuple[str, ...]], ...] = (
    (
        "advice_only",
        0.36,
        0.3,
        (
            "told to watch it from indoors until it left",
            "how to keep the yard clear",
            "what to do with a dog",
        ),
    ),
    ("gone_on_arrival", 0.24, 0.4, ("slid off before anybody came", "gone through the fence on arrival")),
    (
        "not_found",
        0.14,
        0.0,
        ("searched for half an hour, never seen", "sheets of iron lifted, nothing there"),
    ),
    ("left_in_place", 0.09, 1.0, ("over the fence and moving on by itself", "out of reach under the deck")),
    ("not_a_snake", 0.1, 1.0, ("a blue-tongue lizard, harmless; left where it was",)),
    ("referred", 0.02, 0.0, ("nobody was free, passed on to the Wildlife Office",)),
    ("dead_on_arrival", 0.03, 1.0, ("run over before anybody came",)),
    ("killed_before_arrival", 0.02, 1.0, ("killed before anybody came; the Wildlife Office was told",)),
)
"""Outcome, share, share in which the species is known, what is said of it."""


def further_callouts(made: dict[str, Any], *, rng: np.random.Generator) -> list[dict[str, str]]:
    """Rows as callouts.csv has them, numbered T-0001 onwards so that no other number moves."""
    homes = [home for home in made["homes"] if made["areas"]["extent"].contains(home["geometry"])]
    middles = shapely.centroid(np.array([home["geometry"] for home in homes], dtype=object))
    risks = _risks(middles, brook=made["lines"]["creeks"][EDGE], town=made["town"])
    calls = _by_chance(homes, middles, risks, rng)
    calls += _again(middles, rng) + [_stray(*stray, rng=rng) for stray in STRAYS]
    calls.sort(key=lambda call: call["moment"])
    return [callout_row({"calloutID": f"T-{n:04d}", **call}) for n, call in enumerate(calls, start=1)]


def _risks(middles: Any, *, brook: Any, town: Any) -> Any:
    away = shapely.distance(middles, brook)
    risks = np.select([away <= limit for limit, _ in EDGE_RISKS], [risk for _, risk in EDGE_RISKS], 1.0)
    risks = np.where(shapely.dwithin(middles, CLUSTER, CLUSTER_M), CLUSTER_RISK * risks, risks)
    return np.where(shapely.dwithin(middles, town, 50.0), risks, COUNTRY_RISK * risks)


def _by_chance(homes: list[dict[str, Any]], middles: Any, risks: Any, rng: np.random.Generator) -> list[Call]:
    weights = risks * np.array([home["homes"] for home in homes])
    built = np.array([home.get("valid_from") or "" for home in homes])
    moments = _moments(rng)
    calls = []
    for moment in moments:
        standing = np.where(built <= moment.date().isoformat(), weights, 0.0)
        home = middles[int(rng.choice(len(homes), p=standing / standing.sum()))]
        calls.append(_call(moment, np.array([home.x, home.y]) + rng.normal(0, 8, 2), rng))
    return calls


def _moments(rng: np.random.Generator) -> list[datetime]:
    shares = np.array([share for share, *_ in MONTHS.values()])
    months = list(MONTHS)
    return [
        _moment(months[int(n)], rng) for n in rng.choice(len(months), size=FURTHER, p=shares / shares.sum())
    ]


def _moment(month: tuple[int, int], rng: np.random.Generator) -> datetime:
    _, earliest, latest = MONTHS[month]
    begin = datetime(*month, 1)
    length = LAST_DAY if month == (2026, 11) else ((begin + timedelta(days=31)).replace(day=1) - begin).days
    hour = -1.0
    while not earliest <= hour <= latest:
        hour = rng.normal(13.5, 3.0)
    day = begin + timedelta(days=int(rng.integers(length)))
    return day + timedelta(minutes=int(hour * 60))


def _call(moment: datetime, at: Any, rng: np.random.Generator) -> Call:
    kind = int(rng.choice(len(OUTCOMES), p=[share for _, share, *_ in OUTCOMES]))
    outcome, _, known, words = OUTCOMES[kind]
    names, shares = [name for name, _ in SNAKES], [share for _, share in SNAKES]
    species = str(rng.choice(names, p=shares)) if rng.uniform() < known else ""
    return {
        "moment": moment,
        "at": at,
        # of a few only the street is known
        "radius": str(rng.choice(["15", "20", "30", "150"], p=[0.3, 0.4, 0.27, 0.03])),
        "outcome": outcome,
        "species": "Tiliqua nigrolutea" if outcome == "not_a_snake" else species,
        "foundIn": str(rng.choice(["yard", "building", "road", "other"], p=[0.66, 0.16, 0.08, 0.1])),
        "by": PEOPLE[int(rng.integers(3))],
        "words": words[int(rng.integers(len(words)))],
    }


def _again(middles: Any, rng: np.random.Generator) -> list[Call]:
    home = middles[int(np.argmin(shapely.distance(middles, REPEATER)))]
    return [
        {
            "moment": moment,
            "at": np.array([home.x, home.y]) + rng.normal(0, 3, 2),
            "radius": "10",
            "outcome": outcome,
            "species": "Notechis scutatus",
            "foundIn": "yard",
            "by": PEOPLE[int(rng.integers(3))],
            "words": words,
        }
        for moment, outcome, words in REPEATS
    ]


def _stray(
    moment: datetime, at: tuple[float, float] | None, outcome: str, words: str, *, rng: np.random.Generator
) -> Call:
    return {
        "moment": moment,
        "at": None if at is None else np.array(at),
        "radius": "" if at is None else "30",
        "outcome": outcome,
        "species": "",
        "foundIn": "" if at is None else "yard",
        "by": PEOPLE[int(rng.integers(3))],
        "words": words,
    }
