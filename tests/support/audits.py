"""A made audit, small enough to count by hand: tables, ground and a permit of four clauses."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import shapely

from tests.support.regions import HOBART, Ground, MadeRegion, Thing, made_region
from tussock.clock import parse_zone
from tussock.permit.permit_file import Permit, Version
from tussock.permit.place_kinds import MaxDistanceFromCapture, MinDistanceFrom
from tussock.permit.record_kinds import Attested
from tussock.permit.time_kinds import MaxHoldingHours
from tussock.records.book import read_book
from tussock.records.entries import CAPTURE, DISPOSAL, Entry
from tussock.review.audit import Audit
from tussock.review.auditing import Beside, audit
from tussock.species.profiles import load_profiles

EVIL = '<script>alert("x")</script>{{7*7}}"\'><img src=x onerror=alert(1)>'
NOW = datetime(2026, 6, 1, tzinfo=UTC)
START = datetime(2026, 1, 10, 1, tzinfo=UTC)
# captureID: where it was let go [m east, m north of the capture at 0, 0], hours held, days later, more cells
BOOK: dict[str, tuple[tuple[float, float] | None, float, int, dict[str, str]]] = {
    "C-1": ((500, 0), 1, 0, {"answer:8(b)": "yes", "organismID": "A"}),
    "C-2": ((1400, 0), 1, 20, {"answer:8(b)": "yes"}),  # 400 m too far
    "C-3": ((0, 990), 1, 40, {"answer:8(b)": "yes"}),  # within the radii of the limit
    "C-4": ((540, 0), 1, 60, {}),  # not answered; 40 m from C-1's place
    "C-5": ((0, 500), 30, 61, {"answer:8(b)": "yes"}),  # held 6 h too long
    "C-6": ((-300, 0), 1, 64, {"answer:8(b)": "no"}),  # 50 m from the house, and no refuge
    "C-7": (None, 2, 70, {"organismID": "A"}),  # taken again, and died
}


def made_audit(*, evil: bool = False) -> tuple[Audit, MadeRegion]:
    """Return the audit of a book and the region it was read on; with scripts in every text if asked."""
    region = _region(EVIL if evil else "")
    entries = [e for name in BOOK for e in _entries(name, EVIL if evil else "")]
    lost = {"captureID": "C-9", "disposal": "died", "eventDate": "2026-05-01T00:00:00Z"}
    entries.append(Entry(DISPOSAL, "D-9", lost, "releases.csv, row 9"))
    book = read_book(entries, species=load_profiles(), now=NOW)
    beside = Beside(
        now=NOW, captures=book.booked, loose=book.loose, remarks=book.remarks,
        captures_read=len(book.captures), disposals_read=len(book.disposals),
        inputs={EVIL if evil else "captures.csv": "ab" * 32},
    )  # fmt: skip
    return audit(book.kept, _permit(EVIL if evil else ""), region, beside), region


def _entries(name: str, more: str) -> list[Entry]:
    let_go, hours, days, cells = BOOK[name]
    taken = START + timedelta(days=days)
    shown = name + more
    common = {"captureID": shown, "scientificName": "Notechis scutatus", "vernacularName": more, **cells}
    capture = {**common, "eventDate": taken.isoformat(), **_place((0, 0)), "recordedBy": more}
    ended = {**common, "eventDate": (taken + timedelta(hours=hours)).isoformat()}
    ended |= {**_place(let_go), "disposal": "released"} if let_go else {"disposal": "died"}
    ended |= {"consentReference": "CN-1" + more} if name == "C-1" else {}
    return [
        Entry(CAPTURE, shown, capture, f"captures.csv, row {name[-1]}{more}"),
        Entry(DISPOSAL, shown, ended, f"releases.csv, row {name[-1]}"),
    ]


def _place(xy: tuple[float, float]) -> dict[str, str]:
    lon, lat = HOBART.unproject(*xy)
    return {
        "decimalLatitude": f"{float(lat):.7f}",
        "decimalLongitude": f"{float(lon):.7f}",
        "coordinateUncertaintyInMeters": "10",
    }


def _region(more: str) -> MadeRegion:
    return made_region(
        Ground(
            {
                "habitat": [
                    Thing(shapely.box(-3000, -3000, 100, 3000), "woodland"),
                    Thing(shapely.box(100, -3000, 3000, 3000), "grassland"),
                ],
                "dwellings": [Thing(shapely.box(-370, -10, -350, 10), more or "house")],
                "roads": [Thing(shapely.LineString([(-3000, 100), (3000, 150)]), more or "track")],
            },
            as_of={"dwellings": date(2025, 6, 30)},
        )
    )


def _permit(more: str) -> Permit:
    clauses = (
        MaxDistanceFromCapture(id="3(a)", limit_m=1000.0, text=f"Within a kilometre.{more}"),
        MinDistanceFrom(id="3(b)", layer="dwellings", limit_m=100.0, text="Clear of homes."),
        MaxHoldingHours(id="7(a)", limit_h=24.0),
        Attested(id="8(b)", question=f"Is there a refuge?{more}", ask_at="site", text="At a refuge."),
    )
    zone = parse_zone("Australia/Hobart", where="")
    version = Version(date(2026, 1, 1), None, clauses)
    return Permit(f"P-1{more}", f"N. O. Body{more}", "Office", zone, (f"Some One{more}",), (version,))
