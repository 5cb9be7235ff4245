"""Which way a linkage is looked at, and where its pins stand there.

::

          plan (from above)          front: x right, y up, z towards you
          x right, z down            plan:  as seen looking down the y axis
      +-----------+-----------+      side:  as seen from the right, looking along -x: z left, y up
      |   front   |   side    |
      +-----------+-----------+
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage import closure
from linkage.motion import Motion
from linkage.motion.assembly import arm_frame
from linkage.parts import Point
from linkage.quantities import own_scale

Floats = NDArray[np.float64]
ViewName = Literal["front", "plan", "side"]

_END_ON = math.cos(math.radians(2.0))  # an axis within two degrees of the line of sight is seen end-on
_MATERIAL = 0.04  # of the picture's size: less depth than this needs no further view


class View(NamedTuple):
    """A line of sight: the picture's ``right`` and ``up`` in the design's frame, ``out`` towards the eye."""

    name: ViewName
    right: Point
    up: Point
    out: Point
    axes: tuple[str, str, str]
    seen: str


VIEWS: dict[str, View] = {
    "front": View("front", (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), ("x", "y", "z"), "Front view"),
    "plan": View("plan", (1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), ("x", "-z", "y"), "Plan"),
    "side": View("side", (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0), ("-z", "y", "x"), "Side view"),
}


def view_named(name: str) -> View:
    """The view of a name; ValueError names the known ones."""
    if name not in VIEWS:
        raise ValueError(f'view: must be "front", "plan" or "side", got {name!r}')
    return VIEWS[name]


def flat(view: View, points: ArrayLike, units: str) -> Floats:
    """Points (..., 3) [mm] as seen: (..., 2) in the design's own length unit."""
    space = np.asarray(points, float)
    onto = np.array([view.right, view.up]).T
    return np.asarray(space @ onto / own_scale(units, "length"))


def end_on(view: View, axis: Point) -> bool:
    """Whether an axis (unit vector) is looked along, to two degrees."""
    return bool(abs(closure.dot(axis, view.out)) > _END_ON)


def pins(run: Motion) -> dict[str, Floats]:
    """Place of every arm's pin [mm] as ``"member.arm"``, shape (n, 3) over the positions."""
    found = {}
    for name, member in run.rig.members.items():
        c, s = run.pose[name]
        for arm in member.arm:
            frame = arm_frame(run.rig, run.train.dims, name, arm)
            found[f"{name}.{arm}"] = np.stack(
                [np.broadcast_to(x, run.turn.shape) for x in closure.pin(frame, c, s)], axis=-1
            )
    return found


def hubs(run: Motion) -> dict[str, Floats]:
    """Where every arm leaves its axis [mm] as ``"member.arm"``, shape (3,)."""
    return {
        f"{name}.{arm}": np.array(arm_frame(run.rig, run.train.dims, name, arm).centre, float)
        for name, member in run.rig.members.items()
        for arm in member.arm
    }


def bore_axis(axis: Point) -> Point:
    """The direction bores are drawn in, square to a shaft: upright, or towards the eye for an upright shaft."""
    for wish in ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)):
        along = closure.dot(wish, axis)
        left = (wish[0] - along * axis[0], wish[1] - along * axis[1], wish[2] - along * axis[2])
        size = math.sqrt(closure.dot(left, left))
        if size > 0.5:
            return (left[0] / size, left[1] / size, left[2] / size)
    raise AssertionError("an axis is square to y or to z")


def views_needed(run: Motion, *, every_arm: bool = True) -> tuple[ViewName, ...]:
    """The front view alone, or all three where an axis is not along z or parts stand at different depths.

    Without ``every_arm`` only pivots and the pins that links join count, not those of cable and springs.
    """
    members = run.rig.members.values()
    joined = {pin for link in run.rig.link.values() for pin in link.joins}
    skew = any(abs(member.axis[2]) < _END_ON for member in members)
    moving = pins(run.at_fraction([0.0, 1.0]))
    counted = [where for name, where in moving.items() if every_arm or name in joined]
    places = [*counted, np.array([member.pivot for member in members])]
    size = np.ptp(np.concatenate(places), axis=0)
    deep = size[2] > _MATERIAL * max(size[0], size[1])
    return ("front", "plan", "side") if skew or deep else ("front",)
