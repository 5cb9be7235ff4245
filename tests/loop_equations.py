"""A second route to the motion, for the tests: root finding on the loop equations ``|P - q| = L``.

Shares nothing with the package but the parts. Pins turn by Rodrigues' rotation formula from where
they are drawn; scipy's hybrid Powell method finds the members' turns; the branch is followed from
the drawn position by small steps, first to the given link lengths, then along the driver's turn.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

from linkage.parts import SIGN, Coupling, Link, Linkage

Floats = NDArray[np.float64]

_STEP = np.radians(2.0)


class LoopEquations:
    """The train of a linkage as equations in the members' turns [rad] from drawn."""

    def __init__(self, rig: Linkage) -> None:
        self.rig = rig
        self.names = [name for name in rig.members if name != rig.driver]
        self.joints: list[Link | Coupling] = [*rig.link.values(), *rig.coupling.values()]
        self.circles = {end: self._circle(end) for link in rig.link.values() for end in link.joins}
        self.drawn = {
            link.name: float(np.linalg.norm(self.pin(link.joins[0], 0.0) - self.pin(link.joins[1], 0.0)))
            for link in rig.link.values()
        }
        self.at: tuple[float, Floats] = (0.0, np.zeros(len(self.names)))
        for share in np.linspace(0.0, 1.0, 3):  # from the drawn position to the given lengths
            self.lengths = {
                name: drawn + share * ((rig.link[name].length or drawn) - drawn) for name, drawn in self.drawn.items()
            }
            self.at = (0.0, self._solved(0.0, self.at[1], offset=share))

    def pin(self, joined: str, turn: float) -> Floats:
        """Place of a pin [mm] when its member has turned."""
        still, along, across = self.circles[joined]
        if joined.rpartition(".")[0] in self.rig.slide:  # its "turn" of a degree is a travel of a millimetre
            return still + along * math.degrees(turn)
        return still + along * math.cos(turn) + across * math.sin(turn)

    def _circle(self, joined: str) -> tuple[Floats, Floats, Floats]:
        """Rodrigues' rotation of a drawn pin about its member's axis, as ``still + along cos + across sin``."""
        member, _, arm = joined.rpartition(".")
        if member in self.rig.slide:
            return np.asarray(self.rig.slide[member].pin[arm].at), np.asarray(self.rig.slide[member].along), np.zeros(3)
        part, at = self.rig.turning[member], self.rig.turning[member].arm[arm]
        pivot, axis = np.asarray(part.pivot), np.asarray(part.axis)
        if at.pin is not None:
            out = np.asarray(at.pin) - pivot
        else:
            assert at.radius is not None
            assert at.angle is not None
            angle = np.radians(at.angle)
            out = at.radius * np.array([np.cos(angle), np.sin(angle), 0.0]) + at.station * axis
        kept = axis * (axis @ out)
        return pivot + kept, out - kept, np.cross(axis, out)

    def residuals(self, driver: float, unknown: Floats, offset: float = 1.0) -> Floats:
        """How far each joint is from closing [mm, rad]."""
        turn = dict(zip(self.names, unknown, strict=True)) | {self.rig.driver: driver}
        found = []
        for joint in self.joints:
            if isinstance(joint, Coupling):
                first, second = (turn[name] for name in joint.joins)
                found.append(second - joint.ratio * first - offset * np.radians(joint.offset))
            else:
                ends = [self.pin(end, turn[end.rpartition(".")[0]]) for end in joint.joins]
                found.append(math.dist(*ends) - self.lengths[joint.name])
        return np.asarray(found)

    def _solved(self, driver: float, first: Any, offset: float = 1.0) -> Floats:
        def equations(shifted: Any) -> Any:
            return self.residuals(driver, shifted - 10.0, offset)

        if first.size == 0:
            return np.zeros(0)
        # the method's difference steps are relative to the unknowns: count them from -10 rad, not from 0
        answer = root(equations, first + 10.0, method="hybr", tol=1e-15).x - 10.0
        for _ in range(2):  # the shift costs a digit: Newton's step gives it back
            slopes = [
                (self.residuals(driver, answer + h, offset) - self.residuals(driver, answer - h, offset)) / 2e-4
                for h in 1e-4 * np.eye(first.size)
            ]
            answer = answer - np.linalg.solve(np.transpose(slopes), self.residuals(driver, answer, offset))
        left = np.max(np.abs(self.residuals(driver, answer, offset)))
        if left > 1e-10:
            raise AssertionError(f"no root at a driver turn of {np.degrees(driver):.3f} deg: {left:.1e} mm left")
        return np.asarray(answer)

    def turns(self, driver: float) -> dict[str, float]:
        """Every member's turn [rad] at a driver turn [rad], followed from the last one asked for."""
        last, x = self.at
        steps = max(1, int(np.ceil(abs(driver - last) / _STEP)))
        before = x
        for turn in np.linspace(last, driver, steps + 1)[1:]:
            x, before = self._solved(float(turn), 2.0 * x - before), x
        self.at = (driver, x)
        return dict(zip(self.names, (float(v) for v in x), strict=True)) | {self.rig.driver: driver}

    def along(self, driver: Iterable[float]) -> dict[str, Floats]:
        """Every member's turn [deg] along driver turns [deg], from the drawn position."""
        found = [self.turns(float(np.radians(turn))) for turn in driver]
        return {name: np.degrees([turns[name] for turns in found]) for name in self.rig.members}

    def plate_angle(self, shaft: str, driver: float) -> float:
        """Plate angle [deg] of a shaft at a driver turn [deg]."""
        part = self.rig.shaft[shaft]
        turn = self.turns(float(np.radians(driver)))[shaft]
        return part.plate_angle.idle + SIGN[part.opens] * float(np.degrees(turn))


def to_spare(rig: Linkage, link: str) -> Callable[[float], float]:
    """How much longer or shorter a link could be and still reach [mm], as a function of driver turn [deg].

    Less than 0 beyond its toggles. Only the train on the driver's side of the link is solved.
    """
    others = {name: by for name, by in rig.link.items() if name != link}
    joined = [{end.rpartition(".")[0] for end in by.joins} for by in others.values()]
    joined += [{*by.joins} for by in rig.coupling.values()]
    near = {rig.driver}
    for _ in joined:
        near = near.union(*(pair for pair in joined if pair & near))
    this_side = dataclasses.replace(
        rig,
        shaft={name: part for name, part in rig.shaft.items() if name in near},
        bellcrank={name: part for name, part in rig.bellcrank.items() if name in near},
        slide={name: part for name, part in rig.slide.items() if name in near},
        link={name: by for name, by in others.items() if by.joins[0].rpartition(".")[0] in near},
        coupling={name: by for name, by in rig.coupling.items() if by.joins[0] in near},
    )
    whole, upstream = LoopEquations(rig), LoopEquations(this_side)
    first, second = rig.link[link].joins
    start, end = (first, second) if first.rpartition(".")[0] in near else (second, first)
    member = end.rpartition(".")[0]
    if member in rig.slide:
        still, way, _ = whole.circles[end]

        def room(driver: float) -> float:
            out = whole.pin(start, upstream.turns(float(np.radians(driver)))[start.rpartition(".")[0]]) - still
            return float(whole.lengths[link] - np.linalg.norm(out - (out @ way) * way))

        return room
    axis = np.asarray(rig.members[member].axis)
    circle = [whole.pin(end, turn) for turn in (0.0, np.pi)]
    centre = 0.5 * (circle[0] + circle[1])
    radius = float(np.linalg.norm(circle[0] - centre))
    length = whole.lengths[link]

    def spare(driver: float) -> float:
        turns = upstream.turns(float(np.radians(driver)))
        out = whole.pin(start, turns[start.rpartition(".")[0]]) - centre
        along = float(out @ axis)
        across = float(np.linalg.norm(out - along * axis))
        least, most = np.hypot(across - radius, along), np.hypot(across + radius, along)
        return float(min(length - least, most - length))

    return spare
