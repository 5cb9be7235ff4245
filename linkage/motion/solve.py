"""A linkage through its whole travel: :func:`solve` makes a :class:`Motion`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage import tables, turns
from linkage.errors import DesignError
from linkage.motion.assembly import Pose, Train, assemble, gains, turn_near, walk
from linkage.motion.cable import CableLine, cable_line
from linkage.motion.pedal import DriverPedal, PedalLine, pedal_line
from linkage.motion.travel import Travel, find_travel, pick_ups
from linkage.parts import SIGN, Linkage
from linkage.train import faults

Floats = NDArray[np.float64]

#: [deg] of driver turn off a kink, where what bears is sure to bear, or not to
PAST_KINK = 1e-10
_FINE = 181  # positions enough to follow every member without losing count of its turns


@dataclass(frozen=True, eq=False)
class Motion:
    """What a linkage does between its closing and its opening stop; arrays over n positions, idle first.

    ``turn`` [deg] is the driver's, from drawn; ``member_turn`` [deg] every member's (of a block that slides, its
    travel [mm]); ``speed`` and
    ``second`` their derivatives by the driver's turn [-, 1/rad]; ``cable`` [mm] the cable travel from
    the closing stop, ``cable_arm`` [mm] its moment arm about the driver (ccw positive), ``pedal``
    [mm] the pad travel: None where the design has none, or one that never gets to wide open.
    ``fraction`` is the share of the travel: of cable travel, or of driver turn where there is no cable or
    the cable passes a dead centre.
    """

    rig: Linkage
    train: Train
    travel: Travel
    line: CableLine | None
    turn: Floats
    pose: Mapping[str, Pose]
    member_turn: Mapping[str, Floats]
    speed: Mapping[str, Floats]
    second: Mapping[str, Floats]
    cable: Floats | None
    cable_arm: Floats | None
    pedal: Floats | None
    fraction: Floats
    by_cable: bool
    pedal_line: PedalLine | None = None

    @property
    def plate_angle(self) -> dict[str, Floats]:
        """Plate angle [deg] of every shaft, shape (n,) each."""
        return {
            name: self.train.dims[f"shaft.{name}.plate_angle.idle"] + SIGN[shaft.opens] * self.member_turn[name]
            for name, shaft in self.rig.shaft.items()
        }

    @property
    def plate_speed(self) -> dict[str, Floats]:
        """d(plate angle)/d(driver turn) of every shaft, shape (n,) each."""
        return {name: SIGN[shaft.opens] * self.speed[name] for name, shaft in self.rig.shaft.items()}

    @property
    def moved(self) -> Floats | None:
        """What the pedal has moved: cable [mm] from the closing stop, or the driver [rad] where it is the driver."""
        if isinstance(self.pedal_line, DriverPedal):
            return np.asarray(self.train.opens * (np.radians(self.turn) - self.travel.closing))
        return self.cable

    def turn_at_moved(self, moved: ArrayLike) -> Floats:
        """Driver turn [deg] where the pedal has :attr:`moved` so much, within the travel."""
        whole = self.at(self.ends[1]).moved
        assert whole is not None
        with np.errstate(invalid="ignore", divide="ignore"):
            return self.turn_at_fraction(np.clip(np.asarray(moved, float) / whole[0], 0.0, 1.0))

    @property
    def travel_speed(self) -> Floats:
        """d(travel)/d(driver turn): cable [mm/deg], or 1 towards opening where fraction counts turn."""
        if self.by_cable and self.cable_arm is not None:
            return np.asarray(np.radians(self.cable_arm))
        return np.full_like(self.turn, float(self.train.opens))

    @property
    def gain(self) -> dict[str, Floats]:
        """Degrees of plate per mm of cable travel (without a cable per degree of driver turn, or mm of its travel)."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return {name: speed / self.travel_speed for name, speed in self.plate_speed.items()}

    @property
    def by_length(self) -> bool:
        """Whether :attr:`gain` is per mm, of the cable or of a driver that slides, and not per degree."""
        return self.by_cable or self.train.slides(self.rig.driver)

    @property
    def ends(self) -> tuple[float, float]:
        """Driver turn [deg] at the closing and at the opening end."""
        return float(np.degrees(self.travel.closing)), float(np.degrees(self.travel.opening))

    @property
    def pick_up(self) -> dict[str, float]:
        """Driver turn [deg] at which each slack joint is taken up, by its table (``"link.NAME"``); ``nan``: never.

        Also beyond the ends of the travel; see :func:`linkage.motion.travel.pick_ups`.
        """
        return {name: float(np.degrees(at)) for name, at in pick_ups(self.train).items()}

    @property
    def kinks(self) -> tuple[float, ...]:
        """Driver turns [deg] inside the travel at which slack is taken up, idle first: curves have kinks there."""
        first, last = self.ends
        inside = {at for at in self.pick_up.values() if min(first, last) < at < max(first, last)}
        return tuple(sorted(inside, reverse=last < first))

    def pieces(self, between: tuple[float, float] | None = None) -> list[tuple[float, float]]:
        """The travel, or what lies between two driver turns [deg], cut at its kinks, a hair off them on either side."""
        first, last = between or self.ends
        inside = [at for at in self.kinks if min(first, last) < at < max(first, last)]
        past = np.copysign(PAST_KINK, last - first)
        ends = [first, *(at + way * past for at in sorted(inside, reverse=last < first) for way in (-1.0, 1.0)), last]
        return list(zip(ends[::2], ends[1::2], strict=True))

    def at(self, turn: ArrayLike) -> Motion:
        """The same motion at other driver turns [deg], any one-dimensional array."""
        wanted = np.radians(np.atleast_1d(np.asarray(turn, float)))
        return _sampled(self.train, self.travel, self.line, wanted)

    def turn_at_fraction(self, fraction: ArrayLike) -> Floats:
        """Driver turn [deg] at shares 0..1 of the travel, exact by closure."""
        share = np.atleast_1d(np.asarray(fraction, float))
        first, last = self.ends
        if not self.by_cable or self.line is None:
            return np.asarray((1.0 - share) * first + share * last)
        since, end = self.train.pose(np.radians(first)), self.train.pose(np.radians(last))
        middle = self.train.pose(np.radians(0.5 * (first + last)))
        there = self.line.pose_at(share * self.line.taken(end, since), since, middle)
        slides = self.train.slides(self.rig.driver)
        at = np.degrees(turn_near(there, np.radians(0.5 * (first + last)), slides))
        # the very ends are known; the closure comes to them through a square root
        return np.where(share <= 0.0, first, np.where(share >= 1.0, last, at))

    def with_kinks(self) -> Motion:
        """The same motion with the position next to each kink moved on to it; itself where it has none."""
        if not self.kinks or len(self.turn) < 3:
            return self
        turns = self.turn.copy()
        for kink in self.kinks:
            turns[1 + int(np.argmin(np.abs(turns[1:-1] - kink)))] = kink
        return self.at(turns)

    def at_fraction(self, fraction: ArrayLike) -> Motion:
        """The same motion at shares 0..1 of its travel."""
        return self.at(self.turn_at_fraction(fraction))

    def columns(self) -> dict[str, Floats]:
        """Plain columns, headings with units [mm, deg]."""
        found: dict[str, Floats] = {
            "travel [%]": 100.0 * self.fraction,
            f"{self.rig.driver} [{turns.inside(self.rig, self.rig.driver)}]": self.turn,
        }
        if self.cable is not None:
            found["cable [mm]"] = self.cable
        if self.pedal is not None:
            found["pedal [mm]"] = self.pedal
        found |= {f"{name} plate [deg]": angle for name, angle in self.plate_angle.items()}
        found |= {
            f"{name} turn [deg]": self.member_turn[name] for name in self.rig.bellcrank if name != self.rig.driver
        }
        found |= {f"{name} [mm]": self.member_turn[name] for name in self.rig.slide if name != self.rig.driver}
        return found

    def to_frame(self) -> object:
        """The columns as a pandas ``DataFrame``."""
        return tables.as_frame(self.columns())

    def __str__(self) -> str:
        shown = tables.thinned(self.columns(), 13)
        return f"{self.rig.title}: {len(self.turn)} positions\n{tables.text(shown)}"

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return tables.as_html(tables.thinned(self.columns(), 13), self.rig.title)


def solve(rig: Linkage, *, positions: int = 91) -> Motion:
    """Solve a linkage from its closing stop to its opening stop.

    Parameters
    ----------
    rig : Linkage
    positions : int, at least 2
        Positions evenly spaced in driver turn, both ends included.

    Returns
    -------
    Motion
        Where a link comes to a toggle before the opening stop the travel ends there, and
        ``Motion.travel`` says so.

    Raises
    ------
    AssemblyError
        A link cannot be fitted at all.
    DesignError
        The links and couplings do not make one train (see :func:`linkage.train.faults`).

    Examples
    --------
    >>> import linkage
    >>> rig = linkage.read("demo/flat_six.toml")  # doctest: +SKIP
    >>> run = linkage.solve(rig)  # doctest: +SKIP

    References
    ----------
    See :mod:`linkage.closure`.
    """
    if isinstance(positions, bool) or not isinstance(positions, (int, np.integer)) or positions < 2:
        raise ValueError(f"positions: must be a whole number of at least 2, got {positions!r}")
    if loose := faults(rig):
        raise DesignError(loose)
    train = assemble(rig)
    travel = find_travel(train)
    turn = np.linspace(float(travel.closing), float(travel.opening), int(positions))
    return _sampled(train, travel, cable_line(train), turn)


def _sampled(train: Train, travel: Travel, line: CableLine | None, turn: Floats) -> Motion:
    pose = walk(train, train.pose(turn))
    derivatives = gains(train, pose)
    member_turn = _counted(train, travel, turn, pose)
    cable, cable_arm, by_cable, fraction = _taken(train, travel, line, turn)
    foot, pedal = pedal_line(train, travel.closing), None
    if foot is not None:
        whole = train.opens * (travel.opening - travel.closing)
        opened = train.opens * (turn - travel.closing)
        if line is not None:
            whole, opened = line.taken(train.pose(travel.opening), train.pose(travel.closing)), cable
        pedal = np.asarray(foot.pad(opened)) if np.isfinite(foot.pad(whole)) else None
    return Motion(
        train.rig,
        train,
        travel,
        line,
        np.degrees(turn),
        pose,
        {name: np.degrees(angle) for name, angle in member_turn.items()},
        {name: d[0] for name, d in derivatives.items()},
        {name: d[1] for name, d in derivatives.items()},
        cable,
        cable_arm,
        pedal,
        fraction,
        by_cable,
        foot,
    )


def _counted(train: Train, travel: Travel, turn: Floats, pose: Mapping[str, Pose]) -> dict[str, Floats]:
    """Member turns [rad] with whole turns counted along the travel (an angle alone forgets them)."""
    fine = np.linspace(float(travel.closing), float(travel.opening), _FINE)
    along = walk(train, train.pose(fine))
    rising = fine if fine[-1] >= fine[0] else fine[::-1]
    found = {}
    for name, (c, s) in pose.items():
        if name == train.driver:
            found[name] = turn
            continue
        if train.slides(name):
            found[name] = c
            continue
        whole = np.unwrap(np.arctan2(along[name][1], along[name][0]))
        angle = np.arctan2(s, c)
        near = np.interp(turn, rising, whole if fine[-1] >= fine[0] else whole[::-1])
        found[name] = angle + 2.0 * np.pi * np.round((near - angle) / (2.0 * np.pi))
    return found


def _taken(
    train: Train, travel: Travel, line: CableLine | None, turn: Floats
) -> tuple[Floats | None, Floats | None, bool, Floats]:
    """Cable travel, its moment arm, whether the fraction counts cable, and the fraction."""
    first, last = float(travel.closing), float(travel.opening)
    with np.errstate(invalid="ignore", divide="ignore"):
        by_turn = np.nan_to_num((turn - first) / (last - first))
    if line is None:
        return None, None, False, by_turn
    since = train.pose(first)
    cable = np.asarray(line.taken(train.pose(turn), since))
    arm = np.asarray(line.moment_arm(train.pose(turn)))
    through = line.moment_arm(train.pose(np.linspace(first, last, _FINE)))
    if last == first or np.min(through) * np.max(through) <= 0.0:
        return cable, arm, False, by_turn
    return cable, arm, True, cable / float(line.taken(train.pose(last), since))
