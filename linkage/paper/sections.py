"""The figures of a report, a section each: lines of plain text, or none where there is nothing to say."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkage import turns
from linkage.answers import Answer, joints
from linkage.answers.airflow import open_area_fractions
from linkage.answers.checks import percent
from linkage.answers.extremes import Extreme
from linkage.answers.mismatch import REGION, spread
from linkage.answers.progression import TABLE
from linkage.answers.stops import End
from linkage.paper.lines import aligned, bar, fixed, length, sentence
from linkage.parts import Linkage
from linkage.quantities import own_scale
from linkage.train import compared

Floats = NDArray[np.float64]


def stops(answer: Answer) -> list[str]:
    """What holds each end, and what is left to every other stop."""
    run, units = answer.run, answer.run.rig.units
    first, last = run.ends
    says = f'"{run.rig.driver}" {_moves(run.rig, last - first)} from the closing to the opening stop'
    if answer.stops.opening.cable is not None and (answer.cable is None or answer.cable.opens):
        says += f", {length(abs(answer.stops.opening.cable), units)} {units} of cable"
    both = bool(run.rig.slide)  # their gaps are lengths, and say so
    rows = [["", "stop", "left" if both else "left [deg]", f"at its screw [{units}]", "screw turns"]]
    for side, end in (("closing", answer.stops.closing), ("opening", answer.stops.opening)):
        rows += _end(side, end, run.rig, units)
    if not any(end.screws for end in (answer.stops.closing, answer.stops.opening)):
        rows = [row[:3] for row in rows]
    return [*sentence(says + "."), "", *aligned(rows, "<<>>>"[: len(rows[0])])]


def _moves(rig: Linkage, turn: float) -> str:
    """What the driver does over the travel [deg], in words."""
    if rig.slides(rig.driver):
        way = "along its guide" if turn >= 0.0 else "against its guide's direction"
        return f"moves {length(abs(turn), rig.units)} {rig.units} {way}"
    return f"turns {fixed(abs(turn))} degrees {'ccw' if turn >= 0.0 else 'cw'}"


def gap_cell(rig: Linkage, stop: str, gap: float) -> str:
    """What a stop has left [deg, mm], with its unit where some members slide."""
    member = turns.member_of_stop(rig, stop)
    cell = length(gap, rig.units) if rig.slides(member) else fixed(gap)
    return f"{cell} {turns.unit_of(rig, member)}" if rig.slide else cell


def _end(side: str, end: End, rig: Linkage, units: str) -> list[list[str]]:
    rows = [[side, end.holds or "a dead point, no stop", "holds", "", ""]]
    for name, gap in sorted(end.gaps.items(), key=lambda item: item[1]):
        screw = end.screws.get(name)
        at_screw = ["", ""] if screw is None else [length(screw.distance, units), fixed(screw.turns)]
        rows.append(["", name, gap_cell(rig, name, gap), *at_screw])
    return rows


def travel(answer: Answer) -> list[str]:
    """Every shaft at the shares of the travel that the trade asks for."""
    run, units = answer.run, answer.run.rig.units
    at = run.at_fraction(TABLE)
    rows = [_row("travel [%]", 100.0 * np.asarray(TABLE), 0), _driver(run.rig, at.turn)]
    opens = answer.cable is None or answer.cable.opens  # a pull that shuts takes no cable on the way to open
    if at.cable is not None and opens:
        rows.append([f"cable [{units}]", *(length(float(v), units) for v in at.cable)])
    if at.pedal is not None and opens:
        rows.append([f"pedal pad [{units}]", *(length(float(v), units) for v in at.pedal)])
    rows += [_row(f"{name}, plate angle [deg]", angle) for name, angle in at.plate_angle.items()]
    if len(at.plate_angle) > 1:
        rows.append(_row("mismatch [deg]", spread(at), 3))
    for name, area in open_area_fractions(at).items():
        if area is not None:
            rows.append(_row(f"{name}, open area [% of bore]", 100.0 * area, 1))
    return aligned(rows, "<" + ">" * len(TABLE))


def _driver(rig: Linkage, turn: Floats) -> list[str]:
    """A row of the driver's turns [deg], or of the travel of one that slides."""
    name = f"{rig.driver}, {turns.word_of(rig, rig.driver)} [{turns.unit_of(rig, rig.driver)}]"
    return _row(name, turn / turns.scale_of(rig, rig.driver), 3 if turns.unit_of(rig, rig.driver) == "in" else 2)


def _row(name: str, values: Floats, digits: int = 2) -> list[str]:
    return [name, *(fixed(float(v), digits) for v in values)]


def progression(answer: Answer) -> list[str]:
    """How the throttles open underfoot, by the first-named shaft."""
    found, units = answer.progression, answer.run.rig.units
    scale = own_scale(units, "length") if found.per == "mm" else 1.0
    low, middle, high = (fixed(g * scale, 2 if scale == 1.0 else 1) for g in found.gains)
    per = per_what(answer, units)
    says = (
        f'shaft "{found.shaft}" opens {low} degrees per {per} at idle, {middle} at half travel and {high} at wide open'
    )
    if found.ratio is not None:
        slow = "slowly first" if found.ratio > 1.02 else "fast first" if found.ratio < 0.98 else "evenly"
        says += f"; the last is {fixed(found.ratio)} times the first: it opens {slow}"
    first, last = found.table[0].plate_angle, found.table[-1].plate_angle
    opened = [(row.plate_angle - first) / (last - first) if last != first else 0.0 for row in found.table]
    has_area = found.table[0].open_area_fraction is not None
    rows = [["travel", "plate opened", "", "open area" if has_area else "", ""]]
    for row, share in zip(found.table, opened, strict=True):
        area = row.open_area_fraction
        drawn = [bar(share, 24), f"{100.0 * share:.0f} %"]
        drawn += ["", ""] if area is None else [bar(area, 24), f"{100.0 * area:.1f} %"]
        rows.append([f"{100.0 * row.fraction:.0f} %", *drawn])
    return [*sentence(says + "."), "", *aligned(rows, "><><>")]


def per_what(answer: Answer, units: str) -> str:
    """What the gains of a progression are told for one of."""
    if answer.run.by_cable:
        return f"{units} of cable"
    return f'{units if answer.run.by_length else "degree"} of "{answer.run.rig.driver}"'


def mismatch(answer: Answer) -> list[str]:
    """How far the plates stand apart, by region, in degrees and in idle air."""
    apart, limits = answer.mismatch, answer.run.rig.limits
    if len(compared(answer.run.rig)) < 2:
        return []
    rows = [["", "largest [deg]", "limit [deg]", "where"]]
    regions: tuple[tuple[str, Extreme | None, float], ...] = (
        (f"first {REGION:.0f} degrees of opening", apart.off_idle, limits.mismatch_off_idle),
        ("middle", apart.middle, limits.mismatch),
        (f"last {REGION:.0f} degrees", apart.last, limits.mismatch_at_wide_open),
    )
    rows.append(["at the closing stop", fixed(apart.at_idle, 3), fixed(limits.mismatch_at_idle), percent(0.0)])
    for name, most, limit in regions:
        if most is not None:
            rows.append([name, fixed(most.value, 3), fixed(limit), percent(most.fraction)])
    rows.append(["at the opening stop", fixed(apart.at_wide_open, 3), "", percent(1.0)])
    rows.append(["root mean square", fixed(apart.rms, 3), "", "over the travel"])
    lines = aligned(rows, "<>><")
    if apart.flow_at_idle_percent is not None:
        lines += sentence(
            f"idle air: the plates differ by {fixed(apart.flow_at_idle_percent, 1)} % in open area at the "
            "closing stop, and so in air."
        )
    reference, *others = apart.differences.items()
    told = [
        f'"{name}" {fixed(abs(by), 3)} degrees {"further open" if by > 0.0 else "less open"}' for name, by in others
    ]
    if apart.largest.value > 5e-4:
        says = f'against "{reference[0]}" at {percent(apart.largest.fraction)}, where it is largest: '
        lines += sentence(says + ", ".join(told) + ".")
    return lines


def links(answer: Answer) -> list[str]:
    """Every link: its length, fitted or given, its angles through the travel, what a turn of it does."""
    run, units = answer.run, answer.run.rig.units
    if not run.rig.link:
        return []
    lengths, fitted = joints.lengths(run), {j.step.by.name: j.fitted for j in run.train.joints}
    fine = run.at(np.linspace(*run.ends, 361))  # close enough for the one decimal that is shown
    angle, tilt = joints.transmission_angles(fine), joints.tilts(fine)
    rows = [["link", "joins", f"length [{units}]", "", "to its arm [deg]", "tilt [deg]", f"a turn [{units}]"]]
    for name, link in run.rig.link.items():
        turn = None if link.pitch is None else link.pitch * (2.0 if link.hands == "left+right" else 1.0)
        rows.append(
            [
                name,
                f"{link.joins[0]} - {link.joins[1]}",
                length(lengths[name], units),
                "fitted" if fitted[name] else "given",
                f"{fixed(np.min(angle[name]), 1)} to {fixed(np.max(angle[name]), 1)}",
                fixed(np.max(tilt[name]), 1),
                length(turn, units),
            ]
        )
    if all(link.pitch is None for link in run.rig.link.values()):
        rows = [row[:-1] for row in rows]
    lines = aligned(rows, "<<><>>>"[: len(rows[0])])
    return [*lines, *sentence("Lengths are from pin centre to pin centre.")]


def cable(answer: Answer) -> list[str]:
    """Which way the cable pulls, what it needs, how it stands to its arm."""
    run, found, units = answer.run, answer.cable, answer.run.rig.units
    if found is None or run.rig.cable is None:
        return []
    driver, free_play = run.rig.driver, run.rig.cable.free_play
    way = "opens" if found.opens else "SHUTS"
    block = run.train.slides(driver)
    does = f'turns "{driver}" {found.turns}'
    if block:
        does = f'moves "{driver}" ' + ("along its guide" if found.turns == "along" else "against its guide's direction")
    lines = sentence(f"the pull {does} and {way} the throttles.")
    if not found.turns:
        lines = sentence(f'as drawn the pull is in line with its arm: it turns "{driver}" neither way.')
    needed = f"{length(found.needed, units)} {units}"
    with_play = f", {length(free_play, units)} {units} of free play in it" if free_play else ""
    lines += sentence(f"cable travel from the pedal's rest to wide open: {needed}{with_play}.")
    at = run.at_fraction((0.0, 0.5, 1.0))
    if at.cable_arm is not None and not block:
        arms = [length(abs(float(v)), units) for v in at.cable_arm]
        lines += sentence(
            f'its lever arm about "{driver}" is {arms[0]} {units} at idle, {arms[1]} at half travel and {arms[2]} '
            "at wide open."
        )
    if found.least_angle is not None:
        where = percent(found.least_angle.fraction)
        arm = "the cross line of the guide" if block else "its arm"
        lines += sentence(f"it meets {arm} at {fixed(found.least_angle.value, 1)} degrees at the least ({where}).")
    if found.swing is not None:
        what = "off the casing's axis" if found.off_axis else "to either side of its mean direction"
        lines += sentence(f"it swings {fixed(found.swing, 1)} degrees {what}.")
    return lines
