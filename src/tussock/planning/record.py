"""What a plan comes to: sites with their reasons, areas ruled out, and the way on when there is none."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Plane
from tussock.ground.lattice import Window
from tussock.interval import Interval, Verdict
from tussock.measure.clauses import HOUSE_RULE
from tussock.measure.judging import ClauseResult

__all__ = [
    "HOUSE_RULE",
    "CaptureFacts",
    "ClauseResult",
    "CriterionScore",
    "Obstacle",
    "PermitFacts",
    "Plan",
    "Rasters",
    "Removed",
    "Site",
]


@dataclass(frozen=True)
class CriterionScore:
    """A criterion at a site: what was read, the suitability interval, weight and share.

    ``share`` is w ln s / Σ w ln s, the part of what is lost from 1; 0 for a perfect site.
    ``unit`` is that of ``value``: m, ha, or empty for fractions and counts.
    """

    name: str
    words: str
    value: Interval | None
    unit: str
    score: Interval
    weight: float
    share: float


@dataclass(frozen=True)
class Site:
    """An offered release site; distances [m] are between centres, intervals stand in ``clauses``.

    Attributes
    ----------
    release_from, release_to
        The planned time of release, ISO 8601 in the permit's zone: every clause of the clock is met
        throughout. ``deadline`` is until when they go on being met, ``deadline_of`` the clause that
        ends it; empty where none does within two days. ``leave_by`` is the latest departure for it.
    walk_min, drive_min
        By the estimate, without a road graph [min].
    lacking
        Parcels without a consent that its disc touches, as (parcel id, tenure).
    consents
        Consents that cover it, as (consent id, id of the ground), also those of which nobody counted how many
        animals are left; empty where a clause does not prove one.
    scored_for
        Of the species the animal may be, the one that the place suits least: ``score`` and ``criteria`` are
        for it. Empty where it is surely of one species.
    """

    rank: int
    longitude: float
    latitude: float
    radius_m: float
    score: float
    score_high: float
    distance_m: float
    bearing_deg: float
    dwelling_m: float | None
    peopled_m: float | None
    road_m: float | None
    habitat: str
    cover: float | None
    slope_deg: float | None
    patch_ha: float | None
    cover_bearing_deg: float | None
    stop_longitude: float | None
    stop_latitude: float | None
    stop_walk_m: float | None
    verdict: Verdict
    clauses: tuple[ClauseResult, ...]
    criteria: tuple[CriterionScore, ...]
    todo: tuple[str, ...]
    notes: tuple[str, ...] = ()
    walk_min: float | None = None
    drive_min: float | None = None
    release_from: str = ""
    release_to: str = ""
    deadline: str = ""
    deadline_of: str = ""
    leave_by: str = ""
    lacking: tuple[tuple[str, str], ...] = ()
    consents: tuple[tuple[str, str], ...] = ()
    scored_for: str = ""

    @property
    def _of_permits(self) -> tuple[ClauseResult, ...]:
        return tuple(c for c in self.clauses if not c.house and c.applies)

    @property
    def checked(self) -> int:
        """How many clauses of the permits are met by calculation; house rules do not count."""
        return sum(c.verdict is Verdict.MET for c in self._of_permits)

    @property
    def confirm(self) -> int:
        """How many mandatory clauses of the permits a person must see to."""
        return len(self.todo)

    @property
    def not_checked(self) -> int:
        """How many other clauses of the permits were not checked."""
        return sum(c.verdict is None for c in self._of_permits) - self.confirm

    @property
    def rules_met(self) -> int:
        """How many house rules are met by calculation."""
        return sum(c.verdict is Verdict.MET for c in self.clauses if c.house)


@dataclass(frozen=True)
class Removed:
    """How much of the circle a clause rules out [ha], low and high, and how much only it rules out.

    ``words`` is what the clause is read as, where ``text`` is the paper's.
    """

    id: str
    kind: str
    text: str
    source: str
    low_ha: float
    high_ha: float
    only_low_ha: float
    only_high_ha: float
    words: str = ""


@dataclass(frozen=True)
class Obstacle:
    """A single clause that stands in the way when nothing is left: by how much the best place misses it.

    ``alone`` is true when that place meets every other clause.
    """

    id: str
    kind: str
    text: str
    source: str
    shortfall: float | None
    unit: str
    longitude: float | None
    latitude: float | None
    alone: bool


@dataclass(frozen=True)
class Rasters:
    """What the map veils and shades; arrays are (rows, columns), row 0 southernmost.

    Attributes
    ----------
    ruled_out
        Per clause key ``source|id``: 0 met, 1 undecided at this grain, 2 ruled out.
    score
        Upper bound of the score; nan where ruled out or outside the circle.
    inside
        Cells of the circle.
    unknown
        Cells beyond the known extent, or unmapped ground.
    """

    window: Window
    plane: Plane
    inside: npt.NDArray[np.bool_]
    ruled_out: Mapping[str, npt.NDArray[np.uint8]]
    score: npt.NDArray[np.float32]
    unknown: npt.NDArray[np.bool_]


@dataclass(frozen=True)
class CaptureFacts:
    """The capture as it was planned for; ``trap_checked`` is empty where it is not recorded.

    ``others`` are the other species it may be, and ``danger`` is the strictest of all.
    """

    id: str
    time: str
    longitude: float
    latitude: float
    radius_m: float
    radius_assumed: bool
    scientific_name: str
    vernacular_name: str
    danger: str
    answers: Mapping[str, str]
    trap_checked: str = ""
    others: tuple[str, ...] = ()


@dataclass(frozen=True)
class PermitFacts:
    """A permit and its versions in force at the planned release and at the capture; empty when none is."""

    id: str
    holder: str
    authority: str
    version: str
    file: str
    version_at_capture: str = ""


@dataclass(frozen=True)
class ClockLine:
    """What a clause of the clock allows: spans of ISO 8601 local time in the hours ahead."""

    id: str
    source: str
    text: str
    spans: tuple[tuple[str, str], ...]
    within_h: float


@dataclass(frozen=True)
class ClockFacts:
    """The clock of a plan at the capture; sunrise and sunset are the next ones, empty where none comes."""

    sunrise: str
    sunset: str
    lines: tuple[ClockLine, ...]
    travel_assumed: bool


@dataclass(frozen=True)
class Plan:
    """The whole answer for one capture.

    Attributes
    ----------
    stop
        Sentences that must be read first; a plan with one shows no site.
    way_on
        What to do instead of a release, in sentences.
    warnings
        What is assumed, unknown or old.
    release_at
        The earliest planned release; each site has its own hours.
    needs_consent
        The nearest places that lack nothing but a consent: never ranked, listed apart.
    clock
        The sun and the clauses of the clock; ``None`` where no time was looked at.
    circle_m
        Radius of the circle searched [m]; ``circle_label`` names the clause it comes from.
    counts
        ``cells``, ``exact`` (exact evaluations) and the like.
    """

    capture: CaptureFacts
    permits: tuple[PermitFacts, ...]
    region: str
    release_at: str
    now: str
    circle_m: float
    circle_label: str
    sites: tuple[Site, ...]
    nearest: Site | None
    nearest_words: str
    removed: tuple[Removed, ...]
    obstacles: tuple[Obstacle, ...]
    animal_clauses: tuple[ClauseResult, ...]
    stop: tuple[str, ...]
    way_on: tuple[str, ...]
    warnings: tuple[str, ...]
    unmapped_ha: float
    sources: tuple[str, ...]
    parameters: Mapping[str, object]
    inputs: Mapping[str, str]
    counts: Mapping[str, int]
    missing_layers: tuple[str, ...] = ()
    needs_consent: tuple[Site, ...] = ()
    clock: ClockFacts | None = None
    rasters: Rasters | None = field(default=None, compare=False)

    @property
    def circle_ha(self) -> float:
        """Ground that was examined [ha]: the circle, or the part of it that lies inside the region."""
        cell = self.parameters.get("cell_m")
        if isinstance(cell, int | float) and self.counts.get("cells"):
            return self.counts["cells"] * cell * cell / 10_000
        return math.pi * self.circle_m**2 / 10_000

    @property
    def exit_code(self) -> int:
        """0 when a site is offered, 4 when a mandatory clause's layer is missing, else 1."""
        if self.sites:
            return 0
        return 4 if self.missing_layers else 1
