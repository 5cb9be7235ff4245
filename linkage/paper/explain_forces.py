"""The workings of the checks on springs, closing torque, pedal and links."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

import numpy as np

from linkage.answers import Answer, Check, springs
from linkage.answers.link_forces import STEEL
from linkage.answers.parting import beyond
from linkage.answers.springs import SpringAction
from linkage.motion import CrankPedal, DriverPedal, Motion
from linkage.motion.assembly import Joint
from linkage.paper import explain_closure as parts
from linkage.paper.arithmetic import Working
from linkage.paper.explain_cable import cable_arm, pin_at, pulled
from linkage.paper.explain_pedal import crank_at
from linkage.parts import Linkage
from linkage.quantities import Kind, own_scale, own_unit
from linkage.train import split_pin

SPRING = (
    "torsion spring: preload + rate x opening; extension spring: initial tension + rate x stretch. J. E. Shigley and "
    "C. R. Mischke, Mechanical Engineering Design, McGraw-Hill, chapter on mechanical springs (from memory)"
)
WORK = (
    "virtual work: each torque counts at the driver times the turn of its member for each of the driver. R. L. Norton, "
    "Design of Machinery, McGraw-Hill, dynamic force analysis, virtual work (from memory)"
)
EULER = (
    "Euler's long column, both ends pinned, pi^2 E I / L^2 with I = pi d^4 / 64. Shigley and Mischke, long columns "
    "with central loading (from memory)"
)


def spring_torque(work: Working, run: Motion, name: str, senses: Mapping[str, float], symbol: str) -> None:
    """Closing torque of one spring about its own member at the one position of a motion."""
    spring = run.rig.spring[name]
    member = springs.member_of(spring)
    torque = own_unit(work.units, "torque")
    block = run.rig.slides(member)
    way = "" if senses[member] > 0.0 else "-"
    if spring.on is not None:
        work.say(f'Torsion spring "{name}" on "{member}":')
        work.given("t", float(run.member_turn[member][0]), "angle", f'turn of "{member}" from drawn')
        work.given("T0", spring.preload, "torque", "preload")
        work.given("c", spring.rate, "torsion_rate", "rate")
        work.step("x", f"{way}t", "deg", "opened from drawn")
        work.step(symbol, "max(T0 + c × x, 0)", torque, "closing torque")
        return
    arm = split_pin(spring.pulls or "")[1]
    work.say(f'Extension spring "{name}" from "{spring.pulls}":')
    frame = pin_at(work, run, member, arm, "p")
    for i, axis in enumerate("xyz"):
        work.given(f"h{axis}", (spring.anchor or (0.0, 0.0, 0.0))[i], "length", f"{axis} of its anchor")
    pulled(work, frame, "p", "h", "l", "M")
    work.given("l0", spring.free_length or 0.0, "length", "free length")
    work.step("x", "l - l0", work.length, "stretch")
    torque = own_unit(work.units, "force") if block else torque
    if work.known["x"] < 0.0:
        work.say("It is slack: it pulls nothing.")
        work.step(symbol, "0", torque)
        return
    work.given("F0", spring.initial_tension, "force", "initial tension")
    work.given("c", spring.rate, "spring_rate", "rate")
    work.step("F", "F0 + c × x", own_unit(work.units, "force"), "pull")
    work.step(
        symbol, f"F × {'(-M)' if senses[member] > 0.0 else 'M'}", torque, f"closing {'force' if block else 'torque'}"
    )


def at_driver(work: Working, run: Motion, kept: Iterable[str], senses: Mapping[str, float], *, friction: bool) -> None:
    """Springs G and friction H about the driver, by virtual work, at the one position of a motion."""
    rig, torque = run.rig, own_unit(work.units, "force" if run.rig.slides(run.rig.driver) else "torque")
    names = [name for name in rig.spring if name in set(kept)]
    rubbing = [name for name, member in rig.members.items() if member.friction_torque] if friction else []
    on = {name: springs.member_of(rig.spring[name]) for name in names}
    numbers = {name: i for i, name in enumerate(rig.members, 1)}
    for member in rig.members:
        if member in on.values() or member in rubbing:
            parts.speed(work, run, member, f"V{numbers[member]}")
    terms = []
    for i, name in enumerate(names, 1):
        work.head(f'Spring "{name}":')
        spring_torque(work, run, name, senses, f"S{i}")
        sign = "" if senses[on[name]] * float(run.train.opens) > 0.0 else "-"
        speed = f"({sign}V{numbers[on[name]]})" if sign else f"V{numbers[on[name]]}"
        terms.append(f"S{i} × {_per(rig, on[name], speed)}")
    work.head(f'Together, at "{rig.driver}":')
    work.step("G", " + ".join(terms) or "0", torque, "the springs close with")
    if friction:
        for name in rubbing:
            work.given(f"f{numbers[name]}", *_friction(rig, name), f'friction of "{name}"')
        sum_up = " + ".join(f"f{numbers[name]} × {_per(rig, name, f'abs(V{numbers[name]})')}" for name in rubbing)
        work.step("H", sum_up or "0", torque, "friction")


def _per(rig: Linkage, member: str, speed: str, driver: str = "") -> str:
    """A member's speed in a sum of virtual work: degrees are turned into radians where only one of two slides."""
    slides, driven = rig.slides(member), rig.slides(driver or rig.driver)
    if slides == driven:
        return speed
    return f"{speed} × {'180 / pi' if slides else 'pi / 180'}"


def _friction(rig: Linkage, member: str) -> tuple[float, Kind]:
    """Friction of a member [N.mm], of a block that slides [N], and its kind."""
    if member in rig.slide:
        return rig.slide[member].friction, "force"
    return rig.turning[member].friction_torque, "torque"


def at_shaft(work: Working, run: Motion, shaft: str) -> None:
    """From springs G and friction H at the driver to what closes a shaft."""
    label = f"V{list(run.rig.members).index(shaft) + 1}"
    if label not in work.known:
        parts.speed(work, run, shaft, label)
    sign = "" if run.plate_speed[shaft][0] * float(run.speed[shaft][0]) * float(run.train.opens) > 0.0 else "-"
    work.head(f'At shaft "{shaft}":')
    per = parts.told(work, run.rig, run.rig.driver)[1]
    each = "degree" if per == "deg" else per
    unit = "" if per == "deg" else f"deg/{per}"
    work.step("g", f"{sign}{label}", unit, f"it opens by so much for each {each} of the driver's opening")
    whole = "G / g - H / abs(g)" if per == "deg" else "(G / g - H / abs(g)) × 180 / pi"
    work.step("n", whole, own_unit(work.units, "torque"), "closes it, friction taken off")


def return_force(work: Working, answer: Answer, check: Check) -> None:
    """The least closing torque at any shaft."""
    assert answer.forces is not None
    run = answer.run
    known = {name: at for name, at in answer.forces.least_shaft.items() if math.isfinite(at.value)}
    if not known:
        work.say("No shaft moves with the driver: there is no torque to tell.")
        return
    name = min(known, key=lambda n: known[n].value)
    at = run.at(known[name].turn)
    place(work, at, f'the least torque of shaft "{name}"')
    at_driver(work, at, run.rig.spring, springs.opening_senses(run.train), friction=True)
    at_shaft(work, at, name)


def return_ratio(work: Working, answer: Answer, check: Check) -> None:
    """Springs over friction, at the least."""
    assert answer.forces is not None
    least = answer.forces.least_ratio
    assert least is not None
    at = answer.run.at(least.turn)
    place(work, at, "the least ratio")
    at_driver(work, at, answer.run.rig.spring, springs.opening_senses(answer.run.train), friction=True)
    work.step("n", "G / H", "", "springs over friction")


def pedal_effort(work: Working, answer: Answer, check: Check) -> None:
    """What the foot pushes, at the most."""
    assert answer.forces is not None
    most, run = answer.forces.most_pedal, answer.run
    assert most is not None
    at, foot = run.at(most.turn), run.pedal_line
    place(work, at, "the most effort")
    at_driver(work, at, run.rig.spring, springs.opening_senses(run.train), friction=True)
    force = own_unit(work.units, "force")
    if isinstance(foot, DriverPedal):
        work.given("P", float(foot.radius), "length", "radius of the pad")
        work.step("n", "(G + H) / P", force, "at the pad, square to its arm")
        return
    assert run.rig.cable is not None
    assert foot is not None
    work.head("Cable and pedal:")
    cable_arm(work, at)
    work.step("C", "(G + H) / abs(M)", force, "tension of the inner cable")
    work.given("w", run.rig.cable.efficiency, "number", "what the casing lets through", unit="")
    if isinstance(foot, CrankPedal):
        crank_at(work, at, foot)
        work.given("P", float(foot.radius), "length", "radius of the pad")
        work.step("i", "P / M", "", "ratio of the pedal there")
    else:
        work.given("i", float(run.train.dims["pedal.ratio"]), "number", "pedal ratio", unit="")
    work.step("n", "C / (w × i)", force, "at the pad, square to its arm")


def place(work: Working, at: Motion, what: str) -> None:
    """Say where on the travel a working stands."""
    work.say(
        f"At {parts.driven_to(at, float(at.turn[0]))} ({100.0 * float(at.fraction[0]):.1f} % of the travel), "
        f"where {what} was found. Turns of the members there are worked as for mismatch_at_idle."
    )


def link_buckling(work: Working, answer: Answer, check: Check) -> None:
    """Euler's load of the link that is pushed hardest, over its push."""
    assert answer.forces is not None
    run = answer.run
    safe = {name: link.buckling for name, link in answer.forces.links.items() if link.buckling is not None}
    name = min(safe, key=lambda n: safe[n])
    fine = springs.throughout(run)
    torque = springs.spring_torque(fine)
    ways = {way: -springs.loads(fine, torque, opening=way).link[name] for way in (True, False)}
    opening = bool(np.nanmax(ways[True]) >= np.nanmax(ways[False]))
    at = fine.at(float(fine.turn[int(np.nanargmax(ways[opening]))]))
    place(work, at, f'the most push in link "{name}"')
    joint = next(j for j in run.train.joints if j.step.by.name == name)
    _beyond(work, at, joint, opening=opening)
    parts.ratio(work, at, joint)
    work.head("Push and buckling:")
    force = own_unit(work.units, "force")
    work.step("B", "Q / m2", force, "push in the link")
    given = run.rig.link[name].diameter
    assert given is not None
    stress = own_scale(work.units, "force") / own_scale(work.units, "length") ** 2
    work.given("E", STEEL / stress, "number", "elastic modulus of steel, assumed", unit=f"{force}/{work.length}^2")
    work.given("d", given, "length", "diameter of the link")
    work.step("K", "pi^3 × E × d^4 / (64 × L^2)", force, "buckles at")
    work.step("n", "K / B", "", "times the push")


def _beyond(work: Working, at: Motion, joint: Joint, *, opening: bool) -> None:
    """Torque Q, ccw, of a link's driven member and all beyond it: springs, and friction against the movement."""
    rig, senses = at.rig, springs.opening_senses(at.train)
    driven = joint.step.driven
    torque = own_unit(work.units, "force" if rig.slides(driven) else "torque")
    way = float(at.train.opens) * (1.0 if opening else -1.0)
    terms = []
    numbers = {name: i for i, name in enumerate(rig.members, 1)}
    for member in beyond(rig, joint.step.driven):
        path = at.train.path_to(member)[len(at.train.path_to(joint.step.driven)) :]
        label = f"V{numbers[member]}"
        names = [f"v{i + 1}" for i in range(len(path))]
        for name, step in zip(names, path, strict=True):
            parts.ratio(work, at, step, name)
        work.head(f'Torque about "{member}", ccw:')
        work.step(label, " × ".join(names) or "1", "", f'its turn for each degree of "{joint.step.driven}"')
        for i, name in enumerate(rig.spring, 1):
            if springs.member_of(rig.spring[name]) == member:
                spring_torque(work, at, name, senses, f"S{i}")
                terms.append(f"({'-' if senses[member] > 0.0 else ''}S{i}) × {_per(rig, member, label, driven)}")
        rubs = rig.members[member].friction_torque
        if rubs:
            against = -math.copysign(1.0, way * float(at.speed[member][0]))
            work.given(f"f{numbers[member]}", *_friction(rig, member), f'friction of "{member}", against its movement')
            terms.append(f"({'-' if against < 0.0 else ''}f{numbers[member]}) × {_per(rig, member, label, driven)}")
    work.step("Q", " + ".join(terms) or "0", torque, f'all that turns "{joint.step.driven}", ccw')


def spring_over_centre(work: Working, answer: Answer, check: Check) -> None:
    """The spring whose line comes nearest to its pivot."""
    run = answer.run
    fine = springs.throughout(run)
    block = check.unit == "deg"  # of a block that slides the angle to its guide's cross line is told
    arms = {
        n: springs.least(fine, a.arm)
        for n, a in springs.actions(fine).items()
        if a.arm is not None and run.rig.slides(a.member) == block
    }
    name = min(arms, key=lambda n: arms[n].value)
    at = run.at(arms[name].turn)
    place(work, at, f'the least moment arm of spring "{name}"')
    spring = run.rig.spring[name]
    member, arm = split_pin(spring.pulls or "")
    frame = pin_at(work, at, member, arm, "p")
    for i, axis in enumerate("xyz"):
        work.given(f"h{axis}", (spring.anchor or (0.0, 0.0, 0.0))[i], "length", f"{axis} of its anchor")
    pulled(work, frame, "p", "h", "l", "M")
    sense = springs.opening_senses(run.train)[member]
    if block:
        work.step("n", f"asin({'-M' if sense > 0.0 else 'M'})", "deg", f'closes "{member}" where above 0')
        return
    work.step("n", "-M" if sense > 0.0 else "M", work.length, f'closes "{member}" where above 0')


def spring_slack(work: Working, answer: Answer, check: Check) -> None:
    """Every spring where it carries least."""
    run = answer.run
    fine = springs.throughout(run)
    senses = springs.opening_senses(run.train)
    for i, (name, action) in enumerate(springs.actions(fine).items(), 1):
        carried = action.wound if action.wound is not None else action.stretch
        assert carried is not None
        at = run.at(springs.least(fine, carried).turn)
        work.head(f'Spring "{name}" at {parts.driven_to(at, float(at.turn[0]))}, where it carries least:')
        spring_torque(work, at, name, senses, f"S{i}")
    work.say("Slack is a torsion spring without torque, or an extension spring whose pull is nothing.")


def spring_fall(work: Working, answer: Answer, check: Check) -> None:
    """The largest fall of a spring's torque over the travel."""
    run = answer.run
    fine = springs.throughout(run)
    found = {name: _fall(action) for name, action in springs.actions(fine).items()}
    name = max(found, key=lambda n: found[n][0])
    _, before, after = found[name]
    senses = springs.opening_senses(run.train)
    for symbol, index in (("A", before), ("B", after)):
        at = run.at(float(fine.turn[index]))
        work.head(f"At {parts.driven_to(at, float(at.turn[0]))}:")
        spring_torque(work, at, name, senses, symbol)
    work.head("Fall from the first to the second:")
    work.step("n", "100 × (1 - B / A)" if work.known["A"] > springs.NOTHING else "0", "%")


def _fall(action: SpringAction) -> tuple[float, int, int]:
    """Largest fall of a spring's closing torque [share], from which position to which."""
    highest = np.maximum.accumulate(action.closing)
    sound = highest > springs.NOTHING
    fall = np.where(sound, 1.0 - action.closing / np.where(sound, highest, 1.0), 0.0)
    after = int(np.argmax(fall))
    return float(fall[after]), int(np.argmax(action.closing[: after + 1])), after
