"""A second route to the rocking, for the tests: the body stays and the engine is turned, all pins by rotation matrices.

The driver's turn and every other member's are the unknowns; what must hold are the links' lengths and the
cable's. Shares nothing with the package but the parts.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
from free_bodies import drawn_pin, turned
from numpy.typing import NDArray
from scipy.optimize import root
from scipy.spatial.transform import Rotation

from linkage.parts import SIGN, Cable, Linkage, Mounted, Point, Rocking

Floats = NDArray[np.float64]


def on_the_body(rig: Linkage, *members: str, casing: bool = False, roll: Rocking | None = None) -> Linkage:
    """The linkage with some bell cranks, and the casing end, on the body."""
    there: Mounted = "body"
    cranks = {n: dataclasses.replace(c, mounted=there if n in members else "engine") for n, c in rig.bellcrank.items()}
    cable = rig.cable and dataclasses.replace(rig.cable, mounted=there if casing else "engine")
    return dataclasses.replace(rig, bellcrank=cranks, cable=cable, rocking=roll or Rocking((30.0, -250.0, 40.0)))


class Rocked:
    """A linkage whose engine has rolled by an angle [deg]: 0 is how it is drawn."""

    def __init__(self, rig: Linkage, degrees: float) -> None:
        assert rig.rocking is not None
        self.rig = rig
        self.about = np.array(rig.rocking.axis)
        self.roll = Rotation.from_rotvec(np.radians(degrees) * np.array(rig.rocking.direction)).as_matrix()
        self.names = list(rig.members)

    def carried(self, point: Any, mounted: str) -> Floats:
        """A point of the drawing, carried round with the engine or left on the body."""
        there = np.asarray(point, float)
        return np.asarray(self.about + self.roll @ (there - self.about)) if mounted == "engine" else there

    def pin(self, joined: str, turn: float) -> Floats:
        """A pin, its member turned [rad] in the frame that it is mounted on."""
        member = joined.rpartition(".")[0]
        part = self.rig.turning[member]
        out = turned(drawn_pin(self.rig, joined), np.array(part.axis), turn)
        return self.carried(np.array(part.pivot) + out, part.mounted)

    def casing(self) -> Floats:
        cable = self.rig.cable
        assert cable is not None
        return self.carried(cable.casing_end, cable.mounted)

    def cable(self, turn: float) -> float:
        """Length of inner cable [mm] at a turn of the driver [rad], but for a constant."""
        cable, driver = self.rig.cable, self.rig.driver
        if cable is None or (cable.quadrant is not None and cable.casing_end is None):
            return turn
        if cable.quadrant is None:
            return float(np.linalg.norm(self.casing() - self.pin(cable.pulls or "", turn)))
        return wrapped(self, cable, turn, driver)

    def turns(self, lengths: dict[str, float], cable: float, first: dict[str, float]) -> dict[str, float]:
        """Every member's turn [rad] that keeps the links' lengths and the cable's."""
        rides = self.rig.cable is None or self.rig.cable.casing_end is None
        scale = 1.0 if rides else 30.0

        def residuals(x: Floats) -> Floats:
            turn = dict(zip(self.names, x - 10.0, strict=True))
            found = [(self.cable(turn[self.rig.driver]) - cable) / scale]
            for name, link in self.rig.link.items():
                one, other = (self.pin(end, turn[end.rpartition(".")[0]]) for end in link.joins)
                found.append((math.dist(one, other) - lengths[name]) / 30.0)
            for tie in self.rig.coupling.values():
                found.append(turn[tie.joins[1]] - tie.ratio * turn[tie.joins[0]] - math.radians(tie.offset))
            return np.array(found)

        answer = root(residuals, np.array([first[n] for n in self.names]) + 10.0, method="hybr", tol=1e-14)
        assert np.max(np.abs(residuals(answer.x))) < 1e-11
        return dict(zip(self.names, (float(v) - 10.0 for v in answer.x), strict=True))


def wrapped(rocked: Rocked, cable: Cable, turn: float, driver: str) -> float:
    """Length of cable from a clip on a round quadrant to the casing end: an arc and a tangent, found by a root."""
    part = rocked.rig.turning[driver]
    assert cable.radius is not None
    centre = rocked.carried(part.pivot, part.mounted)
    ways = [rocked.carried(np.add(part.pivot, way), part.mounted) - centre for way in np.eye(3)]
    x, y = ways[0], ways[1]  # the driver of these tests turns about z as drawn
    end = rocked.casing() - centre
    side = SIGN[cable.pull_turns or "ccw"]

    def out(angle: float) -> Floats:
        return np.asarray(cable.radius * (math.cos(angle) * x + math.sin(angle) * y))

    start = math.atan2(end @ y, end @ x) - side * math.acos(cable.radius / math.hypot(end @ x, end @ y))
    square = root(lambda a: (end - out(float(a[0]))) @ out(float(a[0])), [start + 1e-3], tol=1e-14)
    angle = float(square.x[0])
    return float(np.linalg.norm(end - out(angle)) - side * cable.radius * (turn - angle))


def plates(rig: Linkage, degrees: float, turns: dict[str, float]) -> dict[str, float]:
    """Plate angles [deg] with the engine rolled, the pedal held as it was at some turns [rad] of the unrolled one."""
    still, rolled = Rocked(rig, 0.0), Rocked(rig, degrees)
    lengths = {
        name: math.dist(*(still.pin(end, turns[end.rpartition(".")[0]]) for end in link.joins))
        for name, link in rig.link.items()
    }
    found = rolled.turns(lengths, still.cable(turns[rig.driver]), turns)
    return {
        name: shaft.plate_angle.idle + SIGN[shaft.opens] * math.degrees(found[name])
        for name, shaft in rig.shaft.items()
    }


def roll_axis(x: float, y: float, z: float, direction: Point = (0.0, 0.0, 1.0), degrees: float = 1.0) -> Rocking:
    """A roll about an axis through a point, along a direction of any length."""
    size = math.hypot(*direction)
    unit = (direction[0] / size, direction[1] / size, direction[2] / size)
    return Rocking((x, y, z), unit, degrees)
