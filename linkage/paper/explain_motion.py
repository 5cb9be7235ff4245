"""The workings of the main checks: direction, stops, mismatch, transmission angle, toggle margin, tilt, shortfall."""

from __future__ import annotations

import math

import numpy as np

from linkage import turns
from linkage.answers import Answer, Check, extremes, joints
from linkage.answers.extremes import Extreme
from linkage.answers.one_way import bearing, resting
from linkage.motion import Motion
from linkage.motion.assembly import Joint
from linkage.paper import explain_closure as parts
from linkage.paper.arithmetic import Working
from linkage.parts import SIGN

#: where the angles and the limits of these checks are defined
MISMATCH = "largest plate angle less the smallest, over the shafts, at one position; at idle a tenth of a degree counts"
TRANSMISSION = (
    "angle between the link, seen along the driven axis, and the driven arm: 90 is best, 0 or 180 the dead point. R. "
    "L. Norton, Design of Machinery, McGraw-Hill, section on transmission angle (from memory)"
)
TOGGLE = (
    "at a dead point the root of the closure is nothing: q = k^2. R. S. Hartenberg and J. Denavit, as for the closure"
)


def opening_direction(work: Working, answer: Answer, check: Check) -> None:
    """Every shaft's sense of turning against the driver's, in the drawn position."""
    run = answer.run.at(0.0)
    names = []
    slides = run.rig.slides(run.rig.driver)
    ways = ("moves along its guide", "moves against it") if slides else ("turns ccw", "turns cw")
    for i, (name, shaft) in enumerate(run.rig.shaft.items(), 1):
        parts.speed(work, run, name, "v")
        if abs(work.known["v"]) < 1e-9:
            work.say(f'"{name}" stands at a dead centre as drawn; how it leaves it decides.')
        work.given("s", SIGN[shaft.opens], "number", f'"{name}" opens {shaft.opens} (ccw counts 1, cw -1)', unit="")
        work.step(f"h{i}", "v × s", "", f"above 0: it opens when the driver {ways[0]}; below 0: {ways[1]}")
        names.append(name)
    way = ways[0 if run.train.opens > 0 else 1]
    wrong = [i for i, n in enumerate(names, 1) if run.train.shaft_opens[n] != run.train.opens]
    work.say(f"Most shafts open when the driver {way}; those that turn the other way:")
    work.step(
        "n", " + ".join("1" if i in wrong else "0" for i in range(1, len(names) + 1)), "", "shafts that turn shut"
    )


def _stop(work: Working, answer: Answer, end: int) -> None:
    run = answer.run
    kind, unit = parts.told(work, run.rig, run.rig.driver)
    holder = int((run.travel.closing_holds, run.travel.opening_holds)[end])
    if holder < 0:
        _dead_point(work, run, run.travel.toggle_links[end], run.ends[end])
        work.given("n", run.ends[end], kind, "where the driver stands when the travel ends")
        return
    stop = run.travel.stops[holder]
    at = run.at(run.ends[end])
    part = run.rig.shaft.get(stop.member)
    work.head(f'Stop "{stop.name}" on "{stop.member}", carried back to "{run.rig.driver}":')
    if part is not None:
        idle = float(run.train.dims[f"shaft.{stop.member}.plate_angle.idle"])
        work.given("p", idle + SIGN[part.opens] * math.degrees(float(stop.turn)), "angle", "plate angle at the stop")
        work.given("p0", idle, "angle", "plate angle as drawn")
        work.step("t", "p - p0" if SIGN[part.opens] > 0.0 else "p0 - p", "deg", f'turn of "{stop.member}"')
    else:
        says = f'{turns.word_of(run.rig, stop.member)} of "{stop.member}" at the stop'
        work.given("t", math.degrees(float(stop.turn)), parts.told(work, run.rig, stop.member)[0], says)
    train = run.train
    if end == 0 and train.shut is not None and any(joint.slack for joint in train.path_to(stop.member)):
        work.say("Closing, the other end of the slot bears: the link counts as made, without its slot.")
        train = train.shut
    for joint in reversed(train.path_to(stop.member)):
        parts.linked(work, joint, float(at.member_turn[joint.step.driving][0]), backward=True)
    work.step("n", "t", unit, f'{turns.word_of(run.rig, run.rig.driver)} of "{run.rig.driver}" from drawn')
    work.say("Every other stop of this side, worked likewise, is met later.")


def closing_stop(work: Working, answer: Answer, check: Check) -> None:
    """The stop that ends the closing, carried back to the driver."""
    _stop(work, answer, 0)


def opening_stop(work: Working, answer: Answer, check: Check) -> None:
    """The stop that ends the opening, carried back to the driver."""
    _stop(work, answer, 1)


def travel(work: Working, answer: Answer, check: Check) -> None:
    """Driver turn between the two ends."""
    rig = answer.run.rig
    kind, unit = parts.told(work, rig, rig.driver)
    word = turns.word_of(rig, rig.driver)
    work.given("A", answer.run.ends[0], kind, f'driver {word} at "{answer.stops.closing.holds}"')
    work.given("B", answer.run.ends[1], kind, f'driver {word} at "{answer.stops.opening.holds}"')
    work.step("n", "abs(B - A)", unit, "of travel")


def opens_throughout(work: Working, answer: Answer, check: Check) -> None:
    """The least turn of a shaft for each degree of the driver."""
    run = answer.run
    sense = float(run.train.opens)
    found = {
        name: extremes.lowest(
            run,
            lambda at, name=name: np.where(resting(at, name), np.nan, sense * at.plate_speed[name]),  # type: ignore[misc]
        )
        for name, opens in run.train.shaft_opens.items()
        if opens == run.train.opens
    }
    found = {name: at for name, at in found.items() if not math.isnan(at.value)}
    backwards = [name for name, at in found.items() if at.value <= 0.0]
    name = backwards[0] if backwards else min(found, key=lambda n: found[n].value)
    at = run.at(found[name].turn)
    _where(work, run, found[name])
    parts.speed(work, at, name, "v")
    sign = SIGN[run.rig.shaft[name].opens] * sense
    per = parts.told(work, run.rig, run.rig.driver)[1]
    each = "degree" if per == "deg" else per
    says = f'"{name}" opens by so much for each {each} of the driver'
    work.step("n", "v" if sign > 0.0 else "-v", f"deg/{per}", says)


def _where(work: Working, run: Motion, at: Extreme) -> None:
    work.say(
        f"The extreme of the curve lies at {parts.driven_to(run, at.turn)}, {100.0 * at.fraction:.1f} % of "
        "the travel; a try a little to either side shows that it is one."
    )


def apart(work: Working, run: Motion) -> None:
    """The two plates that stand furthest apart at the one position of a motion."""
    angles = {name: float(angle[0]) for name, angle in run.plate_angle.items()}
    high, low = max(angles, key=lambda n: angles[n]), min(angles, key=lambda n: angles[n])
    if high == low:
        high, low = list(angles)[:2]
    others = [name for name in angles if name not in (high, low)]
    parts.plate(work, run, high, "P")
    parts.plate(work, run, low, "R")
    if others:
        work.say(f"The other plates ({', '.join(others)}) lie between.")
    work.head("Apart:")
    work.step("n", "P - R", "deg", f'"{high}" less "{low}"')


def mismatch_at_idle(work: Working, answer: Answer, check: Check) -> None:
    """Plate angles at the closing end."""
    apart(work, answer.run.at(answer.run.ends[0]))


def region(work: Working, run: Motion, found: Extreme) -> None:
    """The two plates that stand furthest apart at the worst position of a region."""
    _where(work, run, found)
    apart(work, run.at(found.turn))


def mismatch_off_idle(work: Working, answer: Answer, check: Check) -> None:
    """Plate angles where they differ most in the first degrees of opening."""
    region(work, answer.run, answer.mismatch.off_idle)


def mismatch(work: Working, answer: Answer, check: Check) -> None:
    """Plate angles where they differ most in mid travel."""
    assert answer.mismatch.middle is not None
    region(work, answer.run, answer.mismatch.middle)


def mismatch_at_wide_open(work: Working, answer: Answer, check: Check) -> None:
    """Plate angles where they differ most in the last degrees of opening."""
    region(work, answer.run, answer.mismatch.last)


def transmission_angle(work: Working, answer: Answer, check: Check) -> None:
    """The link that comes nearest to the line of its driven arm."""
    run = answer.run
    if not run.rig.link:
        work.say("There is no link.")
        return
    found = {name: extremes.lowest(run, lambda at, name=name: _from_line(at, name)) for name in run.rig.link}  # type: ignore[misc]
    name = min((n for n in found if not math.isnan(found[n].value)), key=lambda n: found[n].value)
    _where(work, run, found[name])
    joint = _joint(run, name)
    at = run.at(found[name].turn)
    parts.turned(work, at, joint.step.driving, "t")
    parts.linked(work, joint, float(at.member_turn[joint.step.driven][0]))
    if joint.driven is not None and joint.driven.slides:
        work.head("Link against the cross line of the guide:")
        work.step("m", "acos(w2 / sqrt(w2^2 + B))", "deg", "transmission angle")
        work.step("n", "min(m, 180 - m)", "deg", "from that line")
        return
    work.head("Link against its arm:")
    work.step("m", "acos((r2 - k) / sqrt((r2 - k)^2 + S^2))", "deg", "transmission angle")
    work.step("n", "min(m, 180 - m)", "deg", "from the line of the arm")


def _from_line(run: Motion, link: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    angle = joints.transmission_angles(run)[link]
    return np.where(bearing(run, _joint(run, link)), np.minimum(angle, 180.0 - angle), np.nan)


def _joint(run: Motion, link: str) -> Joint:
    return next(joint for joint in run.train.joints if joint.step.by.name == link)


def toggle_margin(work: Working, answer: Answer, check: Check) -> None:
    """The nearest dead point beyond a stop."""
    run = answer.run
    margins = [math.degrees(float(m)) for m in run.travel.before_toggle]
    side = int(np.argmin(margins))
    if not math.isfinite(margins[side]):
        work.say("No link comes to a dead point: for none is there a driver turn at which q = k^2.")
        return
    outwards = (-1.0, 1.0)[side] * float(run.train.opens)
    dead = run.ends[side] + outwards * margins[side]
    _dead_point(work, run, run.travel.toggle_links[side], dead)
    work.head("Left to it:")
    kind, unit = parts.told(work, run.rig, run.rig.driver)
    word = turns.word_of(run.rig, run.rig.driver)
    work.given("T", dead, kind, f"driver {word} at the dead point")
    work.given("E", run.ends[side], kind, f"driver {word} at the {('closing', 'opening')[side]} end")
    work.step("n", "abs(T - E)", unit, turns.of_driver(run.rig))


def _dead_point(work: Working, run: Motion, link: str, turn: float) -> None:
    """Show that a link stands at its dead point at a driver turn: q equals k^2."""
    joint = _joint(run, link)
    assert joint.driving is not None
    assert joint.driven is not None
    root = "L^2 - w2^2 - w3^2 = 0" if joint.driven.slides else "q - k^2 = 0"
    work.say(
        f'The dead point of link "{link}" is a root of {root}, found by the program at {parts.driven_to(run, turn)}. '
        "To confirm it, put that in:"
    )
    near = turn - 1e-9 * float(run.train.opens)
    parts.turned(work, run.at(near), joint.step.driving, "t")
    work.say(f'Link "{link}":')
    parts.places(work, joint, joint.driving, joint.driven)
    parts.closed(work, joint.driving, joint.driven, branch=1.0, until="k")
    if joint.driven.slides:
        work.step("z", "B", f"{work.length}^2", "next to nothing: the link stands square to the guide")
        return
    work.step("z", "q - k^2", f"{work.length}^2", "next to nothing: the link stands in line with its arm")


def tilt(work: Working, answer: Answer, check: Check) -> None:
    """The rod end that leaves the plane of its bolt furthest."""
    run = answer.run
    found = []
    for name, link in run.rig.link.items():
        limit = run.rig.limits.tilt if link.tilt_limit is None else link.tilt_limit
        most = extremes.highest(run, lambda at, name=name: np.maximum(*joints.tilts(at)[name]))  # type: ignore[misc]
        found.append((most.value - limit, name, most))
    _, name, most = max(found, key=lambda row: row[0])
    joint, at = _joint(run, name), run.at(most.turn)
    assert joint.driving is not None
    assert joint.driven is not None
    _where(work, run, most)
    both = joints.tilts(at)[name]
    first = float(both[0][0]) >= float(both[1][0])
    from linkage import closure

    one = closure.pin(joint.driving, *at.pose[joint.step.driving])
    two = closure.pin(joint.driven, *at.pose[joint.step.driven])
    forward = joint.step.by.joins[0] == f"{joint.step.driving}.{joint.step.arms[0]}"
    arm = joint.driving if first == forward else joint.driven
    work.head(f'Link "{name}", its two pins there (each by its member\'s turn):')
    for label, point, member in (("p", one, joint.step.driving), ("q", two, joint.step.driven)):
        for i, axis in enumerate("xyz"):
            work.given(f"{label}{axis}", float(np.ravel(point[i])[0]), "length", f'{axis} of the pin on "{member}"')
    for i, axis in enumerate("xyz"):
        work.given(f"u{axis}", float(arm.u[i]), "number", f"{axis} of the bolt's direction", unit="")
    work.given("L", float(joint.length), "length", "centre distance of the link")
    work.step("b", "(px - qx) × ux + (py - qy) × uy + (pz - qz) × uz", work.length, "along the bolt")
    work.step("n", "asin(abs(b) / L)", "deg", "tilt")


def wide_open_shortfall(work: Working, answer: Answer, check: Check) -> None:
    """What the last plate lacks at the opening stop."""
    run = answer.run
    at = run.at(run.ends[1])
    lacks = {
        name: float(run.train.dims[f"shaft.{name}.plate_angle.wide_open"] - angle[0])
        for name, angle in at.plate_angle.items()
    }
    name = max(lacks, key=lambda n: lacks[n])
    parts.plate(work, at, name, "P")
    work.given("W", float(run.train.dims[f"shaft.{name}.plate_angle.wide_open"]), "angle", f'wide open of "{name}"')
    work.step("n", "W - P", "deg", "short of wide open")
