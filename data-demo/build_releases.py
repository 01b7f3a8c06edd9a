"""How the holding of the invented animals ended, with the slips and breaches of planted.toml laid over."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from build_common import degrees_text, stamp
from build_sites import Ground, Let, Sites
from shapely.geometry import Point

OPEN = (48, 53)  # planted: no outcome was ever written down
FAVOURITES = np.asarray(
    [
        [-2900.0, 120.0],
        [-1600.0, 3000.0],
        [-2600.0, -2600.0],
        [300.0, -2300.0],
        [2050.0, -1200.0],
        [1900.0, 3100.0],
    ]
)
WESTGATE = FAVOURITES[0]
LAST_OF_OLD = 56
"""The captures after it are those of the last week, drawn apart from the others."""
SPARED: dict[int, tuple[str, ...]] = {
    4: ("3(a)", "3(e)"), 20: ("3(a)",), 31: ("3(b)",), 32: ("8(a)",), 49: ("3(a)",), 56: ("6(a)",),
}  # fmt: skip
"""Planted: the clause that the place of release does not surely meet; all others it does."""
BANDS: dict[int, tuple[float, float]] = {4: (2750.0, 2850.0), 20: (3150.0, 3700.0), 49: (2200.0, 2640.0)}
"""Planted: how far from the capture [m] the place of release lies."""
STRANGER, LATER = "Tobin Ashgrove", "CN-014"


@dataclass(frozen=True)
class Ended:
    """How the holding of one animal, or of several, ended; the true times, as nobody mistyped them."""

    row: dict[str, Any]
    moment: datetime
    written: datetime
    fate: str
    spot: Any = None
    radius: str = ""
    consent: str = ""
    count: str = ""
    organism: str = ""
    by: str = ""
    remark: str = ""

    @property
    def number(self) -> int:
        """Number of the capture."""
        return int(self.row["captureID"][2:])


def outcomes(
    rows: list[dict[str, Any]],
    sites: Sites,
    ground: Ground,
    *,
    consents: dict[str, str],
    rng: np.random.Generator,
) -> list[Ended]:
    """Return the outcomes in order of the captures."""
    late = np.random.default_rng([20261125, 1])  # the last week: nothing drawn before it may move
    found: list[Ended] = []
    for row in rows:
        number = int(row["captureID"][2:])
        if number in OPEN:
            continue
        drawn = rng if number <= LAST_OF_OLD else late
        idea = first_idea(row, sites, consents, rng=drawn)
        settled = settle(idea, sites, ground)
        if settled.spot is not None:
            ground.booked.at.append(
                (*settled.spot, float(settled.radius or 30), row["day"], int(row["individualCount"]))
            )
        found += parted(settled)
    return found


def first_idea(
    row: dict[str, Any], sites: Sites, consents: dict[str, str], *, rng: np.random.Generator
) -> Ended:
    """How the holding ended as drawn: mostly at a few favourite sites."""
    number, day = int(row["captureID"][2:]), row["day"]
    limit = 2940.0 if day <= "2026-06-30" else 1940.0
    odd = row["origin"] != "wild_local" or row["identification"] == "unknown"
    fate = "vet_or_carer" if row["animalCondition"] != "fit" else "authority" if odd else "released"
    least = limit + 260 if number in (20, 49) else 0.0  # two let go beyond the limit of their day
    options = sites.near(row["at"], most_m=limit + (700 if least else 0), day=day, least_m=least)
    if fate == "released" and len(options) == 0:
        fate = "authority"
    spot, radius = None, ""
    if fate == "released":
        pull = np.hypot(*(options[:, None, :] - FAVOURITES).transpose(2, 0, 1)).min(axis=1)
        way = np.hypot(*(options - row["at"]).T)
        agreed = np.asarray([sites.parcel(option) in consents for option in options])
        loose = 500.0 if day < "2026-10-15" else 10.0  # of late, always the same handy places
        cost = pull + 0.4 * way + rng.uniform(0, loose, len(options)) + 2500.0 * ~agreed
        spot = options[int(np.argmin(cost))] + rng.normal(0, 12, 2)
        radius = str(rng.choice(["5", "8", "10", "15"])) if number != 39 else ""
    moment = end_of(row, number, minutes=int(rng.integers(45, 260)))
    # planted: one is written up four days later, which no die decides
    written = moment + timedelta(minutes=int(rng.integers(60, 1800)) if number != 40 else 5760)
    return Ended(row, moment, written, fate, spot, radius, count=row["individualCount"], by=row["recordedBy"])


def end_of(row: dict[str, Any], number: int, *, minutes: int) -> datetime:
    """When holding ended: by daylight, but for the slip of a pen that is planted elsewhere."""
    taken: datetime = row["moment"]
    moment = taken + timedelta(minutes=minutes)
    if taken.hour >= 20 or taken.hour < 6:  # caught in the dark: let go in the morning
        moment = (taken + timedelta(days=int(taken.hour >= 20))).replace(hour=7, minute=40)
    elif moment.hour >= 18 or (taken.month in (5, 6, 7, 8) and moment.hour >= 17):
        moment = taken + timedelta(minutes=40)  # little daylight left: straight to a site
    return moment + timedelta(hours=49 if number == 27 else 0)  # planted: one kept two days


def settle(idea: Ended, sites: Sites, ground: Ground) -> Ended:
    """Keep the place if it meets the permit, else take the nearest that does, else hand the animal over."""
    if idea.fate != "released":
        return idea
    let = asked(idea)
    spot = idea.spot if fits(idea.spot, let, idea.number, ground) else nearest(idea, let, sites, ground)
    if spot is None:
        return replace(
            idea, fate="authority", spot=None, radius="", remark="no place within the permit was found"
        )
    # planted: the consent that one release names was given half a year later
    return replace(idea, spot=spot, consent=LATER if idea.number == 32 else ground.consent(spot, let))


def asked(idea: Ended) -> Let:
    """Return the release as the ground is asked about it."""
    row = idea.row
    return Let(
        row["at"],
        float(row["coordinateUncertaintyInMeters"] or 30),
        float(idea.radius or 30),
        row["day"],
        row["scientificName"],
        row["foundIn"],
        int(row["individualCount"]),
        SPARED.get(idea.number, ()),
    )


def fits(spot: Any, let: Let, number: int, ground: Ground) -> bool:
    """Return whether a place does for a release, or for what is planted in it."""
    low, high = BANDS.get(number, (0.0, np.inf))
    way = float(np.hypot(*(np.asarray(spot) - let.taken)))
    if not low <= way <= high:
        return False
    if number == 31 and not 40 <= home_distance(spot, ground) <= 110:
        return False
    if number == 32 and ground.consent(spot, replace(let, day="2026-09-01")) != LATER:
        return False
    if LAST_OF_OLD < number < 61 and np.hypot(*(np.asarray(spot) - WESTGATE)) < 400:
        return False  # the days before the demonstration leave its plan alone
    return ground.meets(spot, let)


def home_distance(spot: Any, ground: Ground) -> float:
    """Return how far the next dwelling is [m]."""
    place = Point(spot)
    return float(place.distance(ground.homes.geometries[int(ground.homes.nearest(place))]))


def nearest(idea: Ended, let: Let, sites: Sites, ground: Ground) -> Any:
    """Return the nearest place to the first idea that does; ``None`` where none does."""
    grid = sites.xy if idea.number != 31 else near_homes(idea, sites)
    away = np.hypot(*(grid - idea.spot).T)
    for k in np.argsort(away, kind="stable"):
        if fits(grid[k], let, idea.number, ground):
            return grid[k]
    return None


def near_homes(idea: Ended, sites: Sites) -> Any:
    """Return a grid finer than that of the sites, which keep clear of homes."""
    axis = np.arange(-2900.0, 2901.0, 20.0)
    x, y = np.meshgrid(axis, axis)
    return np.c_[x.ravel(), y.ravel()] + idea.row["at"]


def parted(ended: Ended) -> list[Ended]:
    """Return the outcome of each animal, where those of one capture did not all end alike."""
    match ended.number:
        case 25:
            words = "slipped out of the container on arrival at the site"
            return [otherwise(ended, "escaped", minutes=0, organism="", count="1", remark=words)]
        case 28:  # of a litter one neonate dies
            words = "weak from the start"
            dead = otherwise(ended, "died", minutes=-25, organism="N14", count="1", remark=words)
            return [replace(ended, count="13"), dead]
        case 29:  # of a pair one goes to a carer
            words = "torn scales seen in the bag"
            hurt = otherwise(ended, "vet_or_carer", minutes=30, organism="B", count="1", remark=words)
            return [replace(ended, count="1", organism="A"), hurt]
        case 57:  # planted: one animal taken, two with an outcome
            other = otherwise(ended, "vet_or_carer", minutes=20, organism="B", count="1", remark="")
            return [replace(ended, organism="A"), other]
    return [ended]


def otherwise(ended: Ended, fate: str, *, minutes: int, organism: str, count: str, remark: str) -> Ended:
    """Return the outcome of one that was not let go, so many minutes after the others."""
    return replace(
        ended,
        fate=fate,
        moment=ended.moment + timedelta(minutes=minutes),
        organism=organism,
        count=count,
        remark=remark,
        spot=None,
        radius="",
        consent="",
    )


def release_table(found: list[Ended]) -> list[dict[str, Any]]:
    """Rows as releases.csv has them, slips of the pen included."""
    return [_released(each) for each in found]


def _released(each: Ended) -> dict[str, Any]:
    row, number = each.row, each.number
    lat, lon = degrees_text(each.spot) if each.spot is not None else ("", "")
    typed = each.moment - timedelta(days=1) if number == 43 else each.moment  # planted: the day before
    answer = "yes" if each.spot is not None and number != 21 else ""  # planted: 8(b) not answered
    return {
        "captureID": row["captureID"],
        "organismID": each.organism and f"{row['captureID']} {each.organism}",
        "eventDate": stamp(typed, standard=row["standard"]),
        "decimalLatitude": lat,
        "decimalLongitude": lon,
        "coordinateUncertaintyInMeters": each.radius,
        "geodeticDatum": "EPSG:4326" if lat else "",
        "scientificName": row["scientificName"],
        "individualCount": each.count,
        "disposal": each.fate,
        "consentReference": each.consent,
        "answer:8(b)": answer,
        "recordedDate": stamp(written(each)),
        "recordedBy": f"{each.by} | {STRANGER}" if number == 23 else each.by,  # planted: not of the permit
        "occurrenceRemarks": each.remark,
    }


def written(each: Ended) -> datetime:
    """When the row was written up; planted: once 4 days late, once 9, once dated before the event."""
    match each.number:
        case 5:
            return each.moment + timedelta(days=9)
        case 40:
            return each.moment + timedelta(hours=96)
        case 45:
            return each.moment - timedelta(hours=19)
        case 64:
            return each.moment + timedelta(minutes=75)
    return max(each.written, each.moment + timedelta(minutes=35))
