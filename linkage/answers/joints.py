"""What each link sees through the travel: transmission angle and rod-end tilt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.closure import Loop
from linkage.motion import Motion
from linkage.motion.assembly import Joint, Pose

Floats = NDArray[np.float64]


def transmission_angles(run: Motion) -> dict[str, Floats]:
    """Transmission angle of every link [deg], 0..180, shape (n,) each.

    Between the link, seen along the driven axis, and the driven arm: 90 is best, 0 or 180 is the
    toggle; so also for a link with a sideways offset.
    """
    found = {}
    for joint in run.train.joints:
        if joint.forward is not None:
            at, there = run.pose[joint.step.driving], run.pose[joint.step.driven]
            rate = closure.rates(_as_it_stands(joint, at, there), *at, *there)
            found[joint.step.by.name] = np.asarray(np.degrees(closure.transmission_angle(rate)))
    return found


def _as_it_stands(joint: Joint, at: Pose, there: Pose) -> Loop:
    """Constants of a link; of a slotted one with the pins as far apart as they stand, wherever in its slot."""
    assert joint.forward is not None
    if not joint.slack or joint.driving is None or joint.driven is None:
        return joint.forward
    apart = closure.minus(closure.pin(joint.driving, *at), closure.pin(joint.driven, *there))
    k0 = joint.forward.k0 + (joint.working**2 - closure.dot(apart, apart)) / (2.0 * joint.forward.r)
    return joint.forward._replace(k0=k0)


def tilts(run: Motion) -> dict[str, tuple[Floats, Floats]]:
    """Rod-end tilt [deg] at both ends of every link, in the order of its ``joins``, shape (n,) each.

    Between the link and the plane square to the ball's bolt, which lies along the member's axis.
    """
    found = {}
    for joint in run.train.joints:
        if joint.driving is None or joint.driven is None:
            continue
        at, there = run.pose[joint.step.driving], run.pose[joint.step.driven]
        line = closure.minus(closure.pin(joint.driving, *at), closure.pin(joint.driven, *there))
        length = np.sqrt(closure.dot(line, line))
        ends = [
            np.degrees(np.arcsin(np.minimum(np.abs(closure.dot(line, arm.u)) / length, 1.0))) * np.ones_like(run.turn)
            for arm in (joint.driving, joint.driven)
        ]
        forward = joint.step.by.joins[0] == f"{joint.step.driving}.{joint.step.arms[0]}"
        found[joint.step.by.name] = (ends[0], ends[1]) if forward else (ends[1], ends[0])
    return found


def lengths(run: Motion) -> dict[str, float]:
    """Centre distance of every link [mm], fitted or given."""
    return {j.step.by.name: float(j.length) for j in run.train.joints if j.forward is not None}


@dataclass(frozen=True, slots=True)
class StationOffset:
    """How far the two ends of a link stand apart along their axes [mm]: as drawn, and the ``largest`` that
    the rod ends' tilt ``limit`` [deg] permits."""

    offset: float
    largest: float
    limit: float


def station_offsets(run: Motion) -> dict[str, StationOffset]:
    """Station offset of every link between parallel axes, drawn and permitted.

    A fitted link grows with its offset: its length seen along the axes stays, so the largest offset is
    that length times tan(limit). A link of given length keeps it: its length times sin(limit). Links
    between axes that are not parallel have no one offset and are left out.
    """
    found = {}
    for joint in run.train.joints:
        if joint.driving is None or joint.driven is None:
            continue
        across = closure.cross(joint.driving.u, joint.driven.u)
        if np.sqrt(closure.dot(across, across)) > 1e-9:
            continue
        name, size = joint.step.by.name, float(joint.length)
        limit = run.rig.link[name].tilt_limit
        limit = run.rig.limits.tilt if limit is None else limit
        offset = abs(float(closure.dot(closure.minus(joint.driving.centre, joint.driven.centre), joint.driven.u)))
        flat = np.sqrt(max(size * size - offset * offset, 0.0))
        angle = np.radians(limit)
        largest = flat * np.tan(angle) if joint.fitted else size * np.sin(angle)
        found[name] = StationOffset(offset, float(largest), limit)
    return found
