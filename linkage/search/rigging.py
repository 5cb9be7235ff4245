"""Rigging pins: holes that lock every member at idle and at one opening, and links fitted between them.

Each member gets one hole; the bracket behind it two, one that lines up at idle and one at the chosen
opening. With the pins in, a link is right when it just slips on at both; where it is then to be longer or
shorter the answer says so in flats of its adjuster. A block that slides has no hole: it is clamped at the
travel that the drawing gives it.

The third way to hold the shafts needs no pins: every plate snapped shut on its bore.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from linkage import closure
from linkage.closure import ArmFrame, Vector
from linkage.errors import DesignError, Fault
from linkage.motion import Motion, driver_turn, solve
from linkage.motion.assembly import Joint
from linkage.parts import SIGN, Link, Linkage, Member
from linkage.threads import length_per_turn

#: diameter of a rigging pin [mm]: 3/16 in; common practice, no source
PIN = 4.8
#: two holes of the bracket keep this many pin diameters between their centres; common practice, no source
_HOLES_APART = 1.5
_FLATS = 6  # of a hexagon tube
_SHARE_OF_ARM = 0.6  # where no radius is given, the hole stands at this share of the shortest arm
_GRID = 0.1  # [mm] to which the holes are marked out


@dataclass(frozen=True)
class RiggingPin:
    """The holes of one ``member``: its own at ``radius`` [mm] from the axis and ``angle`` [deg, as drawn, ccw from
    +x; about a skew axis from the direction across it that is nearest to +x], in the bracket at ``idle`` and
    at ``opening`` (x, y, z) [mm], marked out to a tenth.

    ``turn`` [deg] is the member's between the two; ``apart`` [mm] is the distance between the bracket's two
    holes, for a caliper, and ``too_near`` says that a drill would run from one into the other. ``per_tenth``
    [deg] is what a tenth of a mm of play between pin and hole leaves the member.
    """

    member: str
    radius: float
    angle: float
    idle: Vector
    opening: Vector
    turn: float
    apart: float
    too_near: bool
    per_tenth: float


class Slip(NamedTuple):
    """A length [mm] with which a link just slips on, and how many ``flats`` (half turns where one end must
    come off) then make it the design's: positive longer; None without a pitch."""

    length: float
    flats: float | None


@dataclass(frozen=True)
class RiggedLink:
    """One link: its design ``length`` [mm], and how it slips on with the members pinned at ``idle`` and at the
    ``opening``, and with the bell cranks pinned at idle and the plates shut on their bores (``shut``).

    ``flat`` [mm] is the least step of its adjuster: a flat, or half a turn where one end must come off
    (``half_turns``); None without a pitch.
    """

    link: str
    length: float
    idle: Slip
    opening: Slip
    shut: Slip
    flat: float | None
    half_turns: bool


@dataclass(frozen=True, eq=False)
class Rigging:
    """All pins and links. ``plate_angle`` [deg] is the chosen opening, ``pin`` [mm] the pins' diameter, ``blocks``
    [mm] the travel from drawn at which every block that slides is clamped there."""

    rig: Linkage
    pins: tuple[RiggingPin, ...]
    links: tuple[RiggedLink, ...]
    plate_angle: float
    pin: float
    blocks: Mapping[str, float] = field(default_factory=dict)


def rigging(
    rig: Linkage, *, plate_angle: float | None = None, radius: Mapping[str, float] | None = None, pin: float = PIN
) -> Rigging:
    """Work out rigging pins and the links between them.

    Parameters
    ----------
    rig : Linkage
    plate_angle : float, optional
        Plate angle of every shaft at the chosen opening [deg]; left out, half-way between idle and wide
        open of the first-named shaft.
    radius : mapping of str to float, optional
        Radius of a member's hole [mm]; left out, six tenths of its shortest arm.
    pin : float
        Diameter of the pins [mm].

    Returns
    -------
    Rigging

    Raises
    ------
    DesignError
        No such member, or an opening that a shaft does not reach.
    AssemblyError
        The linkage cannot be put together.

    Examples
    --------
    >>> import linkage
    >>> linkage.rigging(linkage.read("demo/flat_six.toml")).pins[0].member  # doctest: +SKIP
    'left'
    """
    for name in radius or {}:
        if name not in rig.turning:
            raise DesignError([Fault("radius", f'no shaft or bell crank called "{name}"')])
    run = solve(rig, positions=2)
    first, shaft = next(iter(rig.shaft.items()))
    idle, wide_open = shaft.plate_angle.idle, shaft.plate_angle.wide_open
    chosen = 0.5 * (idle + wide_open) if plate_angle is None else plate_angle
    for name, other in rig.shaft.items():
        if not other.plate_angle.idle < chosen <= other.plate_angle.wide_open:
            says = f'shaft "{name}" opens from {other.plate_angle.idle:g} to {other.plate_angle.wide_open:g} degrees'
            raise DesignError([Fault("plate angle", f"must lie within every shaft's own, got {chosen:g}", says)])
    turn = driver_turn(run.train, first, np.radians(SIGN[shaft.opens] * (chosen - idle)))
    if not np.isfinite(turn):
        raise DesignError([Fault("plate angle", f'shaft "{first}" does not come to {chosen:g} degrees')])
    at = {name: float(t[0]) for name, t in run.at(float(np.degrees(turn))).member_turn.items()}
    at |= {name: SIGN[s.opens] * (chosen - s.plate_angle.idle) for name, s in rig.shaft.items()}
    pins = tuple(
        _pin(member, at[name], (radius or {}).get(name), pin, _arms(run, name)) for name, member in rig.turning.items()
    )
    return Rigging(rig, pins, tuple(_links(run, at)), chosen, pin, {name: at[name] for name in rig.slide})


def _arms(run: Motion, member: str) -> list[ArmFrame]:
    """Frames of the arms of a member that links hold."""
    found = []
    for joint in run.train.joints:
        if joint.driving is not None and joint.driven is not None:
            found += [joint.driving] if joint.step.driving == member else []
            found += [joint.driven] if joint.step.driven == member else []
    return found


def _pin(member: Member, turn: float, radius: float | None, pin: float, arms: Sequence[ArmFrame]) -> RiggingPin:
    e1, e2 = _across(member)
    size = radius or _round(_SHARE_OF_ARM * min((float(arm.r) for arm in arms), default=25.0), 1.0)
    angle = _freest([math.degrees(math.atan2(closure.dot(arm.e1, e2), closure.dot(arm.e1, e1))) for arm in arms])

    def hole(turned: float) -> Vector:
        c, s = (f(math.radians(angle + turned)) for f in (math.cos, math.sin))
        x, y, z = (_round(member.pivot[i] + size * (c * e1[i] + s * e2[i]), _GRID) for i in range(3))
        return (x, y, z)

    idle, opening = hole(0.0), hole(turn)
    apart = math.dist(idle, opening)
    drawn = angle if abs(member.axis[2]) <= 0.5 or member.axis[2] > 0.0 else -angle
    return RiggingPin(
        member.name, size, drawn, idle, opening, turn, apart, apart < _HOLES_APART * pin, math.degrees(0.1 / size)
    )


def _across(member: Member) -> tuple[Vector, Vector]:
    """Two directions square to the axis: +x and its quarter turn, or where the axis lies near +x, +y."""
    u = member.axis
    start = (1.0, 0.0, 0.0) if abs(u[0]) < 0.9 else (0.0, 1.0, 0.0)
    along = closure.dot(start, u)
    flat = closure.minus(start, (along * u[0], along * u[1], along * u[2]))
    size = math.sqrt(closure.dot(flat, flat))
    e1 = (flat[0] / size, flat[1] / size, flat[2] / size)
    return e1, closure.cross(u, e1)


def _freest(angles: Sequence[float]) -> float:
    """The direction [deg] in the middle of the widest gap between some, to the nearest 5."""
    if not angles:
        return 0.0
    listed = sorted(angle % 360.0 for angle in angles)
    gaps = [(after - before, before) for before, after in zip(listed, [*listed[1:], listed[0] + 360.0], strict=True)]
    wide, before = max(gaps)
    return _round(before + 0.5 * wide, 5.0) % 360.0


def _links(run: Motion, at: Mapping[str, float]) -> list[RiggedLink]:
    rig = run.rig
    shut = {name: SIGN[s.opens] * (s.plate_angle.shut - s.plate_angle.idle) for name, s in rig.shaft.items()}
    found = {}
    for joint in run.train.joints:
        if joint.forward is None:
            continue
        link = rig.link[joint.step.by.name]
        step = adjuster_step(link)
        length = float(joint.length)
        idle, opening, closed = (_slip(joint, length, where, step) for where in ({}, at, shut))
        found[link.name] = RiggedLink(link.name, length, idle, opening, closed, step, link.hands == "right")
    return [found[name] for name in rig.link]


def adjuster_step(link: Link) -> float | None:
    """Least step of a link's adjuster [mm]: a flat of its tube, or half a turn of an end that must come off."""
    if link.pitch is None:
        return None
    return length_per_turn(link.pitch, link.hands) / (_FLATS if link.hands == "left+right" else 2)


def _slip(joint: Joint, length: float, turns: Mapping[str, float], step: float | None) -> Slip:
    """The distance between a link's two pins with its members turned so far [deg] from drawn."""
    assert joint.driving is not None
    assert joint.driven is not None
    places = []
    for frame, member in ((joint.driving, joint.step.driving), (joint.driven, joint.step.driven)):
        turn = math.radians(turns.get(member, 0.0))
        places.append(closure.pin(frame, *closure.pose_of(turn, frame.slides)))
    between = math.dist(*places)
    return Slip(between, None if step is None else (length - between) / step)


def _round(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)
