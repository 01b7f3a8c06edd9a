"""Feature layers: geometries in the region's plane with what is known of each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely import STRtree

Geometries = npt.NDArray[np.object_]
Texts = npt.NDArray[np.object_]
Days = npt.NDArray[np.datetime64]
OPEN_FROM, OPEN_TO = np.datetime64("0001-01-01", "D"), np.datetime64("9999-12-31", "D")


PER_FEATURE = (
    "geometries",
    "classes",
    "names",
    "ids",
    "tenures",
    "homes",
    "priority",
    "valid_from",
    "valid_to",
    "error_m",
)
"""The arrays that hold one value per feature."""


@dataclass(frozen=True, eq=False)
class Features:
    """A feature layer, or part of one.

    Attributes
    ----------
    name
        The layer's.
    geometries
        Shapely geometries in the plane [m], shape (n,).
    classes, names, ids, tenures
        Text per feature, ``""`` where none.
    priority
        Which of two overlapping areas wins: the higher.
    valid_from, valid_to
        Days in force, inclusive; open ends are year 1 and 9999.
    error_m
        How far each feature may lie from where it is drawn [m].
    """

    name: str
    geometries: Geometries
    classes: Texts
    names: Texts
    ids: Texts
    tenures: Texts
    homes: npt.NDArray[np.float64]
    priority: npt.NDArray[np.int64]
    valid_from: Days
    valid_to: Days
    error_m: npt.NDArray[np.float64]
    error_reason: str = "layer"
    _kept: dict[Any, Any] = field(default_factory=dict, repr=False)

    def __len__(self) -> int:
        return len(self.geometries)

    def taken(self, mask: npt.NDArray[np.bool_]) -> Features:
        """Return the features where the mask is true; the layer itself where all are."""
        return self if mask.all() else self.picked(np.flatnonzero(mask))

    def picked(self, index: npt.NDArray[np.int64], *, geometries: Geometries | None = None) -> Features:
        """Return features by their index, which may repeat, with geometries of their own if given."""
        arrays = {name: getattr(self, name)[index] for name in PER_FEATURE}
        if geometries is not None:
            arrays["geometries"] = geometries
        return replace(self, **arrays, _kept={})

    def text(self, column: str) -> npt.NDArray[np.str_]:
        """Return a column of text as an array that numpy compares at once; made once.

        One by one in Python: numpy's own conversion of objects loses a Ctrl-C that falls into it.
        """
        key = ("text", column)
        if key not in self._kept:
            self._kept.setdefault(key, np.array([str(v) for v in getattr(self, column)], dtype=np.str_))
        found: npt.NDArray[np.str_] = self._kept[key]
        return found

    @cached_property
    def dated(self) -> npt.NDArray[np.bool_]:
        """Which features say since when they stand, shape (n,)."""
        return np.asarray(self.valid_from != OPEN_FROM)

    def on(self, day: date, *, undated: bool = True) -> Features:
        """Return the features in force on a day; kept, so that indexes are built once.

        ``undated`` ``False`` leaves out those of which it is not known since when they stand.
        """
        if not undated:
            return self._part("dated", lambda: self.dated).on(day)
        d = np.datetime64(day, "D")
        bounds = np.concatenate([self.valid_from, self.valid_to + np.timedelta64(1, "D")])
        span = (int((bounds <= d).sum()), "day")  # between two bounds the same features are in force
        return self._part(span, lambda: (self.valid_from <= d) & (d <= self.valid_to))

    def of(self, classes: frozenset[str] | None) -> Features:
        """Return the features that are, or may be, of these classes; ``None`` takes all.

        A feature without a class may be of any.
        """
        if classes is None:
            return self
        return self._part(classes, lambda: np.isin(self.text("classes"), ["", *sorted(classes)]))

    def surely_of(self, classes: frozenset[str]) -> Features:
        """Return the features that are of these classes."""
        return self._part(("surely", classes), lambda: np.isin(self.text("classes"), sorted(classes)))

    def without(self, ids: frozenset[str]) -> Features:
        """Return the features whose id is not among ``ids``."""
        if not ids:
            return self
        return self._part(("without", ids), lambda: ~np.isin(self.text("ids"), sorted(ids)))

    def _part(self, key: Any, mask: Callable[[], npt.NDArray[np.bool_]]) -> Features:
        """Return the features of a mask, which is worked out only where the part is not kept yet."""
        if key not in self._kept:
            # of two threads that make it at once the first one's stands: surfaces go by identity
            self._kept.setdefault(key, self.taken(mask()))
        part: Features = self._kept[key]
        return part

    @cached_property
    def tree(self) -> STRtree:
        """Spatial index over the geometries."""
        return STRtree(self.geometries)

    @cached_property
    def by_error(self) -> tuple[tuple[float, Features], ...]:
        """The features grouped by their own error [m]: the nearest of each group decides together."""
        levels = np.unique(self.error_m)
        if len(levels) <= 1:
            return ((float(levels[0]) if len(levels) else 0.0, self),)
        return tuple((float(e), self._at_error(float(e))) for e in levels)

    def _at_error(self, error_m: float) -> Features:
        return self._part(("error", error_m), lambda: self.error_m == error_m)


def kept_with(holder: Any, key: Any, make: Any) -> Any:
    """Return what was made from features or areas under a key, made at first; it lives as long as they do."""
    if key not in holder._kept:
        holder._kept.setdefault(key, make())
    return holder._kept[key]


def features(
    name: str,
    geometries: Sequence[Any] | Geometries,
    *,
    classes: Sequence[str] | None = None,
    error_m: float = 0.0,
) -> Features:
    """Return a plain feature layer: no dates, ids or names."""
    n = len(geometries)
    array = np.empty(n, dtype=object)
    array[:] = geometries
    blank = np.full(n, "", dtype=object)
    return Features(
        name=name,
        geometries=array,
        classes=np.array(classes, dtype=object) if classes is not None else blank,
        names=blank,
        ids=blank,
        tenures=blank,
        homes=np.ones(n),
        priority=np.zeros(n, dtype=np.int64),
        valid_from=np.full(n, OPEN_FROM),
        valid_to=np.full(n, OPEN_TO),
        error_m=np.full(n, float(error_m)),
    )


def polygons_of(geometries: Geometries) -> Geometries:
    """Return the polygons in an array of geometries, multi-polygons and collections taken apart."""
    parts: Geometries = shapely.get_parts(shapely.get_parts(geometries))
    polygons: Geometries = parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]
    return polygons
