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
from linkage.train import Step, order, slack_of, split_pin

Pose = tuple[Numbers, Numbers]  # of a member's turn from the drawn position: see closure.pose_of
Dimensions = Mapping[str, Numbers]

_ON_A_LINE = 1e-9  # sine of the transmission angle below which a drawn link has no branch
AS_DRAWN = 1e-12  # [rad] a stop as near as this to the drawn position is met there
_STILL = 1e-9  # a member slower than this against the driver stands at a dead centre


@dataclass(frozen=True, eq=False)
class Joint:
    """A step of the train with its geometry.

    For a coupling only ``ratio``, ``offset`` [rad] and ``middle`` count: its driving member is
    followed half a turn either side of the turn ``middle`` [rad].

    A slotted link or a tang (``slack``) leaves the driven member at its turn ``rest`` [rad] until the
    driving one, turning the way ``forth`` (+1 ccw), comes past the turn ``pick_up`` [rad]. ``offset`` is that of
    the face of the tang that bears; ``length`` stays as made, pin to pin with the pin at the end of its slot that
    closes, and ``slot`` [mm] is what the other end adds to it: above 0 where opening pulls the link.
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
    slack: bool = False
    rest: Numbers = 0.0
    pick_up: Numbers = np.nan
    forth: Numbers = 1.0
    slot: Numbers = 0.0

    @property
    def working(self) -> Numbers:
        """Length [mm] with which a link drives: as made, and the slot."""
        return self.length + self.slot

    def bears(self, turn: Numbers) -> Numbers:
        """Whether slack is taken up where the driving member has turned by ``turn`` [rad]."""
        with np.errstate(invalid="ignore"):
            return np.greater(self.forth * (turn - self.pick_up), 0.0)

    def driving_turn(self, at: Pose) -> Numbers:
        """Turn [rad] of the driving member from its pose."""
        return turn_near(at, self.middle, self.driving is not None and self.driving.slides)

    @property
    def parallel(self) -> bool:
        """Whether a link joins members that move in parallel planes: see :func:`linkage.toggles.in_a_plane`."""
        if self.driving is None or self.driven is None:
            return False
        if self.driving.slides:
            return bool(abs(closure.dot(self.driving.e1, self.driven.u)) < 1e-12)
        across = closure.cross(self.driving.u, self.driven.u)
        return bool(closure.dot(across, across) < 1e-24)


@dataclass(frozen=True, eq=False)
class Train:
    """An assembled linkage: its ``joints`` in driving order, and which driver turn ``opens`` (+1 ccw).

    ``drawn`` is every member's turn [rad] at the driver's drawn position (not 0 where a link's length
    is given), ``sense`` the sign of its turn against the driver's there; ``shaft_opens`` says which
    driver turn opens each shaft. ``whole`` is whether every link closes there. Of a train with slack,
    ``shut`` is the same train while every slot closes what it drives, with no slack at all.
    """

    rig: Linkage
    dims: Dimensions
    joints: tuple[Joint, ...]
    opens: Numbers
    drawn: Mapping[str, Numbers]
    sense: Mapping[str, Numbers]
    shaft_opens: Mapping[str, Numbers]
    whole: Numbers
    shut: Train | None = None

    @property
    def driver(self) -> str:
        """Name of the driven-first member."""
        return self.rig.driver

    @property
    def middle(self) -> Numbers:
        """The driver turn [rad] half a turn either side of which the driver is followed."""
        return 0.5 * np.pi * self.opens

    def slides(self, member: str) -> bool:
        """Whether a member is a block that slides: its turn counts a millimetre as a degree."""
        return member in self.rig.slide

    def pose(self, turn: Numbers) -> Pose:
        """Pose of the driver at a turn [rad] of it."""
        return closure.pose_of(turn, self.slides(self.driver))

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
    return f"{'shaft' if member in rig.shaft else 'slide' if member in rig.slide else 'bellcrank'}.{member}"


def arm_frame(rig: Linkage, dims: Dimensions, member: str, arm: str) -> ArmFrame:
    """Frame of an arm [mm] from the table of dimensions, as drawn."""
    at = table_of(rig, member)
    if member in rig.slide:
        block = rig.slide[member]
        place = (dims[f"{at}.pin.{arm}.at.x"], dims[f"{at}.pin.{arm}.at.y"], dims[f"{at}.pin.{arm}.at.z"])
        return ArmFrame(
            place, block.along, closure.cross(block.axis, block.along), block.axis, closure.SLIDING, slides=True
        )
    part = rig.turning[member]
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
    still = {name: closure.pose_of(0.0, name in rig.slide) for name in rig.members}
    pose: dict[str, Pose] = {rig.driver: still[rig.driver]}
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
        pose[step.driven] = still[step.driven] if joint.fitted and pose[step.driving] is still[step.driving] else there
    opens, sense = _senses(rig, dims, tuple(joints), pose)
    shaft_opens = {name: sense[name] * SIGN[shaft.opens] for name, shaft in rig.shaft.items()}

    def ready(joints: list[Joint], pose: Mapping[str, Pose], shut: Train | None = None) -> Train:
        turns = {
            name: 0.0 if at is still[name] else closure.turn_of(*at, name in rig.slide) for name, at in pose.items()
        }
        both = tuple(_both_ways(joint, opens, turns, sense) for joint in joints)
        return Train(rig, dims, both, opens, turns, sense, shaft_opens, whole, shut)

    train = ready(joints, pose)
    if not any(slack_of(joint.step.by) for joint in joints):
        return train
    joints, pose = _slackened(train, still)
    for at in pose.values():
        whole = whole & np.isfinite(at[0])
    return ready(joints, pose, train)


def _linked(step: Step, driving: ArmFrame, driven: ArmFrame, length: Numbers | None) -> Joint:
    drawn = closure.drawn_length(driving, driven)
    used = drawn if length is None else length
    with np.errstate(invalid="ignore", divide="ignore"):
        trial = closure.loop(driving, driven, used, 1.0)
        # the branch, as drawn, has the sign of minus the link's part along the driven pin's way
        across = trial.g1 if driven.slides else trial.g2
        if not driving.slides:
            across = across + (trial.p1 if driven.slides else trial.p2)
        branch = np.where(np.abs(across) <= _ON_A_LINE * drawn, np.nan, -np.sign(across))[()]
    forward = trial._replace(branch=branch)
    return Joint(step, length=used, fitted=length is None, driving=driving, driven=driven, forward=forward)


def stop_turn(rig: Linkage, dims: Dimensions, name: str) -> Numbers:
    """Turn [rad] of its member at which a stop of the table ``[stop.NAME]`` stands."""
    stop = rig.stop[name]
    if stop.on in rig.shaft:
        idle = dims[f"shaft.{stop.on}.plate_angle.idle"]
        return np.radians(SIGN[rig.shaft[stop.on].opens] * (dims[f"stop.{name}.plate_angle"] - idle))
    return np.radians(dims[f"stop.{name}.{'travel' if stop.on in rig.slide else 'turn'}"])


def rests(train: Train, joint: Joint) -> list[tuple[str, str, Numbers]]:
    """Every closing stop that can hold what a slack joint drives: its name, its member, and the turn [rad] of
    the driven member there.

    ``train`` has no slack (:attr:`Train.shut`): a slot further on holds back with the end that closes, a tang
    with none.
    """
    rig, root = train.rig, joint.step.driven
    way: dict[str, tuple[Joint, ...]] = {root: ()}
    for other in train.joints:
        if other.step.driving in way and slack_of(other.step.by) != "gap":
            way[other.step.driven] = (*way[other.step.driving], other)
    shut: Numbers = 0.0
    found: list[tuple[str, str, Numbers]] = [(f"{name}.idle", name, shut) for name in rig.shaft if name in way]
    for name, stop in rig.stop.items():
        if stop.limits == "closing" and stop.on in way:
            found.append((name, stop.on, stop_turn(rig, train.dims, name)))
    return [(name, member, _back_along(train, way[member], member, turn)) for name, member, turn in found]


def _back_along(train: Train, way: tuple[Joint, ...], member: str, turn: Numbers) -> Numbers:
    """Turn [rad] of the first member of a way at which its last stands at ``turn``, near the drawn position."""
    for joint in reversed(way):
        if joint.forward is None or joint.driving is None:
            turn = (turn - joint.offset) / joint.ratio
        else:
            start = train.drawn[joint.step.driving]
            as_drawn: Numbers = np.abs(turn - train.drawn[member]) <= AS_DRAWN
            with np.errstate(invalid="ignore", divide="ignore"):
                pose = carry_back(joint, closure.pose_of(turn, train.slides(member)))
            back: Numbers = np.where(as_drawn, start, turn_near(pose, start, joint.driving.slides))
            turn = back[()]
        member = joint.step.driving
    return turn


def rest_of(train: Train, joint: Joint) -> Numbers:
    """Turn [rad] at which what a slack joint drives rests: the first closing stop met, else as drawn."""
    opening = train.opens * train.sense[joint.step.driven]
    most: Numbers = -np.inf
    for _, _, turn in rests(train, joint):
        most = np.fmax(most, opening * turn)
    return np.where(np.isfinite(most), opening * most, train.drawn[joint.step.driven])[()] + 0.0


def _slackened(train: Train, still: Mapping[str, Pose]) -> tuple[list[Joint], dict[str, Pose]]:
    """The joints of a train assembled without slack, given their slack, and the poses as drawn."""
    pose: dict[str, Pose] = {train.driver: still[train.driver]}
    found: list[Joint] = []
    for joint in train.joints:
        driving, driven = joint.step.driving, joint.step.driven
        if slack_of(joint.step.by):
            joint = _slack(train, joint)
        with np.errstate(invalid="ignore", divide="ignore"):
            there = carry(joint, pose[driving])
        as_drawn = joint.fitted and pose[driving] is still[driving] and not joint.slack
        pose[driven] = still[driven] if as_drawn else there
        found.append(joint)
    return found, pose


def _slack(train: Train, joint: Joint) -> Joint:
    """One joint with its slack: which end of the slot bears, and where it is taken up."""
    driving, driven = joint.step.driving, joint.step.driven
    forth, opening = train.opens * train.sense[driving], train.opens * train.sense[driven]
    rest, middle = rest_of(train, joint), 0.5 * np.pi * forth
    joint = replace(joint, slack=True, rest=rest, forth=forth, middle=middle)
    if joint.forward is None or joint.driving is None or joint.driven is None:
        offset = joint.offset - opening * np.radians(train.dims[f"coupling.{joint.step.by.name}.gap"])
        return replace(joint, offset=offset, pick_up=(rest - offset) / joint.ratio)
    slot = train.dims[f"link.{joint.step.by.name}.slot"]
    here, there = closure.drawn_pose(joint.driving), closure.drawn_pose(joint.driven)
    apart = closure.minus(closure.pin(joint.driving, *here), closure.pin(joint.driven, *there))
    # the driven pin opens towards the driving one: the link pulls
    slot = np.where(closure.dot(apart, closure.tangent(joint.driven, *there)) * opening > 0.0, slot, -slot)[()]
    forward = closure.loop(joint.driving, joint.driven, joint.length + slot, joint.forward.branch)
    working = joint.length + slot
    back = closure.loop(joint.driven, joint.driving, working, -forward.branch * forth * opening)
    resting = closure.pose_of(rest, joint.driven.slides)
    with np.errstate(invalid="ignore", divide="ignore"):
        taken_up = closure.close(back, *resting)
    with np.errstate(invalid="ignore"):  # a link cannot be shorter than nothing
        pick_up = np.where(working > 0.0, turn_near(taken_up, middle, joint.driving.slides), np.nan)[()]
    return replace(joint, slot=slot, forward=forward, pick_up=pick_up)


def _both_ways(joint: Joint, opens: Numbers, drawn: Mapping[str, Numbers], sense: Mapping[str, Numbers]) -> Joint:
    """The joint made ready to run backwards, on the drawn side of its dead centre, and past half a turn."""
    driving, driven = joint.step.driving, joint.step.driven
    if joint.forward is None or joint.driving is None or joint.driven is None:
        return replace(joint, middle=drawn[driving] + 0.5 * np.pi * opens * sense[driving])
    # the link's ends move alike along it: r1 S1 dtheta = -r2 S2 dphi, S1 and S2 signed by the branches
    branch = -joint.forward.branch * sense[driving] * sense[driven]
    if joint.driving.slides or joint.driven.slides:
        return replace(joint, backward=closure.loop(joint.driven, joint.driving, joint.working, branch))
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
        pin = f"{joint.step.driven}.{joint.step.arms[1]}"
        if joint.driven.slides:
            says = f'the link stands square to the guide of "{pin}", so the block could move either way; move that pin'
        else:
            says = f'the arm "{pin}" points along the link, so it could turn either way; draw that arm at another angle'
        raise AssemblyError(f'link "{name}": drawn at a dead point: {says}', link=name)
    least, most = reach(joint, at)
    if joint.length < least:
        says, by = "too short", least - joint.length
    else:
        says, by = "too long", joint.length - most
    raise AssemblyError(
        f'link "{name}": {joint.length:.4g} mm is {says} by {by:.3g} mm to join "{driving}" and "{driven}" '
        f"in the drawn position; a length from {least:.4f} "
        f"{f'to {most:.4f} mm' if np.isfinite(most) else 'mm up'} reaches" + ("" if joint.fitted else OR_FITTED),
        link=name,
        short_by=float(by),
    )


def reach(joint: Joint, at: Pose) -> tuple[Numbers, Numbers]:
    """Shortest and longest length [mm] with which a link could close when its driving member stands ``at``."""
    assert joint.driving is not None
    assert joint.driven is not None
    w = closure.minus(closure.pin(joint.driving, *at), joint.driven.centre)
    if joint.driven.slides:
        forth = closure.dot(w, joint.driven.e1)
        return np.sqrt(np.maximum(closure.dot(w, w) - forth * forth, 0.0)), np.inf
    along = closure.dot(w, joint.driven.u)
    rho = np.sqrt(np.maximum(closure.dot(w, w) - along * along, 0.0))
    r = joint.driven.r
    return np.hypot(rho - r, along), np.hypot(rho + r, along)


def carry(joint: Joint, at: Pose) -> Pose:
    """Pose of the driven member when the driving one stands ``at``."""
    if joint.forward is not None:
        there = closure.close(joint.forward, *at)
    else:
        there = _coupled(at, joint.ratio, joint.offset, joint.middle)
    if not joint.slack:
        return there
    bears = joint.bears(joint.driving_turn(at))
    rest = closure.pose_of(joint.rest, joint.driven is not None and joint.driven.slides)
    still = np.isnan(at[0])  # what does not reach its driving member does not rest either
    return tuple(np.where(bears | still, moved, held)[()] for moved, held in zip(there, rest, strict=True))


def carry_back(joint: Joint, there: Pose, *, branch: Numbers = 1.0) -> Pose:
    """Pose of the driving member when the driven one stands ``there``: the closure run backwards.

    ``branch`` -1 takes the solution on the far side of the driving arm's dead centre.
    """
    if joint.backward is not None:
        return closure.close(joint.backward._replace(branch=branch * joint.backward.branch), *there)
    middle = joint.ratio * joint.middle + joint.offset
    return _coupled(there, 1.0 / joint.ratio, -joint.offset / joint.ratio, middle)


def turn_near(pose: Pose, middle: Numbers, slides: bool = False) -> Numbers:
    """Turn [rad] of a pose, the one within half a turn of ``middle``; of a block that slides, its turn."""
    if slides:
        return pose[0]
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
                moved = (joint.ratio * first, joint.ratio * second)
            else:
                here = closure.rates(joint.forward, *pose[joint.step.driving], *pose[joint.step.driven])
                moved = (here.ratio * first, here.second * first * first + here.ratio * second)
            if joint.slack:
                at = pose[joint.step.driving]
                bears = joint.bears(joint.driving_turn(at)) | np.isnan(at[0])
                moved = (np.where(bears, moved[0], 0.0)[()], np.where(bears, moved[1], 0.0)[()])
            found[joint.step.driven] = moved
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
    here = closure.drawn_pose(frame)
    along = closure.minus(casing, closure.pin(frame, *here))
    return np.where(closure.dot(closure.tangent(frame, *here), along) < 0.0, -1.0, 1.0)
