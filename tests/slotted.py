"""Staged trains for the tests, and a second route to what they do: root finding with every slot as an inequality.

Shares nothing with the motion but the parts: pins turn by Rodrigues' formula. A spring
holds every staged member as far shut as its closing stop and its slot let it, so its turn is the least
opening at which the pins stand no further apart (or, pushed, no nearer) than the slot allows.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.optimize import brentq
from trains import arms, crank, rig, shaft

from linkage.parts import SIGN, Cable, Coupling, Link, Linkage, Slide, SlidePin, Stop
from linkage.train import order


def staged(
    slot: float | None = 15.0, *, angle: float = 70.0, other: float = 50.0, radius: float = 20.0, **more: Any
) -> Linkage:
    """Two shafts 200 mm apart that turn ccw, the second picked up by a slotted link which pulls."""
    return rig(
        shaft("first", (0.0, 0.0, 0.0), "ccw", arms(out=(30.0, other), to=(40.0, -130.0)), idle=9.0, wide_open=88.0),
        shaft("second", (200.0, 0.0, 0.0), "ccw", arms(to=(radius, angle)), idle=9.0, wide_open=88.0),
        Link("stage", ("first.out", "second.to"), slot=slot),
        **({"cable": Cable(pulls="first.to", casing_end=(150.0, -40.0, 0.0))} | more),
    )


def pushed(slot: float = 5.0) -> Linkage:
    """The same with the link below the shafts, which pushes."""
    return staged(slot, angle=-70.0, other=-52.0)


def tang(gap: float = 30.0, ratio: float = 1.5, offset: float = 0.0, *, turned: bool = False) -> Linkage:
    """Two coaxial shafts with a pick-up tang; ``turned``: the coupling names the second first."""
    joins = ("second", "first") if turned else ("first", "second")
    return rig(
        shaft("first", (0.0, 0.0, 0.0), "ccw", {}, idle=9.0, wide_open=88.0),
        shaft("second", (0.0, 0.0, 80.0), "ccw" if ratio > 0.0 else "cw", {}, idle=9.0, wide_open=88.0),
        Coupling("pick_up", joins, ratio, offset, gap=gap),
        cable=Cable(quadrant="first", radius=30.0, pull_turns="ccw"),
    )


def by_crank(slot: float = 9.0) -> Linkage:
    """A crank between: the slotted link drives a bell crank without a stop, which drives the second shaft."""
    base = staged(None)
    relay = crank("relay", (150.0, 5.0, 0.0), arms(to=(25.0, 62.0), out=(24.0, 60.0)))
    second = shaft("second", (290.0, 10.0, 0.0), "ccw", arms(to=(22.0, 66.0)), idle=9.0, wide_open=80.0)
    return dataclasses.replace(
        base,
        shaft={"first": base.shaft["first"], "second": second},
        bellcrank={"relay": relay},
        link={
            "stage": Link("stage", ("relay.to", "first.out"), slot=slot),
            "on": Link("on", ("relay.out", "second.to")),
        },
    )


def in_series(slot: float = 8.0, other: float = 6.0, gap: float | None = None) -> Linkage:
    """Three shafts, each picked up by the one before; with ``gap`` a fourth by a tang from the third."""
    parts: list[Any] = [
        shaft("one", (0.0, 0.0, 0.0), "ccw", arms(out=(30.0, 48.0)), idle=9.0, wide_open=88.0),
        shaft("two", (150.0, 5.0, 0.0), "ccw", arms(to=(24.0, 55.0), out=(26.0, 62.0, 9.0)), idle=9.0, wide_open=88.0),
        shaft("three", (290.0, -5.0, 0.0), "ccw", arms(to=(20.0, 66.0)), idle=9.0, wide_open=88.0),
        Link("a", ("one.out", "two.to"), slot=slot),
        Link("b", ("two.out", "three.to"), slot=other),
    ]
    if gap is not None:
        parts += [
            shaft("four", (290.0, -60.0, 0.0), "cw", {}, idle=9.0, wide_open=88.0),
            Coupling("c", ("three", "four"), -1.1, 0.0, gap=gap),
        ]
    return rig(*parts, cable=Cable(quadrant="one", radius=30.0, pull_turns="ccw"))


def by_slide(slot: float = 9.0) -> Linkage:
    """A block between, which slides along x: the slotted link pulls it, and it opens the second shaft by a link."""
    base = staged(None)
    pins = {
        "in": SlidePin("in", (140.0, 20.0, 0.0)),
        "out": SlidePin("out", (160.0, 20.0, 0.0)),
    }
    return dataclasses.replace(
        base,
        slide={"block": Slide("block", (150.0, 20.0, 0.0), (1.0, 0.0, 0.0), pins)},
        link={
            "stage": Link("stage", ("first.out", "block.in"), slot=slot),
            "on": Link("on", ("block.out", "second.to")),
        },
    )


STAGED: dict[str, Callable[[], Linkage]] = {
    "pulled": staged,
    "pushed": pushed,
    "tang": tang,
    "tang_turned": lambda: tang(24.0, 0.8, turned=True),
    "sectors": lambda: tang(20.0, -1.3),
    "by_crank": by_crank,
    "by_slide": by_slide,
    "in_series": in_series,
    "three_deep": lambda: in_series(7.0, 4.0, 5.0),
    "raised_idle": lambda: dataclasses.replace(
        staged(), stop={"idle_screw": Stop("idle_screw", "second", "closing", plate_angle=13.0)}
    ),
    "given_length": lambda: staged().replace("link.stage.length", 191.6),
    "mirrored": lambda: mirrored(staged()),
}


def mirrored(linkage: Linkage) -> Linkage:
    """The linkage seen from behind: x and every sense reversed."""
    other = {"ccw": "cw", "cw": "ccw"}

    def turned(member: Any) -> Any:
        arm = {n: dataclasses.replace(a, angle=180.0 - (a.angle or 0.0)) for n, a in member.arm.items()}
        x, y, z = member.pivot
        return dataclasses.replace(member, pivot=(-x, y, z), arm=arm)

    cable = linkage.cable
    if cable is not None and cable.casing_end is not None:
        x, y, z = cable.casing_end
        cable = dataclasses.replace(cable, casing_end=(-x, y, z))
    return dataclasses.replace(
        linkage,
        shaft={n: dataclasses.replace(turned(m), opens=other[m.opens]) for n, m in linkage.shaft.items()},
        bellcrank={n: turned(m) for n, m in linkage.bellcrank.items()},
        cable=cable,
    )


class SpringShut:
    """Where every member of a staged train stands, each held as far shut as its stop and its slot let it."""

    def __init__(self, linkage: Linkage) -> None:
        self.rig = linkage
        self.steps = order(linkage)
        self.opens = self._ways()
        self.rest = dict.fromkeys(linkage.members, 0.0)
        for stop in linkage.stop.values():
            if stop.limits == "closing" and stop.on in linkage.shaft and stop.plate_angle is not None:
                raised = stop.plate_angle - linkage.shaft[stop.on].plate_angle.idle
                self.rest[stop.on] = max(raised, self.rest[stop.on])

    def pin(self, joined: str, turn: float) -> Any:
        """Place of a pin [mm] when its member has turned [rad], by Rodrigues' formula."""
        member, _, arm = joined.rpartition(".")
        if member in self.rig.slide:  # a degree of its turn is a millimetre
            block = self.rig.slide[member]
            return np.asarray(block.pin[arm].at) + math.degrees(turn) * np.asarray(block.along)
        part, at = self.rig.turning[member], self.rig.turning[member].arm[arm]
        axis, out = np.asarray(part.axis), np.zeros(3)
        if at.pin is not None:
            out = np.asarray(at.pin) - np.asarray(part.pivot)
        else:
            angle = math.radians(at.angle)
            out = at.radius * np.array([math.cos(angle), math.sin(angle), 0.0]) + at.station * axis
        along, c, s = axis * (axis @ out), math.cos(turn), math.sin(turn)
        return np.asarray(part.pivot) + along + (out - along) * c + np.cross(axis, out) * s

    def _ways(self) -> dict[str, float]:
        """Which turn (+1 ccw) opens each member, from a tiny turn of the driver as drawn."""
        found = {self.rig.driver: 1.0}
        for step in self.steps:
            if isinstance(step.by, Coupling):
                found[step.driven] = found[step.driving] * math.copysign(1.0, step.by.ratio)
                continue
            ends = (f"{step.driving}.{step.arms[0]}", f"{step.driven}.{step.arms[1]}")
            tiny = 1e-6
            length = math.dist(*(self.pin(end, 0.0) for end in ends))
            by_driving = math.dist(self.pin(ends[0], tiny), self.pin(ends[1], 0.0)) - length
            by_driven = math.dist(self.pin(ends[0], 0.0), self.pin(ends[1], tiny)) - length
            found[step.driven] = found[step.driving] * math.copysign(1.0, -by_driving * by_driven)
        way = SIGN[next(iter(self.rig.shaft.values())).opens] * found[next(iter(self.rig.shaft))]
        return {name: way * sense for name, sense in found.items()}

    def at(self, driver: float) -> dict[str, float]:
        """Turn [deg, ccw] of every member at a driver turn [deg]; ``nan`` where a link does not reach."""
        turn = {self.rig.driver: driver}
        for step in self.steps:
            least = self._least(step, turn[step.driving])
            turn[step.driven] = self.opens[step.driven] * least
        return turn

    def _least(self, step: Any, driving: float) -> float:
        """Opening [deg] of the driven member of a step."""
        way, rest = self.opens[step.driven], self.rest[step.driven]
        if isinstance(step.by, Coupling):
            first = step.by.joins[0] == step.driving
            turn = step.by.ratio * driving + step.by.offset if first else (driving - step.by.offset) / step.by.ratio
            return way * turn if step.by.gap is None else max(rest, way * turn - step.by.gap)
        ends = (f"{step.driving}.{step.arms[0]}", f"{step.driven}.{step.arms[1]}")
        made = step.by.length or math.dist(*(self.pin(end, 0.0) for end in ends))
        place = self.pin(ends[0], math.radians(driving))

        def apart(opening: float) -> float:
            return math.dist(place, self.pin(ends[1], math.radians(way * opening)))

        pulls = math.dist(self.pin(ends[0], 0.0), self.pin(ends[1], 1e-6 * way)) < math.dist(
            *(self.pin(end, 0.0) for end in ends)
        )
        longest = made + (step.by.slot or 0.0) * (1.0 if pulls else -1.0)

        def over(opening: float) -> float:
            """Above 0 where the slot's end would have to pass through the pin."""
            return (apart(opening) - longest) if pulls else (longest - apart(opening))

        start = rest if step.by.slot is not None else -20.0
        if step.by.slot is not None and over(start) <= 0.0:
            return start
        for low in np.arange(start, 150.0, 1.0):
            if over(low + 1.0) <= 0.0 <= over(low):
                return float(brentq(over, low, low + 1.0, xtol=1e-13))
        return math.nan
