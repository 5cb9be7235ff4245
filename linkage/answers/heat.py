r"""Heat: the linkage hot against the linkage cold, each between its own stops.

::

    pivots, casing end      spread about the drawing's origin by   engine x rise
    links                   grow by                                links x links_rise (or rise)
    arms                    grow about their own pivot by          arms x rise
    guides                  spread with the engine; the block grows as arms do, about the place of
                            its guide where it is drawn, and its own stops stay where the engine has them

What is mounted on the body does not spread. The drawing, with its fitted links, is how it is built: cold.
The hot linkage is solved anew with the grown dimensions. Plate angles and the turns of stops do not change:
a part that grows alike in all directions keeps its angles. Along its guide a block goes where it is pushed,
so that there the spread only moves the place that its travel counts from.

References
----------
W. D. Callister and D. G. Rethwisch, *Fundamentals of Materials Science and Engineering*, 3rd ed.,
table B.6: linear expansion of cast aluminium 356 21.5e-6, 6061 bar 23.6e-6 per kelvin (from memory).
Plain carbon steel 11.7e-6 to 12e-6: common practice, no source.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from linkage import closure
from linkage.answers.checks import Check
from linkage.answers.mismatch import Mismatch, mismatch
from linkage.errors import AssemblyError
from linkage.motion import Motion, solve
from linkage.motion.assembly import OR_FITTED
from linkage.parts import Heat, Linkage, Member, Point, Slide
from linkage.tables import length
from linkage.train import compared

Turning = TypeVar("Turning", bound=Member)


@dataclass(frozen=True, eq=False)
class Standing:
    """One state of the linkage: its ``run``, its ``mismatch``, what ``holds`` the closing and the opening
    (None: a dead point), and the plate angles [deg] at idle."""

    run: Motion
    mismatch: Mismatch
    holds: tuple[str | None, str | None]
    idle_plate_angle: Mapping[str, float]


@dataclass(frozen=True, eq=False)
class HeatReport:
    """Cold and hot.

    ``lifts`` [deg] is how far each plate stands further open at idle when hot, ``common_lift`` [deg]
    their mean: it raises the idle speed, only the rest is mismatch. ``set_cold`` [mm] is by how much
    longer than now each link is to be set cold, so that all shafts stand hot as the drawing has them
    at idle; negative: shorter. Where the grown linkage cannot be put together ``hot`` is None,
    ``jams`` says why, and there are no other figures.
    """

    cold: Standing
    hot: Standing | None
    lifts: Mapping[str, float]
    common_lift: float
    set_cold: Mapping[str, float]
    jams: str = ""


def heat(run: Motion) -> HeatReport | None:
    """Compare a motion hot and cold; None where :func:`lacks` says what is missing.

    Parameters
    ----------
    run : Motion
        Of the drawing, as built: cold.

    Returns
    -------
    HeatReport or None
    """
    if lacks(run.rig):
        return None
    before = _standing(run)
    try:
        hot = solve(heated(run), positions=run.turn.size)
    except AssemblyError as error:
        return HeatReport(before, None, {}, np.nan, {}, str(error).removesuffix(OR_FITTED))
    after = _standing(hot)
    lifts = {name: after.idle_plate_angle[name] - angle for name, angle in before.idle_plate_angle.items()}
    return HeatReport(before, after, lifts, float(np.mean(list(lifts.values()))), _set_cold(run, hot))


def heated(run: Motion) -> Linkage:
    """The linkage grown by its heat: links have the length [mm] they are built to, times their growth.

    Parameters
    ----------
    run : Motion
        Of a design with heat; its fitted links are built as the drawing fits them.
    """
    rig, given = run.rig, run.rig.heat or Heat()
    engine, links, arms = growth(given)
    built = {joint.step.by.name: float(joint.length) for joint in run.train.joints if joint.forward is not None}
    cable = rig.cable
    if cable is not None:
        spread = engine if cable.mounted == "engine" else 1.0
        end = None if cable.casing_end is None else _scaled(cable.casing_end, spread)
        grown = {
            name: dataclasses.replace(point, moment_arm=point.moment_arm * arms)
            for name, point in (cable.profile or {}).items()
        }
        cable = dataclasses.replace(
            cable, casing_end=end, radius=cable.radius and cable.radius * arms, profile=grown or None
        )
    return dataclasses.replace(
        rig,
        shaft={name: _grown(shaft, engine, arms) for name, shaft in rig.shaft.items()},
        bellcrank={name: _grown(crank, engine, arms) for name, crank in rig.bellcrank.items()},
        slide={
            name: _spread(block, engine if block.mounted == "engine" else 1.0, arms)
            for name, block in rig.slide.items()
        },
        stop={
            name: dataclasses.replace(stop, travel=stop.travel and stop.travel * engine)
            for name, stop in rig.stop.items()
        },
        link={
            name: dataclasses.replace(link, length=built[name] * links, slot=link.slot and link.slot * links)
            for name, link in rig.link.items()
        },
        spring={
            name: dataclasses.replace(spring, anchor=spring.anchor and _scaled(spring.anchor, engine))
            for name, spring in rig.spring.items()
        },
        cable=cable,
    )


def growth(given: Heat) -> tuple[float, float, float]:
    """Factors by which the engine, the links and the arms grow [-]."""
    links_rise = given.rise if given.links_rise is None else given.links_rise
    return 1.0 + given.engine * given.rise, 1.0 + given.links * links_rise, 1.0 + given.arms * given.rise


def _grown(member: Turning, engine: float, arms: float) -> Turning:
    pivot = _scaled(member.pivot, engine if member.mounted == "engine" else 1.0)
    grown = {}
    for name, arm in member.arm.items():
        grown[name] = dataclasses.replace(
            arm,
            radius=arm.radius and arm.radius * arms,
            station=arm.station * arms,
            pin=arm.pin and _moved(arm.pin, member.pivot, pivot, arms),
        )
    return dataclasses.replace(member, pivot=pivot, arm=grown)


def _spread(block: Slide, engine: float, arms: float) -> Slide:
    """A block, with its pins about the place of its guide where it is drawn: square to the middle of its pins."""
    if not block.pin:
        return block
    middle = [sum(pin.at[i] for pin in block.pin.values()) / len(block.pin) for i in range(3)]
    ahead = sum((m - o) * a for m, o, a in zip(middle, block.origin, block.along, strict=True))
    x, y, z = (o + ahead * a for o, a in zip(block.origin, block.along, strict=True))
    drawn, there = (x, y, z), _scaled((x, y, z), engine)
    pins = {name: dataclasses.replace(pin, at=_moved(pin.at, drawn, there, arms)) for name, pin in block.pin.items()}
    return dataclasses.replace(block, origin=_scaled(block.origin, engine), pin=pins)


def _scaled(point: Point, by: float) -> Point:
    return (point[0] * by, point[1] * by, point[2] * by)


def _moved(pin: Point, old: Point, new: Point, by: float) -> Point:
    x, y, z = (new[i] + (pin[i] - old[i]) * by for i in range(3))
    return (x, y, z)


def _standing(run: Motion) -> Standing:
    idle = {name: float(angle[0]) for name, angle in run.at(run.ends[0]).plate_angle.items()}
    stops = run.travel.stops
    closing, opening = (
        stops[int(i)].name if i >= 0 else None for i in (run.travel.closing_holds, run.travel.opening_holds)
    )
    return Standing(run, mismatch(run), (closing, opening), idle)


def _set_cold(run: Motion, hot: Motion) -> dict[str, float]:
    """By how much longer [mm] each link is to be set cold for its ends to stand hot as drawn."""
    assert run.rig.heat is not None
    _, links, _ = growth(run.rig.heat)
    found = {}
    for cold_joint, hot_joint in zip(run.train.joints, hot.train.joints, strict=True):
        if cold_joint.driving is None or cold_joint.driven is None:
            continue
        assert hot_joint.driving is not None
        assert hot_joint.driven is not None
        wanted = closure.drawn_length(hot_joint.driving, hot_joint.driven) / links
        found[cold_joint.step.by.name] = float(wanted - closure.drawn_length(cold_joint.driving, cold_joint.driven))
    return found


def lacks(rig: Linkage) -> str:
    """What to add to the design file for this answer, in one sentence; "" where nothing lacks."""
    given = rig.heat
    if given is None or given.rise == 0.0 or not any((given.engine, given.links, given.arms)):
        return "Heat needs the table [heat] with rise, and the expansion coefficients engine and links."
    return ""


def checks(run: Motion, report: HeatReport | None) -> tuple[Check, ...]:
    """Whether the hot linkage keeps the limits that the cold one is held to."""
    if report is None:
        return ()
    if report.hot is None:
        return (Check("heat_at_idle", "fail", None, None, "deg", "hot", f"grown by the heat, {report.jams}."),)
    if len(compared(run.rig)) < 2:
        return ()
    limits, cold, hot = run.rig.limits, report.cold.mismatch, report.hot.mismatch
    regions = [
        ("in the first 10 degrees of opening", hot.off_idle, cold.off_idle, limits.mismatch_off_idle),
        ("in the last 10 degrees of opening", hot.last, cold.last, limits.mismatch_at_wide_open),
    ]
    if hot.middle is not None and cold.middle is not None:
        regions.append(("in mid travel", hot.middle, cold.middle, limits.mismatch))
    where, most, before, limit = max(regions, key=lambda region: region[1].value - region[3])
    return (
        _check("heat_at_idle", hot.at_idle, cold.at_idle, limits.mismatch_at_idle, "at the closing stop", report),
        _check("heat_in_travel", most.value, before.value, limit, where, report),
    )


def _check(name: str, hot: float, cold: float, limit: float, where: str, report: HeatReport) -> Check:
    over = hot > limit + 1e-9
    says = f"hot, the plates stand {hot:.3f} degrees apart {where} (cold {cold:.3f}); the limit is {limit:g}"
    if over and hot > cold + 1e-9:
        says += "; synchronise it hot" + _settings(report)
    return Check(name, "caution" if over else "pass", hot, limit, "deg", where, says + ".")


def _settings(report: HeatReport) -> str:
    """How to set the links cold, as the end of a sentence; what is less than a hundredth of a mm is left."""
    units = report.cold.run.rig.units
    told = [
        f'"{name}" {length(abs(by), units)} {"longer" if by > 0.0 else "shorter"}'
        for name, by in report.set_cold.items()
        if abs(by) >= 0.01
    ]
    return f", or set cold: link {', '.join(told)}" if told else ""
