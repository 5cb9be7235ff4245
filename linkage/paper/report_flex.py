"""Sections of the report on what gives: the engine in its mounts, the shafts in twist; lines of plain text, or none."""

from __future__ import annotations

import numpy as np

from linkage.answers import torsion
from linkage.answers.progression import TABLE
from linkage.answers.rocking import RockingReport, plate_rates, rolled_plates
from linkage.answers.rolled import on_body, rolled
from linkage.answers.twist import TwistReport
from linkage.answers.winding import Twisted, twisted
from linkage.motion import Motion
from linkage.paper.lines import aligned, fixed, length, sentence
from linkage.quantities import own_scale, own_unit


def rocking_section(run: Motion, report: RockingReport | None) -> list[str]:
    """What the engine's roll moves, what carries it there, and what it opens at idle."""
    if report is None or run.rig.rocking is None:
        return []
    rig, rocking, units = run.rig, run.rig.rocking, run.rig.units
    body = [f'"{name}"' for name in rig.members if on_body(rig, name)]
    if rig.cable is not None and rig.cable.mounted == "body":
        body.append("the casing end")
    place = ", ".join(length(v, units) for v in rocking.axis[: 2 if rocking.direction == (0.0, 0.0, 1.0) else 3])
    roll = f"{report.degrees:g} degree{'' if report.degrees == 1.0 else 's'}"
    lines = sentence(
        f"the engine rolls {roll} to either side about an axis through ({place}) {units}; on the body: "
        f"{', '.join(body) or 'nothing'}."
    )
    if report.immune:
        return [*lines, *sentence(f"no plate moves: {report.why}.")]
    if report.why:
        lines += sentence(f"to first order no plate moves: {report.why}.")
    if report.jams:
        lines += sentence(f"{report.jams}.")
    at = run.at_fraction(TABLE)
    rows = [["travel [%]", *(f"{100.0 * share:.0f}" for share in TABLE)]]
    rows += [
        [f"{name}, per degree of roll", *(fixed(float(v)) for v in rate)] for name, rate in plate_rates(at).items()
    ]
    for side in (1.0, -1.0):
        angle = side * report.degrees
        there = rolled_plates(at, rolled(run, angle), angle)
        rows += [
            [f"{name}, rolled {angle:+g} [deg]", *(fixed(float(v)) for v in there[name] - at.plate_angle[name])]
            for name in rig.shaft
        ]
    lines += ["", *aligned(rows, "<" + ">" * len(TABLE)), ""]
    lines += sentence("plates with the pedal held still: per degree by first order, rolled exactly; a minus shuts.")
    if report.bridges:
        lines += ["", *_bridges(report, units), ""]
    shut = [f'"{name}" {fixed(max(side[name] for side in report.lifts))}' for name in rig.shaft]
    lines += sentence(f"opened at idle, foot off, at the most [deg]: {', '.join(shut)}.")
    if len(rig.shaft) > 1 and np.isfinite(report.mismatch_moved.value):
        lines += sentence(
            f"the plates part by {fixed(max(report.mismatch_moved.value, 0.0))} degrees more at the most."
        )
    return lines


def _bridges(report: RockingReport, units: str) -> list[str]:
    rows = [["between engine and body", f"moves, per degree [{units}]", f"along it [{units}]", "from square [deg]"]]
    for bridge in report.bridges:
        off = sorted({fixed(90.0 - float(v), 0) for v in (np.max(bridge.angle), np.min(bridge.angle))}, key=float)
        told = [_range(bridge.motion, units), _range(bridge.along, units), " to ".join(off)]
        rows.append([f"{bridge.name} ({bridge.on_body})", *told])
    return [
        *aligned(rows, "<>>>"),
        *sentence("through the travel; only what lies along it moves a plate: square to the motion is immune."),
    ]


def _range(values: np.ndarray[tuple[int], np.dtype[np.float64]], units: str) -> str:
    low, high = float(np.min(values)), float(np.max(values))
    told = [_signed(low, units), _signed(high, units)]
    return told[0] if told[0] == told[1] else " to ".join(told)


def _signed(mm: float, units: str) -> str:
    text = length(abs(mm), units)
    return ("-" if mm < 0.0 and float(text) else "") + text


def twist_section(run: Motion, report: TwistReport | None) -> list[str]:
    """What winds up: the sections, every plate against its arm, and the loads along the shafts at idle."""
    if report is None:
        return []
    units = run.rig.units
    rows = [["shaft or tube", f"section [{units}]", "shear modulus [GPa]", "per 1 N·m over 300 mm [deg]"]]
    for name, by in report.specific.items():
        member = run.rig.turning[name]
        assert member.twist is not None
        thick = length(torsion.diameter_of(member), units)
        size = (
            f"{thick} × {length(member.twist.wall, units)} tube" if member.twist.wall is not None else f"{thick} solid"
        )
        left = member.twist.stiffness_share
        rows.append(
            [
                name,
                size + (f", {100.0 * left:g} %" if left < 1.0 else ""),
                fixed(torsion.modulus_of(member.twist), 1),
                fixed(by),
            ]
        )
    lines = [*aligned(rows, "<<>>"), ""]
    at = run.at_fraction(TABLE)
    ways = [twisted(at, "opening"), twisted(at, "closing")]
    rows = [["travel [%]", "rest", *(f"{100.0 * share:.0f}" for share in TABLE)]]
    for name in run.rig.shaft:
        for i in range(len(report.opening.plates[name])):
            for way, found in zip(("opening", "closing"), ways, strict=True):
                rest = report.resting
                here = "" if rest is None or way == "opening" else fixed(float(rest.plates[name][i][0]), 3)
                rows.append(
                    [f"{name}, plate {i + 1}, {way}", here, *(fixed(float(v), 3) for v in found.plates[name][i])]
                )
    rows.append(["apart by twist, opening", "", *(fixed(float(v), 3) for v in ways[0].apart)])
    rest_apart = "" if report.resting is None else fixed(report.apart_at_idle, 3)
    rows.append(["apart by twist, closing", rest_apart, *(fixed(float(v), 3) for v in ways[1].apart)])
    lines += aligned(rows, "<" + ">" * (len(TABLE) + 1))
    lines += sentence(
        "degrees of each plate against the arm that drives its shaft, a minus lags behind; at rest, foot off, against "
        "the stop that the shaft stands on. Friction is against the movement and shared by the plates."
    )
    for name, wound in report.idle.members.items():
        if len(wound.grips) > 1:
            lines += sentence(f"{name} at idle: {_along(report.idle, name, units)}.")
    lines += sentence(
        "round sections, elastic; slots for the plates count only by stiffness_share. Bending, and the give of arms "
        "and clamps, are left out."
    )
    return lines


def _along(found: Twisted, name: str, units: str) -> str:
    """The torque that is carried from station to station, in words."""
    wound, size, unit = found.members[name], own_scale(units, "torque"), own_unit(units, "torque")
    spans: list[tuple[float, float, float]] = []
    for i, carried in enumerate(wound.torque[:, 0]):
        left, right, torque = float(wound.station[i]), float(wound.station[i + 1]), abs(float(carried))
        if spans and abs(spans[-1][2] - torque) < 1e-9:
            spans[-1] = (spans[-1][0], right, torque)
        elif right - left > 1e-9:
            spans.append((left, right, torque))
    digits = 0 if units == "mm" else 2
    told = [
        f"{fixed(torque / size, digits)} {unit} from station {_signed(left, units)} to {_signed(right, units)}"
        for left, right, torque in spans
        if torque > 1e-9
    ]
    return ", ".join(told) or "nothing is carried along it"
