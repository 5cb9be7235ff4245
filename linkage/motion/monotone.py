r"""A smooth curve through points that never overshoots them: piecewise cubic, its integral, and the integral's inverse.

::

    value                      between two points the cubic with the points' values and slopes;
      |      .--o              where the values on both sides of a point rise, or fall, its slope is the
      |   o-'                  weighted harmonic mean of the two chords', else nought;
      |  /                     beyond the outermost points the value goes on constant
      o-'
      +-------- turn

Value and slope go on smoothly through every point, the second derivative jumps there. The integral is
a quartic in every piece, added up exactly; it rises wherever the value is above nought, so it has one
inverse, found by Newton's method kept within the piece until nothing moves any more.

All functions broadcast: points may be floats, or arrays of many curves at once. The values may be
complex, which gives derivatives by the points' values exactly (the complex step).

References
----------
F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM Journal on Numerical
Analysis 17 (1980), 238-246. F. N. Fritsch and J. Butland, "A method for constructing local monotone
piecewise cubic interpolants", SIAM Journal on Scientific and Statistical Computing 5 (1984), 300-304
(the slope inside). C. Moler, *Numerical Computing with MATLAB*, SIAM 2004, §3.6 (the slope at the ends:
a parabola through three points, held back where it would overshoot). All from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from linkage.closure import Numbers

_STEPS = 80  # of Newton and halving: more than the bits of a number


@dataclass(frozen=True, eq=False)
class Piece:
    """The cubic between two points: ``y + d t + c t^2 + b t^3`` at ``t`` from its ``start``, over its ``width``."""

    start: Numbers
    width: Numbers
    y: Numbers
    d: Numbers
    c: Numbers
    b: Numbers

    def value(self, t: Numbers) -> Numbers:
        """Value at ``t`` from the start."""
        return self.y + t * (self.d + t * (self.c + t * self.b))

    def slope(self, t: Numbers) -> Numbers:
        """First derivative at ``t`` from the start."""
        return self.d + t * (2.0 * self.c + t * 3.0 * self.b)

    def second(self, t: Numbers) -> Numbers:
        """Second derivative at ``t`` from the start."""
        return 2.0 * self.c + t * 6.0 * self.b

    def integral(self, t: Numbers) -> Numbers:
        """Integral from the start to ``t`` from there."""
        return t * (self.y + t * (self.d / 2.0 + t * (self.c / 3.0 + t * self.b / 4.0)))


@dataclass(frozen=True, eq=False)
class Curve:
    """A monotone curve through points ``x`` (ascending) and ``y``; what it does beyond them is constant."""

    x: tuple[Numbers, ...]
    y: tuple[Numbers, ...]
    pieces: tuple[Piece, ...]

    def value(self, x: Numbers) -> Numbers:
        """Value at ``x``."""
        found = self.y[0] + 0.0 * x
        for piece in self.pieces:
            found = np.where(x > piece.start, piece.value(_within(x, piece)), found)
        return np.where(x >= self.x[-1], self.y[-1], found)[()]

    def slope(self, x: Numbers) -> Numbers:
        """First derivative at ``x``; at the outermost points that of the curve between them, nought beyond."""
        found = 0.0 * (self.y[0] + x)
        for piece in self.pieces:
            found = np.where(x >= piece.start, piece.slope(_within(x, piece)), found)
        return np.where(x > self.x[-1], 0.0, found)[()]

    def integral(self, x: Numbers) -> Numbers:
        """Integral from the first point to ``x``, below nought before it."""
        found = self.y[0] * np.minimum(x - self.x[0], 0.0) + self.y[-1] * np.maximum(x - self.x[-1], 0.0)
        for piece in self.pieces:
            found = found + piece.integral(_within(x, piece))
        return found

    def inverse(self, area: Numbers) -> Numbers:
        """The ``x`` at which the integral from the first point is ``area``; every value must be above nought."""
        none: Numbers = 0.0 * self.y[0]
        start, y, rest = self.x[0], self.y[0], area
        low, high = none - np.inf, none
        d, c, b, before = none, none, none, none
        for piece in self.pieces:
            inside = area >= before
            start, y = np.where(inside, piece.start, start), np.where(inside, piece.y, y)
            d, c, b = (np.where(inside, new, old) for new, old in ((piece.d, d), (piece.c, c), (piece.b, b)))
            low, high = np.where(inside, 0.0, low), np.where(inside, piece.width, high)
            rest = np.where(inside, area - before, rest)
            before = before + piece.integral(piece.width)
        beyond = area >= before
        start, y = np.where(beyond, self.x[-1], start), np.where(beyond, self.y[-1], y)
        d, c, b = (np.where(beyond, 0.0, old) for old in (d, c, b))
        high, rest = np.where(beyond, np.inf, high), np.where(beyond, area - before, rest)
        return (start + _root(Piece(start, high, y, d, c, b), rest, low, high))[()]


def curve(x: Sequence[Numbers], y: Sequence[Numbers]) -> Curve:
    """Lay the monotone curve through at least two points.

    Parameters
    ----------
    x : sequence of float or ndarray
        Ascending, any unit; ``nan`` comes out of a curve whose points do not ascend.
    y : sequence of float, complex or ndarray
        Any unit.

    Examples
    --------
    >>> bent = curve([0.0, 1.0, 3.0], [2.0, 2.0, 5.0])
    >>> float(bent.value(0.5)), float(bent.integral(1.0)), float(bent.inverse(2.0))
    (2.0, 2.0, 1.0)
    """
    points = tuple(x)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        widths = [b - a for a, b in pairwise(points)]
        ascends = _ascends(widths)
        values = tuple(np.where(ascends, v, np.nan)[()] for v in y)
        chords = [(b - a) / w for a, b, w in zip(values, values[1:], widths, strict=False)]
        slopes = _slopes(widths, chords)
        pieces = tuple(
            Piece(start, w, v, d0, (3.0 * m - 2.0 * d0 - d1) / w, (d0 + d1 - 2.0 * m) / (w * w))
            for start, w, v, m, d0, d1 in zip(points, widths, values, chords, slopes, slopes[1:], strict=False)
        )
    return Curve(points, values, pieces)


def _ascends(widths: Sequence[Numbers]) -> Numbers:
    ascends: Numbers = True
    for width in widths:
        ascends = ascends & (np.asarray(width) > 0.0)
    return ascends


def _slopes(h: Sequence[Numbers], m: Sequence[Numbers]) -> list[Numbers]:
    """Slopes at the points, from the widths of the pieces and the slopes of their chords."""
    if len(m) == 1:
        return [m[0], m[0]]
    inside = [_inside(h[k - 1], h[k], m[k - 1], m[k]) for k in range(1, len(m))]
    return [_end(h[0], h[1], m[0], m[1]), *inside, _end(h[-1], h[-2], m[-1], m[-2])]


def _inside(h0: Numbers, h1: Numbers, m0: Numbers, m1: Numbers) -> Numbers:
    """Fritsch and Butland: the weighted harmonic mean of two chords that go the same way."""
    w0, w1 = 2.0 * h1 + h0, h1 + 2.0 * h0
    alike = np.real(m0) * np.real(m1) > 0.0
    return np.where(alike, (w0 + w1) / (w0 / np.where(alike, m0, 1.0) + w1 / np.where(alike, m1, 1.0)), 0.0)[()]


def _end(h0: Numbers, h1: Numbers, m0: Numbers, m1: Numbers) -> Numbers:
    """The slope of the parabola through an end and its two neighbours, held back where it would overshoot."""
    d = ((2.0 * h0 + h1) * m0 - h0 * m1) / (h0 + h1)
    turns = np.sign(np.real(m0)) != np.sign(np.real(m1))
    d = np.where(turns & (np.abs(np.real(d)) > 3.0 * np.abs(np.real(m0))), 3.0 * m0, d)
    return np.where(np.sign(np.real(d)) == np.sign(np.real(m0)), d, 0.0)[()]


def _within(x: Numbers, piece: Piece) -> Numbers:
    return np.clip(x - piece.start, 0.0, piece.width)


def _root(piece: Piece, area: Numbers, low: Numbers, high: Numbers) -> Numbers:
    """``t`` between ``low`` and ``high`` at which the integral of a piece from its start is ``area``."""
    with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
        t = np.clip(area / piece.y, low, high)
        for _ in range(_STEPS):
            off = piece.integral(t) - area
            low, high = np.where(off < 0.0, t, low), np.where(off > 0.0, t, high)
            new = t - off / piece.value(t)
            new = np.where((new < low) | (new > high), 0.5 * (low + high), new)
            if not np.any(np.abs(new - t) > np.spacing(np.abs(t))):
                return new
            t = new
    return t
