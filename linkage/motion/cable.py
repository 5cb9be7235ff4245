"""The accelerator cable on the driver: how much of it each position takes, and which way it pulls.

On a pin the inner cable runs straight from the casing end to the pin, so a given run is a link of
that length with one end at rest: the same closure finds the driver's turn. On a quadrant the
travel is radius times turn; a snail quadrant is in :mod:`linkage.motion.snail`. A cable only pulls:
its moment arm, counted ccw, says which way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkage import closure
from linkage.closure import ArmFrame, Numbers
from linkage.motion.assembly import Pose, Train, arm_frame, turn_near
from linkage.motion.snail import SnailCable, snail_cable
from linkage.parts import SIGN
from linkage.train import split_pin


@dataclass(frozen=True, eq=False)
class PinCable:
    """A cable on a pin: ``casing`` end at rest and the pulled ``arm`` of the driver."""

    casing: ArmFrame
    arm: ArmFrame

    def run(self, pose: Pose) -> Numbers:
        """Length [mm] of inner cable between the casing end and the pin."""
        along = closure.minus(self.casing.centre, closure.pin(self.arm, *pose))
        return np.sqrt(closure.dot(along, along))

    def way(self, pose: Pose) -> closure.Vector:
        """Unit vector from the casing end to the pin."""
        out = closure.minus(closure.pin(self.arm, *pose), self.casing.centre)
        run = np.sqrt(closure.dot(out, out))
        return (out[0] / run, out[1] / run, out[2] / run)

    def tangents(self) -> tuple[Pose, Pose]:
        """The two poses at which the run touches the pin's circle: there its swing turns back.

        ``nan`` where the casing end lies inside that circle, and on a block that slides.
        """
        if self.arm.slides:
            return (np.nan, np.nan), (np.nan, np.nan)
        out = closure.minus(self.casing.centre, self.arm.centre)
        x, y, r = closure.dot(out, self.arm.e1), closure.dot(out, self.arm.e2), self.arm.r
        square = x * x + y * y
        side = np.sqrt(square - r * r)
        c, s = x * r / square, y * r / square
        across, along = y * side / square, x * side / square
        return (c - across, s + along), (c + across, s - along)

    def taken(self, pose: Pose, since: Pose) -> Numbers:
        """Cable travel [mm] from one driver pose to another: the run's shortening."""
        return self.run(since) - self.run(pose)

    def moment_arm(self, pose: Pose) -> Numbers:
        """Moment arm [mm] of the pull about the driver's axis, ccw positive; also d(travel)/d(turn) [mm/rad]."""
        along = closure.minus(self.casing.centre, closure.pin(self.arm, *pose))
        return closure.dot(closure.tangent(self.arm, *pose), along) / np.sqrt(closure.dot(along, along))

    def moment_slope(self, pose: Pose) -> Numbers:
        """Derivative of the moment arm by the driver's turn [mm/rad]."""
        at = closure.pin(self.arm, *pose)
        along = closure.minus(self.casing.centre, at)
        out = closure.minus(at, self.arm.centre)
        run = np.sqrt(closure.dot(along, along))
        arm = closure.dot(closure.tangent(self.arm, *pose), along) / run
        # d/dt of along.(u x out) = -|u x out|^2 + along.(u x (u x out)), and d(run)/dt = -arm
        inwards = 0.0 if self.arm.slides else closure.dot(along, out)
        return (arm * arm - self.arm.r * self.arm.r - inwards) / run

    def pose_at(self, travel: Numbers, since: Pose, near: Pose) -> Pose:
        """Driver pose at which the cable has moved by ``travel`` [mm] since a pose, on the side of ``near``."""
        link = closure.loop(self.casing, self.arm, self.run(since) - travel, 1.0)
        branch = closure.branch_of(link, 1.0, 0.0, *near)
        return closure.close(link._replace(branch=branch), 1.0, 0.0)


@dataclass(frozen=True, eq=False)
class QuadrantCable:
    """A cable wrapped on a quadrant: ``reach`` is its radius [mm], positive where the pull turns ccw.

    Driver turns count half a turn either side of the turn ``middle`` [rad].
    """

    reach: Numbers
    middle: Numbers

    def taken(self, pose: Pose, since: Pose) -> Numbers:
        """Cable travel [mm] from one driver pose to another."""
        return self.reach * (turn_near(pose, self.middle) - turn_near(since, self.middle))

    def moment_arm(self, pose: Pose) -> Numbers:
        """Moment arm [mm], ccw positive, the same everywhere."""
        return self.reach * np.ones_like(pose[0])

    def moment_slope(self, pose: Pose) -> Numbers:
        """Derivative of the moment arm by the driver's turn [mm/rad]: none."""
        return np.zeros_like(pose[0])

    def pose_at(self, travel: Numbers, since: Pose, near: Pose) -> Pose:
        """Driver pose at which the cable has moved by ``travel`` [mm] since a pose."""
        turn = np.arctan2(since[1], since[0]) + travel / self.reach
        return np.cos(turn), np.sin(turn)


CableLine = PinCable | QuadrantCable | SnailCable


def cable_line(train: Train) -> CableLine | None:
    """The cable of an assembled train with its numbers, or None where something else turns the driver."""
    cable, dims = train.rig.cable, train.dims
    if cable is None:
        return None
    if cable.profile is not None:
        return snail_cable(train)
    if cable.quadrant is not None:
        return QuadrantCable(dims["cable.radius"] * SIGN[cable.pull_turns or "ccw"], train.middle)
    member, arm = split_pin(cable.pulls or "")
    at_rest = (dims["cable.casing_end.x"], dims["cable.casing_end.y"], dims["cable.casing_end.z"])
    u = train.rig.members[member].axis
    casing = ArmFrame(at_rest, (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), u, 0.0)
    return PinCable(casing, arm_frame(train.rig, dims, member, arm))
