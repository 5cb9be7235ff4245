r"""The pedal: what the foot moves against what the linkage takes, in one place for every kind of pedal.

::

      by its ratio      pad = (cable + free play) x ratio

                            pad                     the casing is fixed, the foot turns the pedal and draws the
      a bell crank           \                      inner cable out of it:
                              \  r_pad                  run(turn) = run(rest) + cable + free play
        casing end . . . . pin o                        pad       = r_pad x turn
                                                        d(pad)/d(cable) = r_pad / arm of the cable about the pedal

      the driver itself      pad = r_pad x turn     (a train of push-rods; no cable)

The pad's travel is its arc about the pivot, and the foot presses square to the pad's arm, so by virtual
work the force at the pad is what it moves divided by d(pad)/d(what it moves).

Every pedal is asked by what it has ``moved``: cable travel [mm] from the closing stop, or, of the pedal
that is the driver, the driver's opening turn [rad] from there. ``nan`` where it cannot move so much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkage.closure import ArmFrame, Numbers
from linkage.motion.assembly import Dimensions, Pose, Train, arm_frame
from linkage.motion.cable import PinCable
from linkage.parts import SIGN, Pedal
from linkage.train import split_pin

_AT_REST: Pose = (1.0, 0.0)
_ASIDE = 1e-6  # [rad] a look this far down the pedal's way tells on which side of the dead centre it stands


@dataclass(frozen=True, eq=False)
class RatioPedal:
    """A pedal by its ratio: pad travel for each of cable, the same everywhere."""

    ratio: Numbers
    slack: Numbers
    room: Numbers | None = None
    stop: None = None

    def pad(self, moved: Numbers) -> Numbers:
        """Pad travel [mm] from rest."""
        return (moved + self.slack) * self.ratio

    def rate(self, moved: Numbers) -> Numbers:
        """d(pad)/d(moved)."""
        return self.ratio * np.ones_like(moved)

    def moved_at(self, pad: Numbers) -> Numbers:
        """What has moved when the pad has travelled so far [mm]."""
        return pad / self.ratio - self.slack


@dataclass(frozen=True, eq=False)
class CrankPedal:
    """A pedal that pulls the cable by an arm of its own, in its own side view.

    ``sense`` is +1 where it turns ccw under the foot; ``radius`` [mm] is the pad's; ``stop`` and ``room`` [mm]
    are the pad travel to the pedal stop and to the floor, None where none is given.
    """

    line: PinCable
    radius: Numbers
    sense: float
    slack: Numbers
    stop: Numbers | None = None
    room: Numbers | None = None

    @property
    def pulls(self) -> Numbers:
        """Whether the foot draws the cable out of its casing: the run grows as the pedal leaves its rest."""
        return self.drawn_out(self.pose(_ASIDE)) > 0.0

    def pose(self, turn: Numbers) -> Pose:
        """Pose of the pedal at a turn [rad] under the foot."""
        return np.cos(turn), np.sin(self.sense * turn)

    def drawn_out(self, pose: Pose) -> Numbers:
        """Inner cable drawn out of the casing [mm] since rest."""
        return self.line.run(pose) - self.line.run(_AT_REST)

    def turn(self, moved: Numbers) -> Numbers:
        """Turn of the pedal from rest [rad], positive under the foot; ``nan`` past the dead centre of the cable."""
        near = self.pose(_ASIDE)
        with np.errstate(invalid="ignore", divide="ignore"):
            c, s = self.line.pose_at(-(moved + self.slack), _AT_REST, near)
            turn = np.where(moved + self.slack == 0.0, 0.0, self.sense * np.arctan2(s, c))
            return np.where(turn < -_ASIDE, np.nan, turn)[()]

    def pad(self, moved: Numbers) -> Numbers:
        """Pad travel [mm] from rest, along its arc."""
        return self.radius * self.turn(moved)

    def rate(self, moved: Numbers) -> Numbers:
        """d(pad)/d(cable): the ratio of the pedal at that place."""
        with np.errstate(invalid="ignore", divide="ignore"):
            arm = -self.sense * self.line.moment_arm(self.pose(self.turn(moved)))
            return np.where(arm > 0.0, self.radius / arm, np.nan)[()]

    def moved_at(self, pad: Numbers) -> Numbers:
        """Cable travel [mm] from the closing stop when the pad has travelled so far [mm]."""
        return self.drawn_out(self.pose(pad / self.radius)) - self.slack


@dataclass(frozen=True, eq=False)
class DriverPedal:
    """A pedal that is the driver of the train: the pad's ``radius`` [mm] about the driver's axis.

    ``stop`` and ``room`` [mm] are pad travel, from the closing stop, to the pedal stop and to the floor.
    """

    radius: Numbers
    stop: Numbers | None = None
    room: Numbers | None = None

    def turn(self, moved: Numbers) -> Numbers:
        """Turn of the pedal from the closing stop [rad], positive under the foot."""
        return moved

    def pad(self, moved: Numbers) -> Numbers:
        """Pad travel [mm] from the closing stop, along its arc."""
        return self.radius * moved

    def rate(self, moved: Numbers) -> Numbers:
        """d(pad)/d(driver turn) [mm/rad]."""
        return self.radius * np.ones_like(moved)

    def moved_at(self, pad: Numbers) -> Numbers:
        """Driver turn [rad] from the closing stop when the pad has travelled so far [mm]."""
        return pad / self.radius


PedalLine = RatioPedal | CrankPedal | DriverPedal


def pedal_line(train: Train, closing: Numbers) -> PedalLine | None:
    """The pedal of an assembled train with its numbers; None without one, or where there is nothing for it to pull.

    Parameters
    ----------
    train : Train
        Of one linkage, or of many: then the numbers are arrays.
    closing : float or ndarray
        Driver turn [rad] at the closing stop.
    """
    pedal, dims = train.rig.pedal, train.dims
    if pedal is None:
        return None
    if pedal.pad is not None and train.rig.cable is None:
        radius = arm_frame(train.rig, dims, *split_pin(pedal.pad)).r
        rest = train.opens * closing  # the places of stop and floor are told from the drawn position
        stop, floor = (_turned(dims, name, radius, rest) for name in ("stop", "floor"))
        return DriverPedal(radius, stop, floor)
    if train.rig.cable is None or pedal.pad is not None:
        return None
    slack = dims["cable.free_play"]
    if pedal.pivot is None:
        return RatioPedal(dims["pedal.ratio"], slack, dims.get("pedal.travel"))
    hooked = _arm(pedal, dims, "cable")
    casing = (dims["pedal.casing_end.x"], dims["pedal.casing_end.y"], dims["pedal.casing_end.z"])
    line = PinCable(ArmFrame(casing, (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), hooked.u, 0.0), hooked)
    radius = _arm(pedal, dims, "pad").r
    stop, floor = (_turned(dims, name, radius, 0.0) for name in ("stop", "floor"))
    return CrankPedal(line, radius, SIGN[pedal.opens or "ccw"], slack, stop, floor)


def _turned(dims: Dimensions, name: str, radius: Numbers, rest: Numbers) -> Numbers | None:
    """Pad travel [mm] from rest to the pedal stop or to the floor; None where none is given."""
    turn = dims.get(f"pedal.{name}")
    return None if turn is None else radius * (np.radians(turn) - rest)


def _arm(pedal: Pedal, dims: Dimensions, name: str) -> ArmFrame:
    """Frame of an arm of the pedal [mm] in its own side view, as drawn at rest."""
    here = f"pedal.arm.{name}"
    x, y, z = (dims[f"pedal.pivot.{axis}"] for axis in "xyz")
    if pedal.arm[name].pin is None:
        angle, r = np.radians(dims[f"{here}.angle"]), dims[f"{here}.radius"]
        cos, sin, z = np.cos(angle), np.sin(angle), z + dims[f"{here}.station"]
    else:
        across, up, z = dims[f"{here}.pin.x"] - x, dims[f"{here}.pin.y"] - y, dims[f"{here}.pin.z"]
        r = np.hypot(across, up)
        cos, sin = across / r, up / r
    return ArmFrame((x, y, z), (cos, sin, 0.0), (-sin, cos, 0.0), (0.0, 0.0, 1.0), r)
