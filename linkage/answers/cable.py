"""The cable on the driver: which way it pulls, what it needs, where it is dead, how far it swings."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers import extremes
from linkage.answers.extremes import Extreme
from linkage.answers.quadrant import QuadrantReport, quadrant_report
from linkage.closure import Numbers, Vector
from linkage.motion import Motion, PinCable
from linkage.parts import Member
from linkage.tables import length
from linkage.train import split_pin

Floats = NDArray[np.float64]

#: swing of the inner cable off the casing's axis that is still kind to it [deg]; common practice, no source
CABLE_SWING = 10.0
#: and beyond which the cable turns back on itself [deg]
CABLE_REVERSED = 90.0
#: a pull whose moment arm is less than this [mm] turns nothing: rounding
IN_LINE = 1e-6


@dataclass(frozen=True)
class CableReport:
    """The accelerator cable of a solved motion.

    ``turns`` is the way the pull turns the driver, "ccw" or "cw" (of a block that slides, "along" its
    guide's direction or "against" it), "" where it is in line with its arm as drawn; ``opens`` whether
    that opens the throttles, and if not, ``mends`` says what would. ``needed`` [mm] is the travel from
    the closing to the opening stop with the free play; ``least_angle`` [deg] between cable and arm
    (None on a quadrant); ``dead_centre`` whether the moment arm passes zero inside the travel; ``swing`` [deg] off the
    casing's axis, or half of the whole swing where no axis is given (``off_axis`` says which; None
    on a quadrant). ``quadrant`` judges a snail quadrant, None with any other cable.
    """

    turns: str
    opens: bool
    mends: tuple[str, ...]
    needed: float
    dead_centre: bool
    least_angle: Extreme | None
    swing: float | None
    off_axis: bool
    quadrant: QuadrantReport | None = None


def cable_report(run: Motion) -> CableReport | None:
    """Judge the cable of a solved motion; None where something else turns the driver."""
    cable, line = run.rig.cable, run.line
    if cable is None or line is None or run.cable is None:
        return None
    drawn = line.moment_arm(run.train.pose(np.float64(0.0)))
    first, last = run.ends
    fine = run.at(np.linspace(first, last, 181))
    assert fine.cable_arm is not None
    assert fine.cable is not None
    dead = bool(np.min(fine.cable_arm) * np.max(fine.cable_arm) <= 0.0)
    in_line = bool(abs(drawn) < IN_LINE)
    opens = not in_line and bool(drawn * run.train.opens > 0.0)
    least = swing_off = None
    if isinstance(line, PinCable):
        least = extremes.lowest(run, cable_angle)
        swing_off = float(swing(line, run.travel.closing, run.travel.opening, cable.casing_axis))
    ways = ("along", "against") if run.train.slides(run.rig.driver) else ("ccw", "cw")
    return CableReport(
        turns="" if in_line else ways[0 if drawn > 0.0 else 1],
        opens=opens,
        mends=() if opens or in_line else _mends(run),
        needed=float(np.max(np.abs(fine.cable))) + float(run.train.dims["cable.free_play"]),
        dead_centre=dead,
        least_angle=least,
        swing=swing_off,
        off_axis=cable.casing_axis is not None,
        quadrant=quadrant_report(run),
    )


def cable_angle(run: Motion) -> Floats:
    """Angle between the cable and the line of the arm it pulls [deg], 0 (dead centre) to 90, shape (n,).

    On a block that slides, between the cable and the plane square to its guide.
    """
    line = run.line
    if not isinstance(line, PinCable) or run.cable_arm is None:
        return np.full_like(run.turn, np.nan)
    share = np.abs(run.cable_arm) / line.arm.r
    return np.asarray(np.degrees(np.arcsin(np.minimum(share, 1.0))))


def cable_way(run: Motion) -> Vector | None:
    """Unit vector from the casing end to the pin, arrays over the positions; None on a quadrant."""
    line = run.line
    if not isinstance(line, PinCable):
        return None
    return line.way(run.pose[run.rig.driver])


def swing(line: PinCable, first: Numbers, last: Numbers, axis: Vector | None) -> Numbers:
    """Swing of the inner cable [deg] between two driver turns [rad]: the most off the casing's axis,
    or half of the whole swing without one; any broadcastable shapes.

    The run swings one way between the turns at which it touches the pin's circle, so the ends and
    those turns tell.
    """
    with np.errstate(invalid="ignore"):
        places = [closure.pose_of(turn, line.arm.slides) for turn in (first, last)]
        for pose in line.tangents():
            turn = np.arctan2(pose[1], pose[0])
            turn = turn + 2.0 * np.pi * np.round((0.5 * (first + last) - turn) / (2.0 * np.pi))
            inside = (turn - first) * (turn - last) < 0.0
            places.append(tuple(np.where(inside, p, q) for p, q in zip(pose, places[0], strict=True)))
    ways = [line.way(pose) for pose in places]
    if axis is not None:
        cosines = [closure.dot(way, axis) for way in ways]
        return np.degrees(np.arccos(np.clip(np.minimum.reduce(cosines), -1.0, 1.0)))
    cosines = [closure.dot(a, b) for a, b in itertools.combinations(ways, 2)]
    return 0.5 * np.degrees(np.arccos(np.clip(np.minimum.reduce(cosines), -1.0, 1.0)))


def swing_told(degrees: float, off_axis: bool) -> tuple[str, str]:
    """A swing [deg] off the casing's axis, or about its mean, in words, and the mend of one that is too much."""
    what = "off the casing's axis" if off_axis else "to either side of its mean direction"
    mend = "; aim the casing at the middle of the pin's arc or use a swivelling end" if degrees > CABLE_SWING else ""
    return f"the inner cable swings {degrees:.1f} degrees {what}; up to {CABLE_SWING:g} is kind to it", mend


def _mends(run: Motion) -> tuple[str, ...]:
    """What would turn a pull that shuts into one that opens; each is the same moment arm reversed."""
    cable, rig = run.rig.cable, run.rig
    assert cable is not None
    shafts = " and ".join(f'"{name}"' for name in rig.shaft)
    other_side = (
        f"or move the link of every shaft ({shafts}) to the arm's other side of its shaft, 180 degrees on, "
        f"with stops, springs and clocking done anew"
    )
    if cable.quadrant is not None:
        way = "cw" if cable.pull_turns == "ccw" else "ccw"
        return (
            f'lead the cable on to the quadrant from its other side (pull_turns = "{way}")',
            other_side,
        )
    member, arm = split_pin(cable.pulls or "")
    turned = ", the casing's axis turned about too" if cable.casing_axis is not None else ""
    if member in rig.slide:
        block = rig.slide[member]
        there = _along(cable.casing_end or block.origin, block.pin[arm].at, block.along, rig.units)
        return (f"bring the casing end in from the other end of the guide (for instance {there}{turned})", other_side)
    on = rig.turning[member]
    part = on.arm[arm]
    if part.angle is not None:
        arm_there = f"angle = {(part.angle + 180.0) % 360.0:g}"
    else:
        arm_there = f"pin at {_across(part.pin or on.pivot, on, rig.units)}"
    line = run.line
    assert isinstance(line, PinCable)
    with np.errstate(invalid="ignore"):
        inside = bool(np.isnan(line.tangents()[0][0]))
    if inside:  # so near to the pivot that the place across from it is no better
        end_there = (
            f"bring the casing end in from the other side, outside the {length(line.arm.r, rig.units)} of the arm"
        )
    else:
        there = _across(cable.casing_end or on.pivot, on, rig.units)
        end_there = f"bring the casing end in from the other side (for instance {there}{turned})"
    return f'put the arm "{member}.{arm}" on the other side of its pivot ({arm_there})', f"or {end_there}", other_side


def _across(point: Vector, member: Member, units: str) -> str:
    """The point half a turn on about a member's axis, in words; z only where it is not nothing."""
    out = closure.minus(point, member.pivot)
    along = closure.dot(out, member.axis)
    return _told([o + 2.0 * along * u - 2.0 * w for o, u, w in zip(point, member.axis, out, strict=True)], units)


def _along(point: Vector, pin: Vector, way: Vector, units: str) -> str:
    """The point as far from a pin on the other side, along a direction, in words."""
    ahead = closure.dot(closure.minus(point, pin), way)
    return _told([p - 2.0 * ahead * w for p, w in zip(point, way, strict=True)], units)


def _told(there: list[float], units: str) -> str:
    told = [f"{name} {length(at, units)}" for name, at in zip("xyz", there, strict=True)]
    return ", ".join(told if abs(there[2]) > 1e-9 else told[:2])
