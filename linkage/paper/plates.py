"""Lever plates and bracket hole patterns: where every hole is, in the plane of its own part.

::

      up                             a plate is seen with its axis towards the eye: what turns
       |     o pin                   counter-clockwise about the axis does so on paper too
       |    /
       |   /  radius                 axis along z:        right is x,  up is y
       |  / ) angle                  axis along y:        right is x,  up is -z  (from above)
      (O)------- right               axis along x:        right is -z, up is y

Arms of one member at one station are one plate; everything stands as drawn, at idle.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from linkage import closure
from linkage.closure import Vector
from linkage.motion import Train
from linkage.motion.assembly import arm_frame
from linkage.paper.outlines import Disc, Outline, outline
from linkage.paper.practice import Practice
from linkage.parts import Linkage, Point, Shaft
from linkage.quantities import INCH
from linkage.train import split_pin

_ONE_PLATE = 0.01  # [mm] stations no further apart are one plate
_PARALLEL = 1e-9
_AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}


@dataclass(frozen=True, slots=True)
class Sight:
    """How a part is seen: unit vectors ``right``, ``up`` and ``out`` (towards the eye, along its axis)."""

    right: Point
    up: Point
    out: Point

    def flat(self, point: Vector) -> tuple[float, float]:
        """A point [mm] as seen."""
        return float(closure.dot(point, self.right)), float(closure.dot(point, self.up))

    @property
    def says(self) -> str:
        """Which directions of the drawing lie right and up: ``"x right, y up"``."""
        return f"{_direction(self.right)} right, {_direction(self.up)} up"


def sight(axis: Point) -> Sight:
    """The sight of a part that turns about an axis (unit vector)."""
    wish = _AXES["y"] if abs(axis[1]) < 0.9 else _AXES["x"]
    along = closure.dot(wish, axis)
    side = _unit((wish[0] - along * axis[0], wish[1] - along * axis[1], wish[2] - along * axis[2]))
    if abs(axis[1]) < 0.9:
        return Sight(_plain(closure.cross(side, axis)), side, axis)
    return Sight(side, _plain(closure.cross(axis, side)), axis)


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole of a plate [mm] from its pivot, its ``radius`` and ``angle`` [deg], what it ``carries``."""

    name: str
    x: float
    y: float
    diameter: float
    carries: str

    @property
    def radius(self) -> float:
        """From the pivot [mm]."""
        return math.hypot(self.x, self.y)

    @property
    def angle(self) -> float:
        """From "to the right", ccw, -180 to 180 [deg]."""
        return math.degrees(math.atan2(self.y, self.x))


@dataclass(frozen=True)
class Plate:
    """A lever or a bell-crank plate: one member's arms at one ``station`` [mm] along its axis.

    ``hub`` is the hole over the shaft [mm]; ``edge`` the metal from a hole's rim to the outline,
    ``fillet`` the radius between arms, ``thickness`` [mm].
    """

    name: str
    member: str
    station: float
    seen: Sight
    opens: str
    hub: float
    holes: tuple[Hole, ...]
    edge: float
    fillet: float
    thickness: float

    @cached_property
    def around(self) -> Outline:
        """The outline, the pivot at 0, 0."""
        bosses = [Disc(h.x, h.y, 0.5 * h.diameter + self.edge) for h in self.holes]
        return outline(0.5 * self.hub + self.edge, bosses, self.fillet)

    @property
    def free(self) -> float:
        """The direction from the pivot in the middle of the widest gap between the holes [rad]."""
        listed = sorted(math.radians(hole.angle) % (2.0 * math.pi) for hole in self.holes)
        if not listed:
            return -0.5 * math.pi
        after = (*listed[1:], listed[0] + 2.0 * math.pi)
        gap, start = max((round(b - a, 9), a) for a, b in zip(listed, after, strict=True))
        return start + 0.5 * gap

    @property
    def thinnest(self) -> tuple[float, str, str] | None:
        """The least metal between two holes [mm] and which; None with one hole."""
        all_holes = [Hole("the pivot", 0.0, 0.0, self.hub, ""), *self.holes]
        walls = [
            (math.hypot(a.x - b.x, a.y - b.y) - 0.5 * (a.diameter + b.diameter), a.name, b.name)
            for i, a in enumerate(all_holes)
            for b in all_holes[i + 1 :]
        ]
        return min(walls) if walls else None


@dataclass(frozen=True, slots=True)
class Mark:
    """A hole of a bracket [mm] from the datum, at the ``depths`` towards the eye of all that share it;
    ``diameter`` None: the place only."""

    name: str
    x: float
    y: float
    depths: tuple[float, ...]
    diameter: float | None


@dataclass(frozen=True)
class Pattern:
    """The holes of a bracket, or of a jig: all pivots about one direction, casing end and spring anchors."""

    name: str
    seen: Sight
    marks: tuple[Mark, ...]


def plates(train: Train, practice: Practice) -> tuple[Plate, ...]:
    """Every lever plate of a linkage, shafts first.

    Parameters
    ----------
    train : Train
    practice : Practice
        Holes, edge, fillet and thickness [mm].
    """
    found = []
    for name, member in train.rig.turning.items():
        groups: list[tuple[float, list[str]]] = []
        for arm in member.arm:
            frame = arm_frame(train.rig, train.dims, name, arm)
            at = float(closure.dot(closure.minus(frame.centre, member.pivot), member.axis))
            for station, arms in groups:
                if abs(station - at) <= _ONE_PLATE:
                    arms.append(arm)
                    break
            else:
                groups.append((at, [arm]))
        for station, arms in groups:
            found.append(_plate(train, practice, name, station, arms, alone=len(groups) == 1))
    return tuple(found)


def _plate(train: Train, practice: Practice, member: str, station: float, arms: Sequence[str], *, alone: bool) -> Plate:
    rig = train.rig
    seen = sight(rig.turning[member].axis)
    part = rig.turning[member]
    opening = train.opens * train.sense[member] if not isinstance(part, Shaft) else 0.0
    opens = part.opens if isinstance(part, Shaft) else "ccw" if opening > 0.0 else "cw"
    return Plate(
        name=member if alone else f"{member} {'+'.join(arms)}",
        member=member,
        station=station,
        seen=seen,
        opens=opens,
        hub=practice.hub_hole(rig, member),
        holes=tuple(_hole(train, practice, member, arm, seen) for arm in arms),
        edge=practice.edge_of(rig),
        fillet=practice.fillet_of(rig),
        thickness=practice.thickness_of(rig),
    )


def _hole(train: Train, practice: Practice, member: str, arm: str, seen: Sight) -> Hole:
    frame = arm_frame(train.rig, train.dims, member, arm)
    x, y = seen.flat(frame.e1)
    r = float(frame.r)
    return Hole(arm, r * x, r * y, practice.pin_hole(train.rig), ", ".join(carried(train.rig, f"{member}.{arm}")))


def carried(rig: Linkage, pin: str) -> list[str]:
    """What hangs on a pin ("member.arm"): links, the cable, springs."""
    found = [f"link {name}" for name, link in rig.link.items() if pin in link.joins]
    if rig.cable is not None and rig.cable.pulls == pin:
        found.append("cable")
    return found + [f"spring {name}" for name, spring in rig.spring.items() if spring.pulls == pin]


def patterns(rig: Linkage, practice: Practice) -> tuple[Pattern, ...]:
    """The bracket hole pattern of every direction that members turn about, with two places of every guide."""
    groups: list[tuple[Point, list[str]]] = []
    for name, member in rig.members.items():
        for axis, names in groups:
            if abs(abs(closure.dot(axis, member.axis)) - 1.0) <= _PARALLEL:
                names.append(name)
                break
        else:
            groups.append((member.axis, [name]))
    one = len(groups) == 1
    return tuple(
        Pattern("pivots" if one else f"pivots of {', '.join(names)}", sight(axis), _marks(rig, practice, axis, names))
        for axis, names in groups
    )


def _marks(rig: Linkage, practice: Practice, axis: Point, names: Sequence[str]) -> tuple[Mark, ...]:
    seen = sight(axis)
    found: list[Mark] = []

    def add(name: str, point: Point, diameter: float | None) -> None:
        x, y, z = from_datum(point, practice, seen)
        for i, mark in enumerate(found):
            if math.hypot(mark.x - x, mark.y - y) < 1e-6 and mark.diameter == diameter:
                found[i] = Mark(f"{mark.name}, {name}", mark.x, mark.y, (*mark.depths, z), diameter)
                return
        found.append(Mark(name, x, y, (z,), diameter))

    for name in names:
        if name in rig.turning:
            add(name, rig.turning[name].pivot, practice.hub_hole(rig, name))
            continue
        o, a = rig.slide[name].origin, rig.slide[name].along
        add(f"guide of {name}", o, None)
        on, far = ("50 mm", 50.0) if rig.units == "mm" else ("2 in", 2.0 * INCH)
        add(f"guide of {name}, {on} along", (o[0] + far * a[0], o[1] + far * a[1], o[2] + far * a[2]), None)
    cable = rig.cable
    if cable is not None and cable.casing_end is not None and rig.driver in names:
        add("casing end", cable.casing_end, None)
    for name, spring in rig.spring.items():
        if spring.anchor is not None and split_pin(spring.pulls or "")[0] in names:
            add(f"anchor of spring {name}", spring.anchor, practice.pin_hole(rig))
    return tuple(found)


def from_datum(point: Point, practice: Practice, seen: Sight) -> tuple[float, float, float]:
    """A point of the drawing [mm] from the datum, as seen: right, up, towards the eye."""
    away = closure.minus(point, (*practice.datum, 0.0))
    right, up = seen.flat(away)
    return right + 0.0, up + 0.0, float(closure.dot(away, seen.out)) + 0.0


def across(holes: Iterable[Hole]) -> list[tuple[Hole, Hole, float]]:
    """Centre distances [mm] of every two holes of a plate."""
    listed = list(holes)
    return [(a, b, math.hypot(a.x - b.x, a.y - b.y)) for i, a in enumerate(listed) for b in listed[i + 1 :]]


def _unit(vector: Vector) -> Point:
    size = math.sqrt(closure.dot(vector, vector))
    return _plain((vector[0] / size, vector[1] / size, vector[2] / size))


def _plain(vector: Vector) -> Point:
    return (float(vector[0]) + 0.0, float(vector[1]) + 0.0, float(vector[2]) + 0.0)


def _direction(vector: Point) -> str:
    """A direction of the drawing in a word: ``"x"``, ``"-z"``, or its components."""
    for name, axis in _AXES.items():
        along = closure.dot(vector, axis)
        if abs(abs(along) - 1.0) <= 1e-6:
            return name if along > 0.0 else f"-{name}"
    return f"({', '.join(f'{v:.3g}' for v in vector)})"
