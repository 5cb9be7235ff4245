r"""The engine rolled in its mounts: where everything on the body then stands, seen from the engine.

::

        engine rolls by +rho about the axis through A          v = - d x (P - A)   [mm/rad of roll]
                                                               of whatever is fixed to the body
           o----------------o  link                            P its place, d the direction of the axis
           |                |
        engine            body          The drawing's frame rides on the engine, so its own parts stay
           \        .      /            and the body turns by -rho about the same axis.
                    A

Every part keeps its size: links their built lengths, a member on the body its own shape. A member's
turn is counted in the frame that it is mounted on. What the pedal holds still is the inner cable's
run from the end of its casing to the pin (or to the quadrant and round it): a Bowden cable brings
the pedal's place to the casing end, wherever that is. Without a cable the driver's own turn is held.

References
----------
Own derivation: rotation about an axis by Rodrigues' formula (H. Goldstein, *Classical Mechanics*,
Addison-Wesley, "Finite rotations"; from memory); the rates are velocities of rigid bodies.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.closure import ArmFrame, Numbers, Vector
from linkage.motion import CableLine, Motion, PinCable, QuadrantCable, Train
from linkage.motion.assembly import Joint, Pose, turn_near
from linkage.parts import SIGN, Linkage, Point, Rocking
from linkage.train import split_pin

Floats = NDArray[np.float64]


class Touch(NamedTuple):
    """A round quadrant and its casing end: the ``free`` run [mm] from where the cable leaves it, the
    ``angle`` [rad] of that place in the driver's own frame, and the place itself [mm]."""

    free: Numbers
    angle: Numbers
    place: Vector


def on_body(rig: Linkage, member: str) -> bool:
    """Whether a member is mounted on the body."""
    return rig.members[member].mounted == "body"


def crosses(rig: Linkage) -> bool:
    """Whether the cable's casing ends on the one and the driver is mounted on the other of engine and body."""
    return rig.cable is not None and (rig.cable.mounted == "body") != on_body(rig, rig.driver)


def turned(point: Vector, rocking: Rocking, degrees: float, *, about: Point | None = None) -> Point:
    """A point [mm] of the body after the engine has rolled by ``degrees``, seen from the engine."""
    origin = rocking.axis if about is None else about
    d, out = rocking.direction, closure.minus(point, origin)
    c, s = np.cos(np.radians(-degrees)), np.sin(np.radians(-degrees))
    across, along = closure.cross(d, out), closure.dot(d, out)
    x, y, z = (float(origin[i] + c * out[i] + s * across[i] + (1.0 - c) * along * d[i]) for i in range(3))
    return (x, y, z)


def rolled(run: Motion, degrees: float) -> Train:
    """The train with its engine rolled by ``degrees``, in the engine's frame; links as built, branches as drawn.

    Only to be walked: what it says of the drawn position and of the way back is the unrolled train's.

    Parameters
    ----------
    run : Motion
        Of a design with ``rocking``; its fitted links are built as the drawing fits them.
    degrees : float
        Roll [deg], ccw about the direction of the axis.
    """
    rig, rocking = run.rig, run.rig.rocking
    assert rocking is not None
    joints = []
    for joint in run.train.joints:
        if joint.driving is not None and joint.driven is not None and joint.forward is not None:
            driving, driven = (
                carried(frame, rocking, degrees) if on_body(rig, member) else frame
                for frame, member in ((joint.driving, joint.step.driving), (joint.driven, joint.step.driven))
            )
            forward = closure.loop(driving, driven, joint.working, joint.forward.branch)
            joint = dataclasses.replace(joint, driving=driving, driven=driven, forward=forward)
            if joint.slack and joint.backward is not None:
                joint = dataclasses.replace(joint, pick_up=_picked_up(joint, driving, driven))
        joints.append(joint)
    return dataclasses.replace(run.train, joints=tuple(joints))


def _picked_up(joint: Joint, driving: ArmFrame, driven: ArmFrame) -> Numbers:
    """Turn [rad] of the driving member at which the end of a slotted link takes the driven one up from its rest."""
    assert joint.backward is not None
    back = closure.loop(driven, driving, joint.working, joint.backward.branch)
    there = closure.close(back, *closure.pose_of(joint.rest, driven.slides))
    return turn_near(there, joint.pick_up, driving.slides)


def carried(frame: ArmFrame, rocking: Rocking, degrees: float) -> ArmFrame:
    """The circle of a pin on the body (or the guide of one) after the engine has rolled by ``degrees``."""
    e1, e2, u = (_way(v, rocking, degrees) for v in (frame.e1, frame.e2, frame.u))
    return frame._replace(centre=turned(frame.centre, rocking, degrees), e1=e1, e2=e2, u=u)


def _way(direction: Vector, rocking: Rocking, degrees: float) -> Point:
    return turned(direction, rocking, degrees, about=(0.0, 0.0, 0.0))


def held(run: Motion, degrees: float, *, paid_out: float = 0.0) -> Pose:
    """Pose of the driver of the rolled train with the pedal held as at the positions of ``run``.

    ``paid_out`` [mm] of cable are let go besides: its free play. ``nan`` where the run cannot be as long.
    """
    here, line, rig = run.pose[run.rig.driver], run.line, run.rig
    if line is None or rig.cable is None or rig.rocking is None:
        return here
    if isinstance(line, PinCable):
        casing, arm = line.casing, line.arm
        if rig.cable.mounted == "body":
            casing = carried(casing, rig.rocking, degrees)
        moved = PinCable(casing, carried(arm, rig.rocking, degrees) if on_body(rig, rig.driver) else arm)
        drawn = closure.drawn_pose(moved.arm)
        return moved.pose_at(moved.run(drawn) - (line.run(here) + paid_out), drawn, here)
    return _wrapped(run, line, degrees, paid_out)


def _wrapped(run: Motion, line: CableLine, degrees: float, paid_out: float) -> Pose:
    """:func:`held` for a quadrant: the cable's whole length, free and wrapped, is kept."""
    shift: Numbers = 0.0
    if crosses(run.rig) and isinstance(line, QuadrantCable):
        before, after = touch(run, 0.0), touch(run, degrees)
        shift = (after.free - before.free) / line.reach + turn_near(
            (np.cos(after.angle - before.angle), np.sin(after.angle - before.angle)), 0.0
        )
    turn = np.radians(run.turn) + shift
    if paid_out == 0.0:
        return np.cos(turn), np.sin(turn)
    middle = np.radians(0.5 * (run.ends[0] + run.ends[1]))
    start = (np.cos(turn), np.sin(turn))
    return line.pose_at(-paid_out, start, (np.cos(middle), np.sin(middle)))


def touch(run: Motion, degrees: float) -> Touch:
    """Where the cable leaves a round quadrant with the engine rolled by ``degrees``."""
    rig, line = run.rig, run.line
    cable, rocking = rig.cable, rig.rocking
    assert isinstance(line, QuadrantCable)
    assert cable is not None
    assert cable.casing_end is not None
    assert rocking is not None
    driver = rig.turning[rig.driver]
    axis, pivot, end = driver.axis, driver.pivot, cable.casing_end
    e1 = perpendicular(axis)
    if driver.mounted == "body":
        axis, e1 = _way(axis, rocking, degrees), _way(e1, rocking, degrees)
        pivot = turned(pivot, rocking, degrees)
    if cable.mounted == "body":
        end = turned(end, rocking, degrees)
    e2 = closure.cross(axis, e1)
    out = closure.minus(end, pivot)
    x, y, off = closure.dot(out, e1), closure.dot(out, e2), closure.dot(out, axis)
    r, side = abs(line.reach), np.sign(line.reach)
    with np.errstate(invalid="ignore"):
        flat = np.sqrt(x * x + y * y - r * r)
    angle = np.arctan2(y, x) - side * np.arctan2(flat, r)
    px, py, pz = (pivot[i] + r * (np.cos(angle) * e1[i] + np.sin(angle) * e2[i]) for i in range(3))
    return Touch(np.sqrt(flat * flat + off * off), angle, (px, py, pz))


def perpendicular(axis: Point) -> Point:
    """A unit vector square to an axis: x where the axis is z."""
    least = min(range(3), key=lambda i: abs(axis[i]))
    other = [0.0, 0.0, 0.0]
    other[least] = 1.0
    along = axis[least]
    x, y, z = (other[i] - along * axis[i] for i in range(3))
    size = float(np.sqrt(x * x + y * y + z * z))
    return (x / size, y / size, z / size)


def drift(rocking: Rocking, place: Vector, *, body: bool) -> Vector:
    """Velocity of a place [mm/rad of roll] seen from the engine; nothing unless it is fixed to the body."""
    if not body:
        return (0.0, 0.0, 0.0)
    return closure.cross(closure.minus(place, rocking.axis), rocking.direction)


def rates(run: Motion) -> dict[str, Floats]:
    """Turn of every member in its own frame per degree of roll [deg/deg], the pedal held, shape (n,) each.

    Analytic, from ``d|P - Q| = 0`` of the cable's run and of every link, with the ends of either carried
    by the roll where they are on the body.
    """
    rig, rocking = run.rig, run.rig.rocking
    assert rocking is not None
    still = np.zeros_like(run.turn)
    found = {rig.driver: _driver_rate(run) + still}
    with np.errstate(invalid="ignore", divide="ignore"):
        for joint in run.train.joints:
            driving, driven = joint.step.driving, joint.step.driven
            if joint.driving is None or joint.driven is None:
                found[driven] = _coupled(run, driving, driven, joint.ratio) * found[driving]
                continue
            at, there = run.pose[driving], run.pose[driven]
            here = closure.sensitivity(joint.driving, joint.driven, *at, *there)
            one = drift(rocking, closure.pin(joint.driving, *at), body=on_body(rig, driving))
            two = drift(rocking, closure.pin(joint.driven, *there), body=on_body(rig, driven))
            added = closure.dot(here.driving_centre, closure.minus(one, two))
            moved = here.driving_angle * found[driving] + added
            bears = joint.bears(joint.driving_turn(at)) if joint.slack else True
            found[driven] = np.where(bears, moved, 0.0)
    return found


def _coupled(run: Motion, driving: str, driven: str, ratio: Numbers) -> Numbers:
    """Velocity ratio of a coupling where it stands."""
    moves = run.speed[driving] != 0.0
    return np.where(moves, run.speed[driven] / np.where(moves, run.speed[driving], 1.0), ratio)


def _driver_rate(run: Motion) -> Numbers:
    """The driver's turn per degree of roll: what keeps the cable's run."""
    if isinstance(run.line, QuadrantCable):
        return _quadrant_rate(run) if crosses(run.rig) else 0.0
    cable = cable_drift(run)
    if cable is None or run.cable_arm is None:
        return 0.0
    along, drifting = cable
    with np.errstate(invalid="ignore", divide="ignore"):
        return closure.dot(along, drifting) / run.cable_arm


def _quadrant_rate(run: Motion) -> Numbers:
    """:func:`_driver_rate` on a round quadrant: the slope of what :func:`touch` gives, by the casing end's drift
    in the driver's own frame."""
    rig, line, rocking = run.rig, run.line, run.rig.rocking
    assert isinstance(line, QuadrantCable)
    assert rig.cable is not None
    assert rig.cable.casing_end is not None
    assert rocking is not None
    driver, end = rig.turning[rig.driver], rig.cable.casing_end
    e1 = perpendicular(driver.axis)
    e2 = closure.cross(driver.axis, e1)
    v = closure.minus(
        drift(rocking, end, body=rig.cable.mounted == "body"), drift(rocking, end, body=driver.mounted == "body")
    )
    out = closure.minus(end, driver.pivot)
    x, y, off = (closure.dot(out, way) for way in (e1, e2, driver.axis))
    dx, dy, sideways = (closure.dot(v, way) for way in (e1, e2, driver.axis))
    r, side, square = abs(line.reach), np.sign(line.reach), x * x + y * y
    flat = np.sqrt(square - r * r)
    longer = (x * dx + y * dy) / flat
    free = (flat * longer + off * sideways) / np.sqrt(flat * flat + off * off)
    angle = (x * dy - y * dx) / square - side * r * longer / square
    return free / line.reach + angle


def cable_drift(run: Motion) -> tuple[Vector, Vector] | None:
    """Unit vector along the cable to its casing end, and the velocity of that end against the place that it
    pulls [mm/rad of roll]; None without a cable, or on a quadrant whose casing end is not given or rides with it."""
    rig, line, rocking = run.rig, run.line, run.rig.rocking
    assert rocking is not None
    if line is None or rig.cable is None:
        return None
    if isinstance(line, PinCable):
        end, pulled = line.casing.centre, closure.pin(line.arm, *run.pose[rig.driver])
    elif isinstance(line, QuadrantCable) and crosses(rig):
        end, pulled = rig.cable.casing_end or (0.0, 0.0, 0.0), touch(run, 0.0).place
    else:
        return None
    out = closure.minus(end, pulled)
    size = np.sqrt(closure.dot(out, out))
    one = drift(rocking, end, body=rig.cable.mounted == "body")
    two = drift(rocking, pulled, body=on_body(rig, rig.driver))
    return (out[0] / size, out[1] / size, out[2] / size), closure.minus(one, two)


def plates(run: Motion, pose: Mapping[str, Pose]) -> dict[str, Floats]:
    """Plate angle of every shaft [deg] in other poses of its members, near those of ``run``."""
    found = {}
    for name, shaft in run.rig.shaft.items():
        (c, s), (c0, s0) = pose[name], run.pose[name]
        away = np.degrees(np.arctan2(s * c0 - c * s0, c * c0 + s * s0))
        found[name] = np.asarray(run.plate_angle[name] + SIGN[shaft.opens] * away)
    return found


def pulled_member(rig: Linkage) -> str:
    """Name of the arm that the cable pulls, or of the member that carries its quadrant."""
    cable = rig.cable
    assert cable is not None
    return cable.quadrant or ".".join(split_pin(cable.pulls or ""))
