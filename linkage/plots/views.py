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
_PAD = 0.035  # of the linkage's size: half of what a guide is wide
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
    """Where every arm leaves its axis [mm] as ``"member.arm"``, shape (3,); a block that slides has none."""
    return {
        f"{name}.{arm}": np.array(arm_frame(run.rig, run.train.dims, name, arm).centre, float)
        for name, member in run.rig.turning.items()
        for arm in member.arm
    }


def slots(run: Motion) -> dict[str, Floats]:
    """Both ends of the slot of every slotted link [mm], where its pin stands at either, shape (n, 2, 3): as made, then
    with the slot. The slot lies at the driven end."""
    found, place = {}, pins(run)
    for joint in run.train.joints:
        if joint.slack and joint.forward is not None:
            one, two = (
                place[f"{member}.{arm}"]
                for member, arm in zip((joint.step.driving, joint.step.driven), joint.step.arms, strict=True)
            )
            way = (two - one) / np.linalg.norm(two - one, axis=-1, keepdims=True)
            ends = [one + float(far) * way for far in (joint.length, joint.working)]
            found[joint.step.by.name] = np.stack(ends, axis=1)
    return found


class Sliding(NamedTuple):
    """A block that slides, as it is drawn [mm]: both ``rails`` of its guide from end to end (2, 2, 3), and its
    four ``corners`` at every position, low end first (n, 4, 3). Sizes are the drawing's own, not the design's."""

    rails: Floats
    corners: Floats


def blocks(run: Motion) -> dict[str, Sliding]:
    """Every block that slides, with its guide, at the positions of a motion."""
    if not run.rig.slide:
        return {}
    known = [*(row[:1] for row in pins(run).values()), *(np.array([m.pivot]) for m in run.rig.turning.values())]
    pad = _PAD * float(np.max(np.ptp(np.concatenate(known), axis=0)))
    whole, found = run.at(np.linspace(*run.ends, 31)).member_turn, {}
    for name, block in run.rig.slide.items():
        origin, along = np.array(block.origin), np.array(block.along)
        across = np.array(closure.cross(block.axis, block.along))
        places = np.array([pin.at for pin in block.pin.values()]) - origin
        level = float(np.mean(places @ np.array(block.axis)))  # the pins' own height above the guide
        start = origin + level * np.array(block.axis)
        low, high = float(np.min(places @ along)) - pad, float(np.max(places @ along)) + pad
        left, right = min(float(np.min(places @ across)), 0.0) - pad, max(float(np.max(places @ across)), 0.0) + pad
        first, last = low + float(np.min(whole[name])) - pad, high + float(np.max(whole[name])) + pad
        rails = np.array([[start + end * along + side * across for end in (first, last)] for side in (-pad, pad)])
        drawn = np.array(
            [start + a * along + b * across for a, b in ((low, left), (low, right), (high, right), (high, left))]
        )
        corners = drawn + run.member_turn[name][:, None, None] * along
        found[name] = Sliding(rails, corners)
    return found


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
    places = [*counted, np.array([member.pivot for member in run.rig.turning.values()])]
    size = np.ptp(np.concatenate(places), axis=0)
    deep = size[2] > _MATERIAL * max(size[0], size[1])
    return ("front", "plan", "side") if skew or deep else ("front",)
