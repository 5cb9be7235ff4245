"""The pedal: pad travel, its ratio on the way down, which stop takes the foot, what the foot feels open when.

A pedal stop takes the foot, so that the throttle shafts do not: it is met as the first of the shafts comes
within a degree of its own wide-open stop, or with it, never after it. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from linkage.answers.airflow import open_area_fractions
from linkage.answers.cable import CABLE_SWING, swing, swing_told
from linkage.answers.checks import Check, Word, percent
from linkage.answers.extremes import Extreme
from linkage.answers.progression import TABLE, Row
from linkage.closure import Numbers
from linkage.motion import CableLine, CrankPedal, DriverPedal, Motion, PedalLine, RatioPedal, Train, Travel, walk
from linkage.motion.assembly import Pose, turn_near
from linkage.parts import SIGN
from linkage.tables import length

Floats = NDArray[np.float64]
Sort = Literal["ratio", "bell crank", "driver"]

#: a pedal stop may come so much [deg of plate] before the first wide-open stop; common practice, no source
STOP_LEAD = 1.0
#: stops nearer than this [mm, deg] are met together
SAME = 1e-6


@dataclass(frozen=True, eq=False)
class StopLead:
    """A pedal stop against wide open, one linkage or many.

    ``lead`` [mm] is the pad travel by which the pedal stop comes before the end of the travel (below 0: after it);
    ``left`` [deg] what the plate nearest to its wide-open stop then lacks, ``short`` [deg] what the one farthest
    from it lacks. ``judged`` is False where there is no pedal stop to judge.
    """

    lead: Numbers
    left: Numbers
    short: Numbers
    judged: Numbers


@dataclass(frozen=True, eq=False)
class PedalReport:
    """The pedal of a solved motion.

    ``needed`` [mm] is the pad travel from rest to wide open, ``room`` that to the floor, ``to_stop`` that to
    the pedal stop (None where not given); ``turn`` [deg] the pedal's from rest to wide open (None: by its ratio).
    ``pulls`` is False where the foot pays the cable out, ``dead_centre`` True where cable and arm come in line before
    wide open. ``first`` is what takes the foot. ``lead`` is None without a pedal stop; ``least_angle`` and
    ``swing`` [deg] as of :class:`~linkage.answers.cable.CableReport`, at the pedal.
    """

    run: Motion
    foot: PedalLine
    sort: Sort
    needed: float
    room: float | None
    to_stop: float | None
    turn: float | None
    pulls: bool
    dead_centre: bool
    first: Literal["stop", "throttles", "floor"]
    lead: StopLead | None
    least_angle: Extreme | None
    swing: float | None
    off_axis: bool

    @property
    def opens(self) -> bool:
        """Whether the foot takes the throttles to wide open."""
        return self.pulls and not self.dead_centre

    @property
    def shaft(self) -> str:
        """The first-named shaft, whose plate the foot is told."""
        return next(iter(self.run.rig.shaft))

    @property
    def ratio(self) -> tuple[float, float, float] | None:
        """Pad travel for each of cable at idle, half the pad's way and wide open; None without a cable."""
        if isinstance(self.foot, DriverPedal):
            return None
        assert self._three.moved is not None
        low, middle, high = (float(rate) for rate in np.asarray(self.foot.rate(self._three.moved)))
        return low, middle, high

    @property
    def gain(self) -> tuple[float, float, float]:
        """Degrees of plate of the shaft for each mm of pad at idle, half the pad's way and wide open."""
        low, middle, high = (float(gain) for gain in pad_gain(self._three)[self.shaft])
        return low, middle, high

    @property
    def progression(self) -> float | None:
        """Gain at wide open / gain at idle, of the pad; None where there is none."""
        low, _, high = self.gain
        return high / low if np.isfinite(low) and np.isfinite(high) and low != 0.0 else None

    @cached_property
    def table(self) -> tuple[Row, ...]:
        """The opening at shares of the pad's travel between idle and wide open; nothing where it does not get there."""
        turns = turn_at_share(self.run, np.array(TABLE))
        if not np.all(np.isfinite(turns)):
            return ()
        at = self.run.at(turns)
        angle, area = at.plate_angle[self.shaft], open_area_fractions(at)[self.shaft]
        return tuple(
            Row(share, float(a), None if area is None else float(area[i]))
            for i, (share, a) in enumerate(zip(TABLE, angle, strict=True))
        )

    @cached_property
    def _three(self) -> Motion:
        half = float(turn_at_share(self.run, np.array([0.5]))[0])
        half = half if np.isfinite(half) else float(self.run.turn_at_fraction(0.5)[0])
        return self.run.at([self.run.ends[0], half, self.run.ends[1]])


def pedal_report(run: Motion) -> PedalReport | None:
    """Judge the pedal of a solved motion; None without one, or where its cable does not open the throttles."""
    foot = run.pedal_line
    if foot is None or not _opens(run):
        return None
    ends = run.at(run.ends if run.by_cable or run.line is None else np.linspace(*run.ends, 181))
    assert ends.moved is not None
    most = float(np.max(np.abs(ends.moved)))
    pulls = not isinstance(foot, CrankPedal) or bool(foot.pulls)
    needed = float(foot.pad(most)) if pulls else np.nan
    dead = pulls and not np.isfinite(needed)
    lead = stop_lead(run.train, run.travel, run.line, foot)
    angle = swings = None
    pedal = run.rig.pedal
    axis = None if pedal is None else pedal.casing_axis
    if isinstance(foot, CrankPedal) and pulls and not dead:
        # between two dead centres the moment arm has one hump, so it is least at an end
        angles = cable_angle(ends)
        at = int(np.argmin(angles))
        angle = Extreme(float(angles[at]), float(ends.turn[at]), float(ends.fraction[at]))
        swings = float(swing(foot.line, 0.0, foot.sense * foot.turn(most), axis))
    return PedalReport(
        run=run,
        foot=foot,
        sort=_sort(foot),
        needed=needed,
        room=None if foot.room is None else float(foot.room),
        to_stop=None if foot.stop is None else float(foot.stop),
        turn=None if isinstance(foot, RatioPedal) else float(np.degrees(foot.turn(most))),
        pulls=pulls,
        dead_centre=dead,
        first=_first(foot, needed, lead),
        lead=lead,
        least_angle=angle,
        swing=swings,
        off_axis=axis is not None,
    )


def stop_lead(train: Train, travel: Travel, line: CableLine | None, foot: PedalLine) -> StopLead | None:
    """How a pedal stop stands to wide open, of one linkage or of many at once; None where no pedal has a stop.

    The pedal that is the driver may have its stop in a [stop] table instead, which then ends the travel.
    """
    first, last = travel.closing, travel.opening
    since, end = train.pose(first), train.pose(last)
    whole = train.opens * (last - first) if line is None else line.taken(end, since)
    wide = plates_lack(train, end)
    own: Numbers = False
    if isinstance(foot, DriverPedal) and foot.stop is None:
        on = [i for i, s in enumerate(travel.stops) if s.name in train.rig.stop and s.member == train.driver]
        own = np.isin(travel.opening_holds, on)
    if foot.stop is None:
        return StopLead(0.0 * whole, *wide, own) if np.any(own) else None
    with np.errstate(invalid="ignore", divide="ignore"):
        moved = np.clip(foot.moved_at(foot.stop), 0.0, whole)
        if line is None:
            there = train.pose(first + train.opens * moved)
        else:
            there = line.pose_at(moved, since, train.pose(0.5 * (first + last)))
            there = tuple(np.where(moved >= whole, e, t) for e, t in zip(end, there, strict=True))
        left, short = plates_lack(train, (there[0], there[1]))
        return StopLead(foot.pad(whole) - foot.stop, left, short, np.isfinite(foot.pad(whole)))


def plates_lack(train: Train, driver: Pose) -> tuple[Numbers, Numbers]:
    """What the plates lack to their wide-open stops [deg] with the driver standing so: the least and the most."""
    pose = walk(train, driver)
    lacks = []
    for name, shaft in train.rig.shaft.items():
        angles = f"shaft.{name}.plate_angle"
        travel = train.dims[f"{angles}.wide_open"] - train.dims[f"{angles}.idle"]
        half = SIGN[shaft.opens] * np.radians(0.5 * travel)
        lacks.append(travel - SIGN[shaft.opens] * np.degrees(turn_near(pose[name], half)))
    return np.minimum.reduce(np.broadcast_arrays(*lacks)), np.maximum.reduce(np.broadcast_arrays(*lacks))


def cable_angle(run: Motion) -> Floats:
    """Angle between the cable and the arm that pulls it at the pedal [deg], 0 (dead centre) to 90, shape (n,)."""
    foot = run.pedal_line
    if not isinstance(foot, CrankPedal) or run.moved is None:
        return np.full_like(run.turn, np.nan)
    arm = foot.line.moment_arm(foot.pose(foot.turn(run.moved)))
    return np.asarray(np.degrees(np.arcsin(np.minimum(np.abs(arm) / foot.line.arm.r, 1.0))))


def pad_gain(run: Motion) -> dict[str, Floats]:
    """Degrees of plate for each mm of pad travel, of every shaft, shape (n,) each; none without a pedal."""
    foot, moved = run.pedal_line, run.moved
    if foot is None or moved is None:
        return {}
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = np.radians(float(run.train.opens)) if run.cable_arm is None else np.radians(run.cable_arm)
        return {name: plate / (speed * foot.rate(moved)) for name, plate in run.plate_speed.items()}


def turn_at_share(run: Motion, share: Floats) -> Floats:
    """Driver turn [deg] at shares 0..1 of the pad's travel between idle and wide open, shape (k,).

    ``nan`` without a pedal, or where the pad does not take the linkage to wide open.
    """
    foot = run.pedal_line
    ends = run.at(run.ends).moved
    if foot is None or ends is None or not (run.by_cable or isinstance(foot, DriverPedal)):
        return np.full_like(share, np.nan)
    low, high = foot.pad(ends)
    if not np.isfinite(high):
        return np.full_like(share, np.nan)
    at = run.turn_at_moved(foot.moved_at(low + share * (high - low)))
    return np.where(share <= 0.0, run.ends[0], np.where(share >= 1.0, run.ends[1], at))


def _opens(run: Motion) -> bool:
    drawn = None if run.line is None else run.line.moment_arm(run.train.pose(np.float64(0.0)))
    return drawn is None or bool(drawn * run.train.opens > 0.0)


def _sort(foot: PedalLine) -> Sort:
    if isinstance(foot, RatioPedal):
        return "ratio"
    return "bell crank" if isinstance(foot, CrankPedal) else "driver"


def _first(foot: PedalLine, needed: float, lead: StopLead | None) -> Literal["stop", "throttles", "floor"]:
    """What takes the foot: the first met of the pedal stop, the throttles' own stop and the floor."""
    if foot.stop is None and lead is not None:
        return "stop"
    places = {"stop": foot.stop, "throttles": needed, "floor": foot.room}
    known = {name: float(at) for name, at in places.items() if at is not None and np.isfinite(at)}
    least = min(known.values(), default=np.inf)
    names: tuple[Literal["stop", "throttles", "floor"], ...] = ("stop", "throttles", "floor")
    return next((name for name in names if known.get(name, np.inf) <= least + SAME), "throttles")


def checks(run: Motion, report: PedalReport | None) -> tuple[Check, ...]:
    """The pedal's travel, its cable and its stop held against what there is."""
    if report is None:
        return ()
    if not report.pulls:
        return (
            Check(
                "pedal_pull", "fail", None, None, "", "pedal",
                "the foot pays the cable out instead of pulling it: bring the casing end to the other side of the "
                "cable arm, put that arm on the other side of the pivot (180 degrees on), or mend opens of [pedal] "
                "if it is drawn wrong.",
            ),
        )  # fmt: skip
    return (*_at_the_crank(run, report), *_travel(run, report), *_stop(run, report))


def _at_the_crank(run: Motion, report: PedalReport) -> Iterator[Check]:
    if report.sort != "bell crank":
        return
    yield Check("pedal_pull", "pass", None, None, "", "pedal", "the foot draws the cable out of its casing.")
    says = (
        "cable and arm come in line at the pedal before wide open, where it can pull no further: a longer cable "
        "arm, or one that starts further back."
    )
    if not report.dead_centre:
        says = "the cable keeps its lever arm at the pedal all the way to wide open."
    yield Check("pedal_dead_centre", "fail" if report.dead_centre else "pass", None, None, "", "pedal", says)
    if report.least_angle is not None:
        at, limit = report.least_angle, run.rig.limits.transmission_angle
        low = at.value < limit
        mend = "; below that the pedal's ratio climbs and the foot moves nothing" if low else ""
        yield Check(
            "pedal_cable_angle", "caution" if low else "pass", at.value, limit, "deg", percent(at.fraction),
            f"at the pedal the cable meets its arm at {at.value:.1f} degrees at the least; {limit:g} or more is "
            f"wanted{mend}.",
        )  # fmt: skip
    if report.swing is not None:
        over = report.swing > CABLE_SWING
        told, mend = swing_told(report.swing, report.off_axis)
        yield Check(
            "pedal_cable_swing", "caution" if over else "pass", report.swing, CABLE_SWING, "deg",
            "casing end at the pedal", f"at the pedal {told}{mend}.",
        )  # fmt: skip


def _travel(run: Motion, report: PedalReport) -> Iterator[Check]:
    if report.room is None or report.dead_centre:
        return
    units, short = run.rig.units, report.needed > report.room + 1e-9
    yield Check(
        "pedal_travel", "fail" if short else "pass", report.needed, report.room, "mm", "opening stop",
        f"the pad travels {length(report.needed, units)}; it has {length(report.room, units)}"
        f"{': it meets the floor before wide open' if short else ''}.",
    )  # fmt: skip


def _stop(run: Motion, report: PedalReport) -> Iterator[Check]:
    stop, units = report.lead, run.rig.units
    if stop is None or not np.all(stop.judged):
        return
    lead, left, short = float(stop.lead), max(float(stop.left), 0.0), float(stop.short)
    word: Word = "pass"
    pad = f"{length(abs(lead), units)} of pad travel"
    if lead < -SAME:
        word = "caution"
        says = (
            f"the throttles meet their wide-open stop {pad} before the pedal meets its own, so the foot bends the "
            "shafts: bring the pedal stop nearer to the foot."
        )
    elif short > run.rig.limits.wide_open_shortfall:
        word = "fail"
        says = (
            f"the pedal stop is met {pad} early and leaves a plate {short:.2f} degrees short of wide open; "
            f"{run.rig.limits.wide_open_shortfall:g} is allowed: let the pedal go further."
        )
    else:
        word = "caution" if left > STOP_LEAD + SAME else "pass"
        says = (
            f"the pedal stop takes the foot, {left:.2f} degrees of plate before the throttles' own; up to "
            f"{STOP_LEAD:g} is common practice."
        )
    if report.room is not None and report.to_stop is not None and report.room < report.to_stop - SAME:
        word = "fail" if word == "fail" else "caution"
        says = f"the pedal meets the floor before its own stop, which then never takes the foot; and {says}"
    yield Check("pedal_stop", word, lead, None, "mm", "pedal stop", says)
