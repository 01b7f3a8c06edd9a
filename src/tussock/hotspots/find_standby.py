"""Where to stand by for these calls: demand by the smoothed rates, and the trial on the last season."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from tussock.geodesy import Floats
from tussock.hotspots.calls import Incidents
from tussock.hotspots.cells import Cells, Flags, Ground, HomePlaces, Whole
from tussock.hotspots.demand import Demand, straight_line_m
from tussock.hotspots.find_clusters import rows_of, rows_of_incidents
from tussock.hotspots.found import Asked, Rates, StandbyTold, When
from tussock.hotspots.slices import Slice, Sliced, sliced
from tussock.hotspots.smoothing import gamma_poisson
from tussock.hotspots.standby import Past, Places, Standby, standby

HOURS = ((0, 6), (6, 12), (12, 18), (18, 24))
"""Slices of the day that are looked at apart, over all months [h] (choice of this project)."""


def found_standby(
    rates: Rates, incidents: Incidents, homes: HomePlaces, *, when: When, ground: Ground, asked: Asked
) -> StandbyTold:
    """Return the points to stand by at, their trial on the last season, and those of parts of the day.

    Parameters
    ----------
    homes
        Inside the known extent.

    Raises
    ------
    InputError
        When so many points cannot be chosen.
    """
    work = _Work(rates.cells, rows_of(rates.cells, homes.x, homes.y), incidents, homes, asked)
    demand = work.demand(np.ones(len(incidents), dtype=np.bool_))
    bases = None
    if asked.base is not None:
        x, y = ground.plane.project(*asked.base)
        bases = Places(np.atleast_1d(x), np.atleast_1d(y))
    past = work.past(when) if bases is not None else None
    found = standby(demand, count=asked.standby, seed=asked.seed, bases=bases, past=past)
    lon, lat = ground.plane.unproject(found.x, found.y)
    points = tuple(zip(lon.tolist(), lat.tolist(), strict=True))
    return StandbyTold(found, points, tuple(work.slices(demand, found)))


@dataclass(frozen=True, eq=False)
class _Work:
    cells: Cells
    home_row: Whole
    incidents: Incidents
    homes: HomePlaces
    asked: Asked

    def demand(self, chosen: Flags) -> Demand:
        """Return calls expected of each building: homes × the rate of its cell, smoothed from these calls."""
        row = rows_of_incidents(self.cells, self.incidents)
        told = self.cells.tested
        there = (row >= 0) & chosen
        counts = np.bincount(row[there], minlength=len(told))
        smoothed = gamma_poisson(np.where(told, counts, 0), np.where(told, self.cells.homes, 0.0))
        ratio = np.where(np.isnan(smoothed.ratio), 1.0, smoothed.ratio)
        each = np.where(self.home_row >= 0, ratio[np.maximum(self.home_row, 0)], 1.0)
        return Demand(self.homes.x, self.homes.y, self.homes.high * each)

    def past(self, when: When) -> Past | None:
        """Return the calls of seasons that were observed whole; ``None`` where there are none."""
        season = np.array(
            [when.season.of(i.time, zone=self.asked.zone) for i in self.incidents.items], np.int64
        )
        whole = np.array([self._whole(int(s), when.season.month) for s in season], dtype=np.bool_)
        if not whole.any():
            return None
        rows = np.flatnonzero(whole)

        def fitted(flags: Flags) -> Demand:
            chosen = np.zeros(len(self.incidents), dtype=np.bool_)
            chosen[rows[flags]] = True
            return self.demand(chosen)

        return Past(self.incidents.x[rows], self.incidents.y[rows], season[rows], fitted)

    def _whole(self, season: int, month: int) -> bool:
        begins, ends = date(season, month, 1), date(season + 1, month, 1)
        return begins >= self.asked.first and ends.toordinal() - 1 <= self.asked.last.toordinal()

    def slices(self, demand: Demand, found: Standby) -> list[tuple[Slice, Sliced, Standby]]:
        """Return the demand of parts of the day, and the points for it where places differ in it."""
        area = _nearest(demand.x, demand.y, found)
        call_area = _nearest(self.incidents.x, self.incidents.y, found)
        local = [i.time.astimezone(self.asked.zone) for i in self.incidents.items]
        hour, month = (
            np.array(v, dtype=np.int64) for v in ([t.hour for t in local], [t.month for t in local])
        )
        out = []
        for hours in HOURS:
            part = Slice(hours)
            cut = sliced(demand.weights, area, call_area=call_area, in_slice=part.holds(hour, month))
            points = found
            if cut.interaction:
                own = Demand(demand.x, demand.y, cut.weights)
                points = standby(own, count=self.asked.standby, seed=self.asked.seed)
            out.append((part, cut, points))
        return out


def _nearest(x: Floats, y: Floats, points: Standby) -> Whole:
    if not len(x):
        return np.zeros(0, np.int64)
    return np.asarray(straight_line_m(x, y, points.x, points.y).argmin(axis=1), dtype=np.int64)
