"""The workings of staging: where slack is taken up, and what comes in there."""

from __future__ import annotations

import math

from linkage import closure
from linkage.answers import Answer, Check
from linkage.answers.mismatch import spread
from linkage.answers.staging import PickUp
from linkage.paper.arithmetic import Working
from linkage.quantities import Kind, own_scale, own_unit

TAKEN_UP = "the slot's end meets its pin, or the dog its tang, where the slack is used up"
GAIN = (
    "velocity ratio of two arms and their link: R. L. Norton, Design of Machinery, velocity of a four-bar (from memory)"
)


#: checks whose torques pass, or do not, through slack
BY_SIDES = frozenset(
    {
        *("return_force", "return_ratio", "pedal_effort", "closing_sources"),
        *("spring_lost", "link_parted", "coupling_parted", "link_buckling"),
    }
)


def by_sides(work: Working, answer: Answer, check: Check) -> None:
    """A figure of forces in a staged linkage: what is counted, and what the program found."""
    work.say(
        "Slack parts the linkage in sides, each worked about the member through which it is driven: springs less "
        "friction, and what comes back through a slot or tang that is taken up, never less than nothing. What a slot "
        "or tang drives is closed by springs of its own side; where those fail, the other end of a slot pushes it shut."
    )
    work.say("The sides are not worked out here step by step; the program found:")
    if check.value is None:
        return
    kind: Kind = {"N·mm": "torque", "N": "force"}.get(check.unit, "number")  # type: ignore[assignment]
    unit = check.unit if kind == "number" else None
    work.given("m", check.value, kind, check.where or "over the travel", unit=unit)
    work.step("n", "m", check.unit if kind == "number" else own_unit(work.units, kind))


def _which(answer: Answer, check: Check) -> PickUp | None:
    assert answer.staging is not None
    named = check.where.replace(" ", ".", 1)
    return next(
        (at for at in answer.staging.pick_ups if at.name == named or f'shaft "{at.shaft}"' == check.where), None
    )


def pick_up(work: Working, answer: Answer, check: Check) -> None:
    """The slack used up at the turn found, and the share of the travel there."""
    run, at = answer.run, _which(answer, check)
    assert at is not None
    joint = next(j for j in run.train.joints if j.slack and at.name.endswith(f".{j.step.by.name}"))
    if not at.taken_up:
        work.say("Nowhere in the travel is the slack used up.")
        return
    here = run.at([run.ends[0], at.turn, run.ends[1]])
    driving, driven = joint.step.driving, joint.step.driven
    if joint.forward is None:
        work.given("t", float(here.member_turn[driving][1]), "angle", f'turn of "{driving}" there')
        work.given("i", abs(float(joint.ratio)), "number", "ratio of the coupling", unit="")
        work.given("o", abs(float(run.rig.coupling[joint.step.by.name].gap or 0.0)), "angle", "gap of the tang")
        work.step(
            "s", "abs(t) × i - o", "degrees", f'what is left to "{driven}", which rests: nothing, but for its offset'
        )
    else:
        assert joint.driving is not None
        assert joint.driven is not None
        ends = [
            [float(v[1]) if hasattr(v, "__len__") else float(v) for v in closure.pin(frame, *here.pose[member])]
            for frame, member in ((joint.driving, driving), (joint.driven, driven))
        ]
        for name, place, member in (("p", ends[0], driving), ("q", ends[1], driven)):
            for axis, value in zip("xyz", place, strict=True):
                work.given(f"{name}{axis}", value, "length", f'pin on "{member}", {axis}')
        work.step("d", "sqrt((px - qx)^2 + (py - qy)^2 + (pz - qz)^2)", work.length, "from pin to pin")
        work.given("L", float(joint.length), "length", "of the link as made, to the end of the slot that closes")
        work.given("S", abs(float(joint.slot)), "length", "of the slot")
        work.step("u", "abs(d - L)", work.length, "what is used of it: all")
    if run.by_cable and here.cable is not None:
        work.given("c", float(here.cable[1]), "length", "cable travel there")
        work.given("C", float(here.cable[2]), "length", "cable travel to the opening stop")
    else:
        work.given("c", at.turn - run.ends[0], "angle", "driver turn there")
        work.given("C", run.ends[1] - run.ends[0], "angle", "driver turn to the opening stop")
    work.step("n", "100 × c / C", "%", "of the travel")


def gain(work: Working, answer: Answer, check: Check) -> None:
    """The gain of the staged shaft just past its pick-up, over the first-named shaft's."""
    at = next(p for p in answer.staging.pick_ups if f'shaft "{p.shaft}"' == check.where)  # type: ignore[union-attr]
    unit = f"degrees/{own_unit(work.units, 'length')}" if answer.run.by_cable else "degrees/degree"
    per = own_scale(work.units, "length") if answer.run.by_cable else 1.0
    work.given("a", at.gain * per, "number", f'gain of "{at.shaft}" just past the pick-up', unit=unit)
    work.given("b", at.first_gain * per, "number", f'gain of "{next(iter(answer.run.rig.shaft))}" there', unit=unit)
    work.step("n", "a / b", "", "times as fast")


def together(work: Working, answer: Answer, check: Check) -> None:
    """The largest difference of the plates of a staged stage."""
    assert answer.staging is not None
    stage = next(
        s
        for s in answer.staging.stages
        for at in (s.mismatch, s.at_wide_open)
        if s.slack and at is not None and at.value == check.value
    )
    found = next(at for at in (stage.mismatch, stage.at_wide_open) if at is not None and at.value == check.value)
    at = answer.run.at(found.turn)
    angles = {name: float(at.plate_angle[name][0]) for name in stage.shafts}
    high, low = max(angles, key=lambda n: angles[n]), min(angles, key=lambda n: angles[n])
    work.given("a", angles[high], "angle", f'plate of "{high}"')
    work.given("b", angles[low], "angle", f'plate of "{low}"')
    work.step("n", "a - b", "degrees", "apart")
    assert math.isclose(float(spread(at, stage.shafts)[0]), angles[high] - angles[low], abs_tol=1e-12)


def closing(work: Working, answer: Answer, check: Check) -> None:
    """What springs of its own side leave against the friction, or how far it flutters."""
    at = _which(answer, check)
    assert at is not None
    if check.verdict == "pass":
        work.say("Only springs beyond the slot or the tang are counted, less the friction there, at their least.")
        work.given("m", at.torque, "torque", "that is left")
    else:
        work.say("The driver held, the shaft is free to the other end of its slot, or to its wide-open stop.")
        work.given("m", at.flutter.value, "angle", "at the most")
    work.step("n", "m", own_unit(work.units, "torque") if check.verdict == "pass" else "degrees")
