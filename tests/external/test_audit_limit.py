"""The 5,000 m verdict table, audited from tables, with how likely each is met.

Source: verdicts and places as in ``test_permit_limit.py`` (geodesics on GRS80, computed with geographiclib).
P(met) = Φ(gap/σ), σ = √(u₁² + u₂²)/2.4477: the normal integral is taken from scipy, the factor is the 95 %
radius of a circular normal error.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from scipy.stats import norm, rayleigh

from tests.external.test_permit_limit import BRISBANE, VERDICTS
from tests.support.regions import Ground, made_region
from tussock.clock import parse_zone
from tussock.geodesy import Plane
from tussock.permit.permit_file import Permit, Version
from tussock.permit.place_kinds import MaxDistanceFromCapture
from tussock.records.book import read_book
from tussock.records.entries import CAPTURE, DISPOSAL, Entry
from tussock.review.audit import Audit
from tussock.review.auditing import Beside, audit
from tussock.species.profiles import load_profiles

NOW = datetime(2026, 6, 1, tzinfo=UTC)


def audited(radius_m: float) -> Audit:
    entries = []
    for metres, lat, lon, *_ in VERDICTS:
        taken = datetime(2026, 3, 1, 1, tzinfo=UTC) + timedelta(minutes=metres)
        cells = {"captureID": str(metres), "coordinateUncertaintyInMeters": f"{radius_m:g}"}
        entries.append(
            Entry(
                CAPTURE,
                str(metres),
                {
                    **cells,
                    "eventDate": taken.isoformat(),
                    "decimalLatitude": f"{BRISBANE[0]:.8f}",
                    "decimalLongitude": f"{BRISBANE[1]:.8f}",
                },
            )
        )
        ended = {
            **cells,
            "eventDate": (taken + timedelta(hours=1)).isoformat(),
            "decimalLatitude": f"{lat:.8f}",
            "decimalLongitude": f"{lon:.8f}",
            "disposal": "released",
        }
        entries.append(Entry(DISPOSAL, str(metres), ended))
    book = read_book(entries, species=load_profiles(), now=NOW)
    clause = MaxDistanceFromCapture(id="5", limit_m=5000.0)
    zone = parse_zone("Australia/Brisbane", where="")
    permit = Permit("P-1", "N. O. Body", "Office", zone, (), (Version(date(2026, 1, 1), None, (clause,)),))
    region = made_region(Ground({"habitat": ()}, plane=Plane(153.0, -27.5)))
    return audit(book.kept, permit, region, Beside(now=NOW))


@pytest.mark.parametrize(("radius_m", "column"), [(5.0, 3), (30.0, 4)])
def test_the_verdict_table(radius_m: float, column: int) -> None:
    found = {row.kept.capture_id: row for row in audited(radius_m).rows}
    assert {name: row.verdict.value for name, row in found.items()} == {
        str(vector[0]): vector[column] for vector in VERDICTS
    }
    sigma = (2 * radius_m**2) ** 0.5 / rayleigh.ppf(0.95)
    for name, row in found.items():
        # the places are printed to 1.1 mm
        assert row.probabilities["5"] == pytest.approx(
            norm.cdf((5000 - float(name)) / sigma), abs=norm.pdf(0) * 0.0012 / sigma + 1e-5
        )
