"""Pedals to work with: a bell crank in the footwell that pulls a quadrant, and a pedal that is the driver."""

from __future__ import annotations

import dataclasses
from typing import Any

from trains import arms, crank, shaft

from linkage.parts import BellCrank, Cable, Follower, Link, Linkage, Pedal, Spring

#: the pedal of :func:`quadrant`: pivot at nothing, pad arm 200 mm down, cable arm up, casing ahead on its level
PAD, ARM, CASING = 200.0, 80.0, (150.0, 70.0, 0.0)


def quadrant(arm_angle: float = 60.0, *, free_play: float = 1.0, **more: Any) -> Linkage:
    """One shaft on a quadrant of 30 mm, 80 degrees of it, pulled by a pedal that hangs and is pressed ccw."""
    pedal = Pedal(
        pivot=(0.0, 0.0, 0.0),
        opens="ccw",
        arm=arms(pad=(PAD, 260.0), cable=(ARM, arm_angle)),
        casing_end=CASING,
        **more,
    )
    cable = Cable(quadrant="one", radius=30.0, pull_turns="ccw", free_play=free_play, efficiency=0.8)
    spring = Spring("s", on="one", preload=200.0, rate=3.0)
    return Linkage(
        "quadrant", "mm", {"one": shaft("one", (0.0, 0.0, 0.0), "ccw", {}, idle=8.0, wide_open=88.0)}, {}, {}, {},
        cable=cable, pedal=pedal, spring={"s": spring},
    )  # fmt: skip


def rods(**more: Any) -> Linkage:
    """Pedal, push-rod, shaft: three pins, the pedal the driver."""
    pedal: BellCrank = crank("pedal", (-400.0, -100.0, 0.0), arms(pad=(180.0, 100.0), rod=(60.0, 95.0)))
    one = shaft("one", (0.0, 0.0, 0.0), "cw", arms(rod=(28.0, 130.0)), idle=8.0, wide_open=88.0)
    return Linkage(
        "rods", "mm", {"one": one}, {"pedal": pedal}, {"rod": Link("rod", ("pedal.rod", "one.rod"))}, {},
        drive="pedal", pedal=Pedal(pad="pedal.pad", **more),
        spring={"s": Spring("s", on="one", preload=200.0, rate=3.0), "p": Spring("p", on="pedal", preload=500.0)},
    )  # fmt: skip


def with_followers(rig: Linkage, *found: Follower) -> Linkage:
    """The linkage with followers."""
    return dataclasses.replace(rig, follower={part.name: part for part in found})
