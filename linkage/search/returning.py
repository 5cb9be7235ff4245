"""Closing torque at every shaft of many candidates at once: the springs by virtual work, less friction."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.closure import Numbers
from linkage.motion.assembly import arm_frame, turn_near
from linkage.parts import SIGN, Spring
from linkage.search.look import Look
from linkage.train import split_pin

Floats = NDArray[np.float64]


def closing_torque(seen: Look) -> Floats:
    """Closing torque [N.mm] at every shaft and position of the travel, (S P, n).

    As :func:`linkage.answers.forces.shaft_torque`, which says the mechanics.
    """
    rig, train, nodes = seen.train.rig, seen.train, seen.nodes
    speed = {name: np.asarray(s)[:nodes] for name, s in seen.slopes.speed.items()}
    closes: Numbers = np.zeros_like(speed[train.driver])
    for name, spring in rig.spring.items():
        torque, member = _torque(seen, name, spring)
        closes = closes - train.opens * torque * speed[member]
    rubs: Numbers = sum(
        (member.friction_torque * np.abs(speed[name]) for name, member in rig.members.items()),
        np.zeros_like(closes),
    )
    found = []
    for name, shaft in rig.shaft.items():
        opening = train.opens * SIGN[shaft.opens] * speed[name]
        found.append(closes / opening - rubs / np.abs(opening))
    return np.concatenate(found)


def _torque(seen: Look, name: str, spring: Spring) -> tuple[Floats, str]:
    """Torque of a spring on its member [N.mm, ccw] (P, n), and the member."""
    train, rig, dims, nodes = seen.train, seen.train.rig, seen.train.dims, seen.nodes
    here = f"spring.{name}."
    if spring.on is not None:
        member = spring.on
        opening = SIGN[rig.shaft[member].opens] if member in rig.shaft else train.opens * train.sense[member]
        drawn: Numbers = train.drawn[member]
        pose = (seen.pose[member][0][:nodes], seen.pose[member][1][:nodes])
        turned = np.degrees(turn_near(pose, drawn + 0.5 * np.pi * opening))
        wound = dims.get(f"{here}preload", 0.0) + dims[f"{here}rate"] * opening * turned
        return np.asarray(-opening * np.maximum(wound, 0.0)), member
    member, arm = split_pin(spring.pulls or "")
    frame = arm_frame(rig, dims, member, arm)
    pose = (seen.pose[member][0][:nodes], seen.pose[member][1][:nodes])
    at = closure.pin(frame, *pose)
    anchor = (dims[f"{here}anchor.x"], dims[f"{here}anchor.y"], dims[f"{here}anchor.z"])
    line = closure.minus(anchor, at)
    length = np.sqrt(closure.dot(line, line))
    stretch = length - dims[f"{here}free_length"]
    pull = np.where(stretch >= 0.0, dims.get(f"{here}initial_tension", 0.0) + dims[f"{here}rate"] * stretch, 0.0)
    return np.asarray(pull * closure.dot(closure.tangent(frame, *pose), line) / length), member
