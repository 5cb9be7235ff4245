"""A look at many candidates of a fit at once: their travel between their own stops, with its slopes.

Candidates are columns, n of them; positions are rows: Chebyshev ones from stop to stop, and a few more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.closure import ArmFrame
from linkage.motion import (
    CableLine,
    PinCable,
    QuadrantCable,
    SnailCable,
    Train,
    assemble,
    cable_line,
    driver_turn,
    walk,
)
from linkage.motion.assembly import Joint, Pose
from linkage.motion.travel import stop_turns
from linkage.parts import SIGN, Linkage
from linkage.search.slopes import Move, Slopes, pin_move, pin_slope, slopes
from linkage.search.task import Task
from linkage.train import split_pin

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_TURN = 2.0 * np.pi
_NO_TRAVEL = 1e-6  # [rad]


@dataclass(frozen=True, eq=False)
class Look:
    """Candidates at R positions: P Chebyshev ones from stop to stop, one beyond either end by the toggle margin
    of the limits, then those that a wish asks for.

    ``turn`` [rad] of the driver and ``shift``, its slope by every dimension (d, R, n); ``plate`` angles
    [deg] (S, R, n) and their slopes (S, d, R, n), everything moving; ``sound`` says which candidates
    can be assembled, open throughout and are pulled open. ``paths`` are the d dimensions by which there are
    slopes: all that are free, or none.
    """

    task: Task
    paths: tuple[str, ...]
    train: Train
    ends: tuple[End, End]
    nodes: int
    turn: Floats
    pose: Mapping[str, Pose]
    slopes: Slopes
    shift: Floats
    plate: Floats
    plate_slope: Floats
    line: CableLine | None
    sound: Bools

    def turned(self, member: str) -> Floats:
        """Slope of a member's turn [rad] by every dimension, everything moving, (d, R, n)."""
        return np.asarray(self.slopes.held[member] + self.slopes.speed[member] * self.shift)

    def moves(self, member: str, arm: str, frame: ArmFrame) -> list[Move | None]:
        """How every dimension moves a pin as drawn."""
        return [pin_move(self.train, path, member, arm, frame) for path in self.paths]

    def pin_slopes(self, member: str, arm: str, frame: ArmFrame) -> list[tuple[Floats, ...]]:
        """Slope of a pin's place by every dimension."""
        turned = self.turned(member)
        moves = self.moves(member, arm, frame)
        return [pin_slope(frame, move, turned[i], *self.pose[member]) for i, move in enumerate(moves)]

    @cached_property
    def by_arms(self) -> dict[int, tuple[Floats, Floats]]:
        """What the moment arms of a snail quadrant that are free do to cable travel and moment arm, the driver held,
        (R, n) each, by their place among the dimensions."""
        if not isinstance(self.line, SnailCable) or not any(path.startswith("cable.profile.") for path in self.paths):
            return {}
        by_name = self.line.by_arms(self.turn, self.line.arm.x[0])
        by_path = {f"cable.profile.{name}.moment_arm": by for name, by in by_name.items()}
        return {i: by_path[path] for i, path in enumerate(self.paths) if path in by_path}

    @property
    def arms(self) -> tuple[Floats, Floats]:
        """Moment arm of a snail quadrant [mm] (R, n), and its slopes (d, R, n)."""
        assert isinstance(self.line, SnailCable)
        slope = self.line.arm.slope(self.turn) * self.shift
        for i, (_, by_arm) in self.by_arms.items():
            slope[i] += self.line.sense * by_arm
        return np.asarray(self.line.arm.value(self.turn)), slope

    @property
    def asked(self) -> int:
        """The first row of the positions that a wish asks for."""
        return self.nodes + 2

    def links(self) -> list[Joint]:
        """The joints that are links."""
        return [joint for joint in self.train.joints if joint.forward is not None]

    @cached_property
    def run(self) -> tuple[Floats, Floats]:
        """Run of the cable that is left [mm] (R, n), less a constant on a quadrant, and its slopes (d, R, n)."""
        driver = self.train.driver
        if isinstance(self.line, QuadrantCable):
            slope = -self.line.reach * self.shift
            if "cable.radius" in self.paths:
                slope[self.paths.index("cable.radius")] -= np.sign(self.line.reach) * self.turn
            return np.asarray(-self.line.reach * self.turn), slope
        if isinstance(self.line, SnailCable):
            run = -self.line.sense * self.line.arm.integral(self.turn)
            slope = -self.line.sense * self.line.arm.value(self.turn) * self.shift
            for i, (by_travel, _) in self.by_arms.items():
                slope[i] -= by_travel
            return np.asarray(run), slope
        assert isinstance(self.line, PinCable)
        arm, casing = self.line.arm, self.line.casing.centre
        along = closure.minus(casing, closure.pin(arm, *self.pose[driver]))
        run = np.sqrt(closure.dot(along, along))
        assert self.train.rig.cable is not None
        pins = self.pin_slopes(*split_pin(self.train.rig.cable.pulls or ""), arm)
        slope = np.empty_like(self.shift)
        for i, (path, (x, y, z)) in enumerate(zip(self.paths, pins, strict=True)):
            slope[i] = -closure.dot(along, (x, y, z)) / run
            if path.startswith("cable.casing_end."):
                slope[i] += along["xyz".index(path[-1])] / run
        return np.asarray(run), slope


def look(task: Task, x: Floats, nodes: int, *, sloped: bool = True) -> Look:
    """Look at candidates ``x`` (d, n) at ``nodes`` Chebyshev positions from stop to stop."""
    paths = task.paths if sloped else ()
    with np.errstate(all="ignore"):
        train = assemble(task.rig, task.dims(x))
        ends = _stop_ends(train)
        share = 0.5 - 0.5 * np.cos(np.pi * np.arange(nodes) / (nodes - 1))
        share = share[:, None]
        line = cable_line(train)
        wished = task.wish.progression or ()
        first, last = (np.broadcast_to(end.turn, x.shape[1:]) for end in ends)
        turn = first + (last - first) * share
        asked = [_turn_at(line, first, last, fraction) for fraction, _ in wished]
        margin = train.opens * np.radians(task.rig.limits.toggle_margin)
        turn = np.concatenate([turn, *(at[None] for at in (first - margin, last + margin, *asked))])
        pose = walk(train, train.pose(turn))
        rate = slopes(train, pose, paths)
        by_first, by_last = end_slopes(train, ends, paths, rate, nodes)
        far = (turn - first) / (last - first)
        far[nodes], far[nodes + 1] = 0.0, 1.0  # beyond an end by the same margin, wherever that end is
        shift = by_first[:, None] * (1.0 - far) + by_last[:, None] * far
        plate, plate_slope = _plates(paths, train, pose, rate, shift)
        sound = _sound(task, train, line, nodes, turn, rate, plate)
        seen = Look(task, paths, train, ends, nodes, turn, pose, rate, shift, plate, plate_slope, line, sound)
        if asked and isinstance(line, (PinCable, SnailCable)):
            seen = _asked(seen, [fraction for fraction, _ in wished])
        return seen


def _turn_at(line: CableLine | None, first: Floats, last: Floats, fraction: float) -> Floats:
    """Driver turn [rad] at a share of the travel, (n,)."""
    by_turn = first + fraction * (last - first)
    if not isinstance(line, (PinCable, SnailCable)):
        return np.asarray(by_turn)
    slides = isinstance(line, PinCable) and line.arm.slides
    since, end, middle = (closure.pose_of(t, slides) for t in (first, last, 0.5 * (first + last)))
    at = closure.turn_of(*line.pose_at(fraction * line.taken(end, since), since, middle), slides)
    if slides:
        return np.asarray(at)
    return np.asarray(at + _TURN * np.round((0.5 * (first + last) - at) / _TURN))


def _asked(seen: Look, fractions: list[float]) -> Look:
    """The look with the slopes at the shares of cable travel that are asked for: there the run keeps its share."""
    assert seen.line is not None
    last, n = seen.nodes - 1, seen.asked
    shift = seen.shift.copy()
    shift[:, n:] = 0.0
    slope = replace(seen, shift=shift).run[1]
    arm = seen.line.moment_arm(seen.train.pose(seen.turn))
    for i, fraction in enumerate(fractions):
        kept = (1.0 - fraction) * slope[:, 0] + fraction * slope[:, last]
        shift[:, n + i] = (slope[:, n + i] - kept) / arm[n + i]
    plate, plate_slope = _plates(seen.paths, seen.train, seen.pose, seen.slopes, shift)
    return replace(seen, shift=shift, plate=plate, plate_slope=plate_slope)


class End(NamedTuple):
    """One end of the travel: the driver's ``turn`` [rad] (n,), and every stop of this side with its member
    and the candidates in which it ``holds``."""

    turn: Floats
    holds: tuple[tuple[str, str, Bools], ...]


def _stop_ends(train: Train) -> tuple[End, End]:
    """The closing and the opening end; the first-named of stops that are met together holds."""
    met: dict[str, list[tuple[str, str, Floats]]] = {"closing": [], "opening": []}
    for name, member, limits, turn in stop_turns(train):
        never = -np.inf if limits == "closing" else np.inf
        at = np.asarray(train.opens * driver_turn(train, member, turn))
        met[limits].append((name, member, np.where(np.isnan(at), never, at)))
    found = []
    for side, pick in (("closing", np.maximum), ("opening", np.minimum)):
        best = pick.reduce(np.broadcast_arrays(*(at for _, _, at in met[side])))
        left, holds = np.ones(np.shape(best), bool), []
        for name, member, at in met[side]:
            holds.append((name, member, left & (at == best)))
            left = left & (at != best)
        found.append(End(np.where(np.isfinite(best), train.opens * best, np.nan), tuple(holds)))
    return found[0], found[1]


def end_slopes(
    train: Train, ends: tuple[End, End], paths: Sequence[str], rate: Slopes, nodes: int
) -> tuple[Floats, Floats]:
    """Slope of the driver's turn at the closing and the opening end by every dimension, (d, n) each.

    The stop that holds still holds: ``d(end) = (d(stop) - d(turn of its member)) / (its speed)``. ``rate`` has
    the closing end in its first row and the opening end in row ``nodes - 1``.
    """
    found = []
    for end, row in zip(ends, (0, nodes - 1), strict=True):
        slope = np.full((len(paths), np.shape(rate.held[train.driver])[-1]), np.nan)
        for stop, member, where in end.holds:
            moved = np.array([_stop_slope(train.rig, path, stop, member) for path in paths])
            here = (moved[:, None] - rate.held[member][:, row]) / rate.speed[member][row]
            slope = np.where(where, here, slope)
        found.append(slope)
    return found[0], found[1]


def _stop_slope(rig: Linkage, path: str, stop: str, member: str) -> float:
    """Slope of a stop's own turn [rad] by a dimension."""
    one = float(np.radians(1.0)) * (SIGN[rig.shaft[member].opens] if member in rig.shaft else 1.0)
    if path in (f"stop.{stop}.plate_angle", f"stop.{stop}.turn", f"stop.{stop}.travel"):
        return one
    of_shaft = f"shaft.{member}.plate_angle."
    if path == f"{of_shaft}wide_open" and stop == f"{member}.wide_open":
        return one
    if path == f"{of_shaft}idle" and member in rig.shaft and stop != f"{member}.idle":
        return -one
    return 0.0


def _plates(
    paths: tuple[str, ...], train: Train, pose: Mapping[str, Pose], rate: Slopes, shift: Floats
) -> tuple[Floats, Floats]:
    """Plate angles [deg] (S, R, n) and their slopes by every dimension (S, d, R, n)."""
    angle = np.empty((len(train.rig.shaft), *shift.shape[1:]))
    slope = np.empty((len(train.rig.shaft), *shift.shape))
    for i, (name, shaft) in enumerate(train.rig.shaft.items()):
        sign, idle = SIGN[shaft.opens], f"shaft.{name}.plate_angle.idle"
        c, s = pose[name]
        opened = sign * np.arctan2(s, c)
        angle[i] = train.dims[idle] + np.degrees(np.where(opened < -0.5 * np.pi, opened + _TURN, opened))
        slope[i] = sign * np.degrees(rate.held[name] + rate.speed[name] * shift)
        if idle in paths:
            slope[i, paths.index(idle)] += 1.0
    return angle, slope


def _sound(
    task: Task, train: Train, line: CableLine | None, nodes: int, turn: Floats, rate: Slopes, plate: Floats
) -> Bools:
    along = turn[:nodes]
    sound = np.isfinite(plate[:, :nodes]).all(axis=(0, 1)) & np.isfinite(plate[:, nodes + 2 :]).all(axis=(0, 1))
    sound = sound & (train.opens * (along[-1] - along[0]) > _NO_TRAVEL)
    for name, sense in train.shaft_opens.items():
        sound = sound & (sense == train.opens)
        opening = SIGN[train.rig.shaft[name].opens] * train.opens * rate.speed[name][:nodes]
        sound = sound & (np.min(opening, axis=0) > 0.0)
    if task.pulls and line is not None:
        arm = line.moment_arm(train.pose(along)) + 0.0 * along
        sound = sound & (np.min(train.opens * arm, axis=0) > 0.0)
    return np.asarray(sound)
