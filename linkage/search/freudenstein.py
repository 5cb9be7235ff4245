r"""Exact synthesis of one link between two arms: precision points and closed-form clocking.

::

               B              frame d on +x, input arm a at theta2, output arm c at theta4,
          b .-' \             link b; all angles ccw from the frame line
        .-'      \ c
      A           \            K1 cos(theta4) - K2 cos(theta2) + K3 = cos(theta2 - theta4)
     a \           \           K1 = d/a   K2 = d/c   K3 = (a^2 - b^2 + c^2 + d^2) / (2 a c)
        O2 ------- O4
             d

References
----------
F. Freudenstein, "Approximate synthesis of four-bar linkages", Transactions of the ASME 77 (1955),
853-861 (from memory). R. L. Norton, *Design of Machinery*, McGraw-Hill, §4.5 (the constants).
J. J. Uicker, G. R. Pennock and J. E. Shigley, *Theory of Machines and Mechanisms*, Oxford, chapter on
synthesis (Chebyshev spacing and the three-point example; chapter from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage.errors import AssemblyError
from linkage.fourbar import grashof

Floats = NDArray[np.float64]


def chebyshev_spacing(low: float, high: float, n: int) -> Floats:
    """Return n precision points between two ends, spaced so that the error between them is about even.

    Parameters
    ----------
    low, high : float
        Ends of the range, any unit.
    n : int
        Number of points, at least 1.

    Returns
    -------
    ndarray, shape (n,)
        Ascending where low < high.

    References
    ----------
    Uicker, Pennock and Shigley, chapter on synthesis: ``x_j = mid - half cos((2j - 1) pi / 2n)``.
    """
    j = np.arange(1, n + 1)
    return np.asarray(0.5 * (low + high) - 0.5 * (high - low) * np.cos((2 * j - 1) * np.pi / (2 * n)))


@dataclass(frozen=True)
class FourBar:
    """A planar four-bar that matches an output arm to an input arm.

    ``a``, ``b``, ``c``, ``d`` [mm] are input arm, link, output arm and frame; a negative arm points the
    other way (its angle plus 180 degrees). ``k`` are the three constants of the Freudenstein
    equation. ``error`` [deg] is the output less what is asked at each point, ``nan`` where the linkage
    cannot assemble. ``grashof`` is its class: only of a Grashof linkage with a crank can an arm go right
    round, which throttles do not ask for. ``defects`` says in words what is wrong with it between its points
    (empty: nothing).
    """

    a: float
    b: float
    c: float
    d: float
    k: tuple[float, float, float]
    branch: int
    error: Floats
    grashof: str
    defects: tuple[str, ...]


def freudenstein(theta2: ArrayLike, theta4: ArrayLike, *, frame: float = 1.0) -> FourBar:
    """Find the four-bar whose output arm stands at ``theta4`` when its input arm stands at ``theta2``.

    Three points are met exactly; more by least squares on Freudenstein's equation.

    Parameters
    ----------
    theta2, theta4 : array_like, shape (n,)
        Angles of input and output arm [deg], ccw from the frame line, n at least 3.
    frame : float
        Distance between the axes [mm].

    Raises
    ------
    ValueError
        Fewer than three points, or points of unequal number.
    AssemblyError
        No linkage of finite size exists: the equations are singular, or an arm would be endless.

    References
    ----------
    See the module.
    """
    inward, outward = np.radians(np.asarray(theta2, float)), np.radians(np.asarray(theta4, float))
    if inward.shape != outward.shape or inward.ndim != 1 or inward.size < 3:
        raise ValueError(f"three or more pairs of angles are needed, got {inward.size} and {outward.size}")
    rows = np.stack([np.cos(outward), -np.cos(inward), np.ones_like(inward)], axis=1)
    if np.linalg.matrix_rank(rows) < 3:
        raise AssemblyError("the precision points do not fix a four-bar: two of them say the same")
    k1, k2, k3 = (float(k) for k in np.linalg.lstsq(rows, np.cos(inward - outward), rcond=None)[0])
    if min(abs(k1), abs(k2)) < 1e-9:
        raise AssemblyError("an arm of this four-bar would be endless: choose other ranges of angle")
    a, c = frame / k1, frame / k2
    # the mean of the squared distances that the link would span at the points: never negative
    b = float(np.sqrt(a * a + c * c + frame * frame - 2.0 * a * c * k3))
    branch, error, defects = _judged(a, b, c, frame, inward, outward)
    kind = grashof((abs(a), b, abs(c), frame)).kind
    return FourBar(a, b, c, frame, (k1, k2, k3), branch, error, kind, tuple(defects))


def _judged(a: float, b: float, c: float, d: float, inward: Floats, outward: Floats) -> tuple[int, Floats, list[str]]:
    """Branch that serves most points, error [deg] at each on it, and the defects."""
    with np.errstate(invalid="ignore"):
        x, y = a * np.cos(inward) - d, a * np.sin(inward)
        k = (x * x + y * y + c * c - b * b) / (2.0 * c)
        root = np.sqrt(x * x + y * y - k * k)
        both = [np.arctan2(y, x) + s * np.arctan2(root, k) for s in (1.0, -1.0)]
    away = [np.degrees(np.remainder(out - outward + np.pi, 2.0 * np.pi) - np.pi) for out in both]
    miss = [np.nan_to_num(np.abs(e), nan=180.0) for e in away]
    best = int(np.sum(miss[1]) < np.sum(miss[0]))
    defects = []
    if np.any(np.isnan(away[best])):
        defects.append("it cannot assemble at every asked point")
    nearer = np.argmin(np.stack(miss), axis=0)
    if np.unique(nearer[np.abs(miss[0] - miss[1]) > 1e-6]).size > 1:
        defects.append("branch defect: the points lie on both closures, it would have to be taken apart between them")
    order = np.argsort(inward)
    # between the first and the last point the output must run through the points in order
    run = np.linspace(inward.min(), inward.max(), 361)
    x, y = a * np.cos(run) - d, a * np.sin(run)
    k = (x * x + y * y + c * c - b * b) / (2.0 * c)
    with np.errstate(invalid="ignore"):
        root = np.sqrt(x * x + y * y - k * k)
    if np.any(np.isnan(root)):
        defects.append("it comes to a toggle between the points")
    else:
        out = np.unwrap(np.arctan2(y, x) + (1.0, -1.0)[best] * np.arctan2(root, k))
        wanted = np.unwrap(outward[order])
        if np.any(np.diff(out) * np.sign(wanted[-1] - wanted[0]) < 0.0):
            defects.append("order defect: the output turns back between the points")
    return (1, -1)[best], away[best], defects


@dataclass(frozen=True)
class Clocking:
    """One way of clocking the second arm: its ``angle`` [deg, ccw from +x, idle] and the link ``length`` [mm]."""

    angle: float
    length: float


def agreeing_clockings(
    *,
    centres: tuple[float, float],
    radii: tuple[float, float],
    first_angle: float,
    turns: tuple[float, float],
) -> tuple[Clocking, ...]:
    """Clock the second of two arms so that one straight link has the same length at idle and wide open.

    Both shafts then agree exactly at both ends. Closed form: the difference of the two squared
    lengths is linear in cosine and sine of the wanted angle.

    Parameters
    ----------
    centres : (float, float)
        From the first axis to the second, x and y [mm].
    radii : (float, float)
        Arm radii, first and second [mm].
    first_angle : float
        Angle of the first arm at idle [deg].
    turns : (float, float)
        Signed turn of each shaft from idle to wide open [deg, ccw].

    Returns
    -------
    tuple of Clocking
        None, one or two; shorter link first.
    """
    way = np.asarray(centres, float)
    r1, r2 = radii
    start, t1, t2 = np.radians(first_angle), np.radians(turns[0]), np.radians(turns[1])

    def from_second(angle: float) -> Floats:
        return np.asarray(r1 * np.array([np.cos(angle), np.sin(angle)]) - way)

    idle, wide = from_second(start), from_second(start + t1)
    # |idle - r2 e(b)|^2 = |wide - r2 e(b + t2)|^2
    turned = np.array([[np.cos(t2), np.sin(t2)], [-np.sin(t2), np.cos(t2)]]) @ wide
    across = 2.0 * r2 * (turned - idle)
    level = float(wide @ wide - idle @ idle)
    size = float(np.hypot(*across))
    if size == 0.0 or abs(level) > size:
        return ()
    middle, half = np.arctan2(across[1], across[0]), np.arccos(level / size)
    found = []
    for angle in {middle + half, middle - half}:
        pin = r2 * np.array([np.cos(angle), np.sin(angle)])
        degrees = float(np.degrees(np.remainder(angle + np.pi, 2.0 * np.pi) - np.pi))
        found.append(Clocking(degrees, float(np.hypot(*(idle - pin)))))
    return tuple(sorted(found, key=lambda c: c.length))
