r"""Where a trigonometric polynomial of second degree is zero: at most four angles, in closed form.

Turned by half the phase of its second harmonic, and mirrored so that ``a, b, B >= 0``, it reads

    F(x) = c0 + a cos x + b sin x + B cos 2x = (2B cos(x + psi) + E) (cos(x - psi) + q)

a product of two factors of first degree, for any psi in the first quadrant that satisfies

    E + 2B q = a / cos psi      E - 2B q = b / sin psi      E q = c0 - B cos 2 psi

With v = sin psi or cos psi, whichever is the smaller, elimination leaves a cubic in v^2 that changes
sign between v^2 = 0 and v^2 = 1/2: there is always such a psi. (Geometrically: a conic and the unit
circle meet where a pair of straight lines meets the circle.) Each factor gives its two angles by one
arc cosine; steps along the local parabola of F then take the rounding out.

References
----------
The product: own derivation, multiply it out. The pair of lines: J. Richter-Gebert, *Perspectives on
Projective Geometry*, Springer 2011, chapter on conics and their intersections (from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: F counts as zero below this share of its size. It is also how far the rounding of F's own
#: coefficients may lift a double zero off, or split it: by the square root of this in angle [rad].
_ZERO = 1e-14

_BLOCK = 4096  # rows at a time: what one core's fast memory holds


def zeros(c0: ArrayLike, m1: ArrayLike, m2: ArrayLike, size: ArrayLike) -> Floats:
    """Angles at which ``F = c0 + Re(m1 z) + Re(m2 z^2)``, ``z = exp(i theta)``, is zero.

    Parameters
    ----------
    c0, m1, m2 : array_like, shape (...)
        Mean value (real), first and second harmonic (complex), in any one unit.
    size : array_like, shape (...)
        Sum of the sizes of the terms that F was added up from, same unit: sets what counts as zero.

    Returns
    -------
    ndarray, shape (..., 4)
        Angles [rad] in (-pi, pi], in no order; a double zero comes twice; ``nan`` in unused places
        and, where F is constant, in all. Zeros nearer than some 1e-7 rad are taken for a double one.
    """
    size = np.asarray(size, float)
    with np.errstate(all="ignore"):
        parts = (np.asarray(c0) / size, np.asarray(m1) / size, np.asarray(m2) / size)
        rows = [np.ravel(part) for part in np.broadcast_arrays(*parts)]
        found = np.empty((4, rows[0].size))
        for start in range(0, rows[0].size, _BLOCK):
            here = slice(start, start + _BLOCK)
            found[:, here] = _zeros(*(row[here] for row in rows))
    return np.moveaxis(found.reshape((4, *np.broadcast_shapes(*(part.shape for part in parts)))), 0, -1)


def _zeros(c0: Floats, m1: NDArray[np.complex128], m2: NDArray[np.complex128]) -> Floats:
    """The same for one block of rows of size 1; shape (4, n)."""
    beta = -0.5 * np.angle(m2)
    turned = m1 * np.exp(1j * beta)  # = a - i b
    beta = np.where(turned.real < 0.0, beta + np.pi, beta)
    mirror = np.where((turned.imag > 0.0) == (turned.real < 0.0), 1.0, -1.0)
    theta = beta + mirror * _factors(c0, np.abs(turned.real), np.abs(turned.imag), np.abs(m2))
    for _ in range(2):
        f, slope, bend = _value(theta, c0, m1, m2)
        square = slope * slope - 2.0 * f * bend
        crossing = -2.0 * f / (slope + np.copysign(np.sqrt(np.maximum(square, 0.0)), slope))
        theta += np.where(square > _ZERO * np.abs(bend), crossing, -slope / bend)
    good = (np.abs(_value(theta, c0, m1, m2)[0]) <= _ZERO) & (np.abs(m1) + np.abs(m2) > _ZERO)
    return np.where(good, np.pi - np.mod(np.pi - theta, 2.0 * np.pi), np.nan)


def _value(theta: Floats, c0: Floats, m1: Any, m2: Any) -> tuple[Floats, Floats, Floats]:
    """F and its first and second derivative."""
    c, s = np.cos(theta), np.sin(theta)
    one, one_by = m1.real * c - m1.imag * s, -m1.real * s - m1.imag * c
    c, s = c * c - s * s, 2.0 * s * c
    two, two_by = m2.real * c - m2.imag * s, -m2.real * s - m2.imag * c
    return c0 + one + two, one_by + 2.0 * two_by, -one - 4.0 * two


def _factors(c0: Floats, a: Floats, b: Floats, second: Floats) -> Floats:
    """Zeros of the two factors in the turned frame, shape (4, n), before the last rounding is out."""
    swap = b * b - a * a + 4.0 * second * c0 > 0.0  # then cos psi is the smaller
    near, far, mean = np.where(swap, a, b), np.where(swap, b, a), np.where(swap, -c0, c0)
    v = _smaller_leg(near * near, far * far, mean, second)
    w = np.sqrt(1.0 - v * v)
    product = mean - second * (1.0 - 2.0 * v * v)
    # E + 2B q and E - 2B q; near / v loses its meaning where both vanish (a planar linkage), so
    # there from the product
    far, near = far / w, near / v
    whole = np.sqrt(np.maximum(far * far - 8.0 * second * product, 0.0))
    near = np.where(near * (1.0 + near) < v * far * far, near, whole)
    e = 0.5 * (far + near)
    q = np.where(swap, -product, product) / e  # e is of the size of a, b or B, whichever is largest
    psi = np.where(swap, np.arctan2(w, v), np.arctan2(v, w))
    plus, minus = _arc(-e / (2.0 * second)), _arc(-q)
    return np.stack([plus - psi, -plus - psi, minus + psi, psi - minus])


def _smaller_leg(near: Floats, far: Floats, mean: Floats, second: Floats) -> Floats:
    """Root v in 0..sqrt(1/2) of ``near (1 - v^2) - far v^2 + 8B v^2 (1 - v^2) (mean - B + 2B v^2)``.

    Newton's steps, halved brackets where they would leave; every row ends by itself, whatever its
    neighbours do.
    """
    low, high = np.zeros_like(mean), np.full_like(mean, np.sqrt(0.5))
    v = np.sqrt(near / (near + far - 8.0 * second * (mean - second)))  # where v is small
    v = np.where(v < high, v, 0.5 * high)
    settled = np.isnan(v)
    for _ in range(100):
        u = v * v
        middle = 8.0 * second * (mean - second + 2.0 * second * u)
        g = near * (1.0 - u) + u * (middle * (1.0 - u) - far)
        by_u = middle * (1.0 - 2.0 * u) - near - far + 16.0 * second * second * u * (1.0 - u)
        low, high = np.where(g > 0.0, v, low), np.where(g > 0.0, high, v)
        new = v - g / (2.0 * v * by_u)
        new = np.where((new >= low) & (new <= high), new, 0.5 * (low + high))
        arrived = (np.abs(new - v) <= 1e-15) | np.isnan(g)
        v = np.where(settled, v, new)
        settled |= arrived
        if np.all(settled):
            break
    return v


def _arc(cosine: Floats) -> Floats:
    """Arc cosine; a hair beyond 1 there may be a double zero (F itself will tell), farther there is none."""
    return np.where(np.abs(cosine) <= 1.0 + 1e-6, np.arccos(np.clip(cosine, -1.0, 1.0)), np.nan)
