"""A cable on a snail quadrant: its moment arm changes with the driver's turn as the design says.

By virtual work the cable moves by the moment arm for every radian of turn, wherever its casing ends:
travel is the integral of the moment arm over the turn. Between the design's points the moment arm is
the smooth curve of :mod:`linkage.motion.monotone`, beyond them it goes on constant.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from linkage.closure import Numbers
from linkage.errors import AssemblyError
from linkage.motion.assembly import Pose, Train, turn_near
from linkage.motion.monotone import Curve, curve
from linkage.parts import SIGN

_STEP = 1e-30  # of a complex step: nothing is lost however small


@dataclass(frozen=True, eq=False)
class SnailCable:
    """A cable wrapped on a snail: its moment ``arm`` [mm] over the driver's turn [rad], always above 0;
    ``sense`` is 1 where the pull turns ccw, else -1; ``names`` are the design's points in the curve's order.

    Driver turns count half a turn either side of the turn ``middle`` [rad].
    """

    arm: Curve
    sense: float
    names: tuple[str, ...]
    middle: Numbers

    def taken(self, pose: Pose, since: Pose) -> Numbers:
        """Cable travel [mm] from one driver pose to another."""
        here, there = (turn_near(at, self.middle) for at in (pose, since))
        return self.sense * (self.arm.integral(here) - self.arm.integral(there))

    def moment_arm(self, pose: Pose) -> Numbers:
        """Moment arm [mm] of the pull about the driver's axis, ccw positive; also d(travel)/d(turn) [mm/rad]."""
        return self.sense * self.arm.value(turn_near(pose, self.middle))

    def moment_slope(self, pose: Pose) -> Numbers:
        """Derivative of the moment arm by the driver's turn [mm/rad]."""
        return self.sense * self.arm.slope(turn_near(pose, self.middle))

    def pose_at(self, travel: Numbers, since: Pose, near: Pose) -> Pose:
        """Driver pose at which the cable has moved by ``travel`` [mm] since a pose."""
        turn = self.arm.inverse(self.arm.integral(turn_near(since, self.middle)) + self.sense * travel)
        return np.cos(turn), np.sin(turn)

    def by_arms(self, turn: Numbers, since: Numbers) -> Mapping[str, tuple[Numbers, Numbers]]:
        """Derivative of the travel between two driver turns [rad], and of the moment arm at the first, by the
        moment arm of each point, the driver held [-]."""
        found = {}
        for i, name in enumerate(self.names):
            y = tuple(v + _STEP * 1j if i == k else v for k, v in enumerate(self.arm.y))
            bent = curve(self.arm.x, y)
            moved = (bent.integral(turn) - bent.integral(since)).imag
            found[name] = (self.sense * moved / _STEP, self.sense * bent.value(turn).imag / _STEP)
        return found


def snail_cable(train: Train) -> SnailCable:
    """The cable of a train whose quadrant has a profile.

    Raises
    ------
    AssemblyError
        Only for a single linkage: the points' turns do not all go one way. Among many, such a one has ``nan``.
    """
    cable = train.rig.cable
    assert cable is not None
    assert cable.profile is not None
    points = list(cable.profile.values())
    names = tuple(cable.profile)[:: 1 if points[-1].turn > points[0].turn else -1]
    turns = [np.radians(train.dims[f"cable.profile.{name}.turn"]) for name in names]
    arms = [train.dims[f"cable.profile.{name}.moment_arm"] for name in names]
    line = SnailCable(curve(turns, arms), SIGN[cable.pull_turns or "ccw"], names, train.middle)
    if all(np.ndim(v) == 0 for v in (*turns, *arms)) and np.isnan(line.arm.y[0]):
        raise AssemblyError("cable, profile: the turns of its points must all rise, or all fall; move the points apart")
    return line
