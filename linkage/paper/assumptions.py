"""What a sheet takes for granted, and what was not calculated."""

from __future__ import annotations

from collections.abc import Iterator

from linkage.answers import Answer
from linkage.paper.lines import fixed
from linkage.paper.numerals import Numerals
from linkage.parts import Limits
from linkage.train import compared


def assumptions(answer: Answer, numerals: Numerals) -> tuple[str, ...]:
    """What the figures of an answer rest on, a sentence each; only of what was calculated.

    Lengths in the design's own unit [mm or in], angles in [deg].
    """
    return tuple(_drawing(answer, numerals)) + tuple(_road(answer, numerals))


def _drawing(answer: Answer, numerals: Numerals) -> Iterator[str]:
    rig = answer.run.rig
    yield (
        "Lengths are from pin centre to pin centre; plate angles are from the plane square to the bore; everything is "
        "drawn at idle."
    )
    yield (
        "The parts are taken as rigid"
        + (" but for the twist of the shafts" if answer.twist is not None else "")
        + (", the cable as straight from its casing to its pin" if rig.cable else "")
        + ". What was built has to be measured."
    )  # fmt: skip
    cable = rig.cable
    if cable is not None and cable.free_play and answer.cable is not None and answer.cable.opens:
        slack = f"The first {numerals.length_and_unit(cable.free_play)} of cable"
        pad = answer.run.at(answer.run.ends[0]).pedal
        if pad is not None:
            slack = f"The first {numerals.length_and_unit(float(pad[0]))} of the pedal"
        yield f"{slack} take up free play, before any plate moves."
    ours = rig.limits == Limits()
    yield (
        "What was asked: the limits "
        + ("are the usual ones of the trade (common practice), none being agreed otherwise." if ours
           else "of the design file, as agreed, and the usual ones of the trade (common practice) for the rest.")
    )  # fmt: skip
    if any(shaft.bore is not None for shaft in rig.shaft.values()):
        yield "The bores are drawn upright, and only as a sign."


def _road(answer: Answer, numerals: Numerals) -> Iterator[str]:
    rig = answer.run.rig
    if answer.forces is not None:
        rubbing = any(member.friction_torque for member in rig.members.values())
        friction = "friction as given, and the same all the way" if rubbing else "no friction, as none is given"
        casing = ""
        if rig.cable is not None:
            lost = rig.cable.efficiency < 1.0
            casing = f"; the casing passes on {100.0 * rig.cable.efficiency:g} % of the pull" if lost else (
                "; the casing's own friction is left out"
            )  # fmt: skip
        yield f"Forces are for slow movement, with {friction}{casing}."
    if answer.tolerance is not None and rig.tolerance is not None:
        given, units, trials = rig.tolerance, rig.units, answer.tolerance.as_built.trials
        yield (
            f"Tolerances, plus or minus: links {numerals.length(given.link_length)} {units}, arms "
            f"{numerals.length(given.arm_radius)} {units} and {numerals.angle(given.arm_angle)}, pivots "
            f"{numerals.length(given.pivot)} {units}; {trials.samples} linkages built by chance (seed {trials.seed})."
        )
    if answer.heat is not None and rig.heat is not None:
        yield f"Hot: the engine {rig.heat.rise:g} K warmer than when it was measured."
    if answer.clearance is not None:
        yield "Gaps are between the moving parts, as round bars; the engine itself is not in the drawing."
    if answer.air is not None and rig.air is not None:
        yield (
            f"Air at a pressure ratio of {fixed(rig.air.pressure_ratio)}: it compares the plates, and does not predict "
            "a meter."
        )


def not_calculated(answer: Answer) -> tuple[str, ...]:
    """One sentence on what was not calculated for want of data, or none."""
    rig = answer.run.rig
    missing = [
        words
        for words, found in (
            ("forces, and closing with a spring or a link lost", answer.forces),
            ("what tolerances do", answer.tolerance if len(compared(rig)) > 1 else answer),
            ("what heat does", answer.heat if len(compared(rig)) > 1 else answer),
            ("gaps between moving parts", answer.clearance),
            ("the play of the joints", answer.lost_motion),
            ("the air at idle", answer.air),
        )
        if found is None
    ]
    return (f"Not calculated, as the design does not give what it takes: {'; '.join(missing)}.",) if missing else ()
