"""Levers on the bench sheet: where to drill, and how each stands to its plate, with a check by caliper."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.motion import Motion
from linkage.paper.lines import fixed
from linkage.paper.plates import Mark, Plate, across, patterns, plates, sight
from linkage.paper.practice import Practice
from linkage.paper.sheet import Block, Figures, Words, table
from linkage.parts import SIGN, Linkage, Shaft

Floats = NDArray[np.float64]

_THIN = 0.5  # of the edge distance: less metal than this between two holes is too little


def coordinates(rig: Linkage, practice: Practice, told: Figures) -> list[Block]:
    """Pivots, casing end and spring anchors from the datum."""
    u, found = told.units, []
    for pattern in patterns(rig, practice):
        rows = [
            [
                mark.name,
                told.cell(mark.x),
                told.cell(mark.y),
                _depths(mark, told),
                "" if mark.diameter is None else told.bare(mark.diameter),
            ]
            for mark in pattern.marks
        ]
        right, up = pattern.seen.says.split(" right, ")  # a slanting direction has commas of its own
        heading = (pattern.name, f"{right} right [{u}]", f"{up} [{u}]", f"to you [{u}]", f"hole [{u}]")
        found.append(table(heading, rows, "<>>>>"))
    x, y = practice.datum
    at = "the drawing's own origin" if practice.datum == (0.0, 0.0) else f"x {told.bare(x)}, y {told.bare(y)} {u}"
    return [
        *found,
        Words(f"Measured from the datum: {at}. Pivot holes go over the shaft or the bearing of that pivot."),
    ]


def _depths(mark: Mark, told: Figures) -> str:
    return " / ".join(told.bare(z) for z in mark.depths)


def holes(run: Motion, practice: Practice, told: Figures) -> list[Block]:
    """Every hole of every lever plate from its shaft's centre."""
    u, rows = told.units, []
    for plate in plates(run.train, practice):
        for i, hole in enumerate(plate.holes):
            first = i == 0
            rows.append(
                [
                    plate.name if first else "",
                    told.bare(plate.station) if first else "",
                    told.bare(plate.hub) if first else "",
                    hole.name,
                    told.cell(hole.x),
                    told.cell(hole.y),
                    told.cell(hole.radius),
                    fixed(hole.angle),
                    told.bare(hole.diameter),
                    hole.carries,
                ]
            )
    heading = (
        *("plate", f"station [{u}]", f"centre hole [{u}]", "hole", f"right [{u}]", f"up [{u}]", f"radius [{u}]"),
        *("angle [deg]", f"hole [{u}]", "carries"),
    )
    found: list[Block] = [table(heading, rows, "<>><>>>>><")]
    found.append(
        Words(
            "From the shaft's centre, as the lever stands at idle, seen with its axis towards you; angle from "
            '"to the right", counter-clockwise.'
        )
    )
    return found + _thin(plates(run.train, practice), told)


def _thin(found: tuple[Plate, ...], told: Figures) -> list[Block]:
    walls = [(plate.thinnest, plate) for plate in found if plate.thinnest is not None]
    return [
        Words(
            f'plate "{plate.name}": only {told.with_unit(wall[0])} of metal between {wall[1]} and {wall[2]}.', "caution"
        )
        for wall, plate in walls
        if wall is not None and wall[0] < _THIN * plate.edge
    ]


def plate_line(shaft: Shaft, plate_angle: float, practice: Practice) -> float:
    """Direction of a plate's line as seen [deg ccw from "to the right", 0 to 180].

    A plate square to its bores turns with its shaft's opening by the plate angle.
    """
    return (practice.bore_direction(shaft.name) - 90.0 + SIGN[shaft.opens] * plate_angle) % 180.0


def from_plate(lever: float, line: float) -> float:
    """Angle from a plate's line ccw to a lever [deg, 0 to 180]: a plate's line has two ends."""
    return (lever - line) % 180.0


def clocking(run: Motion, practice: Practice, told: Figures) -> list[Block]:
    """Every lever's angle at idle and wide open, and against its plate at idle."""
    ends = run.at(run.ends)
    rows = []
    for plate in plates(run.train, practice):
        part = run.rig.turning[plate.member]
        turned = ends.member_turn[plate.member]
        for hole in plate.holes:
            at = [(hole.angle + float(turn) + 180.0) % 360.0 - 180.0 for turn in turned]
            cells = ["", "", ""]
            if isinstance(part, Shaft):
                angle = float(ends.plate_angle[plate.member][0])
                line = plate_line(part, angle, practice)
                cells = [fixed(angle), fixed(line), fixed(from_plate(at[0], line))]
            rows.append([f"{plate.member}.{hole.name}", plate.opens, fixed(at[0]), fixed(at[1]), *cells])
    heading = (
        *("lever", "opens", "at idle [deg]", "wide open [deg]", "plate angle [deg]", "plate's line [deg]"),
        "plate to lever [deg]",
    )
    found: list[Block] = [table(heading, rows, "<<>>>>>")]
    bores = {name: practice.bore_direction(name) for name in run.rig.shaft}
    same = len(set(bores.values())) == 1
    stand = (
        f"{fixed(next(iter(bores.values())), 1)} degrees"
        if same
        else ", ".join(f"{name} {fixed(angle, 1)}" for name, angle in bores.items()) + " degrees"
    )
    found.append(
        Words(
            "Plate to lever: from the line of the plate at idle, counter-clockwise to the lever; clamp it so with the "
            f"plate on its idle stop. Bores as drawn at {stand} (90 is upright; --bores sets it)."
        )
    )
    return found


def straight_lines(run: Motion, practice: Practice, told: Figures) -> list[Block]:
    """The caliper's check: between the holes of a plate, and from a lever's hole to the next pivot."""
    u = told.units
    rows = []
    for plate in plates(run.train, practice):
        for a, b, apart in across(plate.holes):
            over = apart + 0.5 * (a.diameter + b.diameter)
            rows.append([f"{plate.member}.{a.name}", f"{plate.member}.{b.name}", told.cell(apart), told.cell(over), ""])
        rows += _to_pivots(run, practice, plate, told)
    if not rows:
        return []
    heading = ("from hole", "to", f"centres at idle [{u}]", f"over the outsides [{u}]", f"centres wide open [{u}]")
    return [
        table(heading, rows, "<<>>>"),
        Words(
            "In the plane square to the axis, with a close-fitting pin in each hole; over the outsides: pins and "
            "shaft as large as their holes. Holes of one plate keep their distance everywhere."
        ),
    ]


def _to_pivots(run: Motion, practice: Practice, plate: Plate, told: Figures) -> list[list[str]]:
    """From every hole that a link or the cable holds to the nearest pivot about a parallel axis."""
    rig, ends = run.rig, run.at(run.ends)
    own = rig.turning[plate.member]
    seen = sight(own.axis)
    here = np.array(seen.flat(own.pivot))
    pivots: dict[str, tuple[Floats, float]] = {}
    for name, member in rig.turning.items():
        there = np.array(seen.flat(member.pivot))
        parallel = abs(abs(float(closure.dot(member.axis, own.axis))) - 1.0) < 1e-9
        if parallel and math.dist(here, there) > 1.0:
            pivots[name] = (there, practice.hub_hole(rig, name))
    rows = []
    for hole in plate.holes:
        if not pivots or not hole.carries or hole.carries.startswith("spring"):
            continue
        at = []
        for turn in np.radians(ends.member_turn[plate.member]):
            c, s = float(np.cos(turn)), float(np.sin(turn))
            at.append(here + np.array([hole.x * c - hole.y * s, hole.x * s + hole.y * c]))
        name, (there, hub) = min(pivots.items(), key=lambda item: math.dist(item[1][0], at[0]))
        apart = [math.dist(point, there) for point in at]
        over = apart[0] + 0.5 * (hole.diameter + hub)
        cells = [told.cell(apart[0]), told.cell(over), told.cell(apart[1])]
        rows.append([f"{plate.member}.{hole.name}", f"centre of {name}", *cells])
    return rows
