"""The planar four-bar of the textbooks, in the terms of the one closure.

::

              A ---- b ---- B         a crank     angle theta2
             /               \\        b coupler   angle theta3
            a                 c       c rocker    angle theta4
           /                   \\      d ground    along +x
         O2 -------- d -------- O4

All angles are absolute, ccw from +x: both arms are "drawn" along +x, so a turn is an angle.

References
----------
R. L. Norton, *Design of Machinery*, McGraw-Hill, chapters 2 (Grashof) and 4 (position analysis);
chapter numbers from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from linkage.closure import ArmFrame, Loop, Numbers, loop

#: The branch of :mod:`linkage.closure` that the textbooks call open and crossed: the coupler's far
#: end B on the left, or on the right, of the line from A to O4.
OPEN, CROSSED = -1.0, 1.0

_CHANGE_POINT = 1e-12  # share of the lengths within which two sums are equal


class Grashof(NamedTuple):
    """Class of a four-bar and the two sums [same unit as the lengths] it is read from."""

    kind: str
    shortest_and_longest: float
    other_two: float


def four_bar(
    a: Numbers, b: Numbers, c: Numbers, o4: tuple[Numbers, Numbers], branch: Numbers
) -> tuple[Loop, ArmFrame, ArmFrame]:
    """The closure of a four-bar with its crank at the origin: constants, crank's and rocker's frame.

    Parameters
    ----------
    a, b, c : float or ndarray
        Crank, coupler, rocker, any one unit (mm in this package).
    o4 : tuple of float
        Pivot of the rocker; ``(d, 0)`` where the ground lies along +x.
    branch : float
        :data:`OPEN` or :data:`CROSSED`.
    """
    x, y, z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
    crank = ArmFrame((0.0, 0.0, 0.0), x, y, z, a)
    rocker = ArmFrame((o4[0], o4[1], 0.0), x, y, z, c)
    return loop(crank, rocker, b, branch), crank, rocker


def grashof(lengths: Sequence[float]) -> Grashof:
    """Classify a four-bar by its four lengths, in any order.

    Parameters
    ----------
    lengths : sequence of four float
        Any one unit (mm in this package), all positive.

    Returns
    -------
    Grashof
        ``kind`` is "Grashof" (the shortest bar can turn right round against the others),
        "special-case Grashof (change point)" (the sums are equal: the bars can come to lie in one
        line), "non-Grashof", or "cannot be assembled" (one bar is longer than the others together).

    Examples
    --------
    >>> grashof([40, 120, 80, 100]).kind
    'Grashof'

    References
    ----------
    R. L. Norton, *Design of Machinery*, McGraw-Hill, §2.12 "The Grashof condition" (section number
    from memory).
    """
    if len(lengths) != 4 or not all(math.isfinite(x) and x > 0.0 for x in lengths):
        raise ValueError(f"lengths: must be four positive lengths, got {list(lengths)!r}")
    shortest, second, third, longest = sorted(lengths)
    extremes, others = shortest + longest, second + third
    if longest > shortest + others:
        kind = "cannot be assembled"
    elif math.isclose(extremes, others, rel_tol=_CHANGE_POINT):
        kind = "special-case Grashof (change point)"
    else:
        kind = "Grashof" if extremes < others else "non-Grashof"
    return Grashof(kind, extremes, others)


def constants(a: Numbers, b: Numbers, c: Numbers, d: Numbers) -> tuple[Numbers, ...]:
    """The five dimensionless link ratios K1 .. K5 of the half-angle solution.

    K1 to K3 are those of Freudenstein's equation, ``K1 cos theta4 - K2 cos theta2 + K3 =
    cos(theta2 - theta4)``; K4 and K5 are their fellows for the coupler.

    Parameters
    ----------
    a, b, c, d : float, ndarray or sympy expression
        Crank, coupler, rocker, ground, any one unit (mm in this package).

    References
    ----------
    R. L. Norton, *Design of Machinery*, McGraw-Hill, §4.5 (section number from memory).
    """
    return (
        d / a,
        d / c,
        (a * a - b * b + c * c + d * d) / (2 * a * c),
        d / b,
        (c * c - d * d - a * a - b * b) / (2 * a * b),
    )
