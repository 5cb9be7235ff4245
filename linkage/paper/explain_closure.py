"""Shared parts of the workings: from the driver's turn to any member, by the closure of every link on the way."""

from __future__ import annotations

import math

from linkage import turns
from linkage.answers.one_way import bearing
from linkage.closure import ArmFrame
from linkage.motion import Motion
from linkage.motion.assembly import Joint
from linkage.paper import arithmetic
from linkage.paper.arithmetic import Working
from linkage.parts import SIGN, Link, Linkage
from linkage.quantities import Kind

CLOSURE = (
    "R. S. Hartenberg and J. Denavit, Kinematic Synthesis of Linkages, McGraw-Hill 1964, ch. 12; R. L. Norton, Design "
    "of Machinery, McGraw-Hill, section 4.5 (from memory); the form used follows from |P - Q| = L"
)
RATIO = (
    "velocity ratio of a link = ratio of its moment arms about the two axes: R. L. Norton, Design of Machinery, "
    "McGraw-Hill, chapter on velocity analysis (from memory)"
)


def told(work: Working, rig: Linkage, member: str) -> tuple[Kind, str]:
    """Kind and unit of a member's turn: of a block that slides it is a travel, in the design's own unit of length."""
    return ("length", work.length) if rig.slides(member) else ("angle", "deg")


def driven_to(run: Motion, turn: float) -> str:
    """A driver turn [deg] in words, to all its digits; of a block that slides, its travel."""
    rig = run.rig
    if not rig.slides(rig.driver):
        return f"{arithmetic.number(turn)} degrees of driver turn"
    return f"{arithmetic.number(turn / turns.scale_of(rig, rig.driver))} {rig.units} of the driver's travel"


def flat(*arms: ArmFrame) -> bool:
    """Whether arms turn about +z (or slide square to it), so that x and y tell everything."""
    return all(abs(float(arm.u[2]) - 1.0) < 1e-12 for arm in arms)


def turned(work: Working, run: Motion, member: str, symbol: str = "f") -> float:
    """Work out the turn of a member at the one position of a motion; the driver's turn is T."""
    name, word = run.rig.driver, turns.word_of(run.rig, member)
    (kind, unit), of_driver = told(work, run.rig, name), turns.word_of(run.rig, name)
    work.head(f'{word.capitalize()} of "{member}" from drawn, at a driver {of_driver} of:')
    way = "along its guide" if run.rig.slides(name) else "ccw"
    work.given("T", float(run.turn[0]), kind, f'{of_driver} of "{name}", the driver, {way}')
    if member == name:
        return work.step(symbol, "T", unit, f'"{member}" is the driver')
    now = work.step("t", "T", unit)
    for joint in run.train.path_to(member):
        if not bearing(run, joint)[0]:
            driven = joint.step.driven
            work.say(f'Of {slack_words(joint)} the slack is not taken up: "{driven}" rests.')
            rest = math.degrees(float(joint.rest))
            now = work.given("t", rest, told(work, run.rig, driven)[0], f'where "{driven}" rests')
            continue
        now = linked(work, joint, float(run.member_turn[joint.step.driven][0]))
    unit = told(work, run.rig, member)[1]
    return work.step(symbol, "t", unit, f'{word} of "{member}"') if symbol != "t" else now


def slack_words(joint: Joint) -> str:
    """A slack joint by its name."""
    return f'{"the tang" if joint.forward is None else "slotted link"} "{joint.step.by.name}"'


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
    if found.slides:
        return work.step("t", "w1 + S", work.length, f'travel of "{names[1]}"')
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
        if not arm.slides:
            work.given(f"r{number}", float(arm.r), "length", f"radius of the {what} arm")
        if flat(known, found):
            angle = math.degrees(math.atan2(float(arm.e1[1]), float(arm.e1[0])))
            says = f"direction of the {what} guide" if arm.slides else "its angle as drawn"
            work.given(f"a{number}", angle, "angle", says)
        at = "its pin as drawn" if arm.slides else "the centre it turns about"
        for i, axis in enumerate("xy" if flat(known, found) else "xyz"):
            work.given(f"o{number}{axis}", float(arm.centre[i]), "length", f"{axis} of {at}")
        if not flat(known, found):
            ways = (f"the {what} guide's direction", "its cross line") if arm.slides else (
                "its direction as drawn", "its way square to that, as it turns")  # fmt: skip
            for name, vector, says in zip("eg", (arm.e1, arm.e2), ways, strict=True):
                if name == "e" or not arm.slides or arm is found:
                    for i, axis in enumerate("xyz"):
                        work.given(f"{name}{number}{axis}", float(vector[i]), "number", f"{axis} of {says}", unit="")
    if not flat(known, found) and not found.slides:
        for i, axis in enumerate("xyz"):
            work.given(f"u{axis}", float(found.u[i]), "number", f"{axis} of the sought axis", unit="")
    says = "centre distance of the link" + (", fitted" if joint.fitted else "")
    if joint.slack:
        says += f", with its slot {'added' if float(joint.slot) > 0.0 else 'taken off'}"
    work.given("L", float(joint.working), "length", says)


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
        if found.slides:
            work.step("w3", "sqrt(wx^2 + wy^2 + wz^2 - w1^2 - w2^2)", unit, "sideways")
        else:
            work.step("w3", "wx × ux + wy × uy + wz × uz", unit)
    sideways = "w3" in work.known
    if found.slides:
        work.step("B", f"L^2 - w2^2{' - w3^2' if sideways else ''}", f"{unit}^2", "what is left along the guide")
        work.known.pop("w3", None)
        if until != "k":
            work.step("S", f"{'' if branch >= 0.0 else '-'}sqrt(B)", unit, "its sign as assembled in the drawing")
        return
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
    if arm.slides and flat(arm, other):
        work.step(f"{name}x", f"o{number}x + {turn} × cos(a{number})", unit, "where its pin is")
        work.step(f"{name}y", f"o{number}y + {turn} × sin(a{number})", unit)
        return
    if arm.slides:
        for axis in "xyz":
            says = "where its pin is" if axis == "x" else ""
            work.step(f"{name}{axis}", f"o{number}{axis} + {turn} × e{number}{axis}", unit, says)
        return
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
    for symbol_of, member in (("t1", step.driving), ("t2", step.driven)):
        kind = told(work, run.rig, member)[0]
        says = f'{turns.word_of(run.rig, member)} of "{member}"'
        work.given(symbol_of, float(run.member_turn[member][0]), kind, says)
    pinned(work, one, two, 1, "t1", "p")
    pinned(work, two, one, 2, "t2", "q")
    moments(work, one, two)
    (_, per), (_, unit) = told(work, run.rig, step.driving), told(work, run.rig, step.driven)
    word = turns.word_of(run.rig, step.driven)
    says = f'{word} of "{step.driven}" for each {"degree" if per == "deg" else per} of "{step.driving}"'
    whole = {("deg", "deg"): "", (work.length, "deg"): " × 180 / pi", ("deg", work.length): " × pi / 180"}
    return work.step(symbol, f"m1 / m2{whole.get((per, unit), '')}", "" if per == unit else f"{unit}/{per}", says)


def moments(work: Working, one: ArmFrame, two: ArmFrame) -> None:
    """Moment arms m1 and m2 of the link's line about the two axes, from the pins p and q."""
    unit = work.length
    axes = "xy" if flat(one, two) else "xyz"
    for axis in axes:
        work.step(f"d{axis}", f"(p{axis} - q{axis}) / L", "", "along the link" if axis == "x" else "")
    for number, arm, pin in ((1, one, "p"), (2, two, "q")):
        if arm.slides:
            along = f"dx × cos(a{number}) + dy × sin(a{number})"
            if not flat(one, two):
                along = f"dx × e{number}x + dy × e{number}y + dz × e{number}z"
            work.step(f"m{number}", along, "", "the link's share along the guide")
            continue
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
    per, word = told(work, run.rig, run.rig.driver)[1], turns.word_of(run.rig, member)
    each = "degree" if per == "deg" else per
    work.head(f'{word.capitalize()} of "{member}" for each {each} of "{run.rig.driver}":')
    path = run.train.path_to(member)
    slack = next((joint for joint in path if not bearing(run, joint)[0]), None)
    if slack is not None:
        work.given(symbol, 0.0, "number", f"it rests: of {slack_words(slack)} the slack is not taken up", unit="")
        return 0.0
    if not path:
        work.given(symbol, 1.0, "number", "it is the driver", unit="")
        return 1.0
    names = [f"v{i + 1}" for i in range(len(path))]
    for name, joint in zip(names, path, strict=True):
        ratio(work, run, joint, name)
    unit = told(work, run.rig, member)[1]
    return work.step(symbol, " × ".join(names), "" if unit == per else f"{unit}/{per}", f'of "{member}"')
