"""Random small scenes for hypothesis: features that sit on cell edges and centres, hide in slivers,
overlap, reach far out of the window, and knowledge that ends in the middle.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import hypothesis.strategies as st
import numpy as np
import shapely
from hypothesis.strategies import DrawFn
from shapely import Geometry

from tests.support import cases
from tests.support.regions import Ground, MadeRegion, Thing, made_region
from tussock.geodesy import Floats, Plane
from tussock.ground.lattice import Window, window_around
from tussock.measure.scene import EarlierRelease, Places, Scene, candidates
from tussock.names import HABITAT_CLASSES, ROAD_CLASSES
from tussock.permit.consents import Consent

PLANES = (Plane(147.6, -42.1), Plane(13.3, 53.5), Plane(26.9, 0.02), Plane(-150.0, 68.0))
NUDGES_M = (0.0, 0.0, 0.0, 1e-9, -0.004, 0.004, 0.37)
"""What is added to coordinates that otherwise lie on quarters of a cell."""
HOMES_M = ((0, 0), (0, 0), (-30, 20), (70_000, -40_000), (-74_000, 55_000))
"""Where in the region the scene lies [m, rounded to whole cells]."""
KNOWN_M = 20_000.0
"""How far what is known reaches from a scene, where it does not end in it [m]."""
OLD, NEW = date(2015, 6, 30), date(2026, 11, 20)


@dataclass(frozen=True, repr=False)
class Drawn:
    """A scene as drawn; printed as short as it can be rebuilt from.

    Attributes
    ----------
    capture
        Where in the plane [m].
    earlier
        Earlier releases: x, y [m], radius [m], days before, individuals, of the same species.
    """

    ground: Ground
    capture: tuple[float, float]
    radius_m: float
    site_radius_m: float
    reach_m: float
    earlier: tuple[tuple[float, float, float, int, int, bool], ...] = ()
    consents: tuple[Consent, ...] = ()

    def __repr__(self) -> str:
        said = [f"plane={self.ground.plane}, cell_m={self.ground.cell_m}, capture={self.capture}"]
        said += [f"radius_m={self.radius_m}, site_radius_m={self.site_radius_m}, reach_m={self.reach_m}"]
        said += [f"earlier={self.earlier}, consents={[c.id for c in self.consents]}"]
        for name, found in self.ground.layers.items():
            for t in found:
                about = [t.kind, t.id, t.error_m, f"{t.valid_from}–{t.valid_to}", t.priority]
                said.append(f"{name}: {', '.join(map(str, about))}: {shapely.to_wkt(t.geometry)}")
        said += [
            f"known {n or 'all'}: {[shapely.to_wkt(g) for g in gs]}" for n, gs in self.ground.known.items()
        ]
        return "Drawn(\n    " + "\n    ".join(said) + ")"

    def region(self) -> MadeRegion:
        """Return the ground as a region."""
        return made_region(self.ground)

    def scene(self, region: MadeRegion | None = None, *, radius_m: float | None = None) -> Scene:
        """Return the scene of the capture, with another radius where one is given."""
        region = region or self.region()
        return cases.scene(
            region,
            *self.capture,
            radius_m=self.radius_m if radius_m is None else radius_m,
            earlier=self.releases(region),
            consents=self.consents,
        )

    def releases(self, region: MadeRegion) -> tuple[EarlierRelease, ...]:
        """Return the earlier releases as the planner takes them."""
        out = []
        for x, y, radius, days, count, same in self.earlier:
            lon, lat = region.plane.unproject(x, y)
            name = "Invented species" if same else "Another species"
            when = cases.RELEASED - timedelta(days=days)
            out.append(EarlierRelease(float(lon), float(lat), radius, when, name, count))
        return tuple(out)

    def window(self) -> Window:
        """Return the window round the capture."""
        return window_around(*self.capture, reach_m=self.reach_m, cell_m=self.ground.cell_m)

    def cells(self, window: Window) -> Places:
        """Return every cell of a window as it would be measured."""
        x, y = np.meshgrid(window.x, window.y)
        return candidates(x.ravel(), y.ravel(), radius_m=self.site_radius_m, plane=self.ground.plane)


def _turned(geometry: Geometry, degrees: float) -> Geometry:
    a = math.radians(degrees)
    turn = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    return shapely.transform(geometry, lambda xy: xy @ turn.T)


@st.composite
def areas(draw: DrawFn, *, cell: float, span: int) -> Geometry:
    """Return a polygon on quarters of cells: box, tilted box, ring, sliver or star."""
    q = cell / 4
    x, y = (draw(st.integers(-span, span)) * q for _ in range(2))
    w, h = (draw(st.integers(1, span)) * q for _ in range(2))
    kind = draw(st.sampled_from(("box", "box", "tilted", "ring", "sliver", "star")))
    shape: Geometry = shapely.box(x, y, x + w, y + h)
    if kind == "sliver":
        shape = shapely.box(x, y, x + draw(st.sampled_from((0.05, 0.9, 3.0))), y + h)
    if kind == "ring" and min(w, h) > 2 * q:
        shape = shapely.difference(shape, shapely.box(x + q, y + q, x + w - q, y + h - q))
    if kind == "star":
        radii = draw(st.lists(st.integers(1, span), min_size=3, max_size=7))
        turns = np.arange(len(radii)) * 2 * np.pi / len(radii)
        shape = shapely.Polygon(
            [(x + r * q * math.cos(t), y + r * q * math.sin(t)) for r, t in zip(radii, turns, strict=True)]
        )
    if kind in ("tilted", "sliver"):
        shape = _turned(shape, draw(st.sampled_from((0, 90, 33, 45, 71))))
    dx, dy = draw(st.sampled_from(NUDGES_M)), draw(st.sampled_from(NUDGES_M))
    return shapely.transform(shape, lambda xy: xy + np.array([dx, dy]))


@st.composite
def lines(draw: DrawFn, *, cell: float, span: int) -> Geometry:
    """Return a line on quarters of cells, at times reaching far out of the scene."""
    q = cell / 4
    n = draw(st.integers(2, 5))
    xy = [tuple(draw(st.integers(-span, span)) * q for _ in range(2)) for _ in range(n)]
    if draw(st.booleans()):
        bearing = draw(st.integers(0, 35)) * math.pi / 18
        far = draw(st.sampled_from((3e3, 9e4)))
        xy.append((far * math.cos(bearing), far * math.sin(bearing)))
    nudge = draw(st.sampled_from(NUDGES_M))
    line = shapely.LineString([(x + nudge, y - nudge) for x, y in xy])
    return line if line.length > 0 else shapely.LineString([(0, 0), (q, q)])


@st.composite
def points(draw: DrawFn, *, cell: float, span: int) -> Geometry:
    """Return a point on quarters of cells."""
    q = cell / 4
    x, y = (draw(st.integers(-span, span)) * q + draw(st.sampled_from(NUDGES_M)) for _ in range(2))
    return shapely.Point(x, y)


@st.composite
def things(
    draw: DrawFn,
    *,
    cell: float,
    span: int,
    kinds: Sequence[str] = ("",),
    only_areas: bool = False,
    most: int = 4,
    dated: bool = True,
) -> tuple[Thing, ...]:
    """Return features of a layer: of mixed or areal kind, with classes, dates and one layer error."""
    error = draw(st.sampled_from((0.0, 0.0, 3.0, 17.5)))
    shape: st.SearchStrategy[Geometry] = areas(cell=cell, span=span)
    if not only_areas:
        shape = st.one_of(shape, lines(cell=cell, span=span), points(cell=cell, span=span))
    out = []
    for n in range(draw(st.integers(0, most))):
        geometry = draw(shape)
        own = 10.0 if shapely.get_dimensions(geometry) == 0 else 0.0
        dates = (
            draw(st.sampled_from(((None, None), (None, None), (None, OLD), (NEW, None))))
            if dated
            else (None, None)
        )
        kind, priority = draw(st.sampled_from(tuple(kinds))), draw(st.integers(0, 1))
        out.append(Thing(geometry, kind, f"{'abcdef'[n % 6]}", error + own, *dates, priority))
    return tuple(out)


@st.composite
def known(draw: DrawFn, *, cell: float, span: int, known_m: float) -> tuple[Geometry, ...]:
    """Return a known extent: everything, or polygons that end in the scene."""
    kind = draw(st.sampled_from(("all", "all", "box", "areas", "half")))
    if kind == "box":
        reach = draw(st.integers(1, 2 * span)) * cell / 4
        return (shapely.box(-reach, -reach, reach * 1.3, reach),)
    if kind == "half":
        edge = draw(st.integers(-span, span)) * cell / 4
        return (shapely.box(-known_m, -known_m, edge, known_m),)
    if kind == "areas":
        parts = draw(st.lists(areas(cell=cell, span=span), min_size=1, max_size=2))
        return tuple(shapely.get_parts(shapely.union_all(parts)))
    return (shapely.box(-known_m, -known_m, known_m, known_m),)


def moved(ground: Ground, move: Callable[[Floats], Floats]) -> Ground:
    """Return the ground with every geometry put through a function of coordinates."""

    def placed(g: Geometry) -> Geometry:
        there: Geometry = shapely.transform(g, move)
        return there

    layers = {
        n: tuple(replace(t, geometry=placed(t.geometry)) for t in ts) for n, ts in ground.layers.items()
    }
    return replace(
        ground, layers=layers, known={n: [placed(g) for g in gs] for n, gs in ground.known.items()}
    )


@st.composite
def drawn(
    draw: DrawFn,
    *,
    cells: Sequence[float] = (10.0, 10.0, 13.7, 25.0, 50.0),
    reach_cells: int = 14,
    homes: Sequence[tuple[float, float]] = HOMES_M,
    planes: Sequence[Plane] = PLANES,
    radii: Sequence[float] = (0.5, 5.0, 30.0, 120.0),
    site_radii: Sequence[float] = (30.0, 30.0, 1.0, 55.0),
    known_m: float = KNOWN_M,
) -> Drawn:
    """Return a scene."""
    cell = draw(st.sampled_from(tuple(cells)))
    span = 6 * reach_cells
    shape: dict[str, Any] = {"cell": cell, "span": span}
    everywhere = Thing(shapely.box(-known_m, -known_m, known_m, known_m), "woodland", "z", priority=-1)
    ground_cover = draw(
        things(**shape, kinds=(*HABITAT_CLASSES[:7], "garden", "water"), only_areas=True, most=6)
    )
    layers: Mapping[str, tuple[Thing, ...]] = {
        "habitat": (*((everywhere,) if draw(st.booleans()) else ()), *ground_cover),
        "dwellings": draw(things(**shape)),
        "roads": draw(things(**shape, kinds=ROAD_CLASSES)),
        "barriers": draw(things(**shape, kinds=("river", "fence"), most=3)),
        "water": draw(things(**shape, most=2)),
        "excluded": draw(things(**shape, only_areas=True, most=3)),
        "protected": draw(things(**shape, only_areas=True, most=3)),
        "parcels": draw(things(**shape, only_areas=True, most=4)),
        "zones": draw(things(**shape, only_areas=True, most=3)),
    }
    extents = {name: draw(known(**shape, known_m=known_m)) for name in ("", "dwellings", "barriers")}
    ground = Ground(layers, extents, plane=draw(st.sampled_from(tuple(planes))), cell_m=cell)
    home = np.rint(np.array(draw(st.sampled_from(tuple(homes)))) / cell) * cell
    at = [draw(st.integers(-span, span)) * cell / 12 + draw(st.sampled_from(NUDGES_M)) for _ in range(2)]
    earlier = draw(
        st.lists(
            st.tuples(
                st.integers(-span, span).map(lambda k: k * cell / 4),
                st.integers(-span, span).map(lambda k: k * cell / 4),
                st.sampled_from((1.0, 30.0, 80.0)),
                st.integers(0, 800),
                st.integers(1, 4),
                st.booleans(),
            ),
            max_size=3,
        )
    )
    consents = [
        cases.consent("1", parcels="a|b"),
        cases.consent("2", parcels="b"),
        cases.consent("3", layer="protected", feature="a"),
    ]
    return Drawn(
        moved(ground, lambda xy: xy + home),
        (at[0] + home[0], at[1] + home[1]),
        draw(st.sampled_from(tuple(radii))),
        draw(st.sampled_from(tuple(site_radii))),
        reach_cells * cell,
        tuple((x + home[0], y + home[1], *rest) for x, y, *rest in earlier),
        tuple(consents[: draw(st.integers(0, 3))]),
    )
