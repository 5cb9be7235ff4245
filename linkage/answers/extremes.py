"""Highest and lowest of a curve over the travel: of the curve, not of the samples.

The ground of the answers: every other module of this floor may use it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage.motion import Motion

Floats = NDArray[np.float64]
Curve = Callable[[Motion], Floats]

_GRID = 121  # positions that show every hump of a smooth curve
_ZOOM = 17  # positions to each zoom
_ZOOMS = 4  # each shrinks a step eightfold, and so the error of a hump 64-fold


class Extreme(NamedTuple):
    """A highest or lowest value of a curve, the driver ``turn`` [deg] and the travel ``fraction`` there."""

    value: float
    turn: float
    fraction: float


def highest(run: Motion, curve: Curve, *, between: tuple[float, float] | None = None) -> Extreme:
    """Highest value of a curve over the travel, or between two driver turns [deg].

    Every hump of a grid is looked at again, several times closer; a hump may have a kink. Where slack is
    taken up the curve may even jump: it is looked at piece by piece.
    Returns ``nan`` where the curve has no value at all.
    """
    found = [_highest(run, curve, first, last) for first, last in run.pieces(between)]
    known = [at for at in found if not np.isnan(at.value)]
    return max(known, key=lambda at: at.value) if known else found[0]


def _highest(run: Motion, curve: Curve, first: float, last: float) -> Extreme:
    """:func:`highest` of a piece without kinks."""
    at = run.at(np.linspace(first, last, _GRID))
    value = curve(at)
    step = (last - first) / (_GRID - 1)
    for _ in range(_ZOOMS):
        peaks = _humps(at.turn, value)
        if step == 0.0 or peaks.size == 0:
            break
        near = peaks[:, None] + step * np.linspace(-1.0, 1.0, _ZOOM)
        at = run.at(np.clip(near, min(first, last), max(first, last)).ravel())
        value = curve(at)
        step *= 2.0 / (_ZOOM - 1)
    if np.all(np.isnan(value)):
        return Extreme(np.nan, np.nan, np.nan)
    best = int(np.nanargmax(value))
    return Extreme(float(value[best]), float(at.turn[best]), float(at.fraction[best]))


def lowest(run: Motion, curve: Curve, *, between: tuple[float, float] | None = None) -> Extreme:
    """Lowest value of a curve; see :func:`highest`."""
    value, turn, fraction = highest(run, lambda at: -curve(at), between=between)
    return Extreme(-value, turn, fraction)


def _humps(turn: Floats, value: Floats) -> Floats:
    """Turns of the up to four highest local maxima that could still hold the highest value."""
    known = np.where(np.isnan(value), -np.inf, value)
    left, right = np.r_[-np.inf, known[:-1]], np.r_[known[1:], -np.inf]
    at = np.flatnonzero((known >= left) & (known >= right) & np.isfinite(known))
    order = at[np.argsort(-known[at], kind="stable")]
    chosen = order[:4]
    return turn[np.sort(chosen)]
