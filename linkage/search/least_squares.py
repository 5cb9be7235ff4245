r"""Weighted least squares of bench readings, the priors of the dimensions among them.

Gauss-Newton: every step re-linearises at the linkage as it stands and is re-solved exactly; a step
that does not assemble is halved::

    minimise  sum ((read - expected(u)) / sigma)^2 + sum (x / s)^2        C = (J' R^-1 J + P^-1)^-1

References
----------
A. Tarantola, *Inverse Problem Theory*, SIAM 2005, §3.2 (least squares with a Gaussian prior; from
memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.errors import AssemblyError
from linkage.search.expected import Expected
from linkage.search.noise import FLAT_SCALE, FLAT_TURN

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_STEPS, _SETTLED = 30, 1e-6
_SMALLEST = 1e-3  # of a step


@dataclass(frozen=True, eq=False)
class Fit:
    """The minimum: unknowns ``u`` and their ``covariance``, ``value`` and ``slope`` of the readings there, ``chi2``."""

    u: Floats
    value: Floats
    slope: Floats
    covariance: Floats
    chi2: float


def widths(expected: Expected, prior: Floats) -> Floats:
    """Standard deviations of all unknowns beforehand; those of turns and flow scales say next to nothing."""
    scales = np.full(len(expected.flow_rows), FLAT_SCALE)
    zeros = np.full(len(expected.zeros), expected.noise.zero)
    return np.concatenate([prior, zeros, np.full(expected.turns, FLAT_TURN), scales])


def fitted(expected: Expected, prior: Floats, kept: Bools, start: Floats) -> Fit:
    """Fit the unknowns to the readings that are kept.

    Parameters
    ----------
    expected : Expected
    prior : ndarray, shape (K,)
        Standard deviations of the dimensions [mm, deg]; 0: exact.
    kept : ndarray of bool, shape (n,)
    start : ndarray
        The unknowns to begin with.

    Raises
    ------
    AssemblyError
        The linkage as drawn does not come to where it was read.
    """
    width = widths(expected, prior)
    free = width > 0.0
    weight = np.where(kept, 1.0 / expected.sigma, 0.0)
    centre = np.where(np.arange(start.size) < expected.first_turn, 0.0, start)
    u = start.copy()
    value, slope = expected.at(u)
    if not np.all(np.isfinite(value)):
        raise AssemblyError("the linkage as drawn cannot come to the positions read; look for a wrong reading")
    for _ in range(_STEPS):
        normal, pull = _normal(expected.observed - value, slope[:, free], weight, (u - centre)[free], width[free])
        step = np.zeros_like(u)
        step[free] = np.linalg.solve(normal, pull)
        size = 1.0
        there = expected.at(u + step)
        while not all(np.all(np.isfinite(part)) for part in there) and size > _SMALLEST:
            size *= 0.5
            there = expected.at(u + size * step)
        if size <= _SMALLEST:
            break
        u, (value, slope) = u + size * step, there
        if np.max(np.abs(step[free]) / width[free]) < _SETTLED:
            break
    left = expected.observed - value
    normal, _ = _normal(left, slope[:, free], weight, (u - centre)[free], width[free])
    covariance = np.zeros((u.size, u.size))
    covariance[np.ix_(free, free)] = np.linalg.inv(normal)
    known = free & (np.arange(u.size) < expected.first_turn)
    chi2 = float(np.sum((weight * left) ** 2) + np.sum((u[known] / width[known]) ** 2))
    return Fit(u, value, slope, covariance, chi2)


def _normal(left: Floats, slope: Floats, weight: Floats, away: Floats, width: Floats) -> tuple[Floats, Floats]:
    """Normal matrix and right-hand side."""
    white = weight[:, None] * slope
    normal = white.T @ white
    normal[np.diag_indices_from(normal)] += 1.0 / width**2
    return normal, white.T @ (weight * left) - away / width**2
