r"""The closure derived with sympy, from nothing but ``|P - q| = L``, and held against the textbook's.

Each function returns one :class:`Step`: a statement as a sympy equation, and ``remainder``, what is
left when everything is brought to one side: 0 when the statement holds. :func:`steps` runs all.

>>> from linkage import derivation
>>> for step in derivation.steps():
...     print(step.title, step.remainder)  # doctest: +SKIP

The symbols are those of :mod:`linkage.closure`; lengths in any one unit (mm), angles in radians.

References
----------
F. Freudenstein, "Approximate synthesis of four-bar linkages", *Trans. ASME* 77 (1955);
R. L. Norton, *Design of Machinery*, McGraw-Hill, §4.5 (half-angle solution; section number from
memory); R. S. Hartenberg and J. Denavit, *Kinematic Synthesis of Linkages*, McGraw-Hill 1964,
ch. 12 (RSSR). All from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from linkage.fourbar import constants

Expression = Any  # sympy ships no complete type hints


class Step(NamedTuple):
    """One statement: its ``title``, the ``equation`` to display, and a ``remainder`` that is 0 if it holds."""

    title: str
    equation: Expression
    remainder: Expression


def closure_equation() -> Step:
    """The closure ``w1 cos(phi) + w2 sin(phi) = k``, axes skew as they please.

    In the frame (e1, e2, u) of the driven arm, with O its circle's centre, ``P - O = (w1, w2, w3)``
    and ``q - O = r (cos, sin, 0)``. Nothing is said of the driving axis: it does not enter.
    """
    import sympy as sp

    w1, w2, w3, phi = sp.symbols("w1 w2 w3 phi", real=True)
    r, length = sp.symbols("r L", positive=True)
    k = (w1**2 + w2**2 + w3**2 + r**2 - length**2) / (2 * r)
    link = sp.Matrix([w1 - r * sp.cos(phi), w2 - r * sp.sin(phi), w3])  # P - q
    says = sp.Eq(w1 * sp.cos(phi) + w2 * sp.sin(phi), k)
    # |P - q|^2 - L^2 = 2 r (k - w1 cos - w2 sin): zero together
    remainder = link.dot(link) - length**2 - 2 * r * (says.rhs - says.lhs)
    return Step("closure from |P - q| = L", says, sp.simplify(remainder))


def closure_solutions() -> Step:
    """Its two solutions, one a branch: they lie on the unit circle and on the line of the closure."""
    import sympy as sp

    w1, w2, k = sp.symbols("w1 w2 k", real=True)
    root = sp.Symbol("S", real=True)
    cos, sin = _solution(w1, w2, k, root)
    rho2 = w1**2 + w2**2
    says = sp.Eq(sp.Matrix([sp.cos(sp.Symbol("phi")), sp.sin(sp.Symbol("phi"))]), sp.Matrix([cos, sin]))
    on_line = sp.simplify(w1 * cos + w2 * sin - k)
    on_circle = sp.simplify((cos**2 + sin**2 - 1).subs(k, sp.sqrt(rho2 - root**2)))
    return Step("two solutions, S = +sqrt(rho^2 - k^2) or -sqrt(rho^2 - k^2)", says, on_line**2 + on_circle**2)


def closure_constants() -> Step:
    """Along the driving turn w1, w2 and k are ``constant + a cos + b sin``: nine constants a link.

    Shown for k; w1 and w2 are scalar products of ``w = g + r1 (cos a + sin b)`` as it stands. The
    unit vectors a and b of the driving arm are at right angles; g joins the two centres.
    """
    import sympy as sp

    theta = sp.Symbol("theta", real=True)
    r1, r2, length = sp.symbols("r1 r2 L", positive=True)
    g, a, b = (sp.Matrix(sp.symbols(f"{name}1:4", real=True)) for name in "gab")
    w = g + r1 * (sp.cos(theta) * a + sp.sin(theta) * b)
    k = (w.dot(w) + r2**2 - length**2) / (2 * r2)
    k0 = (g.dot(g) + r1**2 + r2**2 - length**2) / (2 * r2)
    says = sp.Eq(sp.Symbol("k"), k0 + r1 / r2 * (g.dot(a) * sp.cos(theta) + g.dot(b) * sp.sin(theta)))
    # a.a = b.b = 1 and a.b = 0, taken out of the difference by hand
    unit = r1**2 / (2 * r2)
    allowed = unit * (
        (a.dot(a) - 1) * sp.cos(theta) ** 2
        + (b.dot(b) - 1) * sp.sin(theta) ** 2
        + 2 * a.dot(b) * sp.sin(theta) * sp.cos(theta)
    )
    return Step("nine constants a link", says, sp.simplify(sp.expand(k - says.rhs - allowed)))


def freudenstein_equation() -> Step:
    """Freudenstein's equation, from the planar loop ``a e^(i theta2) + b e^(i theta3) = d + c e^(i theta4)``."""
    import sympy as sp

    a, b, c, d, theta2, theta4 = _planar()
    k1, k2, k3 = constants(a, b, c, d)[:3]
    says = sp.Eq(k1 * sp.cos(theta4) - k2 * sp.cos(theta2) + k3, sp.cos(theta2 - theta4))
    # the coupler's two components; their squares add up to b^2, which takes theta3 out
    x = d + c * sp.cos(theta4) - a * sp.cos(theta2)
    y = c * sp.sin(theta4) - a * sp.sin(theta2)
    remainder = x**2 + y**2 - b**2 - 2 * a * c * (says.lhs - says.rhs)
    return Step("Freudenstein's equation from the planar loop", says, sp.simplify(sp.expand_trig(remainder)))


def half_angle_equation() -> Step:
    """The textbook's quadratic ``A t^2 + B t + C = 0`` in ``t = tan(theta4 / 2)``."""
    import sympy as sp

    lengths = _planar()
    theta2, theta4, t = lengths[4], lengths[5], sp.Symbol("t", real=True)
    k1, k2, k3 = constants(*lengths[:4])[:3]
    first, second, third = half_angle_coefficients(lengths)
    says = sp.Eq(first * t**2 + second * t + third, 0)
    freudenstein = k1 * sp.cos(theta4) - k2 * sp.cos(theta2) + k3
    freudenstein -= sp.cos(theta2) * sp.cos(theta4) + sp.sin(theta2) * sp.sin(theta4)
    in_t = freudenstein.subs({sp.cos(theta4): (1 - t**2) / (1 + t**2), sp.sin(theta4): 2 * t / (1 + t**2)})
    return Step("half-angle quadratic", says, sp.simplify(in_t * (1 + t**2) - says.lhs))


def half_angle_coefficients(planar: tuple[Expression, ...]) -> tuple[Expression, Expression, Expression]:
    """A, B and C of the half-angle quadratic, for ``planar = (a, b, c, d, theta2, ...)``."""
    import sympy as sp

    theta2 = planar[4]
    k1, k2, k3 = constants(*planar[:4])[:3]
    cos = sp.cos(theta2)
    return cos - k1 - k2 * cos + k3, -2 * sp.sin(theta2), k1 - (k2 + 1) * cos + k3


def same_quadratic() -> Step:
    """Our closure, by the half-angle substitution, is the textbook's quadratic times the crank a.

    In the plane ``w1 = a cos(theta2) - d``, ``w2 = a sin(theta2)`` and ``w3 = 0``; then
    ``w1 (1 - t^2) + 2 w2 t = k (1 + t^2)``.
    """
    import sympy as sp

    planar = _planar()
    w1, w2, k = planar_terms(planar)
    t, a = sp.Symbol("t", real=True), planar[0]
    first, second, third = half_angle_coefficients(planar)
    ours = (k + w1) * t**2 - 2 * w2 * t + (k - w1)
    says = sp.Eq(ours, a * (first * t**2 + second * t + third))
    return Step("our closure is the same quadratic", says, sp.simplify(sp.expand(says.lhs - says.rhs)))


def same_solutions() -> Step:
    """Our solution's half-angle ``sin / (1 + cos)`` is the textbook's root, branch by branch.

    With ``S^2 = rho^2 - k^2``, the textbook's discriminant is ``B^2 - 4 A C = 4 S^2 / a^2``; its
    "-" (open) is our S < 0, its "+" (crossed) our S > 0.
    """
    import sympy as sp

    planar = _planar()
    a, root = planar[0], sp.Symbol("S", real=True)
    w1, w2, k = sp.symbols("w1 w2 k", real=True)
    cos, sin = _solution(w1, w2, k, root)
    ours = sin / (1 + cos)
    theirs = (w2 + root) / (k + w1)  # (-B + sqrt(B^2 - 4AC)) / 2A with A = (k + w1)/a, B = -2 w2/a
    cross = sp.numer(sp.together(ours - theirs))
    same = sp.rem(sp.expand(cross), root**2 - (w1**2 + w2**2 - k**2), root)
    first, second, third = half_angle_coefficients(planar)
    p1, p2, pk = planar_terms(planar)
    discriminant = second**2 - 4 * first * third - 4 * (p1**2 + p2**2 - pk**2) / a**2
    both = sp.simplify(same) ** 2 + sp.simplify(sp.expand(discriminant)) ** 2
    return Step("our solutions are the textbook's", sp.Eq(sp.Symbol("t"), theirs), both)


def velocity_ratio() -> Step:
    """``d(phi)/d(theta) = m1 / m2``, the moment arms of the link's line about the two axes.

    A pin's velocity is ``u x (pin - O)`` times its turn. Differentiating ``|P - q|^2 = L^2`` gives
    ``(P - q).(u1 x n1) d(theta) = (P - q).(u2 x n2) d(phi)``, with ``n = pin - O``; and
    ``l.(u x n) = u.(n x l)`` makes them moment arms.
    """
    import sympy as sp

    n1, n2, u1, u2, line = (sp.Matrix(sp.symbols(f"{name}_x:z", real=True)) for name in ("n1", "n2", "u1", "u2", "l"))
    theta, phi = sp.symbols("theta phi", cls=sp.Function)
    time = sp.Symbol("tau", real=True)
    m1, m2 = u1.dot(n1.cross(line)), u2.dot(n2.cross(line))
    says = sp.Eq(sp.Symbol("dphi/dtheta"), sp.Symbol("m1") / sp.Symbol("m2"))
    by_time = line.dot(u1.cross(n1) * theta(time).diff(time) - u2.cross(n2) * phi(time).diff(time))
    ratio = sp.solve(by_time, phi(time).diff(time))[0] / theta(time).diff(time)
    return Step("velocity ratio", says, sp.simplify(ratio - m1 / m2))


def velocity_ratio_of_closure() -> Step:
    """The same ratio by differentiating the closure, as :func:`linkage.closure.rates` computes it.

    In the driven frame, with any driving velocity ``v = dP/d(theta)``.
    """
    import sympy as sp

    theta, phi = sp.symbols("theta phi", real=True)
    r, length = sp.symbols("r L", positive=True)
    w = sp.Matrix([sp.Function(f"w{i}")(theta) for i in (1, 2, 3)])
    k = (w.dot(w) + r**2 - length**2) / (2 * r)
    closed = w[0] * sp.cos(phi) + w[1] * sp.sin(phi) - k
    ours = -closed.diff(theta) / closed.diff(phi)
    q = sp.Matrix([r * sp.cos(phi), r * sp.sin(phi), 0])
    moments = (w - q).dot(w.diff(theta)) / (w - q).dot(q.diff(phi))  # = m1 / m2 by velocity_ratio
    says = sp.Eq(sp.Symbol("dphi/dtheta"), ours)
    return Step("velocity ratio by differentiating the closure", says, sp.simplify(ours - moments))


def steps() -> tuple[Step, ...]:
    """Every step, in order."""
    return (
        closure_equation(),
        closure_solutions(),
        closure_constants(),
        freudenstein_equation(),
        half_angle_equation(),
        same_quadratic(),
        same_solutions(),
        velocity_ratio(),
        velocity_ratio_of_closure(),
    )


def planar_terms(planar: tuple[Expression, ...]) -> tuple[Expression, Expression, Expression]:
    """``w1``, ``w2`` and ``k`` of our closure for the planar four-bar ``(a, b, c, d, theta2, ...)``."""
    import sympy as sp

    a, b, c, d, theta2 = planar[:5]
    w1, w2 = a * sp.cos(theta2) - d, a * sp.sin(theta2)
    return w1, w2, (w1**2 + w2**2 + c**2 - b**2) / (2 * c)


def textbook_angles(values: Mapping[str, Expression]) -> tuple[Expression, Expression]:
    """Rocker angles theta4 [rad], open and crossed, by the textbook's half-angle formula.

    Parameters
    ----------
    values : mapping
        Exact ``a, b, c, d`` (any one unit, mm) and ``theta2`` [rad], sympy numbers.

    References
    ----------
    R. L. Norton, *Design of Machinery*, McGraw-Hill, §4.5 (section number from memory).
    """
    import sympy as sp

    planar = tuple(values[name] for name in ("a", "b", "c", "d", "theta2"))
    first, second, third = half_angle_coefficients(planar)
    root = sp.sqrt(second**2 - 4 * first * third)
    # 2 atan2 instead of 2 atan: the same angle, and no division where A = 0
    opened, crossed = (2 * sp.atan2(-second + sign * root, 2 * first) for sign in (-1, 1))
    return opened, crossed


def _planar() -> tuple[Expression, ...]:
    import sympy as sp

    return (*sp.symbols("a b c d", positive=True), *sp.symbols("theta2 theta4", real=True))


def _solution(w1: Expression, w2: Expression, k: Expression, root: Expression) -> tuple[Expression, Expression]:
    rho2 = w1**2 + w2**2
    return (w1 * k - root * w2) / rho2, (w2 * k + root * w1) / rho2
