"""The ground as of one day, and the case it is asked about."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import product
from typing import Any, cast

import numpy as np
import numpy.typing as npt
import shapely

from tussock.geodesy import Floats, Plane
from tussock.ground.areas import AreaSet, dissolved, joined
from tussock.ground.features import Features, kept_with, polygons_of
from tussock.ground.region import Layer, Region
from tussock.names import NATURAL_CLASSES
from tussock.permit.consents import Consent
from tussock.position import Position
from tussock.species.intake import Animal

SITE_RADIUS_M = 30.0
"""Radius of a planned site [m]: nobody stands on a coordinate (design choice of this project)."""
DECIMALS = 7
"""Decimals of a candidate's degrees; it is measured where it is written."""
NATURAL = frozenset(NATURAL_CLASSES)
_NOWHERE_M = 1e8
"""Farther off than any place of a plane [m]."""


@dataclass(frozen=True, eq=False)
class Places:
    """Positions to measure at, together.

    Attributes
    ----------
    lon, lat
        WGS 84 degrees, shape (n,).
    x, y
        The same in the plane [m].
    radius_m
        Containing radius [m], one for all; one each, shape (n,), where :func:`discs` made them.
    """

    lon: Floats
    lat: Floats
    x: Floats
    y: Floats
    radius_m: float

    def __len__(self) -> int:
        return len(self.lon)

    def taken(self, mask: npt.NDArray[np.bool_]) -> Places:
        """Return the places where the mask is true."""
        radius = self.radius_m if np.ndim(self.radius_m) == 0 else cast(Any, self.radius_m)[mask]
        return Places(self.lon[mask], self.lat[mask], self.x[mask], self.y[mask], radius)

    def one(self, i: int) -> Places:
        """Return one of the places."""
        radius = float(np.broadcast_to(self.radius_m, len(self))[i])
        lon, lat, x, y = (v[i : i + 1] for v in (self.lon, self.lat, self.x, self.y))
        return Places(lon, lat, x, y, radius)

    @cached_property
    def points(self) -> npt.NDArray[np.object_]:
        """The positions as points in the plane."""
        return np.asarray(shapely.points(self.x, self.y), dtype=object)


def places(lon: Floats | float, lat: Floats | float, *, radius_m: float, plane: Plane) -> Places:
    """Return positions given in degrees."""
    lon, lat = np.atleast_1d(np.asarray(lon, float)), np.atleast_1d(np.asarray(lat, float))
    # 90° from its axis the plane has no place for a point of the equator, such as 0, 0 of one at 90° E
    x, y = (np.nan_to_num(v, posinf=_NOWHERE_M, neginf=-_NOWHERE_M) for v in plane.project(lon, lat))
    return Places(lon, lat, x, y, radius_m)


def discs(at: Sequence[Position], *, plane: Plane) -> Places:
    """Return positions with a radius of each its own, to be measured at together."""
    radii = np.array([p.radius_m for p in at])
    lon, lat = np.array([p.longitude for p in at]), np.array([p.latitude for p in at])
    return places(lon, lat, radius_m=cast(float, radii), plane=plane)


def candidates(x: Floats, y: Floats, *, radius_m: float, plane: Plane) -> Places:
    """Return cell centres, moved to the degrees they are written with."""
    lon, lat = plane.unproject(x, y)
    return places(np.round(lon, DECIMALS), np.round(lat, DECIMALS), radius_m=radius_m, plane=plane)


@dataclass(frozen=True)
class EarlierRelease:
    """A release already made, as data.

    ``other_name`` is what it was called when it was let go, where that is another species than its capture.
    """

    longitude: float
    latitude: float
    radius_m: float
    instant: datetime
    scientific_name: str
    individual_count: int
    consent_reference: str = ""
    other_name: str = ""


@dataclass(frozen=True, eq=False)
class Case:
    """What clauses are judged about.

    Attributes
    ----------
    capture
        Where the animal was taken.
    released
        The actual instant of release, or the earliest of the planned ones.
    day
        Its local date: features in force then count.
    earlier
        Releases in the book before.
    no_book
        Whether nobody said what was released before: ``earlier`` has the plan's own sites at most.
    consents
        The consent register.
    no_register
        Whether nobody said which consents there are: in a record none then means nothing.
    until, until_day
        The latest of the planned instants and its local date; ``None``: the same as the earliest.
    captured, capture_day, capture_last
        When the animal was taken, and its local date; ``None`` where nothing of it is asked. The latest
        where the permits' zones differ in it; ``None``: the same.
    trap_checked
        When the trap was checked; ``None`` where it is not recorded.
    """

    capture: Position
    animal: Animal
    released: datetime
    day: date
    earlier: tuple[EarlierRelease, ...] = ()
    consents: tuple[Consent, ...] = ()
    until: datetime | None = None
    until_day: date | None = None
    captured: datetime | None = None
    capture_day: date | None = None
    capture_last: date | None = None
    trap_checked: datetime | None = None
    no_book: bool = False
    no_register: bool = False

    @property
    def last(self) -> datetime:
        """The latest instant of release."""
        return self.until or self.released

    @cached_property
    def days(self) -> tuple[date, ...]:
        """The local dates that the release may fall on, in order."""
        last = self.until_day or self.day
        return tuple(self.day + timedelta(days=n) for n in range((last - self.day).days + 1))

    def consents_in_force(self) -> tuple[Consent, ...]:
        """Return the consents that hold on every day of the release and for every species it may be."""
        return self._in_force

    @cached_property
    def _in_force(self) -> tuple[Consent, ...]:
        names = self.animal.names
        return tuple(
            c
            for c in self.consents
            if all(c.in_force(day, species=name) for day in self.days for name in names)
        )


@dataclass(frozen=True, eq=False)
class Scene:
    """A region as of the day, or days, of a case.

    A *state* of a layer is what may have stood there on one day. A scene reads one state of each layer;
    :meth:`views` gives the scenes for all of them, and what is measured is the hull over those.
    """

    region: Region
    case: Case
    _made: dict[Any, Any] = field(default_factory=dict)
    _states: Mapping[str, Features] = field(default_factory=dict)
    _layers: dict[str, Layer] = field(default_factory=dict)
    _shared: dict[Any, Any] = field(default_factory=dict)
    _captures: Places | None = None
    _ahead: Mapping[str, Callable[[], Any]] = field(default_factory=dict)

    @property
    def plane(self) -> Plane:
        """The region's plane."""
        return self.region.plane

    @cached_property
    def taking(self) -> Scene:
        """The same on the day of the capture; itself where that is the day of release."""
        day = self.case.capture_day or self.case.day
        case = replace(self.case, day=day, until_day=self.case.capture_last)
        return self if case.days == self.case.days else self._alike(case, {})

    def of_animal(self, animal: Animal) -> Scene:
        """Return the same scene for another animal."""
        return self._alike(replace(self.case, animal=animal), self._states)

    def _alike(self, case: Case, states: Mapping[str, Features]) -> Scene:
        return Scene(self.region, case, {}, states, self._layers, self._shared, self._captures)

    @cached_property
    def capture(self) -> Places:
        """The place of capture; in a scene for several cases alike the place of each."""
        if self._captures is not None:
            return self._captures
        c = self.case.capture
        return places(c.longitude, c.latitude, radius_m=c.radius_m, plane=self.plane)

    def features(self, layer: str, classes: frozenset[str] | None = None) -> Features:
        """Return the features of a layer that are in force on the day."""
        found: Features = self.made(("features", layer, classes), lambda: self._state(layer).of(classes))
        return found

    def _state(self, layer: str) -> Features:
        """Return the state of a layer that this scene reads."""
        return self._states[layer] if layer in self._states else self.states(layer)[0]

    def states(self, layer: str) -> tuple[Features, ...]:
        """Return what may have stood on the days of the release."""
        days = self.case.days
        found: tuple[Features, ...] = self.shared(
            ("states", layer, days), lambda: self._layer(layer).states(days)
        )
        return found

    def views(self, layers: Iterable[str]) -> tuple[Scene, ...]:
        """Return the scene for every state that some layers may have been in; itself where there is one."""
        read = [name for name in layers if self.region.has(name)]
        each = [self.states(name) for name in read]
        if all(len(states) == 1 for states in each):
            return (self,)
        made: tuple[Scene, ...] = self.made(
            ("views", *read),
            lambda: tuple(
                self._alike(self.case, dict(zip(read, chosen, strict=True))) for chosen in product(*each)
            ),
        )
        return made

    def _layer(self, name: str) -> Layer:
        """Return a layer, as it was when the scene first asked: one plan sees one state of the files."""
        if name not in self._layers:
            self._layers.setdefault(name, self.region.layer(name))
        return self._layers[name]

    @property
    def layers_read(self) -> tuple[Layer, ...]:
        """The feature layers that were asked for so far, by name."""
        return tuple(self._layers[name] for name in sorted(self._layers.copy()))

    def extent(self, layer: str) -> AreaSet:
        """Return the polygon inside which the layer is known to be complete."""
        return self._layer(layer).extent

    def error_m(self, layer: str) -> float:
        """Return the largest position error [m] of the layer's features."""
        most: float = self.shared(
            ("error", layer), lambda: float(self._layer(layer).features.error_m.max(initial=0.0))
        )
        return most

    def areas(
        self, layer: str, classes: frozenset[str] | None = None, spared: frozenset[str] = frozenset()
    ) -> AreaSet:
        """Return a layer's areas as one dissolved set; kept with the layer, so that it is made once."""
        found = self.features(layer, classes).without(spared)
        # habitat comes in pieces that match already
        make = joined if layer == "habitat" else dissolved
        whole: AreaSet = kept_with(found, "dissolved", lambda: make(polygons_of(found.geometries)))
        return whole

    def made(self, key: Any, make: Any) -> Any:
        """Return what was made under a key for this scene, made at first."""
        if key not in self._made:
            make = self._ahead.get(key, make) if self._ahead else make
            self._made.setdefault(key, make())  # of two threads at once the first one's stands
        return self._made[key]

    def shared(self, key: Any, make: Any) -> Any:
        """Return what was made under a key for all scenes of one job, which the case does not enter."""
        if key not in self._shared:
            self._shared.setdefault(key, make())
        return self._shared[key]
