"""Putting the parts together: every link's closure constants, in the order of the train.

All numbers come from one flat table of dimensions (:func:`linkage.parts.dimensions`), so a value
may be a float or an array: with arrays of shape ``(n, 1)`` the same lines assemble n linkages.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from linkage import closure
from linkage.closure import ArmFrame, Loop, Numbers
from linkage.errors import AssemblyError
from linkage.parts import SIGN, Linkage, dimensions
from linkage.train import Step, order, split_pin

Pose = tuple[Numbers, Numbers]  # cosine and sine of a member's turn from the drawn position
Dimensions = Mapping[str, Numbers]

_DRAWN: Pose = (1.0, 0.0)
_ON_A_LINE = 1e-9  # sine of the transmission angle below which a drawn link has no branch
_STILL = 1e-9  # a member slower than this against the driver stands at a dead centre


@dataclass(frozen=True, eq=False)
class Joint:
    """A step of the train with its geometry.

    For a coupling only ``ratio``, ``offset`` [rad] and ``middle`` count: its driving member is
    followed half a turn either side of the turn ``middle`` [rad].
    """

    step: Step
    ratio: Numbers = 1.0
    offset: Numbers = 0.0
    middle: Numbers = 0.0
    length: Numbers = 0.0
    fitted: bool = False
    driving: ArmFrame | None = None
    driven: ArmFrame | None = None
    forward: Loop | None = None
    backward: Loop | None = None

    @property
    def parallel(self) -> bool:
        """Whether a link joins members whose axes are parallel, and point the same way or against each other."""
        if self.driving is None or self.driven is None:
            return False
        across = closure.cross(self.driving.u, self.driven.u)
        return bool(closure.dot(across, across) < 1e-24)


@dataclass(frozen=True, eq=False)
class Train:
    """An assembled linkage: its ``joints`` in driving order, and which driver turn ``opens`` (+1 ccw).

    ``drawn`` is every member's turn [rad] at the driver's drawn position (not 0 where a link's length
    is given), ``sense`` the sign of its turn against the driver's there; ``shaft_opens`` says which
    driver turn opens each shaft. ``whole`` is whether every link closes there.
    """

    rig: Linkage
    dims: Dimensions
    joints: tuple[Joint, ...]
    opens: Numbers
    drawn: Mapping[str, Numbers]
    sense: Mapping[str, Numbers]
    shaft_opens: Mapping[str, Numbers]
    whole: Numbers

    @property
    def driver(self) -> str:
        """Name of the driven-first member."""
        return self.rig.driver

    @property
    def middle(self) -> Numbers:
        """The driver turn [rad] half a turn either side of which the driver is followed."""
        return 0.5 * np.pi * self.opens

    def path_to(self, member: str) -> tuple[Joint, ...]:
        """The joints between the driver and a member, nearest the driver first."""
        by_driven = {joint.step.driven: joint for joint in self.joints}
        path: list[Joint] = []
        while member != self.driver:
            path.append(by_driven[member])
            member = path[-1].step.driving
        return tuple(reversed(path))


def table_of(rig: Linkage, member: str) -> str:
    """``"shaft.left"`` for ``"left"``: where a member stands in the design file."""
    return f"{'shaft' if member in rig.shaft else 'bellcrank'}.{member}"


def arm_frame(rig: Linkage, dims: Dimensions, member: str, arm: str) -> ArmFrame:
    """Frame of an arm [mm] from the table of dimensions, as drawn."""
    at = table_of(rig, member)
    part = rig.members[member]
    u = part.axis
    pivot = (dims[f"{at}.pivot.x"], dims[f"{at}.pivot.y"], dims[f"{at}.pivot.z"])
    here = f"{at}.arm.{arm}"
    if part.arm[arm].pin is None:
        angle = np.radians(dims[f"{here}.angle"])
        cos, sin = np.cos(angle), np.sin(angle)
        station = dims[f"{here}.station"]
        centre = (pivot[0], pivot[1], pivot[2] + station * u[2])
        e2 = (-u[2] * sin, u[2] * cos, 0.0)  # such an arm stands on an axis along z
        return ArmFrame(centre, (cos, sin, 0.0), e2, u, dims[f"{here}.radius"])
    place = (dims[f"{here}.pin.x"], dims[f"{here}.pin.y"], dims[f"{here}.pin.z"])
    out = closure.minus(place, pivot)
    along = closure.dot(out, u)
    radial = closure.minus(out, (along * u[0], along * u[1], along * u[2]))
    r = np.sqrt(closure.dot(radial, radial))
    e1 = (radial[0] / r, radial[1] / r, radial[2] / r)
    return ArmFrame(closure.minus(place, radial), e1, closure.cross(u, e1), u, r)


def assemble(rig: Linkage, dims: Dimensions | None = None) -> Train:
    """Assemble a linkage at the driver's drawn position.

    Parameters
    ----------
    rig : Linkage
        The topology; and the dimensions, unless ``dims`` gives others.
    dims : mapping of str to float or ndarray, optional
        Table of dimensions [mm, deg] by dotted path. A link whose ``length`` is not in it is fitted.

    Raises
    ------
    AssemblyError
        Only for a single linkage (all floats): a link cannot reach, or is drawn at a dead point.
        Among many, such a one has ``nan`` everywhere.
    """
    dims = dimensions(rig) if dims is None else dims
    pose: dict[str, Pose] = {rig.driver: _DRAWN}
    joints: list[Joint] = []
    whole: Numbers = True
    for step in order(rig):
        name = step.by.name
        if step.arms == ("", ""):
            turned = step.by.joins[0] != step.driving  # drives from the second member to the first
            ratio, offset = dims[f"coupling.{name}.ratio"], np.radians(dims[f"coupling.{name}.offset"])
            if np.ndim(ratio) == 0 and ratio == 0.0:
                raise AssemblyError(f'coupling "{name}": the ratio must not be 0; write 1.0 or -1.0')
            whole = whole & (np.asarray(ratio) != 0.0)
            with np.errstate(divide="ignore", invalid="ignore"):
                joint = Joint(step, 1.0 / ratio, -offset / ratio) if turned else Joint(step, ratio, offset)
        else:
            driving = arm_frame(rig, dims, step.driving, step.arms[0])
            driven = arm_frame(rig, dims, step.driven, step.arms[1])
            joint = _linked(step, driving, driven, dims.get(f"link.{name}.length"))
        joints.append(joint)
        with np.errstate(invalid="ignore", divide="ignore"):
            there = carry(joint, pose[step.driving])
        whole = whole & np.isfinite(there[0])
        _check_reach(joint, pose[step.driving], there)
        # a link fitted between arms that both stand as drawn
        pose[step.driven] = _DRAWN if joint.fitted and pose[step.driving] is _DRAWN else there
    drawn = {name: 0.0 if at is _DRAWN else np.arctan2(at[1], at[0]) for name, at in pose.items()}
    opens, sense = _senses(rig, dims, tuple(joints), pose)
    shaft_opens = {name: sense[name] * SIGN[shaft.opens] for name, shaft in rig.shaft.items()}
    both = tuple(_both_ways(joint, opens, drawn, sense) for joint in joints)
    return Train(rig, dims, both, opens, drawn, sense, shaft_opens, whole)


def _linked(step: Step, driving: ArmFrame, driven: ArmFrame, length: Numbers | None) -> Joint:
    drawn = closure.drawn_length(driving, driven)
    used = drawn if length is None else length
    with np.errstate(invalid="ignore", divide="ignore"):
        trial = closure.loop(driving, driven, used, 1.0)
        across = trial.g2 + trial.p2  # the branch, as drawn, has the sign of -w2
        branch = np.where(np.abs(across) <= _ON_A_LINE * drawn, np.nan, -np.sign(across))[()]
    forward = trial._replace(branch=branch)
    return Joint(step, length=used, fitted=length is None, driving=driving, driven=driven, forward=forward)


def _both_ways(joint: Joint, opens: Numbers, drawn: Mapping[str, Numbers], sense: Mapping[str, Numbers]) -> Joint:
    """The joint made ready to run backwards, on the drawn side of its dead centre, and past half a turn."""
    driving, driven = joint.step.driving, joint.step.driven
    if joint.forward is None or joint.driving is None or joint.driven is None:
        return replace(joint, middle=drawn[driving] + 0.5 * np.pi * opens * sense[driving])
    # the link's ends move alike along it: r1 S1 dtheta = -r2 S2 dphi, S1 and S2 signed by the branches
    branch = -joint.forward.branch * sense[driving] * sense[driven]
    return replace(joint, backward=closure.backwards(joint.forward, joint.driving.r, branch))


#: how the error of a link that cannot reach ends, where its length was given
OR_FITTED = ", or leave length out to have it fitted"


def _check_reach(joint: Joint, at: Pose, there: Pose) -> None:
    """Raise for a single linkage whose link cannot be fitted at the driver's drawn position."""
    link = joint.forward
    if link is None or joint.driving is None or joint.driven is None:
        return
    if np.ndim(there[0]) or np.isfinite(there[0]):
        return
    name, (driving, driven) = joint.step.by.name, joint.step.by.joins
    if np.isnan(link.branch):
        raise AssemblyError(
            f'link "{name}": drawn at a dead point: the arm "{joint.step.driven}.{joint.step.arms[1]}" points '
            f"along the link, so it could turn either way; draw that arm at another angle",
            link=name,
        )
    least, most = reach(joint, at)
    if joint.length < least:
        says, by = "too short", least - joint.length
    else:
        says, by = "too long", joint.length - most
    raise AssemblyError(
        f'link "{name}": {joint.length:.4g} mm is {says} by {by:.3g} mm to join "{driving}" and "{driven}" '
        f"in the drawn position; a length from {least:.4f} to {most:.4f} mm reaches"
        + ("" if joint.fitted else OR_FITTED),
        link=name,
        short_by=float(by),
    )


def reach(joint: Joint, at: Pose) -> tuple[Numbers, Numbers]:
    """Shortest and longest length [mm] with which a link could close when its driving member stands ``at``."""
    assert joint.driving is not None
    assert joint.driven is not None
    w = closure.minus(closure.pin(joint.driving, *at), joint.driven.centre)
    along = closure.dot(w, joint.driven.u)
    rho = np.sqrt(np.maximum(closure.dot(w, w) - along * along, 0.0))
    r = joint.driven.r
    return np.hypot(rho - r, along), np.hypot(rho + r, along)


def carry(joint: Joint, at: Pose) -> Pose:
    """Pose of the driven member when the driving one stands ``at``."""
    if joint.forward is not None:
        return closure.close(joint.forward, *at)
    return _coupled(at, joint.ratio, joint.offset, joint.middle)


def carry_back(joint: Joint, there: Pose, *, branch: Numbers = 1.0) -> Pose:
    """Pose of the driving member when the driven one stands ``there``: the closure run backwards.

    ``branch`` -1 takes the solution on the far side of the driving arm's dead centre.
    """
    if joint.backward is not None:
        return closure.close(joint.backward._replace(branch=branch * joint.backward.branch), *there)
    middle = joint.ratio * joint.middle + joint.offset
    return _coupled(there, 1.0 / joint.ratio, -joint.offset / joint.ratio, middle)


def turn_near(pose: Pose, middle: Numbers) -> Numbers:
    """Turn [rad] of a pose, the one within half a turn of ``middle``."""
    c, s = np.cos(middle), np.sin(middle)
    return middle + np.arctan2(pose[1] * c - pose[0] * s, pose[0] * c + pose[1] * s)


def _coupled(at: Pose, ratio: Numbers, offset: Numbers, middle: Numbers) -> Pose:
    turn = turn_near(at, middle) * ratio + offset
    return np.cos(turn), np.sin(turn)


def walk(train: Train, driver: Pose) -> dict[str, Pose]:
    """Pose of every member for the driver's; ``nan`` beyond a link that cannot reach."""
    pose = {train.driver: driver}
    with np.errstate(invalid="ignore", divide="ignore"):
        for joint in train.joints:
            pose[joint.step.driven] = carry(joint, pose[joint.step.driving])
    return pose


def gains(train: Train, pose: Mapping[str, Pose]) -> dict[str, tuple[Numbers, Numbers]]:
    """First and second derivative of every member's turn by the driver's [-, 1/rad]."""
    return _gains(train.driver, train.joints, pose)


def _gains(driver: str, joints: tuple[Joint, ...], pose: Mapping[str, Pose]) -> dict[str, tuple[Numbers, Numbers]]:
    one = np.ones_like(pose[driver][0])
    found = {driver: (one, 0.0 * one)}
    with np.errstate(invalid="ignore", divide="ignore"):
        for joint in joints:
            first, second = found[joint.step.driving]
            if joint.forward is None:
                found[joint.step.driven] = (joint.ratio * first, joint.ratio * second)
                continue
            here = closure.rates(joint.forward, *pose[joint.step.driving], *pose[joint.step.driven])
            found[joint.step.driven] = (
                here.ratio * first,
                here.second * first * first + here.ratio * second,
            )
    return found


def _senses(
    rig: Linkage, dims: Dimensions, joints: tuple[Joint, ...], pose: Mapping[str, Pose]
) -> tuple[Numbers, dict[str, Numbers]]:
    """Which driver turn opens the train, and which way every member turns against the driver.

    The train opens the way that most shafts open, else the first-named, else the way the cable
    pulls. A member that stands at a dead centre as drawn goes the same way on either side of it.
    """
    rates = _gains(rig.driver, joints, pose)
    still = {name: np.abs(first) <= _STILL for name, (first, _) in rates.items()}
    moving = {name: np.where(still[name], 0.0, np.sign(first)) for name, (first, _) in rates.items()}
    ways = [np.nan_to_num(moving[name]) * SIGN[shaft.opens] for name, shaft in rig.shaft.items()]
    votes = 2.0 * sum(ways) + (ways[0] if ways else 0.0)
    opens = np.sign(votes)
    if np.any(votes == 0.0):
        opens = np.where(votes == 0.0, _pull(rig, dims), opens)[()]
    with np.errstate(invalid="ignore"):
        turning = {
            name: np.where(still[name], opens * np.sign(second), moving[name])[()]
            for name, (_, second) in rates.items()
        }
    return opens, turning


def _pull(rig: Linkage, dims: Dimensions) -> Numbers:
    """Which way (+1 ccw) the cable turns the driver as drawn; +1 without a cable."""
    cable = rig.cable
    if cable is None or cable.quadrant is not None:
        return SIGN[cable.pull_turns or "ccw"] if cable is not None else 1.0
    frame = arm_frame(rig, dims, *split_pin(cable.pulls or ""))
    casing = (dims["cable.casing_end.x"], dims["cable.casing_end.y"], dims["cable.casing_end.z"])
    along = closure.minus(casing, closure.pin(frame, *_DRAWN))
    return np.where(closure.dot(frame.e2, along) < 0.0, -1.0, 1.0)
