"""A second route to the twist, for the tests: torsion bars between the grips of every member, all at once.

Every grip of every member has its own turn, every link its own force; the torques about each grip and
the lengths of the links are one system of equations for scipy's root. No closure, no velocity ratio,
no order of the train, no rounds. Pins turn by Rodrigues' formula.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Mapping

import numpy as np
from free_bodies import drawn_pin, turned
from numpy.typing import NDArray
from scipy.optimize import root

from linkage.motion import Motion
from linkage.parts import SIGN, Linkage, Section, Shaft

Floats = NDArray[np.float64]
_G = {"steel": 79_300.0}  # [N/mm^2]


def long_shafts(rig: Linkage, *, length: float = 300.0, plates: int = 3, diameter: float = 8.0) -> Linkage:
    """The linkage with its throttle shafts so long, plates along them, their torsion springs at the far end."""
    places = tuple(length * (i + 0.5) / plates for i in range(plates))

    def made(shaft: Shaft) -> Shaft:
        return dataclasses.replace(shaft, plates=plates, twist=Section(diameter, plates_at=places))

    springs = {n: dataclasses.replace(s, station=length) if s.on in rig.shaft else s for n, s in rig.spring.items()}
    return dataclasses.replace(rig, shaft={n: made(s) for n, s in rig.shaft.items()}, spring=springs)


class Bars:
    """The grips of a linkage's members, each with its station, and what holds the driver."""

    def __init__(self, run: Motion, position: int, moving: float) -> None:
        self.rig, rig = run.rig, run.rig
        self.turn = {name: math.radians(turn[position]) for name, turn in run.member_turn.items()}
        step = run.at([run.turn[position] - 1e-4, run.turn[position] + 1e-4])
        self.way = {
            n: moving * float(np.sign(t[1] - t[0])) * float(run.train.opens) for n, t in step.member_turn.items()
        }
        self.grips: list[tuple[str, str, float]] = []
        for name, member in rig.turning.items():
            self.grips += [(name, arm, self._station(f"{name}.{arm}")) for arm in member.arm]
            self.grips += [(name, f"spring {s}", p.station or 0.0) for s, p in rig.spring.items() if p.on == name]
            self.grips += [
                (name, f"tie {tie}", 0.0 if by.stations is None else by.stations[by.joins.index(name)])
                for tie, by in rig.coupling.items()
                if name in by.joins
            ]
            section = member.twist
            places = () if section is None or section.plates_at is None else section.plates_at
            self.grips += [(name, f"plate {i}", at) for i, at in enumerate(places, 1)]
            if name == rig.driver and (rig.cable is None or rig.cable.quadrant is not None):
                self.grips.append((name, "turned", (section and section.turned_at) or 0.0))
            self.grips.append((name, "pivot", 0.0))
        self.held = (rig.driver, "turned")
        if rig.cable is not None and rig.cable.pulls is not None:
            member_name, _, arm = rig.cable.pulls.rpartition(".")
            self.held = (member_name, arm)

    def _station(self, pin: str) -> float:
        return float(drawn_pin(self.rig, pin) @ np.array(self.rig.members[pin.rpartition(".")[0]].axis))

    def stiff(self, member: str) -> float:
        section = self.rig.turning[member].twist
        if section is None:
            return 1e13
        thick = section.diameter or 0.0
        hollow = thick - 2.0 * section.wall if section.wall is not None else 0.0
        return _G["steel"] * math.pi * (thick**4 - hollow**4) / 32.0

    def pin(self, joined: str, turn: float) -> tuple[Floats, Floats]:
        """A pin from its axis and in space, its own grip turned so far."""
        part = self.rig.members[joined.rpartition(".")[0]]
        out = turned(drawn_pin(self.rig, joined), np.array(part.axis), turn)
        return out, out + np.array(part.pivot)

    def torque(self, joined: str, turn: float, force: Floats) -> float:
        axis = np.array(self.rig.members[joined.rpartition(".")[0]].axis)
        return float(axis @ np.cross(self.pin(joined, turn)[0], force))

    def solve(self) -> dict[tuple[str, str], float]:
        """Turn of every grip [rad]."""
        rig, count = self.rig, len(self.grips)
        keys = [(member, grip) for member, grip, _ in self.grips]
        forces = [*rig.link, *(f"tie {tie}" for tie in rig.coupling)]

        def residuals(x: Floats) -> Floats:
            turn = {key: x[i] + self.turn[key[0]] for i, key in enumerate(keys)}
            load = dict(zip(forces, 100.0 * x[count:], strict=True))
            about = self._loads(turn, load)
            found = []
            for member in rig.turning:
                bars = sorted((i for i, key in enumerate(keys) if key[0] == member), key=lambda i: self.grips[i][2])
                left = sum(about[keys[i]] for i in bars)
                if member == self.held[0]:
                    about[self.held] -= left  # the cable, or whatever turns it
                carried = 0.0
                for before, after in itertools.pairwise(bars):
                    carried -= about[keys[before]]
                    span = self.grips[after][2] - self.grips[before][2]
                    found.append(x[after] - x[before] - carried * span / self.stiff(member))
                found.append(x[keys.index(self.held)] if member == self.held[0] else left / 1e3)
            for name, link in rig.link.items():
                ends = [self.pin(end, turn[self._grip(end)])[1] for end in link.joins]
                drawn = [self.pin(end, self.turn[end.rpartition(".")[0]])[1] for end in link.joins]
                found.append((math.dist(*ends) - math.dist(*drawn)) / 30.0)
                assert name in load
            for tie, by in rig.coupling.items():
                one, other = (x[keys.index((member, f"tie {tie}"))] for member in by.joins)
                found.append(other - by.ratio * one)
            return np.array(found)

        answer = root(residuals, np.zeros(count + len(forces)), method="hybr", tol=1e-13)
        assert np.max(np.abs(residuals(answer.x))) < 1e-9, answer.message
        return {key: float(answer.x[i]) + self.turn[key[0]] for i, key in enumerate(keys)}

    @staticmethod
    def _grip(pin: str) -> tuple[str, str]:
        member, _, arm = pin.rpartition(".")
        return member, arm

    def _loads(self, turn: Mapping[tuple[str, str], float], load: Mapping[str, float]) -> dict[tuple[str, str], float]:
        """Torque at every grip, ccw."""
        rig, about = self.rig, dict.fromkeys(turn, 0.0)
        for name, link in rig.link.items():
            one, other = ((end, self._grip(end)) for end in link.joins)
            along = self.pin(other[0], turn[other[1]])[1] - self.pin(one[0], turn[one[1]])[1]
            along /= np.linalg.norm(along)
            about[one[1]] += self.torque(one[0], turn[one[1]], load[name] * along)
            about[other[1]] += self.torque(other[0], turn[other[1]], -load[name] * along)
        for tie, by in rig.coupling.items():
            about[by.joins[1], f"tie {tie}"] += load[f"tie {tie}"]
            about[by.joins[0], f"tie {tie}"] -= by.ratio * load[f"tie {tie}"]
        for name, spring in rig.spring.items():
            if spring.on is not None:
                opening = SIGN[rig.shaft[spring.on].opens]
                opened = math.degrees(opening * turn[spring.on, f"spring {name}"])
                about[spring.on, f"spring {name}"] -= opening * (spring.preload + spring.rate * opened)
                continue
            grip = self._grip(spring.pulls or "")
            line = np.array(spring.anchor) - self.pin(spring.pulls or "", turn[grip])[1]
            size = float(np.linalg.norm(line))
            pull = spring.initial_tension + spring.rate * (size - (spring.free_length or 0.0))
            about[grip] += self.torque(spring.pulls or "", turn[grip], pull * line / size)
        for name, member in rig.turning.items():
            places = [key for key in about if key[0] == name and key[1].startswith("plate ")] or [(name, "pivot")]
            for place in places:
                about[place] -= self.way[name] * member.friction_torque / len(places)
        return about
