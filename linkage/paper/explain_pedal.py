"""The workings of the checks on the pedal and on the followers."""

from __future__ import annotations

import itertools
import math

import numpy as np

from linkage import closure
from linkage.answers import Answer, Check
from linkage.answers.extremes import highest
from linkage.answers.followers import stroke
from linkage.motion import CrankPedal, DriverPedal, Motion
from linkage.paper.arithmetic import Working, number
from linkage.paper.explain_cable import needed, pin_at
from linkage.train import split_pin

CRANK = "the law of cosines in the triangle of casing end, pedal pivot and cable pin: L^2 = D^2 + r^2 - 2 D r cos(b)"
PAD = "the pad runs along an arc about its pivot: radius times turn, in radians; the foot presses square to its arm"
_BETWEEN = "acos((D^2 + r^2 - ({}^2 - (oz - kz)^2)) / (2 × D × r))"
STROKE = "stroke of a member: its turn from idle; of a pin: the straight distance of its two places"


def pedal_travel(work: Working, answer: Answer, check: Check) -> None:
    """Pad travel from rest to wide open."""
    _pad(work, answer, "n")


def pedal_stop(work: Working, answer: Answer, check: Check) -> None:
    """Pad travel to wide open less that to the pedal stop."""
    foot, run = answer.run.pedal_line, answer.run
    _pad(work, answer, "w")
    work.head("To the pedal stop:")
    if foot is None or foot.stop is None:
        work.say("The pedal's own stop is the one that ends the travel.")
        work.step("n", "w - w", work.length, "between the two")
        return
    work.given("s", float(run.train.dims["pedal.stop"]), "angle", "turn of the pedal at its stop, from drawn")
    if isinstance(foot, DriverPedal):
        work.given("q", float(run.train.opens) * run.ends[0], "angle", "its turn at the closing stop, from drawn")
        work.step("p", "P × (s - q) × pi / 180", work.length, "pad travel to the pedal stop")
    else:
        work.step("p", "P × s × pi / 180", work.length, "pad travel to the pedal stop")
    work.step("n", "w - p", work.length, "above 0: the pedal stop is met first")


def pedal_pull(work: Working, answer: Answer, check: Check) -> None:
    """The run from the casing end to the pin as drawn, and a degree further down: it must grow."""
    foot = answer.run.pedal_line
    assert isinstance(foot, CrankPedal)
    for label, turn in (("A", 0.0), ("B", 1.0)):
        work.head(f"{'At rest' if turn == 0.0 else 'One degree down'}:")
        _place(work, foot, turn, label)
    work.step("d", "B - A", work.length, "above 0: the foot draws the inner cable out")


def pedal_dead_centre(work: Working, answer: Answer, check: Check) -> None:
    """The longest run there can be against the one that wide open takes."""
    foot = answer.run.pedal_line
    assert isinstance(foot, CrankPedal)
    needed(work, answer, "N")
    _triangle(work, foot)
    work.step("m", "sqrt((D + r)^2 + (oz - kz)^2)", work.length, "the run when in line with its arm")
    work.step("d", "m - (L + N)", work.length, "above 0: the pedal can draw out so much")


def pedal_cable_angle(work: Working, answer: Answer, check: Check) -> None:
    """Angle between the cable and its arm at the pedal, at its least."""
    assert answer.pedal is not None
    least, foot = answer.pedal.least_angle, answer.run.pedal_line
    assert least is not None
    assert isinstance(foot, CrankPedal)
    crank_at(work, answer.run.at(least.turn), foot)
    work.step("n", "asin(M / r)", "deg", "cable against the line of its arm")


def pedal_cable_swing(work: Working, answer: Answer, check: Check) -> None:
    """Swing of the inner cable off its casing at the pedal."""
    report, foot = answer.pedal, answer.run.pedal_line
    assert report is not None
    assert report.turn is not None
    assert isinstance(foot, CrankPedal)
    turns = [0.0, report.turn]
    for pose in foot.line.tangents():
        turn = foot.sense * math.degrees(math.atan2(float(pose[1]), float(pose[0])))
        if 0.0 < turn < report.turn:
            turns.append(turn)
    ways = {turn: foot.line.way(foot.pose(np.radians(turn))) for turn in turns}
    axis = None if answer.run.rig.pedal is None else answer.run.rig.pedal.casing_axis
    work.say("The run swings furthest at an end of the pedal's way, or where it touches the circle of its pin.")
    if axis is not None:
        turn = min(turns, key=lambda t: float(closure.dot(ways[t], axis)))
        work.head(f"{number(turn)} degrees down:")
        _place(work, foot, turn, "l")
        for i, name in enumerate("xyz"):
            work.given(f"k{name}", axis[i], "number", f"{name} of the casing's own direction", unit="")
        work.step("n", "acos((lx × kx + ly × ky + lz × kz) / l)", "deg", "off the casing's axis")
        return
    one, two = min(itertools.combinations(turns, 2), key=lambda pair: float(closure.dot(ways[pair[0]], ways[pair[1]])))
    for label, turn in (("A", one), ("B", two)):
        work.head(f"{number(turn)} degrees down:")
        _place(work, foot, turn, "l")
        for name in "xyz":
            work.step(f"{label}{name}", f"l{name} / l")
    work.head("Half of the angle between the two:")
    work.step("n", "acos(Ax × Bx + Ay × By + Az × Bz) / 2", "deg")


def follower_stroke(work: Working, answer: Answer, check: Check) -> None:
    """Stroke of a follower, at the place of the travel where it is largest."""
    part = answer.run.rig.follower[check.where.split('"')[1]]
    at = highest(answer.run, lambda run: stroke(run, part))
    _moved(work, answer.run, check, at.turn, "n")


def follower_time(work: Working, answer: Answer, check: Check) -> None:
    """The place at which a share of the stroke is done, confirmed."""
    assert answer.followers is not None
    at = answer.followers[check.where.split('"')[1]]
    done = at.done[0] if check.name == "follower_start" else at.done[-1]
    if not math.isfinite(done.fraction):
        work.say("There is no stroke, and so no place.")
        return
    turn = float(answer.run.turn_at_fraction(done.fraction)[0])
    work.given("F", done.fraction, "number", "share of the travel, found by halving", unit="")
    _moved(work, answer.run, check, turn, "m")
    work.given("s", at.stroke, "length" if at.unit == "mm" else "angle", "the whole stroke")
    work.step("h", "m / s", "", f"of the stroke is done there; wanted is {done.share:g}")
    work.step("n", "100 × F", "%")


def follower_turns_back(work: Working, answer: Answer, check: Check) -> None:
    """How often it turns back."""
    assert answer.followers is not None
    at = answer.followers[check.where.split('"')[1]]
    for fraction in at.back:
        work.say(f"At {100.0 * fraction:.2f} % of the travel its speed against the driver passes nothing.")
    work.given("n", float(len(at.back)), "number", "places at which it turns back", unit="")


def crank_at(work: Working, at: Motion, foot: CrankPedal) -> None:
    """Turn ``t`` of the pedal and moment arm ``M`` of its cable, at the one position of a motion."""
    assert at.cable is not None
    work.head("At the pedal:")
    work.given("c", float(at.cable[0]), "length", "cable travel from the closing stop")
    work.given("f", float(foot.slack), "length", "free play")
    work.step("N", "c + f", work.length, "inner cable drawn out")
    _triangle(work, foot)
    _turn(work)
    work.step("M", "D × r × sin(e) / (L + N)", work.length, "moment arm of the cable about the pedal")


def _pad(work: Working, answer: Answer, symbol: str) -> None:
    foot, run = answer.run.pedal_line, answer.run
    if isinstance(foot, DriverPedal):
        work.given("P", float(foot.radius), "length", "radius of the pad")
        work.given("A", run.ends[0], "angle", "turn of the pedal at the closing stop")
        work.given("B", run.ends[1], "angle", "turn of the pedal at the opening stop")
        work.step(symbol, "P × abs(B - A) × pi / 180", work.length, "pad travel")
        return
    needed(work, answer, "N")
    if isinstance(foot, CrankPedal):
        _triangle(work, foot)
        _turn(work)
        work.given("P", float(foot.radius), "length", "radius of the pad")
        work.step(symbol, "P × t × pi / 180", work.length, "pad travel")
        return
    work.given("i", float(run.train.dims["pedal.ratio"]), "number", "pad travel for each of cable", unit="")
    work.step(symbol, "N × i", work.length, "pad travel")


def _triangle(work: Working, foot: CrankPedal) -> None:
    """Casing end, pivot and cable pin as drawn: ``D``, ``r``, the run ``L`` and the angle ``b`` at the pivot."""
    work.head("The pedal at rest:")
    _place(work, foot, 0.0, "L")
    work.step("D", "sqrt((kx - ox)^2 + (ky - oy)^2)", work.length, "casing end to pivot, in the side view")
    work.step("b", _BETWEEN.format("L"), "deg", "between the arm and the line to the casing end")


def _turn(work: Working) -> None:
    """The same triangle with ``N`` drawn out: its angle ``e`` at the pivot, and the turn ``t``."""
    work.step("e", _BETWEEN.format("(L + N)"), "deg", "the same with the cable drawn out")
    work.step("t", "e - b", "deg", "turn of the pedal from rest")


def _place(work: Working, foot: CrankPedal, turn: float, run: str) -> None:
    """The cable pin of the pedal ``turn`` degrees down, and the ``run`` from the casing end to it."""
    arm, casing = foot.line.arm, foot.line.casing.centre
    work.given("r", float(arm.r), "length", "radius of the cable arm")
    for i, axis in enumerate("xyz"):
        work.given(f"o{axis}", float(arm.centre[i]), "length", f"{axis} of the pivot")
    for i, axis in enumerate("xyz"):
        work.given(f"k{axis}", float(casing[i]), "length", f"{axis} of the casing end")
    work.given("a", math.degrees(math.atan2(float(arm.e1[1]), float(arm.e1[0]))), "angle", "angle of the arm at rest")
    work.given("g", foot.sense * turn, "angle", "turn of the pedal, ccw above 0")
    work.step("lx", "ox + r × cos(a + g) - kx", work.length)
    work.step("ly", "oy + r × sin(a + g) - ky", work.length)
    work.step("lz", "oz - kz", work.length)
    work.step(run, "sqrt(lx^2 + ly^2 + lz^2)", work.length, "length of the run")


def _moved(work: Working, run: Motion, check: Check, turn: float, symbol: str) -> None:
    """How far a follower has moved from idle to a driver turn."""
    part = run.rig.follower[check.where.split('"')[1]]
    work.say(f"At {number(turn)} degrees of driver turn. Turns of the members are worked as for mismatch_at_idle.")
    if part.on is not None:
        for label, at, where in (("A", run.ends[0], "the closing stop"), ("B", turn, "there")):
            work.given(label, float(run.at(at).member_turn[part.on][0]), "angle", f'turn of "{part.on}" at {where}')
        work.step(symbol, "abs(B - A)", "deg", "its stroke")
        return
    member, arm = split_pin(part.pin or "")
    for label, at, where in (("A", run.ends[0], "At the closing stop"), ("B", turn, "There")):
        work.head(f"{where}:")
        pin_at(work, run.at(at), member, arm, label)
    work.step(symbol, "sqrt((Bx - Ax)^2 + (By - Ay)^2 + (Bz - Az)^2)", work.length, "straight across")
