"""Shared parts of the workings: from the driver's turn to any member, by the closure of every link on the way."""

from __future__ import annotations

import math

from linkage.closure import ArmFrame
from linkage.motion import Motion
from linkage.motion.assembly import Joint
from linkage.paper.arithmetic import Working
from linkage.parts import SIGN, Link

CLOSURE = (
    "R. S. Hartenberg and J. Denavit, Kinematic Synthesis of Linkages, McGraw-Hill 1964, ch. 12; R. L. Norton, Design "
    "of Machinery, McGraw-Hill, section 4.5 (from memory); the form used follows from |P - Q| = L"
)
RATIO = (
    "velocity ratio of a link = ratio of its moment arms about the two axes: R. L. Norton, Design of Machinery, "
    "McGraw-Hill, chapter on velocity analysis (from memory)"
)


def flat(*arms: ArmFrame) -> bool:
    """Whether arms turn about +z, so that x and y tell everything."""
    return all(abs(float(arm.u[2]) - 1.0) < 1e-12 for arm in arms)


def turned(work: Working, run: Motion, member: str, symbol: str = "f") -> float:
    """Work out the turn of a member at the one position of a motion; the driver's turn is T."""
    name = run.rig.driver
    work.head(f'Turn of "{member}" from drawn, at a driver turn of:')
    work.given("T", float(run.turn[0]), "angle", f'turn of "{name}", the driver, ccw')
    if member == name:
        return work.step(symbol, "T", "deg", f'"{member}" is the driver')
    now = work.step("t", "T", "deg")
    for joint in run.train.path_to(member):
        now = linked(work, joint, float(run.member_turn[joint.step.driven][0]))
    return work.step(symbol, "t", "deg", f'turn of "{member}"') if symbol != "t" else now


def linked(work: Working, joint: Joint, wanted: float, *, backward: bool = False) -> float:
    """One joint: from ``t`` of the known member to the turn of the other, which is ``t`` from then on.

    ``wanted`` [deg] is the turn to be found: it settles the half turns that an arc tangent forgets.
    """
    if joint.forward is None or joint.driving is None or joint.driven is None:
        return _coupled(work, joint, backward=backward)
    known, found = (joint.driven, joint.driving) if backward else (joint.driving, joint.driven)
    loop = joint.backward if backward else joint.forward
    names = (joint.step.driven, joint.step.driving) if backward else (joint.step.driving, joint.step.driven)
    assert loop is not None
    work.say(f'Link "{joint.step.by.name}", from "{names[0]}" to "{names[1]}":')
    places(work, joint, known, found)
    closed(work, known, found, branch=float(loop.branch))
    cos, sin = work.known["C"], work.known["D"]
    if abs(sin) > 2.0 * abs(cos):
        base = ("" if sin > 0.0 else "-") + "acos(C)"
        value = math.copysign(math.degrees(math.acos(cos)), sin)
    else:
        base, value = "atan(D / C)", math.degrees(math.atan(sin / cos))
    half = round((wanted - value) / 180.0)
    more = "" if half == 0 else f" {'+' if half > 0 else '-'} {abs(half) * 180}"
    return work.step("t", base + more, "deg", f'turn of "{names[1]}"')


def _coupled(work: Working, joint: Joint, *, backward: bool) -> float:
    step = joint.step
    work.say(f'Coupling "{step.by.name}", from "{step.driving}" to "{step.driven}":')
    work.given("i", float(joint.ratio), "number", f'turn of "{step.driven}" for each of "{step.driving}"', unit="")
    work.given("o", math.degrees(float(joint.offset)), "angle", "offset")
    if backward:
        return work.step("t", "(t - o) / i", "deg", f'turn of "{step.driving}"')
    return work.step("t", "i × t + o", "deg", f'turn of "{step.driven}"')


def places(work: Working, joint: Joint, known: ArmFrame, found: ArmFrame) -> None:
    """The numbers of a link: where its arms turn, how long they are, how it is assembled."""
    assert isinstance(joint.step.by, Link)
    for number, arm, what in ((1, known, "known"), (2, found, "sought")):
        work.given(f"r{number}", float(arm.r), "length", f"radius of the {what} arm")
        if flat(known, found):
            angle = math.degrees(math.atan2(float(arm.e1[1]), float(arm.e1[0])))
            work.given(f"a{number}", angle, "angle", "its angle as drawn")
        for i, axis in enumerate("xy" if flat(known, found) else "xyz"):
            work.given(f"o{number}{axis}", float(arm.centre[i]), "length", f"{axis} of the centre it turns about")
        if not flat(known, found):
            for name, vector in (("e", arm.e1), ("g", arm.e2)):
                says = "direction as drawn" if name == "e" else "way square to that, as it turns"
                for i, axis in enumerate("xyz"):
                    work.given(f"{name}{number}{axis}", float(vector[i]), "number", f"{axis} of its {says}", unit="")
    if not flat(known, found):
        for i, axis in enumerate("xyz"):
            work.given(f"u{axis}", float(found.u[i]), "number", f"{axis} of the sought axis", unit="")
    work.given("L", float(joint.length), "length", "centre distance of the link" + (", fitted" if joint.fitted else ""))


def closed(work: Working, known: ArmFrame, found: ArmFrame, *, branch: float, until: str = "D") -> None:
    """From the turn t of the known arm to cosine C and sine D of the turn of the sought one; or ``until`` k."""
    unit = work.length
    pinned(work, known, found, 1, "t", "p")
    if flat(known, found):
        work.step("wx", "px - o2x", unit)
        work.step("wy", "py - o2y", unit)
        work.step("w1", "wx × cos(a2) + wy × sin(a2)", unit)
        work.step("w2", "wy × cos(a2) - wx × sin(a2)", unit)
        off = float(known.centre[2] - found.centre[2])
        if abs(off) > 1e-12:
            work.given("w3", off, "length", "sideways offset of the two pins")
    else:
        for axis in "xyz":
            work.step(f"w{axis}", f"p{axis} - o2{axis}", unit)
        work.step("w1", "wx × e2x + wy × e2y + wz × e2z", unit)
        work.step("w2", "wx × g2x + wy × g2y + wz × g2z", unit)
        work.step("w3", "wx × ux + wy × uy + wz × uz", unit)
    sideways = "w3" in work.known
    work.step("q", "w1^2 + w2^2", f"{unit}^2")
    work.step("k", f"(q{' + w3^2' if sideways else ''} + r2^2 - L^2) / (2 × r2)", unit)
    work.known.pop("w3", None)
    if until == "k":
        return
    sign = "" if branch >= 0.0 else "-"
    work.step("S", f"{sign}sqrt(q - k^2)", unit, "its sign as assembled in the drawing")
    work.step("C", "(w1 × k - w2 × S) / q", "", "cosine of the turn sought")
    work.step("D", "(w2 × k + w1 × S) / q", "", "sine of the turn sought")


def pinned(work: Working, arm: ArmFrame, other: ArmFrame, number: int, turn: str, name: str) -> None:
    """Where an arm's pin is at a turn: three coordinates, or two of arms about +z."""
    unit = work.length
    if flat(arm, other):
        work.step(f"{name}x", f"o{number}x + r{number} × cos(a{number} + {turn})", unit, "where its pin is")
        work.step(f"{name}y", f"o{number}y + r{number} × sin(a{number} + {turn})", unit)
        return
    for axis in "xyz":
        work.step(
            f"{name}{axis}",
            f"o{number}{axis} + r{number} × (cos({turn}) × e{number}{axis} + sin({turn}) × g{number}{axis})",
            unit,
            "where its pin is" if axis == "x" else "",
        )


def plate(work: Working, run: Motion, shaft: str, symbol: str) -> float:
    """Plate angle of a shaft at the one position of a motion."""
    turned(work, run, shaft)
    part = run.rig.shaft[shaft]
    work.given("p0", float(run.train.dims[f"shaft.{shaft}.plate_angle.idle"]), "angle", f'plate of "{shaft}" as drawn')
    sign = "+" if SIGN[part.opens] > 0.0 else "-"
    return work.step(symbol, f"p0 {sign} f", "deg", f'plate angle of "{shaft}", which opens {part.opens}')


def ratio(work: Working, run: Motion, joint: Joint, symbol: str = "v") -> float:
    """Velocity ratio of one joint at the one position of a motion: turn of the driven for each of the driving."""
    step = joint.step
    if joint.forward is None or joint.driving is None or joint.driven is None:
        work.given(symbol, float(joint.ratio), "number", f'ratio of coupling "{step.by.name}"', unit="")
        return work.known[symbol]
    one, two = joint.driving, joint.driven
    work.say(f'Link "{step.by.name}", from "{step.driving}" to "{step.driven}":')
    places(work, joint, one, two)
    work.given("t1", float(run.member_turn[step.driving][0]), "angle", f'turn of "{step.driving}"')
    work.given("t2", float(run.member_turn[step.driven][0]), "angle", f'turn of "{step.driven}"')
    pinned(work, one, two, 1, "t1", "p")
    pinned(work, two, one, 2, "t2", "q")
    moments(work, one, two)
    return work.step(symbol, "m1 / m2", "", f'turn of "{step.driven}" for each degree of "{step.driving}"')


def moments(work: Working, one: ArmFrame, two: ArmFrame) -> None:
    """Moment arms m1 and m2 of the link's line about the two axes, from the pins p and q."""
    unit = work.length
    axes = "xy" if flat(one, two) else "xyz"
    for axis in axes:
        work.step(f"d{axis}", f"(p{axis} - q{axis}) / L", "", "along the link" if axis == "x" else "")
    for number, arm, pin in ((1, one, "p"), (2, two, "q")):
        n = {axis: f"({pin}{axis} - o{number}{axis})" for axis in "xyz"}
        if flat(one, two):
            formula = f"{n['x']} × dy - {n['y']} × dx"
        else:
            for i, axis in enumerate("xyz"):
                work.given(f"u{axis}", float(arm.u[i]), "number", f"{axis} of the axis", unit="")
            formula = (
                f"ux × ({n['y']} × dz - {n['z']} × dy) + uy × ({n['z']} × dx - {n['x']} × dz) "
                f"+ uz × ({n['x']} × dy - {n['y']} × dx)"
            )
        work.step(f"m{number}", formula, unit, "moment arm of the link")


def speed(work: Working, run: Motion, member: str, symbol: str) -> float:
    """Turn of a member for each degree of the driver at the one position of a motion."""
    work.head(f'Turn of "{member}" for each degree of "{run.rig.driver}":')
    path = run.train.path_to(member)
    if not path:
        work.given(symbol, 1.0, "number", "it is the driver", unit="")
        return 1.0
    names = [f"v{i + 1}" for i in range(len(path))]
    for name, joint in zip(names, path, strict=True):
        ratio(work, run, joint, name)
    return work.step(symbol, " × ".join(names), "", f'of "{member}"')
