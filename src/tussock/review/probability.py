"""How likely a distance clause is met, given the radii: a further column of an audit, never a verdict."""

from __future__ import annotations

import math

R95_IN_SIGMAS = math.sqrt(-2.0 * math.log(0.05))
"""Radius that holds 95 % of a circular normal error, in its per-axis sigmas (2.4477; Rayleigh's law)."""


def p_met(gap_m: float, *radii_m: float) -> float:
    """Return the probability that a distance keeps its limit.

    Each radius is taken as the 95 % radius of a circular normal error, independent of the others; along
    the line between the two places their errors add in quadrature.

    Parameters
    ----------
    gap_m
        How far the written distance keeps inside the limit [m]; negative where it is beyond.
    radii_m
        Radii of the positions [m].

    Returns
    -------
    float
        Φ(gap/σ) with σ = √(Σ u²)/2.4477. Without any radius 1 where the gap is at least 0, else 0.

    Raises
    ------
    ValueError
        When a radius is negative, or anything is not a number.

    Examples
    --------
    >>> round(p_met(20.0, 30.0, 30.0), 4), round(p_met(40.0, 30.0, 30.0), 4)
    (0.8757, 0.9895)
    """
    if math.isnan(gap_m) or not all(u >= 0.0 for u in radii_m):
        raise ValueError(f"no probability of a gap of {gap_m} m with radii {radii_m}")
    sigma = math.hypot(*radii_m) / R95_IN_SIGMAS
    if sigma == 0.0:
        return 1.0 if gap_m >= 0.0 else 0.0
    if math.isinf(sigma):
        return 0.5
    # the complement's own tail, so that small probabilities keep their digits
    return 0.5 * math.erfc(-gap_m / (sigma * math.sqrt(2.0)))
