"""The scan statistics against published data and values worked out elsewhere.

Sources. Likelihood ratios: Kulldorff (1997), Communications in Statistics – Theory and Methods 26:
1481–1496, formula from memory, values worked out by hand. North Carolina: sudden infant deaths 1974–84 of
100 counties (Cressie & Read; the tables of the R packages sf and spData); the clusters were worked out
apart from this package; Kulldorff's own paper finds the first two on county seats (from memory).
Unevenness: R's MASS::glm.nb with an offset, output saved as printed. Nothing in this file is made from
the package's own output.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tussock.geodesy import Floats
from tussock.hotspots.scan import Cluster, scan
from tussock.hotspots.search import log_likelihood_ratio
from tussock.hotspots.unevenness import fitted_unevenness
from tussock.hotspots.windows import Whole, circular_windows


@pytest.mark.parametrize(
    ("observed", "expected", "total", "ratio"),
    [
        (20, 10, 100, 4.440300759),
        (10, 4, 50, 3.572429624),
        (12, 3.2, 60, 7.780974968),
        (30, 12.5, 30, 26.264062121),  # 30 ln(30 / 12.5): no call is left outside
        (5, 5, 50, 0),
        (4, 5, 50, 0),  # fewer than expected is never a cluster of high rates
    ],
)
def test_likelihood_ratio(observed: int, expected: float, total: int, ratio: float) -> None:
    ours = float(log_likelihood_ratio(observed, expected, total=total))
    assert ours == pytest.approx(ratio, abs=5e-10)


@pytest.mark.parametrize(
    ("inside", "share", "total", "risk"),
    [(20, 0.10, 100, 2.25), (10, 0.08, 50, 2.875), (12, 3.2 / 60, 60, 4.4375), (30, 12.5 / 30, 30, np.inf)],
)
def test_relative_risk(inside: int, share: float, total: int, risk: float) -> None:
    counts = np.array([inside, (total - inside) // 2, total - inside - (total - inside) // 2])
    # two far units share what is outside, so that only the first is a window with more than expected
    exposure = np.array([share, (1 - share) / 2, (1 - share) / 2])
    windows = circular_windows(np.array([0.0, 5.0, 9.0]), np.zeros(3), exposure)
    first = scan(counts, windows, seed=1, replicates=19).clusters[0]
    assert first.units.tolist() == [0]
    assert first.relative_risk == pytest.approx(risk)


@dataclass(frozen=True, eq=False)
class Counties:
    """North Carolina, 1974–84: deaths and births of each county, and a place."""

    name: tuple[str, ...]
    deaths: Whole
    births: Floats
    x: Floats
    y: Floats

    def clusters(self) -> tuple[Cluster, ...]:
        windows = circular_windows(self.x, self.y, self.births)
        return scan(self.deaths, windows, seed=20261125).clusters

    def names(self, cluster: Cluster) -> set[str]:
        return {self.name[unit] for unit in cluster.units}


@pytest.fixture(scope="module")
def seats(test_data: Path) -> Counties:
    """Counties at their seats, in the miles of the table's own grid."""
    with (test_data / "stats" / "nc_county_seats.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return _counties(rows, [float(r["east"]) for r in rows], [float(r["north"]) for r in rows], name="name")


@pytest.fixture(scope="module")
def centroids(test_data: Path) -> Counties:
    """Counties at the centroids of their polygons, in the state's own grid (EPSG:32119)."""
    import geopandas

    frame = geopandas.read_file(test_data / "stats" / "nc.gpkg").to_crs(32119)
    middle = frame.geometry.centroid
    return _counties(frame.to_dict("records"), middle.x, middle.y, name="NAME")


def _counties(rows: list[dict[str, object]], x: object, y: object, *, name: str) -> Counties:
    def column(one: str) -> Floats:
        return np.array([float(str(r[one])) for r in rows])

    deaths = (column("SID74") + column("SID79")).astype(np.int64)
    births = column("BIR74") + column("BIR79")
    places = np.asarray(x, np.float64), np.asarray(y, np.float64)
    return Counties(tuple(str(r[name]) for r in rows), deaths, births, *places)


def test_north_carolina_at_county_seats(seats: Counties) -> None:
    assert (seats.deaths.sum(), seats.births.sum()) == (667 + 836, 329_962 + 422_392)
    first, second, third = seats.clusters()[:3]
    assert seats.names(first) == {"Bladen", "Columbus", "Hoke", "Robeson", "Scotland"}
    assert first.observed == 139
    assert first.expected == pytest.approx(72.67, abs=0.005)
    assert first.llr == pytest.approx(25.3807, abs=5e-5)
    assert first.relative_risk == pytest.approx(2.006, abs=5e-4)
    assert seats.names(second) == {"Halifax", "Hertford", "Northampton"}
    assert second.observed == 59
    assert second.expected == pytest.approx(28.74, abs=0.005)
    assert second.llr == pytest.approx(12.4847, abs=5e-5)
    assert seats.names(third) == {"Anson"}
    assert third.observed == 19
    assert third.expected == pytest.approx(6.88, abs=0.005)
    assert third.llr == pytest.approx(7.2260, abs=5e-5)
    assert first.p_chance == second.p_chance == 0.001  # 1 of 1,000: the least that 999 maps can give


def test_north_carolina_at_centroids(centroids: Counties) -> None:
    first, second, third = centroids.clusters()[:3]
    assert first.llr == pytest.approx(17.6321, abs=5e-5)
    assert second.llr == pytest.approx(14.3376, abs=5e-5)
    assert centroids.names(third) == {"Columbus"}
    assert third.observed == 32
    assert third.expected == pytest.approx(14.97, abs=0.005)
    assert third.llr == pytest.approx(7.3767, abs=5e-5)


def test_unevenness_as_a_negative_binomial_model(test_data: Path) -> None:
    """R: glm.nb(SID74 ~ 1 + offset(log(BIR74))) on nc.sids: theta 6.371976749, 2.123662839 per 1,000."""
    with (test_data / "stats" / "nc_county_seats.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    deaths = np.array([int(r["SID74"]) for r in rows])
    thousands = np.array([float(r["BIR74"]) / 1000 for r in rows])
    fitted = fitted_unevenness(deaths, thousands)
    # the likelihood is flat at its top: two optimisers agree on a shape to about 1e-8 of it
    assert fitted.shape == pytest.approx(6.371976749, rel=1e-7)
    assert fitted.level == pytest.approx(2.123662839, abs=5e-9)
