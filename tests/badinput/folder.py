"""A user's folder with a region in it, written file by file so that each can be spoilt."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pyogrio.raw
import pytest
import shapely

from tussock.errors import InputError
from tussock.ground.region import Region, open_region

LON, LAT = 147.6, -42.1
GROUND = shapely.box(LON - 0.05, LAT - 0.05, LON + 0.05, LAT + 0.05)
SQUARE = shapely.box(LON, LAT, LON + 0.001, LAT + 0.001)
"""About 83 m by 111 m."""
OTHER = shapely.box(LON + 0.02, LAT, LON + 0.021, LAT + 0.001)
PLANE = f"longitude = {LON}\nlatitude = {LAT}\n"


def refused(work: Callable[[], object], *words: str) -> str:
    """Hold that the work is refused (exit 3) in words: what was found, and what is allowed or what to do."""
    with pytest.raises(InputError) as caught:
        work()
    error = caught.value
    assert type(error).exit_code == 3
    said = str(error)
    assert "Allowed:" in said or "Do:" in said, said
    assert all(c.isprintable() or c == "\n" for c in said), repr(said)
    for word in words:
        assert word in said, said
    return said


def write_features(
    path: Path,
    geometries: Sequence[Any],
    fields: Mapping[str, Any] | None = None,
    *,
    crs: str | None = "EPSG:4326",
    **how: Any,
) -> None:
    """Write geometries (or raw WKB) with fields to a file of features."""
    wkb = np.empty(len(geometries), dtype=object)
    wkb[:] = [g if isinstance(g, bytes) or g is None else shapely.to_wkb(g) for g in geometries]
    columns = {k: np.asarray(v, dtype=_dtype(v)) for k, v in (fields or {}).items()}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a file without CRS is meant here
        pyogrio.raw.write(
            path, wkb, list(columns.values()), list(columns), crs=crs, **{"geometry_type": "Unknown"} | how
        )


def _dtype(values: Sequence[Any]) -> Any:
    if isinstance(values, np.ndarray):
        return values.dtype
    return object if any(isinstance(v, str) or v is None for v in values) else None


def write_raster(
    path: Path,
    values: npt.NDArray[Any],
    *,
    crs: Any = "EPSG:4326",
    transform: Any = None,
    nodata: float | None = None,
    scale: float = 1.0,
    offset: float = 0.0,
) -> None:
    """Write a GeoTIFF; without a transform it covers the ground, north up."""
    import rasterio

    rows, columns = values.shape
    given = transform if transform is not None else transform_over(GROUND.bounds, columns=columns, rows=rows)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a raster without georeference is meant here
        with rasterio.open(
            path, "w", driver="GTiff", height=rows, width=columns, count=1, dtype=values.dtype, crs=crs,
            transform=given, nodata=nodata,
        ) as out:  # fmt: skip
            out.write(values, 1)
            out.scales, out.offsets = (scale,), (offset,)


def transform_over(bounds: tuple[float, float, float, float], *, columns: int, rows: int) -> Any:
    """Return the transform of a raster over a box, north up."""
    from rasterio.transform import Affine

    west, south, east, north = bounds
    return Affine((east - west) / columns, 0, west, 0, (south - north) / rows, north)


@dataclass
class Folder:
    """A region of one habitat polygon, to which layers are added."""

    path: Path
    parts: list[str] = field(default_factory=list)
    top: str = ""
    plane: str = PLANE

    def __post_init__(self) -> None:
        write_features(self.path / "habitat.gpkg", [GROUND], {"kind": ["forest"]})

    def features(
        self,
        name: str,
        geometries: Sequence[Any],
        fields: Mapping[str, Any] | None = None,
        *,
        file: str = "",
        source: str = "",
        **how: Any,
    ) -> Folder:
        """Add a feature layer."""
        file = file or f"{name}.gpkg"
        write_features(self.path / file, geometries, fields, **how)
        return self.listed(name, file, source)

    def listed(self, name: str, file: str, source: str = "") -> Folder:
        """Add a feature layer whose file the test writes itself."""
        self.parts.append(f'[layers.{name}]\n[[layers.{name}.sources]]\nfile = "{file}"\n{source}\n')
        return self

    def raster(self, name: str, values: npt.NDArray[Any], *, unit: str, **how: Any) -> Folder:
        """Add a raster layer."""
        write_raster(self.path / f"{name}.tif", values, **how)
        return self.raster_listed(name, f"{name}.tif", unit)

    def raster_listed(self, name: str, file: str, unit: str) -> Folder:
        """Add a raster layer whose file the test writes itself."""
        self.parts.append(f'[layers.{name}]\nraster = "{file}"\nunit = "{unit}"\n')
        return self

    def region(self) -> Region:
        """Write region.toml and open it."""
        text = f'name = "test"\n{self.top}\n[plane]\n{self.plane}\n' + "".join(self.parts)
        if "[layers.habitat]" not in text:
            text += (
                '[layers.habitat]\n[[layers.habitat.sources]]\nfile = "habitat.gpkg"\nclass_field = "kind"\n'
            )
        (self.path / "region.toml").write_text(text, encoding="utf-8")
        return open_region(self.path)

    def refused(self, *words: str) -> str:
        """Hold that the region is refused in these words."""
        return refused(lambda: self.region().check(), *words)

    def notes(self) -> str:
        """Return what checking the region says."""
        return "\n".join(self.region().check())
