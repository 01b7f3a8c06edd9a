"""Where animals were let go: releases gathered into sites, and what became of animals seen again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from tussock.geodesy import distance_m
from tussock.position import Position
from tussock.review.audit import Row
from tussock.review.handling import Handling
from tussock.spans import posix

SAME_SITE_M = 100.0
"""Releases no farther than this from a site's first one belong to it [m] (choice of this project)."""


@dataclass(frozen=True)
class SeenAgain:
    """An animal let go and taken again: the same organismID."""

    organism: str
    released: Row
    taken: Row

    @property
    def fate(self) -> str:
        """How holding ended that time; empty while it is held."""
        return self.taken.kept.handling.disposal if self.taken.kept.handling else ""


@dataclass(frozen=True)
class ReleaseSite:
    """Releases near each other.

    Attributes
    ----------
    at
        Place of the first release.
    rows
        In the book's order, the first release first.
    again
        Animals let go here and taken again later, anywhere.
    """

    at: Position
    rows: tuple[Row, ...]
    again: tuple[SeenAgain, ...] = ()

    @property
    def handlings(self) -> tuple[Handling, ...]:
        """The records of the rows."""
        return tuple(row.kept.handling for row in self.rows if row.kept.handling is not None)

    @property
    def animals(self) -> int:
        """Individuals let go."""
        return sum(h.animal.individual_count for h in self.handlings)

    @property
    def consents(self) -> tuple[str, ...]:
        """Consents that the records name, each once."""
        return tuple(dict.fromkeys(h.consent_reference for h in self.handlings if h.consent_reference))

    @property
    def species(self) -> tuple[str, ...]:
        """Scientific names, each once, by name."""
        return tuple(sorted({h.animal.scientific_name for h in self.handlings}))

    @property
    def last(self) -> datetime:
        """When the last animal was let go."""
        return max((h.disposed for h in self.handlings if h.disposed), key=posix)


def release_sites(rows: Iterable[Row]) -> tuple[ReleaseSite, ...]:
    """Return the sites of a book, those with most releases first, then in the book's order.

    A release joins the nearest site whose first release lies within ``SAME_SITE_M`` of its written place;
    else it begins one. Radii do not count: the written places are compared.
    """
    listed = list(rows)
    again = {_key(s.released): s for s in seen_again(listed)}
    firsts: list[Position] = []
    groups: list[list[Row]] = []
    for row, at in _released(listed):
        k = _nearest(at, firsts)
        if k is None:
            firsts.append(at)
            groups.append([row])
        else:
            groups[k].append(row)
    sites = [
        ReleaseSite(at, tuple(group), tuple(again[k] for k in map(_key, group) if k in again))
        for at, group in zip(firsts, groups, strict=True)
    ]
    return tuple(sorted(sites, key=lambda s: -len(s.rows)))


def seen_again(rows: Iterable[Row]) -> Iterator[SeenAgain]:
    """Yield each release of an animal that was taken again, with the next time it was."""
    histories: Mapping[str, list[tuple[float, Row]]] = defaultdict(list)
    for row in rows:
        organism = row.kept.cells.get("organismID", "").strip()
        if organism and row.kept.handling is not None:
            histories[organism].append((posix(row.kept.handling.captured), row))
    for organism, history in histories.items():
        history.sort(key=lambda entry: entry[0])
        for (_, before), (taken, after) in pairwise(history):
            handling = before.kept.handling
            if handling and handling.released and handling.disposed and posix(handling.disposed) <= taken:
                yield SeenAgain(organism, before, after)


def _key(row: Row) -> tuple[str, str]:
    return row.kept.capture_id, row.kept.disposal_id


def _released(rows: Iterable[Row]) -> Iterator[tuple[Row, Position]]:
    for row in rows:
        handling = row.kept.handling
        if handling is not None and handling.released and handling.disposed and handling.let_go_at:
            yield row, handling.let_go_at


def _nearest(at: Position, firsts: list[Position]) -> int | None:
    """Return which first release lies nearest, within ``SAME_SITE_M``; ``None`` where none does."""
    if not firsts:
        return None
    lon, lat = (np.array([getattr(f, axis) for f in firsts]) for axis in ("longitude", "latitude"))
    away = distance_m(at.longitude, at.latitude, lon, lat)
    k = int(np.argmin(away))
    return k if away[k] <= SAME_SITE_M else None
