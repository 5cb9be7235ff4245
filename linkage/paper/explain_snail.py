"""The workings of a snail quadrant: its moment arm, its cable travel, the radius of its groove."""

from __future__ import annotations

import math

from linkage.answers import Answer, Check
from linkage.motion import Motion, SnailCable
from linkage.paper.arithmetic import Working

CURVE = (
    "the smooth curve through the profile's points: Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984), 300-304, "
    "ends as in Moler, Numerical Computing with MATLAB, SIAM 2004, §3.6 (from memory)"
)
GROOVE = (
    "radius of the envelope of the cable's lines, p + p'' where they keep their direction: do Carmo, Differential "
    "Geometry of Curves and Surfaces, §1.7 (from memory); own derivation for a casing end near by"
)


def snail_arm(work: Working, run: Motion, turn: float, symbol: str) -> None:
    """Moment arm at a driver turn [deg], ccw above 0."""
    line = _line(run)
    _slopes(work, line)
    work.given("t", turn, "angle", f'turn of "{run.rig.driver}"')
    k = _piece(line, math.radians(turn))
    if not 0 <= k < len(line.arm.pieces):
        work.step("R", f"Ys{min(max(k + 1, 1), len(line.arm.x))}", work.length, "beyond the points: as at the last")
    else:
        _within(work, k)
        work.step("R", f"Ys{k + 1} + v × (Ss{k + 1} + v × (e + v × g))", work.length, "moment arm")
    pulls = "ccw" if line.sense > 0.0 else "cw"
    work.step(symbol, "R" if line.sense > 0.0 else "-R", work.length, f"it pulls {pulls}")


def snail_travel(work: Working, run: Motion, first: float, last: float) -> None:
    """Cable travel ``c`` between two driver turns [deg], from the quartics of the pieces."""
    line = _line(run)
    _slopes(work, line)
    for k in range(len(line.arm.pieces)):
        mean, bent = f"(Ys{k + 1} + Ys{k + 2}) / 2", f"Hs{k + 1}^2 × (Ss{k + 1} - Ss{k + 2}) / 12"
        says = f"travel of the whole of piece {k + 1}"
        work.step(f"Js{k + 1}", f"Hs{k + 1} × {mean} + {bent}", work.length, says)
    count = len(line.arm.pieces)
    for label, turn, stop in (("A", first, "closing"), ("B", last, "opening")):
        work.head(f"From the first point to the {stop} stop:")
        work.given("t", turn, "angle", "driver turn there")
        k = _piece(line, math.radians(turn))
        whole = [f"Js{i + 1}" for i in range(min(max(k, 0), count))]
        if k < 0:
            part = "(t - Xs1) × pi / 180 × Ys1"
        elif k >= count:
            part = f"(t - Xs{count + 1}) × pi / 180 × Ys{count + 1}"
        else:
            _within(work, k)
            part = f"v × (Ys{k + 1} + v × (Ss{k + 1} / 2 + v × (e / 3 + v × g / 4)))"
        work.step(label, " + ".join([*whole, part]), work.length, "the integral of the moment arm over the turn")
    work.head("Travel:")
    work.step("c", "abs(B - A)", work.length, "cable travel")


def quadrant_groove(work: Working, answer: Answer, check: Check) -> None:
    """Radius of the groove where it is least."""
    run = answer.run
    assert answer.cable is not None
    report = answer.cable.quadrant
    assert report is not None
    if check.value is None:
        work.say(check.says[:1].upper() + check.says[1:])
        return
    line = _line(run)
    _slopes(work, line)
    work.head("Where the groove is tightest:")
    work.given("t", report.tightest, "angle", f'turn of "{run.rig.driver}"')
    i = report.piece + 1
    _within(work, report.piece)
    work.step("p", f"Ys{i} + v × (Ss{i} + v × (e + v × g))", work.length, "moment arm")
    work.step("q", f"Ss{i} + v × (2 × e + 3 × v × g)", f"{work.length}/rad", "its first derivative")
    work.step("k", "2 × e + 6 × v × g", f"{work.length}/rad^2", "its second")
    if not math.isfinite(float(report.groove.away)):
        work.step("n", "p + k", work.length, "radius of curvature")
        return
    work.given("s", line.sense, "number", "1 where the pull turns ccw, -1 where it turns cw", unit="")
    work.given("D", float(report.groove.away), "length", "from the axis to the casing end")
    work.step("L", "sqrt(D^2 - p^2)", work.length, "along the cable, from the foot of the moment arm")
    work.step("w", "s × q / L - 1", "", "turn of the cable's line against the driver, for each of the driver's")
    work.step("n", "p - (k + s × p × q^3 / L^3) / w^3", work.length, "radius of curvature")


def quadrant_wrap(work: Working, answer: Answer, check: Check) -> None:
    """How far the travel goes beyond the points."""
    run = answer.run
    line = _line(run)
    first, last = run.ends
    low, high = math.degrees(float(line.arm.x[0])), math.degrees(float(line.arm.x[-1]))
    work.given("A", first, "angle", "driver turn at the closing stop")
    work.given("B", last, "angle", "driver turn at the opening stop")
    work.given("X", low, "angle", "turn of the lowest point")
    work.given("Z", high, "angle", "turn of the highest point")
    work.step("n", "max(X - A, B - Z, 0)" if last >= first else "max(X - B, A - Z, 0)", "deg", "beyond the points")


def _line(run: Motion) -> SnailCable:
    assert isinstance(run.line, SnailCable)
    return run.line


def _piece(line: SnailCable, turn: float) -> int:
    """The piece in which a turn [rad] lies, -1 before the first, their number after the last."""
    if turn < line.arm.x[0]:
        return -1
    return next((k for k, x in enumerate(line.arm.x[1:]) if turn <= x), len(line.arm.pieces))


def _within(work: Working, k: int) -> None:
    """The cubic of a piece, and how far into it the turn ``t`` lies."""
    i, j = k + 1, k + 2
    work.step("v", f"(t - Xs{i}) × pi / 180", "rad", f"from the turn of point {i}")
    work.step("e", f"(3 × Ms{i} - 2 × Ss{i} - Ss{j}) / Hs{i}", f"{work.length}/rad^2")
    work.step("g", f"(Ss{i} + Ss{j} - 2 × Ms{i}) / Hs{i}^2", f"{work.length}/rad^3")


def _slopes(work: Working, line: SnailCable) -> None:
    """The points, and the slope of the curve at each; once in a working."""
    if "Ss1" in work.known:
        return
    x, y = ([float(v) for v in row] for row in (line.arm.x, line.arm.y))
    count = len(x)
    work.head("The profile and its slopes, the points in the order of their turns:")
    for i, (at, arm, name) in enumerate(zip(x, y, line.names, strict=True), 1):
        work.given(f"Xs{i}", math.degrees(at), "angle", f"turn of point {name}")
        work.given(f"Ys{i}", arm, "length", "moment arm there")
    per = f"{work.length}/rad"
    for i in range(1, count):
        work.step(f"Hs{i}", f"(Xs{i + 1} - Xs{i}) × pi / 180", "rad")
        work.step(f"Ms{i}", f"(Ys{i + 1} - Ys{i}) / Hs{i}", per, "slope of the chord")
    m = [work.known[f"Ms{i}"] for i in range(1, count)]
    if count == 2:
        work.step("Ss1", "Ms1", per)
        work.step("Ss2", "Ms1", per)
        return
    for i in range(1, count + 1):
        if 1 < i < count:
            a, b = f"(2 × Hs{i} + Hs{i - 1})", f"(Hs{i} + 2 × Hs{i - 1})"
            alike = m[i - 2] * m[i - 1] > 0.0
            formula = f"({a} + {b}) / ({a} / Ms{i - 1} + {b} / Ms{i})" if alike else "0"
            work.step(f"Ss{i}", formula, per, "the chords' weighted harmonic mean" if alike else "the chords go apart")
            continue
        k, n = (1, 2) if i == 1 else (count - 1, count - 2)
        formula = f"((2 × Hs{k} + Hs{n}) × Ms{k} - Hs{k} × Ms{n}) / (Hs{k} + Hs{n})"
        slope = work.step(f"Ss{i}", formula, per, "end of the parabola through three points")
        here, other = m[k - 1], m[n - 1]
        if here == 0.0 or slope * here <= 0.0:
            if slope != 0.0:
                work.step(f"Ss{i}", "0", per, "held back: it would turn")
        elif here * other <= 0.0 and abs(slope) > 3.0 * abs(here):
            work.step(f"Ss{i}", f"3 × Ms{k}", per, "held back: it would overshoot")
