"""How fast the closure is, against three other routes to the same turns, all in this one run.

    python tests/benchmarks/closure_speed.py [linkages [positions]]

Crossed pairs of 28 to 32 mm levers, 240 to 260 mm apart, through 78 degrees. Processor time of one
core; every route once to warm up, then several times by turns, the best of each. The routes:

- the closure, plain numpy, cosine and sine carried as a pair, in blocks of a few positions of all
  linkages (linkages along the last axis), which stay in cache
- the same arithmetic in a loop compiled by numba
- the half-angle formula of the textbook (R. L. Norton, *Design of Machinery*, §4.5; section from
  memory) in plain numpy: it wants the crank's angle and gives the rocker's
- scipy position by position, each from the one before, for a few of the linkages: ``root`` on the
  two components of the loop equation, and ``brentq`` on ``|P - q| = L`` between brackets

Times depend on the machine and its mood; the ratios less so.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage import closure

Floats = NDArray[np.float64]

_BLOCK = 6  # positions at a time: with 4,000 linkages 192 kB an array
_BY_ROOTS = 4  # linkages that the root finder is given


class Pairs(NamedTuple):
    """Crossed pairs: lever radii, lever angles as drawn [rad], centres, shape (n,) each; the crank's turns (m,)."""

    radius: Floats
    other_radius: Floats
    angle: Floats
    other_angle: Floats
    centres: Floats
    turn: Floats


def crossed_pairs(linkages: int, positions: int) -> Pairs:
    """Crossed pairs at random (seeded), and turns through 78 degrees."""
    draw = np.random.default_rng(1)
    return Pairs(
        draw.uniform(28.0, 32.0, linkages),
        draw.uniform(28.0, 32.0, linkages),
        np.radians(draw.uniform(36.0, 52.0, linkages)),
        np.radians(draw.uniform(-66.0, -50.0, linkages)),
        draw.uniform(240.0, 260.0, linkages),
        np.radians(np.linspace(0.0, 78.0, positions)),
    )


def loops(pairs: Pairs) -> closure.Loop:
    """The closure constants of the pairs, links fitted as drawn; every field an array of its own (n,)."""
    u = (0.0, 0.0, 1.0)

    def frame(x: Any, angle: Floats, radius: Floats) -> closure.ArmFrame:
        e1 = (np.cos(angle), np.sin(angle), 0.0)
        return closure.ArmFrame((x, 0.0, 0.0), e1, closure.cross(u, e1), u, radius)

    one = frame(0.0, pairs.angle, pairs.radius)
    other = frame(pairs.centres, pairs.other_angle, pairs.other_radius)
    link = closure.loop(one, other, closure.drawn_length(one, other), 1.0)
    link = link._replace(branch=closure.branch_of(link, 1.0, 0.0, 1.0, 0.0))
    return closure.Loop(*(np.broadcast_to(x, pairs.centres.shape).copy() for x in link[:11]))


def by_closure(link: closure.Loop, turn: Floats) -> tuple[Floats, Floats]:
    """Cosine and sine of the driven turns, shape (positions, linkages) each."""
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    found = np.empty((2, turn.size, link.r.size))
    for i in range(0, turn.size, _BLOCK):
        at = slice(i, i + _BLOCK)
        found[0, at], found[1, at] = closure.close(link, cos[at], sin[at])
    return found[0], found[1]


def by_compiled_loop() -> Callable[[closure.Loop, Floats], tuple[Floats, Floats]]:
    """The closure's arithmetic as a loop, compiled."""
    import numba

    @numba.njit
    def run(g1: Any, p1: Any, q1: Any, g2: Any, p2: Any, q2: Any, k0: Any, k1: Any, k2: Any, branch: Any,
            cos: Any, sin: Any, found: Any) -> None:  # fmt: skip
        for j in range(g1.size):
            for i in range(cos.size):
                w1 = g1[j] + p1[j] * cos[i] + q1[j] * sin[i]
                w2 = g2[j] + p2[j] * cos[i] + q2[j] * sin[i]
                k = k0[j] + k1[j] * cos[i] + k2[j] * sin[i]
                rho2 = w1 * w1 + w2 * w2
                root = branch[j] * math.sqrt(rho2 - k * k)
                found[0, j, i] = (w1 * k - w2 * root) / rho2
                found[1, j, i] = (w2 * k + w1 * root) / rho2

    def compiled(link: closure.Loop, turn: Floats) -> tuple[Floats, Floats]:
        found = np.empty((2, link.r.size, turn.size))
        run(*link[:9], link.branch, np.cos(turn), np.sin(turn), found)
        return found[0], found[1]

    return compiled


def by_half_angle(pairs: Pairs) -> Floats:
    """Driven turns [rad], shape (linkages, positions), by the textbook's tangent of the half angle."""
    a, c, d = pairs.radius[:, None], pairs.other_radius[:, None], pairs.centres[:, None]
    start, end = pairs.angle[:, None], pairs.other_angle[:, None]
    b = np.hypot(d + c * np.cos(end) - a * np.cos(start), c * np.sin(end) - a * np.sin(start))
    crank = start + pairs.turn
    k1, k2, k3 = d / a, d / c, (a * a - b * b + c * c + d * d) / (2.0 * a * c)
    big_a = np.cos(crank) - k1 - k2 * np.cos(crank) + k3
    big_b = -2.0 * np.sin(crank)
    big_c = k1 - (k2 + 1.0) * np.cos(crank) + k3
    rocker = 2.0 * np.arctan2(-big_b + np.sqrt(big_b * big_b - 4.0 * big_a * big_c), 2.0 * big_a)
    return np.asarray((rocker - end + np.pi) % (2.0 * np.pi) - np.pi)


def by_roots(pairs: Pairs, linkages: int) -> Floats:
    """Driven turns [rad] of the first few linkages, shape (linkages, positions): coupler and rocker by ``root``."""
    from scipy.optimize import root

    found = np.empty((linkages, pairs.turn.size))
    for j in range(linkages):
        a, c, d = pairs.radius[j], pairs.other_radius[j], pairs.centres[j]
        start, end = pairs.angle[j], pairs.other_angle[j]
        x, y = d + c * np.cos(end) - a * np.cos(start), c * np.sin(end) - a * np.sin(start)
        b = np.hypot(x, y)
        unknown: Any = np.array([np.arctan2(y, x), end])  # coupler's and rocker's angle
        for i, crank in enumerate(start + pairs.turn):

            def misses(v: Any, crank: Any = crank, a: Any = a, b: Any = b, c: Any = c, d: Any = d) -> Any:
                return np.array([
                    a * np.cos(crank) + b * np.cos(v[0]) - c * np.cos(v[1]) - d,
                    a * np.sin(crank) + b * np.sin(v[0]) - c * np.sin(v[1]),
                ])  # fmt: skip

            unknown = root(misses, unknown, tol=1e-12).x
            found[j, i] = unknown[1] - end
    return found


def by_bracketed_roots(pairs: Pairs, linkages: int) -> Floats:
    """The same with the rocker's angle alone unknown, by Brent's method between two brackets."""
    from scipy.optimize import brentq

    found = np.empty((linkages, pairs.turn.size))
    for j in range(linkages):
        a, c, d = float(pairs.radius[j]), float(pairs.other_radius[j]), float(pairs.centres[j])
        start, end = float(pairs.angle[j]), float(pairs.other_angle[j])
        b = math.hypot(d + c * math.cos(end) - a * math.cos(start), c * math.sin(end) - a * math.sin(start))
        last = end
        for i, turn in enumerate(pairs.turn):
            x, y = a * math.cos(start + turn), a * math.sin(start + turn)

            def too_long(v: float, x: float = x, y: float = y, b: float = b, c: float = c, d: float = d) -> float:
                return math.hypot(d + c * math.cos(v) - x, c * math.sin(v) - y) - b

            last = brentq(too_long, last - 0.5, last + 0.5, xtol=1e-12)
            found[j, i] = last - end
    return found


def largest_difference(linkages: int, positions: int) -> dict[str, float]:
    """Largest difference [deg] of each other route's turns from the closure's."""
    pairs = crossed_pairs(linkages, positions)
    link = loops(pairs)
    cos, sin = by_closure(link, pairs.turn)
    turn = np.degrees(np.arctan2(sin, cos)).T
    cos, sin = by_compiled_loop()(link, pairs.turn)
    few = min(linkages, _BY_ROOTS)
    others = {
        "compiled": np.degrees(np.arctan2(sin, cos)),
        "half angle": np.degrees(by_half_angle(pairs)),
        "scipy root": np.degrees(by_roots(pairs, few)),
        "scipy brentq": np.degrees(by_bracketed_roots(pairs, few)),
    }
    return {name: float(np.max(np.abs(found - turn[: len(found)]))) for name, found in others.items()}


def main(linkages: int = 4000, positions: int = 181) -> None:
    """Measure and print."""
    pairs = crossed_pairs(linkages, positions)
    link, compiled, few = loops(pairs), by_compiled_loop(), min(linkages, _BY_ROOTS)
    routes: dict[str, tuple[Callable[[], object], int, int]] = {  # what to run, how often, closures each time
        "closure, plain numpy": (lambda: by_closure(link, pairs.turn), 40, linkages * positions),
        "the same, compiled by numba": (lambda: compiled(link, pairs.turn), 40, linkages * positions),
        "half-angle formula, plain numpy": (lambda: by_half_angle(pairs), 15, linkages * positions),
        "scipy root, two unknowns": (lambda: by_roots(pairs, few), 4, few * positions),
        "scipy brentq, one unknown": (lambda: by_bracketed_roots(pairs, few), 4, few * positions),
    }
    for run, _, _ in routes.values():
        run()
    best = dict.fromkeys(routes, math.inf)
    for turn in range(max(times for _, times, _ in routes.values())):
        for name, (run, times, closures) in routes.items():
            if turn < times:
                start = time.process_time()
                run()
                best[name] = min(best[name], (time.process_time() - start) / closures * 1e9)
    ours = best["closure, plain numpy"]
    print(f"{linkages} linkages x {positions} positions, one core")
    for name, each in best.items():
        print(f"{name:34s}{each:12.1f} ns a closure   {each / ours:10.2f} x the closure's time")
    print("largest difference from the closure [deg]:")
    for name, by in largest_difference(min(linkages, 40), positions).items():
        print(f"{name:34s}{by:12.1e}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
