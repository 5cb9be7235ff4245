"""Example trains for the tests, built straight from the parts. All dimensions invented."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable
from typing import Any

from linkage.parts import (
    Arm,
    BellCrank,
    Cable,
    Coupling,
    Link,
    Linkage,
    PlateAngle,
    Point,
    Sense,
    Shaft,
    Slide,
    SlidePin,
    Stop,
)


def arms(**at: tuple[float, float] | tuple[float, float, float] | Point) -> dict[str, Arm]:
    """Arms by name from ``(radius, angle)`` or ``(radius, angle, station)``."""
    return {name: Arm(name, *numbers[:2], station=(*numbers, 0.0)[2]) for name, numbers in at.items()}


def pins(**at: Point) -> dict[str, Arm]:
    """Arms by name from the places of their pins."""
    return {name: Arm(name, pin=place) for name, place in at.items()}


def shaft(
    name: str,
    pivot: Point,
    opens: Sense,
    arm: dict[str, Arm],
    *,
    idle: float = 10.0,
    wide_open: float = 88.0,
) -> Shaft:
    """A throttle shaft along z."""
    return Shaft(name, pivot, arm=arm, opens=opens, bore=45.0, plate_angle=PlateAngle(idle, idle, wide_open))


def crank(name: str, pivot: Point, arm: dict[str, Arm], axis: Point = (0.0, 0.0, 1.0)) -> BellCrank:
    """A bell crank."""
    return BellCrank(name, pivot, axis, arm)


def block(name: str, along: Point, **at: Point) -> Slide:
    """A block that slides, with the places of its pins; the first is a point of the guide."""
    size = sum(a * a for a in along) ** 0.5
    way = (along[0] / size, along[1] / size, along[2] / size)
    return Slide(name, next(iter(at.values())), way, {pin: SlidePin(pin, place) for pin, place in at.items()})


def rig(*parts: Shaft | BellCrank | Slide | Link | Coupling | Stop, **more: Any) -> Linkage:
    """A linkage from its parts in any order, and the other fields of ``Linkage`` by name."""

    def named(kind: type) -> dict[str, Any]:
        return {part.name: part for part in parts if isinstance(part, kind)}

    given: dict[str, Any] = {"title": "test", "units": "mm", **more}
    return Linkage(
        shaft=named(Shaft),
        bellcrank=named(BellCrank),
        slide=named(Slide),
        link=named(Link),
        coupling=named(Coupling),
        stop=named(Stop),
        **given,
    )


def crossed_pair(
    angle: float = 51.0,
    other_angle: float = -51.0,
    *,
    centres: float = 250.0,
    radius: float = 30.0,
    other_wide_open: float = 95.0,
) -> Linkage:
    """Two counter-rotating shafts by one crossed link; the first is the driver and turns 78 deg."""
    return rig(
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(drive=(radius, angle)), idle=12.0, wide_open=90.0),
        shaft(
            "b",
            (centres, 0.0, 0.0),
            "cw",
            arms(drive=(radius, other_angle)),
            idle=12.0,
            wide_open=other_wide_open,
        ),
        Link("cross", ("a.drive", "b.drive")),
        drive="a",
    )


def parallel_pair(
    *, other_radius: float = 30.0, height: float = 0.0, angle: float = 51.0, other_angle: float = 51.0
) -> Linkage:
    """Two shafts that turn the same way by one link; the first is the driver and turns 78 deg."""
    return rig(
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(drive=(30.0, angle)), idle=12.0, wide_open=90.0),
        shaft(
            "b",
            (250.0, height, 0.0),
            "ccw",
            arms(drive=(other_radius, other_angle)),
            idle=12.0,
            wide_open=98.0,
        ),
        Link("side", ("a.drive", "b.drive")),
        drive="a",
    )


def bell_crank() -> Linkage:
    """A bell crank between two counter-rotating shafts, cable on a pin."""
    return rig(
        shaft("left", (-112.0, 0.0, 0.0), "ccw", arms(drive=(34.0, 76.0))),
        shaft("right", (112.0, 0.0, 0.0), "cw", arms(drive=(34.0, -85.0))),
        crank("centre", (0.0, 58.0, 0.0), arms(left=(35.0, 78.0), right=(35.0, 20.0), cable=(40.0, 150.0))),
        Link("left", ("centre.left", "left.drive")),
        Link("right", ("right.drive", "centre.right")),
        cable=Cable(pulls="centre.cable", casing_end=(-60.0, -150.0, 0.0)),
    )


def series() -> Linkage:
    """Three shafts in a row, each driven by the one before; the first carries the quadrant."""
    return rig(
        shaft("one", (0.0, 0.0, 0.0), "ccw", arms(out=(30.0, 50.0))),
        shaft("two", (120.0, 4.0, 0.0), "ccw", arms(to=(31.0, 49.0), out=(28.0, 232.0))),
        shaft("three", (245.0, -6.0, 0.0), "ccw", arms(to=(29.0, 230.0))),
        Link("front", ("one.out", "two.to")),
        Link("rear", ("three.to", "two.out")),
        cable=Cable(quadrant="one", radius=28.0, pull_turns="ccw"),
    )


def cross_tube() -> Linkage:
    """A cross tube with three drop links, each pair of pins set off sideways by another amount."""
    return rig(
        crank(
            "tube",
            (0.0, 90.0, 0.0),
            arms(one=(36.0, 150.0, 10.0), two=(36.0, 151.0, 110.0), three=(37.0, 149.0, 225.0), cable=(45.0, 80.0)),
        ),
        *(
            shaft(name, (-10.0, 0.0, z), "ccw", arms(drive=(32.0, angle, station)))
            for name, z, angle, station in (
                ("one", 0.0, 152.0, 4.0),
                ("two", 100.0, 150.0, 0.0),
                ("three", 200.0, 148.0, -3.0),
            )
        ),
        *(Link(name, (f"tube.{name}", f"{name}.drive")) for name in ("one", "two", "three")),
        cable=Cable(pulls="tube.cable", casing_end=(-160.0, 120.0, -20.0)),
    )


def coupled() -> Linkage:
    """A bell crank to a shaft, a second in line with it by a sync coupling, a third by meshing sectors."""
    return rig(
        crank("centre", (60.0, 70.0, 0.0), arms(out=(38.0, 102.0))),
        shaft("front", (0.0, 0.0, 0.0), "ccw", arms(drive=(36.0, 98.0))),
        shaft("rear", (0.0, 0.0, 90.0), "ccw", {}),
        shaft("twin", (40.0, 0.0, 0.0), "cw", {}),
        Link("drop", ("centre.out", "front.drive")),
        Coupling("sync", ("rear", "front"), 1.0, -0.4),
        Coupling("sectors", ("front", "twin"), -1.05, 0.3),
        cable=Cable(quadrant="centre", radius=35.0, pull_turns="ccw"),
    )


def skew() -> Linkage:
    """Two shafts along z, driven by a bell crank on the y axis."""
    return rig(
        shaft("near", (0.0, 0.0, 0.0), "ccw", arms(drive=(32.0, 40.0))),
        shaft("far", (0.0, 0.0, 120.0), "cw", arms(drive=(33.0, 332.0))),
        crank(
            "upright",
            (84.0, 0.0, 60.0),
            pins(near=(101.0, 11.0, 24.0), far=(72.0, 32.0, 33.0), cable=(116.0, 5.0, 92.0)),
            axis=(0.0, 1.0, 0.0),
        ),
        Link("near", ("upright.near", "near.drive")),
        Link("far", ("upright.far", "far.drive")),
        cable=Cable(pulls="upright.cable", casing_end=(130.0, 10.0, -200.0)),
    )


def tilted() -> Linkage:
    """A shaft along z driven through a relay on a slanting axis, with a sideways offset besides."""
    slant = (0.36, 0.48, 0.8)
    return rig(
        shaft("plates", (0.0, 0.0, 0.0), "cw", arms(drive=(30.0, 198.0, 12.0))),
        crank("relay", (-20.0, 110.0, 20.0), pins(to=(3.0, 113.0, 5.0), out=(6.0, 92.0, 16.0)), axis=slant),
        crank("pedal", (120.0, 150.0, 0.0), arms(out=(30.0, 10.0))),
        Link("long", ("pedal.out", "relay.to")),
        Link("short", ("relay.out", "plates.drive")),
        drive="pedal",
    )


def hand_set() -> Linkage:
    """The bell crank with links a little off their drawn lengths: both shafts stand off idle."""
    fitted = bell_crank()
    lengths = {"left": 126.4, "right": 131.9}
    links = {name: dataclasses.replace(link, length=lengths[name]) for name, link in fitted.link.items()}
    return dataclasses.replace(fitted, link=links)


def pulled_block() -> Linkage:
    """A block on a guide, pulled by the cable, that draws two counter-rotating shafts open; a stop of its own."""
    return rig(
        shaft("left", (-62.0, 0.0, 0.0), "ccw", arms(drive=(24.0, -76.0, 3.0))),
        shaft("right", (64.0, -2.0, 0.0), "cw", arms(drive=(25.0, 257.0))),
        block("block", (0.05, 1.0, 0.0), cable=(0.0, 45.0, 0.0), left=(-8.0, 38.0, 5.0), right=(9.0, 37.0, 0.0)),
        Link("left", ("block.left", "left.drive")),
        Link("right", ("right.drive", "block.right")),
        Stop("top", "block", "opening", travel=60.0),
        cable=Cable(pulls="block.cable", casing_end=(12.0, 160.0, 4.0)),
    )


def relayed_block() -> Linkage:
    """A bell crank that draws a block up an inclined guide, which draws two shafts; one drives a second block."""
    return rig(
        crank("pedal", (34.0, 140.0, 0.0), arms(out=(44.0, 205.0), cable=(45.0, 110.0))),
        block("block", (0.1, 1.0, 0.0), top=(-4.0, 52.0, 0.0), left=(-12.0, 40.0, 0.0), right=(8.0, 42.0, 2.0)),
        shaft("left", (-60.0, 0.0, 0.0), "ccw", arms(drive=(24.0, -72.0))),
        shaft("right", (66.0, 4.0, 0.0), "cw", arms(drive=(25.0, 255.0), pump=(12.0, 120.0))),
        block("pump", (1.0, 0.1, 0.0), rod=(140.0, 14.0, 0.0)),
        Link("push", ("pedal.out", "block.top")),
        Link("left", ("block.left", "left.drive")),
        Link("right", ("block.right", "right.drive")),
        Link("pump", ("right.pump", "pump.rod")),
        Stop("full", "pump", "opening", travel=40.0),
        cable=Cable(pulls="pedal.cable", casing_end=(150.0, 200.0, 0.0)),
    )


def skew_block() -> Linkage:
    """A driven guide out of every plane: two shafts along z by links that lean, and a bell crank on the y axis."""
    return rig(
        block("block", (0.1, 1.0, 0.3), left=(-9.0, 40.0, 8.0), right=(10.0, 38.0, -6.0), side=(2.0, 52.0, 30.0)),
        shaft("left", (-60.0, 0.0, 0.0), "ccw", arms(drive=(28.0, -70.0, 3.0))),
        shaft("right", (66.0, -3.0, 0.0), "cw", arms(drive=(29.0, 250.0))),
        crank("idler", (77.6, 44.7, -1.2), pins(to=(60.0, 84.0, 12.0)), axis=(0.6, 0.0, 0.8)),
        Link("left", ("block.left", "left.drive")),
        Link("right", ("block.right", "right.drive")),
        Link("side", ("block.side", "idler.to")),
        drive="block",
    )


EXAMPLES: dict[str, Callable[[], Linkage]] = {
    make.__name__: make
    for make in (
        crossed_pair,
        parallel_pair,
        bell_crank,
        series,
        cross_tube,
        coupled,
        skew,
        tilted,
        hand_set,
        pulled_block,
        relayed_block,
        skew_block,
    )
}


def with_stop(linkage: Linkage, *stops: Stop) -> Linkage:
    """The linkage with more stops."""
    return dataclasses.replace(linkage, stop={**linkage.stop, **{stop.name: stop for stop in stops}})


def without(linkage: Linkage, names: Iterable[str]) -> Linkage:
    """The linkage with some stops taken away."""
    return dataclasses.replace(
        linkage, stop={name: stop for name, stop in linkage.stop.items() if name not in set(names)}
    )
