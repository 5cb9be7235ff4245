"""What acts on a member along its axis, and at which station."""

from __future__ import annotations

from linkage import closure
from linkage.motion import Motion, StopPlace
from linkage.motion.assembly import Joint, arm_frame
from linkage.parts import Linkage


def grip_of(joint: Joint, member: str) -> str:
    """What a joint grips a member by."""
    if joint.step.arms == ("", ""):
        return f"coupling {joint.step.by.name}"
    return f"arm {joint.step.arms[0 if member == joint.step.driving else 1]}"


def station_of(run: Motion, member: str, arm: str) -> float:
    """Station of an arm along its member's axis, from the pivot [mm]."""
    frame = arm_frame(run.rig, run.train.dims, member, arm)
    out = closure.minus(frame.centre, run.rig.turning[member].pivot)
    return float(closure.dot(out, frame.u))


def coupling_station(rig: Linkage, joint: Joint, member: str) -> float:
    """Where a coupling grips one of its two members [mm]."""
    stations = rig.coupling[joint.step.by.name].stations
    return 0.0 if stations is None else stations[rig.coupling[joint.step.by.name].joins.index(member)]


def stop_station(rig: Linkage, stop: StopPlace) -> float:
    """Where a stop acts along its member [mm]."""
    if stop.name in rig.stop:
        return rig.stop[stop.name].station or 0.0
    section = rig.shaft[stop.member].twist
    return (section.stops_at if section is not None else None) or 0.0


def friction_of(rig: Linkage, member: str) -> float:
    """Friction about a member [N.mm]; of a slide that along its guide, as its turn counts it."""
    if member in rig.slide:
        return rig.slide[member].friction * closure.SLIDING
    return rig.turning[member].friction_torque
