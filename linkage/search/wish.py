r"""The wishes as rows of numbers for many candidates at once, with their slopes.

Two sorts of rows. A *near* row is how far a figure is from what is wished, over what is allowed: 1 and
less is met, and nearer is better. A *floor* row is how far a figure is beyond what it may be, over a
scale of its own: 0 and less is met, and more of it is worth nothing. What the verdict holds a design to
is always a floor: the mismatch in each region of the travel, the transmission angle, the toggle margin,
wide open reached, cable and pedal enough.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers.mismatch import REGION
from linkage.motion import PedalLine, SnailCable, pedal_line
from linkage.motion.assembly import Joint
from linkage.motion.groove import groove
from linkage.search.look import Look, look
from linkage.search.made import mismatch_as_made
from linkage.search.returning import closing_torque
from linkage.search.slopes import pin_slope
from linkage.search.task import Task

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: how near a figure must come that has no tolerance of its own: share of a ratio, share of the opening, mm
RATIO_WITHIN, OPENING_WITHIN, TRAVEL_WITHIN = 0.02, 0.01, 0.25

#: a floor row of 1 is so much beyond: degrees, mm, share of a torque
_ANGLE_SCALE, _LENGTH_SCALE, _TORQUE_SCALE = 2.0, 1.0, 0.05

#: weight of the largest floor row, and of the largest near row of every figure, against the largest of all
PENALTY, OTHERS = 100.0, 0.03

_LEAST_LIMIT = 1e-3  # [deg]
_WITHIN, _SURE = 0.995, 0.02  # kept free for what lies between the positions: a share, degrees
_TOGGLED = 3.0  # a floor row of a link that comes to a toggle within the margin
_FAR = 1e4  # [mm] a cusp is no worse than this
_FAR_BEYOND = 20.0  # [mm] of pad, of a pedal whose cable passes its dead centre
_STEP = 1e-5  # of a dimension's range, where a slope is found by difference


class Row(NamedTuple):
    """Some rows of one figure: its ``name``, whether they are ``near`` rows, values (r, n), slopes (r, d, n)."""

    name: str
    near: bool
    value: Floats
    slope: Floats


class Rows(NamedTuple):
    """All rows of n candidates: near and floor values (k, n), slopes (k, d, n) per unit of each dimension,
    and the figure that each row is of. A candidate that is not ``sound`` has ``inf`` in every row."""

    near: Floats
    floor: Floats
    near_slope: Floats
    floor_slope: Floats
    near_names: tuple[str, ...]
    floor_names: tuple[str, ...]

    def worst(self) -> Floats:
        """The largest near row and a hundred times the largest floor row above 0, (n,): smaller is better."""
        return np.asarray(np.max(np.abs(self.near), axis=0) + PENALTY * self.beyond())

    def groups(self) -> tuple[str, ...]:
        """The figures of the near rows, each once."""
        return tuple(dict.fromkeys(self.near_names))

    def merit(self) -> Floats:
        """The worst row and a little of the largest near row of every figure, (n,): what is led down at last."""
        names = np.array(self.near_names)
        each = [np.max(np.abs(self.near[names == name]), axis=0) for name in self.groups()]
        return np.asarray(self.worst() + OTHERS * sum(each))

    def beyond(self) -> Floats:
        """The largest floor row, not less than 0, (n,)."""
        return np.asarray(np.max(self.floor, axis=0, initial=0.0))

    def where(self, chosen: Bools, other: Rows) -> Rows:
        """These rows of the ``chosen`` candidates, and those of the other ones."""
        return self._replace(
            near=np.where(chosen, self.near, other.near),
            floor=np.where(chosen, self.floor, other.floor),
            near_slope=np.where(chosen, self.near_slope, other.near_slope),
            floor_slope=np.where(chosen, self.floor_slope, other.floor_slope),
        )


def rows(task: Task, x: Floats, nodes: int, *, sloped: bool = True) -> Rows:
    """Rows of candidates ``x`` (d, n), looked at in ``nodes`` positions of their travel; slopes if wanted."""
    with np.errstate(all="ignore"):
        seen = look(task, x, nodes, sloped=sloped)
        found = [*_mismatch(seen), *_stops(seen), *_progression(seen), *_cable(seen), *_links(seen)]
        found += _by_difference(task, seen, x)
    d, n = len(seen.paths), x.shape[1]
    empty = Row("", True, np.zeros((1, n)), np.zeros((1, d, n)))
    near = [row for row in found if row.near] or [empty]
    floor = [row for row in found if not row.near] or [empty]

    def values(of: list[Row]) -> Floats:
        value = np.concatenate([row.value for row in of])
        return np.asarray(np.where(seen.sound & np.isfinite(value).all(axis=0), value, np.inf))

    def names(of: list[Row]) -> tuple[str, ...]:
        return tuple(row.name for row in of for _ in row.value)

    return Rows(
        values(near), values(floor),
        np.concatenate([row.slope for row in near]), np.concatenate([row.slope for row in floor]),
        names(near), names(floor),
    )  # fmt: skip


def _mismatch(seen: Look) -> Iterator[Row]:
    """Every pair of shafts at every position: over the wish, and beyond the limit of the verdict there."""
    if len(seen.plate) < 2:
        return
    n = seen.nodes
    limit = _limits(seen)
    wished = limit if seen.task.wish.mismatch is None else np.minimum(limit, seen.task.wish.mismatch)
    for i, j in combinations(range(len(seen.plate)), 2):
        apart = seen.plate[i, :n] - seen.plate[j, :n]
        slope = np.swapaxes(seen.plate_slope[i, :, :n] - seen.plate_slope[j, :, :n], 0, 1)
        yield Row("mismatch", True, apart / wished, slope / wished[:, None])
        for sign in (1.0, -1.0):
            yield Row("mismatch limit", False, sign * apart / limit - 1.0, sign * slope / limit[:, None])


def _limits(seen: Look) -> Floats:
    """The verdict's limit of the mismatch [deg] at every position, (P, n).

    A little less, and the closer of two regions one position further, for what lies between the positions.
    """
    limits = seen.task.rig.limits
    opened = seen.plate[0, : seen.nodes] - seen.plate[0, 0]
    before, after = np.roll(opened, 1, axis=0), np.roll(opened, -1, axis=0)
    before[0], after[-1] = opened[0], opened[-1]
    first, last = limits.mismatch_off_idle, limits.mismatch_at_wide_open
    early = (before if first < limits.mismatch else after) < REGION
    late = (after if last < limits.mismatch else before) > opened[-1] - REGION
    limit = np.where(early, first, np.where(late, last, limits.mismatch))
    limit[0] = min(first, limits.mismatch_at_idle)
    return np.asarray(np.maximum(_WITHIN * limit, _LEAST_LIMIT))


def _stops(seen: Look) -> Iterator[Row]:
    """What every shaft lacks at the opening stop, and how far stops of one side are from being met together."""
    rig, wish, last = seen.task.rig, seen.task.wish, seen.nodes - 1
    d, n = seen.shift.shape[0], seen.shift.shape[2]
    lacks: dict[int, list[tuple[Floats, Floats]]] = {0: [], last: []}
    for row, key, sign in ((0, "idle", -1.0), (last, "wide_open", 1.0)):
        for i, name in enumerate(rig.shaft):
            path = f"shaft.{name}.plate_angle.{key}"
            at_stop = np.zeros((d, n))
            if path in seen.paths:
                at_stop[seen.paths.index(path)] = 1.0
            lack = sign * (seen.train.dims[path] - seen.plate[i, row])
            lacks[row].append((lack, sign * (at_stop - seen.plate_slope[i, :, row])))
    for value, slope in lacks[last]:
        over = (value - rig.limits.wide_open_shortfall) / _ANGLE_SCALE
        yield Row("wide_open_shortfall", False, over[None], slope[None] / _ANGLE_SCALE)
    if wish.stops_together is not None:
        for row in (0, last):
            for (one, by_one), (other, by_other) in combinations(lacks[row], 2):
                apart, slope = one - other, by_one - by_other
                yield Row("stops_together", True, apart[None] / wish.stops_together, slope[None] / wish.stops_together)


def _progression(seen: Look) -> Iterator[Row]:
    wish, nodes = seen.task.wish, seen.nodes
    plate, slope = seen.plate[0], seen.plate_slope[0]
    if wish.progression_ratio is not None:
        rate = _rates(nodes)
        per = [(plate[:nodes], slope[:, :nodes], 1.0)]
        if seen.line is not None and not isinstance(seen.line, SnailCable):
            run, by_run = seen.run
            per.append((run[:nodes], by_run[:, :nodes], -1.0))
        ratio, relative = np.ones(plate.shape[1:]), np.zeros((slope.shape[0], slope.shape[2]))
        for value, by, power in per:
            first, last = np.tensordot(rate, value, axes=(1, 0))
            by_first, by_last = (np.tensordot(by, line, axes=(1, 0)) for line in rate)
            ratio = ratio * (last / first) ** power
            relative = relative + power * (by_last / last - by_first / first)
        if isinstance(seen.line, SnailCable):  # its moment arm is known, and has kinks that no polynomial follows
            arm, by_arm = seen.arms
            ratio = ratio * arm[0] / arm[nodes - 1]
            relative = relative + by_arm[:, 0] / arm[0] - by_arm[:, nodes - 1] / arm[nodes - 1]
        size = RATIO_WITHIN * wish.progression_ratio
        value = (ratio[None] - wish.progression_ratio) / size
        yield Row("progression_ratio", True, value, (ratio * relative / size)[None])
    for i, (_, opening) in enumerate(wish.progression or ()):
        whole, by_whole = plate[nodes - 1] - plate[0], slope[:, nodes - 1] - slope[:, 0]
        share = (plate[seen.asked + i] - plate[0]) / whole
        by = (slope[:, seen.asked + i] - slope[:, 0] - share * by_whole) / whole
        yield Row("progression", True, (share - opening)[None] / OPENING_WITHIN, by[None] / OPENING_WITHIN)


def _rates(nodes: int) -> Floats:
    """Derivative by the share of the travel at its two ends, from the values at the Chebyshev positions, (2, nodes).

    L. N. Trefethen, *Spectral Methods in MATLAB*, SIAM 2000, ch. 6 (from memory).
    """
    j = np.arange(nodes)
    x = np.cos(np.pi * j / (nodes - 1))
    weight = np.where((j == 0) | (j == nodes - 1), 2.0, 1.0) * (-1.0) ** j
    first = np.zeros(nodes)
    first[1:] = weight[0] / weight[1:] / (x[0] - x[1:])
    first[0] = -first[1:].sum()
    return -2.0 * np.stack([first, -first[::-1]])  # share = (1 - x) / 2


def _cable(seen: Look) -> Iterator[Row]:
    rig, wish, last = seen.task.rig, seen.task.wish, seen.nodes - 1
    if seen.line is None or rig.cable is None:
        opens = seen.train.opens  # a pedal that is the driver, told from the drawn position as its floor is
        yield from _pedal(seen, opens * seen.turn[last], opens * seen.shift[:, last])
        return
    run, slope = seen.run
    taken, by = run[0] - run[last], slope[:, 0] - slope[:, last]
    way = np.sign(taken)
    taken, by = way * taken, way * by
    if wish.cable_travel is not None:
        yield Row("cable_travel", True, (taken[None] - wish.cable_travel) / TRAVEL_WITHIN, by[None] / TRAVEL_WITHIN)
    if not seen.task.pulls:
        return
    if rig.cable.travel is not None:
        over = (taken + rig.cable.free_play - rig.cable.travel) / _LENGTH_SCALE
        yield Row("cable_travel", False, over[None], by[None] / _LENGTH_SCALE)
    yield from _pedal(seen, taken, by)


def _pedal(seen: Look, moved: Floats, by: Floats) -> Iterator[Row]:
    """Pad travel that the floor refuses; the pedal's own dimensions have their slopes by difference."""
    foot = pedal_line(seen.train, 0.0)
    if foot is None or foot.room is None:
        return
    over, slope = _beyond_floor(foot, moved), by * np.nan_to_num(foot.rate(moved))
    for i, path in enumerate(seen.paths):
        if path.startswith("pedal."):
            step = _STEP * (seen.task.high[i] - seen.task.low[i])
            other = pedal_line(replace(seen.train, dims={**seen.train.dims, path: seen.train.dims[path] + step}), 0.0)
            assert other is not None
            slope[i] += (_beyond_floor(other, moved) - over) / step
    yield Row("pedal_travel", False, over[None] / _LENGTH_SCALE, slope[None] / _LENGTH_SCALE)


def _beyond_floor(foot: PedalLine, moved: Floats) -> Floats:
    """Pad travel beyond the floor [mm], (n,); a pedal that cannot draw out so much cable is far beyond it."""
    assert foot.room is not None
    return np.asarray(np.nan_to_num(foot.pad(moved) - foot.room, nan=_FAR_BEYOND))


def _links(seen: Look) -> Iterator[Row]:
    """The transmission angle of every link at every position, and whether it closes beyond the ends."""
    n, least = seen.nodes, max(seen.task.rig.limits.transmission_angle, seen.task.wish.transmission_angle or 0.0)
    for joint in seen.links():
        angle, slope = transmission(seen, joint)
        slope = np.swapaxes(slope, 0, 1)
        yield Row("transmission_angle", False, (least + _SURE - angle[:n]) / _ANGLE_SCALE, -slope[:n] / _ANGLE_SCALE)
        beyond = np.where(np.isnan(angle[n:]), _TOGGLED, -angle[n:] / _ANGLE_SCALE)
        yield Row("toggle_margin", False, beyond, np.nan_to_num(-slope[n:] / _ANGLE_SCALE))


def transmission(seen: Look, joint: Joint) -> tuple[Floats, Floats]:
    """Transmission angle [deg] of a link from the nearer dead point and its slopes, (P + 2, n) and (d, P + 2, n)."""
    assert joint.driving is not None
    assert joint.driven is not None
    upto, step = slice(0, seen.asked), joint.step
    there, here = ((p[0], p[1]) for p in (seen.pose[step.driving], seen.pose[step.driven]))
    first, second = seen.turned(step.driving), seen.turned(step.driven)
    end = closure.pin(joint.driven, *here)
    way = closure.tangent(joint.driven, *here)
    side = (way[0] / joint.driven.r, way[1] / joint.driven.r, way[2] / joint.driven.r)
    arm = closure.cross(side, joint.driven.u)  # along the arm; of a block, across its guide
    turns = 0.0 if joint.driven.slides else 1.0
    link = closure.minus(closure.pin(joint.driving, *there), end)
    along, across = closure.dot(link, arm), closure.dot(link, side)
    size = along * along + across * across
    angle = np.arctan2(np.abs(across), np.abs(along))
    found = np.empty_like(seen.shift)
    moves = zip(
        seen.moves(step.driving, step.arms[0], joint.driving), seen.moves(step.driven, step.arms[1], joint.driven),
        strict=True,
    )  # fmt: skip
    for i, (one, other) in enumerate(moves):
        x, y, z = (
            p - q for p, q in zip(
                pin_slope(joint.driving, one, first[i], *there), pin_slope(joint.driven, other, second[i], *here),
                strict=True,
            )
        )  # fmt: skip
        turned = turns * (second[i] + (other.angle if other is not None else 0.0))
        by_along = closure.dot((x, y, z), arm) + turned * across
        by_across = closure.dot((x, y, z), side) - turned * along
        found[i] = (np.abs(along) * np.sign(across) * by_across - np.abs(across) * np.sign(along) * by_along) / size
    return np.degrees(angle)[upto], np.degrees(found)[:, upto]


def _bends(seen: Look) -> Floats:
    """How far the radius of a snail quadrant's groove is below what its cable may be bent to, (r, n)."""
    assert isinstance(seen.line, SnailCable)
    found = groove(seen.train, seen.line)
    assert found is not None
    n = seen.turn.shape[1]
    radii = [np.broadcast_to(found.radius(at)[::8].T, (n, 9)).T for at in found.pieces]
    least = seen.train.dims["cable.least_bend"] / _WITHIN
    return np.asarray((least - np.maximum(np.concatenate(radii), -_FAR)) / _LENGTH_SCALE)


def _by_difference(task: Task, seen: Look, x: Floats) -> Iterator[Row]:
    """What has no slope of its own: torques of the springs, the sums of the tolerances, the groove of a snail."""
    wish = task.wish
    size = max(_TORQUE_SCALE * (wish.closing_torque or 0.0), 1e-3)
    given: list[tuple[str, bool, Callable[[Look], Floats]]] = []
    if wish.closing_torque is not None and task.rig.spring:
        least = wish.closing_torque / _WITHIN
        given.append(("closing_torque", False, lambda at: (least - closing_torque(at)) / size))
    if wish.mismatch_as_made is not None:
        most = wish.mismatch_as_made
        given.append(("mismatch_as_made", True, lambda at: mismatch_as_made(at) / most))
    if isinstance(seen.line, SnailCable) and any(path.startswith("cable.") for path in task.paths):
        given.append(("quadrant_groove", False, _bends))
    if not given:
        return
    d, n = len(seen.paths), x.shape[1]
    if d == 0:
        for name, near, figure in given:
            value = figure(seen)
            yield Row(name, near, value, np.empty((len(value), 0, n)))
        return
    step = _STEP * (task.high - task.low)[:d]
    moved = np.repeat(x[:, None], d, axis=1)  # (d, d, n)
    moved[range(d), range(d)] += step[:, None]
    there = look(task, moved.reshape(len(x), d * n), seen.nodes, sloped=False)
    for name, near, figure in given:
        value = figure(seen)
        slope = (figure(there).reshape(len(value), d, n) - value[:, None]) / step[:, None]
        yield Row(name, near, value, slope)
