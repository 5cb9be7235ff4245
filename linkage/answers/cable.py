"""The cable on the driver: which way it pulls, what it needs, where it is dead, how far it swings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers import extremes
from linkage.answers.extremes import Extreme
from linkage.closure import Vector
from linkage.motion import Motion, PinCable
from linkage.tables import length
from linkage.train import split_pin

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class CableReport:
    """The accelerator cable of a solved motion.

    ``turns`` is the way the pull turns the driver; ``opens`` whether that opens the throttles, and
    if not, ``mends`` says what would. ``needed`` [mm] is the travel from the closing to the opening
    stop with the free play; ``least_angle`` [deg] between cable and arm (None on a quadrant);
    ``dead_centre`` whether the moment arm passes zero inside the travel; ``swing`` [deg] off the
    casing's axis, or half of the whole swing where no axis is given (``off_axis`` says which; None
    on a quadrant).
    """

    turns: str
    opens: bool
    mends: tuple[str, ...]
    needed: float
    dead_centre: bool
    least_angle: Extreme | None
    swing: float | None
    off_axis: bool


def cable_report(run: Motion) -> CableReport | None:
    """Judge the cable of a solved motion; None where something else turns the driver."""
    cable, line = run.rig.cable, run.line
    if cable is None or line is None or run.cable is None:
        return None
    drawn = line.moment_arm((np.float64(1.0), np.float64(0.0)))
    first, last = run.ends
    fine = run.at(np.linspace(first, last, 181))
    assert fine.cable_arm is not None
    assert fine.cable is not None
    dead = bool(np.min(fine.cable_arm) * np.max(fine.cable_arm) <= 0.0)
    opens = bool(drawn * run.train.opens > 0.0)
    least = swing = None
    if isinstance(line, PinCable):
        least = extremes.lowest(run, cable_angle)
        swing = _swing(line, fine, cable.casing_axis)
    return CableReport(
        turns="ccw" if drawn > 0.0 else "cw",
        opens=opens,
        mends=() if opens else _mends(run),
        needed=float(np.max(np.abs(fine.cable))) + float(run.train.dims["cable.free_play"]),
        dead_centre=dead,
        least_angle=least,
        swing=swing,
        off_axis=cable.casing_axis is not None,
    )


def cable_angle(run: Motion) -> Floats:
    """Angle between the cable and the line of the arm it pulls [deg], 0 (dead centre) to 90, shape (n,)."""
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
    return _way(line, run)


def _way(line: PinCable, run: Motion) -> Vector:
    out = closure.minus(closure.pin(line.arm, *run.pose[run.rig.driver]), line.casing.centre)
    run_length = np.sqrt(closure.dot(out, out))
    return (out[0] / run_length, out[1] / run_length, out[2] / run_length)


def _swing(line: PinCable, fine: Motion, axis: tuple[float, float, float] | None) -> float:
    way = np.stack(np.broadcast_arrays(*_way(line, fine)), axis=-1)
    if axis is not None:
        along = way @ np.asarray(axis)
        return float(np.degrees(np.max(np.arccos(np.clip(along, -1.0, 1.0)))))
    apart = np.clip(way @ way.T, -1.0, 1.0)
    return 0.5 * float(np.degrees(np.max(np.arccos(apart))))


def _mends(run: Motion) -> tuple[str, ...]:
    """What would turn a pull that shuts into one that opens; each is the same moment arm reversed."""
    cable, rig = run.rig.cable, run.rig
    assert cable is not None
    shafts = " and ".join(f'"{name}"' for name in rig.shaft)
    other_side = f"or move the link of every shaft ({shafts}) to the arm's other side of its shaft, 180 degrees on"
    if cable.quadrant is not None:
        way = "cw" if cable.pull_turns == "ccw" else "ccw"
        return (
            f'lead the cable on to the quadrant from its other side (pull_turns = "{way}")',
            other_side,
        )
    member, arm = split_pin(cable.pulls or "")
    part = rig.members[member].arm[arm]
    pivot = rig.members[member].pivot
    end = cable.casing_end or pivot
    if part.angle is not None:
        arm_there = f"angle = {(part.angle + 180.0) % 360.0:g}"
    else:
        pin = part.pin or pivot
        arm_there = f"pin at {_point(2 * pivot[0] - pin[0], 2 * pivot[1] - pin[1], rig.units)}"
    return (
        f'put the arm "{member}.{arm}" on the other side of its pivot ({arm_there})',
        f"or bring the casing end in from the other side "
        f"(for instance {_point(2 * pivot[0] - end[0], 2 * pivot[1] - end[1], rig.units)})",
        other_side,
    )


def _point(x: float, y: float, units: str) -> str:
    return f"x {length(x, units)}, y {length(y, units)}"
