"""Free bodies: every member of a train cut loose, all torques about its axis summed to nothing.

The forces of all links and the cable are then one linear system: no virtual work, no velocity
ratio, no closure of ours but the members' turns.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from linkage.motion import Motion
from linkage.parts import SIGN, Linkage, Spring

Floats = NDArray[np.float64]


def turned(point: Floats, axis: Floats, angle: float) -> Floats:
    """A vector turned about a unit axis (Rodrigues)."""
    c, s = math.cos(angle), math.sin(angle)
    along = float(axis @ point)
    return np.asarray(point * c + np.cross(axis, point) * s + axis * along * (1.0 - c), float)


def drawn_pin(linkage: Linkage, pin: str) -> Floats:
    """A pin from its pivot, as drawn."""
    member, _, name = pin.rpartition(".")
    part, arm = linkage.members[member], linkage.members[member].arm[name]
    if arm.pin is not None:
        return np.asarray(np.array(arm.pin, float) - np.array(part.pivot, float))
    assert arm.radius is not None
    assert arm.angle is not None
    angle = math.radians(arm.angle)
    out = np.array([arm.radius * math.cos(angle), arm.radius * math.sin(angle), 0.0])
    return np.asarray(out + arm.station * np.array(part.axis, float))


class FreeBodies:
    """The members of a train at one position, cut free."""

    def __init__(self, run: Motion, position: int) -> None:
        self.rig = run.rig
        self.turn = {name: math.radians(turn[position]) for name, turn in run.member_turn.items()}
        # which way each member goes from here on, by a small step of the driver
        step = run.at([run.turn[position] - 1e-4, run.turn[position] + 1e-4])
        self.way = {n: float(np.sign(t[1] - t[0])) * float(run.train.opens) for n, t in step.member_turn.items()}

    def arm_of(self, pin: str) -> Floats:
        member = pin.rpartition(".")[0]
        if member in self.rig.slide:
            part = self.rig.slide[member]
            gone = math.degrees(self.turn[member]) * np.array(part.along)  # a millimetre for a degree
            return np.asarray(np.array(part.pin[pin.rpartition(".")[2]].at) - np.array(part.origin) + gone)
        axis: Floats = np.array(self.rig.members[member].axis, float)
        return turned(drawn_pin(self.rig, pin), axis, self.turn[member])

    def place(self, pin: str) -> Floats:
        return np.asarray(self.arm_of(pin) + np.array(self.rig.members[pin.rpartition(".")[0]].pivot, float))

    def torque(self, pin: str, force: Floats) -> float:
        member = pin.rpartition(".")[0]
        if member in self.rig.slide:  # along the guide, and per radian of its turn
            return math.degrees(float(np.array(self.rig.slide[member].along) @ force))
        axis = np.array(self.rig.members[member].axis)
        return float(axis @ np.cross(self.arm_of(pin), force))

    def of_spring(self, spring: Spring) -> tuple[str, float]:
        """Member and torque of a spring."""
        if spring.on is not None:
            # every member of these trains that carries a torsion spring is a shaft
            opening = SIGN[self.rig.shaft[spring.on].opens]
            opened = opening * math.degrees(self.turn[spring.on])
            return spring.on, -opening * (spring.preload + spring.rate * opened)
        pin = spring.pulls or ""
        along = np.array(spring.anchor) - self.place(pin)
        length = float(np.linalg.norm(along))
        assert spring.free_length is not None
        assert length > spring.free_length
        pull = spring.initial_tension + spring.rate * (length - spring.free_length)
        return pin.rpartition(".")[0], self.torque(pin, pull * along / length)

    def solve(self, moving: float) -> tuple[float, dict[str, float]]:
        """Tension of the cable (torque at the driver without one), and of every link, moving open (+1) or shut."""
        row = {name: i for i, name in enumerate(self.rig.members)}
        column = {name: i + 1 for i, name in enumerate([*self.rig.link, *(f"tie {c}" for c in self.rig.coupling)])}
        matrix, right = np.zeros((len(row), 1 + len(column))), np.zeros(len(row))
        for name, link in self.rig.link.items():
            one, other = link.joins
            along = self.place(other) - self.place(one)
            along /= np.linalg.norm(along)
            matrix[row[one.rpartition(".")[0]], column[name]] = self.torque(one, along)
            matrix[row[other.rpartition(".")[0]], column[name]] = self.torque(other, -along)
        for name, tie in self.rig.coupling.items():
            matrix[row[tie.joins[1]], column[f"tie {name}"]] = 1.0
            matrix[row[tie.joins[0]], column[f"tie {name}"]] = -tie.ratio
        cable, driver = self.rig.cable, row[self.rig.driver]
        if cable is None:
            matrix[driver, 0] = 1.0
        elif cable.quadrant is not None:
            assert cable.radius is not None
            matrix[driver, 0] = cable.radius * SIGN[cable.pull_turns or "ccw"]
        else:
            along = np.array(cable.casing_end) - self.place(cable.pulls or "")
            matrix[driver, 0] = self.torque(cable.pulls or "", along / np.linalg.norm(along))
        for spring in self.rig.spring.values():
            member, torque = self.of_spring(spring)
            right[row[member]] -= torque
        for name, member_of in self.rig.members.items():
            right[row[name]] += member_of.friction_torque * moving * self.way[name]
        found = np.linalg.solve(matrix, right)
        return float(found[0]), {name: float(found[column[name]]) for name in self.rig.link}
