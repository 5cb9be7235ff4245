r"""What each built dimension adds to the turns of the members: analytic, carried link by link down the train.

A dimension moves a pin in its member's own frame: along the arm (its radius), about the axis (its
angle), or bodily (its pivot, which carries the arms with it). From ``|P - q| = L`` of each link
(:func:`linkage.closure.sensitivity`) with the driver held::

    d(driven turn) = (velocity ratio) d(driving turn) + what the dimensions of this link add

A link is made to a length and keeps it: a fitted link to the length that the drawing gives. What
is wrong elsewhere is not fitted away, unless the links are set on the bench.

References
----------
Own derivation from the closure. R. S. Hartenberg and J. Denavit, *Kinematic Synthesis of Linkages*,
McGraw-Hill 1964, ch. 11, mechanical error (chapter from memory).
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.closure import ArmFrame
from linkage.motion import Motion, StopPlace
from linkage.motion.assembly import Joint, Pose, Train, carry, rests, table_of
from linkage.parts import Slide

Floats = NDArray[np.float64]
DimensionKind = Literal[
    "link_length", "arm_radius", "arm_angle", "pivot", "pin", "coupling_offset", "cable", "slot", "gap"
]
Moves = tuple[Floats, Floats, Floats]

_ALONG_Z = 1.0 - 1e-9


@dataclass(frozen=True, slots=True)
class Dimension:
    """One dimension of the built linkage: its dotted ``path`` and what ``kind`` it is.

    Every arm has a radius and an angle, also one that is drawn by its pin; such a one has its pin's
    coordinates besides (another way to say the same, the pivot held).
    """

    path: str
    kind: DimensionKind

    @property
    def unit(self) -> Literal["mm", "deg"]:
        """``"mm"`` or ``"deg"``."""
        return "deg" if self.kind in ("arm_angle", "coupling_offset", "gap") else "mm"


def built_dimensions(train: Train) -> tuple[Dimension, ...]:
    """Every dimension that is made or measured, in file order.

    Links' lengths and slots; of the arms that a link or the cable holds, radius and angle (and the pin's
    coordinates where they are drawn so); pivots' x and y (and z where the axis is not along z); of a
    block that slides, its pins' coordinates, which say where guide and pins are; couplings' offsets and gaps;
    the casing end, or the quadrant's radius or moment arms. A guide's direction is taken as made exactly.
    """
    rig, found = train.rig, []
    held = {pin for link in rig.link.values() for pin in link.joins}
    if rig.cable is not None and rig.cable.pulls is not None:
        held.add(rig.cable.pulls)
    for name, member in rig.members.items():
        at = table_of(rig, name)
        axes = "xy" if abs(member.axis[2]) > _ALONG_Z else "xyz"
        if isinstance(member, Slide):
            pins = [pin for pin in member.pin if f"{name}.{pin}" in held]
            found += [Dimension(f"{at}.pin.{pin}.at.{axis}", "pivot") for pin in pins for axis in axes]
            continue
        found += [Dimension(f"{at}.pivot.{axis}", "pivot") for axis in axes]
        for arm, part in member.arm.items():
            if f"{name}.{arm}" not in held:
                continue
            here = f"{at}.arm.{arm}"
            found += [Dimension(f"{here}.radius", "arm_radius"), Dimension(f"{here}.angle", "arm_angle")]
            if part.pin is not None:
                found += [Dimension(f"{here}.pin.{axis}", "pin") for axis in axes]
    found += [Dimension(f"link.{name}.length", "link_length") for name in rig.link]
    found += [Dimension(f"link.{name}.slot", "slot") for name, link in rig.link.items() if link.slot is not None]
    found += [Dimension(f"coupling.{name}.offset", "coupling_offset") for name in rig.coupling]
    found += [Dimension(f"coupling.{name}.gap", "gap") for name, by in rig.coupling.items() if by.gap is not None]
    if rig.cable is not None and rig.cable.profile is not None:
        found += [Dimension(f"cable.profile.{name}.moment_arm", "cable") for name in rig.cable.profile]
    elif rig.cable is not None and rig.cable.quadrant is not None:
        found.append(Dimension("cable.radius", "cable"))
    elif rig.cable is not None:
        found += [Dimension(f"cable.casing_end.{axis}", "cable") for axis in "xyz"]
    return tuple(found)


def end_shift(run: Motion, stop: StopPlace | None, *, links_set: bool = False) -> Floats:
    """Shift of the driver turn at which a stop is met, per unit of each dimension [deg], shape (D,).

    Nothing for None; ``nan`` for a stop that is never met. ``links_set`` as for :func:`member_turns`.
    """
    if stop is None or not np.isfinite(stop.driver):
        return np.full(len(built_dimensions(run.train)), 0.0 if stop is None else np.nan)
    if run.train.shut is not None and stop.limits == "closing" and any(j.slack for j in run.train.path_to(stop.member)):
        run = dataclasses.replace(run, train=run.train.shut)  # it is the end of the slot that closes which bears
    at = run.at(float(np.degrees(stop.driver)))
    with np.errstate(divide="ignore", invalid="ignore"):
        turned = member_turns(at, links_set=links_set)[stop.member][:, 0]
        return np.asarray(-turned / at.speed[stop.member][0])


def member_turns(run: Motion, *, links_set: bool = False) -> dict[str, Floats]:
    """Every member's turn [deg] per unit of each dimension, the driver held, shape (D, n).

    With ``links_set`` every link is made longer or shorter by what brings its two ends to stand as
    drawn, so that only what is left elsewhere in the travel counts, and no link's length.

    A member that slack is not yet taken up to rests on its stop, which no dimension on the way to it moves.
    """
    train, listed = run.train, built_dimensions(run.train)
    found = {train.driver: np.zeros((len(listed), run.turn.size))}
    for joint in train.joints:
        driving, driven = joint.step.driving, joint.step.driven
        moved = _handed_on(train, listed, joint, (run.pose[driving], run.pose[driven]), found[driving], links_set)
        if joint.slack:
            bears = joint.bears(joint.driving_turn(run.pose[driving]))
            moved = np.where(bears, moved, _rest_moves(train, listed, joint, links_set)[:, None])
        found[driven] = moved
    return found


def _handed_on(
    train: Train,
    listed: tuple[Dimension, ...],
    joint: Joint,
    poses: tuple[Pose, Pose],
    before: Floats,
    links_set: bool,
) -> Floats:
    """Turn [deg] of what a joint drives per unit of each dimension, (D, n), from that of what drives it ``before``."""
    row = {dimension.path: i for i, dimension in enumerate(listed)}
    driving, driven = joint.step.driving, joint.step.driven
    if joint.driving is None or joint.driven is None:
        carried = joint.ratio * before
        forward = joint.step.by.joins[0] == driving
        carried[row[f"coupling.{joint.step.by.name}.offset"]] += 1.0 if forward else -joint.ratio
        if joint.slack:
            carried[row[f"coupling.{joint.step.by.name}.gap"]] -= train.opens * train.sense[driven]
        return np.asarray(carried)
    here = closure.sensitivity(joint.driving, joint.driven, *poses[0], *poses[1])
    moves = (
        pin_moves(train, listed, driving, joint.step.arms[0], joint.driving),
        pin_moves(train, listed, driven, joint.step.arms[1], joint.driven),
    )
    length = row[f"link.{joint.step.by.name}.length"]
    added = _added(here, moves, length)
    if links_set:
        as_drawn = (*closure.drawn_pose(joint.driving), *closure.drawn_pose(joint.driven))
        drawn = closure.sensitivity(joint.driving, joint.driven, *as_drawn)
        added -= np.multiply.outer(_added(drawn, moves, length) / drawn.length, here.length)
    if joint.slack:
        added[row[f"link.{joint.step.by.name}.slot"]] += np.sign(joint.slot) * here.length
    return np.asarray(here.driving_angle * before + np.degrees(added))


def _rest_moves(train: Train, listed: tuple[Dimension, ...], joint: Joint, links_set: bool) -> Floats:
    """Turn [deg] at which what a slack joint drives rests, per unit of each dimension, shape (D,).

    Nothing where its own stop holds it; else that of the links between it and the stop.
    """
    none, root = np.zeros(len(listed)), joint.step.driven
    assert train.shut is not None
    opening = float(train.opens * train.sense[root])
    _, member, _ = max(rests(train.shut, joint), key=lambda row: opening * float(row[2]), default=("", root, 0.0))
    way = train.path_to(member)[len(train.path_to(root)) :]
    if any(other.slack for other in way):
        return none
    pose, moved, speed = closure.pose_of(np.array([joint.rest]), train.slides(root)), none[:, None], np.ones(1)
    for other in way:
        there = carry(other, pose)
        moved = _handed_on(train, listed, other, (pose, there), moved, links_set)
        ratio = other.ratio if other.forward is None else closure.rates(other.forward, *pose, *there).ratio
        pose, speed = there, speed * ratio
    return np.asarray(-moved[:, 0] / speed) if way else none


def _added(here: closure.Sensitivity, moves: tuple[Moves, Moves], length: int) -> Floats:
    """Turn [rad] of a link's driven member, its driving one held, per unit of each dimension, shape (D, ...)."""
    (radius, angle, centre), (there_radius, there_angle, there_centre) = moves
    added = (
        np.multiply.outer(radius, here.driving_radius)
        + np.multiply.outer(angle, here.driving_angle)
        + np.multiply.outer(there_radius, here.driven_radius)
        + np.multiply.outer(there_angle, here.driven_angle)
    )
    for i in range(3):
        added += np.multiply.outer(centre[:, i], here.driving_centre[i])
        added += np.multiply.outer(there_centre[:, i], here.driven_centre[i])
    added[length] += here.length
    return np.asarray(added)


def pin_moves(train: Train, listed: tuple[Dimension, ...], member: str, arm: str, frame: ArmFrame) -> Moves:
    """How each dimension moves one pin as drawn: along its arm [mm], about its axis [rad], with its circle [mm]."""
    radius, angle, centre = np.zeros(len(listed)), np.zeros(len(listed)), np.zeros((len(listed), 3))
    at = table_of(train.rig, member)
    here = f"{at}.pin.{arm}.at" if frame.slides else f"{at}.arm.{arm}"
    by_angle = train.rig.members[member].arm[arm].pin is None
    for i, dimension in enumerate(listed):
        path = dimension.path
        if path == f"{here}.radius":
            radius[i] = 1.0
        elif path == f"{here}.angle":  # an angle as drawn counts from +x to +y, whichever way the axis points
            angle[i] = np.radians(frame.u[2] if by_angle else 1.0)
        elif path.startswith(f"{here}.pin."):
            axis = "xyz".index(path[-1])
            radius[i], angle[i] = frame.e1[axis], frame.e2[axis] / frame.r
            centre[i] = [frame.u[axis] * u for u in frame.u]
        elif path.startswith(f"{here}." if frame.slides else f"{at}.pivot."):
            centre[i, "xyz".index(path[-1])] = 1.0
    return radius, angle, centre
