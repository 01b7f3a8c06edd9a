"""Whether an offered site may be offered, worked out again from the files by other means.

It shares no code with Tussock: the files are read by geopandas, tomllib and csv, distances taken by
geographiclib to points along the features. Such points are never nearer than the feature itself, so a
site too near in the referee's eyes is surely too near.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import shapely
from geographiclib.geodesic import Geodesic

from tests.badinput.district import CAPTURE, RELEASE

SITE_RADIUS_M = 30.0
_SLIP_M = 0.002
_METRES = 111_320.0


@dataclass(frozen=True)
class Place:
    """A site as written."""

    longitude: float
    latitude: float


class Referee:
    """Judges the sites of a plan on a folder as it stands."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.region = tomllib.loads((folder / "region.toml").read_text(encoding="utf-8-sig"))
        permit = tomllib.loads((folder / "permit.toml").read_text(encoding="utf-8-sig"))
        self.clauses = list(_in_force(permit))
        self._layers: dict[str, Any] = {}

    def objections(self, site: Place, *, radius_m: float) -> Iterator[str]:
        """Yield what stands against a site; ``radius_m`` is the capture's."""
        for clause in self.clauses:
            if clause.get("mandatory", True) and "applies_to" not in clause:
                said = self._against(clause, site, radius_m)
                if said:
                    yield f"clause {clause['id']}: {said}"

    def _against(self, clause: dict[str, Any], site: Place, radius_m: float) -> str:
        match clause["kind"]:
            case "max_distance_from_capture":
                d = _geodesic_m(site, *self.capture())
                if d + SITE_RADIUS_M + radius_m > clause["limit_m"] + _SLIP_M:
                    return f"{d:.3f} m from the capture"
            case "min_distance_from":
                near = self._nearest_m(clause["layer"], clause.get("classes"), site)
                least = clause["limit_m"] + SITE_RADIUS_M + self._error_m(clause["layer"])
                if near < least - _SLIP_M:
                    return f"{near:.3f} m from {clause['layer']}, {least} m wanted"
            case "habitat_in":
                if not self._holds("habitat", clause["classes"], site):
                    return f"it lies in no habitat of {clause['classes']}"
            case "not_within" if not clause.get("unless_captured_within"):
                if self._holds(clause["layer"], clause.get("classes"), site):
                    return f"it lies in {clause['layer']}"
            case "within" if clause.get("of") != "capture":
                if not self._holds(clause["layer"], clause.get("classes"), site):
                    return f"it lies outside {clause['layer']}"
        return ""

    def capture(self) -> tuple[float, float]:
        """Return longitude and latitude of the capture as the table says."""
        text = (self.folder / "captures.csv").read_text(encoding="utf-8-sig")
        delimiter = max(",;\t", key=text.splitlines()[0].count)
        for row in csv.DictReader(text.splitlines(keepends=True), delimiter=delimiter):
            tidy = {str(k).strip(): str(v).strip() for k, v in row.items()}
            if tidy["captureID"] == CAPTURE:
                lon, lat = (tidy[c].replace("−", "-") for c in ("decimalLongitude", "decimalLatitude"))
                return float(lon), float(lat)
        raise AssertionError("the capture planned for is not in the table")

    def _error_m(self, name: str) -> float:
        return float(self.region["layers"].get(name, {}).get("position_error_m", 0.0))

    def _features(self, name: str) -> tuple[Any, list[str]]:
        """Return the geometries in degrees and the classes of those that stand on the day."""
        if name not in self._layers:
            layer = self.region["layers"][name]
            parts, kinds = [], []
            for source in layer["sources"]:
                frame = geopandas.read_file(self.folder / source["file"], layer=source.get("layer")).to_crs(
                    4326
                )
                frame = frame[_standing(frame, source)]
                parts.append(shapely.make_valid(frame.geometry.to_numpy()))
                column = source.get("class_field")
                raw = frame[column].fillna("").astype(str).tolist() if column else [""] * len(frame)
                walk = layer.get("crosswalk", {})
                kinds += [walk.get(v.strip(), walk.get("*", v.strip())) for v in raw]
            self._layers[name] = (np.concatenate(parts), kinds)
        found: tuple[Any, list[str]] = self._layers[name]
        return found

    def _chosen(self, name: str, classes: list[str] | None, *, unclassed: bool) -> Any:
        geometries, kinds = self._features(name)
        if classes is None:
            return geometries
        return geometries[[k in classes or (unclassed and not k) for k in kinds]]

    def _nearest_m(self, name: str, classes: list[str] | None, site: Place) -> float:
        near = self._chosen(name, classes, unclassed=True)
        x, y = site.longitude, site.latitude
        box = shapely.box(x - 0.02, y - 0.015, x + 0.02, y + 0.015)
        near = near[shapely.intersects(near, box)]
        if shapely.contains_xy(near, site.longitude, site.latitude).any():
            return 0.0
        xy = shapely.get_coordinates(shapely.segmentize(shapely.intersection(near, box), 3 / _METRES))
        rough = np.hypot(
            (xy[:, 0] - site.longitude) * np.cos(np.radians(site.latitude)), xy[:, 1] - site.latitude
        )
        return min((_geodesic_m(site, *xy[i]) for i in np.argsort(rough)[:5]), default=np.inf)

    def _holds(self, name: str, classes: list[str] | None, site: Place) -> bool:
        areas = self._chosen(name, classes, unclassed=False)
        return bool(shapely.intersects_xy(areas, site.longitude, site.latitude).any())


def _in_force(permit: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield the clauses of the version in force on the local day of release (the time's own date)."""
    day = RELEASE.date().isoformat()
    for version in permit["versions"]:
        if str(version["valid_from"]) <= day <= str(version.get("valid_to") or "9999"):
            yield from version.get("conditions", ())


def _standing(frame: Any, source: dict[str, Any]) -> Any:
    """Return which features may stand on the day of release; a date that says nothing is left standing."""
    day, keep = RELEASE.date().isoformat(), np.ones(len(frame), dtype=bool)
    for field, late in (("valid_from_field", True), ("valid_to_field", False)):
        if source.get(field):
            text = frame[source[field]].astype(str).str.strip().str.replace("/", "-").str.slice(0, 10)
            dated = text.str.fullmatch(r"\d{4}-\d{2}-\d{2}").to_numpy()
            out = (text > day).to_numpy() if late else (text < day).to_numpy()
            keep &= ~(dated & out)
    keep &= ~(frame.geometry.isna() | frame.geometry.is_empty).to_numpy()
    return keep


def _geodesic_m(site: Place, lon: float, lat: float) -> float:
    return float(Geodesic.WGS84.Inverse(site.latitude, site.longitude, lat, lon)["s12"])
