"""Records as columns: what the fast audit reads of them, one array per fact."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import IntEnum
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from tussock.geodesy import Floats
from tussock.interval import Verdict
from tussock.permit.record_answers import closers
from tussock.position import Position
from tussock.review.handling import RELEASED, Handling
from tussock.spans import posix
from tussock.species.animal import Animal

Codes = npt.NDArray[np.uint8]
Index = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]
Hands = tuple[tuple[str, ...], tuple[str, ...] | None]
_T = TypeVar("_T")


class Code(IntEnum):
    """A verdict as one byte; up to ``NOT_MET`` the larger is the worse."""

    MET = 0
    UNCERTAIN = 1
    MISSING = 2
    NOT_MET = 3
    NO_VERDICT = 4
    """The clause asks nothing of the record, or is not checked."""
    LEFT = 5
    """Left to :func:`tussock.review.judged.judge_record`."""
    NOT_ASKED = 6
    """The clause's version was not in force."""


_OF_VERDICT = {
    None: Code.NO_VERDICT,
    Verdict.MET: Code.MET,
    Verdict.UNCERTAIN: Code.UNCERTAIN,
    Verdict.MISSING: Code.MISSING,
    Verdict.NOT_MET: Code.NOT_MET,
}


def code_of(verdict: Verdict | None) -> Code:
    """Return the code of a verdict."""
    return _OF_VERDICT[verdict]


class Filled(IntEnum):
    """Whether a record has a column, and something in it."""

    ABSENT = 0
    EMPTY = 1
    THERE = 2


@dataclass(frozen=True, eq=False)
class Columns:
    """Records, shape (n,) each; instants in POSIX seconds, not a number where not recorded.

    Attributes
    ----------
    capture_lon, capture_lat, capture_radius_m
        Where it was taken [degrees, m].
    release_lon, release_lat, release_radius_m
        Where it was let go; not a number where there is no place of release.
    captured, disposed, trap_checked, recorded
        Begin and end of holding (not a number: still held), look at the trap, writing of the record.
    animal
        Index into ``animals``.
    disposal
        Index into ``disposals``: how holding ended.
    handler
        Index into ``handlers``: who handled it at the capture, and when holding ended.
    filled
        Darwin Core name → :class:`Filled` per record.
    """

    capture_lon: Floats
    capture_lat: Floats
    capture_radius_m: Floats
    release_lon: Floats
    release_lat: Floats
    release_radius_m: Floats
    captured: Floats
    disposed: Floats
    trap_checked: Floats
    recorded: Floats
    animal: Index
    disposal: Index
    handler: Index
    animals: tuple[Animal, ...]
    disposals: tuple[str, ...]
    handlers: tuple[Hands, ...] = (((), None),)
    filled: Mapping[str, Codes] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.captured)

    @property
    def said_released(self) -> Mask:
        """Which records say that the animal was let go."""
        return np.array([d == RELEASED for d in self.disposals], dtype=bool)[self.disposal]

    @property
    def released(self) -> Mask:
        """Which records say that the animal was let go, and where."""
        return self.said_released & ~np.isnan(self.release_lon)

    def taken(self, index: Index | slice) -> Columns:
        """Return some of the records."""
        arrays = {name: getattr(self, name)[index] for name in _ARRAYS}
        filled = {name: codes[index] for name, codes in self.filled.items()}
        return Columns(
            **arrays, animals=self.animals, disposals=self.disposals, handlers=self.handlers, filled=filled
        )


_ARRAYS = (
    "capture_lon", "capture_lat", "capture_radius_m", "release_lon", "release_lat", "release_radius_m",
    "captured", "disposed", "trap_checked", "recorded", "animal", "disposal", "handler",
)  # fmt: skip


def columns_of(handlings: Sequence[Handling]) -> Columns:
    """Return records as columns.

    What only :func:`tussock.review.judged.judge_record` reads (answers, looks, incidents, plans,
    temperatures) is left out.
    """
    animal, animals = _coded([h.judged_as for h in handlings])
    disposal, disposals = _coded([h.disposal for h in handlings])
    handler, handlers = _coded([_hands(h) for h in handlings])
    names = sorted({name for h in handlings for name in h.columns})
    return Columns(
        *_places(h.taken_at for h in handlings),
        *_places(h.let_go_at for h in handlings),
        captured=_instants(h.captured for h in handlings),
        disposed=_instants(h.disposed for h in handlings),
        trap_checked=_instants(h.trap_checked for h in handlings),
        recorded=_instants(h.recorded for h in handlings),
        animal=animal,
        disposal=disposal,
        handler=handler,
        animals=animals,
        disposals=disposals,
        handlers=handlers,
        filled={name: np.array([_filled(h, name) for h in handlings], dtype=np.uint8) for name in names},
    )


def _hands(h: Handling) -> Hands:
    return h.handlers, closers(h.ended_by, disposal=h.disposal)


def _filled(record: Handling, name: str) -> Filled:
    if name not in record.columns:
        return Filled.ABSENT
    return Filled.THERE if record.columns[name].strip() else Filled.EMPTY


def _coded(values: Sequence[_T]) -> tuple[Index, tuple[_T, ...]]:
    """Return each value's place among the different ones, and those."""
    places: dict[_T, int] = {}
    index = [places.setdefault(value, len(places)) for value in values]
    return np.array(index, dtype=np.int64), tuple(places)


def _places(positions: Iterable[Position | None]) -> tuple[Floats, Floats, Floats]:
    nowhere = (np.nan, np.nan, np.nan)
    rows = [nowhere if p is None else (p.longitude, p.latitude, p.radius_m) for p in positions]
    found = np.array(rows, dtype=np.float64).reshape(-1, 3)
    return found[:, 0].copy(), found[:, 1].copy(), found[:, 2].copy()


def _instants(moments: Iterable[datetime | None]) -> Floats:
    return np.array([np.nan if t is None else posix(t) for t in moments], dtype=np.float64)
