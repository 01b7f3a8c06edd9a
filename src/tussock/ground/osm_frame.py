"""The box, the plane and the date of a region built from OpenStreetMap."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from tussock.errors import InputError
from tussock.geodesy import Plane, distance_m
from tussock.ground.osm_pbf import Box, PbfFile

WIDEST_M = 150_000.0
"""Widest region on one plane [m] (the plane's scale errs 1e-4 at 90 km from its axis)."""
CELL_M = 10.0
_GIVE_EXTENT = "give --extent FILE with the outline of the district as a polygon"


def working_box(pbf: Path, file: PbfFile, polygon: Any) -> Box:
    """Return the box a region is made for: the header's, or the extent's where that is missing or too wide.

    Raises
    ------
    InputError
        When there is neither, or the box is none, or wider than one plane allows.
    """
    box = _chosen_box(pbf, file.box, polygon)
    west, south, east, north = box
    if not (-180 <= west < east <= 180 and -85 <= south < north <= 85):
        raise InputError(
            f"its box {west:.4f}, {south:.4f}, {east:.4f}, {north:.4f} is not one (west, south, east, north)",
            where=str(pbf),
            allowed="west < east within ±180, south < north within ±85",
            fix=_GIVE_EXTENT,
        )
    if width_m(box) > WIDEST_M:
        raise InputError(
            f"it is {width_m(box) / 1000:,.0f} km wide",
            where=str(pbf),
            allowed=f"{WIDEST_M / 1000:.0f} km on one plane",
            fix=f"cut a smaller extract, or {_GIVE_EXTENT}",
        )
    return box


def _chosen_box(pbf: Path, header: Box | None, polygon: Any) -> Box:
    if header is not None and (polygon is None or width_m(header) <= WIDEST_M):
        return header
    if polygon is not None:
        west, south, east, north = (float(v) for v in shapely.bounds(polygon))
        return west, south, east, north
    raise InputError(
        "its header has no box, so where it is complete is not known", where=str(pbf), fix=_GIVE_EXTENT
    )


def width_m(box: Box) -> float:
    """Return the longer side of a box [m], east–west where it is widest."""
    west, south, east, north = box
    flattest = 0.0 if south <= 0 <= north else min(abs(south), abs(north))
    middle = (west + east) / 2
    across = 2 * float(distance_m(west, flattest, middle, flattest))
    return max(across, float(distance_m(middle, south, middle, north)))


def new_plane(box: Box) -> dict[str, float]:
    """Return the [plane] of a new region: the centre of the box, rounded to a tenth of a degree."""
    west, south, east, north = box
    return {
        "longitude": round((west + east) / 2, 1) + 0.0,  # + 0.0 turns −0.0 into 0.0
        "latitude": round((south + north) / 2, 1) + 0.0,
        "cell_m": CELL_M,
    }


def checked_plane(spec: Mapping[str, float], box: Box, *, out: Path) -> Plane:
    """Return the plane of a [plane] table.

    Raises
    ------
    InputError
        When it is the plane of another district.
    """
    plane = Plane(spec["longitude"], spec["latitude"])
    west, south, east, north = box
    away = float(distance_m(plane.longitude, plane.latitude, (west + east) / 2, (south + north) / 2))
    if away > WIDEST_M / 2:
        raise InputError(
            f"the region there is centred {away / 1000:,.0f} km from this extract",
            where=f"--out {out}",
            allowed="an extract of the same district, since a region keeps its plane",
            fix="choose another --out",
        )
    return plane


def date_of_data(given: date | None, file: PbfFile, newest: np.datetime64 | None) -> tuple[date | None, str]:
    """Return the as-of date and where it comes from."""
    if given is not None:
        return given, "as given"
    if file.replicated is not None:
        return file.replicated.date(), "the file's replication date"
    if newest is not None:
        day: date = newest.astype("datetime64[D]").item()
        return day, "the newest edit in the file"
    return None, "the file has no dates; give --as-of"
