"""Return springs and friction on the example trains. All figures invented."""

from __future__ import annotations

import dataclasses
from typing import Any

from trains import arms, rig, shaft

from linkage.parts import Cable, Linkage, Pedal, Point, Spring


def torsion(name: str, on: str, preload: float, rate: float = 0.0) -> Spring:
    return Spring(name, on=on, preload=preload, rate=rate)


def extension(name: str, pulls: str, anchor: Point, free: float, rate: float, initial: float = 0.0) -> Spring:
    return Spring(name, pulls=pulls, anchor=anchor, free_length=free, rate=rate, initial_tension=initial)


def sprung(linkage: Linkage, *given: Spring, friction: float = 0.0, **more: Any) -> Linkage:
    """The linkage with springs, and the same friction torque on every member."""
    return dataclasses.replace(
        linkage,
        spring={spring.name: spring for spring in given},
        shaft={n: dataclasses.replace(m, friction_torque=friction) for n, m in linkage.shaft.items()},
        bellcrank={n: dataclasses.replace(m, friction_torque=friction) for n, m in linkage.bellcrank.items()},
        **more,
    )


def on_each(linkage: Linkage, preload: float = 120.0, rate: float = 1.5) -> list[Spring]:
    return [torsion(f"on_{name}", name, preload, rate) for name in linkage.shaft]


def one_shaft(*given: Spring, friction: float = 0.0, efficiency: float = 1.0) -> Linkage:
    """A shaft with a quadrant of 30 mm that turns 78 degrees, and a pedal of ratio 3."""
    return sprung(
        rig(
            shaft("a", (0.0, 0.0, 0.0), "ccw", arms(drive=(30.0, 51.0), hook=(20.0, 0.0))),
            cable=Cable(quadrant="a", radius=30.0, pull_turns="ccw", efficiency=efficiency),
            pedal=Pedal(3.0),
        ),
        *given,
        friction=friction,
    )
