r"""The closure: where a link of fixed length puts the arm that it drives.

::

              P  driving pin            w = P - centre of the driven pin's circle
             /  \                       w1 = w.e1   w2 = w.e2   (w3 = w.u)
      r1    /     \  L                  rho^2 = w1^2 + w2^2
           /        \                   k = (rho^2 + w3^2 + r^2 - L^2) / (2 r)
      O1  o           \  q  driven pin
        theta         /                 w1 cos(phi) + w2 sin(phi) = k
                     /  r               cos(phi) = (w1 k - S w2) / rho^2
               O2   o   phi             sin(phi) = (w2 k + S w1) / rho^2
                                        S = branch * sqrt(rho^2 - k^2)

This is the planar four-bar when the two axes are parallel (a sideways offset of the pins is the
constant w3) and the spatial RSSR four-bar when they are not; the lines below do not ask which.
Both angles count from the drawn position: ``e1`` of each arm points at its pin as drawn, so
``theta`` and ``phi`` are the members' *turns* and every arm of a member shares one cos/sin pair.

Seen along the turn of the driving arm, w1, w2 and k are each ``constant + a cos + b sin``:
nine numbers a link, worked out once (:func:`loop`). A position is then a dozen multiplications,
one square root and one division (:func:`close`); no trigonometric call.

A block that slides along a straight guide takes the same lines. Its pin stands at
``P + r t e1``, so that w1, w2 and k are ``constant + a t + b t^2``: the pair (t, t^2) stands where a
turning member has (cos, sin). A driven block solves ``r t^2 / 2 - w1 t + k = 0`` with
``k = (w.w - L^2) / (2 r)``: ``t = (w1 + S) / r``, ``S = branch * sqrt(w1^2 - 2 r k)``. The coordinate t
of a block is called its turn too, and counts a millimetre as a degree (``r = 180/pi`` mm), so that
one word and one unit serve all members; :func:`pose_of` and :func:`turn_of` know the difference.

All functions broadcast over any leading shape; ``nan`` means "cannot assemble".

References
----------
R. S. Hartenberg and J. Denavit, *Kinematic Synthesis of Linkages*, McGraw-Hill 1964, ch. 12
(RSSR). R. L. Norton, *Design of Machinery*, McGraw-Hill, §4.5 (planar four-bar; section number
from memory), §4.6 (slider-crank; likewise). The form above follows from ``|P - q| = L`` in three
lines; ``tests`` derive it with sympy from the loop equations.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

#: The "radius" [mm] of a sliding block: its turn of one degree is a travel of one millimetre.
SLIDING = 180.0 / np.pi

Numbers = Any  # a float or an ndarray of floats: every function broadcasts
Vector = tuple[Numbers, Numbers, Numbers]
Array = NDArray[np.float64]


class ArmFrame(NamedTuple):
    """The circle an arm's pin runs on: its ``centre`` and radius ``r`` [mm], the unit vector
    ``e1`` to the pin as drawn, ``e2 = u x e1``, and the axis ``u``.

    Of a block that ``slides``, ``centre`` is its pin as drawn, ``e1`` points along the guide, ``u`` along
    the pin, and ``r`` is :data:`SLIDING`.
    """

    centre: Vector
    e1: Vector
    e2: Vector
    u: Vector
    r: Numbers
    slides: bool = False


class Loop(NamedTuple):
    """One link's nine constants (``w1 = g1 + p1 cos + q1 sin``, likewise w2 and k), the driven
    radius ``r`` [mm], the ``branch`` (+1 or -1), and whether its ends are on blocks that slide."""

    g1: Numbers
    p1: Numbers
    q1: Numbers
    g2: Numbers
    p2: Numbers
    q2: Numbers
    k0: Numbers
    k1: Numbers
    k2: Numbers
    r: Numbers
    branch: Numbers
    driving_slides: bool = False
    driven_slides: bool = False


def dot(a: Vector, b: Vector) -> Numbers:
    """Scalar product of two component triples."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    """Vector product of two component triples."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


def minus(a: Vector, b: Vector) -> Vector:
    """Difference of two component triples."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def pose_of(turn: Numbers, slides: bool = False) -> tuple[Numbers, Numbers]:
    """Cosine and sine of a member's turn [rad]; of a block that slides, its turn and the square of it."""
    return (turn, turn * turn) if slides else (np.cos(turn), np.sin(turn))


def turn_of(c: Numbers, s: Numbers, slides: bool = False) -> Numbers:
    """A member's turn [rad] from its pose: in (-pi, pi], but of a block that slides any number."""
    return c if slides else np.arctan2(s, c)


def pin(arm: ArmFrame, c: Numbers, s: Numbers) -> Vector:
    """Place of an arm's pin [mm] in the pose ``c``, ``s`` of its member (:func:`pose_of`)."""
    if arm.slides:
        s = 0.0 * s
    x, y, z = (arm.centre[i] + arm.r * (c * arm.e1[i] + s * arm.e2[i]) for i in range(3))
    return (x, y, z)


def tangent(arm: ArmFrame, c: Numbers, s: Numbers) -> Vector:
    """Velocity of an arm's pin per turn of its member [mm/rad]: along the circle, or along the guide."""
    x, y, z = (arm.r * (arm.e1[i] if arm.slides else c * arm.e2[i] - s * arm.e1[i]) for i in range(3))
    return (x, y, z)


def drawn_pose(arm: ArmFrame) -> tuple[float, float]:
    """Pose of a member as drawn: turn nought."""
    return (0.0, 0.0) if arm.slides else (1.0, 0.0)


def drawn_length(driving: ArmFrame, driven: ArmFrame) -> Numbers:
    """Distance [mm] between two pins as drawn: the length of a fitted link."""
    g, a, b = minus(driving.centre, driven.centre), driving.e1, driven.e1
    r1, r2 = (0.0 if arm.slides else arm.r for arm in (driving, driven))  # a block's centre is its pin
    d = (
        g[0] + r1 * a[0] - r2 * b[0],
        g[1] + r1 * a[1] - r2 * b[1],
        g[2] + r1 * a[2] - r2 * b[2],
    )
    return np.sqrt(dot(d, d))


def loop(driving: ArmFrame, driven: ArmFrame, length: Numbers, branch: Numbers) -> Loop:
    """Work out a link's constants; swap the arms to run the closure the other way.

    Parameters
    ----------
    driving, driven : ArmFrame
        The two arms, lengths [mm], any broadcastable shapes.
    length : float or ndarray
        Pin centre to pin centre [mm].
    branch : float or ndarray
        +1 or -1, see :func:`branch_of`.
    """
    g = minus(driving.centre, driven.centre)
    a, b, r1, r2 = driving.e1, driving.e2, driving.r, driven.r
    e1, e2 = driven.e1, driven.e2
    scale = r1 / r2
    if driving.slides or driven.slides:
        return _sliding_loop(g, driving, driven, length, branch)
    return Loop(
        dot(g, e1), r1 * dot(a, e1), r1 * dot(b, e1),
        dot(g, e2), r1 * dot(a, e2), r1 * dot(b, e2),
        (dot(g, g) + r1 * r1 + r2 * r2 - length * length) / (2.0 * r2),
        scale * dot(g, a), scale * dot(g, b),
        r2, branch,
    )  # fmt: skip


def _sliding_loop(g: Vector, driving: ArmFrame, driven: ArmFrame, length: Numbers, branch: Numbers) -> Loop:
    """:func:`loop` where one end is on a block that slides, or both are; ``g`` from centre to centre."""
    a, r1, r2 = driving.e1, driving.r, driven.r
    b = (0.0, 0.0, 0.0) if driving.slides else driving.e2
    circles = sum(arm.r * arm.r for arm in (driving, driven) if not arm.slides)
    along = r1 / r2 * dot(g, a)
    second = r1 * r1 / (2.0 * r2) if driving.slides else r1 / r2 * dot(g, b)
    return Loop(
        dot(g, driven.e1), r1 * dot(a, driven.e1), r1 * dot(b, driven.e1),
        dot(g, driven.e2), r1 * dot(a, driven.e2), r1 * dot(b, driven.e2),
        (dot(g, g) + circles - length * length) / (2.0 * r2), along, second,
        r2, branch, driving.slides, driven.slides,
    )  # fmt: skip


def backwards(link: Loop, driving_radius: Numbers, branch: Numbers) -> Loop:
    """The constants of the same link run the other way, from its driven arm to its driving one [mm].

    Both must turn; where a block slides, call :func:`loop` with the arms swapped.
    """
    back = link.r / driving_radius
    return Loop(
        -back * link.k1, back * link.p1, back * link.p2,
        -back * link.k2, back * link.q1, back * link.q2,
        back * link.k0, -back * link.g1, -back * link.g2,
        driving_radius, branch,
    )  # fmt: skip


@np.errstate(invalid="ignore", divide="ignore")
def close(link: Loop, c: Numbers, s: Numbers) -> tuple[Numbers, Numbers]:
    """Cosine and sine of the driven turn for the cosine ``c`` and sine ``s`` of the driving turn.

    ``nan`` where the link cannot reach (``rho^2 < k^2``): beyond a toggle.
    """
    w1 = link.g1 + link.p1 * c + link.q1 * s
    w2 = link.g2 + link.p2 * c + link.q2 * s
    k = link.k0 + link.k1 * c + link.k2 * s
    if link.driven_slides:
        travel = (w1 + link.branch * np.sqrt(w1 * w1 - 2.0 * link.r * k)) / link.r
        return travel, travel * travel
    rho2 = w1 * w1 + w2 * w2
    root = link.branch * np.sqrt(rho2 - k * k)
    return (w1 * k - w2 * root) / rho2, (w2 * k + w1 * root) / rho2


@np.errstate(invalid="ignore", divide="ignore")
def close_and_rate(link: Loop, c: Array, s: Array, out: tuple[Array, Array, Array]) -> None:
    """:func:`close` and d(driven turn)/d(driving turn) in one go, for many linkages at many positions.

    ``c``, ``s`` and the three arrays ``out`` (cosine, sine, ratio) have one shape, to which the link's
    constants broadcast; every intermediate array is used again, which keeps them in the processor's reach.
    """
    c2, s2, ratio = out
    if link.driving_slides or link.driven_slides:
        c2[...], s2[...] = close(link, c, s)
        ratio[...] = rates(link, c, s, c2, s2).ratio
        return
    part = np.empty_like(c)

    def wave(mean: Numbers, by_cosine: Numbers, by_sine: Numbers, whole: Array | None = None) -> Array:
        whole = np.multiply(by_cosine, c, out=whole)
        whole += mean  # rounded as in close(), so that both reach, or fail to, at the same turns
        whole += np.multiply(by_sine, s, out=part)
        return whole

    def slope(by_cosine: Numbers, by_sine: Numbers, whole: Array | None = None) -> Array:
        whole = np.multiply(by_sine, c, out=whole)
        whole -= np.multiply(by_cosine, s, out=part)
        return whole

    w1, w2, k = wave(link.g1, link.p1, link.q1), wave(link.g2, link.p2, link.q2), wave(link.k0, link.k1, link.k2)
    size = w1 * w1
    size += np.multiply(w2, w2, out=part)
    root = size - np.multiply(k, k, out=part)
    np.sqrt(root, out=root)
    root *= link.branch
    np.divide(1.0, size, out=size)
    np.multiply(w1, k, out=c2)
    c2 -= np.multiply(w2, root, out=part)
    c2 *= size
    np.multiply(w2, k, out=s2)
    s2 += np.multiply(w1, root, out=part)
    s2 *= size
    slope(link.p1, link.q1, ratio)
    ratio *= c2
    w2 = slope(link.p2, link.q2, w2)
    w2 *= s2
    ratio += w2
    ratio -= slope(link.k1, link.k2, w1)
    ratio /= root


def branch_of(link: Loop, c: Numbers, s: Numbers, c2: Numbers, s2: Numbers) -> Numbers:
    """Return +1 or -1, the assembly branch of a known position (0 exactly at a toggle)."""
    w1 = link.g1 + link.p1 * c + link.q1 * s
    if link.driven_slides:
        return np.sign(link.r * c2 - w1)
    w2 = link.g2 + link.p2 * c + link.q2 * s
    return np.sign(w1 * s2 - w2 * c2)


class Rates(NamedTuple):
    """What a closed link does at a position.

    ``ratio`` is d(driven turn)/d(driving turn), ``second`` its derivative by the driving turn
    [1/rad], ``transmission`` the cosine-like and sine-like parts ``(r - k, |S|)`` [mm] of the
    transmission angle (of a driven block: across and along its guide), ``moment`` the driven moment
    arm of the link vector, ``u.((q-O) x (P-q))`` divided by ``r`` [mm]: the link's part along the
    driven pin's way.
    """

    ratio: Numbers
    second: Numbers
    transmission: tuple[Numbers, Numbers]
    moment: Numbers


@np.errstate(invalid="ignore", divide="ignore", over="ignore")
def rates(link: Loop, c: Numbers, s: Numbers, c2: Numbers, s2: Numbers) -> Rates:
    """First and second derivative and the transmission angle's parts at a closed position.

    Differentiates ``w1 cos(phi) + w2 sin(phi) = k`` once and twice by the driving turn.
    """
    w1 = link.g1 + link.p1 * c + link.q1 * s
    w2 = link.g2 + link.p2 * c + link.q2 * s
    k = link.k0 + link.k1 * c + link.k2 * s
    if link.driving_slides or link.driven_slides:
        return _sliding_rates(link, (c, s), (c2, s2), w1, w2)
    dw1, dw2, dk = link.q1 * c - link.p1 * s, link.q2 * c - link.p2 * s, link.k2 * c - link.k1 * s
    moment = np.subtract(w2 * c2, w1 * s2)  # = -S: w along the driven pin's direction of travel
    ratio = (dk - dw1 * c2 - dw2 * s2) / moment
    second = (
        (link.k0 - k)
        + (w1 - link.g1) * c2
        + (w2 - link.g2) * s2
        - 2.0 * (dw2 * c2 - dw1 * s2) * ratio
        + k * ratio * ratio
    ) / moment
    return Rates(ratio, second, (link.r - k, np.abs(moment)), moment)


def _sliding_rates(
    link: Loop, at: tuple[Numbers, Numbers], there: tuple[Numbers, Numbers], w1: Numbers, w2: Numbers
) -> Rates:
    """:func:`rates` where one end is on a block that slides, or both are."""
    (c, s), (c2, s2) = at, there
    # first and second derivative of the driving pair: (t, t^2), or cosine and sine
    d1, d2, dd1, dd2 = (1.0, 2.0 * c, 0.0, 2.0) if link.driving_slides else (-s, c, -c, -s)
    dw1, dw2, dk = (p * d1 + q * d2 for p, q in ((link.p1, link.q1), (link.p2, link.q2), (link.k1, link.k2)))
    ddw1, ddw2, ddk = (p * dd1 + q * dd2 for p, q in ((link.p1, link.q1), (link.p2, link.q2), (link.k1, link.k2)))
    if link.driven_slides:
        moment = np.subtract(w1, link.r * c2)
        ratio = (dk - dw1 * c2) / moment
        second = (ddk - ddw1 * c2 - 2.0 * dw1 * ratio + link.r * ratio * ratio) / moment
        return Rates(ratio, second, (w2 + 0.0 * moment, np.abs(moment)), moment)
    k = link.k0 + link.k1 * c + link.k2 * s
    moment = np.subtract(w2 * c2, w1 * s2)
    ratio = (dk - dw1 * c2 - dw2 * s2) / moment
    second = (ddk - ddw1 * c2 - ddw2 * s2 - 2.0 * (dw2 * c2 - dw1 * s2) * ratio + k * ratio * ratio) / moment
    return Rates(ratio, second, (link.r - k, np.abs(moment)), moment)


def transmission_angle(rate: Rates) -> Numbers:
    """Angle [rad] between the link, seen along the driven axis, and the driven arm; 0..pi.

    90 degrees is best; 0 or 180 is the toggle, for a sideways or skew link too. Of a driven block the
    normal of its guide stands for the arm.
    """
    return np.arctan2(rate.transmission[1], rate.transmission[0])


class Sensitivity(NamedTuple):
    """Change of the driven turn [rad] per unit of each dimension, the driving turn held.

    ``length``, ``driving_radius``, ``driven_radius`` are per mm; ``driving_angle``,
    ``driven_angle`` (clocking) per rad; ``driving_centre``, ``driven_centre`` are component
    triples per mm (the pin moves with its pivot). A block that slides has no radius: 0.
    """

    length: Numbers
    driving_radius: Numbers
    driving_angle: Numbers
    driven_radius: Numbers
    driven_angle: Numbers
    driving_centre: Vector
    driven_centre: Vector


@np.errstate(invalid="ignore", divide="ignore", over="ignore")
def sensitivity(driving: ArmFrame, driven: ArmFrame, c: Numbers, s: Numbers, c2: Numbers, s2: Numbers) -> Sensitivity:
    """Analytic dimension sensitivities of one closed link.

    From ``|P - q| = L``: ``l.(dP - dq) = dL`` with the unit vector ``l`` along the link.
    """
    p, q = pin(driving, c, s), pin(driven, c2, s2)
    v = minus(p, q)
    length = np.sqrt(dot(v, v))
    line = (v[0] / length, v[1] / length, v[2] / length)
    n1, n2 = minus(p, driving.centre), minus(q, driven.centre)
    m1, m2 = dot(line, tangent(driving, c, s)), dot(line, tangent(driven, c2, s2))
    per = tuple(x / m2 for x in line)
    away = (per[0], per[1], per[2])
    return Sensitivity(
        length=-1.0 / m2,
        driving_radius=0.0 * m2 if driving.slides else dot(away, n1) / driving.r,
        driving_angle=m1 / m2,
        driven_radius=0.0 * m2 if driven.slides else -dot(away, n2) / driven.r,
        driven_angle=-np.ones_like(m2),
        driving_centre=away,
        driven_centre=(-away[0], -away[1], -away[2]),
    )
