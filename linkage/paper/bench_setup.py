"""Setting up: stop screws, springs, and the card of what to do in which order, with the numbers in it."""

from __future__ import annotations

import math

import numpy as np

from linkage import turns
from linkage.answers import Answer, joints, springs
from linkage.answers.pedal import STOP_LEAD
from linkage.answers.stops import End
from linkage.closure import SLIDING
from linkage.motion import Motion
from linkage.motion.assembly import Joint
from linkage.paper.lines import SIGN, fixed
from linkage.paper.sheet import NO_SOURCE, Block, Figures, Steps, Words, table
from linkage.parts import Shaft, Stop
from linkage.quantities import own_scale, own_unit

#: how much cable is kept in hand when the pedal meets its stop [mm]; common practice, no source
IN_HAND = (0.5, 1.0)


def stop_screws(answer: Answer, told: Figures) -> list[Block]:
    """Every stop: where it holds, and its screw from idle in a straight line."""
    run, u = answer.run, told.units
    idle = run.at(run.ends[0])
    rows = []
    for side, end in (("closing", answer.stops.closing), ("opening", answer.stops.opening)):
        for stop in run.travel.stops:
            if stop.limits != side:
                continue
            turn = float(np.degrees(stop.turn)) - float(idle.member_turn[stop.member][0])
            part = run.rig.members[stop.member]
            slides = run.rig.slides(stop.member)
            shown = told.with_unit(turn) if slides else fixed(turn)
            angle = ""
            if isinstance(part, Shaft):
                sense = 1.0 if part.opens == "ccw" else -1.0
                angle = fixed(part.plate_angle.idle + sense * math.degrees(float(stop.turn)))
            rows.append([stop.name, side, stop.member, shown, angle, *_screw(run, end, stop.name, turn, told)])
    heading = (
        *("stop", "limits", "on", "from idle [deg]", "plate angle [deg]", "left [deg]", f"screw at [{u}]"),
        *(f"chord [{u}]", "a turn [deg]", "turns left"),
    )
    found: list[Block] = [table(heading, rows, "<<<>>>>>>>")]
    if any(stop.screw for stop in run.rig.stop.values()):
        says = (
            "Chord: straight line that the stop's face travels from idle to its screw, at the screw's radius. "
            "Turns left: of the screw, when the stop that holds is met."
        )
        found.append(Words(says))
    return found


def _screw(run: Motion, end: End, name: str, turn: float, told: Figures) -> list[str]:
    slides = run.rig.slides(turns.member_of_stop(run.rig, name))
    gap_left = end.gaps.get(name)
    left = "holds" if end.holds == name else told.with_unit(gap_left) if slides else fixed(gap_left)
    given: Stop | None = run.rig.stop.get(name)
    if given is None or given.screw is None:
        return [left, "", "", "", ""]
    screw = given.screw
    chord = 2.0 * screw.radius * math.sin(math.radians(0.5 * abs(turn)))
    per_turn = math.degrees(screw.pitch / screw.radius)
    gap = end.screws.get(name)
    if slides:  # its screw stands in the way of the block
        return [left, "", told.bare(abs(turn)), "", "" if gap is None else fixed(gap.turns)]
    return [
        left,
        told.bare(screw.radius),
        told.bare(chord),
        fixed(per_turn),
        "" if gap is None else fixed(gap.turns),
    ]


def spring_list(answer: Answer, told: Figures) -> list[Block]:
    """Every spring at idle and wide open."""
    run, units = answer.run, told.units
    if not run.rig.spring:
        return []
    ends = springs.actions(run.at(run.ends))
    torque, force = own_scale(units, "torque"), own_scale(units, "force")
    winding, pulling = [], []
    for name, spring in run.rig.spring.items():
        action = ends[name]
        closing = [fixed(float(v) / torque, _fine(units)) for v in action.closing]
        if run.rig.slides(action.member):  # along its guide
            along = [float(v) / (SLIDING * force) for v in action.closing]
            closing = [f"{fixed(v, 1 if units == 'mm' else 2)} {own_unit(units, 'force')}" for v in along]
        if spring.on is not None:
            rate = spring.rate / own_scale(units, "torsion_rate")
            wound = "" if spring.rate == 0.0 else fixed(spring.preload / spring.rate, 0)
            winding.append([name, spring.on, *closing, fixed(rate, 3 if units == "in" else 2), wound])
            continue
        assert action.pull is not None
        assert action.stretch is not None
        free = spring.free_length or 0.0
        lengths = [told.cell(free + float(s)) for s in action.stretch]
        pulls = [fixed(float(v) / force, 1 if units == "mm" else 2) for v in action.pull]
        rate = spring.rate / own_scale(units, "spring_rate")
        first = fixed(spring.initial_tension / force, 1 if units == "mm" else 2)
        pulling.append([name, spring.pulls or "", told.cell(free), fixed(rate), first, *lengths, *pulls, *closing])
    t, f, u = own_unit(units, "torque"), own_unit(units, "force"), own_unit(units, "length")
    found: list[Block] = []
    if winding:
        torsion = ("torsion spring", "on", f"idle [{t}]", f"wide open [{t}]", f"rate [{t}/deg]", "wound up [deg]")
        found.append(table(torsion, winding, "<<>>>>"))
    if pulling:
        heading = (
            *("spring", "hooks on", f"free [{u}]", f"rate [{f}/{u}]", f"first pull [{f}]", f"idle [{u}]"),
            *(f"open [{u}]", f"idle [{f}]", f"open [{f}]", f"closes [{t}]", f"open [{t}]"),
        )
        found.append(table(heading, pulling, "<<>>>>>>>>>"))
    return found


def _fine(units: str) -> int:
    return 0 if units == "mm" else 2


def card(answer: Answer, told: Figures) -> list[Block]:
    """The order of setting up: idle stops, links, wide-open stop, pedal stop, cable, closing."""
    steps = [
        "Engine off. Take the cable and every link off; leave the springs on.",
        *_idle(answer, told),
        *_links(answer, told),
        *_wide_open(answer, told),
        *_pedal(answer, told),
        *_last(answer, told),
    ]
    return [Steps(tuple(steps))]


def _idle(answer: Answer, told: Figures) -> list[str]:
    run = answer.run
    found = []
    for name, shaft in run.rig.shaft.items():
        angle = shaft.plate_angle
        says = (
            f"Idle stop of {name}: plate at {fixed(angle.idle)} degrees from square to the bore, "
            f"{fixed(angle.idle - angle.shut)} open from shut"
        )
        if shaft.bore is not None and angle.idle > angle.shut:
            gap = 0.5 * shaft.bore * (1.0 - math.cos(math.radians(angle.idle)) / math.cos(math.radians(angle.shut)))
            says += f"; {told.bare(gap)} {told.units} between its edge and the bore"
        own = [
            stop
            for stop in run.rig.stop.values()
            if stop.on == name and stop.limits == "closing" and stop.screw is not None
        ]
        for stop in own:
            assert stop.screw is not None
            at = angle.idle if stop.plate_angle is None else stop.plate_angle
            turned = math.radians(at - angle.shut) * stop.screw.radius / stop.screw.pitch
            says += f"; {fixed(turned)} turns of {stop.name} from where it just touches, plate shut"
        found.append(says + ".")
    return found


def _links(answer: Answer, told: Figures) -> list[str]:
    run = answer.run
    lengths, fitted = joints.lengths(run), {j.step.by.name: j.fitted for j in run.train.joints}
    found = []
    for joint in run.train.joints:
        name = joint.step.by.name
        if joint.slack and name not in lengths:
            gap = run.rig.coupling[name].gap or 0.0
            found.append(
                f'Tang {name}: with "{joint.step.driving}" and "{joint.step.driven}" both at idle set {fixed(gap)} '
                f'degrees of "{joint.step.driven}" between dog and tang. Turn "{joint.step.driving}" open: the tang '
                f"must move with it from there on, and must not draw the plate shut."
            )
            continue
        if name not in lengths:
            found.append(
                f'Coupling {name}: join "{joint.step.driving}" and "{joint.step.driven}" with both at idle; offset '
                f"{fixed(run.rig.coupling[name].offset)} degrees."
            )
            continue
        says = f"Link {name}: {told.with_unit(lengths[name])} between centres"
        if fitted[name]:
            says += "; both levers at idle, it just slips on and moves neither; then its lock nuts"
        else:
            says += " as given in the design; fit it without forcing either lever"
        if joint.slack:
            until = turns.text(run.rig, joint.step.driving, _until(run, joint))
            says += (
                f'; its pin then stands at the end of the slot that closes. "{joint.step.driven}" must stay at idle '
                f'until "{joint.step.driving}" has moved {until} from idle, and shut by its own spring with the pin '
                f"clear in the slot"
            )
        found.append(says + ".")
    return found


def _until(run: Motion, joint: Joint) -> float:
    """Turn [deg] of a slack joint's driving member from the closing stop to the pick-up."""
    driving = joint.step.driving
    return abs(math.degrees(float(joint.pick_up)) - float(run.at(run.ends[0]).member_turn[driving][0]))


def _wide_open(answer: Answer, told: Figures) -> list[str]:
    run, end = answer.run, answer.stops.opening
    at = run.at(run.ends[1])
    plates = ", ".join(f"{name} {fixed(float(angle[0]))}" for name, angle in at.plate_angle.items())
    if end.holds is None:
        return ["Wide open: no stop ends the opening. Fit one before anything else: the linkage can lock there."]
    turned, slides = abs(run.ends[1] - run.ends[0]), run.rig.slides(run.rig.driver)
    far = f"{told.with_unit(turned)} of travel" if slides else f"{fixed(turned)} degrees"
    says = f'Wide open: stop "{end.holds}" holds, {far} of "{run.rig.driver}" from idle'
    screw = run.rig.stop[end.holds].screw if end.holds in run.rig.stop else None
    if screw is not None:
        member = run.rig.stop[end.holds].on
        moved = abs(float(at.member_turn[member][0] - run.at(run.ends[0]).member_turn[member][0]))
        chord = 2.0 * screw.radius * math.sin(math.radians(0.5 * moved))
        chord = moved if run.rig.slides(member) else chord
        says += f" ({told.bare(chord)} {told.units} straight across at its screw)"
    return [f"{says}. Plates then at {plates} degrees: look down every bore."]


def _pedal(answer: Answer, told: Figures) -> list[str]:
    run, report = answer.run, answer.cable
    cable, slack = run.rig.cable, run.at(run.ends[0]).pedal
    if cable is None or report is None:
        return _driving_pedal(answer, told)
    if not report.opens:
        return ["Do not connect the cable: as designed its pull shuts the throttles."]
    low, high = (told.bare(v, 1 if told.units == "mm" else 2) for v in IN_HAND)
    found_pad = answer.pedal if answer.pedal is not None and answer.pedal.opens else None
    pad = "" if found_pad is None else f", {told.with_unit(found_pad.needed)} of pad travel from rest"
    if found_pad is not None and found_pad.to_stop is not None:
        pad += f" (as designed its stop is at {told.with_unit(found_pad.to_stop)})"
    found = [
        f"Pedal stop: it takes the foot, never the throttle shafts. Wide open takes {told.with_unit(report.needed)} of "
        f"cable{pad}; the pedal meets its stop there or {low} to {high} {told.units} of cable sooner ({NO_SOURCE})."
    ]
    play = f"Cable: connect it, {told.with_unit(cable.free_play)} of free play at idle"
    if slack is not None:
        play += f" ({told.with_unit(float(slack[0]))} at the pad)"
    found.append(play + "; no stop comes off its screw when the casing is moved by hand.")
    return found


def _driving_pedal(answer: Answer, told: Figures) -> list[str]:
    """The stop of a pedal that is the driver of the train."""
    pedal = answer.pedal
    if pedal is None:
        return []
    stop = "" if pedal.to_stop is None else f"; as designed its stop is at {told.with_unit(pedal.to_stop)}"
    return [
        f"Pedal stop: it takes the foot, never the throttle shafts. Wide open takes {told.with_unit(pedal.needed)} of "
        f"pad travel; the pedal meets its stop there, or with up to {STOP_LEAD:g} degree of plate left "
        f"({NO_SOURCE}){stop}."
    ]


def _last(answer: Answer, told: Figures) -> list[str]:
    found = []
    if answer.faults is not None:
        found.append(
            "Closing, engine off: open fully and let go, each spring alone in turn, then each spring and each link "
            "away in turn (the next table). Every shaft comes back to its stop by itself."
        )
    else:
        found.append("Closing, engine off: no spring is in the design, so nothing is foretold; prove it all the same.")
    if answer.heat is not None and answer.heat.set_cold:
        told_cold = [
            f"{name} {told.bare(abs(by))} {told.units} {'longer' if by > 0.0 else 'shorter'}"
            for name, by in answer.heat.set_cold.items()
            if abs(by) >= 0.005
        ]
        if told_cold:
            found.append(f"For hot running set cold, from the lengths above: link {', link '.join(told_cold)}.")
    found.append("Lock every nut, pin every lever, mark with paint. Warm up fully and check the idle again.")
    return found


def closing(answer: Answer, told: Figures) -> list[Block]:
    """What to expect when springs and links are taken off: each spring alone, then each part away."""
    report, units = answer.faults, told.units
    if report is None:
        return []
    scale, unit = own_scale(units, "torque"), own_unit(units, "torque")
    shafts = list(answer.run.rig.shaft)
    rows = []
    for name in answer.run.rig.spring:
        says = "closes every shaft" if name in report.alone else "does not close every shaft by itself"
        rows.append([SIGN["pass" if name in report.alone else "caution"], f"spring {name} alone", says, "", ""])
    found: list[Block] = [table(("", "only this", "expected", "found", ""), rows, "<<<<<")]
    cases = []
    for case in report.cases:
        if case.lost in ("nothing", "cable"):
            continue
        cells = [
            f"{fixed(case.shafts[s].least_torque / scale, _fine(units))}" if case.shafts[s].closes else "STAYS OPEN"
            for s in shafts
        ]
        cases.append([SIGN[case.verdict], case.lost.replace(".", " "), *cells])
    if cases:
        found.append(table(("", "away", *(f"{s} [{unit}]" for s in shafts)), cases, "<<" + ">" * len(shafts)))
    found.append(
        Words(
            "Least closing torque left at each shaft, friction taken off, over its own travel. A torsion spring is let "
            "down where it cannot be unhooked."
        )
    )
    return found
