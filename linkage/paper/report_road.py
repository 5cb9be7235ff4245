"""Sections of the report on forces, faults and lost motion: lines of plain text, none where nothing is known."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkage.answers import forces as worked
from linkage.answers.faults import FaultCase, Faults
from linkage.answers.forces import Forces
from linkage.answers.lost_motion import LostMotion, rocks
from linkage.answers.progression import TABLE
from linkage.motion import Motion
from linkage.paper.lines import SIGN, aligned, fixed, sentence
from linkage.quantities import Kind, own_scale, own_unit

Floats = NDArray[np.float64]

#: said under the drill of faults
GOOD_PRACTICE = (
    "two sources of closing energy, and closing when any one connection parts, follow 49 CFR 571.124 S5.1 and "
    "S5.2 as good practice (known from published interpretations, the text not verified); nothing here certifies it. "
    "Prove it by hand, engine off: unhook each spring and each link in turn."
)


def forces_section(run: Motion, report: Forces | None) -> list[str]:
    """Cable, pedal and closing torque through the travel, and what the links carry."""
    if report is None:
        return []
    units, at = run.rig.units, run.at_fraction(TABLE)
    torque, force = own_unit(units, "torque"), own_unit(units, "force")
    down, back = worked.cable_tension(at)
    foot, rising = worked.pedal_force(at)
    rows = [["travel [%]", *(f"{100.0 * share:.0f}" for share in TABLE)]]
    opens = down is not None and bool(np.any(np.isfinite(down)))
    if down is None or back is None:
        rows.append(_row(f"{run.rig.driver}, to open [{torque}]", worked.opening_torque(at), units, "torque"))
        rows.append(_row(f"{run.rig.driver}, closes [{torque}]", worked.closing_torque(at), units, "torque"))
    elif opens:
        rows.append(_row(f"cable, opening [{force}]", down, units, "force"))
        rows.append(_row(f"cable, closing [{force}]", back, units, "force"))
    if foot is not None and rising is not None and (opens or down is None):
        rows.append(_row(f"pedal, going down [{force}]", foot, units, "force"))
        rows.append(_row(f"pedal, coming back [{force}]", rising, units, "force"))
    rows += [
        _row(f"{name}, closing torque [{torque}]", worked.shaft_torque(at, name), units, "torque")
        for name in run.rig.shaft
    ]
    lines = aligned(rows, "<" + ">" * len(TABLE))
    lines += sentence(
        "closing torques are of all springs connected, at that shaft, less friction; the cable and the pedal are "
        "told for slow movement, with friction against it."
    )
    if down is not None and not opens:
        lines += sentence("the pull of the cable does not open the throttles, so it has no tension to tell.")
    if opens and run.rig.cable is not None and run.rig.pedal is not None and run.rig.cable.efficiency == 1.0:
        lines += sentence("the casing's own friction is left out (an efficiency of 1 to [cable]).")
    if not any(member.friction_torque for member in run.rig.members.values()):
        lines += sentence("no friction_torque is given, so opening and closing are told alike.")
    if report.links:
        lines += ["", *_links(report, units)]
    return lines


def _row(name: str, values: Floats, units: str, kind: Kind) -> list[str]:
    size = own_scale(units, kind)
    digits = 2 if units == "in" else 1 if kind == "force" else 0
    return [name, *(fixed(float(v) / size, digits) for v in values)]


def _links(report: Forces, units: str) -> list[str]:
    size, unit = own_scale(units, "force"), own_unit(units, "force")
    digits = 1 if units == "mm" else 2
    rows = [["link", f"pull, opening [{unit}]", f"most push [{unit}]", f"along a bolt [{unit}]", "buckles at"]]
    for name, link in report.links.items():
        force = np.where(np.isfinite(link.force), link.force, np.nan)
        low, high = float(np.nanmin(force)) / size, float(np.nanmax(force)) / size
        side = max(float(np.nanmax(np.where(np.isfinite(end), end, np.nan))) for end in link.side) / size
        rows.append(
            [
                name,
                f"{fixed(low, digits)} to {fixed(high, digits)}",
                fixed(link.compression / size, digits) if link.compression > 0.0 else "none",
                fixed(side, digits),
                "" if link.buckling is None else f"{fixed(link.buckling, 0 if link.buckling > 10.0 else 1)} × the push",
            ]
        )
    told = any(link.buckling is not None for link in report.links.values())
    rows = rows if told else [row[:-1] for row in rows]
    lines = [*aligned(rows, "<>>>>"[: len(rows[0])]), *sentence("A negative pull is a push.")]
    if told:
        lines += sentence("Euler's load of a round steel rod pinned at both ends, 207 kN/mm² assumed.")
    return lines


def faults_section(run: Motion, report: Faults | None) -> list[str]:
    """The drill: each spring, link and coupling away in turn, and whether each shaft still shuts."""
    if report is None:
        return []
    units = run.rig.units
    shafts = list(run.rig.shaft)
    rows = [["", "away", *shafts, "least over friction"]]
    rows += [_fault(case, shafts, units) for case in report.cases]
    lines = aligned(rows, "<<" + ">" * (len(shafts) + 1))
    lines += sentence(
        f"least closing torque of each shaft [{own_unit(units, 'torque')}] over its own travel, friction taken off; "
        "STAYS OPEN: it does not come back to its closing stop from everywhere."
    )
    return [*lines, *sentence(GOOD_PRACTICE)]


def _fault(case: FaultCase, shafts: list[str], units: str) -> list[str]:
    size, digits = own_scale(units, "torque"), 0 if units == "mm" else 2
    cells = []
    for name in shafts:
        at = case.shafts[name]
        torque = fixed(at.least_torque / size, digits)
        cells.append(torque if at.closes else f"STAYS OPEN {torque}")
    ratios = [at.ratio for at in case.shafts.values() if at.ratio is not None]
    away = {"nothing": "nothing, foot off"}.get(case.lost, case.lost.replace(".", " "))
    return [SIGN[case.verdict], away, *cells, fixed(min(ratios), 1) if ratios else "-"]


def lost_motion_section(run: Motion, report: LostMotion | None) -> list[str]:
    """How far each plate rocks with the driver held."""
    if report is None:
        return []
    half = rocks(run.at_fraction((0.5,)))
    rows = [["shaft", "at idle [deg]", "half travel [deg]", "largest [deg]", "play taken up by springs"]]
    for name, most in report.largest.items():
        taken = "not known" if report.taken_up is None else "yes" if report.taken_up[name] else "no"
        cells = (report.at_idle[name], float(half[name][0]), most.value)
        rows.append([name, *(fixed(value, 3) for value in cells), taken])
    return [
        *aligned(rows, "<>>><"),
        *sentence("the whole rock from side to side with the driver held; half of it late each way."),
    ]
