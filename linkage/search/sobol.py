r"""Sobol's sequence: points that fill a box evenly, the same ones every time.

References
----------
I. M. Sobol, "On the distribution of points in a cube and the approximate evaluation of integrals",
USSR Computational Mathematics and Mathematical Physics 7 (1967), 86-112. Direction numbers: S. Joe and
F. Y. Kuo, "Constructing Sobol sequences with better two-dimensional projections", SIAM Journal on
Scientific Computing 30 (2008), 2635-2654 (from memory; the tests hold them against another
implementation).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_BITS = 30
_TABLE = 10  # digits of a point's number looked up together

# of every dimension after the first: the inner coefficients of a primitive polynomial, as a number, and the
# first direction numbers, as many as its degree
_DIRECTIONS: tuple[tuple[int, tuple[int, ...]], ...] = (
    (0, (1,)),
    (1, (1, 3)),
    (1, (1, 3, 1)),
    (2, (1, 1, 1)),
    (1, (1, 1, 3, 3)),
    (4, (1, 3, 5, 13)),
    (2, (1, 1, 5, 5, 17)),
    (4, (1, 1, 5, 5, 5)),
    (7, (1, 1, 7, 11, 19)),
    (11, (1, 1, 5, 1, 1)),
    (13, (1, 1, 1, 3, 11)),
    (14, (1, 3, 5, 5, 31)),
    (1, (1, 3, 3, 9, 7, 49)),
    (13, (1, 1, 1, 15, 21, 21)),
    (16, (1, 3, 1, 13, 27, 49)),
    (19, (1, 1, 1, 15, 7, 5)),
    (22, (1, 3, 1, 15, 13, 25)),
    (25, (1, 1, 5, 5, 19, 61)),
    (1, (1, 3, 7, 11, 23, 15, 103)),
)

#: most dimensions that it has here
MOST = len(_DIRECTIONS) + 1


def sobol(d: int, n: int, seed: int, *, start: int = 0) -> Floats:
    """Points start + 1 to start + n of the sequence in d dimensions, all shifted alike by a seeded step round the box.

    Parameters
    ----------
    d, n : int
        d at most :data:`MOST`.
    seed : int
        0: not shifted.
    start : int
        Points passed over.

    Returns
    -------
    ndarray, shape (d, n)
        From 0 to 1.
    """
    shift = np.random.default_rng(seed).random(d) if seed else np.zeros(d)
    found = _points(d, start, n) + shift[:, None]
    return np.asarray(found - (found >= 1.0))


def _points(d: int, start: int, n: int) -> Floats:
    index = np.arange(start + 1, start + n + 1, dtype=np.int64)
    gray = index ^ (index >> 1)
    found = np.empty((d, n))
    for i in range(d):
        value = np.zeros(n, dtype=np.int64)
        for low, sums in zip(range(0, _BITS, _TABLE), _tables(i), strict=True):
            if int(gray.max(initial=0)) >> low:
                value ^= sums[(gray >> low) & (len(sums) - 1)]
        found[i] = value / 2.0**_BITS
    return found


@cache
def _tables(i: int) -> tuple[NDArray[np.int64], ...]:
    """What a point's binary digits, some at a time, add to its place in a dimension."""
    directions = _directions(i)
    return tuple(_sums(directions[low : low + _TABLE]) for low in range(0, _BITS, _TABLE))


def _sums(directions: list[int]) -> NDArray[np.int64]:
    """Every sum (exclusive or) of some of the direction numbers, by the binary digits that say which."""
    found = np.zeros(1, dtype=np.int64)
    for direction in directions:
        found = np.concatenate([found, found ^ direction])
    return found


def _directions(i: int) -> list[int]:
    """Direction numbers of a dimension, scaled to the most significant bit."""
    if i == 0:
        return [1 << (_BITS - 1 - bit) for bit in range(_BITS)]
    inner, first = _DIRECTIONS[i - 1]
    degree = len(first)
    found = [m << (_BITS - 1 - bit) for bit, m in enumerate(first)]
    for bit in range(degree, _BITS):
        value = found[bit - degree] ^ (found[bit - degree] >> degree)
        for k in range(1, degree):
            if (inner >> (degree - 1 - k)) & 1:
                value ^= found[bit - k]
        found.append(value)
    return found
