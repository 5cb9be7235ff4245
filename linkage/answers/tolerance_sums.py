"""Sums of plus-or-minus values: worst case and root sum square, free or under one condition.

References
----------
J. E. Shigley and C. R. Mischke, *Mechanical Engineering Design*, McGraw-Hill, ch. 1, dimensions and
tolerances: absolute and statistical stacks of plus-or-minus values (from memory). The sums under a
condition: own derivation.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def worst_and_rss(moves: ArrayLike, axis: int = 0) -> tuple[Floats, Floats]:
    """Both sums of what plus-or-minus values move, in their own unit.

    Parameters
    ----------
    moves : array_like
        Sensitivity times plus-or-minus value [any one unit], any shape.
    axis : int
        Along which the dimensions lie.

    Returns
    -------
    worst, rss : ndarray

    Examples
    --------
    >>> worst, rss = worst_and_rss([0.003, -0.001, -0.005, -0.001])
    >>> round(float(worst), 9), round(float(rss), 9)
    (0.01, 0.006)

    References
    ----------
    Shigley and Mischke, ch. 1 (from memory).
    """
    by = np.asarray(moves, float)
    return np.asarray(np.abs(by).sum(axis=axis)), np.asarray(np.sqrt((by**2).sum(axis=axis)))


def worst_while(apart: Floats, moves: Floats, lead: Floats, gap: float) -> Floats:
    """Highest ``apart + moves.y`` for errors ``|y| <= 1`` with ``lead.y >= gap``, shape (P, 1).

    The dual is convex and made of straight pieces: its least value is at one of the corners.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        corner = -moves[:, :, 0] / lead  # (P, D)
    corner = np.where(np.isfinite(corner) & (corner > 0.0), corner, 0.0)
    value = np.abs(moves + lead[:, None] * corner[:, None, :]).sum(axis=1) - gap * corner
    return np.asarray(apart + np.min(np.append(value, np.abs(moves).sum(axis=1), axis=1), axis=1, keepdims=True))


def rss_while(apart: Floats, moves: Floats, lead: Floats, gap: float) -> Floats:
    """Highest ``apart + moves.y`` for errors on the unit ellipsoid with ``lead.y >= gap``, shape (P, 1)."""
    size = float(np.linalg.norm(lead))
    if gap > size:
        return np.full_like(apart, -np.inf)
    share, norm = gap / size, worst_and_rss(moves, axis=1)[1]
    along = (moves * lead[:, None] / size).sum(axis=1)
    across = np.sqrt(np.maximum(norm**2 - along**2, 0.0))
    return np.asarray(apart + np.where(along >= share * norm, norm, along * share + across * np.sqrt(1.0 - share**2)))
