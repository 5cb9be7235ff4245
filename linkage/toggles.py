"""Toggles (dead points): the driving turns at which a link comes in line with the arm that it drives.

There the closure loses its reach. Between turning arms that is a trigonometric polynomial of second
degree (:mod:`linkage.trig_zeros`), of first degree where the axes are parallel; from a block that
slides, a plain polynomial.
"""

from __future__ import annotations

import numpy as np

from linkage import trig_zeros
from linkage.closure import Array, Loop, Numbers

_TURN = 2.0 * np.pi
_CHANGE_POINT = 1e-14  # share of its terms within which a cosine counts as 1


def toggle_turns(link: Loop, *, parallel: bool = False) -> Numbers:
    """Driving turns [rad] at which the link is at a toggle (dead point of the driven arm).

    There ``rho^2 = k^2``, a trigonometric polynomial of second degree in the driving turn: at most
    four. A change point (the link comes to a toggle and back without losing reach) comes twice.
    ``parallel`` says that the two axes are, which halves the degree: see :func:`in_a_plane`.

    Returns
    -------
    ndarray, shape (..., 4)
        Angles in (-pi, pi], in no order, ``nan`` in unused places. Good to rounding where the link
        loses its reach; two toggles nearer than some 1e-7 rad are taken for a change point. Of a
        driving block, its turns.
    """
    if link.driving_slides:
        return _of_a_block(link, parallel)
    if parallel and not link.driven_slides:
        return in_a_plane(link)
    if link.driven_slides:  # w1^2 = 2 r k
        g, m = np.asarray(link.g1, float), link.p1 - 1j * link.q1
        k0, k = 2.0 * link.r * link.k0, 2.0 * link.r * (link.k1 - 1j * link.k2)
        around = g * g + 0.5 * np.abs(m) ** 2 - k0
        return trig_zeros.zeros(
            around, 2.0 * g * m - k, 0.5 * m * m, (np.abs(g) + np.abs(m)) ** 2 + np.abs(k0) + np.abs(k)
        )
    g1, p1, q1, g2, p2, q2, k0, k1, k2 = (np.asarray(x, float) for x in link[:9])
    mean: Numbers = 0.0
    first: Numbers = 0.0
    second: Numbers = 0.0
    size: Numbers = 0.0
    for g, p, q, sign in ((g1, p1, q1, 1.0), (g2, p2, q2, 1.0), (k0, k1, k2, -1.0)):
        m = p - 1j * q  # g + p cos + q sin = g + Re(m z) with z = cos + i sin
        mean = mean + sign * (g * g + 0.5 * (p * p + q * q))
        first = first + sign * 2.0 * g * m
        second = second + sign * 0.5 * m * m
        size = size + (np.abs(g) + np.abs(m)) ** 2
    return trig_zeros.zeros(mean, first, second, size)


def _of_a_block(link: Loop, parallel: bool) -> Numbers:
    """Turns of a driving block at which its link is at a toggle, shape (..., 4): zeros of a polynomial."""
    g1, p1, _, g2, p2, _, k0, k1, k2, r = (np.asarray(x, float) for x in link[:10])
    if link.driven_slides:
        pairs = [_parabola_zeros(p1 * p1 - 2.0 * r * k2, 2.0 * (g1 * p1 - r * k1), g1 * g1 - 2.0 * r * k0)]
    elif parallel:
        # the driving pin stands r + l or r - l from the driven pivot, l the link as seen along the axis
        seen = np.sqrt(np.maximum(r * r - 2.0 * r * k0 + g1 * g1 + g2 * g2, 0.0))
        square, linear, constant = p1 * p1 + p2 * p2, 2.0 * (g1 * p1 + g2 * p2), g1 * g1 + g2 * g2
        pairs = [_parabola_zeros(square, linear, constant - (r + long) ** 2) for long in (seen, -seen)]
    else:
        rows = (
            -k2 * k2, -2.0 * k1 * k2, p1 * p1 + p2 * p2 - k1 * k1 - 2.0 * k0 * k2,
            2.0 * (g1 * p1 + g2 * p2 - k0 * k1), g1 * g1 + g2 * g2 - k0 * k0,
        )  # fmt: skip
        return _quartic_zeros(np.stack(np.broadcast_arrays(*rows), axis=-1))
    pairs += [np.full_like(pairs[0], np.nan)] * (2 - len(pairs))
    return np.concatenate(pairs, axis=-1)


@np.errstate(invalid="ignore", divide="ignore")
def _parabola_zeros(a: Array, b: Array, c: Array) -> Array:
    """Zeros of ``a x^2 + b x + c``, shape (..., 2), without cancellation; ``nan`` where there is none."""
    a, b, c = np.broadcast_arrays(a, b, c)
    square = b * b - 4.0 * a * c
    slack = _CHANGE_POINT * (b * b + np.abs(4.0 * a * c))
    half = -0.5 * (b + np.where(b < 0.0, -1.0, 1.0) * np.sqrt(np.where(np.abs(square) <= slack, 0.0, square)))
    other = np.where(half == 0.0, half / a, c / half)
    found = np.stack([half / a, other], axis=-1)
    return np.asarray(np.where(np.isfinite(found), found, np.nan))


def _quartic_zeros(rows: Array) -> Array:
    """Real zeros of polynomials of fourth degree, coefficients (..., 5) from the highest down, shape (..., 4)."""
    found = np.full((*rows.shape[:-1], 4), np.nan)
    for index in np.ndindex(rows.shape[:-1]):
        if np.all(np.isfinite(rows[index])):
            zeros = np.roots(rows[index])
            real = zeros[np.abs(zeros.imag) <= 1e-7 * (1.0 + np.abs(zeros))].real
            found[(*index, slice(0, real.size))] = real
    return found


@np.errstate(invalid="ignore", divide="ignore")
def in_a_plane(link: Loop) -> Numbers:
    """:func:`toggle_turns` of a link between parallel axes, many times as fast.

    Seen along the axes the link has one length ``l``, and it lies along the driven arm where the
    driving pin is ``r + l`` or ``r - l`` from the driven pivot, that is where ``k`` is: one cosine
    each. Shape (..., 4), the last axis running slowest in memory.
    """
    g1, p1, q1, g2, p2, q2, k0, k1, k2, r = link[:10]
    # rho^2 = 2 r k - m with m = r^2 - l^2; its mean over a turn gives l
    mean = g1 * g1 + g2 * g2 + 0.5 * (p1 * p1 + q1 * q1 + p2 * p2 + q2 * q2)
    seen = np.sqrt(r * r - 2.0 * r * k0 + mean)
    swing = np.sqrt(k1 * k1 + k2 * k2)
    middle = np.arctan2(k2, k1)
    slack = _CHANGE_POINT * (np.abs(k0) + r + seen) / swing
    found = np.empty((4, *np.shape(middle + slack)))
    for i, at in enumerate((r + seen, r - seen)):
        cosine = (at - k0) / swing
        # a hair beyond 1, or short of it, is a change point
        cosine = np.where(np.abs(np.abs(cosine) - 1.0) <= slack, np.sign(cosine), cosine)
        away = np.arccos(cosine)
        found[2 * i], found[2 * i + 1] = middle + away, middle - away
    found -= _TURN * (found > np.pi)
    found += _TURN * (found <= -np.pi)
    return np.moveaxis(found, 0, -1)
