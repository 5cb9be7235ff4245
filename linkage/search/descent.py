r"""Bounded least squares of many candidates at once: Levenberg and Marquardt's steps, columns side by side.

Every candidate has its own damping; a dimension that stands at its bound and would leave it sits a step
out. The floor rows count only where they are above 0.

References
----------
D. W. Marquardt, "An algorithm for least-squares estimation of nonlinear parameters", SIAM Journal on
Applied Mathematics 11 (1963), 431-441 (from memory). J. Nocedal and S. J. Wright, *Numerical
Optimization*, Springer, ch. 10 (Levenberg-Marquardt) and §16.7 (gradient projection; from memory).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from linkage.search.task import Task
from linkage.search.wish import Rows, rows

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_FLOOR_WEIGHT = 3.0
_STEPS = 40
_SETTLED = 1e-6  # steps that gain less than this share of the cost, so many in a row, are the last
_PATIENCE = 5
_DAMPED, _LARGEST = 1e-3, 1e9


def cost(found: Rows) -> Floats:
    """Sum of squares of every candidate, (n,); ``inf`` where it is not sound."""
    with np.errstate(invalid="ignore", over="ignore"):
        over = _FLOOR_WEIGHT * np.maximum(found.floor, 0.0)
        return np.asarray((found.near**2).sum(axis=0) + (over**2).sum(axis=0))


def descend(
    task: Task,
    z: Floats,
    nodes: int,
    *,
    fixed: Bools | None = None,
    after_step: Callable[[Floats, Rows], None] | None = None,
) -> Floats:
    """Lead candidates down to least squares.

    Parameters
    ----------
    task : Task
    z : ndarray, shape (d, n)
        Where they start, 0 at the lower bounds and 1 at the upper.
    nodes : int
        Positions of the travel.
    fixed : ndarray of bool, shape (d, n), optional
        Dimensions that stay.
    after_step : callable, optional
        Told where the candidates stand and their rows, after every step.

    Returns
    -------
    ndarray, shape (d, n)
    """
    size = (task.high - task.low)[:, None]
    held = np.zeros(z.shape, bool) if fixed is None else fixed
    found = rows(task, task.low[:, None] + size * z, nodes)
    best = cost(found)
    damping, waited = np.full(z.shape[1], _DAMPED), np.zeros(z.shape[1], int)
    for _ in range(_STEPS):
        moving = np.isfinite(best) & (waited < _PATIENCE) & (damping < _LARGEST)
        if not moving.any():
            break
        trial = np.clip(z + _step(found, size, z, damping, held), 0.0, 1.0)
        trial = np.where(moving, trial, z)
        there = rows(task, task.low[:, None] + size * trial, nodes)
        new = cost(there)
        better = moving & (new < best)
        waited = np.where(better & (new < (1.0 - _SETTLED) * best), 0, waited + 1)
        damping = np.where(better, damping / 5.0, damping * 4.0)
        z, best, found = np.where(better, trial, z), np.where(better, new, best), there.where(better, found)
        if after_step is not None:
            after_step(z, found)
    return z


def _step(found: Rows, size: Floats, z: Floats, damping: Floats, held: Bools) -> Floats:
    """Damped step of every candidate, (d, n)."""
    active = found.floor > 0.0
    value = np.concatenate([found.near, np.where(active, _FLOOR_WEIGHT * found.floor, 0.0)])
    slope = np.concatenate([found.near_slope, np.where(active[:, None], _FLOOR_WEIGHT * found.floor_slope, 0.0)])
    slope = slope * size
    whole = np.isfinite(value).all(axis=0) & np.isfinite(slope).all(axis=(0, 1))
    value, slope = np.where(whole, value, 0.0), np.where(whole, slope, 0.0)
    by = np.moveaxis(slope, 2, 0)  # (n, k, d)
    normal = by.transpose(0, 2, 1) @ by
    downhill = -(by.transpose(0, 2, 1) @ value.T[:, :, None])[:, :, 0]  # (n, d)
    rests = held.T | ((z.T <= 0.0) & (downhill < 0.0)) | ((z.T >= 1.0) & (downhill > 0.0))
    diagonal = np.einsum("nii->ni", normal)
    add = damping[:, None] * (diagonal + 1e-3 * diagonal.max(axis=1, keepdims=True)) + 1e-12
    step = _solved(normal, add, downhill, ~rests)
    there = np.clip(z.T + step, 0.0, 1.0)
    met = ~rests & (there != z.T + step)  # a dimension that comes to its bound goes just there; the others know it
    given = np.where(met, there - z.T, 0.0)
    rest = downhill - (normal @ given[:, :, None])[:, :, 0]
    return np.asarray((given + _solved(normal, add, rest, ~rests & ~met)).T)


def _solved(normal: Floats, add: Floats, downhill: Floats, free: Bools) -> Floats:
    """Damped normal equations of every candidate (n, d, d) for its free dimensions; 0 for the others."""
    d = normal.shape[1]
    left = normal * free[:, :, None] * free[:, None, :]
    left[:, range(d), range(d)] += np.where(free, add, 1.0)
    return np.asarray(np.linalg.solve(left, np.where(free, downhill, 0.0)[:, :, None])[:, :, 0])
