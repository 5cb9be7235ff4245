"""Curves of many linkages at once: where the travel's regions end, and every member on a few positions.

Arrays are ``(n,)``, one number a linkage, or ``(..., n)`` with the positions in front: the linkages run
fastest, so that numpy's inner loops are long. Driver turns in rad.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers.mismatch import REGION
from linkage.closure import Loop, Numbers
from linkage.motion import Train, Travel, driver_turn, gains, walk
from linkage.motion.assembly import Joint, Pose, carry
from linkage.parts import SIGN, Linkage

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Rows = NDArray[np.intp]

#: segments of the first ten degrees, the middle and the last ten, and positions to a segment, ends included
SEGMENTS, POSITIONS = (1, 3, 1), 4
_TURN = 2.0 * np.pi
_TOGETHER = 5  # positions of all linkages worked out together
_CLOSER = (1.0, 1.0 / 16.0, 1.0 / 256.0)  # of a step
#: the ends of the regions among the positions: first, early, late, last
_EDGES = ((0, 0, 0, POSITIONS - 1), (0, 1, 4, 4))


@dataclass(frozen=True, eq=False)
class Table:
    """n assembled linkages and their travels; driver turn at the closing stop, ``first``, and the opening stop,
    ``last`` [rad], (n,)."""

    rig: Linkage
    train: Train
    travel: Travel
    rows: int
    first: Floats
    last: Floats

    @classmethod
    def of(cls, train: Train, travel: Travel, rows: int) -> Table:
        """The table of an assembled train."""
        first, last = (filled(end, rows) for end in (travel.closing, travel.opening))
        return cls(train.rig, train, travel, rows, first, last)

    def column(self, value: Numbers) -> Any:
        """A number or column as a column of shape (n,)."""
        return filled(value, self.rows)


@dataclass(frozen=True, eq=False)
class Survey:
    """The travel in outline: every member's ``pose`` and ``speed`` (per driver's turn) at the positions,
    (positions, segments, n) each; position i of a segment is at ``start + i * step`` [rad], (segments, n)."""

    start: Floats
    step: Floats
    pose: Mapping[str, Pose]
    speed: Mapping[str, Floats]


@dataclass(frozen=True, eq=False)
class Edges:
    """The four ends of the regions: driver ``turn`` [rad] and every member's ``pose``, (4, n) each, and by how
    much each shaft has ``opened`` from its idle [rad]."""

    turn: Floats
    pose: Mapping[str, Pose]
    opened: Mapping[str, Floats]


def filled(value: Numbers, rows: int) -> Floats:
    """A number or column as a column of shape (rows,)."""
    return np.asarray(value) if np.ndim(value) else np.full(rows, value)


def opened_by(train: Train, name: str, turn: Floats, pose: Pose) -> Floats:
    """How far a shaft has opened from its idle [rad], any shape."""
    sign = SIGN[train.rig.shaft[name].opens]
    opened = sign * turn if name == train.driver else np.asarray(np.arctan2(sign * pose[1], pose[0]))
    # a shaft opens from its stop: well below it means more than half a turn above
    return opened + _TURN * (opened < -0.5 * np.pi)


def idle_angle(train: Train, name: str) -> Numbers:
    """Plate angle of a shaft at its idle stop [rad]."""
    return np.radians(train.dims[f"shaft.{name}.plate_angle.idle"])


def region_ends(table: Table) -> tuple[Floats, Floats]:
    """Driver turns [rad], (n,), at which the first ten degrees end and the last ten begin."""
    first, last, train = table.first, table.last, table.train
    name, shaft = next(iter(table.rig.shaft.items()))
    turn = np.stack([first, last])
    pose = train.pose(turn)
    for joint in train.path_to(name):
        pose = carry(joint, pose)
    opened = opened_by(train, name, turn, pose)
    size = np.radians(REGION)
    short = opened[1] - opened[0] <= size
    middle, found = 0.5 * (first + last), []
    for target, end in ((opened[0] + size, last), (opened[1] - size, first)):
        turn = table.column(driver_turn(train, name, SIGN[shaft.opens] * target))
        if not train.slides(train.driver):
            turn = turn + _TURN * np.round((middle - turn) / _TURN)
        odd = ((turn - first) * (turn - last) > 0.0) | (np.isnan(turn) & ~np.isnan(first))
        if np.any(odd):
            turn = np.where(odd, _by_samples(table, odd, target), turn)
        found.append(np.where(short, end, turn))
    return found[0], found[1]


def _by_samples(table: Table, odd: Bools, target: Floats) -> Floats:
    """The first of 721 positions at which the first shaft has opened by ``target``: past a dead centre."""
    rows = np.flatnonzero(odd)
    first, last = table.first[rows], table.last[rows]
    turn = first + (last - first) * np.linspace(0.0, 1.0, 721)[:, None]
    train = rows_of(table.train, rows)
    name = next(iter(table.rig.shaft))
    opened = opened_by(train, name, turn, walk(train, train.pose(turn))[name])
    at = np.argmax(opened >= target[rows], axis=0)
    out = np.full(odd.shape, np.nan)
    out[rows] = turn[at, np.arange(rows.size)]
    return out


def survey(table: Table, early: Floats, late: Floats) -> Survey:
    """Walk the trains through the travel: no angle, only what shows the humps."""
    ends = np.stack([table.first, early, late, table.last])
    count = np.array(SEGMENTS)[:, None]
    steps = np.diff(ends, axis=0) / (count * (POSITIONS - 1))
    start = np.empty((sum(SEGMENTS), table.rows))
    c, s = (np.empty((POSITIONS, *start.shape)) for _ in range(2))
    cos, sin, along, across = np.cos(ends), np.sin(ends), np.cos(steps), np.sin(steps)
    at = 0
    for region, segments in enumerate(SEGMENTS):
        for i in range(segments):
            start[at] = ends[region] + (i * (POSITIONS - 1)) * steps[region]
            if i == 0:
                c[0, at], s[0, at] = cos[region], sin[region]
            else:
                c[0, at], s[0, at] = c[-1, at - 1], s[-1, at - 1]
            for j in range(1, POSITIONS):  # turned by one step more
                c[j, at] = c[j - 1, at] * along[region] - s[j - 1, at] * across[region]
                s[j, at] = s[j - 1, at] * along[region] + c[j - 1, at] * across[region]
            at += 1
        c[-1, at - 1], s[-1, at - 1] = cos[region + 1], sin[region + 1]
    step = np.repeat(steps, SEGMENTS, axis=0)
    if table.train.slides(table.train.driver):
        place = np.arange(POSITIONS)[:, None, None]
        c = start + place * step
        c[-1, np.cumsum(SEGMENTS) - 1] = ends[1:]
        s = c * c
    pose, speed = _walked(table.train, c, s)
    return Survey(start, step, pose, speed)


def _walked(train: Train, c: Floats, s: Floats) -> tuple[dict[str, Pose], dict[str, Floats]]:
    """Pose and speed of every member; one position of all segments at a time, to stay in the processor's reach."""
    pose: dict[str, Pose] = {train.driver: (c, s)}
    speed: dict[str, Floats] = {}
    if train.driver in train.rig.shaft:
        speed[train.driver] = np.ones_like(c)
    for joint in train.joints:
        at, by = joint.step.driving, joint.step.driven
        if joint.forward is None:
            pose[by] = carry(joint, pose[at])
            speed[by] = joint.ratio * (speed[at] if at in speed else np.ones_like(c))
            continue
        c2, s2, ratio = np.empty_like(c), np.empty_like(c), np.empty_like(c)
        for i in range(len(c)):
            closure.close_and_rate(joint.forward, pose[at][0][i], pose[at][1][i], (c2[i], s2[i], ratio[i]))
            if at != train.driver:
                ratio[i] *= speed[at][i]
        pose[by], speed[by] = (c2, s2), ratio
    return pose, speed


def edges_of(table: Table, seen: Survey, early: Floats, late: Floats) -> Edges:
    """The four ends of the regions, out of the survey."""
    turn = np.stack([table.first, early, late, table.last])
    pose = {name: (c[_EDGES], s[_EDGES]) for name, (c, s) in seen.pose.items()}
    return Edges(turn, pose, {name: opened_by(table.train, name, turn, pose[name]) for name in table.rig.shaft})


@dataclass(frozen=True, eq=False)
class Curve:
    """The shafts at a driver turn: plate ``angle`` [rad], its ``slope`` and ``bend`` by the driver's turn,
    (shafts, n) each."""

    angle: Floats
    slope: Floats
    bend: Floats


def follow(train: Train, turn: Floats) -> Curve:
    """Walk the trains at one driver turn [rad] each, (n,)."""
    pose = walk(train, train.pose(turn))
    rate = gains(train, pose)
    angle, slope, bend = (np.empty((len(train.rig.shaft), *turn.shape)) for _ in range(3))
    for i, (name, shaft) in enumerate(train.rig.shaft.items()):
        angle[i] = idle_angle(train, name) + opened_by(train, name, turn, pose[name])
        slope[i], bend[i] = SIGN[shaft.opens] * rate[name][0], SIGN[shaft.opens] * rate[name][1]
    return Curve(angle, slope, bend)


def spread(angle: Floats) -> Floats:
    """Largest less smallest over the first axis."""
    if len(angle) == 2:
        return np.asarray(np.abs(angle[0] - angle[1]))
    return np.asarray(np.max(angle, axis=0) - np.min(angle, axis=0))


def rows_of(train: Train, rows: Rows) -> Train:
    """The trains of some rows only (a row may come several times), fit to be walked and for nothing else."""

    def some(value: Any) -> Any:
        return np.take(value, rows) if np.ndim(value) else value

    def joint(whole: Joint) -> Joint:
        return replace(
            whole,
            ratio=some(whole.ratio),
            offset=some(whole.offset),
            middle=some(whole.middle),
            forward=whole.forward and Loop(*map(some, whole.forward)),
            backward=None,
            driving=None,
            driven=None,
        )

    dims = {path: some(value) for path, value in train.dims.items() if path.endswith(".idle")}
    return replace(train, joints=tuple(map(joint, train.joints)), dims=dims)


def lowest(
    train: Train, first: Floats, last: Floats, curve: Callable[[Train, Floats], Floats], positions: int = 41
) -> Floats:
    """Lowest value of a curve of the driver's turn over the travel, (n,): a grid, then parabolas ever closer."""
    turn = first + (last - first) * np.linspace(0.0, 1.0, positions)[:, None]
    value = np.empty(turn.shape)
    for i in range(0, positions, _TOGETHER):  # few at a time, to stay in the processor's reach
        value[i : i + _TOGETHER] = curve(train, turn[i : i + _TOGETHER])
    best = np.argmin(np.where(np.isnan(value), np.inf, value), axis=0)[None]
    at, least = (np.take_along_axis(whole, best, axis=0)[0] for whole in (turn, value))
    low, high = np.minimum(first, last), np.maximum(first, last)
    step = (high - low) / (positions - 1)
    for size in _CLOSER:
        near = np.clip(at, low + size * step, high - size * step)
        three = curve(train, near + size * step * np.array([[-1.0], [0.0], [1.0]]))
        least = np.fmin(least, np.fmin.reduce(three))
        rise = three[0] - 2.0 * three[1] + three[2]
        away = np.clip(0.5 * (three[0] - three[2]) / rise, -2.0, 2.0)
        at = np.where(rise > 0.0, np.clip(near + away * size * step, low, high), at)
    return np.asarray(np.fmin(least, curve(train, at)))
