"""Which errors the readings cannot tell apart, named two or three at a time.

The slopes of the readings by the doubtful dimensions are made white: divided by the noise that the
readings have once all other unknowns are allowed for, and multiplied by what each dimension may be
off. Their singular values above 1 are the directions of which the readings say more than was
known. A dimension whose column lies within 1 of what up to three others can make
of it cannot be told from them.

References
----------
C. D. Rodgers, *Inverse Methods for Atmospheric Sounding*, World Scientific 2000, §2.4.1 (singular
values of the whitened slopes, those above 1 being measured; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.answers.dimension_errors import Dimension

Floats = NDArray[np.float64]

_MOST = 3  # others that one dimension is told to look like
_SEEN = 1.0


@dataclass(frozen=True)
class Alike:
    """Dimensions that cannot be told apart: ``counts`` says how much of each of the others one unit of the
    first looks like [mm, deg per mm or deg]; none: no reading says anything of the first."""

    dimensions: tuple[Dimension, ...]
    counts: tuple[float, ...] = ()


@dataclass(frozen=True)
class Apart:
    """Of ``of`` ways in which the doubtful dimensions can be wrong the readings tell ``seen``; ``alike`` are
    those that cannot be told apart."""

    seen: int
    of: int
    alike: tuple[Alike, ...]


def told_apart(
    slope: Floats,
    doubtful: Sequence[Dimension],
    columns: NDArray[np.intp],
    width: Floats,
    others: Floats,
) -> Apart:
    """How many directions the readings see, and which dimensions cannot be told apart.

    Parameters
    ----------
    slope : ndarray, shape (n, N)
        Of the readings by all unknowns, in standard deviations of the readings.
    doubtful : sequence of Dimension
    columns : ndarray of int
        Their columns.
    width : ndarray
        What each may be off, one standard deviation [mm, deg].
    others : ndarray, shape (N,)
        Standard deviations of all unknowns.
    """
    known = np.setdiff1d(np.arange(slope.shape[1]), columns)
    rest = slope[:, known] * others[known]
    spread = np.eye(len(slope)) + rest @ rest.T
    white = np.linalg.solve(np.linalg.cholesky(spread), slope[:, columns] * width)
    seen = int(np.count_nonzero(np.linalg.svd(white, compute_uv=False) > _SEEN)) if white.size else 0
    found: dict[frozenset[int], Alike] = {}
    for i in range(len(doubtful)):
        if np.linalg.norm(white[:, i]) <= _SEEN:
            found[frozenset((i,))] = Alike((doubtful[i],))
            continue
        chosen, factors = _looks_like(white, i, found)
        key = frozenset((i, *chosen))
        if chosen and key not in found:
            counts = [float(f * width[j] / width[i]) for j, f in zip(chosen, factors, strict=True)]
            found[key] = Alike(tuple(doubtful[j] for j in (i, *chosen)), tuple(counts))
    fewest = sorted(found.values(), key=lambda alike: len(alike.dimensions))
    return Apart(seen, len(doubtful), tuple(fewest[: len(doubtful) - seen]))  # one for each way that is not seen


def _looks_like(white: Floats, i: int, found: dict[frozenset[int], Alike]) -> tuple[list[int], Floats]:
    """The fewest other columns, no more than three, that make column ``i`` to within 1; none if they cannot."""
    unseen = {next(iter(key)) for key in found if len(key) == 1}
    left, chosen = white[:, i], list[int]()
    factors: Floats = np.empty(0)
    size = np.linalg.norm(white, axis=0)
    while len(chosen) < _MOST:
        fit = np.abs(white.T @ left) / np.where(size > _SEEN, size, np.inf)
        fit[[i, *chosen, *unseen]] = 0.0
        best = int(np.argmax(fit))
        if fit[best] == 0.0:
            break
        chosen.append(best)
        factors = np.asarray(np.linalg.lstsq(white[:, chosen], white[:, i], rcond=None)[0], float)
        left = white[:, i] - white[:, chosen] @ factors
        if np.linalg.norm(left) <= _SEEN:
            return chosen, factors
    return [], np.empty(0)
