"""Sections of the report on the pedal and the followers: lines of plain text, none where there is nothing to say."""

from __future__ import annotations

from linkage.answers import Answer
from linkage.answers.checks import percent
from linkage.paper.lines import aligned, bar, fixed, length, sentence
from linkage.quantities import own_scale

_FIRST = {"stop": "its own stop", "throttles": "the throttles' wide-open stop", "floor": "the floor"}


def pedal_section(answer: Answer) -> list[str]:
    """Pad travel, the pedal's ratio on its way down, what takes the foot, and what the foot feels open when."""
    found, units = answer.pedal, answer.run.rig.units
    if found is None:
        return []
    if not found.pulls:
        return sentence("the foot pays the cable out instead of pulling it: see the checks.")
    says = f"the pad travels {length(found.needed, units)} {units} from rest to wide open"
    if found.dead_centre:
        says = "the pad never takes the throttles to wide open: cable and arm come in line at the pedal"
    if found.turn is not None and not found.dead_centre:
        says += f", {fixed(found.turn)} degrees of the pedal's turn"
    for where, at in (("to the pedal stop", found.to_stop), ("to the floor", found.room)):
        if at is not None:
            says += f"; {length(at, units)} {where}"
    lines = sentence(says + ".")
    if not found.dead_centre:
        lines += sentence(f"what takes the foot: {_FIRST[found.first]}.")
    size = own_scale(units, "length")
    low, middle, high = (fixed(gain * size, 2 if size == 1.0 else 1) for gain in found.gain)
    says = (
        f'shaft "{found.shaft}" opens {low} degrees per {units} of pad at idle, {middle} half-way down and {high} at '
        "wide open"
    )
    if found.progression is not None:
        slow = "slowly first" if found.progression > 1.02 else "fast first" if found.progression < 0.98 else "evenly"
        says += f"; the last is {fixed(found.progression)} times the first: the foot feels it open {slow}"
    if found.ratio is not None and found.sort != "ratio":
        low, middle, high = (fixed(rate) for rate in found.ratio)
        lines += sentence(f"pad travel for each of cable: {low} at idle, {middle} half-way down, {high} at wide open.")
    lines += sentence(says + ".")
    if found.least_angle is not None:
        least, where = fixed(found.least_angle.value, 1), percent(found.least_angle.fraction)
        lines += sentence(f"at the pedal the cable meets its arm at {least} degrees at the least ({where}).")
    if found.swing is not None:
        what = "off the casing's axis" if found.off_axis else "to either side of its mean direction"
        lines += sentence(f"there it swings {fixed(found.swing, 1)} degrees {what}.")
    if found.table and found.sort != "ratio":
        lines += ["", *_underfoot(answer)]
    return lines


def _underfoot(answer: Answer) -> list[str]:
    """The opening against the pad's travel, free play taken up."""
    assert answer.pedal is not None
    table = answer.pedal.table
    first, last = table[0].plate_angle, table[-1].plate_angle
    rows = [["pad", "plate opened", "", "plate angle [deg]"]]
    for row in table:
        share = (row.plate_angle - first) / (last - first) if last != first else 0.0
        opened = [bar(share, 24), f"{100.0 * share:.0f} %"]
        rows.append([f"{100.0 * row.fraction:.0f} %", *opened, fixed(row.plate_angle)])
    return aligned(rows, "><>>")


def followers_section(answer: Answer) -> list[str]:
    """Stroke and timing of every follower."""
    found, units = answer.followers, answer.run.rig.units
    if found is None:
        return []
    rows = [["follower", "of", "stroke", "", *(f"{100.0 * done:.0f} % done at" for done in (0.1, 0.5, 0.9)), ""]]
    for at in found.values():
        told = (fixed(at.stroke), "deg") if at.unit == "deg" else (length(at.stroke, units), units)
        places = [f"{fixed(100.0 * done.fraction, 1)} %" for done in at.done]
        back = "turns back at " + ", ".join(percent(share) for share in at.back) if at.back else ""
        rows.append([at.name, at.at, *told, *places, back])
    lines = aligned(rows, "<<><>>><")
    shaft = next(iter(answer.run.rig.shaft))
    for at in found.values():
        three = " and ".join(f"{fixed(100.0 * done.opening, 1)} %" for done in (at.done[0], at.done[-1]))
        says = f'"{at.name}" does a tenth and nine tenths of its stroke as shaft "{shaft}" has opened {three}'
        if at.path is not None:
            says += f"; its pin runs {length(at.path, units)} {units} along its way"
        lines += sentence(says + ".")
    return [*lines, *sentence("strokes are from idle, of a pin straight across; places are shares of the travel.")]
