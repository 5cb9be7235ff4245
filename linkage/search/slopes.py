r"""What dimensions do to the turns of all members, for many linkages at once; analytic.

A dimension moves a pin in its member's own frame: along the arm, about the axis, or bodily. From
``|P - q| = L`` of each link (:func:`linkage.closure.sensitivity`)::

    d(driven turn) = (velocity ratio) d(driving turn) + what the dimensions of this link add

A link without a length follows the drawing, so its length moves with the dimensions that it is drawn
to. The dimensions of a design move what the file says: an arm drawn by its pin keeps the pin where it
is when the pivot moves, and one that is given by radius and angle goes along.

Arrays are (m, n), m positions of n linkages; slopes (d, m, n), in rad per mm or per degree.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.closure import ArmFrame, Numbers, Vector
from linkage.motion import Train
from linkage.motion.assembly import Joint, Pose, table_of

Floats = NDArray[np.float64]

_RADIAN = float(np.radians(1.0))


class Move(NamedTuple):
    """How one dimension moves one pin as drawn: along its arm [mm], about its axis [rad], with its circle [mm]."""

    radius: Numbers
    angle: Numbers
    centre: Vector


class Slopes(NamedTuple):
    """Of every member: the turn by each dimension with the driver held, and by the driver's turn (m, n)."""

    held: Mapping[str, Floats]
    speed: Mapping[str, Numbers]


def pin_move(train: Train, path: str, member: str, arm: str, frame: ArmFrame, *, as_built: bool = False) -> Move | None:
    """How a dimension of the design moves a pin of it; None where it does not.

    ``as_built`` every pivot takes all its arms along.
    """
    at = table_of(train.rig, member)
    if frame.slides:
        if not path.startswith(f"{at}.pin.{arm}.at."):
            return None
        x, y, z = (float(axis == path[-1]) for axis in "xyz")
        return Move(0.0, 0.0, (x, y, z))
    here = f"{at}.arm.{arm}"
    drawn_by_pin = train.rig.members[member].arm[arm].pin is not None
    still = (0.0, 0.0, 0.0)
    if path == f"{here}.radius":
        return Move(1.0, 0.0, still)
    if path == f"{here}.angle":  # counts from +x to +y, whichever way the axis points
        return Move(0.0, _RADIAN * (1.0 if drawn_by_pin else frame.u[2]), still)
    if path == f"{here}.station":
        return Move(0.0, 0.0, (0.0, 0.0, frame.u[2]))
    if path.startswith(f"{here}.pin."):
        axis = "xyz".index(path[-1])
        along = frame.u[axis]
        centre = (along * frame.u[0], along * frame.u[1], along * frame.u[2])
        return Move(frame.e1[axis], frame.e2[axis] / frame.r, centre)
    if path.startswith(f"{at}.pivot."):
        axis = "xyz".index(path[-1])
        way = [float(i == axis) for i in range(3)]
        if as_built or not drawn_by_pin:
            return Move(0.0, 0.0, (way[0], way[1], way[2]))
        x, y, z = (way[i] - frame.u[axis] * frame.u[i] for i in range(3))
        return Move(-frame.e1[axis], -frame.e2[axis] / frame.r, (x, y, z))
    return None


def slopes(train: Train, pose: Mapping[str, Pose], paths: Sequence[str], *, as_built: bool = False) -> Slopes:
    """Slopes of every member's turn at the poses of a walk; ``paths`` are d dotted paths of the design.

    ``as_built`` the dimensions are errors of made parts: pivots take all arms along, and every link is
    set so that its two ends stand as drawn.
    """
    one = np.ones_like(pose[train.driver][0])
    held = {train.driver: np.zeros((len(paths), *one.shape))}
    speed: dict[str, Numbers] = {train.driver: one}
    for joint in train.joints:
        driving, driven = joint.step.driving, joint.step.driven
        if joint.driving is None or joint.driven is None:
            held[driven], speed[driven] = joint.ratio * held[driving], joint.ratio * speed[driving]
            name = f"coupling.{joint.step.by.name}.offset"
            if name in paths:
                forward = joint.step.by.joins[0] == driving
                held[driven][paths.index(name)] += _RADIAN * (1.0 if forward else -joint.ratio)
            continue
        here = closure.sensitivity(joint.driving, joint.driven, *pose[driving], *pose[driven])
        carried = here.driving_angle * held[driving]
        _add(carried, train, joint, paths, here, as_built)
        held[driven], speed[driven] = carried, here.driving_angle * speed[driving]
    return Slopes(held, speed)


def _add(
    to: Floats, train: Train, joint: Joint, paths: Sequence[str], here: closure.Sensitivity, as_built: bool
) -> None:
    """Add what each dimension does at this link."""
    assert joint.driving is not None
    assert joint.driven is not None
    follows = as_built or joint.fitted
    as_drawn = (*closure.drawn_pose(joint.driving), *closure.drawn_pose(joint.driven))
    drawn = closure.sensitivity(joint.driving, joint.driven, *as_drawn) if follows else None
    for i, path in enumerate(paths):
        if path == f"link.{joint.step.by.name}.length":
            to[i] += here.length
            continue
        first = pin_move(train, path, joint.step.driving, joint.step.arms[0], joint.driving, as_built=as_built)
        second = pin_move(train, path, joint.step.driven, joint.step.arms[1], joint.driven, as_built=as_built)
        if first is None and second is None:
            continue
        to[i] += _moved(here, first, second)
        if drawn is not None:  # the length that keeps both ends as drawn
            to[i] -= _moved(drawn, first, second) / drawn.length * here.length


def _moved(here: closure.Sensitivity, first: Move | None, second: Move | None) -> Numbers:
    """Driven turn [rad] per unit of a dimension that moves the one end, the other or both."""
    found: Numbers = 0.0
    if first is not None:
        found = found + first.radius * here.driving_radius + first.angle * here.driving_angle
        found = found + closure.dot(first.centre, here.driving_centre)
    if second is not None:
        found = found + second.radius * here.driven_radius + second.angle * here.driven_angle
        found = found + closure.dot(second.centre, here.driven_centre)
    return found


def pin_slope(frame: ArmFrame, move: Move | None, turned: Floats, c: Numbers, s: Numbers) -> tuple[Floats, ...]:
    """Slope of a pin's place, three components (m, n), by one dimension that moves it as drawn and has
    ``turned`` its member (m, n) [rad]."""
    place = closure.pin(frame, c, s)
    out = closure.minus(place, frame.centre)
    radius, angle, centre = move if move is not None else Move(0.0, 0.0, (0.0, 0.0, 0.0))
    around = closure.tangent(frame, c, s)
    return tuple(centre[i] + radius * out[i] / frame.r + (angle + turned) * around[i] for i in range(3))
