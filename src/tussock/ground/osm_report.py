"""What an OpenStreetMap import says it did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

_NAMED = 5


@dataclass(frozen=True)
class Mend:
    """A feature whose geometry was repaired, or that was left out because of it."""

    osm_id: str
    layer: str
    what: str


@dataclass(frozen=True)
class OsmReport:
    """What an import made of an extract.

    Attributes
    ----------
    out
        The folder.
    counts
        Features per layer; 0: nothing mapped, so the layer is not in region.toml.
    repaired, dropped
        Features whose geometry was mended, or could not be.
    cut
        Areas whose outline is only partly in the file, left out: those that lack a whole way, and
        natural habitat that lacks a corner.
    outside
        Elements wholly further than 1 km outside the box, left out.
    buildings
        Buildings read; those that are no dwellings are the difference to ``counts["dwellings"]``.
    loose_addresses
        House numbers mapped as points further than 25 m from any building: homes the map may lack.
    extent_km2, extent_cut_km2
        Area of the known extent, and how much was cut off the box (or the given polygon) [km²].
    unmapped_ha
        Ground of the known extent in no habitat polygon [ha].
    as_of, as_of_from
        Date of the data and where it comes from.
    plane
        Longitude and latitude of the plane's centre.
    """

    out: Path
    counts: Mapping[str, int]
    repaired: tuple[Mend, ...]
    dropped: tuple[Mend, ...]
    cut: tuple[Mend, ...]
    outside: int
    buildings: int
    loose_addresses: int
    extent_km2: float
    extent_cut_km2: float
    unmapped_ha: float
    as_of: date | None
    as_of_from: str
    plane: tuple[float, float]

    def lines(self) -> list[str]:
        """Return the report as lines to print."""
        lon, lat = self.plane
        said = [f"Region written to {self.out} (plane centred on {lat:.1f}, {lon:.1f})"]
        said += [f"  {name}: {n:,}" for name, n in self.counts.items() if n]
        empty = [name for name, n in self.counts.items() if not n]
        said += [f"Nothing mapped, so not in region.toml: {', '.join(empty)}"] if empty else []
        said.append(
            f"Buildings: {self.buildings:,}, of which {self.counts['dwellings']:,} count as dwellings"
        )
        said += self._extent_lines()
        said += _mend_lines(
            "repaired (too few points for an outline: kept as a point or line)", self.repaired
        )
        said += _mend_lines("left out, no usable geometry", self.dropped)
        said += _mend_lines("left out, outline only partly in the file", self.cut)
        said += (
            [f"Left out, wholly more than 1 km outside the box: {self.outside:,} elements"]
            if self.outside
            else []
        )
        said.append(f"As of: {self.as_of or 'unknown'} ({self.as_of_from})")
        said.append("Completeness not checked: a home that nobody has mapped is not in the data")
        return said

    def _extent_lines(self) -> list[str]:
        share = f"{self.unmapped_ha / (self.extent_km2 * 100):.0%}"
        said = [
            f"Known extent: {self.extent_km2:,.1f} km² ({self.extent_cut_km2:,.1f} km² cut off)",
            f"In no habitat polygon: {self.unmapped_ha:,.0f} ha, {share} of the known extent; never offered",
        ]
        if self.loose_addresses:
            said.append(
                f"House numbers further than 25 m from any building: {self.loose_addresses:,} "
                "(homes the map may lack)"
            )
        return said


def _mend_lines(title: str, mends: tuple[Mend, ...]) -> list[str]:
    if not mends:
        return []
    named = [f"{m.osm_id} ({m.layer}: {m.what})" for m in mends[:_NAMED]]
    more = [f"and {len(mends) - _NAMED:,} more"] if len(mends) > _NAMED else []
    return [f"Features {title}: {len(mends):,}"] + [f"  {text}" for text in named + more]
