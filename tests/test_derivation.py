"""The derivation holds symbolically, and its formulas give the closure's numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
import sympy as sp

from linkage import closure, derivation
from linkage.fourbar import CROSSED, OPEN, four_bar

STEPS = derivation.steps()

# crank, coupler, rocker, ground, and half-angle tangent of the crank angle: all exact
SAMPLES = [
    ("40", "120", "80", "100", "1/3"),
    ("2", "7", "9", "6", "1/4"),
    ("10", "6", "8", "3", "2/5"),
    ("5", "8", "6", "8", "-3/4"),
]


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.title)
def test_nothing_is_left_over(step: derivation.Step) -> None:
    assert step.remainder == 0
    assert isinstance(step.equation, sp.Equality)


@pytest.mark.parametrize("sample", SAMPLES)
def test_on_exact_rational_lengths_both_formulas_are_the_same_angle(sample: tuple[str, ...]) -> None:
    a, b, c, d, half = map(sp.Rational, sample)
    cos2, sin2 = (1 - half**2) / (1 + half**2), 2 * half / (1 + half**2)  # a rational point of the circle
    w1, w2 = a * cos2 - d, a * sin2
    k = (w1**2 + w2**2 + c**2 - b**2) / (2 * c)
    rho2 = w1**2 + w2**2
    theta2 = 2 * sp.atan(half)
    for branch, theirs in zip(
        (-1, 1), derivation.textbook_angles({"a": a, "b": b, "c": c, "d": d, "theta2": theta2}), strict=True
    ):
        root = branch * sp.sqrt(rho2 - k**2)
        cos, sin = (w1 * k - root * w2) / rho2, (w2 * k + root * w1) / rho2
        assert sp.simplify(sp.expand_trig(sp.cos(theirs)) - cos).equals(0)
        assert sp.simplify(sp.expand_trig(sp.sin(theirs)) - sin).equals(0)


@pytest.mark.parametrize("sample", SAMPLES)
def test_the_package_gives_the_textbooks_numbers(sample: tuple[str, ...]) -> None:
    a, b, c, d, half = (float(sp.Rational(text)) for text in sample)
    turn = 2.0 * math.atan(half)
    exact = [sp.Rational(text) for text in sample]
    given = dict(zip("abcd", exact, strict=False)) | {"theta2": 2 * sp.atan(exact[4])}
    for branch, theirs in zip((OPEN, CROSSED), derivation.textbook_angles(given), strict=True):
        link, _, _ = four_bar(a, b, c, (d, 0.0), branch)
        c4, s4 = closure.close(link, math.cos(turn), math.sin(turn))
        off = math.remainder(math.atan2(s4, c4) - float(theirs.evalf(30)), 2.0 * math.pi)
        assert off == pytest.approx(0.0, rel=0.0, abs=1e-14)


def test_the_ratio_by_differentiating_is_the_packages() -> None:
    # the equation of velocity_ratio_of_closure with numbers put in, for a sideways offset of 7
    link, _, _ = four_bar(40.0, 120.0, 80.0, (100.0, 0.0), OPEN)
    link = link._replace(k0=link.k0 + 49.0 / 160.0)
    turn = 0.7
    c4, s4 = closure.close(link, math.cos(turn), math.sin(turn))
    theta, phi = sp.symbols("theta phi", real=True)
    terms = [40 * sp.cos(theta) - 100, 40 * sp.sin(theta), sp.Integer(7)]
    said = derivation.velocity_ratio_of_closure().equation.rhs
    for i, term in enumerate(terms, start=1):
        said = said.subs(sp.Function(f"w{i}")(theta), term)
    radius = next(symbol for symbol in said.free_symbols if symbol.name == "r")
    value = float(said.doit().subs({theta: turn, phi: math.atan2(s4, c4), radius: 80}))
    assert closure.rates(link, math.cos(turn), math.sin(turn), c4, s4).ratio == pytest.approx(value, rel=1e-13)


def test_the_nine_constants_are_the_packages() -> None:
    rng = np.random.default_rng(3)
    q, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    a, b = q[:, 0], q[:, 1]
    u = np.cross(a, b)
    g = rng.uniform(-50.0, 50.0, 3)
    one = closure.ArmFrame(tuple(g), tuple(a), tuple(b), tuple(u), 31.0)
    two = closure.ArmFrame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), 27.0)
    link = closure.loop(one, two, 64.0, 1.0)
    said = derivation.closure_constants().equation.rhs
    values = {f"{name}{i}": x for name, v in (("g", g), ("a", a), ("b", b)) for i, x in enumerate(v, start=1)}
    values |= {"r1": 31.0, "r2": 27.0, "L": 64.0, "theta": 0.9}
    exact = float(said.subs({symbol: values[symbol.name] for symbol in said.free_symbols}))
    assert link.k0 + link.k1 * math.cos(0.9) + link.k2 * math.sin(0.9) == pytest.approx(exact, rel=1e-13)
