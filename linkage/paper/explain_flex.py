"""The workings of the checks on what gives: the engine in its mounts, shafts and tubes in twist."""

from __future__ import annotations

import math

import numpy as np

from linkage.answers import Answer, Check, torsion
from linkage.answers.rolled import held, on_body, rolled
from linkage.answers.rolled_rest import as_run, at_rest
from linkage.answers.twist import ends
from linkage.answers.winding import Twisted, Wound, twisted
from linkage.motion import Motion
from linkage.motion.assembly import turn_near
from linkage.paper import explain_closure as parts
from linkage.paper.arithmetic import Working, number
from linkage.parts import SIGN
from linkage.quantities import own_scale, own_unit

ROLL = (
    "a place on the body turns against the engine about the axis of the roll, by as much the other way: H. Goldstein, "
    "Classical Mechanics, Addison-Wesley, finite rotations (from memory)"
)
TORSION = (
    "wind-up of a round shaft: torque x length / (shear modulus x polar second moment), pi (D^4 - d^4) / 32. W. C. "
    "Young and R. G. Budynas, Roark's Formulas for Stress and Strain, 7th ed., McGraw-Hill 2002, ch. 10 (from memory)"
)


def _rolled_place(work: Working, run: Motion, degrees: float) -> None:
    """Where the first thing on the body stands once the engine has rolled."""
    rig, rocking = run.rig, run.rig.rocking
    assert rocking is not None
    work.head(f"Rolled by {number(degrees)} degrees, seen from the engine:")
    if rocking.direction != (0.0, 0.0, 1.0):
        work.say("Everything on the body is turned back about the axis of the roll; the places below are so turned.")
        return
    places = [(f'the pivot of "{name}"', rig.members[name].pivot) for name in rig.members if on_body(rig, name)]
    if rig.cable is not None and rig.cable.mounted == "body" and rig.cable.casing_end is not None:
        places.append(("the casing end", rig.cable.casing_end))
    if not places:
        work.say("Nothing stands on the body.")
        return
    what, place = places[0]
    work.given("rho", degrees, "angle", "roll of the engine, ccw")
    for axis, at, centre in zip("xy", place, rocking.axis, strict=False):
        work.given(f"c{axis}", centre, "length", f"{axis} of the axis of the roll")
        work.given(f"b{axis}", at, "length", f"{axis} of {what} as drawn")
    work.step("ex", "cx + (bx - cx) × cos(rho) + (by - cy) × sin(rho)", work.length, f"x of {what}, rolled")
    work.step("ey", "cy + (by - cy) × cos(rho) - (bx - cx) × sin(rho)", work.length, f"y of {what}, rolled")
    work.say("All else on the body is moved likewise; lengths, and shapes, stay.")


def rocking_at_idle(work: Working, answer: Answer, check: Check) -> None:
    """The plate that the roll opens most at idle."""
    report, run = answer.rocking, answer.run
    assert report is not None
    name, _ = report.lift
    side = max((0, 1), key=lambda i: report.lifts[i][name])
    degrees = report.degrees * (1.0, -1.0)[side]
    there = rolled(run, degrees)
    idle = run.at(run.ends[0])
    _rolled_place(work, run, degrees)
    work.say("The foot is off: the driver stands where a stop or the cable, its free play gone, first holds it.")
    parts.plate(work, idle, name, "P")
    parts.plate(work, as_run(idle, there, np.array([at_rest(run, there, degrees)])), name, "R")
    work.head("Opened off idle:")
    work.step("n", "max(R - P, 0)", "deg", f'"{name}", rolled')


def rocking_in_travel(work: Working, answer: Answer, check: Check) -> None:
    """The plate that the roll moves most, the pedal held."""
    report, run = answer.rocking, answer.run
    assert report is not None
    if report.jams:
        work.say(f"There is no figure: {report.jams}.")
        return
    name, at = report.most, run.at(report.largest[report.most].turn)
    moved = []
    for degrees in (report.degrees, -report.degrees):
        pose = held(at, degrees)
        turn = np.asarray(turn_near(pose, np.radians(at.turn), run.train.slides(run.rig.driver)))
        there = as_run(at, rolled(run, degrees), turn)
        moved.append((abs(float(there.plate_angle[name][0] - at.plate_angle[name][0])), degrees, there))
    _, degrees, there = max(moved, key=lambda row: row[0])
    _rolled_place(work, run, degrees)
    work.say(
        f"The pedal is held as at {number(float(at.turn[0]))} degrees of driver turn: the driver's turn is that which "
        "keeps the run of the inner cable, or of itself where no cable pulls."
    )
    parts.plate(work, at, name, "P")
    parts.plate(work, there, name, "R")
    work.head("Moved by the roll:")
    work.step("n", "abs(R - P)", "deg", f'"{name}", rolled')


def _winding(work: Working, run: Motion, name: str, wound: Wound, plate: int, symbol: str) -> None:
    """Twist [deg, opening] of a plate against what holds its shaft, segment by segment, at the first position."""
    member, units = run.rig.turning[name], work.units
    section = member.twist
    assert section is not None
    force, long = own_unit(units, "force"), own_unit(units, "length")
    stress = own_scale(units, "force") / own_scale(units, "length") ** 2
    work.head(f'Plate {plate} of "{name}" against {wound.held}:')
    work.given("D", torsion.diameter_of(member), "length", "diameter")
    if section.wall is not None:
        work.given("w", section.wall, "length", "wall")
    inside = " - max(D - 2 × w, 0)^4" if section.wall is not None else ""
    work.given("G", 1000.0 * torsion.modulus_of(section) / stress, "number", "shear modulus", unit=f"{force}/{long}^2")
    work.given("q", section.stiffness_share, "number", "share of the stiffness that slots leave", unit="")
    work.step("J", f"pi × (D^4{inside}) / 32 × q", f"{long}^4", "polar second moment")
    one, other = wound.grips.index(wound.held), wound.grips.index(f"plate {plate}")
    sign = 1.0 if other > one else -1.0
    opens = SIGN[run.rig.shaft[name].opens]
    terms: list[str] = []
    for i in range(min(one, other), max(one, other)):
        span = float(wound.station[i + 1] - wound.station[i])
        if span < 1e-9:
            continue
        k = len(terms) + 1
        says = f"carried from {wound.grips[i]} to {wound.grips[i + 1]}, opening counts up"
        work.given(f"M{k}", float(sign * opens * wound.torque[i][0]), "torque", says)
        work.given(f"L{k}", span, "length", "over a length of")
        terms.append(f"M{k} × L{k}")
    work.step(symbol, f"({' + '.join(terms) or '0'}) / (G × J) × 180 / pi", "deg", "twist")


def twist(work: Working, answer: Answer, check: Check) -> None:
    """The plate that is twisted most against the arm that drives its shaft."""
    report, run = answer.twist, answer.run
    assert report is not None
    if math.isnan(report.largest.value):
        work.say("The twist does not settle, so there is no figure.")
        return
    name, plate, way = report.at
    _found_at(work, report.largest.turn, way)
    found = twisted(run.at(report.largest.turn), way)
    if name not in found.members:
        work.say(f'"{name}" has no section given: it counts as stiff.')
        work.step("n", "0", "deg")
        return
    _winding(work, run, name, found.members[name], plate, "z")
    work.step("n", "abs(z)", "deg", "either way")


def _found_at(work: Working, turn: float, way: str) -> None:
    work.say(
        f"At {number(turn)} degrees of driver turn, {way}. The torques between the stations are those of the forces "
        "with every arm and spring standing as twisted: worked out in rounds until nothing moves."
    )


def _apart(work: Working, run: Motion, found: Twisted) -> None:
    """The two plates that the twist sets furthest apart."""
    work.say("What moves a plate: the twist of what comes before its shaft moves the arm, its own shaft the rest.")
    for symbol, (name, plate, by) in zip("lh", ends(found), strict=True):
        twist_of = float(found.plates[name][plate - 1][0])
        if name in found.members:
            _winding(work, run, name, found.members[name], plate, f"{symbol}t")
        else:
            work.head(f'Plate {plate} of "{name}":')
            work.given(f"{symbol}t", 0.0, "angle", "its shaft has no section given and counts as stiff")
        work.given(f"{symbol}a", by - twist_of, "angle", "what holds the shaft stands off, by the twist before it")
        work.step(symbol, f"{symbol}t + {symbol}a", "deg", f'plate {plate} of "{name}" against a stiff train')
    work.head("Apart:")
    work.step("n", "h - l", "deg", "by twist")


def twist_at_idle(work: Working, answer: Answer, check: Check) -> None:
    """The two plates that the twist sets furthest apart at idle."""
    assert answer.twist is not None
    _found_at(work, answer.run.ends[0], "at rest" if answer.twist.resting is not None else "closing")
    _apart(work, answer.run, answer.twist.idle)


def twist_in_travel(work: Working, answer: Answer, check: Check) -> None:
    """The two plates that the twist sets furthest apart in the travel."""
    report = answer.twist
    assert report is not None
    _found_at(work, report.apart.turn, report.apart_going)
    _apart(work, answer.run, twisted(answer.run.at(report.apart.turn), report.apart_going))
