"""The mean of times on a circle, told only where there is one: enough of them, and one mode.

A mean hour of calls at dawn and dusk is noon, when nothing happens. So a mean is told for at least 30
times that are concentrated (Rayleigh's test at 0.01) and have one mode. Modes are counted on a smoothed
curve: a normal kernel as wide as a sixteenth of the circle (an hour and a half of a day). A second peak
counts when it stands above the dip that parts it from the first by more than half a standard error of that
difference: little, for to tell a false mean is worse than to tell none. Level, kernel and errors are choices
of this project.

What it comes to, of 200 to 300 simulated days each: of 30 / 60 times in two heaps of equal size, seven hours
apart and 1.5 h wide, a mean is told on 0.09 / 0.015 of days, nine hours apart on 0.01 at most, of three
quarters and a quarter nine hours apart on 0.06 / 0.015; of times all round the clock on 0.01 / 0.02. Two
heaps 2 h wide and seven hours apart, which hardly part, pass on 0.4 / 0.3. Of times in one heap it is told
on 0.91 / 0.95 of days where they are a von Mises law of κ 2, on 0.6 / 0.9 of κ 1 (so wide that a twelfth of
the times is more than nine hours off). Held in tests/hotspots/test_circular.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.geodesy import Floats

LEAST = 30
"""Fewest times of which a mean is told (asked for)."""
_KERNEL = 1 / 16
"""Standard deviation of the kernel as a share of the circle."""
_STEPS = 240
"""Points of the smoothed curve."""
_ERRORS = 0.5
"""Standard errors by which a second mode must stand out."""
_LEVEL = 0.01
"""Of Rayleigh's test: of a hundred even days one is taken for concentrated."""


@dataclass(frozen=True)
class CircularMean:
    """The mean of times on a circle, or why none is told.

    Attributes
    ----------
    mean
        In [0, period); ``nan`` where none is told.
    low, high
        Its 95 % interval, which may run past the circle's ends; ``nan`` where none is told.
    quarters
        Between which the middle half of the times lies, round the mean; may run past the circle's ends;
        ``nan`` where none is told.
    length
        Of the mean vector, 0 (spread all round) to 1 (all at one instant); ``nan`` for none.
    modes
        How many there are; 0 where the times are not concentrated, or too few to tell.
    """

    n: int
    mean: float
    low: float
    high: float
    length: float
    modes: int
    quarters: tuple[float, float] = (math.nan, math.nan)

    @property
    def told(self) -> bool:
        """Whether there is a mean to tell."""
        return not math.isnan(self.mean)


def circular_mean(times: Floats, *, period: float = 24.0) -> CircularMean:
    """Return the mean of times on a circle of some period, in the same unit.

    Source: Mardia & Jupp 2000, Directional Statistics, eqs 2.2.4 (mean), 9.4 (large-sample interval by
    Fisher 1993, Statistical Analysis of Circular Data, § 4.4.4); from memory.

    Raises
    ------
    InputError
        For times that are no numbers.
    """
    if not np.isfinite(times).all():
        raise InputError("a time that is no number", allowed=f"hours or days, on a circle of {period:g}")
    n, angles = len(times), np.asarray(times) * (2 * math.pi / period)
    if not n:
        return CircularMean(0, math.nan, math.nan, math.nan, math.nan, 0)
    vector = complex(np.exp(1j * angles).mean())
    length = min(1.0, abs(vector))
    modes = _modes(angles) if n >= LEAST and rayleigh_p(length, n) < _LEVEL else 0
    if modes != 1:
        return CircularMean(n, math.nan, math.nan, math.nan, length, modes)
    direction = math.atan2(vector.imag, vector.real)
    half = _half_width(angles, direction, length)
    scale = period / (2 * math.pi)
    mean = direction * scale % period
    apart = np.angle(np.exp(1j * (angles - direction)))
    first, third = (mean + float(q) * scale for q in np.quantile(apart, (0.25, 0.75)))
    return CircularMean(n, mean, mean - half * scale, mean + half * scale, length, modes, (first, third))


def rayleigh_p(length: float, n: int) -> float:
    """Return how often so long a mean vector comes of n times spread all round.

    Source: Zar 1999, Biostatistical Analysis, eq. 27.4: exp(√(1 + 4n + 4(n² − (nR)²)) − (1 + 2n)); from
    memory, checked by simulation.
    """
    return math.exp(math.sqrt(1 + 4 * n + 4 * n * n * (1 - length * length)) - (1 + 2 * n))


def _half_width(angles: Floats, direction: float, length: float) -> float:
    """Return half the 95 % interval of the mean [rad], by the dispersion δ = (1 − ρ₂)/2R²; at most π/2."""
    second = float(np.cos(2 * (angles - direction)).mean())
    dispersion = max(0.0, (1 - second) / (2 * length * length))
    return math.asin(min(1.0, 1.959964 * math.sqrt(dispersion / len(angles))))


def _modes(angles: Floats) -> int:
    """Return how many peaks the smoothed curve has that stand out from chance."""
    density = _smoothed(angles)
    # ∫K² of a normal kernel is 1/(2h√π): the variance of the curve is about its height × that / n
    noise = 1 / (2 * _KERNEL * 2 * math.pi * math.sqrt(math.pi)) / len(angles)
    curve = np.roll(density, -int(density.argmin()))
    rises = np.diff(np.append(curve, curve[0]))
    peaks = [i for i in range(1, _STEPS) if rises[i - 1] > 0 and rises[i] <= 0]
    return sum(_stands_out(curve, peak, noise=noise) for peak in peaks)


def _stands_out(curve: Floats, peak: int, *, noise: float) -> bool:
    """Return whether a peak is more than noise above the higher of the dips towards higher ground."""
    height = curve[peak]
    higher = np.flatnonzero(curve > height)
    dips = [curve[h : peak + 1].min() for h in higher[higher < peak][-1:]]
    dips += [curve[peak : h + 1].min() for h in higher[higher > peak][:1]]
    # the curve starts at its lowest point: round that way there is nothing higher than it
    dip = max(dips, default=curve[0])
    return bool(height - dip > _ERRORS * math.sqrt((height + dip) * noise))


def _smoothed(angles: Floats) -> Floats:
    """Return the density of angles at `_STEPS` points, per radian, by a wrapped normal kernel."""
    # through the Fourier series, whose terms vanish fast: exact to rounding
    orders = np.arange(1, 41)
    moments = np.exp(-1j * np.outer(orders, angles)).mean(axis=1)
    damped = moments * np.exp(-0.5 * np.square(orders * 2 * math.pi * _KERNEL))
    at = np.arange(_STEPS) * (2 * math.pi / _STEPS)
    waves = np.real(np.exp(1j * np.outer(at, orders)) @ damped)
    return np.asarray((1 + 2 * waves) / (2 * math.pi))
