"""Curves of many linkages at once: the travel on a few positions, and every hump climbed to its top.

Arrays are ``(n,)`` (one number a linkage) or ``(m, n)`` (m positions each, the linkages running
fastest, so that numpy's inner loops are long); driver turns in rad.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers.mismatch import REGION
from linkage.closure import Numbers
from linkage.motion import Train, Travel, driver_turn, gains, walk
from linkage.motion.assembly import Joint, Pose, carry
from linkage.parts import SIGN, Linkage

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Rows = NDArray[np.intp]

#: positions in the first ten degrees, in the middle and in the last ten
_POSITIONS = (5, 11, 5)
_HUMPS = 2  # local maxima climbed in each region
_CLIMBS = 3  # Newton steps from where the slopes' chord is level
_TURN = 2.0 * np.pi


@dataclass(frozen=True, eq=False)
class Table:
    """n assembled linkages and their travels."""

    rig: Linkage
    train: Train
    travel: Travel
    rows: int

    def column(self, value: Numbers) -> Any:
        """A number or column as an array of shape (n,)."""
        return np.broadcast_to(np.asarray(value), (self.rows,))

    @property
    def first(self) -> Floats:
        """Driver turn [rad] at the closing stop, (n,)."""
        return np.asarray(self.column(self.travel.closing))

    @property
    def last(self) -> Floats:
        """Driver turn [rad] at the opening stop, (n,)."""
        return np.asarray(self.column(self.travel.opening))


@dataclass(frozen=True, eq=False)
class Curve:
    """The shafts at m driver turns: plate ``angle`` [rad], its ``slope`` and ``bend`` by the driver's
    turn, each of shape (shafts, m, n); ``pose`` of every member."""

    turn: Floats
    pose: Mapping[str, Pose]
    angle: Floats
    slope: Floats
    bend: Floats


@dataclass(frozen=True, eq=False)
class Survey:
    """The travel in outline: ``apart``, the sine of each plate angle less the first shaft's, and
    ``slope``, both (shafts, m, n); ``pose`` and ``speed`` of every member."""

    turn: Floats
    pose: Mapping[str, Pose]
    speed: Mapping[str, Numbers]
    apart: Floats
    slope: Floats


def follow(train: Train, turn: Floats) -> Curve:
    """Walk the trains at driver turns [rad] of shape (m, n)."""
    pose = walk(train, (np.cos(turn), np.sin(turn)))
    rate = gains(train, pose)
    angle, slope, bend = (np.empty((len(train.rig.shaft), *turn.shape)) for _ in range(3))
    for i, (name, shaft) in enumerate(train.rig.shaft.items()):
        sign = SIGN[shaft.opens]
        opened = sign * (turn if name == train.driver else np.arctan2(pose[name][1], pose[name][0]))
        # a shaft opens from its stop: well below it means more than half a turn above
        opened = np.where(opened < -0.5 * np.pi, opened + _TURN, opened)
        angle[i] = np.radians(train.dims[f"shaft.{name}.plate_angle.idle"]) + opened
        slope[i], bend[i] = sign * rate[name][0], sign * rate[name][1]
    return Curve(turn, pose, angle, slope, bend)


def survey(train: Train, turn: Floats) -> Survey:
    """Walk the trains at driver turns [rad] of shape (m, n): no angle, only what shows the humps."""
    pose: dict[str, Pose] = {train.driver: (np.cos(turn), np.sin(turn))}
    speed: dict[str, Numbers] = {train.driver: np.ones_like(turn)}
    for joint in train.joints:
        at, by = joint.step.driving, joint.step.driven
        if joint.forward is None:
            pose[by], speed[by] = carry(joint, pose[at]), joint.ratio * speed[at]
        else:
            c, s, ratio = closure.close_and_rate(joint.forward, *pose[at])
            pose[by] = (c, s)
            speed[by] = ratio if at == train.driver else ratio * speed[at]
    shafts = list(train.rig.shaft.items())
    apart, slope = (np.empty((len(shafts), *turn.shape)) for _ in range(2))
    idle = [np.radians(train.dims[f"shaft.{name}.plate_angle.idle"]) for name, _ in shafts]
    c0, s0 = pose[shafts[0][0]]
    s0 = SIGN[shafts[0][1].opens] * s0
    for i, (name, shaft) in enumerate(shafts):
        sign = SIGN[shaft.opens]
        c, s = pose[name]
        apart[i] = sign * s * c0 - c * s0
        if np.any(idle[i] != idle[0]):
            along = c * c0 + sign * s * s0
            apart[i] = apart[i] * np.cos(idle[i] - idle[0]) + along * np.sin(idle[i] - idle[0])
        slope[i] = sign * speed[name]
    return Survey(turn, pose, speed, apart, slope)


def spread(angle: Floats) -> Floats:
    """Largest less smallest over the first axis."""
    if len(angle) == 2:
        return np.abs(angle[0] - angle[1])
    return np.asarray(np.max(angle, axis=0) - np.min(angle, axis=0))


def region_ends(table: Table, ends: Curve) -> tuple[Floats, Floats]:
    """Driver turns [rad], (n,), at which the first ten degrees end and the last ten begin."""
    first, last, train = table.first, table.last, table.train
    name, shaft = next(iter(table.rig.shaft.items()))
    idle = np.radians(train.dims[f"shaft.{name}.plate_angle.idle"])
    opened = ends.angle[0] - idle
    size = np.radians(REGION)
    middle, found = 0.5 * (first + last), []
    for target, end in ((opened[0] + size, last), (opened[1] - size, first)):
        turn = table.column(driver_turn(train, name, SIGN[shaft.opens] * target))
        turn = turn + _TURN * np.round((middle - turn) / _TURN)
        inside = (turn - first) * (turn - last) <= 0.0
        odd = ~inside & np.isfinite(first)
        if np.any(odd):
            turn = np.where(odd, _by_samples(table, odd, target), turn)
        found.append(np.where(opened[1] - opened[0] <= size, end, turn))
    return found[0], found[1]


def _by_samples(table: Table, odd: Bools, target: Floats) -> Floats:
    """The first of 721 positions at which the first shaft has opened by ``target``: past a dead centre."""
    rows = np.flatnonzero(odd)
    first, last = table.first[rows], table.last[rows]
    turn = first + (last - first) * np.linspace(0.0, 1.0, 721)[:, None]
    curve = follow(rows_of(table.train, rows), turn)
    name = next(iter(table.rig.shaft))
    idle = np.radians(taken(table.train.dims[f"shaft.{name}.plate_angle.idle"], rows))
    at = np.argmax(curve.angle[0] - idle >= target[rows], axis=0)
    out = np.full(odd.shape, np.nan)
    out[rows] = turn[at, np.arange(rows.size)]
    return out


def taken(value: Any, rows: NDArray[np.intp]) -> Any:
    """The same number or column for some rows only."""
    return value[rows] if np.ndim(value) else value


def rows_of(train: Train, rows: NDArray[np.intp]) -> Train:
    """The trains of some rows only (a row may come several times)."""

    def some(part: Any) -> Any:
        if isinstance(part, Mapping):
            return {key: some(value) for key, value in part.items()}
        if isinstance(part, tuple):
            values = [some(value) for value in part]
            return type(part)(*values) if hasattr(part, "_fields") else tuple(values)
        if isinstance(part, Joint):
            fields = [f.name for f in dataclasses.fields(part) if f.name != "step"]
            return dataclasses.replace(part, **{name: some(getattr(part, name)) for name in fields})
        return taken(part, rows)

    fields = [f.name for f in dataclasses.fields(train) if f.name != "rig"]
    return dataclasses.replace(train, **{name: some(getattr(train, name)) for name in fields})


def highest_spreads(table: Table, early: Floats, late: Floats) -> tuple[Survey, tuple[Floats, Floats, Floats]]:
    """The travel in outline, and the highest mismatch [deg] off idle, in the middle and last, (n,) each."""
    starts, stops = (table.first, early, late), (early, late, table.last)
    grid = [a + (b - a) * np.linspace(0.0, 1.0, m)[:, None] for a, b, m in zip(starts, stops, _POSITIONS, strict=True)]
    seen = survey(table.train, np.concatenate(grid))
    ends = np.degrees(spread(follow(table.train, np.stack([table.first, early, late, table.last])).angle))
    tops = [np.maximum(ends[i], ends[i + 1]) for i in range(3)]
    row, at, region, pair = _humps(seen, np.sign(table.last - table.first))
    if row.size:
        value = np.degrees(_climbed(table, seen, row, at, pair))
        for i in range(3):
            mine = region == i
            np.maximum.at(tops[i], row[mine], np.nan_to_num(value[mine], nan=-np.inf))
    has_middle = (late - early) * (table.last - table.first) > 0.0
    return seen, (tops[0], np.where(has_middle, tops[1], np.nan), tops[2])


def _humps(seen: Survey, sense: Floats) -> tuple[Rows, Rows, Rows, tuple[Rows, Rows]]:
    """Intervals in which the spread turns from rising to falling, the highest few of each region.

    Row, first position, region, and the pair of shafts (upper, lower) that stands widest there; where
    another pair does at the interval's other end, the interval comes twice.
    """
    pair = np.argmax(seen.apart, axis=0), np.argmin(seen.apart, axis=0)
    upper, lower = (np.take_along_axis(seen.apart, p[None], axis=0)[0] for p in pair)
    rise, fall = (np.take_along_axis(seen.slope, p[None], axis=0)[0] for p in pair)
    height, climb = upper - lower, (rise - fall) * sense
    over = np.maximum(height[:-1], height[1:])
    over = np.where((climb[:-1] > 0.0) & (climb[1:] < 0.0), over, -np.inf)
    edge = np.cumsum((0, *_POSITIONS))
    found: list[tuple[Rows, ...]] = []
    for i in range(3):
        left = over[edge[i] : edge[i + 1] - 1].copy()
        for _ in range(_HUMPS):
            best = np.argmax(left, axis=0)
            row = np.flatnonzero(np.take_along_axis(left, best[None], axis=0)[0] > -np.inf)
            if row.size == 0:
                break
            left[best[row], row] = -np.inf
            at = edge[i] + best[row]
            here, there = ((pair[0][at + j, row], pair[1][at + j, row]) for j in (0, 1))
            found.append((row, at, np.full(row.size, i), *here))
            other = np.flatnonzero((here[0] != there[0]) | (here[1] != there[1]))
            found.append((row[other], at[other], np.full(other.size, i), there[0][other], there[1][other]))
    none = np.empty(0, np.intp)
    row, at, region, up, low = (np.concatenate([none, *part]) for part in zip(*found, strict=True)) if found else (
        none, none, none, none, none
    )  # fmt: skip
    return row, at, region, (up, low)


def _climbed(table: Table, seen: Survey, row: Rows, at: Rows, pair: tuple[Rows, Rows]) -> Floats:
    """Height [rad] of the humps between positions ``at`` and ``at + 1``: Newton on the pair's difference."""
    each = np.arange(row.size)

    def between(slope: Floats) -> Floats:
        return slope[pair[0], each] - slope[pair[1], each]

    start, end = seen.turn[at, row], seen.turn[at + 1, row]
    s0, s1 = (between(seen.slope[:, at + i, row]) for i in (0, 1))
    low, high = np.minimum(start, end), np.maximum(start, end)
    turn = start - s0 * (end - start) / (s1 - s0)
    turn = np.where(np.isfinite(turn), np.clip(turn, low, high), start)
    train = rows_of(table.train, row)
    for _ in range(_CLIMBS):
        curve = follow(train, turn)
        first, second = between(curve.slope), between(curve.bend)
        move = np.where(second != 0.0, -first / second, 0.0)
        turn = np.clip(turn + move, low, high)
    return spread(follow(train, turn).angle)


def stop_gaps(table: Table, ends: Curve) -> dict[str, Floats]:
    """What every stop has left [deg] at its end of the travel, (n,) each; the holding one has 0."""
    found = {}
    for stop in table.travel.stops:
        side = 0 if stop.limits == "closing" else 1
        c, s = (p[side] for p in ends.pose[stop.member])
        turned = ends.turn[side] if stop.member == table.rig.driver else np.arctan2(s, c)
        if stop.member in table.rig.shaft:
            opening: Numbers = SIGN[table.rig.shaft[stop.member].opens]
            turned = np.where(opening * turned < -0.5 * np.pi, turned + opening * _TURN, turned)
        else:
            speed = gains(table.train, ends.pose)[stop.member][0][side]
            opening = np.where(table.train.opens * speed < 0.0, -1.0, 1.0)
        left = np.degrees(opening * (table.column(stop.turn) - turned))
        gap = left if stop.limits == "opening" else -left
        found[stop.name] = np.where(np.abs(gap) < 1e-9, 0.0, gap)
    return found


def least_transmission(table: Table, joint: Joint, seen: Survey, ends: Curve) -> Floats:
    """Least transmission angle [deg] of a link over the travel, from the nearer dead point, (n,).

    Between parallel axes ``L' cos(mu) = r - k`` with a constant L', so it is extreme at the ends and
    where the driving arm lies along the line of centres; between skew axes it is looked for.
    """
    link, driving, driven = joint.forward, joint.step.driving, joint.step.driven
    assert link is not None

    def from_line(train: Train, turn: Floats) -> Floats:
        pose = walk(train, (np.cos(turn), np.sin(turn)))
        here = next(j.forward for j in train.joints if j.step is joint.step)
        assert here is not None
        along, across = closure.rates(here, *pose[driving], *pose[driven]).transmission
        return np.asarray(np.arctan2(across, np.abs(along)))

    if not _parallel(joint):
        return np.degrees(_lowest(table.train, table.first, table.last, from_line))
    along, across = closure.rates(link, *ends.pose[driving], *ends.pose[driven]).transmission
    long = np.hypot(along[0], across[0])
    most = np.max(np.abs(along), axis=0)
    first, last = (_turn_of(table, ends, driving, i) for i in (0, 1))
    swing = np.hypot(link.k1, link.k2)
    for turn, k in (
        (np.arctan2(link.k2, link.k1), link.k0 + swing),
        (np.arctan2(-link.k2, -link.k1), link.k0 - swing),
    ):
        near = turn + _TURN * np.round((0.5 * (first + last) - turn) / _TURN)
        inside = (near - first) * (near - last) < 0.0
        most = np.where(inside, np.maximum(most, np.abs(link.r - k)), most)
    least = np.arccos(np.minimum(most / long, 1.0))
    if driving != table.rig.driver:  # a member that turns back on the way passes more than its ends
        speed = seen.speed[driving]
        back = np.flatnonzero(np.min(speed, axis=0) * np.max(speed, axis=0) <= 0.0)
        if back.size:
            least = least.copy()
            least[back] = _lowest(rows_of(table.train, back), table.first[back], table.last[back], from_line)
    return np.degrees(least)


def _turn_of(table: Table, ends: Curve, member: str, end: int) -> Floats:
    """Turn [rad] of a member at one end of the travel, (n,), within half a turn of the other end's middle."""
    if member == table.rig.driver:
        return table.first if end == 0 else table.last
    c, s = (p[end] for p in ends.pose[member])
    return np.asarray(np.arctan2(s, c))


def most_tilt(table: Table, joint: Joint) -> Floats:
    """Largest rod-end tilt [deg] of a link over the travel, either end, (n,)."""

    def level(train: Train, turn: Floats) -> Floats:
        pose = walk(train, (np.cos(turn), np.sin(turn)))
        here = next(j for j in train.joints if j.step is joint.step)
        assert here.driving is not None
        assert here.driven is not None
        line = closure.minus(
            closure.pin(here.driving, *pose[joint.step.driving]), closure.pin(here.driven, *pose[joint.step.driven])
        )
        length = np.sqrt(closure.dot(line, line))
        bolts = [np.abs(closure.dot(line, arm.u)) for arm in (here.driving, here.driven)]
        return -np.arcsin(np.minimum(np.maximum(*bolts) / length, 1.0)) + 0.0 * turn

    if _parallel(joint):  # the sideways offset does not change
        return -np.degrees(level(table.train, table.first))
    return -np.degrees(_lowest(table.train, table.first, table.last, level))


def _lowest(train: Train, first: Floats, last: Floats, curve: Callable[[Train, Floats], Floats]) -> Floats:
    """Lowest value of a curve of the driver's turn over the travel, (n,): a grid, then closer looks."""
    turn = first + (last - first) * np.linspace(0.0, 1.0, 121)[:, None]
    value = curve(train, turn)
    step = (last - first) / 120
    for _ in range(4):
        best = np.argmin(np.where(np.isnan(value), np.inf, value), axis=0)[None]
        at = np.take_along_axis(turn, best, axis=0)
        near = at + step * np.linspace(-1.0, 1.0, 17)[:, None]
        turn = np.clip(near, np.minimum(first, last), np.maximum(first, last))
        value = curve(train, turn)
        step = step / 8.0
    return np.asarray(np.min(value, axis=0))


def _parallel(joint: Joint) -> bool:
    """Whether a link joins members with parallel axes."""
    assert joint.driving is not None
    assert joint.driven is not None
    across = closure.cross(joint.driving.u, joint.driven.u)
    return float(closure.dot(across, across)) < 1e-24
