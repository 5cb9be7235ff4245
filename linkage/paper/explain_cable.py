"""The workings of the checks on cable and pedal."""

from __future__ import annotations

import itertools
import math

import numpy as np

from linkage import closure, turns
from linkage.answers import Answer, Check
from linkage.closure import ArmFrame
from linkage.motion import Motion, PinCable
from linkage.motion.assembly import arm_frame
from linkage.paper.arithmetic import Working
from linkage.paper.explain_closure import driven_to, told
from linkage.paper.explain_snail import snail_arm, snail_travel
from linkage.train import split_pin

RUN = "the inner cable runs straight from the casing end to the pin; its travel is how much that run shortens"
ARM = "moment arm of the pull about the axis: u.((P - O) x (C - P)) / |C - P|, ccw above 0; statics of a force"
WRAP = "on a quadrant the travel is its radius times the turn, in radians; on a snail the integral of its moment arm"


def pin_at(work: Working, run: Motion, member: str, arm: str, name: str, turn: str = "t") -> ArmFrame:
    """Put down an arm, and work out where its pin is at the one position of a motion."""
    frame = arm_frame(run.rig, run.train.dims, member, arm)
    word, kind = turns.word_of(run.rig, member), told(work, run.rig, member)[0]
    work.given(turn, float(run.member_turn[member][0]), kind, f'{word} of "{member}"')
    if frame.slides:
        for i, axis in enumerate("xyz"):
            work.given(f"o{axis}", float(frame.centre[i]), "length", f"{axis} of the pin as drawn")
        for i, axis in enumerate("xyz"):
            work.given(f"e{axis}", float(frame.e1[i]), "number", f"{axis} of the guide's direction", unit="")
        for axis in "xyz":
            work.step(f"{name}{axis}", f"o{axis} + {turn} × e{axis}", work.length)
        return frame
    work.given("r", float(frame.r), "length", f'radius of "{member}.{arm}"')
    for i, axis in enumerate("xyz"):
        work.given(f"o{axis}", float(frame.centre[i]), "length", f"{axis} of the centre it turns about")
    if abs(float(frame.u[2]) - 1.0) < 1e-12:
        work.given("a", math.degrees(math.atan2(float(frame.e1[1]), float(frame.e1[0]))), "angle", "its angle as drawn")
        work.step(f"{name}x", f"ox + r × cos(a + {turn})", work.length)
        work.step(f"{name}y", f"oy + r × sin(a + {turn})", work.length)
        work.step(f"{name}z", "oz", work.length)
        return frame
    for label, vector, what in (("e", frame.e1, "its direction as drawn"), ("g", frame.e2, "the way square to that")):
        for i, axis in enumerate("xyz"):
            work.given(f"{label}{axis}", float(vector[i]), "number", f"{axis} of {what}", unit="")
    for axis in "xyz":
        work.step(f"{name}{axis}", f"o{axis} + r × (cos({turn}) × e{axis} + sin({turn}) × g{axis})", work.length)
    return frame


def pulled(work: Working, frame: ArmFrame, name: str, end: str, length: str, arm: str) -> None:
    """From a pin to the end of a straight pull: its ``length`` and its moment ``arm`` about the axis, ccw above 0."""
    unit = work.length
    for axis in "xyz":
        work.step(f"l{axis}", f"{end}{axis} - {name}{axis}", unit)
    work.step(length, "sqrt(lx^2 + ly^2 + lz^2)", unit, "length of the run")
    if frame.slides:
        work.step(arm, f"(lx × ex + ly × ey + lz × ez) / {length}", "", "its share along the guide")
        return
    n = {axis: f"({name}{axis} - o{axis})" for axis in "xyz"}
    if abs(float(frame.u[2]) - 1.0) < 1e-12:
        work.step(arm, f"({n['x']} × ly - {n['y']} × lx) / {length}", unit, "moment arm")
        return
    for i, axis in enumerate("xyz"):
        work.given(f"u{axis}", float(frame.u[i]), "number", f"{axis} of the axis", unit="")
    work.step(
        arm,
        f"(ux × ({n['y']} × lz - {n['z']} × ly) + uy × ({n['z']} × lx - {n['x']} × lz) "
        f"+ uz × ({n['x']} × ly - {n['y']} × lx)) / {length}",
        unit, "moment arm",
    )  # fmt: skip


def cable_arm(work: Working, run: Motion, symbol: str = "M", length: str = "l") -> None:
    """Moment arm of the cable about the driver at the one position of a motion."""
    cable = run.rig.cable
    assert cable is not None
    if cable.profile is not None:
        snail_arm(work, run, float(run.turn[0]), symbol)
        return
    if cable.quadrant is not None:
        work.given(
            "R", float(run.train.dims["cable.radius"]), "length", f'radius of the quadrant on "{cable.quadrant}"'
        )
        work.step(symbol, "R" if cable.pull_turns == "ccw" else "-R", work.length, f"it pulls {cable.pull_turns}")
        return
    member, arm = split_pin(cable.pulls or "")
    frame = pin_at(work, run, member, arm, "p")
    casing = cable.casing_end or (0.0, 0.0, 0.0)
    for i, axis in enumerate("xyz"):
        work.given(f"c{axis}", casing[i], "length", f"{axis} of the casing end")
    pulled(work, frame, "p", "c", length, symbol)


def pull_direction(work: Working, answer: Answer, check: Check) -> None:
    """Which way the pull turns the driver, against the way that opens."""
    run = answer.run
    work.head("In the drawn position:")
    cable_arm(work, run.at(0.0))
    slides = run.rig.slides(run.rig.driver)
    ways = ("moves along its guide", "moves against it") if slides else ("turns ccw", "turns cw")
    way = ways[0 if run.train.opens > 0 else 1]
    work.given("s", float(run.train.opens), "number", f'the throttles open when "{run.rig.driver}" {way}', unit="")
    work.step("n", "M × s", "" if slides else work.length, "above 0 the pull opens, below 0 it shuts")


def cable_dead_centre(work: Working, answer: Answer, check: Check) -> None:
    """The moment arm at its least and most through the travel: of one sign, or not."""
    run = answer.run
    fine = run.at(np.linspace(*run.ends, 181))
    assert fine.cable_arm is not None
    for symbol, index in (("A", int(np.argmin(fine.cable_arm))), ("B", int(np.argmax(fine.cable_arm)))):
        work.head(f"At {100.0 * float(fine.fraction[index]):.0f} % of the travel:")
        cable_arm(work, run.at(float(fine.turn[index])), symbol)
    work.head("Least and most through the travel:")
    if run.rig.slides(run.rig.driver):
        work.step("n", "A × B", "", "above 0: the pull never comes square to the guide")
    else:
        work.step("n", "A × B", f"{work.length}^2", "above 0: the pull never passes in line with its arm")


def cable_angle(work: Working, answer: Answer, check: Check) -> None:
    """Angle between the cable and the arm it pulls, at its least."""
    assert answer.cable is not None
    least = answer.cable.least_angle
    assert least is not None
    work.head(f"At {driven_to(answer.run, least.turn)}, {100.0 * least.fraction:.1f} % of the travel:")
    cable_arm(work, answer.run.at(least.turn))
    if answer.run.rig.slides(answer.run.rig.driver):
        work.step("n", "asin(abs(M))", "deg", "cable against the cross line of the guide")
        return
    work.step("n", "asin(abs(M) / r)", "deg", "cable against the line of its arm")


def cable_swing(work: Working, answer: Answer, check: Check) -> None:
    """Swing of the inner cable off its casing."""
    run = answer.run
    line, cable = run.line, run.rig.cable
    assert isinstance(line, PinCable)
    assert cable is not None
    places = list(run.ends)
    for pose in () if line.arm.slides else line.tangents():
        turn = math.degrees(math.atan2(float(pose[1]), float(pose[0])))
        turn += 360.0 * round((0.5 * sum(run.ends) - turn) / 360.0)
        if min(run.ends) < turn < max(run.ends):
            places.append(turn)
    ways = {turn: line.way(run.train.pose(math.radians(turn))) for turn in places}
    where = "." if line.arm.slides else ", or where it touches the circle of its pin."
    work.say(f"The run swings furthest at an end of the travel{where}")
    if cable.casing_axis is not None:
        axis = cable.casing_axis
        turn = min(places, key=lambda t: float(closure.dot(ways[t], axis)))
        work.head(f"At {driven_to(run, turn)}:")
        cable_arm(work, run.at(turn))
        for i, name in enumerate("xyz"):
            work.given(f"k{name}", axis[i], "number", f"{name} of the casing's own direction", unit="")
        work.step("n", "acos(-(lx × kx + ly × ky + lz × kz) / l)", "deg", "off the casing's axis")
        return
    one, two = min(itertools.combinations(places, 2), key=lambda pair: float(closure.dot(ways[pair[0]], ways[pair[1]])))
    for label, turn in (("A", one), ("B", two)):
        work.head(f"At {driven_to(run, turn)}:")
        cable_arm(work, run.at(turn))
        for axis_name in "xyz":
            work.step(f"{label}{axis_name}", f"l{axis_name} / l")
    work.head("Half of the angle between the two:")
    work.step("n", "acos(Ax × Bx + Ay × By + Az × Bz) / 2", "deg")


def needed(work: Working, answer: Answer, symbol: str) -> None:
    """Cable that the travel takes, with the free play."""
    run, cable = answer.run, answer.run.rig.cable
    assert cable is not None
    fine = run.at(np.linspace(*run.ends, 181))
    assert fine.cable is not None
    most = float(fine.turn[int(np.argmax(np.abs(fine.cable)))])
    if cable.profile is not None:
        snail_travel(work, run, run.ends[0], most)
    elif cable.quadrant is not None:
        work.given("R", float(run.train.dims["cable.radius"]), "length", "radius of the quadrant")
        work.given("A", run.ends[0], "angle", "driver turn at the closing stop")
        work.given("B", most, "angle", "driver turn at the opening stop")
        work.step("c", "R × abs(B - A) × pi / 180", work.length, "cable travel")
    else:
        for label, turn, where in (("A", run.ends[0], "closing stop"), ("B", most, "opening stop")):
            work.head(f"At the {where}, {driven_to(run, turn)}:")
            cable_arm(work, run.at(turn), "M", label)
        work.head("Travel:")
        work.step("c", "abs(A - B)", work.length, "the run has shortened by")
    work.given("f", float(run.train.dims["cable.free_play"]), "length", "free play")
    work.step(symbol, "c + f", work.length, "cable from the pedal's rest to wide open")


def cable_travel(work: Working, answer: Answer, check: Check) -> None:
    """Cable that the travel takes, with the free play."""
    needed(work, answer, "n")
