"""Four-bars, planar and spatial, worked with :mod:`linkage.closure`."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from linkage import closure
from linkage.closure import ArmFrame, Loop
from linkage.fourbar import CROSSED, OPEN, constants, four_bar, grashof
from linkage.published.rows import Found, Given, Measured
from linkage.toggles import toggle_turns

BRANCHES = {"open": OPEN, "crossed": CROSSED}

# what is found of a planar four-bar at a position
_AT = ("theta3", "theta4", "mu", "omega3", "omega4", "alpha3", "alpha4", "q2_relative", "q3_relative")


def number(given: Any) -> float:
    """A number of the data: as it is, as text, or as ``"sqrt(...)"``."""
    if isinstance(given, str) and given.startswith("sqrt(") and given.endswith(")"):
        return math.sqrt(float(given[5:-1]))
    return float(given)


def degrees(value: Any) -> Measured | None:
    """Measured in degrees; None for ``nan``."""
    return None if np.isnan(value) else Measured(float(value), "deg")


def positions(given: Given) -> Found:
    """Position, velocity and acceleration of a planar four-bar on both branches.

    ``theta3`` and ``omega3``, ``alpha3`` come from the vector A to B; the rest from the closure.
    """
    a, b, c = (number(given[name]) for name in "abc")
    o4 = tuple(given["O4"]) if "O4" in given else (number(given["d"]), 0.0)
    rate = tuple(number(given.get(name, 0.0)) for name in ("omega2", "alpha2"))
    both = {name: _four_bar_at(a, b, c, o4, branch, given["theta2_deg"], *rate) for name, branch in BRANCHES.items()}
    found: dict[str, Any] = dict(both)
    for label, prefix in (
        ("theta_open_crossed (th3o,th4o,th3c,th4c)", "theta"),
        ("omega (w3o,w4o,w3c,w4c)", "omega"),
        ("alpha (a3o,a4o,a3c,a4c)", "alpha"),
    ):
        found[label] = [both[name][f"{prefix}{bar}"] for name in BRANCHES for bar in (3, 4)]
    if "d" in given:
        found["K1..K5"] = [Measured(k, "") for k in constants(a, b, c, number(given["d"]))]
    return found


def _four_bar_at(
    a: float,
    b: float,
    c: float,
    o4: tuple[float, ...],
    branch: float,
    theta2: float,
    omega2: float = 0.0,
    alpha2: float = 0.0,
) -> dict[str, Measured | None]:
    link, crank, rocker = four_bar(a, b, c, (o4[0], o4[1]), branch)
    turn = math.radians(theta2)
    driving = math.cos(turn), math.sin(turn)
    driven = closure.close(link, *driving)
    if np.isnan(driven[0]):
        return dict.fromkeys(_AT)
    here = closure.rates(link, *driving, *driven)
    omega4 = here.ratio * omega2
    alpha4 = here.ratio * alpha2 + here.second * omega2**2
    # A to B as a complex number and its first and second derivative by time
    from_a, to_b = closure.pin(crank, *driving), closure.pin(rocker, *driven)
    coupler = complex(to_b[0] - from_a[0], to_b[1] - from_a[1])
    e2, e4 = a * complex(*driving), c * complex(*driven)
    by_time = 1j * (omega4 * e4 - omega2 * e2)
    again = 1j * (alpha4 * e4 - alpha2 * e2) - (omega4**2 * e4 - omega2**2 * e2)
    theta3, theta4 = np.angle(coupler, deg=True), np.degrees(np.arctan2(driven[1], driven[0]))
    values = (
        degrees(theta3),
        degrees(theta4),
        degrees(np.degrees(closure.transmission_angle(here))),
        Measured((by_time / coupler).imag, "rad/s"),
        Measured(float(omega4), "rad/s"),
        Measured((again / coupler - (by_time / coupler) ** 2).imag, "rad/s^2"),
        Measured(float(alpha4), "rad/s^2"),
        degrees(theta3 - theta2),
        degrees(theta4 + 180.0 - theta3),
    )
    return dict(zip(_AT, values, strict=True))


def grashof_class(given: Given) -> Found:
    """Grashof's condition; the sums in the unit of the lengths."""
    found = grashof([number(length) for length in given["lengths"]])
    return {
        "cls": found.kind,
        "S_plus_L": Measured(found.shortest_and_longest, "length"),
        "P_plus_Q": Measured(found.other_two, "length"),
    }


def assembly(given: Given) -> Found:
    """Whether a four-bar closes: at the given crank angle, or at any."""
    if "lengths" in given:
        a, b, c, d = (number(length) for length in given["lengths"])
        link, _, _ = four_bar(a, b, c, (d, 0.0), OPEN)
        # no toggle: it closes everywhere or nowhere
        closes = not np.all(np.isnan(toggle_turns(link))) or not np.isnan(closure.close(link, 1.0, 0.0)[0])
        return {"assembles": bool(closes)}
    a, b, c, d = (number(given[name]) for name in "abcd")
    link, _, rocker = four_bar(a, b, c, (d, 0.0), OPEN)
    turn = math.radians(given["theta2_deg"])
    closes = not np.isnan(closure.close(link, math.cos(turn), math.sin(turn))[0])
    r = math.dist((a * math.cos(turn), a * math.sin(turn), 0.0), rocker.centre)
    return {
        "assembles": closes,
        "r": Measured(r, "length"),
        "b_plus_c": Measured(b + c, "length"),
    }


def toggle_angles(given: Given) -> Found:
    """Crank angles, 0 to 180 deg, at which coupler and rocker lie in one line."""
    a, b, c, d = (number(given[name]) for name in "abcd")
    link, crank, rocker = four_bar(a, b, c, (d, 0.0), OPEN)
    turns = toggle_turns(link)
    turns = turns[np.isfinite(turns) & (turns >= 0.0)]
    found: dict[str, Any] = {"none": turns.size == 0}
    for turn in turns:
        from_a = closure.pin(crank, math.cos(turn), math.sin(turn))
        r = math.dist(from_a, rocker.centre)
        straight = abs(r - (b + c)) < abs(r - abs(b - c))
        found["stretched_r=b+c" if straight else "folded_r=|b-c|"] = degrees(math.degrees(turn))
    return found


def extreme_transmission(given: Given) -> Found:
    """Transmission angle with the crank in line with the ground, and the worst of a whole turn."""
    a, b, c, d = (number(given[name]) for name in "abcd")
    link, _, _ = four_bar(a, b, c, (d, 0.0), OPEN)
    turn = np.radians(np.arange(0.0, 360.0, 1.0))
    driving = np.cos(turn), np.sin(turn)
    here = closure.rates(link, *driving, *closure.close(link, *driving))
    mu = np.degrees(closure.transmission_angle(here))
    return {
        "mu_at_theta2_0": degrees(mu[0]),
        "mu_at_theta2_180": degrees(mu[180]),
        "dev_min_transmission": degrees(np.min(np.minimum(mu, 180.0 - mu))),
    }


def parallelogram(given: Given) -> Found:
    """Equal opposite bars on the open branch: the coupler stays parallel to the ground."""
    on_the_open_branch: Found = positions(given)["open"]
    return on_the_open_branch


def antiparallelogram(given: Given) -> Found:
    """Equal opposite bars, crossed: both coupler and rocker angle at each crank angle.

    ``ratio`` is the speed ratio where all bars lie in one line, a change point. Its inverse is
    linear in the cosine of the crank angle (the centrodes are equal ellipses), so it is read there
    from a line through the given positions.
    """
    a, b, c, d = (number(given[name]) for name in "abcd")
    link, _, _ = four_bar(a, b, c, (d, 0.0), CROSSED)
    turn = np.radians(np.asarray(given["theta2_deg"], float))
    driving = np.cos(turn), np.sin(turn)
    ratio = closure.rates(link, *driving, *closure.close(link, *driving)).ratio
    slope, offset = np.polyfit(driving[0], 1.0 / ratio, 1)
    at = [_four_bar_at(a, b, c, (d, 0.0), CROSSED, theta2) for theta2 in given["theta2_deg"]]
    return {
        "ratio": Measured(float(1.0 / (slope + offset)), ""),
        "theta3_theta4": [[here["theta3"], here["theta4"]] for here in at],
    }


def crossed_pair(given: Given) -> Found:
    """Two equal arms joined by a crossed link: how far the second is from turning by minus the first."""
    x, y, z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
    up, down = y, (0.0, -1.0, 0.0)
    first = ArmFrame((0.0, 0.0, 0.0), up, closure.cross(z, up), z, number(given["r1"]))
    second = ArmFrame((number(given["d"]), 0.0, 0.0), down, x, z, number(given["r2"]))
    link = closure.loop(first, second, number(given["L"]), 1.0)
    link = link._replace(branch=closure.branch_of(link, 1.0, 0.0, 1.0, 0.0))
    delta = np.asarray(given["delta_deg"], float)
    c, s = closure.close(link, np.cos(np.radians(delta)), np.sin(np.radians(delta)))
    turn = np.degrees(np.arctan2(s, c))
    return {
        "L": Measured(float(closure.drawn_length(first, second)), "mm"),
        "theta4": [degrees(angle) for angle in turn - 90.0],
        "mismatch_theta4_plus_90_plus_delta": [degrees(angle) for angle in turn + delta],
    }


def spatial(given: Given) -> Found:
    """RSSR four-bar: both driven angles at each driving angle, the smaller first.

    Without dimensions: the planar four-bar of Norton's Example 4-1 as the limit of parallel axes.
    """
    if "P1" not in given:
        link, _, _ = four_bar(40.0, 120.0, 80.0, (100.0, 0.0), OPEN)
        return {"theta4": _both(link, given["theta_deg"])}
    frames = []
    for n in "12":
        centre, u, e1 = (tuple(map(float, given[f"{name}{n}"])) for name in "Pue")
        frames.append(ArmFrame(centre, e1, closure.cross(u, e1), u, number(given[f"r{n}"])))  # type: ignore[arg-type]
    link = closure.loop(frames[0], frames[1], number(given["L"]), 1.0)
    return {"phi_pairs": [_both(link, theta) for theta in given["theta_deg"]]}


def _both(link: Loop, theta: float) -> list[Measured | None] | None:
    turn = math.radians(theta)
    found = []
    for branch in (OPEN, CROSSED):
        c, s = closure.close(link._replace(branch=branch), math.cos(turn), math.sin(turn))
        if np.isnan(c):
            return None
        angle = math.degrees(math.atan2(s, c))
        found.append(angle + 360.0 if angle < -180.0 + 1e-7 else angle)  # -180 is 180
    return [degrees(angle) for angle in sorted(found)]
